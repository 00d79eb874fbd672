//! When to look at a plan again though nobody has acted: when a moment in it comes due, and only while somebody
//! is there.
//!
//! Must not know: clocks; the search.

use domain::{MINUTE, Ms};
use plan::{Minutes, Solution};

use super::problem::Built;
use super::rows::ROUND_MS;

/// Minutes until somebody is on shift; 0: somebody is now. None: nobody ever is, as far as calendars reach.
pub(super) fn opens_in(built: &Built) -> Option<Minutes> {
    let open = built.problem.calendars.iter().flat_map(|calendar| &calendar.open);
    open.filter(|(_, to)| *to > 0).map(|(from, _)| (*from).max(0)).min()
}

pub(super) fn next_look(built: &Built, solution: Option<&Solution>, now: Ms) -> Ms {
    let opens = opens_in(built);
    let at_work = opens == Some(0);
    let soon = now + ROUND_MS;
    if !at_work {
        return opens.map_or(Ms::MAX, |minutes| built.at(minutes).max(soon));
    }
    let Some(solution) = solution else { return soon };
    // What should have begun or ended by now slips by a shown step at a time.
    let moments = built.problem.tasks.iter().enumerate().map(|(i, task)| match task.fixed_start {
        Some(_) => solution.ends[i],
        None => task.release.filter(|release| *release > 0).unwrap_or(i64::MAX).min(solution.starts[i]),
    });
    let first = moments.chain(built.turns.iter().copied()).min();
    let at = first.map_or(Ms::MAX, |minutes| now.saturating_add(minutes.saturating_mul(MINUTE)));
    at.max(soon)
}
