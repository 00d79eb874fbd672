//! Measures of states that no shop should ever be in: times that run backwards or lie nowhere, work
//! without an end, orders without stages, cards of orders that are not there. Every answer is defined.

use domain::ids::*;
use domain::measure::control::control;
use domain::measure::{Class, Measure, Question, answer};
use domain::state::State;
use domain::stored::*;
use domain::{Ms, fold};

use crate::support::*;

/// A generator of our own: the same states on every machine.
struct Chance {
    seed: u64,
    /// Times anywhere, not only within the two weeks.
    wild: bool,
}

impl Chance {
    fn next(&mut self) -> u64 {
        self.seed = self.seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        self.seed >> 33
    }

    fn below(&mut self, limit: u64) -> u64 {
        self.next() % limit
    }

    fn one_in(&mut self, n: u64) -> bool {
        self.below(n) == 0
    }

    fn pick<T: Clone>(&mut self, from: &[T]) -> T {
        from[self.below(from.len() as u64) as usize].clone()
    }

    fn time(&mut self, now: Ms) -> Ms {
        let kind = if self.wild { 0 } else { 4 };
        match kind + self.below(40) {
            0 => 0,
            1 => -1,
            2 => i64::MIN,
            3 => i64::MAX,
            4 => now,
            _ => now - self.below(14 * 24 * 60) as Ms * 60_000,
        }
    }

    fn maybe(&mut self, now: Ms) -> Option<Ms> {
        (!self.one_in(3)).then(|| self.time(now))
    }
}

const STAGES: [Stage; 7] = [
    Stage::Expected,
    Stage::Arrived,
    Stage::Authorised,
    Stage::Away,
    Stage::Ready,
    Stage::Delivered,
    Stage::Stopped,
];
const LIVES: [Life; 7] =
    [Life::Proposed, Life::Waiting, Life::Taken, Life::Working, Life::Paused, Life::Done, Life::Cancelled];

/// Documents by chance, laid over a real shop; every sixteenth with times anywhere at all.
fn strange(seed: u64) -> (TestShop, Ms) {
    let mut chance = Chance { seed, wild: seed.is_multiple_of(16) };
    let mut shop = TestShop::new();
    shop.checked = false;
    shop.now += 14 * 24 * HOUR;
    let now = shop.now;
    let template = shop.order("1");
    let card = shop.card(template, "body", "Work", &[]);
    let (order, card) = (shop.vehicle(template).clone(), shop.get(card).clone());
    let departments: [DepartmentId; 4] =
        ["body".into(), "mechanical".into(), "refinish".into(), "gone".into()];
    let equipment: [EquipmentId; 3] = ["lift-1".into(), "booth".into(), "gone".into()];
    let places: [PlaceId; 4] = ["stall-1".into(), "lift-1".into(), "booth".into(), "gone".into()];
    let count = chance.below(6);
    for n in 0..count {
        let id_of = |k: u64| id(0x9000 + n * 100 + k);
        let cards: Vec<CardId> = (0..chance.below(6)).map(|k| CardId(id_of(k))).collect();
        let mut order = order.clone();
        order.id = OrderId(id_of(99));
        order.number = format!("x{n}");
        order.towed_in = chance.one_in(2);
        order.sold_minutes = chance.one_in(2).then(|| chance.pick(&[0, 60, u32::MAX]));
        order.cards = cards.clone();
        order.stages = (0..chance.below(5))
            .map(|_| StageAt { stage: chance.pick(&STAGES), at: chance.time(now), reason: None })
            .collect();
        if !chance.one_in(4) {
            order.stages.sort_by_key(|s| s.at);
        }
        order.stage = match order.stages.last() {
            Some(last) if !chance.one_in(4) => last.stage,
            _ => chance.pick(&STAGES),
        };
        (order.promise, order.first_promise) = (chance.maybe(now), chance.maybe(now));
        order.comeback_of = chance.one_in(3).then(|| CardId(id(0x9000 + chance.below(5) * 100)));
        order.stood = (0..chance.below(4))
            .map(|_| Stood { place: chance.pick(&places), from: chance.time(now), by: person("rask") })
            .collect();
        order.holds = (0..chance.below(3))
            .map(|k| Hold {
                id: HoldId(id_of(50 + k)),
                what: chance.pick(&[HoldKind::Approval, HoldKind::Parts, HoldKind::Sublet, HoldKind::Other]),
                cards: cards.iter().filter(|_| chance.one_in(2)).copied().collect(),
                blocks: chance.pick(&[Blocks::Start, Blocks::Finish]),
                since: chance.time(now),
                due: chance.maybe(now),
                first_due: chance.maybe(now),
                ended: chance.maybe(now),
                note: None,
            })
            .collect();
        fold_in(&mut shop.state, &Event::OrderOpened { order: order.clone() });
        for card_id in &cards {
            let mut card = card.clone();
            (card.id, card.order) = (*card_id, order.id);
            card.department = chance.pick(&departments);
            card.life = chance.pick(&LIVES);
            card.planned_minutes = chance.pick(&[0, 60, u32::MAX]);
            card.after = cards.iter().filter(|_| chance.one_in(4)).map(|c| link(*c, 30)).collect();
            (card.created_at, card.ready_at) = (chance.time(now), chance.maybe(now));
            (card.taken_at, card.done_at) = (chance.maybe(now), chance.maybe(now));
            card.taken_by = chance.one_in(2).then(|| person("ines"));
            card.used = chance.one_in(2).then(|| chance.pick(&equipment));
            card.needs.equipment = chance.one_in(2).then(|| chance.pick(&["lift".into(), "gone".into()]));
            card.needs.opens = chance.one_in(4).then(|| DOWN.into());
            card.needs.closes = chance.one_in(4).then(|| DOWN.into());
            card.needs.off_vehicle = chance.one_in(4);
            card.needs.qualification = chance.one_in(4).then(|| "high-voltage".into());
            card.spans = (0..chance.below(4))
                .map(|k| Span {
                    id: SpanId(id_of(60 + k)),
                    person: person(chance.pick(&["ines", "milo"])),
                    from: chance.time(now),
                    to: chance.maybe(now),
                    uncertain: chance.one_in(5),
                    corrected: chance.one_in(5),
                })
                .collect();
            shop.state.cards.insert(*card_id, card.into());
        }
    }
    if chance.one_in(6) {
        // No day has a shift.
        let mut week = (**shop.state.calendars.get(&CalendarId::from("week")).expect("it is there")).clone();
        week.week = vec![Vec::new(); 7];
        fold_in(&mut shop.state, &Event::CalendarSet { calendar: week });
    }
    if chance.one_in(8) {
        shop.state.shop = None;
    }
    (shop, now)
}

