//! One small shop per rule: calendars, holds, put first, deadlock, reasons.
#![allow(clippy::field_reassign_with_default)] // a problem is stated part by part, as one would tell it

mod support;

use plan::{
    Binding, Budget, Calendar, Demand, Hold, Job, Keep, Options, PlanError, Problem, Resource, Successor,
    Task, Until, solve,
};

fn first() -> Options<'static> {
    Options { budget: Budget::First, ..Options::default() }
}

fn searched() -> Options<'static> {
    Options { budget: Budget::Decodes(300), ..Options::default() }
}

fn need(resource: usize) -> Vec<Demand> {
    vec![Demand { resource, qty: 1 }]
}

fn job(id: &str, due: i64) -> Job {
    Job { id: id.into(), due: Some(due), weight: 1, release: 0 }
}

/// Eight to twelve and thirteen to seventeen, two days.
fn days() -> Calendar {
    Calendar { open: vec![(480, 720), (780, 1020), (1920, 2160), (2220, 2460)] }
}

#[test]
fn work_is_resumed_after_the_night_unless_it_must_go_in_one() {
    let mut p = Problem { now: 900, calendars: vec![days()], ..Problem::default() };
    p.tasks.push(Task { calendar: Some(0), ..Task::new("pull", 180) });
    p.tasks.push(Task { calendar: Some(0), one_go: true, ..Task::new("paint", 180) });
    let s = solve(&p, &first()).unwrap();
    assert_eq!((s.starts[0], s.ends[0]), (900, 1980));
    assert_eq!((s.starts[1], s.ends[1]), (1920, 2100));
    assert_eq!(s.bindings, vec![Binding::Nothing, Binding::Calendar { after: None }]);
}

#[test]
fn a_lift_stays_blocked_overnight_but_a_person_does_not() {
    let mut p = Problem { now: 960, calendars: vec![days()], ..Problem::default() };
    p.resources = vec![Resource::people("mechanical", 1), Resource::equipment("lift", 1)];
    p.jobs = vec![job("a", 0), job("b", 9000)];
    let both = vec![Demand { resource: 0, qty: 1 }, Demand { resource: 1, qty: 1 }];
    p.tasks.push(Task { calendar: Some(0), job: Some(0), demands: both, ..Task::new("drop", 120) });
    p.tasks.push(Task { job: Some(1), demands: need(0), ..Task::new("night call", 60) });
    p.tasks.push(Task { job: Some(1), demands: need(1), ..Task::new("inspection", 60) });
    let s = solve(&p, &searched()).unwrap();
    assert_eq!((s.starts[0], s.ends[0]), (960, 1980));
    assert_eq!(s.starts[1], 1020, "the mechanic is free after the shift");
    assert_eq!(s.starts[2], 1980, "the lift is not");
    assert_eq!(s.bindings[2], Binding::Equipment { resource: 1, holders: vec![0] });
}

/// Two vehicles, one lift, one stand, held in opposite nesting: whoever takes what is free first would lock up.
#[test]
fn opposite_nesting_cannot_lock_up() {
    let mut p = Problem::default();
    p.resources = vec![Resource::equipment("lift", 1), Resource::equipment("stands", 1)];
    for v in 0..2usize {
        p.jobs.push(job(["a", "b"][v], 10));
        let at = v * 4;
        for k in 0..4 {
            let successors = if k < 3 { vec![Successor::after(at + k + 1)] } else { Vec::new() };
            p.tasks.push(Task { job: Some(v), successors, ..Task::new(format!("{v}.{k}"), 5) });
        }
        let hold = |resource, from: usize, to: usize| Hold {
            resource,
            from: Some(at + from),
            to: at + to,
            qty: 1,
            until: Until::End,
        };
        p.holds.push(hold(v, 0, 3));
        p.holds.push(hold(1 - v, 1, 2));
    }
    let s = solve(&p, &searched()).unwrap();
    assert_eq!(support::faults(&p, &s), Vec::<String>::new());
    // The second takes the stands while the first still refits, and goes up when the lift is free.
    assert_eq!(s.ends.iter().max(), Some(&35));
}

