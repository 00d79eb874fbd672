//! The rules accept the library in an empty shop, and what it promises about itself holds.

use std::collections::{BTreeMap, BTreeSet};

use domain::decide::{self, Context};
use domain::ids::*;
use domain::state::State;
use domain::stored::*;
use domain::{calendar, fold};
use jiff::tz::TimeZone;
use uuid::Uuid;

use super::*;

fn set_up() -> State {
    let mut state = State::default();
    let zone = TimeZone::UTC;
    let acts = library().into_iter().chain([shop("Shop of the test", "America/Chicago", "en")]);
    for (n, act) in acts.enumerate() {
        let op = OpId(Uuid::from_u128(n as u128 + 1));
        let context = Context {
            by: decide::SYSTEM,
            role: Role::Admin,
            op,
            at: 0,
            uncertain: false,
            now: 0,
            zone: &zone,
        };
        let events = decide::decide(&state, &act, &[], &context).unwrap_or_else(|no| panic!("{act:?}: {no}"));
        assert_eq!(events.len(), 1, "each act says something new: {act:?}");
        events.iter().for_each(|event| fold::fold(&mut state, event, &mut fold::Changed::new()));
    }
    state
}

fn routings() -> Vec<Routing> {
    set_up().routings.values().map(|routing| (**routing).clone()).collect()
}

#[test]
fn the_rules_accept_every_act() {
    let state = set_up();
    assert!(state.routings.len() >= 18 && state.departments.len() >= 6 && state.places.len() >= 12);
    assert_eq!(state.equipment.values().filter(|e| e.kind.0 == "lift").count(), 2);
    for piece in state.equipment.values() {
        let places = state.places.values().filter(|p| p.equipment.as_ref() == Some(&piece.id));
        assert_eq!(places.count(), 1, "one can stand on {}", piece.id);
    }
}

#[test]
fn what_is_opened_is_closed_after_all_that_is_inside() {
    for routing in routings() {
        let mut before: BTreeMap<&str, BTreeSet<&str>> = BTreeMap::new();
        for step in &routing.steps {
            let mut all = BTreeSet::new();
            for link in &step.after {
                all.insert(link.step.as_str());
                all.extend(before[link.step.as_str()].iter().copied());
            }
            before.insert(&step.step, all);
        }
        for opener in routing.steps.iter().filter(|s| s.needs.opens.is_some()) {
            let closers: Vec<&Step> =
                routing.steps.iter().filter(|s| s.needs.closes == opener.needs.opens).collect();
            let [closer] = closers[..] else { panic!("{}: {} is closed once", routing.id, opener.step) };
            assert!(before[closer.step.as_str()].contains(opener.step.as_str()));
            for inside in routing.steps.iter().filter(|s| s.needs.inside == opener.needs.opens) {
                assert!(before[inside.step.as_str()].contains(opener.step.as_str()), "{}", inside.step);
                assert!(before[closer.step.as_str()].contains(inside.step.as_str()), "{}", inside.step);
            }
        }
        let open: BTreeSet<_> = routing.steps.iter().filter_map(|s| s.needs.opens.as_ref()).collect();
        let used = routing.steps.iter().flat_map(|s| [&s.needs.inside, &s.needs.closes]).flatten();
        assert!(used.into_iter().all(|o| open.contains(o)), "{} opens what it uses", routing.id);
    }
}

/// Sections 1910.147, 1910.252, 1910.107 of 29 CFR, 40 CFR 82.34 and ANSI/ALI ALOIM are what these stand for.
#[test]
fn dangerous_work_carries_its_caution() {
    let lift = EquipmentKind::from("lift");
    for step in routings().iter().flat_map(|r| &r.steps) {
        let has = |caution| step.needs.cautions.contains(&caution);
        let title = step.title.text.to_lowercase();
        if step.needs.equipment.as_ref() == Some(&lift) {
            assert!(has(Caution::Lift), "{title}");
        }
        if title.contains("weld") || step.step == "join" {
            assert!(has(Caution::HotWork), "{title}");
        }
        if title.contains("refrigerant") {
            assert!(
                has(Caution::Refrigerant) && step.needs.qualification == Some("refrigerant".into()),
                "{title}"
            );
        }
        if title.contains("tank") {
            assert!(has(Caution::Fuel), "{title}");
        }
        if title.contains("pull and") {
            assert!(has(Caution::Pulling), "{title}");
        }
        if step.step == "paint" {
            assert!(has(Caution::Spraying) && step.needs.one_go, "{title}");
        }
        if step.step == "isolate" {
            assert!(
                has(Caution::HighVoltage) && step.needs.qualification == Some("high-voltage".into()),
                "{title}"
            );
        }
    }
}

#[test]
fn every_phrase_has_its_spanish() {
    let state = set_up();
    let steps = || state.routings.values().flat_map(|r| r.steps.iter());
    let titles = state.routings.values().map(|r| &r.title).chain(steps().map(|s| &s.title));
    let things =
        state.departments.values().map(|d| &d.title).chain(state.equipment.values().map(|e| &e.title));
    let places = state.places.values().map(|p| &p.title);
    for words in titles.chain(things).chain(places).chain(steps().flat_map(|s| &s.needs.checks)) {
        let es = words.es.as_deref().unwrap_or_default();
        assert!(!es.is_empty() && es != words.text, "«{}» has its own Spanish words", words.text);
        // "Reclamar" is what one does with an insurer, "llave" is key and wrench.
        assert!(!es.to_lowercase().contains("reclam"), "{es}");
    }
}

#[test]
fn a_week_has_forty_two_and_a_half_hours() {
    let state = set_up();
    // Monday 2024-01-01 00:00 UTC, from any calendar of the world.
    let monday = 1_704_067_200_000;
    let week = calendar::of_shop(&state, &TimeZone::UTC, monday, monday + 7 * 24 * 60 * domain::MINUTE);
    assert_eq!(calendar::length(&week), 5 * 510 * domain::MINUTE);
    assert_eq!(week.len(), 10);
}
