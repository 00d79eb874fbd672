//! Asking another department: a routing becomes linked cards on one vehicle.
//!
//! Rules: asking for work inside a state that is open, or about to be opened, joins it instead of
//! sending the vehicle up twice; the asker's own card takes the place of the routing's step for the
//! asking department; what came after that card comes after the hand-back too; a card that closes and
//! was there already waits for what is asked for now.

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
            self.wait_for(&own, &plan.own_after, &plan.own_inside, &plan.closers);
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
        for step in &routing.steps {
            let there = self.there_already(ask.order, &step.needs);
            joined |= there.is_some();
            let follows = step.after.iter().any(|link| shared.contains(link.step.as_str()));
            let there =
                there.or_else(|| follows.then(|| self.laid_already(ask.order, routing, step)).flatten());
            if there.is_some() && step.needs.opens.is_none() {
                shared.insert(&step.step);
            }
            let own =
                for_card.filter(|_| step.department == ask.from && step.needs.inside.is_some()).map(|c| c.id);
            let own = own.filter(|id| !stands.values().any(|taken| taken == id));
            let id = there.or(own).unwrap_or_else(|| CardId(part_of(self.context.op, &step.step)));
            stands.insert(&step.step, id);
        }
        let is_own = |id: CardId| for_card.is_some_and(|own| own.id == id);
        let mut laid = Laid { joined, ..Laid::default() };
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
                laid.own_after = after;
                laid.own_inside.clone_from(&step.needs.inside);
                continue;
            }
            if self.state.cards.contains_key(&id) {
                if step.needs.closes.is_some() {
                    laid.closers.push((id, after));
                }
                continue;
            }
            if after.is_empty() {
                after.clone_from(&ask.after);
            }
            if step.needs.closes.is_some() {
                laid.closers.push((id, Vec::new()));
            }
            laid.cards.push(self.card_from(ask, routing, step, id, after));
        }
        laid
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

    /// What follows a closing that is joined is done once too: the vehicle is not aligned twice.
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

    /// Links the asker's own card into the round trip: after what opens; and what came after it comes
    /// after the closing.
    fn wait_for(
        &mut self,
        own: &Card,
        after: &[Link],
        inside: &Option<OpenId>,
        closers: &[(CardId, Vec<Link>)],
    ) {
        let later: Vec<CardId> = depends::successors(&self.state, own)
            .map(|c| c.id)
            .filter(|id| !closers.iter().any(|(closer, _)| closer == id))
            .collect();
        if inside.is_some() && own.needs.inside != *inside {
            let needs = Needs { inside: inside.clone(), ..own.needs.clone() };
            let change = CardChange { needs: Some(needs), ..CardChange::default() };
            self.emit(Event::CardEdited { card: own.id, change });
        }
        for link in after.iter().cloned() {
            self.link_if_sound(own.id, link);
        }
        for (closer, _) in closers {
            for next in &later {
                self.link_if_sound(*next, Link { card: *closer, lag_minutes: 0, lag_minutes_max: None });
            }
        }
    }

    fn link_if_sound(&mut self, card: CardId, after: Link) {
        let there = self.state.cards.get(&card).is_none_or(|c| c.life.is_over() || c.after.contains(&after));
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
    /// What the asker's own card comes after.
    own_after: Vec<Link>,
    own_inside: Option<OpenId>,
    /// Cards that close, with links still to be made where they were there already.
    closers: Vec<(CardId, Vec<Link>)>,
}

/// A card of which nothing is known but when it was made.
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
    }
}
