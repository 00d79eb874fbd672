//! What a new, empty shop begins with: departments, one calendar, equipment, places and the library of
//! routings, in English and Spanish. All of it is data that the shop edits afterwards.
//!
//! Invariants: [`library`] in its order is accepted by the rules in an empty shop; the same on every
//! call (no clock, no chance); no vehicle maker, product or person is named.
//!
//! Must not know: people, repair orders, storage, sign-in. Times are common practice in the trade, meant
//! to be replaced by the shop's own figures; nothing here is a repair procedure.

mod delivery;
mod draft;
mod repair;
mod round_trip;

use std::collections::BTreeMap;

use domain::stored::{Act, Calendar, Department, Equipment, Place, Shift, Shop, Working};

pub use draft::words;

/// The calendar that applies where nothing else is said.
pub const CALENDAR: &str = "weekdays";

/// The acts that set up an empty shop, in an order in which each finds what it names.
/// [`shop`] comes before or after them.
pub fn library() -> Vec<Act> {
    let mut acts = vec![Act::SetCalendar { calendar: calendar() }];
    acts.extend(departments().into_iter().map(|department| Act::SetDepartment { department }));
    let equipment = equipment();
    acts.extend(equipment.iter().cloned().map(|equipment| Act::SetEquipment { equipment }));
    acts.extend(places(&equipment).into_iter().map(|place| Act::SetPlace { place }));
    let routings = round_trip::routings().into_iter().chain(repair::routings()).chain(delivery::routings());
    acts.extend(routings.map(|routing| Act::SetRouting { routing }));
    acts
}

/// The shop itself. `time_zone` is an IANA name, `language` "en" or "es".
pub fn shop(name: &str, time_zone: &str, language: &str) -> Act {
    let shop = Shop {
        name: name.to_owned(),
        time_zone: time_zone.to_owned(),
        calendar: CALENDAR.into(),
        language: language.to_owned(),
    };
    Act::SetShop { shop }
}

/// Weekdays 7:00 to 16:00 with an unpaid half hour at noon. Short breaks are not gaps: rest of 5 to 20
/// minutes counts as hours worked, a meal of 30 does not [STD, 29 CFR 785.18 and 785.19].
fn calendar() -> Calendar {
    let day = vec![Shift { from: 7 * 60, to: 11 * 60 + 30 }, Shift { from: 12 * 60, to: 16 * 60 }];
    let mut week = vec![day; 5];
    week.resize(7, Vec::new());
    Calendar { id: CALENDAR.into(), title: words("Weekdays", "Entre semana"), week, days: BTreeMap::new() }
}

/// Body technicians own vehicles from teardown to hand-over; the others work from a pool [CP].
fn departments() -> Vec<Department> {
    let rows = [
        ("office", "Office", "Oficina", Working::Pool),
        ("body", "Body", "Hojalatería", Working::Lead),
        ("mechanical", "Mechanical", "Mecánica", Working::Pool),
        ("refinish", "Refinish", "Pintura", Working::Pool),
        ("assembly", "Assembly", "Armado", Working::Pool),
        ("parts", "Parts", "Partes", Working::Pool),
        ("detail", "Detail", "Detallado", Working::Pool),
    ];
    let department = |(rank, (id, en, es, working)): (usize, (&str, &str, &str, Working))| Department {
        id: id.into(),
        title: words(en, es),
        working,
        calendar: None,
        deputies: Vec::new(),
        rank: rank as u32,
        retired: false,
    };
    rows.into_iter().enumerate().map(department).collect()
}

fn equipment() -> Vec<Equipment> {
    let rows = [
        ("lift-1", "Lift 1", "Elevador 1", "lift", "mechanical", Some(4500)),
        ("lift-2", "Lift 2", "Elevador 2", "lift", "mechanical", Some(4500)),
        ("alignment-rack", "Alignment rack", "Rampa de alineación", "alignment", "mechanical", Some(5400)),
        ("frame-bench", "Frame bench", "Banco de enderezado", "bench", "body", Some(3500)),
        ("stands-1", "Set of stands", "Juego de torres", "stands", "body", Some(3000)),
        ("prep-1", "Prep stall 1", "Preparación 1", "prep", "refinish", None),
        ("prep-2", "Prep stall 2", "Preparación 2", "prep", "refinish", None),
        ("prep-3", "Prep stall 3", "Preparación 3", "prep", "refinish", None),
        ("booth", "Booth", "Cabina", "booth", "refinish", None),
    ];
    let piece =
        |(id, en, es, kind, department, load): (&str, &str, &str, &str, &str, Option<u32>)| Equipment {
            id: id.into(),
            title: words(en, es),
            kind: kind.into(),
            department: department.into(),
            rated_load_kg: load,
            out_of_service: Vec::new(),
            inspection_due: None,
            retired: false,
        };
    rows.into_iter().map(piece).collect()
}

fn places(equipment: &[Equipment]) -> Vec<Place> {
    let at_equipment = equipment.iter().map(|piece| Place {
        id: piece.id.0.as_str().into(),
        title: piece.title.clone(),
        equipment: Some(piece.id.clone()),
        retired: false,
    });
    let floor = [
        ("bay-1", "Body bay 1", "Lugar de hojalatería 1"),
        ("bay-2", "Body bay 2", "Lugar de hojalatería 2"),
        ("bay-3", "Body bay 3", "Lugar de hojalatería 3"),
        ("bay-4", "Body bay 4", "Lugar de hojalatería 4"),
        ("bay-5", "Assembly bay 1", "Lugar de armado 1"),
        ("bay-6", "Assembly bay 2", "Lugar de armado 2"),
        ("mech-bay", "Mechanical bay", "Lugar de mecánica"),
        ("detail-bay", "Detail bay", "Lugar de detallado"),
        ("lot", "Lot", "Patio"),
        ("apart", "Apart, 15 m clear", "Aparte, 15 m libres"),
        ("front", "By the office", "Frente a la oficina"),
        ("outside", "Away from the shop", "Fuera del taller"),
    ];
    let on_floor = floor.into_iter().map(|(id, en, es)| Place {
        id: id.into(),
        title: words(en, es),
        equipment: None,
        retired: false,
    });
    at_equipment.chain(on_floor).collect()
}

#[cfg(test)]
mod tests;
