//! Asking another department: a routing becomes linked cards on one vehicle.
//!
//! Rules: asking for work inside a state that is open, or about to be opened, joins it instead of
//! sending the vehicle up twice; the asker's own card, whatever its department, takes the place of the
//! routing's step inside, with what is to be looked at there; where nothing is to be done inside, it comes
//! after the hand-back, unless the vehicle is opened for it alone; what came after that card comes after the
//! hand-back too; a card that closes and was there already waits for what is asked for now.

use std::collections::{BTreeMap, BTreeSet};

use super::*;
use crate::{depends, open};

impl Work<'_> {
    pub(super) fn ask(&mut self, ask: &Ask) -> Decided {
        let order = self.order_here(ask.order)?;
        self.department_known(&ask.from)?;
        let routing = self.state.routings.get(&ask.routing).filter(|r| !r.retired).cloned();
        let Some(routing) = routing else {
            let message = format!("There is no routing «{}» in this shop.", ask.routing);
            return Err(Refusal::new(Code::UnknownRouting, message));
        };
        self.can_be_laid_out(&routing)?;
        for (what, text) in [("The note", &ask.note), ("What must not be done yet", &ask.not_yet)] {
            if let Some(text) = text {
                fitting(what, text, NOTE_CHARS_MAX)?;
            }
        }
        super::work::check_condition(&ask.condition)?;
        let for_card = ask.for_card.map(|id| self.card_of(ask.order, id)).transpose()?;
        if let Some(own) = for_card.as_ref().filter(|own| own.life.is_over()) {
            let message = "Your own card is finished already; ask without it.";
            return Err(Refusal::first(Code::Done, message, own.done_by, own.done_at));
        }
        for link in &ask.after {
            self.card_of(ask.order, link.card)?;
            fitting_link(link)?;
        }
        ask.minutes.values().try_for_each(|minutes| check_minutes(*minutes))?;

        if ask.condition != ConditionChange::default() {
            let change = self.condition_within_reach(&ask.condition);
            self.emit(Event::ConditionChanged { order: order.id, change });
        }
        let plan = self.lay_out(ask, &routing, for_card.as_ref());
        self.emit_handoff(ask, &routing, &plan, for_card.as_ref());
        let mut inside: Vec<CardId> = for_card.iter().map(|own| own.id).collect();
        for card in plan.cards {
            inside.push(card.id);
            self.emit(Event::CardAdded { card });
        }
        // A card that closes and was there already waits for what is asked for now, too.
        for (closer, links) in &plan.closers {
            for link in links.iter().filter(|link| inside.contains(&link.card)) {
                self.link_if_sound(*closer, link.clone());
            }
        }
        if let Some(own) = for_card {
            self.wait_for(&own, &plan.own, &plan.closers);
        }
        self.warn_of_second_opening(&order, &routing, plan.joined);
        Ok(())
    }

    fn card_of(&self, order: OrderId, id: CardId) -> Result<Card, Refusal> {
        let card = self.card(id)?;
        if card.order != order {
            return Err(Refusal::new(Code::UnknownCard, "That card belongs to another vehicle."));
        }
        Ok(card)
    }

    fn lay_out(&self, ask: &Ask, routing: &Routing, for_card: Option<&Card>) -> Laid {
        // Which card stands for which step: a new one, one that is there already, or the asker's own.
        let mut stands: BTreeMap<&str, CardId> = BTreeMap::new();
        let mut joined = false;
        let mut shared: BTreeSet<&str> = BTreeSet::new();
        let own_step = for_card.and_then(|own| stood_for(routing, &ask.from, own));
        for step in &routing.steps {
            let there = self.there_already(ask.order, &step.needs);
            joined |= there.is_some();
            let follows = step.after.iter().any(|link| shared.contains(link.step.as_str()));
            let there =
                there.or_else(|| follows.then(|| self.laid_already(ask.order, routing, step)).flatten());
            if there.is_some() && step.needs.opens.is_none() {
                shared.insert(&step.step);
            }
            let own = for_card.filter(|_| own_step.is_some_and(|own| own.step == step.step)).map(|c| c.id);
            let id = there.or(own).unwrap_or_else(|| CardId(part_of(self.context.op, &step.step)));
            stands.insert(&step.step, id);
        }
        let own = match (for_card, own_step) {
            (Some(own), None) => self.beside_the_routing(own, routing, &stands),
            _ => Own::default(),
        };
        let is_own = |id: CardId| for_card.is_some_and(|own| own.id == id);
        let mut laid = Laid { joined, own, ..Laid::default() };
        for step in &routing.steps {
            let id = stands[step.step.as_str()];
            let mut after: Vec<Link> = step
                .after
                .iter()
                .filter_map(|link| {
                    let card = *stands.get(link.step.as_str())?;
                    Some(Link { card, lag_minutes: link.lag_minutes, lag_minutes_max: link.lag_minutes_max })
                })
                .collect();
            if is_own(id) {
                laid.own = Own { after, step: step.needs.clone() };
                continue;
            }
            let mut to_link = if self.state.cards.contains_key(&id) { after.clone() } else { Vec::new() };
            if step.needs.closes.is_some() {
                // It waits for the asker's card too, where no step stands for that.
                let waits = laid.own.step.inside == step.needs.closes && own_step.is_none();
                to_link.extend(for_card.filter(|_| waits).map(|own| plain(own.id)));
                laid.closers.push((id, to_link));
            }
            if self.state.cards.contains_key(&id) {
                continue;
            }
            if after.is_empty() {
                after.clone_from(&ask.after);
            }
            laid.cards.push(self.card_from(ask, routing, step, id, after));
        }
        laid
    }

    /// Where the asker's card goes if no step of the routing stands for it. If the routing opens the vehicle
    /// without equipment, it opens it for others to work in: inside. A booth is different: after everything.
    fn beside_the_routing(&self, own: &Card, routing: &Routing, stands: &BTreeMap<&str, CardId>) -> Own {
        let opens = |step: &&Step| step.needs.opens.is_some() && step.needs.equipment.is_none();
        if let Some(opener) = routing.steps.iter().find(opens) {
            let step = Needs { inside: opener.needs.opens.clone(), ..Needs::default() };
            return Own { after: vec![plain(stands[opener.step.as_str()])], step };
        }
        let named = |step: &Step| {
            routing.steps.iter().any(|other| other.after.iter().any(|link| link.step == step.step))
        };
        let last = routing.steps.iter().filter(|step| !named(step));
        let last = last.map(|step| stands[step.step.as_str()]).filter(|id| *id != own.id);
        Own { after: last.map(plain).collect(), step: Needs::default() }
    }

    /// A card of the vehicle that already opens, or will close, what this step opens or closes.
    fn there_already(&self, order: OrderId, needs: &Needs) -> Option<CardId> {
        let vehicle = self.state.orders.get(&order)?;
        if let Some(opens) = &needs.opens {
            let now = open::is_open(vehicle, opens).map(|now| now.by);
            return now.or_else(|| open::will_open(&self.state, order, opens).next().map(|c| c.id));
        }
        let closes = needs.closes.as_ref()?;
        let opened = open::is_open(vehicle, closes).is_some();
        let to_come = opened || open::will_open(&self.state, order, closes).next().is_some();
        to_come.then(|| open::closer(&self.state, order, closes).map(|c| c.id))?
    }

    /// What follows a closing that is joined is done once too, so that the vehicle is not aligned twice.
    fn laid_already(&self, order: OrderId, routing: &Routing, step: &Step) -> Option<CardId> {
        if step.needs.inside.is_some() || step.needs.opens.is_some() || step.needs.closes.is_some() {
            return None;
        }
        let mut cards = self.state.cards_of(order);
        let same = |card: &Card| {
            card.routing.as_ref() == Some(&routing.id) && card.step.as_ref() == Some(&step.step)
        };
        cards.find(|card| same(card) && !card.life.is_over()).map(|card| card.id)
    }

    fn card_from(&self, ask: &Ask, routing: &Routing, step: &Step, id: CardId, after: Vec<Link>) -> Card {
        Card {
            id,
            order: ask.order,
            department: step.department.clone(),
            title: step.title.clone(),
            planned_minutes: ask.minutes.get(&step.step).copied().unwrap_or(step.planned_minutes),
            after,
            needs: step.needs.clone(),
            handoff: Some(HandoffId(self.context.op.0)),
            step: Some(step.step.clone()),
            routing: Some(routing.id.clone()),
            routing_version: Some(routing.version),
            ..blank_card(self.context.at)
        }
    }

    fn emit_handoff(&mut self, ask: &Ask, routing: &Routing, laid: &Laid, for_card: Option<&Card>) {
        let to = routing.steps.first().map_or_else(|| ask.from.clone(), |step| step.department.clone());
        let condition = self.state.orders.get(&ask.order).map(|o| o.condition.clone()).unwrap_or_default();
        let open_already = laid.joined
            && self.state.orders.get(&ask.order).is_some_and(|order| {
                routing
                    .steps
                    .iter()
                    .filter_map(|s| s.needs.opens.as_ref())
                    .any(|o| open::is_open(order, o).is_some())
            });
        let handoff = Handoff {
            id: HandoffId(self.context.op.0),
            order: ask.order,
            routing: routing.id.clone(),
            title: routing.title.clone(),
            from: ask.from.clone(),
            to,
            asked_by: self.context.by,
            asked_at: self.context.at,
            ready_at: None,
            life: if open_already { HandoffLife::Open } else { HandoffLife::Asked },
            taken_by: None,
            taken_at: None,
            started_at: None,
            opened_at: open_already.then_some(self.context.at),
            handed_back_at: None,
            cards: laid.cards.iter().map(|c| c.id).collect(),
            for_card: for_card.map(|c| c.id),
            joined: laid.joined,
            note: ask.note.clone(),
            not_yet: ask.not_yet.clone(),
            condition,
        };
        self.emit(Event::Asked { handoff });
    }

    /// Links the asker's own card into the round trip: it comes after the opening, and what came after it now
    /// comes after the closing.
    fn wait_for(&mut self, own: &Card, place: &Own, closers: &[(CardId, Vec<Link>)]) {
        let later: Vec<CardId> = depends::successors(&self.state, own)
            .map(|c| c.id)
            .filter(|id| !closers.iter().any(|(closer, _)| closer == id))
            .collect();
        let needs = self.merged(own, &place.step);
        if needs != own.needs {
            let change = CardChange { needs: Some(needs), ..CardChange::default() };
            self.emit(Event::CardEdited { card: own.id, change });
        }
        for link in place.after.iter().cloned() {
            self.link_if_sound(own.id, link);
        }
        if place.step.inside.is_none() {
            return;
        }
        for (closer, _) in closers {
            for next in &later {
                self.link_if_sound(*next, plain(*closer));
            }
        }
    }

    /// The card's needs and checks where it takes the place of a step.
    fn merged(&self, own: &Card, step: &Needs) -> Needs {
        let mut needs = own.needs.clone();
        // A card can be inside one state only; for a second one the links alone say it.
        let kept = needs.inside.as_ref().is_some_and(|inside| {
            let order = self.state.orders.get(&own.order);
            order.is_some_and(|order| open::is_open(order, inside).is_some())
                || open::will_open(&self.state, own.order, inside).next().is_some()
        });
        if step.inside.is_some() && !kept {
            needs.inside.clone_from(&step.inside);
        }
        let missing = |checks: &[Words], check: &Words| !checks.contains(check);
        needs.checks.extend(step.checks.iter().filter(|c| missing(&own.needs.checks, c)).cloned());
        let cautions = step.cautions.iter().filter(|c| !own.needs.cautions.contains(c));
        needs.cautions.extend(cautions);
        needs
    }

    /// Work inside comes after the opening and before the closing. Nothing waits for work that is not approved.
    pub(super) fn closing_waits_for(&mut self, id: CardId) {
        let Some(card) = self.state.cards.get(&id).cloned() else { return };
        let Some(inside) = card.needs.inside.as_ref().filter(|_| card.life != Life::Proposed) else { return };
        let is_open = self.state.orders.get(&card.order).is_some_and(|o| open::is_open(o, inside).is_some());
        let opener = open::will_open(&self.state, card.order, inside).next().map(|c| c.id);
        if let Some(opener) = opener.filter(|_| !is_open) {
            self.link_if_sound(id, plain(opener));
        }
        if let Some(closer) = open::closer(&self.state, card.order, inside).map(|c| c.id) {
            self.link_if_sound(closer, plain(id));
        }
    }

    pub(super) fn link_if_sound(&mut self, card: CardId, after: Link) {
        // An existing cure time is never shortened.
        let linked = |l: &Link| l.card == after.card && l.lag_minutes >= after.lag_minutes;
        let there =
            self.state.cards.get(&card).is_none_or(|c| c.life.is_over() || c.after.iter().any(linked));
        if !there && !depends::leads_to(&self.state, card, after.card) {
            self.emit(Event::Linked { card, after });
        }
    }

    fn warn_of_second_opening(&mut self, order: &Order, routing: &Routing, joined: bool) {
        if joined {
            return;
        }
        let opens: Vec<&OpenId> = routing.steps.iter().filter_map(|s| s.needs.opens.as_ref()).collect();
        let before: Vec<CardId> = self
            .state
            .cards_of(order.id)
            .filter(|c| c.life == Life::Done && c.needs.opens.as_ref().is_some_and(|o| opens.contains(&o)))
            .map(|c| c.id)
            .collect();
        if !before.is_empty() {
            self.raise(ExceptionKind::OpenedTwice, order.id, None, before);
        }
    }
}

