//! Control charts, flow and Little's law against the handbook, counting by hand, and each other.

use domain::ids::OrderId;
use domain::measure::control::{Control, Rule, control, individuals};
use domain::measure::{Class, Question, percentile};
use domain::stored::*;
use domain::{MINUTE, Ms};

use crate::support::*;

const DAY: Ms = 24 * 60 * MINUTE;

/// NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2 Individuals Control Charts, its flow-rate
/// example; values and results [MEM].
#[test]
fn individuals_chart_of_the_handbook() {
    let flow = [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1];
    let limits = individuals(&flow).expect("ten values");
    assert!((limits.mean - 50.81).abs() < 5e-3, "{}", limits.mean);
    assert!((limits.moving_range - 1.8778).abs() < 5e-5, "{}", limits.moving_range);
    assert!((limits.lower - 45.82).abs() < 5e-3, "{}", limits.lower);
    assert!((limits.upper - 55.80).abs() < 5e-3, "{}", limits.upper);
    assert_eq!(limits.signals, [], "the handbook: the process is in control");
}

/// Common practice (Western Electric rules): beyond a limit, eight in a row on one side.
#[test]
fn signals_by_hand() {
    // Ten quiet values and one far out: mean 11, moving ranges 1 nine times and about 10 once.
    let mut values: Vec<f64> = (0..10).map(|n| if n % 2 == 0 { 9.5 } else { 10.5 }).collect();
    values.push(21.0);
    let limits = individuals(&values).expect("values");
    let beyond: Vec<usize> = limits.signals.iter().filter(|s| s.1 == Rule::Beyond).map(|s| s.0).collect();
    assert_eq!(beyond, [10]);
    // Seven below the mean are none; the eighth is one, the ninth too. On the mean the row begins anew.
    let row = |below: usize, above: usize| {
        let values = [vec![-1.0; below], vec![below as f64 / above as f64; above]].concat();
        let limits = individuals(&values).expect("values");
        limits.signals.iter().filter(|s| s.1 == Rule::OneSide).map(|s| s.0).collect::<Vec<_>>()
    };
    assert!(row(7, 7).is_empty());
    assert_eq!(row(9, 3), [7, 8]);
    assert_eq!(row(4, 9), [11, 12]);
    let on_the_mean = [-1.0, -1.0, -1.0, -1.0, 0.0, -1.0, -1.0, -1.0, -1.0, 8.0];
    let signals = individuals(&on_the_mean).expect("values").signals;
    assert!(signals.iter().all(|s| s.1 == Rule::Beyond), "{signals:?}");
}

#[test]
fn a_chart_needs_two_values() {
    assert_eq!(individuals(&[]), None);
    assert_eq!(individuals(&[3.0]), None);
    let same = individuals(&[3.0, 3.0, 3.0]).expect("three values");
    assert_eq!((same.lower, same.upper, same.signals.len()), (3.0, 3.0, 0));
}

/// Vehicles that come and go in a pattern of our own, in hours after Monday eight o'clock.
fn visits() -> Vec<(i64, i64)> {
    (0..30).map(|n: i64| (n * 17 % 300, n * 17 % 300 + 20 + n * n * 7 % 180)).collect()
}

/// What the shop itself did, replayed: (time, came or left).
fn filled() -> (TestShop, Ms, Vec<(Ms, bool)>) {
    let mut shop = TestShop::new();
    shop.checked = false;
    let began = shop.now;
    let mut changes: Vec<(Ms, bool, usize)> = Vec::new();
    for (number, (come, go)) in visits().into_iter().enumerate() {
        changes.push((began + come * HOUR, true, number));
        changes.push((began + go * HOUR, false, number));
    }
    changes.sort_unstable();
    let mut orders: Vec<Option<OrderId>> = vec![None; visits().len()];
    for (at, comes, number) in &changes {
        shop.now = *at;
        if *comes {
            let towed_in = number % 3 == 0;
            let open = |open: &mut OpenOrder| (open.stage, open.towed_in) = (Stage::Arrived, towed_in);
            shop.ok("rask", order_with(&format!("{number}"), open));
            orders[*number] = Some(OrderId(shop.last_op().0));
        } else {
            shop.ok("rask", stage(orders[*number].expect("it came"), Stage::Delivered));
        }
    }
    shop.now += DAY;
    (shop, began, changes.into_iter().map(|(at, comes, _)| (at, comes)).collect())
}

