//! Tabu search on the disjunctive graph, for problems in which every task needs at most one resource of which there is one.
//!
//! Invariants: the machine sequences with precedence never form a circle (a move that would is taken back); a result counts only
//! after the list decoder has built it, so nothing here can make a plan that is not allowed.
//! Neighbourhood: moves to and over the ends of critical blocks (Balas & Vazacopoulos 1998; Zhang et al. 2007), estimated for
//! by new heads and tails of the moved stretch. Makespan only: with dates, annealed lists do better in the same time.

use crate::model::Model;
use crate::rng::Rng;
use crate::{NONE, Time};

pub(crate) struct JobShop<'m> {
    m: &'m Model,
    machine: Vec<u32>,
    seq: Vec<Vec<u32>>,
    at: Vec<u32>,
    head: Vec<Time>,
    tail: Vec<Time>,
    topo: Vec<u32>,
    waits: Vec<u32>,
    tabu: Vec<u32>,
    turn: u32,
    moves: Vec<Move>,
    path: Vec<u32>,
    new_head: Vec<Time>,
    new_tail: Vec<Time>,
    jobs: usize,
    pub cost: i64,
}

/// On one machine, the task at `from` goes to `to`; what lies between moves by one.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Move {
    machine: u32,
    from: u32,
    to: u32,
}

/// The tabu list is a matrix; larger shops are searched by lists.
const MOST_TASKS: usize = 2_500;
/// Turns without a better plan before another start is tried.
const PATIENCE: u32 = 4_000;
/// Plans kept to start from.
const ELITE: usize = 6;

impl<'m> JobShop<'m> {
    /// None if the problem has another shape.
    pub(crate) fn new(m: &'m Model) -> Option<Self> {
        let plain = m.makespan
            && m.units == m.tasks
            && m.tasks <= MOST_TASKS
            && m.softs.is_empty()
            && !m.any_started_hold
            && m.class.iter().all(|&c| c == 2)
            && m.cal.iter().all(|&c| c == NONE)
            && m.base.iter().all(|p| p.is_flat())
            && (0..m.tasks).all(|t| m.opens.row(t).is_empty() && m.needs.row(t).len() <= 1)
            && (0..m.tasks).all(|t| m.needs.row(t).iter().all(|x| m.single[x.res as usize]));
        if !plain || m.tasks < 2 {
            return None;
        }
        let n = m.tasks;
        let machine =
            (0..n).map(|t| if m.dur[t] == 0 { NONE } else { m.needs.row(t).first().map_or(NONE, |x| x.res) });
        Some(Self {
            m,
            machine: machine.collect(),
            seq: vec![Vec::new(); m.base.len()],
            at: vec![0; n],
            head: vec![0; n],
            tail: vec![0; n],
            topo: Vec::with_capacity(n),
            waits: vec![0; n],
            tabu: vec![0; n * n],
            turn: 0,
            moves: Vec::new(),
            path: Vec::new(),
            new_head: vec![0; n],
            new_tail: vec![0; n],
            jobs: m.weight.len().max(1),
            cost: 0,
        })
    }

    /// Takes the machine sequences of a plan.
    pub(crate) fn load(&mut self, start: &[Time], order: &[u32]) {
        let mut place = vec![0usize; self.m.tasks];
        for (i, &u) in order.iter().enumerate() {
            place[self.m.members.row(u as usize)[0] as usize] = i;
        }
        self.seq.iter_mut().for_each(Vec::clear);
        for t in 0..self.m.tasks {
            if self.machine[t] != NONE {
                self.seq[self.machine[t] as usize].push(t as u32);
            }
        }
        for s in &mut self.seq {
            s.sort_by_key(|&t| (start[t as usize], place[t as usize]));
        }
        self.index_all();
        let fine = self.heads();
        debug_assert!(fine, "a feasible plan has no circle");
        self.tails();
    }

    fn index_all(&mut self) {
        for s in &self.seq {
            for (i, &t) in s.iter().enumerate() {
                self.at[t as usize] = i as u32;
            }
        }
    }

    #[inline]
    fn before(&self, t: usize) -> Option<usize> {
        let i = self.at[t] as usize;
        (self.machine[t] != NONE && i > 0).then(|| self.seq[self.machine[t] as usize][i - 1] as usize)
    }

    #[inline]
    fn after(&self, t: usize) -> Option<usize> {
        let m = self.machine[t];
        if m == NONE {
            return None;
        }
        self.seq[m as usize].get(self.at[t] as usize + 1).map(|&s| s as usize)
    }

