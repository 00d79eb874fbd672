//! The portable instance: one JSON text, no calendars, and the schedule that answers it.
//!
//! Invariant: reading is strict: what the referee would refuse in any schedule is refused here, with the reason.

use std::collections::BTreeMap;

use serde::Deserialize;
use serde_json::{Map, Value, json};

use crate::problem::{
    Demand, Hold, Job, Kind, Minutes, Objective, PlanError, Problem, Resource, Successor, Task, Until,
};
use crate::solve::Solution;

/// An instance as read: the problem and what its file says beside it.
#[derive(Clone, Debug)]
pub struct Instance {
    /// What the file calls it; may be empty.
    pub name: String,
    /// The family of instances it belongs to; may be empty.
    pub class: String,
    /// The best objective value anybody has found, if the file says so.
    pub best_known: Option<i64>,
    /// A proven bound of the objective, if the file says so.
    pub lower_bound: Option<i64>,
    /// The problem itself.
    pub problem: Problem,
}

#[derive(Deserialize)]
struct File {
    #[serde(default)]
    name: String,
    #[serde(default)]
    class: String,
    resources: Vec<FileResource>,
    tasks: Vec<FileTask>,
    #[serde(default)]
    jobs: Option<Vec<FileJob>>,
    #[serde(default)]
    holds: Option<Vec<FileHold>>,
    objective: String,
    #[serde(default)]
    best_known: Option<i64>,
    #[serde(default)]
    lower_bound: Option<i64>,
}

#[derive(Deserialize)]
struct FileResource {
    id: String,
    capacity: i64,
}

#[derive(Deserialize)]
struct FileTask {
    id: String,
    duration: i64,
    #[serde(default)]
    demands: BTreeMap<String, i64>,
    #[serde(default)]
    successors: Vec<FileSuccessor>,
    #[serde(default)]
    job: Option<String>,
    #[serde(default)]
    fixed_start: Option<i64>,
}

#[derive(Deserialize)]
struct FileSuccessor {
    id: String,
    #[serde(default)]
    min_lag: Option<i64>,
}

#[derive(Deserialize)]
struct FileJob {
    id: String,
    #[serde(default)]
    due: Option<i64>,
    #[serde(default)]
    weight: Option<i64>,
    #[serde(default)]
    release: Option<i64>,
}

#[derive(Deserialize)]
struct FileHold {
    resource: String,
    from_task: String,
    to_task: String,
    #[serde(default)]
    qty: Option<i64>,
    #[serde(default)]
    until: Option<String>,
}

fn bad(detail: impl Into<String>) -> PlanError {
    PlanError::Format { detail: detail.into() }
}

/// Ids of one kind to indexes, refusing doubles.
fn index<'a>(
    what: &'static str,
    ids: impl Iterator<Item = &'a str>,
) -> Result<BTreeMap<&'a str, usize>, PlanError> {
    let mut map = BTreeMap::new();
    for (i, id) in ids.enumerate() {
        if map.insert(id, i).is_some() {
            return Err(PlanError::DuplicateId { what, id: id.to_owned() });
        }
    }
    Ok(map)
}

fn find(map: &BTreeMap<&str, usize>, what: &str, id: &str, owner: &str) -> Result<usize, PlanError> {
    map.get(id).copied().ok_or_else(|| bad(format!("{owner} names the {what} {id}, which does not exist")))
}

fn quantity(q: i64, owner: &str) -> Result<u32, PlanError> {
    u32::try_from(q)
        .ok()
        .filter(|&q| q <= 1 << 20)
        .ok_or_else(|| bad(format!("{owner} has the quantity {q}")))
}

