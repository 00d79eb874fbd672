//! A search that counts its work ends, whatever there is to order: also where no move changes anything.

mod support;

use plan::{Budget, Demand, Job, Keep, Options, Problem, Resource, Successor, Task, solve};
use support::Dice;

/// The server's own.
const TASKS: u64 = 200_000;
/// Asked so often without an end, a search goes round in a circle: it counts 16 tasks for the idlest try.
const ASKED_MAX: u64 = TASKS;

/// Every shape of `n` cards: each of the pairs (earlier, later) linked or not, on one vehicle or each on its own.
fn shape(n: usize, links: u32, apart: bool) -> Problem {
    let mut p = Problem::default();
    p.resources.push(Resource::people("body", 1));
    p.resources.push(Resource::equipment("lift", 1));
    for i in 0..n {
        if apart || i == 0 {
            p.jobs.push(Job { id: format!("v{i}"), due: Some(30), weight: 2, release: 0 });
        }
        let need = |resource| Demand { resource, qty: 1 };
        let demands = if i % 2 == 0 { vec![need(0)] } else { vec![need(0), need(1)] };
        let job = Some(if apart { i } else { 0 });
        p.tasks.push(Task { demands, job, ..Task::new(format!("t{i}"), 20 + 7 * i as i64) });
    }
    let pairs = (0..n).flat_map(|a| (a + 1..n).map(move |b| (a, b)));
    for (bit, (a, b)) in pairs.enumerate().filter(|(bit, _)| links & (1 << bit) != 0) {
        let _ = bit;
        p.tasks[a].successors.push(Successor::after(b));
    }
    p
}

fn ends(p: &Problem, what: &str) {
    let first = solve(p, &Options { budget: Budget::First, ..Options::default() }).unwrap();
    let previous: Vec<Option<i64>> = first.starts.iter().map(|s| Some(*s)).collect();
    let keep =
        Keep { soon: 120, soon_price: 240, day_price: 60, moved_permille_max: 1_000, fill_max: 0, all: true };
    for (previous, keep) in [(None, None), (Some(previous.as_slice()), Some(keep))] {
        let asked = std::cell::Cell::new(0);
        let stop = || {
            asked.set(asked.get() + 1);
            asked.get() > ASKED_MAX
        };
        let o =
            Options { budget: Budget::Tasks(TASKS), previous, keep, stop: Some(&stop), ..Options::default() };
        let found = solve(p, &o).unwrap();
        assert!(asked.get() <= ASKED_MAX, "{what} does not end by itself");
        assert!(found.score <= first.score, "{what}: worse than where it began");
    }
}

#[test]
fn every_shape_of_up_to_four_cards_ends() {
    for n in 1..=4usize {
        for links in 0..1u32 << (n * (n - 1) / 2) {
            for apart in [false, true] {
                ends(&shape(n, links, apart), &format!("{n} cards, links {links:b}, apart {apart}"));
            }
        }
    }
}

#[test]
fn seeded_shapes_of_five_and_six_cards_end() {
    let mut dice = Dice::new(1);
    for round in 0..500 {
        let n = dice.roll(5, 6) as usize;
        let links = dice.roll(0, (1 << (n * (n - 1) / 2)) - 1) as u32;
        ends(&shape(n, links, dice.odds(50)), &format!("round {round}: {n} cards, links {links:b}"));
    }
}
