//! The order of the queue: who does what next, when, and why not earlier.
//!
//! The caller states a [`Problem`] (people pools and equipment, calendars, tasks, jobs, holds) in integer minutes from an origin
//! of its choice, and [`solve`] returns starts and ends, the reason of every placement and a hash of the plan.
//!
//! ```
//! use plan::{Budget, Demand, Job, Options, Problem, Resource, Successor, Task};
//!
//! let mut p = Problem { now: 0, ..Problem::default() };
//! p.resources.push(Resource::people("mechanical", 1));
//! p.resources.push(Resource::place("place:2041"));
//! p.jobs.push(Job { id: "2041".into(), due: Some(300), weight: 2, release: 0 });
//! p.tasks.push(Task {
//!     demands: vec![Demand { resource: 0, qty: 1 }, Demand { resource: 1, qty: 1 }],
//!     successors: vec![Successor::after(1)],
//!     job: Some(0),
//!     ..Task::new("drop", 60)
//! });
//! p.tasks.push(Task { demands: vec![Demand { resource: 0, qty: 1 }], job: Some(0), ..Task::new("refit", 90) });
//!
//! let options = Options { budget: Budget::Decodes(200), seed: 1, ..Options::default() };
//! let plan = plan::solve(&p, &options).unwrap();
//! assert_eq!(plan.starts, vec![0, 60]);
//! assert_eq!(plan.bindings[1], plan::Binding::Predecessor { task: 0, lag: 0 });
//! ```
//!
//! How the server calls it: first [`solve`] with [`Budget::First`] and `previous` set (the repaired plan or the best rule, a
//! few milliseconds at most), publish; then again in the background with a real budget and the same `previous`. With
//! [`Options::keep`] what people have been shown moves only where that is worth it. A caller with a clock passes `stop`.
//!
//! Invariants: same problem, seed and budget → same plan on every machine (a `stop` that fires gives that up); no clock, file,
//! socket, random source or hash map; every returned plan respects capacities, calendars, precedence, releases and holds.
//! Must not know: the shop's events and state, HTTP, storage, words of a language.

#![deny(missing_docs)]

mod calendar;
mod check;
mod compile;
mod decode;
mod dispatch;
mod explain;
mod forecast;
mod graph;
mod grid;
mod jobshop;
mod keep;
mod lists;
mod model;
pub mod portable;
mod problem;
mod profile;
mod project;
mod rng;
mod rules;
mod search;
mod shape;
mod slip;
mod solve;

pub use explain::{Binding, Link, chain};
pub use forecast::{Delay, Forecast, Spread, forecast};
pub use keep::Keep;
pub use problem::{
    Calendar, Demand, FARTHEST_MINUTES, Hold, Job, Kind, Minutes, Objective, PlanError, Problem, Resource,
    Step, Successor, Task, Until,
};
pub use slip::{Case, Foreseen, OpenHours, Slip};
pub use solve::{Budget, Options, Score, Solution, TracePoint, evaluate, plan_hash, solve};

/// Inside the engine times are 32 bits wide; the problem is checked to fit.
pub(crate) type Time = i32;
/// Later than anything that can be planned.
pub(crate) const FAR: Time = 1 << 30;
/// "No index" in compact vectors.
pub(crate) const NONE: u32 = u32::MAX;
