//! What somebody else's sign-in may deliver: a shared tablet delivers everybody's outbox, and anybody who holds
//! its cookies can write anything into one.
//!
//! So an operation delivered by another person's sign-in counts only if a technician could have done it, with
//! the same outcome. Anything beyond that waits, undecided, until its own person signs in there again.
//! Must not know: the log, HTTP, who is signed in.

use domain::decide::{Code, Context, Refusal, decide, decide_unproved};
use domain::state::State;
use domain::stored::{Event, Expect, Op, Role};

/// What the server knows of the sign-in in which an operation was made.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Standing {
    Good,
    /// A manager or the person ended it elsewhere, or the person was removed: facts stand, but a wish may be a
    /// thief's.
    FactsOnly,
    /// Lost when the server was set back to a backup.
    Unknown,
}

pub(crate) type Decision = Result<Vec<Event>, Refusal>;

/// The decision; none: it waits for its own person. `own`: it is their own sign-in that delivers it.
pub(crate) fn decide_brought(
    state: &State,
    op: &Op,
    standing: Standing,
    own: bool,
    context: &Context<'_>,
) -> Option<Decision> {
    let decided = decide_as(state, op, standing, context);
    if own || context.role == Role::Technician {
        return Some(decided);
    }
    let technician = Context { role: Role::Technician, ..context.clone() };
    let same = decide_as(state, op, standing, &technician) == decided;
    let can_be_proved = matches!(&decided, Err(refusal) if refusal.code == Code::Unproved);
    (same && !can_be_proved).then_some(decided)
}

fn decide_as(state: &State, op: &Op, standing: Standing, context: &Context<'_>) -> Decision {
    let expect: &[Expect] = &op.expect;
    match standing {
        Standing::Good => decide(state, &op.act, expect, context),
        Standing::FactsOnly if op.act.is_fact() => {
            let technician = Context { role: Role::Technician, ..context.clone() };
            decide(state, &op.act, expect, &technician)
        }
        Standing::FactsOnly => Err(Refusal::new(
            Code::SignedOut,
            "This sign-in was ended before this arrived; sign in and say again what still holds.",
        )),
        Standing::Unknown => decide_unproved(state, &op.act, context),
    }
}