/// A routing laid out on one vehicle.
#[derive(Default)]
struct Laid {
    cards: Vec<Card>,
    joined: bool,
    own: Own,
    /// Closing cards, with the links that existing ones still need.
    closers: Vec<(CardId, Vec<Link>)>,
}

/// Where the asker's own card goes.
#[derive(Default)]
struct Own {
    after: Vec<Link>,
    /// The needs of the step it stands for.
    step: Needs,
}

fn plain(card: CardId) -> Link {
    Link { card, lag_minutes: 0, lag_minutes_max: None }
}

/// The step inside that the asker's own card stands for: one for its department, else the first.
pub(super) fn stood_for<'a>(routing: &'a Routing, from: &DepartmentId, own: &Card) -> Option<&'a Step> {
    let inside = || routing.steps.iter().filter(|step| step.needs.inside.is_some());
    inside()
        .find(|step| step.department == own.department || step.department == *from)
        .or_else(|| inside().next())
}

/// A card with nothing set but when it was made.
pub(super) fn blank_card(created_at: Ms) -> Card {
    let nil = uuid::Uuid::nil();
    Card {
        id: CardId(nil),
        order: OrderId(nil),
        department: DepartmentId(String::new()),
        title: Words::default(),
        planned_minutes: 0,
        sold_minutes: None,
        after: Vec::new(),
        needs: Needs::default(),
        life: Life::Waiting,
        ready_at: None,
        taken_by: None,
        taken_at: None,
        helpers: Vec::new(),
        spans: Vec::new(),
        paused_why: None,
        done_at: None,
        done_by: None,
        checks_done: Vec::new(),
        used: None,
        put_first: None,
        handoff: None,
        step: None,
        routing: None,
        routing_version: None,
        created_at,
        last_act: None,
        cancelled: None,
    }
}
