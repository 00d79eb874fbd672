//! One run: a shop, its phones, the network between, and everything that goes wrong.
//!
//! Invariant: all chance comes from the seed, all time from the set clock; the faults end, and then
//! everything that can be delivered is.

use std::collections::{BTreeMap, VecDeque};
use std::sync::Arc;

use domain::ids::{OpId, PersonId};
use domain::stored::Verdict;
use sync::clock::Clock;
use sync::{chain_word, epoch_word};

use crate::acts;
use crate::bug::Bug;
use crate::check::{
    Checked, ENDS, Made, Model, NOTHING_LOST, OPENS, STILL_SHOWN, Violation, broken, is_fact,
};
use crate::counts::Counts;
use crate::database::Database;
use crate::dice::Dice;
use crate::disk::{Fail, Files};
use crate::phone::Phone;
use crate::server::Server;
use crate::wire::{Answer, Ask, Failure, Frame, Told};

/// A run that broke a promise.
#[derive(Debug, Clone)]
pub struct Failed {
    pub seed: u64,
    pub violation: Violation,
    /// The last things that happened, oldest first.
    pub last: Vec<String>,
}

enum To {
    Server { phone: usize, id: u64, ask: Ask },
    Phone { phone: usize, id: u64, answer: Answer },
    Frame { phone: usize, live: u64, frame: Arc<Frame> },
}

/// How often what goes wrong, in a thousand.
struct Weather {
    lost: usize,
    doubled: usize,
    late: usize,
    server: usize,
    storage: usize,
    tabs: usize,
}

struct World {
    dice: Dice,
    clock: Clock,
    step: u64,
    server: Option<Server>,
    /// What the machine finds when it starts again.
    down: Files,
    phones: Vec<Phone>,
    people: Vec<PersonId>,
    listeners: BTreeMap<usize, u64>,
    network: Vec<(u64, To)>,
    backups: Vec<Files>,
    saved: BTreeMap<usize, Database>,
    model: Model,
    weather: Weather,
    bug: Option<Bug>,
    first_epoch: String,
    counts: Counts,
    last: VecDeque<String>,
    retiring: bool,
}

const LAST_MAX: usize = 2_000;
const NOON: i64 = 1_790_000_000_000;
const PHONES_MAX: usize = 7;

/// One run.
pub fn run(seed: u64, steps: u64, bug: Option<Bug>) -> Result<Counts, Box<Failed>> {
    let mut world = World::new(seed, bug);
    match world.live(steps) {
        Ok(()) => Ok(world.counts),
        Err(violation) => Err(Box::new(Failed { seed, violation, last: world.last.into() })),
    }
}

/// The first of these seeds at which this bug shows.
pub fn caught(bug: Bug, mut seeds: impl Iterator<Item = u64>, steps: u64) -> Option<Box<Failed>> {
    seeds.find_map(|seed| {
        let failed = run(seed, steps, Some(bug)).err()?;
        let alone = bug.beside().is_none_or(|beside| run(seed, steps, Some(beside)).is_ok());
        alone.then_some(failed)
    })
}

impl World {
    fn new(seed: u64, bug: Option<Bug>) -> Self {
        let mut dice = Dice::new(seed);
        let wild = [0, 1, 1, 2][dice.below(4)];
        let weather = Weather {
            lost: dice.below(120 * wild + 30),
            doubled: dice.below(60 * wild + 20),
            late: dice.below(300 * wild + 30),
            server: dice.below(34) * usize::from(wild > 0),
            storage: dice.below(12) * usize::from(wild > 0),
            tabs: dice.below(30),
        };
        let people: Vec<PersonId> = (0..3 + dice.below(4)).map(|_| PersonId(dice.uuid())).collect();
        let epoch = dice.word();
        Self {
            clock: Clock::at(NOON),
            step: 0,
            server: None,
            down: Files::empty(epoch),
            phones: Vec::new(),
            people,
            listeners: BTreeMap::new(),
            network: Vec::new(),
            backups: Vec::new(),
            saved: BTreeMap::new(),
            model: Model::default(),
            weather,
            bug,
            first_epoch: epoch_word(epoch),
            counts: Counts { seeds: 1, ..Counts::default() },
            last: VecDeque::new(),
            retiring: dice.chance(400),
            dice,
        }
    }