    /// Earliest starts in topological order, and the cost. False if the sequences form a circle.
    fn heads(&mut self) -> bool {
        let m = self.m;
        self.topo.clear();
        for t in 0..m.tasks {
            let w = m.preds.row(t).len() as u32 + u32::from(self.machine[t] != NONE && self.at[t] > 0);
            self.waits[t] = w;
            self.head[t] = m.est[t];
            if w == 0 {
                self.topo.push(t as u32);
            }
        }
        let mut i = 0;
        let mut last = 0;
        while i < self.topo.len() {
            let t = self.topo[i] as usize;
            i += 1;
            let end = self.head[t] + m.dur[t];
            last = last.max(end);
            for a in m.succs.row(t) {
                let s = a.task as usize;
                self.head[s] = self.head[s].max(end + a.lag);
                self.waits[s] -= 1;
                if self.waits[s] == 0 {
                    self.topo.push(s as u32);
                }
            }
            if let Some(s) = self.after(t) {
                self.head[s] = self.head[s].max(end);
                self.waits[s] -= 1;
                if self.waits[s] == 0 {
                    self.topo.push(s as u32);
                }
            }
        }
        self.cost = i64::from(last);
        self.topo.len() == m.tasks
    }

    fn tails(&mut self) {
        let m = self.m;
        for i in (0..self.topo.len()).rev() {
            let t = self.topo[i] as usize;
            let mut q = 0;
            for a in m.succs.row(t) {
                let s = a.task as usize;
                q = q.max(a.lag + m.dur[s] + self.tail[s]);
            }
            if let Some(s) = self.after(t) {
                q = q.max(m.dur[s] + self.tail[s]);
            }
            self.tail[t] = q;
        }
    }

    fn shift(&mut self, mv: Move) {
        let s = &mut self.seq[mv.machine as usize];
        let (from, to) = (mv.from as usize, mv.to as usize);
        if from < to {
            s[from..=to].rotate_left(1);
        } else {
            s[to..=from].rotate_right(1);
        }
        for (i, &t) in s.iter().enumerate().take(from.max(to) + 1).skip(from.min(to)) {
            self.at[t as usize] = i as u32;
        }
    }

    /// One critical path into `end`, first task first. Ties by chance.
    fn critical(&mut self, end: usize, rng: &mut Rng) {
        self.path.clear();
        let mut t = end;
        loop {
            self.path.push(t as u32);
            let by_machine = self.before(t).filter(|&b| self.head[b] + self.m.dur[b] == self.head[t]);
            let by_job = self
                .m
                .preds
                .row(t)
                .iter()
                .find(|a| self.head[a.task as usize] + self.m.dur[a.task as usize] + a.lag == self.head[t])
                .map(|a| a.task as usize);
            t = match (by_machine, by_job) {
                (Some(a), Some(b)) => {
                    if rng.chance(1, 2) {
                        a
                    } else {
                        b
                    }
                }
                (Some(a), None) | (None, Some(a)) => a,
                (None, None) => break,
            };
        }
        self.path.reverse();
    }

    /// Moves on the blocks of the path: to both ends of a block, and its ends into it.
    fn block_moves(&mut self) {
        let mut i = 0;
        while i < self.path.len() {
            let machine = self.machine[self.path[i] as usize];
            let mut j = i;
            while j + 1 < self.path.len()
                && machine != NONE
                && self.machine[self.path[j + 1] as usize] == machine
            {
                j += 1;
            }
            let (first, last) = (self.at[self.path[i] as usize], self.at[self.path[j] as usize]);
            // Neighbours on the path that are not neighbours on the machine are joined by precedence, not by the block.
            if machine != NONE && j > i && (last - first) as usize == j - i {
                for k in first..last {
                    self.offer(Move { machine, from: k, to: last });
                    if k > first {
                        self.offer(Move { machine, from: first, to: k });
                    }
                }
                for k in first + 1..=last {
                    // Over one place it is the same swap as the other way round.
                    if k > first + 1 {
                        self.offer(Move { machine, from: k, to: first });
                    }
                    if k < last && last - k > 1 {
                        self.offer(Move { machine, from: last, to: k });
                    }
                }
            }
            i = j + 1;
        }
    }

    fn offer(&mut self, mv: Move) {
        if self.allowed(mv) && !self.moves.contains(&mv) {
            self.moves.push(mv);
        }
    }

    /// Enough for no circle: nothing behind the moved task is in front of where it goes.
    fn allowed(&self, mv: Move) -> bool {
        let s = &self.seq[mv.machine as usize];
        let (u, v) = (s[mv.from as usize] as usize, s[mv.to as usize] as usize);
        let m = self.m;
        if mv.from.abs_diff(mv.to) == 1 {
            return true; // neighbours on a longest path have no other path between them
        }
        if mv.from < mv.to {
            // u behind v: every successor of u must start too late to be before any task in between.
            let reach = self.head[v] + m.dur[v];
            m.succs.row(u).iter().all(|a| self.head[a.task as usize] + m.dur[a.task as usize] >= reach)
        } else {
            // u before v: every predecessor of u must not come after v.
            let reach = self.head[v];
            m.preds.row(u).iter().all(|a| self.head[a.task as usize] <= reach)
        }
    }

