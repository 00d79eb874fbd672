//! How much happened: without it a run that holds says little.

/// What happened in one run, or in many.
#[derive(Debug, Default, Clone)]
pub struct Counts {
    pub seeds: u64,
    pub steps: u64,
    pub made: u64,
    pub acked: u64,
    pub entries: u64,
    pub refused: u64,
    pub crashes: u64,
    pub failed_syncs: u64,
    pub restores: u64,
    pub rollbacks: u64,
    pub tabs_killed: u64,
    pub evicted: u64,
    pub cloned: u64,
    pub rolled_back_phones: u64,
    pub lost: u64,
    pub doubled: u64,
    pub retired: u64,
}

impl Counts {
    pub fn add(&mut self, other: &Counts) {
        let pairs = [
            (&mut self.seeds, other.seeds),
            (&mut self.steps, other.steps),
            (&mut self.made, other.made),
            (&mut self.acked, other.acked),
            (&mut self.entries, other.entries),
            (&mut self.refused, other.refused),
            (&mut self.crashes, other.crashes),
            (&mut self.failed_syncs, other.failed_syncs),
            (&mut self.restores, other.restores),
            (&mut self.rollbacks, other.rollbacks),
            (&mut self.tabs_killed, other.tabs_killed),
            (&mut self.evicted, other.evicted),
            (&mut self.cloned, other.cloned),
            (&mut self.rolled_back_phones, other.rolled_back_phones),
            (&mut self.lost, other.lost),
            (&mut self.doubled, other.doubled),
            (&mut self.retired, other.retired),
        ];
        pairs.into_iter().for_each(|(sum, more)| *sum += more);
    }
}
