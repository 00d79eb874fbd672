//! Shifts over a change of the clock. The engine counts real minutes: the shell gives it shifts whose distance is an hour off.
//! Dates and minutes of the changes are the IANA time zone database's for Chicago, 2026.

mod support;

use plan::{
    Budget, Calendar, Demand, Job, Minutes, Options, Problem, Resource, Solution, Successor, Task, solve,
};
use proptest::prelude::*;
use support::{faults, objective, overrun, shop, two_places};

const HOUR: Minutes = 60;
const DAY: Minutes = 24 * HOUR;

/// Real minutes since Saturday midnight of a local time, in the week-end in which the clock jumps by `jump` on Sunday at 02:00.
fn real(day: Minutes, hour: Minutes, jump: Minutes) -> Minutes {
    let local = day * DAY + hour * HOUR;
    if local >= DAY + 2 * HOUR { local - jump } else { local }
}

/// Nights from 22:00 to 06:00: Saturday's has seven real hours on 8 March, nine on 1 November.
fn nights(jump: Minutes) -> Calendar {
    Calendar { open: (0..4).map(|d| (real(d, 22, jump), real(d + 1, 6, jump))).collect() }
}

fn plan_of(p: &Problem) -> Solution {
    let s =
        solve(p, &Options { budget: Budget::Decodes(200), ..Options::default() }).expect("it can be planned");
    assert_eq!(faults(p, &s), Vec::<String>::new());
    s
}

/// Eight hours of work begun on Saturday at 22:00, a cure of ten hours, and an hour of it again.
fn night_work(jump: Minutes, one_go: bool) -> Problem {
    let mut p = Problem { calendars: vec![nights(jump)], ..Problem::default() };
    p.resources.push(Resource::people("night crew", 1));
    p.jobs.push(Job { id: "a".into(), due: Some(0), weight: 1, release: 0 });
    let crew = || vec![Demand { resource: 0, qty: 1 }];
    let on_nights = |id: &str, hours| Task {
        calendar: Some(0),
        demands: crew(),
        job: Some(0),
        ..Task::new(id, hours * HOUR)
    };
    let after = Successor { task: 1, min_lag: 10 * HOUR, max_lag: None };
    p.tasks.push(Task { one_go, successors: vec![after], ..on_nights("weld", 8) });
    p.tasks.push(on_nights("check", 1));
    p
}

#[test]
fn the_night_on_which_clocks_go_forward_is_an_hour_short() {
    let s = plan_of(&night_work(HOUR, false));
    // Seven hours until Sunday 06:00, the eighth on Sunday from 22:00 on.
    assert_eq!((s.starts[0], s.ends[0]), (real(0, 22, HOUR), real(1, 23, HOUR)));
    assert_eq!(s.ends[0] - s.starts[0], 24 * HOUR, "by the clock on the wall it is 25 hours");
    // Cured on Monday at 09:00, worked from 22:00 on.
    assert_eq!(s.starts[1], real(2, 22, HOUR));
    // In one go it does not fit into that night.
    assert_eq!(plan_of(&night_work(HOUR, true)).starts[0], real(1, 22, HOUR));
}

#[test]
fn the_night_on_which_clocks_go_back_is_an_hour_long() {
    let s = plan_of(&night_work(-HOUR, true));
    // Done an hour before the shift ends, at 05:00 by the clock: eight real hours.
    assert_eq!((s.starts[0], s.ends[0]), (real(0, 22, -HOUR), real(1, 5, -HOUR)));
    assert_eq!(s.ends[0] - s.starts[0], 8 * HOUR);
    // A cure counts real hours: over at 15:00, the next shift begins at 22:00.
    assert_eq!(s.starts[1], real(1, 22, -HOUR));
}

#[test]
fn a_cure_over_the_change_takes_as_long_as_ever() {
    for jump in [HOUR, -HOUR] {
        let mut p = night_work(jump, false);
        p.tasks[1].calendar = None;
        let s = plan_of(&p);
        assert_eq!(s.starts[1] - s.ends[0], 10 * HOUR);
    }
}

/// From `at` on everything is an hour earlier (later), what lay in the skipped hour is at its end; a shift that lies over it is
/// shorter (longer).
fn change(p: &mut Problem, at: Minutes, jump: Minutes) {
    let moved = |t: &mut Minutes| {
        if *t >= at {
            *t = (*t - jump).max(at);
        }
    };
    for c in &mut p.calendars {
        c.open.iter_mut().for_each(|(a, b)| [a, b].into_iter().for_each(moved));
        c.open.retain(|(a, b)| a < b);
    }
    for r in &mut p.resources {
        r.availability.iter_mut().for_each(|s| [&mut s.from, &mut s.to].into_iter().for_each(moved));
        r.availability.retain(|s| s.from < s.to);
    }
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, cases: 150, ..ProptestConfig::default() })]

    /// The change may come at any minute of the first days, in the middle of a shift too.
    #[test]
    fn plans_over_a_change_are_allowed(seed in any::<u64>(), vehicles in 1usize..8, at in 0..5 * DAY, forward in any::<bool>()) {
        let mut p = shop(seed, vehicles, true);
        let at = at.max(p.now + HOUR);
        change(&mut p, at, if forward { HOUR } else { -HOUR });
        let s = solve(&p, &Options { seed, budget: Budget::Decodes(40), ..Options::default() }).expect("it can be planned");
        prop_assert_eq!(faults(&p, &s), Vec::<String>::new());
        prop_assert_eq!(two_places(&p, &s), Vec::<String>::new());
        prop_assert_eq!(s.objective, objective(&p, &s) + overrun(&p, &s));
    }
}