    fn say(&mut self, what: impl FnOnce() -> String) {
        if self.last.len() == LAST_MAX {
            self.last.pop_front();
        }
        self.last.push_back(format!("{:4} {}", self.step, what()));
    }

    fn live(&mut self, steps: u64) -> Checked {
        self.start()?;
        let server = self.server.as_ref().expect("just started");
        server.own(acts::set_up(&self.people, &mut self.dice), &mut self.dice);
        server.disk.settle();
        self.after_command()?;
        self.enrol();
        for _ in 0..steps {
            self.step += 1;
            self.counts.steps += 1;
            self.clock.advance(self.dice.between(200, 240_000));
            self.deliver()?;
            self.something()?;
        }
        self.quiet()?;
        self.counts.entries = self.model.log_len();
        let acked = self.model.made.values().filter(|made| made.acked).count();
        (self.counts.made, self.counts.acked) = (self.model.made.len() as u64, acked as u64);
        Ok(())
    }

    /// A phone for most, and a tablet that two share.
    fn enrol(&mut self) {
        let people = self.people.clone();
        let mut browsers: Vec<Vec<PersonId>> = people.iter().map(|person| vec![*person]).collect();
        browsers.truncate(4);
        let shared = [people[people.len() - 1], people[people.len() - 2]];
        browsers.push(shared.to_vec());
        for people in browsers {
            let mut phone = Phone::new(self.phones.len(), Database::new(self.dice.uuid(), &people), self.bug);
            if self.dice.chance(300) {
                phone.skew = self.dice.between(-6 * 3_600_000, 6 * 3_600_000);
            }
            self.phones.push(phone);
        }
    }

    // The server's life

    fn start(&mut self) -> Checked {
        let files = std::mem::take(&mut self.down);
        let epoch = files.epoch;
        match Server::open(files, self.clock.clone(), self.bug, &self.first_epoch) {
            Ok(server) => {
                let view = server.shop.view();
                self.model.begin(&view.state, view.head.seq, chain_word(&view.head.hash));
                self.model.survived(&server.disk)?;
                self.server = Some(server);
                self.say(|| format!("the server starts, epoch {epoch:016x}"));
                self.follow()
            }
            Err(error) => broken(OPENS, error.to_string()),
        }
    }

    fn power_cut(&mut self) -> Checked {
        let Some(server) = self.server.take() else { return Ok(()) };
        self.down = server.disk.after_power_cut(&mut self.dice);
        self.listeners.clear();
        self.counts.crashes += 1;
        self.say(|| "power cut".into());
        // What was not durable never happened.
        if self.down.head() < self.model.log_len() {
            let (log, served) = (self.down.log.clone(), crate::disk::Disk::new(self.down.clone(), false));
            self.model.survived(&served)?;
            self.model.cut(&log)?;
        }
        Ok(())
    }

    /// An older copy takes the place of what is there.
    fn go_back(&mut self, silently: bool) -> Checked {
        let Some(mut files) = self.dice.pick(&self.backups).cloned() else { return Ok(()) };
        self.server = None;
        self.listeners.clear();
        if silently {
            self.counts.rollbacks += 1;
            // Older still than what the directory has: an image of the machine.
            self.backups.retain(|backup| backup.epoch == files.epoch || backup.head() <= files.head());
        } else {
            self.counts.restores += 1;
            files = files.restored(self.dice.word());
        }
        let head = files.head();
        self.say(|| format!("{} to entry {head}", if silently { "rolled back" } else { "restored" }));
        self.backups.retain(|backup| backup.head() <= head);
        self.model.cut(&files.log)?;
        self.down = files;
        self.start()
    }