fn look(shop: &TestShop, from: Ms, to: Ms) -> Control {
    control(&shop.state, &shop.zone, &Question { from, to, now: shop.now, ..Question::default() })
}

/// Little 1961: over a stretch that begins and ends empty the number from counts is the rate times the
/// time from vehicles; over any other it is not, and what was in at the ends says so.
#[test]
fn littles_law_holds_where_it_must() {
    let (shop, began, _) = filled();
    let whole = look(&shop, began, shop.now).little.expect("vehicles left");
    assert_eq!((whole.at_begin, whole.at_end), (0, 0));
    assert!((whole.number - whole.rate_times_time()).abs() < 1e-9, "{whole:?}");
    let hours: i64 = visits().iter().map(|(come, go)| go - come).sum();
    assert!((whole.number - (hours * HOUR) as f64 / (shop.now - began) as f64).abs() < 1e-9);
    let part = look(&shop, began + 3 * DAY, began + 9 * DAY).little.expect("vehicles left");
    assert!(part.at_begin > 0 && part.at_end > 0);
    assert!((part.number - part.rate_times_time()).abs() > 0.01, "{part:?}");
}

/// Cumulative flow against counting every change up to each midnight.
#[test]
fn cumulative_flow_is_what_counting_gives() {
    let (shop, began, changes) = filled();
    let flow = look(&shop, began, shop.now).flow;
    assert_eq!(flow.last().map(|day| day.at), Some(shop.now));
    assert!(flow.windows(2).all(|pair| (0..=25 * HOUR).contains(&(pair[1].at - pair[0].at))));
    for day in &flow {
        let count = |comes| changes.iter().filter(|(at, c)| *at < day.at && *c == comes).count() as u32;
        assert_eq!((day.came, day.left), (count(true), count(false)), "until {}", day.at);
        assert_eq!(day.stages, [day.came - day.left, 0, 0, 0, 0]);
    }
}

/// One chart for each class, in the order in which they came; bands are percentiles of the same lengths.
#[test]
fn charts_hold_each_class_apart() {
    let (shop, began, _) = filled();
    let looked = look(&shop, began, shop.now);
    let points = |class: Class| {
        let chart = looked.charts.iter().find(|chart| chart.class == class).expect("a chart");
        assert!(chart.points.windows(2).all(|pair| pair[0].start <= pair[1].start));
        let days: Vec<f64> = chart.points.iter().map(|p| p.days).collect();
        assert_eq!(chart.limits, individuals(&days));
        days
    };
    assert_eq!(points(Class::TowedIn).len(), 10);
    assert_eq!(points(Class::Rolling).len(), 20);
    let all = [points(Class::TowedIn), points(Class::Rolling)].concat();
    let bands = &looked.bands;
    assert_eq!(bands.iter().map(|b| b.count).sum::<u32>(), 30);
    if let [only] = &bands[..] {
        assert_eq!(only.days.map(Some), [0.1, 0.25, 0.5, 0.75, 0.9].map(|p| percentile(&all, p)));
    }
    assert_eq!(bands.first().map(|b| b.month.as_str()), Some("2026-03"));
    let towed =
        Question { from: began, to: shop.now, now: shop.now, class: Some(Class::TowedIn), department: None };
    let charts = control(&shop.state, &shop.zone, &towed).charts;
    assert_eq!(charts.iter().map(|c| c.points.len()).max(), Some(10));
}

#[test]
fn an_empty_shop_has_empty_charts() {
    let shop = TestShop::new();
    for (from, to) in [(0, shop.now), (shop.now, 0), (i64::MIN, i64::MAX)] {
        let looked = look(&shop, from, to);
        assert!(looked.charts.is_empty() && looked.bands.is_empty() && looked.little.is_none());
        assert!(looked.waits.iter().all(|week| week.hours.is_empty()));
    }
}
