//! Working time as cumulative work W(t) and its inverse.
//!
//! Invariant: `finish(start, d)` for a working `start` is the least end with W(end) − W(start) = d.
//! After the last interval every minute works, so both directions always have an answer.

use crate::Time;

#[derive(Clone, Debug)]
pub(crate) struct Work {
    open: Vec<(Time, Time)>,
    /// Work done before interval i; one more entry for the end of the last.
    before: Vec<Time>,
}

impl Work {
    pub(crate) fn new(open: Vec<(Time, Time)>) -> Self {
        let mut before = Vec::with_capacity(open.len() + 1);
        let mut sum = 0;
        before.push(0);
        for &(a, b) in &open {
            sum += b - a;
            before.push(sum);
        }
        Self { open, before }
    }

    /// Index of the first interval that ends after `t`.
    fn at(&self, t: Time) -> usize {
        self.open.partition_point(|&(_, b)| b <= t)
    }

    fn last_end(&self) -> Time {
        self.open.last().map_or(Time::MIN / 4, |&(_, b)| b)
    }

    /// The first working minute at or after `t`.
    pub(crate) fn next(&self, t: Time) -> Time {
        self.open.get(self.at(t)).map_or(t, |&(a, _)| a.max(t))
    }

    /// Where work of `d` minutes begun at working minute `start` ends.
    pub(crate) fn finish(&self, start: Time, d: Time) -> Time {
        if d == 0 {
            return start;
        }
        let i = self.at(start);
        let Some(&(a, b)) = self.open.get(i) else { return start + d };
        let from = start.max(a);
        if b - from >= d {
            return from + d;
        }
        let target = self.before[i] + (from - a) + d;
        // The interval in which cumulative work reaches the target.
        let j = i + self.before[i + 1..].partition_point(|&w| w < target);
        match self.open.get(j) {
            Some(&(a, _)) => a + (target - self.before[j]),
            None => self.last_end() + (target - self.before[self.open.len()]),
        }
    }

    /// The first minute at or after `t` from which `d` minutes fit without a break.
    pub(crate) fn next_one_go(&self, t: Time, d: Time) -> Time {
        let mut i = self.at(t);
        while let Some(&(a, b)) = self.open.get(i) {
            let from = a.max(t);
            // Past the last interval work goes on, so the last one is as long as needed.
            if b - from >= d || i + 1 == self.open.len() {
                return from;
            }
            i += 1;
        }
        t
    }

    /// The working pieces between `start` and `end`.
    pub(crate) fn pieces(&self, start: Time, end: Time) -> Pieces<'_> {
        Pieces { work: self, i: self.at(start), at: start, end }
    }

    /// Wall minutes per working minute, in 1/1024, for estimates.
    pub(crate) fn stretch(&self) -> i64 {
        let (Some(&(a, _)), Some(&(_, b))) = (self.open.first(), self.open.last()) else { return 1024 };
        let work = i64::from(self.before[self.open.len()]).max(1);
        (i64::from(b - a) * 1024 / work).clamp(1024, 1024 * 24)
    }
}

pub(crate) struct Pieces<'a> {
    work: &'a Work,
    i: usize,
    at: Time,
    end: Time,
}

impl Iterator for Pieces<'_> {
    type Item = (Time, Time);
    fn next(&mut self) -> Option<(Time, Time)> {
        if self.at >= self.end {
            return None;
        }
        let last = self.work.last_end();
        let (a, b) = match self.work.open.get(self.i) {
            Some(&(a, b)) if b == last => (a.max(self.at), self.end),
            Some(&(a, b)) => (a.max(self.at), b.min(self.end)),
            None => (self.at, self.end),
        };
        if a >= self.end {
            return None;
        }
        self.i += 1;
        self.at = b;
        Some((a, b))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn week() -> Work {
        // Two days with a lunch break: 8-12, 13-17, next day the same.
        Work::new(vec![(480, 720), (780, 1020), (1920, 2160), (2220, 2460)])
    }

    #[test]
    fn work_resumes_after_breaks_and_nights() {
        let w = week();
        assert_eq!(w.next(0), 480);
        assert_eq!(w.next(720), 780);
        assert_eq!(w.finish(480, 240), 720);
        assert_eq!(w.finish(480, 241), 781);
        assert_eq!(w.finish(900, 240), 1920 + 120);
        assert_eq!(w.pieces(900, 2040).collect::<Vec<_>>(), vec![(900, 1020), (1920, 2040)]);
    }

    #[test]
    fn one_go_moves_to_where_it_fits() {
        let w = week();
        assert_eq!(w.next_one_go(600, 120), 600);
        assert_eq!(w.next_one_go(601, 120), 780);
        assert_eq!(w.next_one_go(781, 240), 1920);
    }

    #[test]
    fn after_the_last_interval_every_minute_works() {
        let w = week();
        assert_eq!(w.next(3000), 3000);
        assert_eq!(w.finish(2400, 100), 2500);
        assert_eq!(w.pieces(2400, 2500).collect::<Vec<_>>(), vec![(2400, 2500)]);
    }

    #[test]
    fn finish_is_the_inverse_of_cumulative_work_minute_by_minute() {
        let w = week();
        let works = |t: Time| {
            t >= 2460
                || [(480, 720), (780, 1020), (1920, 2160), (2220, 2460)].iter().any(|&(a, b)| t >= a && t < b)
        };
        for start in (480..2500).filter(|&t| works(t)).step_by(37) {
            for d in (1..900).step_by(53) {
                let mut left = d;
                let mut t = start;
                while left > 0 {
                    if works(t) {
                        left -= 1;
                    }
                    t += 1;
                }
                assert_eq!(w.finish(start, d), t, "start {start} d {d}");
            }
        }
    }
}