    fn follow(&mut self) -> Checked {
        let Some(server) = &self.server else { return Ok(()) };
        self.model.follow(&server.disk, self.clock.now(), &server.sessions())
    }

    /// After every command: what the log says now, and what goes out live.
    fn after_command(&mut self) -> Checked {
        self.follow()?;
        let Some(server) = &mut self.server else { return Ok(()) };
        let frames = server.frames();
        if frames.is_empty() {
            return Ok(());
        }
        let state = server.state();
        for frame in frames {
            let keys: Vec<String> = frame.docs.iter().map(|line| line.key.clone()).collect();
            self.model.showed(&state, &keys, frame.to, &frame.hash);
            if !self.listeners.is_empty() {
                self.model.served(&server.disk, frame.to, &frame.hash)?;
            }
            for (phone, live) in &self.listeners {
                let copies = match () {
                    () if self.dice.chance(self.weather.lost / 2) => 0,
                    () if self.dice.chance(self.weather.doubled) => 2,
                    () => 1,
                };
                for _ in 0..copies {
                    let late = if self.dice.chance(self.weather.late) { self.dice.below(20) } else { 0 };
                    let to = To::Frame { phone: *phone, live: *live, frame: frame.clone() };
                    self.network.push((self.step + late as u64, to));
                }
            }
        }
        Ok(())
    }

    // The network

    fn send(&mut self, to: To) {
        if self.dice.chance(self.weather.lost) {
            self.counts.lost += 1;
            return;
        }
        let late = |dice: &mut Dice, weather: &Weather| {
            if dice.chance(weather.late) { dice.below(30) as u64 } else { dice.below(2) as u64 }
        };
        let due = self.step + late(&mut self.dice, &self.weather);
        if let To::Server { phone, id, ask } = &to
            && self.dice.chance(self.weather.doubled)
        {
            self.counts.doubled += 1;
            let again = To::Server { phone: *phone, id: *id, ask: ask.clone() };
            let later = self.step + self.dice.below(40) as u64;
            self.network.push((later, again));
        }
        self.network.push((due, to));
    }

    fn deliver(&mut self) -> Checked {
        loop {
            let due: Vec<usize> =
                (0..self.network.len()).filter(|at| self.network[*at].0 <= self.step).collect();
            let Some(at) = self.dice.pick(&due).copied() else { return Ok(()) };
            let (_, to) = self.network.swap_remove(at);
            match to {
                To::Server { phone, id, ask } => self.arrives(phone, id, ask)?,
                To::Phone { phone, id, answer } => self.hears(phone, id, &answer)?,
                To::Frame { phone, live, frame } => self.phones[phone].hear_frame(live, &frame),
            }
        }
    }

    fn arrives(&mut self, phone: usize, id: u64, ask: Ask) -> Checked {
        let Some(server) = &self.server else {
            self.send(To::Phone { phone, id, answer: Answer::Failed(Failure::Later) });
            return Ok(());
        };
        let listens = matches!(ask, Ask::Live { .. });
        let push = match &ask {
            Ask::Push { client, ops, .. } => Some((*client, ops.iter().filter_map(id_of).collect())),
            _ => None,
        };
        let writes = push.is_some();
        let failing = writes && self.dice.chance(self.weather.server);
        if failing {
            let fail = if self.dice.chance(500) { Fail::Lost } else { Fail::Kept };
            server.disk.fail_next(fail);
        }
        let answer = server.answer(ask, &mut self.dice);
        server.disk.fail_no_more();
        self.say(|| format!("phone {phone}: {}", brief(&answer)));
        let server = self.server.as_ref().expect("it answered");
        if store::Log::read_only(&*server.disk).is_some() && failing {
            self.counts.failed_syncs += 1;
            // The power went with it, or the machine lives on and can only be read.
            if self.dice.chance(600) {
                self.follow()?;
                return self.power_cut();
            }
        }
        // Judged by the log before anybody is told.
        self.after_command()?;
        let server = self.server.as_ref().expect("it answered");
        self.model.answered(&server.disk, &answer, push)?;
        if let Answer::Pushed { results, .. } = &answer {
            self.counts.refused += results.iter().filter(|r| r.verdict == Verdict::Refused).count() as u64;
        }
        if listens && matches!(answer, Answer::LiveOpen { .. }) {
            self.listeners.insert(phone, id & 0xffff_ffff);
        }
        self.send(To::Phone { phone, id, answer });
        Ok(())
    }

