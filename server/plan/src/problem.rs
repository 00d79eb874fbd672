//! The planning problem as the caller states it.
//!
//! Invariants: times are integer minutes from an origin the caller picks; indexes point into the vectors of one [`Problem`];
//! nothing here knows vehicles, departments or people by name, only jobs, tasks and resources.
//! Must not know: clocks, time zones, the shop's events, JSON.

use std::fmt;

/// Minutes from the caller's origin. Negative for what began earlier.
pub type Minutes = i64;

/// Times further away than this are refused: sums of them must stay inside 32 bits.
pub const FARTHEST_MINUTES: Minutes = 1 << 28;

#[derive(Clone, Debug, Default, PartialEq)]
pub struct Problem {
    /// Nothing that has not started may be planned before this minute.
    pub now: Minutes,
    pub resources: Vec<Resource>,
    pub calendars: Vec<Calendar>,
    pub tasks: Vec<Task>,
    pub jobs: Vec<Job>,
    pub holds: Vec<Hold>,
    pub objective: Objective,
    /// Price of one minute past a `max_lag`, in the unit of weighted tardiness (weight × minutes).
    pub max_lag_price: i64,
}

#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Objective {
    Makespan,
    #[default]
    WeightedTardiness,
}

/// What a resource is; decides the words of a reason, not the arithmetic.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub enum Kind {
    #[default]
    People,
    Equipment,
    /// A vehicle's own place, or the room to work inside an open vehicle.
    Place,
}

#[derive(Clone, Debug, Default, PartialEq)]
pub struct Resource {
    /// Label for output; must be unique.
    pub id: String,
    pub kind: Kind,
    pub capacity: u32,
    /// Occupied by the wall clock: a resumable task keeps it through breaks and nights. People are not.
    pub wall: bool,
    /// Exceptions to `capacity`: sorted, not overlapping. Outside of them `capacity` holds.
    pub availability: Vec<Step>,
}

/// From minute `from` up to (not including) `to` there are `capacity` units.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Step {
    pub from: Minutes,
    pub to: Minutes,
    pub capacity: u32,
}

/// Working intervals, sorted and not overlapping. After the last one every minute counts as working time, so that every task
/// ends somewhere: give intervals for longer than the plan will reach.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Calendar {
    pub open: Vec<(Minutes, Minutes)>,
}

#[derive(Clone, Debug, Default, PartialEq)]
pub struct Task {
    pub id: String,
    /// Working minutes of the calendar, or plain minutes without one. For started work: what remains.
    pub duration: Minutes,
    pub calendar: Option<usize>,
    /// Must fit into one working interval; otherwise it may be broken off and resumed.
    pub one_go: bool,
    pub demands: Vec<Demand>,
    pub successors: Vec<Successor>,
    pub job: Option<usize>,
    /// Not before this minute (parts due, approval expected), beside the job's own release.
    pub release: Option<Minutes>,
    /// Started work: it stays at this minute, whatever else the problem says.
    pub fixed_start: Option<Minutes>,
    /// Put first: goes before others in every list, with what it needs.
    pub priority: bool,
    /// Keeps its place among the sticky ones of the previous plan, before all that is not sticky.
    pub sticky: bool,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Demand {
    pub resource: usize,
    pub qty: u32,
}

/// start(task) ≥ end + `min_lag`, by the wall clock; past `max_lag` every minute has its price.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Successor {
    pub task: usize,
    pub min_lag: Minutes,
    pub max_lag: Option<Minutes>,
}

#[derive(Clone, Debug, Default, PartialEq)]
pub struct Job {
    pub id: String,
    pub due: Option<Minutes>,
    /// Cost of one minute late. At least 1.
    pub weight: i64,
    pub release: Minutes,
}

#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Until {
    #[default]
    End,
    Start,
}

/// `qty` of a resource is occupied from the start of one task to the end (or start) of another, by the wall clock.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Hold {
    pub resource: usize,
    /// `None`: already held when the plan begins (its opening card is done). A task with `fixed_start` also opens a started hold.
    pub from: Option<usize>,
    pub to: usize,
    pub qty: u32,
    pub until: Until,
}

