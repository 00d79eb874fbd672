//! Equipment: which piece, whether it is in service, and whether the vehicle can stand on it.
//!
//! Rules: anybody can report equipment out of service, a planner puts it back. Work on equipment that is out of
//! service, overdue for inspection or unfit for the vehicle is a fact, and an exception.

use super::*;
use crate::open;

/// The id in a new shop's library.
const LIFT: &str = "lift";

impl Work<'_> {
    fn equipment_known(&self, id: &EquipmentId) -> Result<Equipment, Refusal> {
        let known = self.state.equipment.get(id).map(|equipment| (**equipment).clone());
        known
            .ok_or_else(|| Refusal::new(Code::Unknown, format!("There is no equipment «{id}» in this shop.")))
    }

    /// What the work is on: the piece that was named, else the one that is certain.
    pub(super) fn used_for(
        &self,
        order: &Order,
        card: &Card,
        on: Option<&EquipmentId>,
    ) -> Result<Option<EquipmentId>, Refusal> {
        match on {
            Some(on) => self.equipment_known(on).map(|equipment| Some(equipment.id)),
            None => Ok(open::equipment_for(&self.state, order, card, self.context.at)),
        }
    }

    /// What should have kept this vehicle off this piece of equipment. Whether the piece is in service is
    /// checked card by card.
    pub(super) fn raise_for_lift(&mut self, order: &Order, card: Option<CardId>, on: &EquipmentId) {
        let Some(equipment) = self.state.equipment.get(on).cloned() else { return };
        let at = self.context.at;
        if card.is_none() && open::out_of_service(&equipment, at).is_some() {
            self.raise(ExceptionKind::OutOfService, order.id, card, Vec::new());
        }
        if equipment.inspection_due.is_some_and(|due| due < at) {
            self.raise(ExceptionKind::InspectionOverdue, order.id, card, Vec::new());
        }
        let condition = &order.condition;
        let unfit =
            condition.lifting_points == Some(LiftingPoints::Damaged) || !condition.weight_off.is_empty();
        // Parts that were taken off while it hangs there do not count: it is not lifted again.
        let hangs = order.open.iter().any(|now| now.equipment.as_ref() == Some(on));
        if equipment.kind.0 == LIFT && unfit && !hangs {
            self.raise(ExceptionKind::UnsafeLift, order.id, card, Vec::new());
        }
    }

    pub(super) fn equipment_out(&mut self, id: &EquipmentId, note: Option<&str>) -> Decided {
        let equipment = self.equipment_known(id)?;
        let note = note.map(str::trim).filter(|note| !note.is_empty());
        note.map_or(Ok(()), |note| fitting("The note", note, NOTE_CHARS_MAX))?;
        let at = self.context.at;
        if open::out_of_service(&equipment, at).is_some() {
            return Ok(());
        }
        // Until somebody says that it is back: as far as dates reach.
        let absence = Absence { from: at, to: at.saturating_add(REACH), reason: note.map(str::to_owned) };
        self.emit(Event::EquipmentOut { equipment: id.clone(), absence });
        Ok(())
    }

    pub(super) fn equipment_back(&mut self, id: &EquipmentId) -> Decided {
        self.at_least(Role::Planner, "say that equipment is in service again")?;
        let equipment = self.equipment_known(id)?;
        let at = self.context.at;
        if open::out_of_service(&equipment, at).is_some() {
            self.emit(Event::EquipmentBack { equipment: id.clone(), at });
        }
        Ok(())
    }
}