    fn hears(&mut self, phone: usize, id: u64, answer: &Answer) -> Checked {
        let now = self.clock.now();
        let before = outbox(&self.phones[phone]);
        self.phones[phone].hear(id, answer, now);
        for (id, from, to) in std::mem::take(&mut self.phones[phone].moved) {
            self.model.moved(id, from, to);
        }
        self.look(phone, &before, Some(answer))
    }

    /// What a step of this phone did to its outbox and its copy.
    fn look(
        &mut self,
        number: usize,
        before: &BTreeMap<OpId, (u64, Option<Told>)>,
        answer: Option<&Answer>,
    ) -> Checked {
        let phone = &self.phones[number];
        let after = outbox(phone);
        let cursor = phone.db.position.as_ref().map_or(0, |at| at.cursor);
        let results = match answer {
            Some(Answer::Pushed { results, .. }) => results.as_slice(),
            _ => &[],
        };
        for (id, (n, known)) in before {
            let told = known.as_ref().or_else(|| results.iter().find(|told| told.n == *n));
            match (known, after.get(id)) {
                (None, Some((_, Some(_)))) => self.model.acked(*id),
                (_, None) => {
                    let Some(told) = told else {
                        return broken(
                            NOTHING_LOST,
                            format!("an operation left phone {number} without a verdict"),
                        );
                    };
                    if told.verdict != Verdict::Refused && told.seq > cursor {
                        let seq = told.seq;
                        return broken(
                            STILL_SHOWN,
                            format!("entry {seq} left the outbox of phone {number} at {cursor}"),
                        );
                    }
                    self.model.acked(*id);
                }
                _ => {}
            }
        }
        self.model.copy(&self.phones[number])
    }

    fn poll(&mut self, number: usize) -> Result<bool, Violation> {
        let now = self.clock.now();
        let before = outbox(&self.phones[number]);
        let asked = self.phones[number].poll(self.step, now, &mut self.dice);
        // Frames may have let rows leave: their verdicts were known.
        self.look(number, &before, None)?;
        let Some((id, ask)) = asked else { return Ok(false) };
        self.send(To::Server { phone: number, id, ask });
        Ok(true)
    }

    // What happens

    fn something(&mut self) -> Checked {
        let number = self.dice.below(self.phones.len());
        match self.dice.below(1_000) {
            0..330 => self.act(number),
            330..960 => self.poll(number).map(drop),
            _ => self.mishap(number),
        }?;
        let Weather { server, storage, tabs, .. } = self.weather;
        if self.dice.chance(server) {
            self.server_mishap()?;
        }
        if self.dice.chance(storage) {
            self.storage_mishap(number)?;
        }
        if self.dice.chance(storage) {
            let some = self.dice.below(self.phones.len());
            self.saved.insert(some, self.phones[some].db.clone());
        }
        if self.dice.chance(tabs) {
            self.tab_mishap(number);
        }
        Ok(())
    }

