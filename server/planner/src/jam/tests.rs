//! Shops small enough to see where they jam.

use serde_json::json;

use super::super::what_if::tests::Small;
use super::*;

const HOUR: i64 = 60;

fn found(shop: &Small) -> Jam {
    jam(&shop.view(), shop.now(), &shop.shown()).unwrap()
}

#[test]
fn an_hour_where_the_late_work_is_saves_most() {
    let mut shop = Small::new();
    shop.person("Tomas Okafor", "body");
    shop.person("Mei Lindqvist", "refinish");
    // Monday 9:00; six hours and a half are left in the shift. Seven hours of work end on Tuesday at 7:30.
    let night = shop.at("2026-06-01", 17 * 60);
    shop.vehicle("2041", "body", 7 * HOUR, night);
    shop.vehicle("2042", "refinish", HOUR, night);
    let jam = found(&shop);
    // Usual urgency is 2; from 17:00 to 7:30 are 870 minutes.
    assert_eq!(jam.before, Lateness { late_vehicles: 1, weighted_minutes: 2 * 870 });
    let body = &jam.reliefs[0];
    let expected = Extra::Hour {
        department: DepartmentId::from("body"),
        day: "2026-06-01".into(),
        from: 16 * 60,
        to: 17 * 60,
        people: 1,
    };
    assert_eq!(body.extra, expected);
    assert_eq!((body.saved_minutes, body.after), (2 * 870, Lateness::default()), "done by 16:30");
    let paint = &jam.reliefs[1];
    assert!(matches!(&paint.extra, Extra::Hour { department, .. } if department.to_string() == "refinish"));
    assert_eq!((paint.saved_minutes, paint.after), (0, jam.before));
}

#[test]
fn where_nothing_is_late_nothing_is_sought() {
    let mut shop = Small::new();
    shop.person("Tomas Okafor", "body");
    let night = shop.at("2026-06-01", 17 * 60);
    shop.vehicle("2041", "body", HOUR, night);
    let jam = found(&shop);
    assert_eq!((jam.before, jam.reliefs), (Lateness::default(), Vec::new()));
}

#[test]
fn the_only_alignment_rack_is_the_jam_and_not_the_two_mechanics() {
    let mut shop = Small::new();
    shop.person("Ada Reyes", "mechanical");
    shop.person("Juno Park", "mechanical");
    let three = shop.at("2026-06-01", 13 * 60);
    for number in ["2041", "2042"] {
        let (_, card) = shop.vehicle(number, "mechanical", 3 * HOUR, three);
        shop.act("edit_card", json!({"card": card, "change": {"needs": {"equipment": "alignment"}}}));
    }
    let jam = found(&shop);
    // One is ready at 12:30, the other at 15:30, two hours and a half late.
    assert_eq!(jam.before, Lateness { late_vehicles: 1, weighted_minutes: 2 * 150 });
    let saved: Vec<(bool, i64)> =
        jam.reliefs.iter().map(|one| (matches!(one.extra, Extra::Piece { .. }), one.saved_minutes)).collect();
    assert_eq!(saved, [(false, 0), (true, 2 * 150)]);
}

#[test]
fn nothing_is_written_and_the_answer_is_repeated() {
    let mut shop = Small::new();
    shop.person("Tomas Okafor", "body");
    let night = shop.at("2026-06-01", 17 * 60);
    shop.vehicle("2041", "body", 7 * HOUR, night);
    let (view, shown) = (shop.view(), shop.shown());
    let first = jam(&view, shop.now(), &shown).unwrap();
    assert_eq!(jam(&view, shop.now(), &shown).unwrap(), first);
    assert_eq!(view.state.equipment.keys().filter(|id| id.to_string().starts_with("jam/")).count(), 0);
}

#[test]
fn before_the_first_plan_it_says_so() {
    let shop = Small::new();
    assert_eq!(jam(&shop.view(), shop.now(), &Published::default()), Err(NoAnswer::NoPlan));
}