    fn is_tabu(&self, mv: Move) -> bool {
        let s = &self.seq[mv.machine as usize];
        let u = s[mv.from as usize] as usize;
        let n = self.m.tasks;
        if mv.from < mv.to {
            s[mv.from as usize + 1..=mv.to as usize]
                .iter()
                .any(|&x| self.tabu[x as usize * n + u] > self.turn)
        } else {
            s[mv.to as usize..mv.from as usize].iter().any(|&x| self.tabu[u * n + x as usize] > self.turn)
        }
    }

    /// The orders a move undoes may not come back for a while.
    fn forbid(&mut self, mv: Move, rng: &mut Rng) {
        let n = self.m.tasks;
        let machines = self.seq.iter().filter(|s| !s.is_empty()).count().max(1);
        let base = 10 + self.jobs / machines;
        let until = self.turn + (base + rng.below(base / 2 + 1)) as u32;
        let u = self.seq[mv.machine as usize][mv.from as usize] as usize;
        if mv.from < mv.to {
            for k in mv.from as usize + 1..=mv.to as usize {
                let x = self.seq[mv.machine as usize][k] as usize;
                self.tabu[u * n + x] = until;
            }
        } else {
            for k in mv.to as usize..mv.from as usize {
                let x = self.seq[mv.machine as usize][k] as usize;
                self.tabu[x * n + u] = until;
            }
        }
    }

    /// Longest path through the moved stretch after a move: heads and tails of the rest as they are now.
    fn estimate(&mut self, mv: Move) -> i64 {
        let m = self.m;
        let s = &self.seq[mv.machine as usize];
        let (low, high) = (mv.from.min(mv.to) as usize, mv.from.max(mv.to) as usize);
        let u = s[mv.from as usize];
        let forward = mv.from < mv.to;
        let task = |k: usize| -> usize {
            (if forward {
                if k == high { u } else { s[k + 1] }
            } else if k == low {
                u
            } else {
                s[k - 1]
            }) as usize
        };
        let mut free = if low > 0 {
            let b = s[low - 1] as usize;
            self.head[b] + m.dur[b]
        } else {
            Time::MIN / 2
        };
        for k in low..=high {
            let t = task(k);
            let mut r = m.est[t].max(free);
            for a in m.preds.row(t) {
                let p = a.task as usize;
                r = r.max(self.head[p] + m.dur[p] + a.lag);
            }
            self.new_head[t] = r;
            free = r + m.dur[t];
        }
        let mut behind = if high + 1 < s.len() {
            let a = s[high + 1] as usize;
            m.dur[a] + self.tail[a]
        } else {
            0
        };
        let mut worst = 0;
        for k in (low..=high).rev() {
            let t = task(k);
            let mut q = behind;
            for a in m.succs.row(t) {
                let x = a.task as usize;
                q = q.max(a.lag + m.dur[x] + self.tail[x]);
            }
            self.new_tail[t] = q;
            behind = q + m.dur[t];
            worst = worst.max(self.new_head[t] + m.dur[t] + q);
        }
        i64::from(worst)
    }

    fn collect(&mut self, rng: &mut Rng) {
        self.moves.clear();
        let ends = (0..self.m.tasks).filter(|&t| i64::from(self.head[t] + self.m.dur[t]) == self.cost);
        let ends: Vec<usize> = ends.collect();
        if !ends.is_empty() {
            self.critical(ends[rng.below(ends.len())], rng);
            self.block_moves();
        }
    }

    /// One step to the best neighbour that is not tabu. False if there is none at all.
    fn step(&mut self, best: i64, rng: &mut Rng) -> bool {
        self.turn += 1;
        self.collect(rng);
        if self.moves.is_empty() {
            return false;
        }
        let mut pick: Option<(i64, usize)> = None;
        let mut ties = 1;
        for k in 0..self.moves.len() {
            let mv = self.moves[k];
            let tabu = self.is_tabu(mv);
            let cost = self.estimate(mv);
            if tabu && cost >= best {
                continue;
            }
            match pick {
                Some((c, _)) if cost > c => {}
                Some((c, _)) if cost == c => {
                    ties += 1;
                    if rng.below(ties) == 0 {
                        pick = Some((cost, k));
                    }
                }
                _ => {
                    ties = 1;
                    pick = Some((cost, k));
                }
            }
        }
        let k = pick.map_or_else(|| rng.below(self.moves.len()), |(_, k)| k);
        let mv = self.moves[k];
        self.forbid(mv, rng);
        self.shift(mv);
        if !self.heads() {
            self.shift(Move { from: mv.to, to: mv.from, ..mv });
            self.heads();
        }
        self.tails();
        true
    }