    fn act(&mut self, number: usize) -> Checked {
        let device_at = self.clock.now() + self.phones[number].skew;
        for _ in 0..1 + self.dice.below(3) {
            let phone = &mut self.phones[number];
            let Some((id, op)) = acts::next(&phone.db, device_at, &mut self.dice) else { continue };
            let second = phone.second.is_some() && self.dice.chance(500);
            let before = phone.db.outbox.len();
            let fact = is_fact(&op);
            let Some(person) = phone.enqueue(second, id, op.clone(), &mut self.dice) else { continue };
            let after = phone.db.outbox.len();
            if self.bug != Some(Bug::LateWrite) && after != before + 1 {
                return broken(NOTHING_LOST, format!("phone {number} kept one operation over another"));
            }
            let client = self.phones[number].db.who().client;
            let same = |phone: &&Phone| client.is_some_and(|client| phone.db.uses(client));
            let beside = self.phones.iter().filter(same).count() > 1;
            let kind = op["kind"].clone();
            let made = Made {
                person,
                phone: number,
                op,
                fact,
                doomed: false,
                acked: false,
                cut: false,
                copied: false,
                beside,
            };
            self.model.made.insert(id, made);
            self.say(|| format!("phone {number}: does {kind} {id}"));
        }
        Ok(())
    }

    fn mishap(&mut self, number: usize) -> Checked {
        match self.dice.below(6) {
            0 => {
                let skew = self.dice.between(-3 * 3_600_000, 3 * 3_600_000);
                self.phones[number].skew = skew;
            }
            1 if self.phones[number].db.accounts.len() > 1 => {
                self.phones[number].switch_person();
                self.say(|| format!("phone {number}: another person"));
            }
            2 => self.phones[number].drop_live(),
            3 if self.retiring => {
                if let Some(server) = &self.server {
                    self.retiring = false;
                    let person = self.people[self.people.len() - 1];
                    server.retire(person, &mut self.dice);
                    self.counts.retired += 1;
                    self.say(|| format!("{person} leaves the shop"));
                    self.after_command()?;
                }
            }
            4 => {
                if let Some(server) = &self.server {
                    server.shop.put_snapshot();
                    server.disk.settle();
                }
            }
            _ => {
                if let Some(server) = &self.server {
                    server.disk.settle();
                    self.backups.push(server.disk.copy());
                    let head = server.shop.view().head.seq;
                    self.say(|| format!("a backup at {head}"));
                }
            }
        }
        Ok(())
    }

    fn server_mishap(&mut self) -> Checked {
        if self.server.is_none() {
            return self.start();
        }
        match self.dice.below(8) {
            0..4 => self.power_cut(),
            4..6 => self.go_back(false),
            _ => self.go_back(true),
        }
    }

    fn storage_mishap(&mut self, number: usize) -> Checked {
        match self.dice.below(8) {
            0 => {
                let people: Vec<PersonId> =
                    self.phones[number].db.accounts.iter().map(|a| a.person).collect();
                let empty = Database::new(self.dice.uuid(), &people);
                self.replace(number, empty);
                self.saved.remove(&number);
                self.counts.evicted += 1;
                self.say(|| format!("phone {number}: its storage is gone"));
            }
            1 if self.phones.len() < PHONES_MAX => {
                let mut copy = Phone::new(self.phones.len(), self.phones[number].db.clone(), self.bug);
                copy.skew = self.phones[number].skew;
                let id = copy.id;
                self.two_hold(number);
                self.phones.push(copy);
                self.counts.cloned += 1;
                self.say(|| format!("phone {id} is a copy of {number}"));
            }
            4 | 5 => {
                self.phones[number].db.make_room();
                self.say(|| format!("phone {number}: full, the older half of its journal goes"));
            }
            2 | 3 => {
                if let Some(saved) = self.saved.remove(&number) {
                    self.replace(number, saved);
                    self.two_hold(number);
                    self.counts.rolled_back_phones += 1;
                    self.say(|| format!("phone {number}: its storage is as before"));
                }
            }
            _ => {
                self.saved.insert(number, self.phones[number].db.clone());
            }
        }
        Ok(())
    }

