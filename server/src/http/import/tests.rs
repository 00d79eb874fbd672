use super::*;
use domain::ids::*;
use domain::state::State;
use serde_json::{Value, json};
use std::sync::Arc;

/// 2026-03-03 09:00 in Chicago, a Tuesday.
const NOW: Ms = 1_772_550_000_000;

fn view() -> View {
    let mut state = State::default();
    let week: Vec<Value> =
        (0..7).map(|day| if day < 5 { json!([{"from": 480, "to": 1020}]) } else { json!([]) }).collect();
    let calendar = json!({"id": "day", "title": {"text": "Day"}, "week": week});
    state.calendars.insert(CalendarId::from("day"), Arc::new(serde_json::from_value(calendar).unwrap()));
    let shop = json!({"name": "S", "time_zone": "America/Chicago", "calendar": "day"});
    state.shop = Some(Arc::new(serde_json::from_value(shop).unwrap()));
    let place = json!({"id": "bay-3", "title": {"text": "Bay 3", "es": "Puesto 3"}});
    state.places.insert(PlaceId::from("bay-3"), Arc::new(serde_json::from_value(place).unwrap()));
    let routing =
        json!({"id": "down-rear", "version": 1, "title": {"text": "Suspension down, rear"}, "steps": []});
    state.routings.insert(RoutingId::from("down-rear"), Arc::new(serde_json::from_value(routing).unwrap()));
    let order = json!({"id": uuid::Uuid::from_u128(1), "number": "2000", "vehicle": "x", "weight": 2, "stage": "arrived", "created_at": 0});
    state.orders.insert(OrderId(uuid::Uuid::from_u128(1)), Arc::new(serde_json::from_value(order).unwrap()));
    let person =
        json!({"id": uuid::Uuid::from_u128(9), "name": "Ada", "department": "office", "role": "planner"});
    state
        .people
        .insert(PersonId(uuid::Uuid::from_u128(9)), Arc::new(serde_json::from_value(person).unwrap()));
    fold::reindex(&mut state, []);
    View { head: store::Head::default(), zone: crate::shop::zone_of(&state), state }
}

fn look_at(csv: &str, said: &[(&str, &str)]) -> Looked {
    look_with(csv, said, json!({}))
}

/// `words`: field → word → what it means here.
fn look_with(csv: &str, said: &[(&str, &str)], words: Value) -> Looked {
    let words = serde_json::from_value(words).unwrap();
    let said = said.iter().map(|(field, title)| ((*field).to_owned(), (*title).to_owned())).collect();
    let who = Who {
        person: PersonId(uuid::Uuid::from_u128(9)),
        session: SessionId(uuid::Uuid::nil()),
        role: Role::Planner,
        display: false,
        until: Ms::MAX,
    };
    look(&table::read(csv).unwrap(), (&said, &words), &view(), &who, NOW)
}

#[test]
fn good_lines_are_understood_in_the_shops_time() {
    // VIN: the sample of 49 CFR 565.15 with its check digit, 4.
    let csv = "RO;Vehicle;VIN;Promised;Date in;Towed;Priority;Status;Place;Hours;Routings\n\
        2041;grey  wagon;1g4ah59h45g118341;3/13/2026;2/27/2026 7:15;yes;high;authorized;puesto 3;12,5;Suspension down, rear\n\
        2042;blue van;;2026-03-06 15:00;2026-03-20;;;expected;;;\n";
    let Looked { report, orders } = look_at(csv, &[]);
    assert_eq!(report.bad, []);
    assert_eq!((report.rows, report.good, report.made), (2, 2, None));
    let first = &orders[0].open;
    assert_eq!((first.vehicle.as_str(), first.towed_in, first.weight), ("grey wagon", true, 4));
    assert_eq!((first.stage, first.sold_minutes), (Stage::Authorised, Some(750)));
    assert_eq!(first.place, Some(PlaceId::from("bay-3")));
    assert_eq!(first.routings, [RoutingId::from("down-rear")]);
    let shown = &report.preview[0];
    // A date alone is the end of that day's shift, on the far side of the change to summer time.
    assert_eq!(shown.promise.as_deref(), Some("2026-03-13 17:00"));
    assert_eq!(first.promise, Some("2026-03-13T22:00:00Z".parse::<Timestamp>().unwrap().as_millisecond()));
    assert_eq!(shown.arrived.as_deref(), Some("2026-02-27 07:15"));
    let second = &orders[1].open;
    assert_eq!((second.arrived_at, report.preview[1].arrived.as_deref()), (None, Some("2026-03-20 08:00")));
}

