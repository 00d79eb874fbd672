//! What phones saw, held against the log that is left in the end.

use std::collections::{BTreeMap, BTreeSet};
use std::time::Instant;

/// One operation as its phone lived it.
#[derive(Debug, Clone)]
pub struct Lived {
    pub client: String,
    pub n: u64,
    pub id: String,
    /// Before the first byte left.
    pub begun: Instant,
    /// The first answer, and every later one to the same operation.
    pub answers: Vec<Answer>,
}

#[derive(Debug, Clone, PartialEq)]
pub struct Answer {
    pub at: Instant,
    pub seq: u64,
    pub verdict: String,
    /// Who was first, of a refused take.
    pub by: Option<String>,
}

/// One entry of the log.
#[derive(Debug, Clone)]
pub struct Entry {
    pub seq: u64,
    pub client: String,
    pub n: u64,
    pub op: String,
    pub by: String,
    pub verdict: String,
    /// The card of a take.
    pub take: Option<String>,
    pub word: String,
}

/// Everything that is wrong with it; nothing, if the promises held.
pub fn faults(lived: &[Lived], seen: &BTreeSet<(u64, String)>, log: &[Entry]) -> Vec<String> {
    let mut faults = Vec::new();
    let at: BTreeMap<u64, &Entry> = log.iter().map(|entry| (entry.seq, entry)).collect();
    let mut count: BTreeMap<&str, usize> = BTreeMap::new();
    let mut last: BTreeMap<&str, u64> = BTreeMap::new();
    let mut holders: BTreeMap<&str, &str> = BTreeMap::new();
    for (i, entry) in log.iter().enumerate() {
        if entry.seq != i as u64 + 1 {
            faults.push(format!("entry {} stands at place {}", entry.seq, i + 1));
        }
        *count.entry(&entry.op).or_default() += 1;
        let n = last.entry(&entry.client).or_default();
        if entry.n != *n + 1 {
            faults.push(format!("{} has number {} after {n}", entry.client, entry.n));
        }
        *n = entry.n;
        let taken = entry.take.as_deref().filter(|_| entry.verdict == "applied");
        if let Some(first) = taken.and_then(|card| holders.insert(card, &entry.by)) {
            faults.push(format!("{taken:?} was taken by {} while {first} held it", entry.by));
        }
    }
    for op in lived {
        let times = count.get(op.id.as_str()).copied().unwrap_or(0);
        if times > 1 || (times == 0 && !op.answers.is_empty()) {
            faults.push(format!("{} of {} stands {times} times in the log", op.n, op.client));
        }
        for answer in &op.answers {
            let Some(entry) = at.get(&answer.seq).filter(|entry| entry.op == op.id) else {
                faults.push(format!("{} of {} is not at {}", op.n, op.client, answer.seq));
                continue;
            };
            if entry.verdict != answer.verdict {
                faults.push(format!("{}: told {}, kept {}", answer.seq, answer.verdict, entry.verdict));
            }
            if let (Some(card), Some(by)) = (&entry.take, &answer.by)
                && holders.get(card.as_str()) != Some(&by.as_str())
            {
                faults.push(format!("{}: {by} was named as the holder and is not", answer.seq));
            }
        }
    }
    faults.extend(real_time(lived));
    for (seq, word) in seen {
        if at.get(seq).is_none_or(|entry| entry.word != *word) {
            faults.push(format!("a phone was shown {seq} {word}, which the log does not hold"));
        }
    }
    faults
}

/// What began after another was acknowledged stands behind it.
fn real_time(lived: &[Lived]) -> Vec<String> {
    let mut told: Vec<(Instant, u64)> =
        lived.iter().filter_map(|op| op.answers.first()).map(|answer| (answer.at, answer.seq)).collect();
    told.sort();
    let mut highest = 0;
    let told: Vec<(Instant, u64)> = told
        .into_iter()
        .map(|(at, seq)| {
            highest = seq.max(highest);
            (at, highest)
        })
        .collect();
    let answered = lived.iter().filter_map(|op| Some((op, op.answers.first()?.seq)));
    answered
        .filter_map(|(op, seq)| {
            let before = told.partition_point(|(at, _)| *at < op.begun);
            let (_, highest) = *told.get(before.checked_sub(1)?)?;
            (seq <= highest).then(|| format!("{seq} was begun after {highest} was told"))
        })
        .collect()
}
