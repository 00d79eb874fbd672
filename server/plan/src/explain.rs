//! Why not earlier: the reason of each placement, the chain behind a late job, and what putting something first would cost.
//!
//! Invariant: reasons are read off the finished plan (everything else stays, this one task tries to start earlier), so they are
//! true of the plan people see, however the search found it.

use crate::decode::Decoder;
use crate::model::Model;
use crate::problem::{Kind, Minutes, Problem, Until};
use crate::solve::Solution;
use crate::{NONE, Time};

/// What kept a task from being earlier. `holders` are task indexes: what occupies the resource right before;
/// for a hold, the task that ends it. Without holders nobody, or nothing of the resource, is there then (shift,
/// out of service).
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Binding {
    /// It starts as early as anything can.
    Nothing,
    /// A task that must come before it ends then.
    Predecessor {
        /// Which task.
        task: usize,
        /// Minutes that must pass between them.
        lag: Minutes,
    },
    /// Nobody of this resource is free.
    People {
        /// Which resource.
        resource: usize,
        /// Who has them.
        holders: Vec<usize>,
    },
    /// Nothing of this resource is free.
    Equipment {
        /// Which resource.
        resource: usize,
        /// What has it.
        holders: Vec<usize>,
    },
    /// Something else goes on at the same vehicle.
    Place {
        /// Which resource.
        resource: usize,
        /// What goes on there.
        holders: Vec<usize>,
    },
    /// Its working time begins then; `after` is the predecessor it has been waiting for, if any.
    Calendar {
        /// The predecessor it has waited for, if any.
        after: Option<usize>,
    },
    /// Its own release, or its job's.
    Release,
    /// It waits so that what it opens, or what must follow in time, fits in one piece.
    Hold {
        /// The resource that would be held; none: a longest lag is what must fit.
        resource: Option<usize>,
        /// What has that resource.
        holders: Vec<usize>,
    },
    /// It has started.
    Frozen,
    /// Nothing keeps it: it stays where people have been shown it.
    Kept,
    /// A task that was put first has what this one needs.
    PutFirst {
        /// The resource both need.
        resource: usize,
        /// The task that was put first.
        task: usize,
    },
}

/// One step of the story behind a late job.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Link {
    /// Which task.
    pub task: usize,
    /// What kept it.
    pub binding: Binding,
}

struct Use {
    from: Time,
    to: Time,
    task: u32,
}

/// Reasons for all tasks of a finished plan. The decoder is only borrowed for its profiles.
pub(crate) fn bindings(
    p: &Problem,
    m: &Model,
    d: &mut Decoder<'_>,
    start: &[Time],
    end: &[Time],
) -> Vec<Binding> {
    d.load(start, end);
    let mut uses: Vec<Vec<Use>> = (0..p.resources.len()).map(|_| Vec::new()).collect();
    for t in 0..m.tasks {
        for x in m.needs.row(t) {
            uses[x.res as usize].push(Use { from: start[t], to: end[t], task: t as u32 });
        }
    }
    for h in &p.holds {
        let from = h.from.map_or(Time::MIN, |f| start[f]);
        let to = if h.until == Until::End { end[h.to] } else { start[h.to] };
        uses[h.resource].push(Use { from, to, task: h.to as u32 });
    }
    let mut fixed_preds: Vec<Vec<(u32, Time)>> = vec![Vec::new(); m.tasks];
    for (i, k) in p.tasks.iter().enumerate().filter(|(i, _)| m.fixed[*i]) {
        for s in &k.successors {
            fixed_preds[s.task].push((i as u32, s.min_lag as Time));
        }
    }
    (0..m.tasks).map(|t| reason(p, m, d, t, &uses, &fixed_preds[t])).collect()
}