#[test]
fn every_bad_line_says_what_is_wrong_where() {
    let csv = "RO,Vehicle,Promised,Place,Hours\n\
        2000,red coupe,,,\n\
        2041,,soon,roof,x\n\
        2042,blue van,2026-03-02,,\n\
        2043,blue van,2026-03-07,,\n\
        2044,blue van,,,\n\
        \"2044\",green van,,,\n\
        2045,a,b,c,d,e,f\n\
        2046,fine,,,";
    let Looked { report, .. } = look_at(csv, &[]);
    let found: Vec<(u64, &str)> =
        report.bad.iter().map(|b| (b.line, b.column.as_deref().unwrap_or("-"))).collect();
    assert_eq!(found, [(2, "RO"), (3, "Vehicle"), (7, "RO"), (8, "-")]);
    assert_eq!(report.bad[0].why, "An order with this number is here already.");
    let all = &report.bad[1].why;
    assert!(all.contains("Promised: «soon» is no date") && all.contains("Hours: "), "{all}");
    assert_eq!(report.bad[2].why, "Line 6 has the same number.");
    let warned: Vec<(u64, &str)> = report.warnings.iter().map(|w| (w.line, w.why.as_str())).collect();
    assert_eq!(
        warned,
        [
            (4, "The time promised, 2026-03-02, has passed; promise a new one."),
            (5, "The shop is closed on 2026-03-07; it is promised for 2026-03-06."),
        ]
    );
    assert_eq!((report.rows, report.good, report.unsaid), (8, 4, 0));
}

#[test]
fn a_doubtful_vin_and_an_unclear_date_are_warned_about_only() {
    let csv = "RO,Vehicle,VIN,Due\n2041,x,1G4AH59H55G118341,4/6/2026\n";
    let Looked { report, orders } = look_at(csv, &[]);
    assert_eq!(report.good, 1);
    assert_eq!(report.warnings.len(), 2);
    assert!(report.warnings[0].why.contains("month first"));
    assert_eq!((report.warnings[1].line, report.warnings[1].column.as_deref()), (2, Some("VIN")));
    assert_eq!(report.preview[0].promise.as_deref(), Some("2026-04-06 17:00"));
    assert_eq!(orders[0].open.vin.as_deref(), Some("1G4AH59H55G118341"));
}

#[test]
fn what_is_said_of_the_columns_is_followed_and_checked() {
    let csv = "A,B,C\n2041,x,2026-04-06\n";
    let guessed = look_at(csv, &[]).report;
    let why: Vec<&str> = guessed.bad.iter().map(|b| b.why.as_str()).collect();
    assert_eq!(why, ["Say which column holds the number.", "Say which column holds the vehicle."]);
    assert_eq!((guessed.rows, guessed.good), (1, 0));
    let said = look_at(csv, &[("number", "A"), ("vehicle", "B"), ("promise", "")]).report;
    assert_eq!((said.good, said.preview[0].promise.as_ref()), (1, None));
    let wrong = look_at(csv, &[("number", "A"), ("vehicle", "Z"), ("colour", "C")]).report;
    assert!(wrong.bad.iter().any(|b| b.why.contains("no column «Z»")));
    assert!(wrong.bad.iter().any(|b| b.why.contains("«colour» is nothing")));
}

#[test]
fn only_who_may_open_orders_finds_good_lines() {
    let who = Who {
        person: PersonId(uuid::Uuid::from_u128(9)),
        session: SessionId(uuid::Uuid::nil()),
        role: Role::Technician,
        display: false,
        until: Ms::MAX,
    };
    let table = table::read("RO,Vehicle\n1,x\n").unwrap();
    let report = look(&table, (&BTreeMap::new(), &BTreeMap::new()), &view(), &who, NOW).report;
    assert_eq!((report.good, report.bad.len()), (0, 1));
}