/// A started hold without end: what its closer needs is found a way, and waiting work comes after it.
#[test]
fn what_a_started_hold_blocks_waits_for_its_closer() {
    let mut p = Problem::default();
    p.resources = vec![Resource::equipment("lift", 1), Resource::people("mechanical", 1)];
    p.jobs = vec![job("up", 500), job("next", 0)];
    p.tasks.push(Task { job: Some(0), demands: need(1), ..Task::new("refit", 30) });
    p.tasks.push(Task { job: Some(1), demands: need(0), ..Task::new("align", 20) });
    p.holds.push(Hold { resource: 0, from: None, to: 0, qty: 1, until: Until::End });
    let s = solve(&p, &searched()).unwrap();
    assert_eq!(s.starts, vec![0, 30]);
    assert_eq!(s.bindings[1], Binding::Equipment { resource: 0, holders: vec![0] });
}

#[test]
fn a_physical_deadlock_is_reported_with_who_and_what() {
    let mut p = Problem::default();
    p.resources = vec![Resource::equipment("lift 1", 1), Resource::equipment("bench", 1)];
    p.tasks.push(Task { demands: need(1), ..Task::new("a.refit", 30) });
    p.tasks.push(Task { demands: need(0), ..Task::new("b.dismount", 30) });
    p.holds.push(Hold { resource: 0, from: None, to: 0, qty: 1, until: Until::End });
    p.holds.push(Hold { resource: 1, from: None, to: 1, qty: 1, until: Until::End });
    let e = solve(&p, &searched()).unwrap_err();
    let PlanError::PhysicalDeadlock { tasks, resources } = &e else { panic!("{e}") };
    assert_eq!(tasks, &["a.refit", "b.dismount"]);
    assert_eq!(resources, &["bench", "lift 1"]);
}

#[test]
fn put_first_goes_first_and_the_others_say_why() {
    let mut p = Problem::default();
    p.resources = vec![Resource::people("body", 1)];
    p.jobs = vec![job("urgent", 10), job("favoured", 1000)];
    p.tasks.push(Task { job: Some(0), demands: need(0), ..Task::new("u", 10) });
    p.tasks.push(Task { job: Some(1), demands: need(0), priority: true, ..Task::new("f", 50) });
    let s = solve(&p, &searched()).unwrap();
    assert_eq!(s.starts, vec![50, 0]);
    assert_eq!(s.bindings[0], Binding::PutFirst { resource: 0, task: 1 });
}

#[test]
fn put_first_goes_first_whatever_the_plan_before_says() {
    let mut p = Problem::default();
    p.resources = vec![Resource::people("body", 1)];
    p.jobs = vec![job("urgent", 10), job("favoured", 1000)];
    p.tasks.push(Task { job: Some(0), demands: need(0), ..Task::new("u", 10) });
    p.tasks.push(Task { job: Some(1), demands: need(0), priority: true, ..Task::new("f", 50) });
    let keep = Some(Keep {
        soon: 120,
        soon_price: 240,
        day_price: 60,
        moved_permille_max: 1_000,
        fill_max: 0,
        all: false,
    });
    for budget in [Budget::First, Budget::Tasks(1_000)] {
        let before = [Some(0), Some(10)];
        let o = Options { budget, previous: Some(&before), keep, ..Options::default() };
        assert_eq!(solve(&p, &o).unwrap().starts, vec![50, 0], "{budget:?}");
    }
}

#[test]
fn a_maximum_lag_pulls_the_earlier_task_back_or_is_priced() {
    let mut p = Problem { max_lag_price: 3, ..Problem::default() };
    p.tasks.push(Task {
        successors: vec![Successor { task: 1, min_lag: 10, max_lag: Some(20) }],
        ..Task::new("prime", 5)
    });
    p.tasks.push(Task { release: Some(100), ..Task::new("paint", 5) });
    let s = solve(&p, &first()).unwrap();
    assert_eq!((s.starts[0], s.starts[1], s.objective), (75, 100, 0));
    // Primed already: nothing to pull, the overrun has its price.
    p.tasks[0].fixed_start = Some(0);
    let s = solve(&p, &first()).unwrap();
    assert_eq!(s.objective, (100 - 5 - 20) * 3);
}