impl Resource {
    pub fn people(id: impl Into<String>, capacity: u32) -> Self {
        Self { id: id.into(), kind: Kind::People, capacity, wall: false, availability: Vec::new() }
    }
    pub fn equipment(id: impl Into<String>, capacity: u32) -> Self {
        Self { id: id.into(), kind: Kind::Equipment, capacity, wall: true, availability: Vec::new() }
    }
    /// One vehicle's place (or the room to work inside it): one user at a time.
    pub fn place(id: impl Into<String>) -> Self {
        Self { id: id.into(), kind: Kind::Place, capacity: 1, wall: true, availability: Vec::new() }
    }
}

impl Task {
    pub fn new(id: impl Into<String>, duration: Minutes) -> Self {
        Self { id: id.into(), duration, ..Self::default() }
    }
}

impl Successor {
    pub fn after(task: usize) -> Self {
        Self { task, min_lag: 0, max_lag: None }
    }
}

/// Why a problem cannot be planned. Each says one thing a person can act on.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum PlanError {
    UnknownIndex {
        what: &'static str,
        owner: String,
        index: usize,
    },
    DuplicateId {
        what: &'static str,
        id: String,
    },
    NegativeDuration {
        task: String,
    },
    NegativeLag {
        task: String,
        successor: String,
    },
    TooFar {
        owner: String,
    },
    /// The resource never has as much as the task or hold wants.
    DemandOverCapacity {
        owner: String,
        resource: String,
        wanted: u32,
        capacity: u32,
    },
    /// Precedence goes round in a circle through these tasks.
    Cycle {
        tasks: Vec<String>,
    },
    BadCalendar {
        calendar: usize,
    },
    BadAvailability {
        resource: String,
    },
    /// A hold whose closing task comes before its opening one.
    HoldReversed {
        resource: String,
        from: String,
        to: String,
    },
    BadWeight {
        job: String,
    },
    /// These tasks wait for resources that started holds keep for each other: people must free something by hand.
    PhysicalDeadlock {
        tasks: Vec<String>,
        resources: Vec<String>,
    },
    /// Started work contradicts itself; raised only by strict reading, the shop's facts are planned around.
    FixedConflict {
        detail: String,
    },
    /// The text is not an instance.
    Format {
        detail: String,
    },
}

impl fmt::Display for PlanError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::UnknownIndex { what, owner, index } => {
                write!(f, "{owner} names {what} number {index}, which does not exist")
            }
            Self::DuplicateId { what, id } => write!(f, "two {what}s are called {id}"),
            Self::NegativeDuration { task } => write!(f, "task {task} has a negative duration"),
            Self::NegativeLag { task, successor } => {
                write!(f, "the lag from {task} to {successor} is negative")
            }
            Self::TooFar { owner } => write!(f, "{owner} has a time too far from the origin to plan with"),
            Self::DemandOverCapacity { owner, resource, wanted, capacity } => {
                write!(f, "{owner} needs {wanted} of {resource}, which never has more than {capacity}")
            }
            Self::Cycle { tasks } => {
                write!(f, "these tasks wait for each other in a circle: {}", tasks.join(", "))
            }
            Self::BadCalendar { calendar } => {
                write!(f, "calendar {calendar} has intervals that are empty, overlap or are out of order")
            }
            Self::BadAvailability { resource } => {
                write!(f, "the availability of {resource} is empty somewhere, overlaps or is out of order")
            }
            Self::HoldReversed { resource, from, to } => {
                write!(f, "the hold of {resource} ends with {to}, which comes before {from}")
            }
            Self::BadWeight { job } => write!(f, "job {job} needs a weight between 0 and 1000000"),
            Self::PhysicalDeadlock { tasks, resources } => write!(
                f,
                "what has started blocks itself: {} wait for {}, held by each other",
                tasks.join(", "),
                resources.join(", ")
            ),
            Self::FixedConflict { detail } => write!(f, "started work contradicts itself: {detail}"),
            Self::Format { detail } => write!(f, "this is not a planning instance: {detail}"),
        }
    }
}

impl std::error::Error for PlanError {}
