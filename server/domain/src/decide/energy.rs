//! High voltage on board: live or isolated, and how hot and long the vehicle may be baked.
//!
//! Rules: it is one state, changed by what qualified people do or report. A report by somebody unqualified is
//! kept as an alarm and can only move it to live. A planner may record that there is no high voltage on board.

use super::*;
use crate::open;

/// The id in a new shop's library, for shops whose own qualifications name none.
const QUALIFIED: &str = "high-voltage";
/// Where vehicles are baked; the app's list for the booth uses the same id.
const BOOTH: &str = "booth";

impl Work<'_> {
    pub(super) fn energy(&mut self, id: OrderId, said: &Energy) -> Decided {
        let order = self.order(id)?;
        check_energy(said)?;
        let (was, is) = (order.energy.high_voltage, said.high_voltage);
        // A planner may correct a slip at the desk: whether it is on board, not whether it is dead.
        let plans = is == HighVoltage::None && self.context.role >= Role::Planner;
        // Anybody may report that it is on board at all.
        let found = was == HighVoltage::None && is == HighVoltage::Live;
        let believed = if was == is || found || plans || self.knows_high_voltage(self.context.by) {
            is
        } else {
            self.raise(ExceptionKind::HighVoltage, id, None, Vec::new());
            if is == HighVoltage::None { was } else { HighVoltage::Live }
        };
        self.emit_energy(&order, Energy { high_voltage: believed, ..said.clone() });
        Ok(())
    }

    fn emit_energy(&mut self, order: &Order, energy: Energy) {
        if order.energy != energy {
            self.emit(Event::EnergyChanged { order: order.id, energy });
        }
    }

    fn move_high_voltage(&mut self, order: OrderId, high_voltage: HighVoltage) {
        if let Some(order) = self.state.orders.get(&order).cloned() {
            let energy = Energy { high_voltage, ..order.energy.clone() };
            self.emit_energy(&order, energy);
        }
    }

    /// Runs when a card is done, which may have isolated or reconnected it.
    pub(super) fn energy_after(&mut self, card: &Card) {
        if !card.needs.cautions.contains(&Caution::HighVoltage) {
            return;
        }
        if card.needs.closes.is_some() {
            self.move_high_voltage(card.order, HighVoltage::Live);
        } else if card.needs.opens.is_some() {
            if self.isolates(card, self.context.by) {
                self.move_high_voltage(card.order, HighVoltage::Isolated);
            } else {
                self.raise(ExceptionKind::HighVoltage, card.order, Some(card.id), Vec::new());
            }
        }
    }

    /// That card was undone again: the vehicle is open, or not, as before.
    pub(super) fn energy_before(&mut self, card: &Card) {
        if card.life != Life::Done || !card.needs.cautions.contains(&Caution::HighVoltage) {
            return;
        }
        let Some(order) = self.state.orders.get(&card.order).cloned() else { return };
        if let Some(opens) = &card.needs.opens
            && open::is_open(&order, opens).is_none()
            && order.energy.high_voltage == HighVoltage::Isolated
        {
            self.move_high_voltage(card.order, HighVoltage::Live);
        }
        let opener = card.needs.closes.as_ref().and_then(|closes| open::is_open(&order, closes));
        let opener = opener.and_then(|now| self.state.cards.get(&now.by)).cloned();
        if opener.is_some_and(|opener| opener.done_by.is_some_and(|by| self.isolates(&opener, by))) {
            self.move_high_voltage(card.order, HighVoltage::Isolated);
        }
    }

    fn isolates(&self, card: &Card, by: PersonId) -> bool {
        match card.needs.qualification {
            Some(_) => self.lacks(card, by).is_none(),
            None => self.knows_high_voltage(by),
        }
    }

    /// Whether the person may do what the shop's own routings ask of people who isolate.
    fn knows_high_voltage(&self, by: PersonId) -> bool {
        let isolates =
            |needs: &Needs| needs.opens.is_some() && needs.cautions.contains(&Caution::HighVoltage);
        let asked = self.state.routings.values().filter(|routing| !routing.retired).flat_map(|r| &r.steps);
        let mut asked: Vec<Qualification> = asked
            .filter(|step| isolates(&step.needs))
            .filter_map(|step| step.needs.qualification.clone())
            .collect();
        if asked.is_empty() {
            asked.push(QUALIFIED.into());
        }
        asked.iter().any(|qualification| self.holds(by, qualification))
    }

    pub(super) fn holds(&self, by: PersonId, qualification: &Qualification) -> bool {
        let held = |person: &std::sync::Arc<Person>| {
            let until = person.qualifications.get(qualification);
            until.is_some_and(|until| until.is_none_or(|until| until > self.context.at))
        };
        self.state.people.get(&by).is_some_and(held)
    }
}

/// High voltage on board: no bake without the maker's limit, no work on it while it is live.
pub(super) fn is_unsafe(state: &State, order: &Order, card: &Card) -> bool {
    let needs = &card.needs;
    let on_board = order.energy.high_voltage != HighVoltage::None;
    let bakes = needs.equipment.as_ref().is_some_and(|kind| kind.0 == BOOTH)
        && needs.cautions.contains(&Caution::Spraying)
        && !needs.off_vehicle;
    // The card that isolates it must begin while it is live; it asks for a qualification instead.
    let of_it = |card: &Card| card.needs.cautions.contains(&Caution::HighVoltage);
    // Reported open by somebody who may not prove it dead: it is open and live.
    let inside = needs.inside.as_ref().and_then(|inside| open::is_open(order, inside));
    let opener = inside.and_then(|now| state.cards.get(&now.by));
    let live = order.energy.high_voltage == HighVoltage::Live
        && needs.opens.is_none()
        && (of_it(card) || opener.is_some_and(|opener| of_it(opener)));
    (on_board && bakes && order.energy.bake_limit_celsius.is_none()) || live
}