/// Two cards of one person, 100 and 99 minutes, both late: exchanged they cost a minute less, with twice the weight on the
/// second 98 less; both would move by more than an hour.
#[test]
fn an_order_that_is_known_changes_only_for_more_than_its_moves_cost() {
    let mut p = Problem::default();
    p.resources = vec![Resource::people("body", 1)];
    p.jobs = vec![job("a", 0), job("b", 0)];
    p.tasks.push(Task { job: Some(0), demands: need(0), ..Task::new("a", 100) });
    p.tasks.push(Task { job: Some(1), demands: need(0), ..Task::new("b", 99) });
    let previous = [Some(0), Some(100)];
    let near = |p: &Problem, price: i64| {
        let keep = Some(Keep {
            soon: 1440,
            soon_price: price,
            day_price: price,
            moved_permille_max: 1_000,
            fill_max: 0,
            all: false,
        });
        solve(p, &Options { previous: Some(&previous), keep, ..searched() }).unwrap()
    };
    let kept = near(&p, 1);
    assert!(kept.kept && kept.starts == [0, 100] && kept.score.churn == 0);
    let free = solve(&p, &Options { previous: Some(&previous), ..searched() }).unwrap();
    assert_eq!((free.starts, free.score.churn), (vec![99, 0], 199));
    p.jobs[1].weight = 2;
    for (price, kept) in [(0, false), (30, false), (60, true)] {
        assert_eq!(near(&p, price).kept, kept, "at {price}");
    }
}

/// Five days of eight hours, one painter. The last job of the first day slips past its shift: the second and third day are
/// full from the first minute on, the fourth has room in the afternoon.
#[test]
fn what_slips_past_its_shift_does_not_push_the_next_days() {
    const DAY: i64 = 1440;
    let mut p = Problem { now: 400, ..Problem::default() };
    p.resources = vec![Resource::people("refinish", 1)];
    p.calendars = vec![Calendar { open: (0..5).map(|d| (d * DAY, d * DAY + 480)).collect() }];
    let mut previous = Vec::new();
    let mut add = |name: String, at: i64, duration: i64| {
        p.jobs.push(job(&name, 30 * DAY));
        let job = Some(p.jobs.len() - 1);
        p.tasks.push(Task {
            job,
            demands: need(0),
            calendar: Some(0),
            one_go: true,
            ..Task::new(&name, duration)
        });
        previous.push(Some(at));
    };
    add("slips".into(), 390, 90);
    for (day, jobs) in [(1, 4), (2, 4), (3, 2)] {
        (0..jobs).for_each(|i| add(format!("{day}.{i}"), day * DAY + i * 120, 120));
    }
    let keep = Some(Keep {
        soon: 120,
        soon_price: 240,
        day_price: 90,
        moved_permille_max: 1_000,
        fill_max: 0,
        all: false,
    });
    let o = Options { budget: Budget::First, previous: Some(&previous), keep, ..Options::default() };
    let s = solve(&p, &o).unwrap();
    assert_eq!(s.starts[0], 3 * DAY + 240);
    let others: Vec<Option<i64>> = s.starts[1..].iter().copied().map(Some).collect();
    assert_eq!(others, previous[1..]);
}

