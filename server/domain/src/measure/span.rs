//! Stretches of time and how they overlap.
//!
//! Invariant: a list handed out here is in order, and its stretches neither touch nor are empty.

use crate::Ms;
use crate::calendar::Interval;

pub(super) fn merged(intervals: impl IntoIterator<Item = Interval>) -> Vec<Interval> {
    let mut sorted: Vec<Interval> = intervals.into_iter().filter(|(a, b)| a < b).collect();
    sorted.sort_unstable();
    let mut merged: Vec<Interval> = Vec::with_capacity(sorted.len());
    for (a, b) in sorted {
        match merged.last_mut() {
            Some(last) if last.1 >= a => last.1 = last.1.max(b),
            _ => merged.push((a, b)),
        }
    }
    merged
}

/// `[from, to)` cut at every edge of the list: (from, to, whether it lies in the list).
pub(super) fn split(list: &[Interval], from: Ms, to: Ms) -> impl Iterator<Item = (Ms, Ms, bool)> + '_ {
    let mut next = list.partition_point(|(_, end)| *end <= from);
    let mut at = from;
    std::iter::from_fn(move || {
        if at >= to {
            return None;
        }
        let begin = at;
        let inside = match list.get(next) {
            Some((a, b)) if *a <= at => {
                next += 1;
                at = (*b).min(to);
                true
            }
            Some((a, _)) => {
                at = (*a).min(to);
                false
            }
            None => {
                at = to;
                false
            }
        };
        Some((begin, at, inside))
    })
}

/// The part of `[from, to)` inside the list.
pub(super) fn within(list: &[Interval], from: Ms, to: Ms) -> impl Iterator<Item = Interval> + '_ {
    split(list, from, to).filter_map(|(a, b, inside)| inside.then_some((a, b)))
}

pub(super) fn common(one: &[Interval], other: &[Interval]) -> Vec<Interval> {
    one.iter().flat_map(|(a, b)| within(other, *a, *b)).collect()
}

/// What is left of the first list without the second.
pub(super) fn minus(one: &[Interval], other: &[Interval]) -> Vec<Interval> {
    let outside = |(a, b, inside): (Ms, Ms, bool)| (!inside).then_some((a, b));
    one.iter().flat_map(|(a, b)| split(other, *a, *b).filter_map(outside)).collect()
}

/// When something is open, stored so that "how much of it until then" is answered at once.
pub(super) struct OpenTime {
    intervals: Vec<Interval>,
    /// Length of all intervals before each.
    before: Vec<Ms>,
}

impl OpenTime {
    pub fn new(intervals: Vec<Interval>) -> Self {
        let mut sum = 0;
        let before = intervals
            .iter()
            .map(|(a, b)| {
                sum += b - a;
                sum - (b - a)
            })
            .collect();
        Self { intervals, before }
    }

    pub fn intervals(&self) -> &[Interval] {
        &self.intervals
    }

    fn until(&self, at: Ms) -> Ms {
        let place = self.intervals.partition_point(|(from, _)| *from < at);
        let Some(last) = place.checked_sub(1) else { return 0 };
        let (from, to) = self.intervals[last];
        self.before[last] + at.min(to) - from
    }

    /// How much of `[from, to)` is open; zero if it runs backwards.
    pub fn between(&self, from: Ms, to: Ms) -> Ms {
        if from < to { self.until(to) - self.until(from) } else { 0 }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const LIST: [Interval; 2] = [(10, 20), (30, 40)];

    #[test]
    fn a_stretch_is_cut_at_every_edge() {
        let cut: Vec<_> = split(&LIST, 5, 35).collect();
        assert_eq!(cut, [(5, 10, false), (10, 20, true), (20, 30, false), (30, 35, true)]);
        assert_eq!(split(&LIST, 12, 15).collect::<Vec<_>>(), [(12, 15, true)]);
        assert_eq!(split(&LIST, 40, 50).collect::<Vec<_>>(), [(40, 50, false)]);
        assert_eq!(split(&LIST, 7, 7).count() + split(&LIST, 9, 7).count(), 0);
    }

    #[test]
    fn lists_are_joined_cut_and_subtracted() {
        assert_eq!(merged([(3, 5), (9, 9), (1, 3), (4, 8), (20, 10)]), [(1, 8)]);
        assert_eq!(common(&LIST, &[(15, 32)]), [(15, 20), (30, 32)]);
        assert_eq!(minus(&LIST, &[(15, 32)]), [(10, 15), (32, 40)]);
    }

    #[test]
    fn open_time_is_counted_between_any_two_instants() {
        let open = OpenTime::new(LIST.to_vec());
        for from in 0..50 {
            for to in 0..50 {
                let by_hand = (from..to).filter(|t| LIST.iter().any(|(a, b)| (a..b).contains(&t))).count();
                assert_eq!(open.between(from, to), by_hand as Ms, "{from}..{to}");
            }
        }
        assert_eq!(OpenTime::new(Vec::new()).between(0, 9), 0);
    }
}
