//! The job: repair orders, their cards and links, promises, holds, and the planner's overruling.

use super::handoff::blank_card;
use super::*;
use crate::{calendar, depends};

impl Work<'_> {
    pub(super) fn open_order(&mut self, open: &OpenOrder) -> Decided {
        self.at_least(Role::Planner, "open a repair order")?;
        fitting("The number", &open.number, NUMBER_CHARS_MAX)?;
        fitting("What the vehicle looks like", &open.vehicle, TITLE_CHARS_MAX)?;
        self.number_free(&open.number, None)?;
        open.vin.as_ref().map_or(Ok(()), |vin| check_vin_length(vin))?;
        self.maybe_within_reach("The day on which it came in", open.arrived_at)?;
        self.maybe_within_reach("The day on which it is expected", open.expected_at)?;
        check_sold(open.sold_minutes)?;
        open.energy.as_ref().map_or(Ok(()), check_energy)?;
        if open.routings.len() > ROUTINGS_MAX {
            let message =
                format!("At most {ROUTINGS_MAX} routings are laid out at once; add the others later.");
            return Err(Refusal::new(Code::Invalid, message));
        }
        if open.comeback_of.is_some_and(|card| !self.state.cards.contains_key(&card)) {
            return Err(Refusal::new(
                Code::UnknownCard,
                "There is no such card from which it could have come back.",
            ));
        }
        check_weight(open.weight)?;
        if let Some(due) = open.promise {
            self.promise_can_be(due)?;
        }
        if let Some(place) = &open.place
            && !self.state.places.contains_key(place)
        {
            return Err(Refusal::new(
                Code::UnknownPlace,
                format!("There is no place «{place}» in this shop."),
            ));
        }
        let mut routings = Vec::new();
        for id in &open.routings {
            let routing = self.state.routings.get(id).filter(|r| !r.retired).cloned();
            routings.push(routing.ok_or_else(|| {
                Refusal::new(Code::UnknownRouting, format!("There is no routing «{id}» in this shop."))
            })?);
        }
        routings.iter().try_for_each(|routing| self.can_be_laid_out(routing))?;
        let order = self.order_from(open);
        let id = order.id;
        let here = !matches!(order.stage, Stage::Expected);
        self.emit(Event::OrderOpened { order });
        if let Some(place) = open.place.clone().filter(|_| here) {
            let at = open.arrived_at.unwrap_or(self.context.at).min(self.context.at);
            self.emit(Event::Moved { order: id, to: place, on: None, at, by: self.context.by });
        }
        self.lay_out_routings(id, &routings);
        Ok(())
    }

    /// Numbers are compared and kept without surrounding blanks.
    fn number_free(&self, number: &str, own: Option<OrderId>) -> Decided {
        let number = number.trim();
        match self.state.order_numbered(number) {
            Some(other) if Some(other) != own => {
                Err(Refusal::new(Code::DuplicateNumber, format!("There is already a repair order {number}.")))
            }
            _ => Ok(()),
        }
    }

    fn order_from(&self, open: &OpenOrder) -> Order {
        let arrived = open.arrived_at.unwrap_or(self.context.at).min(self.context.at);
        let vin = open.vin.as_ref().map(|vin| vin_as_kept(vin)).filter(|vin| !vin.is_empty());
        let mut stages = Vec::new();
        if open.stage != Stage::Expected {
            stages.push(StageAt { stage: Stage::Arrived, at: arrived, reason: None });
        }
        if open.stage > Stage::Arrived {
            stages.push(StageAt { stage: open.stage, at: arrived, reason: None });
        }
        let authorised = open.stage >= Stage::Authorised;
        Order {
            id: OrderId(self.context.op.0),
            number: open.number.trim().to_owned(),
            vehicle: open.vehicle.trim().to_owned(),
            vin_doubtful: vin.as_ref().is_some_and(|vin| crate::vin::check(vin).is_err()),
            vin,
            towed_in: open.towed_in,
            weight: open.weight,
            weight_reason: None,
            stage: open.stage,
            stages,
            expected_at: open.expected_at,
            promise: open.promise,
            first_promise: open.promise.filter(|_| authorised),
            promise_moves: 0,
            taken_back: Vec::new(),
            promised_by: open.promise.map(|_| self.context.by),
            promised_at: open.promise.map(|_| self.context.at),
            leads: Default::default(),
            condition: Condition { rolls: open.towed_in.then_some(false), ..Condition::default() },
            energy: open.energy.clone().unwrap_or_default(),
            open: Vec::new(),
            holds: Vec::new(),
            stood: Vec::new(),
            sold_minutes: open.sold_minutes,
            comeback_of: open.comeback_of,
            cards: Vec::new(),
            created_at: self.context.at,
        }
    }

    /// One routing after the other: the first cards of each come after the last cards of the one before.
    fn lay_out_routings(&mut self, order: OrderId, routings: &[std::sync::Arc<Routing>]) {
        let mut last: Vec<CardId> = Vec::new();
        for (number, routing) in routings.iter().enumerate() {
            let name = |step: &str| CardId(part_of(self.context.op, &format!("{number}/{step}")));
            let mut cards = Vec::new();
            for step in &routing.steps {
                let links = step.after.iter().map(|link| Link {
                    card: name(&link.step),
                    lag_minutes: link.lag_minutes,
                    lag_minutes_max: link.lag_minutes_max,
                });
                let mut after: Vec<Link> = links.collect();
                if after.is_empty() {
                    after = last
                        .iter()
                        .map(|card| Link { card: *card, lag_minutes: 0, lag_minutes_max: None })
                        .collect();
                }
                cards.push(Card {
                    id: name(&step.step),
                    order,
                    department: step.department.clone(),
                    title: step.title.clone(),
                    planned_minutes: step.planned_minutes,
                    after,
                    needs: step.needs.clone(),
                    step: Some(step.step.clone()),
                    routing: Some(routing.id.clone()),
                    routing_version: Some(routing.version),
                    ..blank_card(self.context.at)
                });
            }
            last = cards
                .iter()
                .map(|c| c.id)
                .filter(|id| !cards.iter().any(|c| c.after.iter().any(|l| l.card == *id)))
                .collect();
            for card in cards {
                self.emit(Event::CardAdded { card });
            }
        }
    }

    pub(super) fn edit_order(&mut self, id: OrderId, change: &OrderChange) -> Decided {
        self.at_least(Role::Planner, "change a repair order")?;
        self.order(id)?;
        if let Some(number) = &change.number {
            fitting("The number", number, NUMBER_CHARS_MAX)?;
            self.number_free(number, Some(id))?;
        }
        change.vin.as_ref().map_or(Ok(()), |vin| check_vin_length(vin))?;
        if let Some(vehicle) = &change.vehicle {
            fitting("What the vehicle looks like", vehicle, TITLE_CHARS_MAX)?;
        }
        if let Some(reason) = &change.weight_reason {
            fitting("The reason", reason, TITLE_CHARS_MAX)?;
        }
        change.weight.map_or(Ok(()), check_weight)?;
        self.maybe_within_reach("The day on which it is expected", change.expected_at)?;
        check_sold(change.sold_minutes)?;
        let mut change = change.clone();
        change.number = change.number.map(|number| number.trim().to_owned());
        change.vehicle = change.vehicle.map(|vehicle| vehicle.trim().to_owned());
        change.vin = change.vin.map(|vin| vin_as_kept(&vin));
        self.emit(Event::OrderEdited { order: id, change });
        Ok(())
    }

    pub(super) fn promise(&mut self, id: OrderId, due: Option<Ms>) -> Decided {
        self.at_least(Role::Planner, "promise a date")?;
        let order = self.order_here(id)?;
        if order.promise == due {
            return Ok(());
        }
        due.map_or(Ok(()), |due| self.promise_can_be(due))?;
        let (by, at) = (Some(self.context.by), Some(self.context.at));
        self.emit(Event::Promised { order: id, due, by, at });
        Ok(())
    }

    fn promise_can_be(&self, due: Ms) -> Decided {
        if due <= self.context.at {
            return Err(Refusal::new(Code::PromisePast, "That time has passed; promise a later one."));
        }
        self.within_reach("The promised day", due)?;
        if !calendar::open_day(&self.state, self.context.zone, due) {
            let date = calendar::local_date(due, self.context.zone);
            let message = format!("The shop is closed on {date}; promise a day on which it is open.");
            return Err(Refusal::new(Code::PromiseClosed, message));
        }
        Ok(())
    }

    pub(super) fn stage(&mut self, id: OrderId, stage: Stage, reason: Option<&str>) -> Decided {
        let order = self.order(id)?;
        if !matches!(stage, Stage::Arrived | Stage::Ready) {
            self.at_least(Role::Planner, "say that the job is authorised, away, stopped or delivered")?;
        }
        reason.map_or(Ok(()), |reason| fitting("The reason", reason, NOTE_CHARS_MAX))?;
        if order.stage == stage {
            return Ok(());
        }
        let undone: Vec<CardId> = self
            .state
            .cards_of(id)
            .filter(|c| !c.life.is_over() && c.life != Life::Proposed)
            .map(|c| c.id)
            .collect();
        let ends = matches!(stage, Stage::Ready | Stage::Delivered);
        if ends && !undone.is_empty() {
            self.raise(ExceptionKind::OutOfTurn, id, None, undone);
        } else if order.stage == Stage::Delivered || (stage == Stage::Arrived && order.stage > Stage::Away) {
            self.raise(ExceptionKind::OutOfTurn, id, None, Vec::new());
        }
        // Without arrival its visit has no beginning: it would count as having left, but not in how long
        // vehicles stay.
        let goes_on = matches!(stage, Stage::Authorised | Stage::Away | Stage::Ready | Stage::Delivered);
        if order.stage == Stage::Expected && goes_on {
            self.raise(ExceptionKind::NoKeysIn, id, None, Vec::new());
        }
        let reason = reason.map(|reason| reason.trim().to_owned());
        self.emit(Event::StageReached { order: id, stage, at: self.context.at, reason: reason.clone() });
        if stage == Stage::Stopped {
            self.stop(&order, reason.as_deref());
        }
        Ok(())
    }

    /// Takes back a mistaken *keys back* as if it had never been reported, and keeps the reason. *Ready* needs
    /// no such act: a vehicle leaves it like any other stage.
    pub(super) fn stage_back(&mut self, id: OrderId, stage: Stage, reason: &str) -> Decided {
        self.at_least(Role::Planner, "take back that the keys went back")?;
        let order = self.order(id)?;
        fitting("The reason", reason, NOTE_CHARS_MAX)?;
        let last = order.stages.iter().rfind(|reached| reached.stage == stage);
        let Some(last) = last.filter(|_| stage == Stage::Delivered && order.stage == stage) else {
            let message = "The vehicle is no longer at that stage; look again.";
            return Err(Refusal::new(Code::NothingToUndo, message));
        };
        let taken_back = StageTakenBack {
            stage,
            reached_at: last.at,
            by: self.context.by,
            at: self.context.at,
            reason: reason.trim().to_owned(),
        };
        self.emit(Event::StageTakenBack { order: id, taken_back });
        Ok(())
    }

    pub(super) fn lead(
        &mut self,
        id: OrderId,
        department: &DepartmentId,
        person: Option<PersonId>,
    ) -> Decided {
        let order = self.order_here(id)?;
        self.department_known(department)?;
        if person.is_some_and(|p| self.state.people.get(&p).is_none_or(|p| p.retired)) {
            return Err(Refusal::new(Code::UnknownPerson, "There is no such person in this shop."));
        }
        let lead = order.leads.get(department).copied();
        if lead == person {
            return Ok(());
        }
        // A technician may take a vehicle that has no lead, or give up their own; the rest is for planners.
        let by = Some(self.context.by);
        if lead.is_some() && lead != by {
            let message = "Somebody else leads this vehicle; a planner can change that.";
            self.at_least(Role::Planner, "take over a vehicle")
                .map_err(|_| Refusal::first(Code::Taken, message, lead, None))?;
        }
        if person.is_some() && person != by {
            self.at_least(Role::Planner, "give a vehicle to somebody")?;
        }
        self.emit(Event::LeadSet { order: id, department: department.clone(), person });
        Ok(())
    }

    pub(super) fn add_card(&mut self, add: &AddCard) -> Decided {
        let order = self.order_here(add.order)?;
        self.department_known(&add.department)?;
        fitting_words("The title", &add.title, TITLE_CHARS_MAX)?;
        fitting_needs(&add.needs)?;
        check_minutes(add.planned_minutes)?;
        check_sold(add.sold_minutes)?;
        add.after.iter().try_for_each(fitting_link)?;
        for id in add.after.iter().map(|l| l.card).chain(add.before.iter().copied()) {
            if self.card(id)?.order != order.id {
                return Err(Refusal::new(Code::UnknownCard, "That card belongs to another vehicle."));
            }
        }
        add.before.iter().try_for_each(|next| not_over(&self.card(*next)?))?;
        let id = CardId(self.context.op.0);
        let clash = add.before.iter().any(|next| {
            add.after
                .iter()
                .any(|link| link.card == *next || depends::leads_to(&self.state, *next, link.card))
        });
        if clash {
            return Err(cycle());
        }
        let card = Card {
            id,
            order: order.id,
            department: add.department.clone(),
            title: add.title.clone(),
            planned_minutes: add.planned_minutes,
            sold_minutes: add.sold_minutes,
            after: add.after.clone(),
            needs: add.needs.clone(),
            life: if add.proposed { Life::Proposed } else { Life::Waiting },
            ..blank_card(self.context.at)
        };
        self.emit(Event::CardAdded { card });
        for next in &add.before {
            self.emit(Event::Linked {
                card: *next,
                after: Link { card: id, lag_minutes: 0, lag_minutes_max: None },
            });
        }
        self.closing_waits_for(id);
        Ok(())
    }

    pub(super) fn edit_card(&mut self, id: CardId, change: &CardChange) -> Decided {
        let card = self.card(id)?;
        not_over(&card)?;
        if card.taken_by != Some(self.context.by) {
            self.at_least(Role::Planner, "change other people's cards")?;
        }
        // The holder may change a card's wording and length, not what it needs or pays.
        if change.approved
            || change.department.is_some()
            || change.needs.is_some()
            || change.sold_minutes.is_some()
        {
            self.at_least(Role::Planner, "change what a card needs, whose it is, or what is sold")?;
        }
        if let Some(title) = &change.title {
            fitting_words("The title", title, TITLE_CHARS_MAX)?;
        }
        change.needs.as_ref().map_or(Ok(()), fitting_needs)?;
        if let Some(department) = &change.department {
            self.department_known(department)?;
        }
        change.planned_minutes.map_or(Ok(()), check_minutes)?;
        check_sold(change.sold_minutes)?;
        self.emit(Event::CardEdited { card: id, change: change.clone() });
        if change.needs.is_some() || change.approved {
            self.closing_waits_for(id);
        }
        Ok(())
    }

    pub(super) fn link(&mut self, id: CardId, after: &Link) -> Decided {
        let card = self.card(id)?;
        self.at_least(Role::Planner, "change what comes before what")?;
        if self.card(after.card)?.order != card.order {
            return Err(Refusal::new(Code::UnknownCard, "That card belongs to another vehicle."));
        }
        not_over(&card)?;
        fitting_link(after)?;
        if depends::leads_to(&self.state, id, after.card) {
            return Err(cycle());
        }
        if !card.after.contains(after) {
            self.emit(Event::Linked { card: id, after: after.clone() });
        }
        Ok(())
    }

    pub(super) fn unlink(&mut self, id: CardId, after: CardId) -> Decided {
        self.at_least(Role::Planner, "change what comes before what")?;
        if self.card(id)?.after.iter().any(|link| link.card == after) {
            self.emit(Event::Unlinked { card: id, after });
        }
        Ok(())
    }

    pub(super) fn hold(&mut self, act: &Act) -> Decided {
        let Act::Hold { order, what, cards, blocks, due, note } = act else { return Ok(()) };
        self.order_here(*order)?;
        for card in cards {
            if self.card(*card)?.order != *order {
                return Err(Refusal::new(Code::UnknownCard, "That card belongs to another vehicle."));
            }
        }
        if let Some(note) = note {
            fitting("The note", note, NOTE_CHARS_MAX)?;
        }
        self.maybe_within_reach("The day on which it ends", *due)?;
        let hold = Hold {
            id: HoldId(self.context.op.0),
            what: *what,
            cards: cards.clone(),
            blocks: *blocks,
            since: self.context.at,
            due: *due,
            first_due: None,
            ended: None,
            note: note.clone(),
        };
        self.emit(Event::HoldSet { order: *order, hold });
        Ok(())
    }

    pub(super) fn hold_due(&mut self, id: OrderId, hold: HoldId, due: Ms) -> Decided {
        let held = self.hold_of(id, hold)?;
        if held.ended.is_some() {
            return Err(Refusal::new(Code::Done, "That hold has ended; nothing is waited for any more."));
        }
        self.within_reach("The day on which it ends", due)?;
        if held.due != Some(due) {
            self.emit(Event::HoldMoved { order: id, hold, due });
        }
        Ok(())
    }

    fn hold_of(&self, id: OrderId, hold: HoldId) -> Result<Hold, Refusal> {
        let order = self.order(id)?;
        let held = order.holds.iter().find(|h| h.id == hold).cloned();
        held.ok_or_else(|| Refusal::new(Code::Unknown, "There is no such hold on this vehicle."))
    }

    pub(super) fn unhold(&mut self, id: OrderId, hold: HoldId) -> Decided {
        let held = self.hold_of(id, hold)?;
        if held.what == HoldKind::Approval {
            self.at_least(Role::Planner, "say that the repair is approved")?;
        }
        if held.ended.is_none() {
            self.emit(Event::HoldEnded { order: id, hold, at: self.context.at });
        }
        Ok(())
    }

    pub(super) fn put_first(&mut self, id: CardId, reason: &str, until: Ms) -> Decided {
        self.at_least(Role::Planner, "put a card first")?;
        let card = self.card(id)?;
        self.order_here(card.order)?;
        fitting("The reason", reason, TITLE_CHARS_MAX)?;
        if card.life.is_over() {
            return Err(Refusal::first(Code::Done, "This is done already.", card.done_by, card.done_at));
        }
        if until <= self.context.at {
            return Err(Refusal::new(
                Code::PutFirstPast,
                "Say until when it goes first: that time has passed.",
            ));
        }
        self.within_reach("The day until which it goes first", until)?;
        let put_first = PutFirst { by: self.context.by, reason: reason.to_owned(), until };
        self.emit(Event::PutFirst { card: id, put_first });
        Ok(())
    }

    pub(super) fn put_back(&mut self, id: CardId) -> Decided {
        self.at_least(Role::Planner, "put a card back in its order")?;
        if self.card(id)?.put_first.is_some() {
            self.emit(Event::PutBack { card: id });
        }
        Ok(())
    }
}

fn cycle() -> Refusal {
    Refusal::new(
        Code::Cycle,
        "That would make the work wait for itself: the other card comes after this one already.",
    )
}

fn not_over(card: &Card) -> Decided {
    let message = match card.life {
        Life::Done => "This card is finished; what is done stays as it is.",
        Life::Cancelled => "This card was cancelled.",
        _ => return Ok(()),
    };
    let code = if card.life == Life::Done { Code::Done } else { Code::Cancelled };
    Err(Refusal::first(code, message, card.done_by, card.done_at))
}

fn check_vin_length(vin: &str) -> Decided {
    if vin.chars().count() <= VIN_CHARS_MAX {
        return Ok(());
    }
    Err(Refusal::new(Code::Invalid, "A VIN has 17 characters; this is far longer."))
}

fn vin_as_kept(vin: &str) -> String {
    vin.trim().to_uppercase()
}

fn check_weight(weight: u32) -> Decided {
    if WEIGHTS.contains(&weight) {
        return Ok(());
    }
    Err(Refusal::new(Code::Invalid, "Urgency is 1 (can wait), 2 (normal) or 4 (urgent)."))
}