/// New work and what has been put off go into what is free; the others stay to the minute.
#[test]
fn what_is_new_goes_into_a_gap() {
    let mut p = Problem::default();
    p.resources = vec![Resource::people("body", 1)];
    for (id, due) in [("a", 1_000), ("b", 1_000), ("c", 1_000)] {
        p.jobs.push(job(id, due));
    }
    for (i, id) in ["a", "b", "c"].into_iter().enumerate() {
        p.tasks.push(Task { job: Some(i), demands: need(0), ..Task::new(id, 60) });
    }
    // b cannot begin at once, else it would: somebody is free.
    p.tasks[1].release = Some(140);
    let keep = Some(Keep {
        soon: 120,
        soon_price: 240,
        day_price: 60,
        moved_permille_max: 1_000,
        fill_max: 0,
        all: false,
    });
    let repair = |p: &Problem, previous: &[Option<i64>]| {
        let o = Options { budget: Budget::First, previous: Some(previous), keep, ..Options::default() };
        solve(p, &o).unwrap().starts
    };
    assert_eq!(repair(&p, &[Some(0), Some(150), None]), [0, 150, 60]);
    p.tasks[2].release = Some(140);
    // Put off by hours, it goes behind what is there; put off by a quarter of an hour, it keeps its turn.
    p.tasks[0].release = Some(130);
    assert_eq!(repair(&p, &[Some(0), Some(150), Some(210)]), [270, 150, 210]);
    p.tasks[0].release = Some(15);
    (p.tasks[1].release, p.tasks[2].release) = (None, None);
    assert_eq!(repair(&p, &[Some(0), Some(60), Some(120)]), [15, 75, 135]);
    (p.tasks[1].release, p.tasks[2].release) = (Some(140), Some(140));
    // No gap in time for its promise: then it goes in turn, and one of those behind it gives way instead of both moving.
    p.tasks[0].release = Some(130);
    p.jobs[0].due = Some(200);
    assert_eq!(repair(&p, &[Some(0), Some(150), Some(210)]), [130, 270, 210]);
}

#[test]
fn bad_problems_are_refused_in_words() {
    let base = || {
        let mut p = Problem::default();
        p.resources.push(Resource::people("body", 1));
        p.tasks.push(Task::new("a", 5));
        p.tasks.push(Task::new("b", 5));
        p
    };
    type Breaks = fn(&mut Problem);
    let cases: [(Breaks, &str); 8] = [
        (|p| p.tasks[0].duration = -1, "task a has a negative duration"),
        (|p| p.tasks[0].demands = vec![Demand { resource: 7, qty: 1 }], "resource number 7"),
        (|p| p.tasks[0].demands = vec![Demand { resource: 0, qty: 2 }], "needs 2 of body"),
        (
            |p| {
                p.tasks[0].successors = vec![Successor::after(1)];
                p.tasks[1].successors = vec![Successor::after(0)]
            },
            "in a circle: a, b",
        ),
        (
            |p| p.tasks[0].successors = vec![Successor { task: 1, min_lag: -3, max_lag: None }],
            "lag from a to b is negative",
        ),
        (|p| p.tasks[0].duration = i64::MAX, "too far"),
        (
            |p| {
                p.tasks[1].successors = vec![Successor::after(0)];
                p.holds.push(Hold { resource: 0, from: Some(0), to: 1, qty: 1, until: Until::End })
            },
            "comes before a",
        ),
        (|p| p.calendars.push(Calendar { open: vec![(5, 5)] }), "calendar 0"),
    ];
    for (break_it, words) in cases {
        let mut p = base();
        break_it(&mut p);
        let e = solve(&p, &first()).expect_err(words).to_string();
        assert!(e.contains(words), "{e}");
    }
}

#[test]
fn bad_instances_are_refused_in_words() {
    let resources = r#""resources":[{"id":"m","capacity":1}],"objective":"makespan""#;
    let cases = [
        (r#"{"tasks":[]}"#.to_string(), "missing field `resources`"),
        (
            format!(r#"{{{resources},"tasks":[{{"id":"a","duration":1,"demands":{{"x":1}}}}]}}"#),
            "names the resource x",
        ),
        (
            format!(r#"{{{resources},"tasks":[{{"id":"a","duration":1}},{{"id":"a","duration":1}}]}}"#),
            "two tasks are called a",
        ),
        (
            format!(r#"{{{resources},"tasks":[{{"id":"a","duration":1,"demands":{{"m":-1}}}}]}}"#),
            "quantity -1",
        ),
        (
            format!(
                r#"{{{resources},"tasks":[{{"id":"a","duration":5,"demands":{{"m":1}},"fixed_start":0}},{{"id":"b","duration":5,"demands":{{"m":1}},"fixed_start":2}}]}}"#
            ),
            "m is taken 2 times at 2",
        ),
    ];
    for (text, words) in cases {
        let e = plan::portable::read(&text).expect_err(words).to_string();
        assert!(e.contains(words), "{e}");
    }
}
