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

/// What is to be planned.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Problem {
    /// Nothing that has not started may be planned before this minute.
    pub now: Minutes,
    /// Who and what does the work.
    pub resources: Vec<Resource>,
    /// When work goes on.
    pub calendars: Vec<Calendar>,
    /// The work.
    pub tasks: Vec<Task>,
    /// What tasks belong to, with due dates.
    pub jobs: Vec<Job>,
    /// Resources that stay occupied from one task to another.
    pub holds: Vec<Hold>,
    /// What is made small.
    pub objective: Objective,
    /// Price of one minute past a `max_lag`, in the unit of weighted tardiness (weight × minutes).
    pub max_lag_price: i64,
}

/// What is made small.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Objective {
    /// The time at which everything is done.
    Makespan,
    /// Minutes after due dates, each times the job's weight.
    #[default]
    WeightedTardiness,
}

/// What a resource is; decides the words of a reason, not the arithmetic.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub enum Kind {
    /// People of a department.
    #[default]
    People,
    /// Pieces of a kind of equipment.
    Equipment,
    /// Room at one vehicle: the vehicle itself, or the inside of an open one.
    Place,
}

/// Something tasks need a number of while they run.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Resource {
    /// Label for output; must be unique.
    pub id: String,
    /// What it is.
    pub kind: Kind,
    /// How many units there are, where `availability` says nothing else.
    pub capacity: u32,
    /// Occupied by the wall clock: a resumable task keeps it through breaks and nights. People are not.
    pub wall: bool,
    /// Exceptions to `capacity`: sorted, not overlapping. Outside of them `capacity` holds.
    pub availability: Vec<Step>,
}

/// From minute `from` up to (not including) `to` there are `capacity` units.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Step {
    /// First minute.
    pub from: Minutes,
    /// Minute after the last.
    pub to: Minutes,
    /// Units that are there.
    pub capacity: u32,
}

/// Working intervals, sorted and not overlapping. After the last one every minute counts as working time, so that every task
/// ends somewhere: give intervals for longer than the plan will reach.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Calendar {
    /// Intervals, each from its first minute up to, not including, its end.
    pub open: Vec<(Minutes, Minutes)>,
}

/// One piece of work.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Task {
    /// Label for output; must be unique.
    pub id: String,
    /// Working minutes of the calendar, or plain minutes without one. For started work: what remains.
    pub duration: Minutes,
    /// Index of its calendar; none: it runs by the wall clock.
    pub calendar: Option<usize>,
    /// Must fit into one working interval; otherwise it may be broken off and resumed.
    pub one_go: bool,
    /// What it needs while it runs.
    pub demands: Vec<Demand>,
    /// What may only begin after it.
    pub successors: Vec<Successor>,
    /// Index of its job; none: it belongs to none.
    pub job: Option<usize>,
    /// Not before this minute (parts due, approval expected), beside the job's own release.
    pub release: Option<Minutes>,
    /// Started work: it stays at this minute, whatever else the problem says.
    pub fixed_start: Option<Minutes>,
    /// Put first: goes before others in every list, with what it needs.
    pub priority: bool,
    /// Keeps its turn among the sticky ones of the previous plan, before all that is not sticky.
    pub sticky: bool,
}

/// So much of a resource.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Demand {
    /// Index of the resource.
    pub resource: usize,
    /// How many units.
    pub qty: u32,
}

/// start(task) ≥ end + `min_lag`, by the wall clock; past `max_lag` every minute has its price.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Successor {
    /// Index of the task that comes after.
    pub task: usize,
    /// Minutes by the wall clock that must pass in between.
    pub min_lag: Minutes,
    /// Minutes by the wall clock after which it costs; none: never.
    pub max_lag: Option<Minutes>,
}

/// Tasks that are complete together.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Job {
    /// Label for output; must be unique.
    pub id: String,
    /// When it should be complete; none: whenever.
    pub due: Option<Minutes>,
    /// Cost of one minute late. At least 1.
    pub weight: i64,
    /// None of its tasks starts before this minute.
    pub release: Minutes,
}

