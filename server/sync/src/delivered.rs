//! What may go in by somebody else's sign-in: a shared tablet delivers everybody's outbox, and whoever holds its
//! cookies can write anything into it.
//!
//! So an operation that another person's sign-in brings counts only if a technician could have done it, with the
//! same outcome. Everything above waits, without a verdict, until its own person is signed in there again.
//! Must not know: the log, HTTP, who is signed in.

use domain::decide::{Code, Context, Refusal, decide, decide_unproved};
use domain::state::State;
use domain::stored::{Event, Expect, Op, Role};

/// What the server knows of the sign-in in which something was done.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Standing {
    Good,
    /// A manager or the person ended it elsewhere, or the person was removed: what happened in steel stands, what
    /// was only wished for may be a thief's.
    FactsOnly,
    /// Lost when the server was set back.
    Unknown,
}

pub(crate) type Decision = Result<Vec<Event>, Refusal>;

/// The decision, or none: it waits for its own person. `own`: their own sign-in brings it.
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
