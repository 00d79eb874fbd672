//! Critical path of a project example: Hillier & Lieberman, Introduction to Operations Research, the
//! construction project of the network chapter [MEM]: fourteen activities, 44 weeks along
//! A-B-C-E-F-J-L-N. Here the cards of one vehicle, with enough people, each started when it is ready.

use std::collections::BTreeMap;

use domain::ids::CardId;
use domain::stored::{Act, AddCard, Life};
use domain::{MINUTE, Ms, depends};

use crate::support::*;

const ACTIVITIES: [(&str, i64, &[&str]); 14] = [
    ("A", 2, &[]),
    ("B", 4, &["A"]),
    ("C", 10, &["B"]),
    ("D", 6, &["C"]),
    ("E", 4, &["C"]),
    ("F", 5, &["E"]),
    ("G", 7, &["D"]),
    ("H", 9, &["E", "G"]),
    ("I", 7, &["C"]),
    ("J", 8, &["F", "I"]),
    ("K", 4, &["J"]),
    ("L", 5, &["J"]),
    ("M", 2, &["H"]),
    ("N", 6, &["K", "L"]),
];

struct Project {
    shop: TestShop,
    cards: BTreeMap<&'static str, CardId>,
    began: Ms,
    /// Activity, from, to: counted from the beginning.
    ran: Vec<(&'static str, Ms, Ms)>,
}

/// One week of the example is one minute here.
fn run() -> Project {
    let mut shop = TestShop::new();
    shop.checked = false;
    let order = shop.order("2041");
    let mut cards: BTreeMap<&str, CardId> = BTreeMap::new();
    for (name, _, after) in ACTIVITIES {
        let after: Vec<CardId> = after.iter().map(|before| cards[before]).collect();
        let card = AddCard { planned_minutes: 1, ..add_card(order, "body", name, &after) };
        shop.ok("rask", Act::AddCard(card));
        cards.insert(name, CardId(shop.last_op().0));
    }
    let began = shop.now;
    let mut ran: Vec<(&str, Ms, Ms)> = Vec::new();
    while ran.len() < ACTIVITIES.len() {
        // The next to finish among those that are ready; finishing it may make others ready.
        let ends = ACTIVITIES.iter().filter_map(|(name, weeks, _)| {
            let card = shop.get(cards[name]);
            let ready = depends::ready_at(&shop.state, card).filter(|_| card.life != Life::Done)?;
            Some((ready + weeks * MINUTE, ready, *name))
        });
        let (end, from, name) = ends.min().expect("something is ready until all is done");
        shop.now = end;
        shop.ok("ines", finish(cards[name]));
        ran.push((name, from - began, end - began));
    }
    Project { shop, cards, began, ran }
}

#[test]
fn the_project_takes_44_weeks() {
    let Project { ran, .. } = run();
    let end = ran.iter().map(|(_, _, end)| *end).max();
    assert_eq!(end, Some(44 * MINUTE));
}

#[test]
fn the_critical_activities_begin_when_the_one_before_ends() {
    let Project { shop, cards, began, ran } = run();
    let at = |name: &str| {
        ran.iter().find(|(ran, _, _)| *ran == name).map(|(_, from, end)| (*from, *end)).expect("it ran")
    };
    for pair in ["A", "B", "C", "E", "F", "J", "L", "N"].windows(2) {
        assert_eq!(at(pair[0]).1, at(pair[1]).0, "{} then {}", pair[0], pair[1]);
    }
    // Earliest starts by hand from the durations: H waits for G (16 + 6 + 7 = 29), M follows at 38.
    assert_eq!((at("H").0, at("M").0), (29 * MINUTE, 38 * MINUTE));
    for (name, from, _) in &ran {
        assert_eq!(shop.get(cards[name]).ready_at, Some(began + from), "{name}: the document says the same");
    }
    assert_eq!(shop.exceptions(), vec![], "nothing was finished early");
}