/// Where in its last task a hold ends.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Until {
    /// When that task ends.
    #[default]
    End,
    /// When that task starts.
    Start,
}

/// `qty` of a resource is occupied from the start of one task to the end (or start) of another, by the wall clock.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Hold {
    /// Index of the resource.
    pub resource: usize,
    /// `None`: already held when the plan begins (its opening card is done). A task with `fixed_start` also opens a started hold.
    pub from: Option<usize>,
    /// Index of the task that ends it.
    pub to: usize,
    /// How many units.
    pub qty: u32,
    /// Where in that task it ends.
    pub until: Until,
}

impl Resource {
    /// People of a department.
    pub fn people(id: impl Into<String>, capacity: u32) -> Self {
        Self { id: id.into(), kind: Kind::People, capacity, wall: false, availability: Vec::new() }
    }
    /// Pieces of a kind of equipment.
    pub fn equipment(id: impl Into<String>, capacity: u32) -> Self {
        Self { id: id.into(), kind: Kind::Equipment, capacity, wall: true, availability: Vec::new() }
    }
    /// One vehicle's place (or the room to work inside it): one user at a time.
    pub fn place(id: impl Into<String>) -> Self {
        Self { id: id.into(), kind: Kind::Place, capacity: 1, wall: true, availability: Vec::new() }
    }
}

impl Task {
    /// A task that needs nothing and waits for nothing.
    pub fn new(id: impl Into<String>, duration: Minutes) -> Self {
        Self { id: id.into(), duration, ..Self::default() }
    }
}

impl Successor {
    /// Directly after, without any lag.
    pub fn after(task: usize) -> Self {
        Self { task, min_lag: 0, max_lag: None }
    }
}

/// Why a problem cannot be planned. Each says one thing a person can act on.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum PlanError {
    /// An index points at nothing.
    UnknownIndex {
        /// The kind of thing it should be.
        what: &'static str,
        /// What has the index.
        owner: String,
        /// The index.
        index: usize,
    },
    /// Two things of a kind have one label.
    DuplicateId {
        /// The kind.
        what: &'static str,
        /// The label.
        id: String,
    },
    /// A task would end before it starts.
    NegativeDuration {
        /// Which task.
        task: String,
    },
    /// A lag would let a successor start before its predecessor ends.
    NegativeLag {
        /// The predecessor.
        task: String,
        /// The successor.
        successor: String,
    },
    /// A time is further off than [`FARTHEST_MINUTES`].
    TooFar {
        /// What has that time.
        owner: String,
    },
    /// The resource never has as much as the task or hold wants.
    DemandOverCapacity {
        /// Which task or hold.
        owner: String,
        /// Which resource.
        resource: String,
        /// Units it needs.
        wanted: u32,
        /// The most units there ever are.
        capacity: u32,
    },
    /// Precedence goes round in a circle through these tasks.
    Cycle {
        /// The circle.
        tasks: Vec<String>,
    },
    /// Intervals are empty, overlap or are out of order.
    BadCalendar {
        /// Index of the calendar.
        calendar: usize,
    },
    /// Exceptions to a capacity are empty, overlap or are out of order.
    BadAvailability {
        /// Which resource.
        resource: String,
    },
    /// A hold whose closing task comes before its opening one.
    HoldReversed {
        /// What is held.
        resource: String,
        /// The task that begins the hold.
        from: String,
        /// The task that ends it.
        to: String,
    },
    /// A weight is out of range.
    BadWeight {
        /// Which job.
        job: String,
    },
    /// These tasks wait for resources that started holds keep for each other: people must free something by hand.
    PhysicalDeadlock {
        /// The tasks that cannot go on.
        tasks: Vec<String>,
        /// What they wait for.
        resources: Vec<String>,
    },
    /// Started work contradicts itself; raised only by strict reading, the shop's facts are planned around.
    FixedConflict {
        /// What contradicts what.
        detail: String,
    },
    /// The text is not an instance.
    Format {
        /// What was expected where.
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
