//! Measures against formulas that are not ours.

use domain::ids::OrderId;
use domain::measure::{Figure, Measure, measures, percentile};
use domain::stored::Stage;
use domain::{MINUTE, Ms};

use crate::support::*;

const DAY: Ms = 24 * 60 * MINUTE;

fn figure(measures: &[Measure], id: &str) -> Figure {
    measures.iter().find(|m| m.id == id).unwrap_or_else(|| panic!("no measure {id}")).all
}

/// (in, out) in hours after the shop opened; a small generator of our own, the same on every machine.
fn visits() -> Vec<(i64, i64)> {
    let mut seed: u64 = 20_260_302;
    let mut next = |below: u64| {
        seed = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        ((seed >> 33) % below) as i64
    };
    let mut at = 5;
    (0..40)
        .map(|_| {
            at += next(20);
            (at, at + 10 + next(200))
        })
        .collect()
}

/// Little 1961, L = λW: exact over a window that starts and ends empty. The number comes from counting
/// heads at every change (a sweep over the log's stage times), the time from the vehicles; the tool's
/// own mean number must be both.
#[test]
fn littles_law_over_a_window_that_starts_and_ends_empty() {
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
            shop.ok("rask", order_with(&format!("{number}"), |open| open.stage = Stage::Arrived));
            orders[*number] = Some(OrderId(shop.last_op().0));
        } else {
            shop.ok("rask", stage(orders[*number].expect("it came"), Stage::Delivered));
        }
    }
    let (from, to) = (began, changes.last().expect("visits").0 + HOUR);
    let window = (to - from) as f64;

    // Number from counts: the area under the number of vehicles in the shop, as the shop itself counts them.
    let mut again = domain::state::State::default();
    let (mut area, mut before, mut count) = (0.0, from, 0usize);
    for entry in &shop.entries {
        area += count as f64 * (entry.act_at.max(before) - before) as f64;
        before = before.max(entry.act_at);
        domain::fold::entry(&mut again, entry);
        count = again.in_shop().count();
    }
    assert_eq!(count, 0, "the window ends empty");
    let number_from_counts = area / window;

    // Time from vehicles.
    let times: Vec<f64> = visits().iter().map(|(come, go)| ((go - come) * HOUR) as f64).collect();
    let arrival_rate = times.len() as f64 / window;
    let mean_time = times.iter().sum::<f64>() / times.len() as f64;
    assert!((number_from_counts - arrival_rate * mean_time).abs() < 1e-9, "L = λW");

    let all = measures(&shop.state, &shop.zone, from, to, to);
    let in_process = figure(&all, "in_process").value.expect("vehicles were there");
    assert!((in_process - number_from_counts).abs() < 1e-9, "{in_process} against {number_from_counts}");
    assert_eq!(figure(&all, "throughput").value, Some(times.len() as f64));
    let median = figure(&all, "keys_to_keys").value.expect("delivered");
    let mut sorted = times.clone();
    sorted.sort_by(f64::total_cmp);
    let by_hand = f64::midpoint(sorted[19], sorted[20]) / DAY as f64;
    assert!((median - by_hand).abs() < 1e-9, "the median of forty is between the twentieth and the next");
}

/// NIST/SEMATECH e-Handbook of Statistical Methods, 7.2.6.2 Percentiles, its example [MEM]: twelve gauge
/// measurements, 90th percentile: p(N+1) = 0.9 * 13 = 11.7, so between the ordered values 11 and 12:
/// 95.1959 + 0.7 * (95.1990 - 95.1959) = 95.1981.
#[test]
fn percentile_of_the_handbook() {
    // The twelve measurements [MEM].
    let gauge = [
        95.1772, 95.1567, 95.1937, 95.1959, 95.1442, 95.0610, 95.1591, 95.1195, 95.1065, 95.0925, 95.1990,
        95.1682,
    ];
    let p90 = percentile(&gauge, 0.9).expect("twelve values");
    assert!((p90 - 95.1981).abs() < 5e-5, "{p90}");
}

/// By hand from the handbook's rule, position p(N+1): k + d, Y(k) + d (Y(k+1) - Y(k)), first and last outside.
#[test]
fn percentiles_by_hand() {
    let values = [40.0, 10.0, 30.0, 20.0];
    // 0.5 * 5 = 2.5: between the second and third.
    assert_eq!(percentile(&values, 0.5), Some(25.0));
    // 0.25 * 5 = 1.25: a quarter of the way from the first to the second.
    assert_eq!(percentile(&values, 0.25), Some(12.5));
    // 0.9 * 5 = 4.5: past the last.
    assert_eq!(percentile(&values, 0.9), Some(40.0));
    assert_eq!(percentile(&values, 0.1), Some(10.0));
    assert_eq!(percentile(&[7.0], 0.9), Some(7.0));
    assert_eq!(percentile(&[], 0.5), None);
}

/// An empty window has no value, never a zero that looks like one; a window far outside all time is
/// answered at once.
#[test]
fn an_empty_window_has_no_value() {
    let shop = TestShop::new();
    for (from, to) in [(0, shop.now), (shop.now, shop.now), (i64::MIN, i64::MAX), (shop.now, 0)] {
        for measure in measures(&shop.state, &shop.zone, from, to, shop.now) {
            assert_eq!((measure.all.count, measure.all.value), (0, None), "{} over {from}..{to}", measure.id);
        }
    }
}

/// Stopped vehicles are left out, a wait is from really ready, hours are those of the people.
#[test]
fn a_days_measures_by_hand() {
    let mut shop = TestShop::new();
    let from = shop.now;
    let order = shop.order("2041");
    shop.ok("milo", domain::stored::Act::Move { order, to: "lift-1".into(), on: None });
    let (down, own, up) = shop.round_trip(order);
    shop.later(30).ok("milo", take(down));
    shop.later(10);
    shop.do_it("milo", down, 60); // 8:40 to 9:40
    shop.later(20);
    shop.do_it("ines", own, 30); // 10:00 to 10:30
    shop.later(30);
    shop.do_it("milo", up, 60); // 11:00 to 12:00
    shop.ok("rask", stage(order, Stage::Ready));
    shop.later(60).ok("rask", stage(order, Stage::Delivered)); // 13:00
    let stopped = shop.order("2042");
    shop.ok("rask", stage(stopped, Stage::Stopped));
    shop.ok("rask", stage(stopped, Stage::Delivered));
    let all = measures(&shop.state, &shop.zone, from, shop.now + 1, shop.now + 1);
    let hours = |id: &str| figure(&all, id).value.expect("a value");
    let close = |a: f64, b: f64| (a - b).abs() < 1e-9;
    assert!(close(hours("asked_to_taken"), 0.5));
    assert!(close(hours("asked_to_started"), 40.0 / 60.0));
    assert!(close(hours("asked_to_handed_back"), 4.0));
    assert!(close(hours("touch_clocked"), 2.5));
    assert!(close(hours("equipment_held"), 200.0 / 60.0), "8:40 to 12:00");
    // 9:40 to 10:00 and 10:30 to 11:00: held while nobody worked on it and the shop was open.
    assert!(close(hours("equipment_blocked"), 50.0 / 60.0), "{}", hours("equipment_blocked"));
    assert_eq!(figure(&all, "throughput").value, Some(1.0), "the stopped one is no throughput");
    assert!(close(figure(&all, "keys_to_keys").value.expect("a value"), 5.0 / 24.0));
}