/// Reads one instance.
pub fn read(text: &str) -> Result<Instance, PlanError> {
    let f: File = serde_json::from_str(text).map_err(|e| bad(e.to_string()))?;
    let objective = match f.objective.as_str() {
        "makespan" => Objective::Makespan,
        "weighted_tardiness" => Objective::WeightedTardiness,
        other => {
            return Err(bad(format!("the objective {other} is neither makespan nor weighted_tardiness")));
        }
    };
    let jobs = f.jobs.unwrap_or_default();
    let holds = f.holds.unwrap_or_default();
    let resource_of = index("resource", f.resources.iter().map(|r| r.id.as_str()))?;
    let task_of = index("task", f.tasks.iter().map(|t| t.id.as_str()))?;
    let job_of = index("job", jobs.iter().map(|j| j.id.as_str()))?;
    let mut p = Problem { objective, ..Problem::default() };
    for r in &f.resources {
        let capacity = quantity(r.capacity, &format!("resource {}", r.id))?;
        // The format has no kinds; the names of its shops do, and only the words of a reason depend on it.
        let place = r.id.starts_with("place:") || r.id.starts_with("work:");
        let kind = if place { Kind::Place } else { Kind::People };
        p.resources.push(Resource { id: r.id.clone(), kind, capacity, wall: true, availability: Vec::new() });
    }
    for h in &holds {
        let r = find(&resource_of, "resource", &h.resource, "a hold")?;
        if p.resources[r].kind == Kind::People {
            p.resources[r].kind = Kind::Equipment;
        }
    }
    for j in &jobs {
        let release = j.release.unwrap_or(0);
        p.jobs.push(Job { id: j.id.clone(), due: j.due, weight: j.weight.unwrap_or(1), release });
    }
    for t in &f.tasks {
        let owner = format!("task {}", t.id);
        let mut task = Task { fixed_start: t.fixed_start, ..Task::new(t.id.clone(), t.duration) };
        for (r, &q) in &t.demands {
            let qty = quantity(q, &owner)?;
            task.demands.push(Demand { resource: find(&resource_of, "resource", r, &owner)?, qty });
        }
        for s in &t.successors {
            let to = find(&task_of, "task", &s.id, &owner)?;
            task.successors.push(Successor { task: to, min_lag: s.min_lag.unwrap_or(0), max_lag: None });
        }
        if let Some(j) = &t.job {
            task.job = Some(find(&job_of, "job", j, &owner)?);
        }
        p.tasks.push(task);
    }
    for h in &holds {
        let owner = format!("the hold of {}", h.resource);
        let until = match h.until.as_deref() {
            None | Some("end") => Until::End,
            Some("start") => Until::Start,
            Some(other) => {
                return Err(bad(format!("{owner} lasts until {other}, which is neither end nor start")));
            }
        };
        p.holds.push(Hold {
            resource: find(&resource_of, "resource", &h.resource, &owner)?,
            from: Some(find(&task_of, "task", &h.from_task, &owner)?),
            to: find(&task_of, "task", &h.to_task, &owner)?,
            qty: quantity(h.qty.unwrap_or(1), &owner)?,
            until,
        });
    }
    check_fixed(&p)?;
    Ok(Instance {
        name: f.name,
        class: f.class,
        best_known: f.best_known,
        lower_bound: f.lower_bound,
        problem: p,
    })
}

/// Started work must not break the rules that the referee holds it to.
fn check_fixed(p: &Problem) -> Result<(), PlanError> {
    let conflict = |detail: String| Err(PlanError::FixedConflict { detail });
    let mut changes: Vec<(usize, Minutes, i64)> = Vec::new();
    for t in &p.tasks {
        let Some(s) = t.fixed_start else { continue };
        if s < 0 {
            return conflict(format!("task {} is fixed before the origin", t.id));
        }
        for d in &t.demands {
            changes.push((d.resource, s, i64::from(d.qty)));
            changes.push((d.resource, s.saturating_add(t.duration.max(0)), -i64::from(d.qty)));
        }
        for x in &t.successors {
            let next = &p.tasks[x.task];
            if next.fixed_start.is_some_and(|n| n < s.saturating_add(t.duration).saturating_add(x.min_lag)) {
                return conflict(format!(
                    "task {} is fixed before its predecessor {} has ended",
                    next.id, t.id
                ));
            }
        }
    }
    for t in p.tasks.iter().filter(|t| t.fixed_start.is_none()) {
        if let Some(n) = t.successors.iter().map(|s| &p.tasks[s.task]).find(|n| n.fixed_start.is_some()) {
            return conflict(format!("task {} has started, its predecessor {} has not", n.id, t.id));
        }
    }
    for h in &p.holds {
        let (Some(from), to) = (h.from.and_then(|f| p.tasks[f].fixed_start), &p.tasks[h.to]) else {
            continue;
        };
        let end = match (to.fixed_start, h.until) {
            (Some(s), Until::End) => s.saturating_add(to.duration),
            (Some(s), Until::Start) => s,
            // It lasts at least a moment; how long is the plan's affair.
            (None, _) => from.saturating_add(1),
        };
        changes.push((h.resource, from, i64::from(h.qty)));
        changes.push((h.resource, end, -i64::from(h.qty)));
    }
    changes.sort_by_key(|&(r, at, q)| (r, at, q));
    let mut level = 0;
    let mut last = usize::MAX;
    for (r, at, q) in changes {
        level = if r == last { level + q } else { q };
        last = r;
        if level > i64::from(p.resources[r].capacity) {
            return conflict(format!("{} is taken {level} times at {at}", p.resources[r].id));
        }
    }
    Ok(())
}

/// What `turnbuckle plan` prints. The shell measures the time.
pub fn answer(p: &Problem, s: &Solution, elapsed_ms: u64, with_trace: bool) -> Value {
    let starts: Map<String, Value> =
        p.tasks.iter().zip(&s.starts).map(|(t, &at)| (t.id.clone(), Value::from(at))).collect();
    let mut out = json!({
        "starts": starts,
        "objective": s.objective,
        "decodes": s.decodes,
        "elapsed_ms": elapsed_ms,
        "hash": s.hash,
    });
    if with_trace {
        out["trace"] = s
            .trace
            .iter()
            .map(|t| json!({ "decodes": t.decodes, "objective": t.score.primary, "flow": t.score.flow }))
            .collect();
    }
    out
}