fn reason(
    p: &Problem,
    m: &Model,
    d: &mut Decoder<'_>,
    t: usize,
    uses: &[Vec<Use>],
    fixed_preds: &[(u32, Time)],
) -> Binding {
    if m.fixed[t] {
        return Binding::Frozen;
    }
    let s = d.start[t];
    let preds = m.preds.row(t).iter().map(|a| (a.task, a.lag)).chain(fixed_preds.iter().copied());
    let last = preds
        .map(|(q, lag)| (d.end[q as usize] + lag, q, lag))
        .max_by_key(|&(at, q, _)| (at, std::cmp::Reverse(q)));
    let from = d.earliest_by_preds(t as u32);
    let by_pred = last.filter(|&(at, ..)| at >= from);
    if s <= from {
        return match by_pred {
            Some((_, q, lag)) => Binding::Predecessor { task: q as usize, lag: Minutes::from(lag) },
            None if Minutes::from(s) <= p.now => Binding::Nothing,
            None => Binding::Release,
        };
    }
    // The last clash before the start, of anything it needs or opens, with its own use taken away.
    d.take_all(t as u32, -1);
    let mut worst: Option<(Time, u32)> = None;
    let wants = m.needs.row(t).iter().filter(|_| m.dur[t] > 0).map(|x| (x.res, x.qty));
    let wants = wants.chain(m.opens.row(t).iter().map(|h| (h.res, h.qty)));
    for (res, qty) in wants {
        let mut at = from;
        while let Some((_, until)) = d.profiles[res as usize].conflict(at, s, qty) {
            if worst.is_none_or(|(w, _)| until > w) {
                worst = Some((until, res));
            }
            at = until;
        }
    }
    d.take_all(t as u32, 1);
    let aligned = |x: Time| match m.cal[t] {
        NONE => x,
        _ if m.dur[t] == 0 => x,
        c if m.one_go[t] => m.calendars[c as usize].next_one_go(x, m.dur[t]),
        c => m.calendars[c as usize].next(x),
    };
    let Some((until, res)) = worst.filter(|&(w, _)| aligned(w.min(s)) >= s) else {
        if aligned(from) >= s {
            return Binding::Calendar { after: by_pred.map(|(_, q, _)| q as usize) };
        }
        return match m.opens.row(t).first() {
            Some(h) => Binding::Hold { resource: Some(h.res as usize), holders: Vec::new() },
            None if tied(m, t) => Binding::Hold { resource: None, holders: Vec::new() },
            None => Binding::Kept,
        };
    };
    let at = until.min(s) - 1;
    let r = res as usize;
    let mut holders: Vec<usize> = uses[r]
        .iter()
        .filter(|u| u.from <= at && at < u.to && u.task as usize != t)
        .map(|u| u.task as usize)
        .collect();
    holders.sort_unstable();
    holders.dedup();
    if !p.tasks[t].priority
        && let Some(&first) = holders.iter().find(|&&h| p.tasks[h].priority && !m.fixed[h])
    {
        return Binding::PutFirst { resource: r, task: first };
    }
    match p.resources[r].kind {
        Kind::People => Binding::People { resource: r, holders },
        Kind::Equipment => Binding::Equipment { resource: r, holders },
        Kind::Place => Binding::Place { resource: r, holders },
    }
}

/// Part of a unit that is planned as one: what must follow in time may hold it back.
fn tied(m: &Model, t: usize) -> bool {
    m.members.row(m.unit_of[t] as usize).len() > 1
}

/// From the last task of a job back through what kept each one from being earlier.
pub fn chain(p: &Problem, s: &Solution, job: usize) -> Vec<Link> {
    let own = (0..p.tasks.len()).filter(|&t| p.tasks[t].job == Some(job));
    let Some(mut t) = own.max_by_key(|&t| (s.ends[t], std::cmp::Reverse(t))) else { return Vec::new() };
    let mut links: Vec<Link> = Vec::new();
    loop {
        let binding = s.bindings[t].clone();
        let next = match &binding {
            Binding::Predecessor { task, .. } | Binding::PutFirst { task, .. } => Some(*task),
            Binding::Calendar { after } => *after,
            Binding::People { holders, .. }
            | Binding::Equipment { holders, .. }
            | Binding::Place { holders, .. }
            | Binding::Hold { holders, .. } => {
                // The one that gave it free: it ends last before this start.
                let free = |&&h: &&usize| s.ends[h] <= s.starts[t];
                let last = |&&h: &&usize| (s.ends[h], std::cmp::Reverse(h));
                holders
                    .iter()
                    .filter(free)
                    .max_by_key(last)
                    .or_else(|| holders.iter().min_by_key(last))
                    .copied()
            }
            Binding::Nothing | Binding::Release | Binding::Frozen | Binding::Kept => None,
        };
        links.push(Link { task: t, binding });
        match next {
            Some(n) if !links.iter().any(|l| l.task == n) => t = n,
            _ => return links,
        }
    }
}