    /// Operations of this phone's database may come under another client too from now on: `(client, n)`
    /// cannot tell that they are the same. This is the protocol's limit, not a check left out.
    fn two_hold(&mut self, number: usize) {
        let db = &self.phones[number].db;
        for (id, made) in &mut self.model.made {
            made.copied |= db.holds(*id);
        }
    }

    fn replace(&mut self, number: usize, db: Database) {
        for (id, made) in &mut self.model.made {
            made.doomed |= made.phone == number && !db.holds(*id);
        }
        self.phones[number].replace_db(db);
    }

    fn tab_mishap(&mut self, number: usize) {
        self.counts.tabs_killed += 1;
        let phone = &mut self.phones[number];
        match self.dice.below(4) {
            0 => phone.open_second(),
            1 => {
                let transactions = self.dice.below(4) as u32;
                phone.kill_in(transactions);
            }
            _ => phone.kill(),
        }
    }

    /// All faults end. Everybody comes by, with a good network, until nothing is left to do.
    fn quiet(&mut self) -> Checked {
        self.weather = Weather { lost: 0, doubled: 0, late: 0, server: 0, storage: 0, tabs: 0 };
        let read_only = |server: &Server| store::Log::read_only(&*server.disk).is_some();
        if self.server.as_ref().is_some_and(read_only) {
            self.power_cut()?;
        }
        if self.server.is_none() {
            self.start()?;
        }
        self.say(|| "all faults end".into());
        for number in 0..self.phones.len() {
            self.phones[number].kill_never();
            let phone = &mut self.phones[number];
            phone.db.accounts.iter_mut().for_each(|account| account.gone = false);
        }
        let most = self.phones.iter().map(|phone| phone.db.accounts.len()).max().unwrap_or(1);
        // Once for everybody, and once more: what one delivers, the others get.
        for _ in 0..most * 2 {
            for number in 0..self.phones.len() {
                if self.phones[number].db.accounts.len() > 1 {
                    self.phones[number].switch_person();
                }
                self.phones[number].want_pull();
            }
            self.until_idle()?;
        }
        let server = self.server.as_ref().expect("started");
        server.disk.settle();
        let state = server.state();
        self.model.survived(&server.disk)?;
        self.model.end(&state, &self.phones)
    }

    fn until_idle(&mut self) -> Checked {
        let mut idle = 0;
        for _ in 0..2_000 {
            self.step += 1;
            self.clock.advance(1_000);
            if let Some(server) = &self.server {
                server.disk.settle();
            }
            let mut busy = false;
            for number in 0..self.phones.len() {
                busy |= self.poll(number)?;
            }
            busy |= !self.network.is_empty();
            self.deliver()?;
            idle = if busy { 0 } else { idle + 1 };
            if idle > 14 {
                return Ok(());
            }
        }
        broken(ENDS, "the phones go on and on")
    }
}

fn id_of(op: &serde_json::Value) -> Option<OpId> {
    op["id"].as_str()?.parse().ok().map(OpId)
}

/// What a phone has not done with: number and verdict by operation.
fn outbox(phone: &Phone) -> BTreeMap<OpId, (u64, Option<Told>)> {
    phone.db.outbox.iter().map(|((_, n), row)| (row.id, (*n, row.result.clone()))).collect()
}

fn brief(answer: &Answer) -> String {
    match answer {
        Answer::Pushed { results, .. } => {
            let one = |told: &Told| {
                format!(
                    "n{} → {} {:?}{}",
                    told.n,
                    told.seq,
                    told.verdict,
                    told.code.as_ref().map_or(String::new(), |c| format!(" {c}"))
                )
            };
            format!("pushed [{}]", results.iter().map(one).collect::<Vec<_>>().join(", "))
        }
        Answer::Page(page) => {
            format!("page {}..{} more {} last_n {}", page.from, page.to, page.more, page.last_n)
        }
        other => format!("{other:?}"),
    }
}
