//! Dates and probabilities by their addresses: what they must add up to, who may ask, what is said otherwise.

use domain::MINUTE;
use domain::stored::Role;
use serde_json::json;

use crate::support::{Shop, agent};

#[test]
fn the_forecast_is_of_the_shown_plan_and_of_the_promise() {
    let shop = Shop::start();
    let mut planner = shop.user("Greta Amsel", "office", Role::Planner);
    shop.user("Tomas Okafor", "body", Role::Technician);
    let now = shop.clock.now();
    let mut vehicle = |number: &str, promise: i64| {
        let open = json!({"number": number, "vehicle": "grey wagon", "stage": "authorised"});
        let order = planner.done("open_order", open);
        let card = json!({"order": order, "department": "body", "title": {"text": "Pull rail"}, "planned_minutes": 120});
        planner.done("add_card", card);
        planner.done("promise", json!({"order": order, "due": promise}));
        order
    };
    let soon = vehicle("2041", now + 20 * MINUTE);
    let late = vehicle("2042", now + 91 * 24 * 60 * MINUTE);
    planner.plan(|plan| plan["rows"].as_array().is_some_and(|all| all.len() == 2));
    let (status, found) = planner.get("/api/v1/forecast");
    assert_eq!(status, 200, "{found}");
    assert_eq!((found["learnt"]["cards"].as_u64(), found["runs"].as_u64()), (Some(0), Some(1000)));
    let of = |order: &str| {
        found["vehicles"]
            .as_array()
            .and_then(|all| all.iter().find(|v| v["order"] == order))
            .cloned()
            .expect("forecast")
    };
    let (soon, late) = (of(&soon), of(&late));
    // Twenty minutes for two hours of work: a run of a thousand may have it. The draws follow the order's id.
    assert!(soon["kept"].as_f64().is_some_and(|kept| kept < 0.02), "{found}");
    assert_eq!(late["kept"].as_f64(), Some(1.0), "{found}");
    for vehicle in [&soon, &late] {
        assert!(vehicle["p50"].as_i64() > Some(now) && vehicle["p50"].as_i64() <= vehicle["p90"].as_i64());
    }
    assert_eq!(found["cards"].as_array().map(Vec::len), Some(2));
    let (_, again) = planner.get("/api/v1/forecast");
    assert_eq!(found["vehicles"], again["vehicles"]);
    let nobody = agent().get(format!("{}/api/v1/forecast", shop.base)).call().expect("an answer");
    assert_eq!(nobody.status(), 401);
}

#[test]
fn what_could_be_promised_enters_nothing() {
    let shop = Shop::start();
    let mut planner = shop.user("Greta Amsel", "office", Role::Manager);
    shop.user("Tomas Okafor", "body", Role::Technician);
    let steps = json!([{"step": "work", "department": "body", "title": {"text": "Pull rail"}, "planned_minutes": 240}]);
    planner
        .done("set_routing", json!({"routing": {"id": "rail", "title": {"text": "Rail"}, "steps": steps}}));
    let now = shop.clock.now();
    let head = shop.opened.view().head.seq;
    let path = "/api/v1/forecast/promise";
    let (status, now_here) = planner.post(path, json!({"routings": ["rail"]}));
    assert_eq!(status, 200, "{now_here}");
    let times = ["p50", "p80", "p90"].map(|p| now_here[p].as_i64().expect("a time"));
    assert!(now < times[0] && times.is_sorted(), "{now_here}");
    let later = now + 14 * 24 * 60 * MINUTE;
    let (_, expected) = planner.post(path, json!({"routings": ["rail"], "arriving": later}));
    assert!(expected["p50"].as_i64() > Some(later), "{expected}");
    for (body, status, code) in [
        (json!({"routings": []}), 422, "no_work"),
        (json!({"routings": ["nothing"]}), 422, "refused"),
        (json!({"routings": ["rail"], "colour": "red"}), 400, "malformed"),
    ] {
        let (was, said) = planner.post(path, body);
        assert_eq!((was, said["code"].as_str()), (status, Some(code)), "{said}");
    }
    assert_eq!(shop.opened.view().head.seq, head);
}

/// Counted by hand: five vehicles of a week's work each arrive on a Monday, everybody free for them.
#[test]
fn forecasts_of_the_past_are_held_against_what_happened() {
    let shop = Shop::start();
    let mut planner = shop.user("Greta Amsel", "office", Role::Planner);
    let mut body = ["Tomas Okafor", "Ilka Brandt", "Ruben Sahl", "Nadia Voss", "Pim Corra"]
        .map(|name| shop.user(name, "body", Role::Technician));
    let mut vehicle = |number: &str, cards: &[u32]| {
        let open = json!({"number": number, "vehicle": "grey wagon", "stage": "arrived"});
        let order = planner.done("open_order", open);
        planner.done("stage", json!({"order": order, "stage": "authorised"}));
        let card = |minutes: &u32| json!({"order": order, "department": "body", "title": {"text": "Pull rail"}, "planned_minutes": minutes});
        let cards: Vec<String> = cards.iter().map(|m| planner.done("add_card", card(m))).collect();
        (order, cards)
    };
    let (_, early) = vehicle("2041", &[2400]);
    let (_, slow) = vehicle("2042", &[2400]);
    vehicle("2043", &[2400]); // never finished
    let (stopped, _) = vehicle("2044", &[2400]);
    let (_, halves) = vehicle("2045", &[1200, 1200]);
    let day = 24 * 60 * MINUTE;
    let mut does = |who: usize, card: &str| {
        body[who].done("start", json!({"card": card}));
        shop.clock.advance(30 * MINUTE);
        body[who].done("finish", json!({"card": card}));
    };
    shop.clock.advance(2 * day);
    does(0, &early[0]);
    does(4, &halves[0]);
    // In the night, before anybody could have been expected to be done.
    shop.clock.advance(15 * 60 * MINUTE);
    does(4, &halves[1]);
    planner.done("stage", json!({"order": stopped, "stage": "stopped", "reason": "total loss"}));
    shop.clock.advance(40 * day);
    does(1, &slow[0]);
    let (status, found) = planner.get("/api/v1/forecast/accuracy");
    assert_eq!(status, 200, "{found}");
    let moment = |at: &str, vehicles: u32, by_p50: u32, by_p90: u32| json!({"at": at, "vehicles": vehicles, "by_p50": by_p50, "by_p90": by_p90});
    // The one that is stopped is left out; what ends on the day of its half has nothing left to forecast.
    let expected =
        json!([moment("arrived", 4, 2, 2), moment("authorised", 4, 2, 2), moment("half_way", 1, 1, 1)]);
    let mut moments = found["moments"].clone();
    for row in moments.as_array_mut().expect("rows") {
        // Four of a week's work that took two days, half an hour and six weeks: no factor can be counted by hand.
        let factor = row.as_object_mut().expect("a row").remove("factor").and_then(|f| f.as_f64());
        assert!(factor.is_some_and(|f| f > 0.0 && f < 20.0), "{found}");
    }
    assert_eq!(moments, expected);
    let nobody = agent().get(format!("{}/api/v1/forecast/accuracy", shop.base)).call().expect("an answer");
    assert_eq!(nobody.status(), 401);
}