fn fold_in(state: &mut State, event: &Event) {
    fold::fold(state, event, &mut fold::Changed::new());
}

fn sum<'a>(measure: &'a Measure, keys: impl Fn(&str) -> bool + 'a) -> f64 {
    measure.by.iter().filter(|(key, _)| keys(key)).filter_map(|(_, f)| f.value).sum()
}

fn must_hold(all: &[Measure], what: &str) {
    let of = |id: &str| all.iter().find(|m| m.id == id);
    let close = |a: f64, b: f64| (a - b).abs() <= 1e-6 * (1.0 + a.abs());
    for measure in all {
        assert_eq!(measure.all.value.is_none(), measure.all.count == 0, "{what}: {}", measure.id);
        for figure in measure.by.values().chain([&measure.all]) {
            for value in [figure.value, figure.p90].into_iter().flatten() {
                let most = if measure.unit.word() == "share" { 1.0 } else { f64::MAX };
                assert!((0.0..=most).contains(&value), "{what}: {} is {value}", measure.id);
            }
        }
    }
    for (reasons, departments) in
        [("wait_by_reason", "wait_by_department"), ("wait_by_reason_working", "wait_by_department_working")]
    {
        let (reasons, departments) = (of(reasons).expect("there"), of(departments).expect("there"));
        let whole = reasons.all.value.unwrap_or(0.0);
        assert!(close(whole, sum(reasons, |_| true)), "{what}: {reasons:?}");
        assert!(close(whole, sum(departments, |key| !key.contains('/'))), "{what}");
        assert!(close(whole, sum(departments, |key| key.contains('/'))), "{what}");
    }
    let working = of("wait_by_reason_working").and_then(|m| m.all.value).unwrap_or(0.0);
    assert!(working <= of("wait_by_reason").and_then(|m| m.all.value).unwrap_or(0.0) + 1e-6, "{what}");
    if let Some(time) = of("equipment_time") {
        for (piece, figure) in time.by.iter().filter(|(key, _)| !key.contains('/')) {
            let parts = sum(time, |key| key.split_once('/').is_some_and(|(of, _)| of == piece));
            assert!(close(figure.value.unwrap_or(0.0), parts), "{what}: hours of {piece}: {time:?}");
        }
    }
    assert!(
        of("equipment_blocked").and_then(|m| m.all.value) <= of("equipment_held").and_then(|m| m.all.value)
    );
}