    /// Searches until told to stop. `spent` is told of every pass over the graph; `found` gets every better plan as a list.
    pub(crate) fn run(
        &mut self,
        rng: &mut Rng,
        spent: &mut dyn FnMut() -> bool,
        found: &mut dyn FnMut(&[u32]),
    ) {
        let mut best = self.cost;
        let mut elite: Vec<(i64, Vec<Vec<u32>>)> = vec![(self.cost, self.seq.clone())];
        let mut idle = 0;
        let mut local = self.cost;
        let mut local_seq = self.seq.clone();
        loop {
            let moved = self.step(best, rng);
            if spent() {
                return;
            }
            if self.cost < local {
                local = self.cost;
                for (a, b) in local_seq.iter_mut().zip(&self.seq) {
                    a.clone_from(b);
                }
                idle = 0;
                if local < best {
                    best = local;
                    let order = self.list();
                    found(&order);
                }
            } else {
                idle += 1;
            }
            if moved && idle < PATIENCE {
                continue;
            }
            if !moved {
                return; // nothing critical can be exchanged: the plan is as short as its longest job or machine
            }
            // Another start: from a good plan, some way off.
            if !elite.iter().any(|(c, s)| *c == local && *s == local_seq) {
                elite.push((local, local_seq.clone()));
                elite.sort_by_key(|e| e.0);
                elite.truncate(ELITE);
            }
            let k = rng.below(elite.len()).min(rng.below(elite.len()));
            let other = rng.below(elite.len());
            self.seq.clone_from(&elite[k].1);
            self.index_all();
            self.heads();
            self.tails();
            if elite.len() > 1 && other != k && rng.chance(2, 3) {
                let goal = elite[other].1.clone();
                self.walk_towards(&goal, rng);
            } else {
                for _ in 0..6 + rng.below(10) {
                    self.stumble(rng);
                }
            }
            self.tabu.fill(0);
            self.turn = 0;
            idle = 0;
            local = self.cost;
            local_seq.clone_from(&self.seq);
        }
    }

    /// A random move on a critical path.
    fn stumble(&mut self, rng: &mut Rng) {
        self.collect(rng);
        if self.moves.is_empty() {
            return;
        }
        let mv = self.moves[rng.below(self.moves.len())];
        self.shift(mv);
        if !self.heads() {
            self.shift(Move { from: mv.to, to: mv.from, ..mv });
            self.heads();
        }
        self.tails();
    }

    /// Swaps neighbours that another plan has the other way round, for about half of the difference.
    fn walk_towards(&mut self, goal: &[Vec<u32>], rng: &mut Rng) {
        let mut place = vec![0u32; self.m.tasks];
        for s in goal {
            for (i, &t) in s.iter().enumerate() {
                place[t as usize] = i as u32;
            }
        }
        let apart = |me: &Self| {
            let mut swaps = Vec::new();
            for (m, s) in me.seq.iter().enumerate() {
                for (i, w) in s.windows(2).enumerate() {
                    if place[w[0] as usize] > place[w[1] as usize] {
                        swaps.push(Move { machine: m as u32, from: i as u32, to: i as u32 + 1 });
                    }
                }
            }
            swaps
        };
        let mut distance = 0;
        for s in &self.seq {
            for (i, &a) in s.iter().enumerate() {
                distance += s[i + 1..].iter().filter(|&&b| place[a as usize] > place[b as usize]).count();
            }
        }
        for _ in 0..distance * (3 + rng.below(4)) / 10 {
            let swaps = apart(self);
            if swaps.is_empty() {
                break;
            }
            let mv = swaps[rng.below(swaps.len())];
            self.shift(mv);
            if !self.heads() {
                self.shift(Move { from: mv.to, to: mv.from, ..mv });
                self.heads();
            }
        }
        self.tails();
    }

    /// The plan as a list of units: by start, predecessors first.
    fn list(&self) -> Vec<u32> {
        let mut place = vec![0u32; self.m.tasks];
        for (i, &t) in self.topo.iter().enumerate() {
            place[t as usize] = i as u32;
        }
        let mut tasks: Vec<u32> = (0..self.m.tasks as u32).collect();
        tasks.sort_by_key(|&t| (self.head[t as usize], place[t as usize]));
        tasks.iter().map(|&t| self.m.unit_of[t as usize]).collect()
    }
}
