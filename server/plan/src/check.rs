//! What can be said about a problem before it is planned: either it is refused here, or it has a plan.
//!
//! Invariants: no number goes beyond what fits (`FARTHEST_MINUTES`), no index beyond its list, and no demand
//! beyond what there is of a resource.

use crate::problem::{FARTHEST_MINUTES, Minutes, PlanError, Problem};

/// Every check that can be made before planning.
pub(crate) fn check(p: &Problem) -> Result<(), PlanError> {
    let far = |m: Minutes| m.abs() > FARTHEST_MINUTES;
    let too_far = |owner: &str| PlanError::TooFar { owner: owner.to_owned() };
    if far(p.now) {
        return Err(too_far("now"));
    }
    for (i, c) in p.calendars.iter().enumerate() {
        if c.open.iter().any(|&(a, b)| a >= b) || c.open.windows(2).any(|w| w[0].1 > w[1].0) {
            return Err(PlanError::BadCalendar { calendar: i });
        }
        if c.open.iter().any(|&(a, b)| far(a) || far(b)) {
            return Err(too_far(&format!("calendar {i}")));
        }
    }
    for r in &p.resources {
        if r.availability.iter().any(|s| s.from >= s.to)
            || r.availability.windows(2).any(|w| w[0].to > w[1].from)
        {
            return Err(PlanError::BadAvailability { resource: r.id.clone() });
        }
        if r.availability.iter().any(|s| far(s.from) || far(s.to)) || r.capacity > 1 << 20 {
            return Err(too_far(&format!("resource {}", r.id)));
        }
    }
    for j in &p.jobs {
        if !(0..=1_000_000).contains(&j.weight) {
            return Err(PlanError::BadWeight { job: j.id.clone() });
        }
        if j.due.is_some_and(far) || far(j.release) {
            return Err(too_far(&format!("job {}", j.id)));
        }
    }
    let unknown =
        |what, owner: &str, index| Err(PlanError::UnknownIndex { what, owner: owner.to_owned(), index });
    let mut total: Minutes = 0;
    for k in &p.tasks {
        if k.duration < 0 {
            return Err(PlanError::NegativeDuration { task: k.id.clone() });
        }
        let owner = || format!("task {}", k.id);
        if far(k.duration) || k.release.is_some_and(far) || k.fixed_start.is_some_and(far) {
            return Err(too_far(&owner()));
        }
        total = total.saturating_add(k.duration);
        if let Some(c) = k.calendar.filter(|&c| c >= p.calendars.len()) {
            return unknown("calendar", &owner(), c);
        }
        if let Some(j) = k.job.filter(|&j| j >= p.jobs.len()) {
            return unknown("job", &owner(), j);
        }
        for d in &k.demands {
            if d.resource >= p.resources.len() {
                return unknown("resource", &owner(), d.resource);
            }
            let same: u32 = k.demands.iter().filter(|x| x.resource == d.resource).map(|x| x.qty).sum();
            enough(p, d.resource, same, owner)?;
        }
        for s in &k.successors {
            if s.task >= p.tasks.len() {
                return unknown("task", &owner(), s.task);
            }
            if s.min_lag < 0 || s.max_lag.is_some_and(|m| m < 0) {
                return Err(PlanError::NegativeLag {
                    task: k.id.clone(),
                    successor: p.tasks[s.task].id.clone(),
                });
            }
            if far(s.min_lag) || s.max_lag.is_some_and(far) {
                return Err(too_far(&owner()));
            }
            total = total.saturating_add(s.min_lag);
        }
    }
    if total > FARTHEST_MINUTES {
        return Err(too_far("the sum of all work"));
    }
    for h in &p.holds {
        let owner = || format!("hold until {}", p.tasks.get(h.to).map_or("?", |k| k.id.as_str()));
        if h.resource >= p.resources.len() {
            return unknown("resource", &owner(), h.resource);
        }
        for i in h.from.iter().chain([&h.to]) {
            if *i >= p.tasks.len() {
                return unknown("task", "a hold", *i);
            }
        }
        enough(p, h.resource, h.qty, owner)?;
    }
    Ok(())
}

/// Whether there ever is this much of a resource.
pub(crate) fn enough(
    p: &Problem,
    resource: usize,
    wanted: u32,
    owner: impl Fn() -> String,
) -> Result<(), PlanError> {
    let r = &p.resources[resource];
    if wanted > r.capacity {
        return Err(PlanError::DemandOverCapacity {
            owner: owner(),
            resource: r.id.clone(),
            wanted,
            capacity: r.capacity,
        });
    }
    Ok(())
}