#[test]
fn every_answer_is_defined_whatever_the_documents_say() {
    for seed in 0..200 {
        let (shop, now) = strange(seed);
        let mut chance = Chance { seed: seed ^ 0xabcd, wild: seed.is_multiple_of(16) };
        for _ in 0..3 {
            let question = Question {
                from: chance.time(now),
                to: chance.time(now),
                now,
                department: chance.one_in(4).then(|| "body".into()),
                class: chance.one_in(4).then(|| chance.pick(&Class::ALL)),
            };
            let what = format!("seed {seed}, {question:?}");
            must_hold(&answer(&shop.state, &shop.zone, &question), &what);
            let looked = control(&shop.state, &shop.zone, &question);
            let values =
                looked.charts.iter().flat_map(|c| &c.limits).flat_map(|l| [l.mean, l.lower, l.upper]);
            let bands = looked.bands.iter().flat_map(|b| b.days);
            let little = looked.little.iter().flat_map(|l| [l.number, l.rate_times_time()]);
            assert!(values.chain(bands).chain(little).all(f64::is_finite), "{what}");
        }
    }
}

/// One card, one vehicle, no promise, nothing sold, years ago: each has its answer or none.
#[test]
fn a_single_card_and_years_of_idle() {
    let mut shop = TestShop::new();
    let from = shop.now;
    let order = shop.order("1");
    let card = shop.card(order, "body", "Work", &[]);
    shop.do_it("ines", card, 60);
    shop.ok("rask", stage(order, Stage::Ready));
    shop.ok("rask", stage(order, Stage::Delivered));
    let ten_years = from + 10 * 365 * 24 * HOUR;
    let question = Question { from, to: ten_years, now: ten_years, ..Question::default() };
    let all = answer(&shop.state, &shop.zone, &question);
    must_hold(&all, "ten years");
    let of = |id: &str| all.iter().find(|m| m.id == id).expect("there").all;
    assert_eq!((of("keys_to_keys").count, of("promise_kept").count, of("touch_sold").count), (1, 0, 0));
    assert_eq!((of("flow_efficiency").value, of("in_shop").count), (Some(1.0), 0));
    let later = Question { from: from + 9 * 365 * 24 * HOUR, ..question };
    let idle = answer(&shop.state, &shop.zone, &later);
    must_hold(&idle, "idle");
    assert!(idle.iter().all(|m| m.all.count == 0 || m.id == "equipment_time"), "only lifts stood there");
}

/// Hours in doubt by reason, of everything until now.
fn doubtful(shop: &TestShop) -> Vec<(String, f64)> {
    let question =
        Question { from: local("2026-03-02T00:00"), to: shop.now, now: shop.now, ..Question::default() };
    let all = answer(&shop.state, &shop.zone, &question);
    let found = all.into_iter().find(|measure| measure.id == "clocked_doubtful").expect("a measure of it");
    found.by.into_iter().map(|(why, figure)| (why, figure.value.unwrap_or_default())).collect()
}

#[test]
fn work_that_nobody_seems_to_have_ended_is_in_doubt() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    let [first, second, third] = ["Rail", "Wheel", "Hub"].map(|title| shop.card(order, "body", title, &[]));
    shop.do_it("ines", first, 180);
    assert_eq!(doubtful(&shop), [], "eight to eleven");
    shop.do_it("ines", second, 180);
    assert_eq!(doubtful(&shop), [("over_break".to_owned(), 0.5)], "eleven to two, half an hour of it lunch");
    shop.ok("ines", take(third));
    shop.ok("ines", start(third));
    shop.later(220);
    assert_eq!(doubtful(&shop).len(), 1, "still finishing something after five");
    // The next morning.
    shop.later(14 * 60);
    let found = doubtful(&shop);
    assert_eq!(found[1].0, "past_shift");
    assert!((found[1].1 - (14.0 * 60.0 + 220.0) / 60.0).abs() < 0.01, "{found:?}");
}