#[tokio::test]
async fn the_real_run_makes_what_the_dry_run_showed_and_nothing_twice() {
    use crate::clock::Clock;
    use crate::shop::Shop;
    let shop = Shop::open(Arc::new(store::Memory::new(5)), Clock::at(NOW)).unwrap();
    let acts = json!([
        {"kind": "set_calendar", "args": {"calendar": {"id": "day", "title": {"text": "Day"}, "week": vec![json!([{"from": 480, "to": 1020}]); 7]}}},
        {"kind": "set_shop", "args": {"shop": {"name": "S", "time_zone": "UTC", "calendar": "day"}}},
        {"kind": "set_department", "args": {"department": {"id": "office", "title": {"text": "Office"}, "working": "pool"}}},
        {"kind": "set_person", "args": {"person": {"id": uuid::Uuid::from_u128(9), "name": "Ada", "department": "office", "role": "planner"}}},
    ]);
    let acts: Vec<Act> = serde_json::from_value(acts).unwrap();
    shop.own(acts.into_iter().map(OwnOp::system).collect()).await.unwrap();
    let plan = tokio::sync::watch::channel(Arc::default()).1;
    let app = Shared::from(super::super::App::new(shop.clone(), plan, super::super::outside::here()));
    let who = |role| Who {
        person: PersonId(uuid::Uuid::from_u128(9)),
        session: SessionId(uuid::Uuid::nil()),
        role,
        display: false,
        until: Ms::MAX,
    };
    let send = async |role, dry_run, skip_bad| {
        let csv = "RO,Vehicle,Promise\n2041,grey wagon,\n2042,blue van,soon\n".to_owned();
        let (mapping, words) = (BTreeMap::new(), BTreeMap::new());
        let body = ImportOrders { csv, mapping, dry_run, skip_bad, words };
        match orders(app.clone(), who(role), routes::Json(body)).await {
            Ok(answer) => {
                let status = answer.status().as_u16();
                let body = actix_web::body::to_bytes(answer.into_body()).await.unwrap();
                (status, serde_json::from_slice::<Value>(&body).unwrap())
            }
            Err(error) => (error.status.as_u16(), json!({"code": error.body.code})),
        }
    };
    assert_eq!(send(Role::Technician, true, false).await, (403, json!({"code": "forbidden"})));
    let (status, dry) = send(Role::Planner, true, false).await;
    assert_eq!((status, &dry["good"], &dry["made"]), (200, &json!(1), &Value::Null));
    let (status, refused) = send(Role::Planner, false, false).await;
    assert_eq!((status, &refused["code"]), (422, &json!("bad_lines")));
    assert_eq!(refused["bad"][0]["line"], 3);
    assert_eq!(shop.view().state.orders.len(), 0);
    let (_, made) = send(Role::Planner, false, true).await;
    assert_eq!(made["made"], 1);
    let view = shop.view();
    assert_eq!(view.state.orders.values().map(|o| o.number.as_str()).collect::<Vec<_>>(), ["2041"]);
    let (_, again) = send(Role::Planner, false, true).await;
    assert_eq!((&again["made"], shop.view().state.orders.len()), (&json!(0), 1));
}

/// As a shop has them on a Tuesday: its program's own words, promises on Saturdays, one that has passed.
#[test]
fn of_forty_open_orders_all_come_in_once_their_words_are_said() {
    let csv = include_str!("open-orders.csv");
    let met = |report: &ImportReport| -> Vec<(&'static str, String, usize)> {
        report.words.iter().map(|w| (w.field, w.word.clone(), w.count)).collect()
    };
    let first = look_at(csv, &[]).report;
    assert_eq!((first.rows, first.bad.len()), (40, 0), "{:?}", first.bad);
    let words = met(&first);
    let named: Vec<&str> = words.iter().map(|(_, word, _)| word.as_str()).collect();
    for word in ["Body", "Waiting parts", "In process", "Lot"] {
        assert!(named.contains(&word), "{named:?}");
    }
    assert_eq!(words.iter().filter(|(_, word, _)| word.trim().eq_ignore_ascii_case("paint")).count(), 1);
    assert_eq!(words.len(), 5, "each once: {words:?}");
    assert_eq!(first.good + first.unsaid, 40);
    assert!(first.unsaid > 30);

    let said = json!({
        "stage": {"Body": "authorised", "Paint": "authorised", "Waiting parts": "arrived", "In process": "authorised"},
        "place": {"Lot": ""},
    });
    let Looked { report, orders } = look_with(csv, &[], said);
    assert_eq!((report.good, report.unsaid, report.bad.len()), (40, 0, 0), "{:?}", report.bad);
    // What was said stands there still, so that it can be said otherwise.
    assert_eq!(met(&report), words);
    assert!(report.words.iter().all(|word| word.meaning.is_some()));
    let stages = |stage| orders.iter().filter(|order| order.open.stage == stage).count();
    assert_eq!((stages(Stage::Expected), stages(Stage::Arrived), stages(Stage::Authorised)), (2, 9, 29));
    let friday = "2026-03-06T23:00:00Z".parse::<Timestamp>().unwrap().as_millisecond();
    let saturdays = report.warnings.iter().filter(|w| w.why.contains("promised for 2026-03-06")).count();
    assert_eq!(orders.iter().filter(|order| order.open.promise == Some(friday)).count(), saturdays);
    assert!(saturdays >= 13);
    assert_eq!(report.warnings.iter().filter(|w| w.why.contains("has passed")).count(), 1);
}
