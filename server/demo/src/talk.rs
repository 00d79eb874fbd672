//! What people write: short, in the shop's language, some of it in Spanish.

use domain::stored::{ExceptionKind, Found};

use super::chance::Chance;

pub(super) fn note(department: &str, spanish: bool, chance: &mut Chance) -> &'static str {
    if spanish {
        return match department {
            "refinish" => chance.pick(&[
                "Color igualado con la tarjeta 2, la 1 salió muy clara.",
                "Dos basuras en el cofre, salen con pulida.",
                "Difuminar hasta la puerta trasera.",
                "Falta enmascarar el techo antes de meterlo.",
            ]),
            "parts" => {
                chance.pick(&["Llegó la salpicadera, sin golpes.", "Faltan dos grapas, pedidas para mañana."])
            }
            _ => chance.pick(&[
                "La pestaña de abajo tiene tres capas, no dos.",
                "Tornillos en la charola roja, banco de Inés.",
                "Jalé 4 mm más, ya está en medida.",
                "Sellador de juntas puesto, no mover hasta que seque.",
                "El soporte viejo se pasa al nuevo, no viene con la parte.",
            ]),
        };
    }
    match department {
        "body" => chance.pick(&[
            "Small bracket has to be moved over from the old part.",
            "Lower flange has three layers, not two.",
            "Gap at the lid 1 mm tighter on the left, set by the hinge.",
            "Hidden dent behind the lamp, straightened.",
            "Ground two welds of an older repair, looks sound.",
            "Fits. Apart again for refinish.",
        ]),
        "mechanical" => chance.pick(&[
            "Bolts bagged, on the shelf beside the lift.",
            "One-time bolts ordered, eight of them.",
            "Bushing looks tired, customer told.",
            "Steering wheel was off by two degrees, set.",
            "Faults cleared, none came back.",
            "Exhaust hanger was bent, straightened.",
        ]),
        "refinish" => chance.pick(&[
            "Second spray-out card matches.",
            "Blend into the rear door.",
            "Two nibs in the hood, will polish out.",
            "Old filler under the paint, taken back to metal.",
            "Jambs done off the vehicle.",
        ]),
        "assembly" => chance.pick(&[
            "Two clips broken, replaced from stock.",
            "Grommet was missing, taken from the old door.",
            "Lamp aimed after fitting.",
        ]),
        "detail" => chance.pick(&[
            "Child seat marks on the back seat, were there before.",
            "Overspray on the mirror, removed.",
        ]),
        _ => chance.pick(&[
            "Customer wants to be called before noon.",
            "Customer left a trailer hitch in the trunk.",
            "Second key is in the glove box.",
        ]),
    }
}

pub(super) fn finding(department: &str, chance: &mut Chance) -> (Found, &'static str) {
    let rows: &[(Found, &'static str)] = match department {
        "mechanical" => &[
            (Found::Seized, "Lower arm bolt seized in its sleeve, cut."),
            (Found::OneTimeFasteners, "Cradle bolts are used once only, set ordered."),
            (Found::Damaged, "Brake line bracket bent."),
            (Found::Other, "Toe looks moved, alignment will show."),
            (Found::Other, "Camera behind the glass, calibration asked for."),
        ],
        "body" => &[
            (Found::Corrosion, "Rust inside the flange, about a hand wide."),
            (Found::Damaged, "Crash bar mount torn at the lower hole."),
            (Found::WrongPart, "Wheelhouse is for the other side."),
            (Found::MissingPart, "Small reinforcement does not come with the panel."),
        ],
        "assembly" => &[(Found::MissingPart, "Four clips short."), (Found::Damaged, "Lamp tab broken off.")],
        _ => &[
            (Found::Other, "Old repair under the paint."),
            (Found::Damaged, "Scratch on the mirror, not on the list."),
        ],
    };
    rows[chance.next() as usize % rows.len()]
}

pub(super) fn ask_note(routing: &str, chance: &mut Chance) -> (&'static str, Option<&'static str>) {
    match routing {
        "suspension-down-rear" => chance.pick_row(&[
            (
                "Wheelhouse seam and rail seam above the subframe, nothing else reaches them.",
                Some("No alignment before the rail is measured again."),
            ),
            ("Inner wheelhouse seam has to be sealed from below.", None),
            ("Sellar la junta de la salpicadera interior, sólo se llega sin suspensión.", None),
        ]),
        "suspension-down-front" => chance.pick_row(&[
            ("Strut tower seam from below.", None),
            ("Apron seam behind the strut.", Some("Leave the strut bolts loose.")),
        ]),
        "cradle-down" => chance.pick_row(&[(
            "Front rail, lower lip and seam above the cradle.",
            Some("Do not charge the air conditioning yet."),
        )]),
        "fuel-tank-out" => chance.pick_row(&[
            ("Welding a hand's width from the tank.", Some("Nothing refilled before the fire watch.")),
            ("Floor seam over the tank.", None),
        ]),
        _ => chance.pick_row(&[
            ("Floor seam under the carpet, seats and trim out please.", None),
            ("Quarter from inside, trim out.", None),
        ]),
    }
}

pub(super) fn own_work(routing: &str) -> (&'static str, &'static str, u32) {
    match routing {
        "suspension-down-rear" => {
            ("Seal wheelhouse and rail seam", "Sellar junta de salpicadera interior y larguero", 70)
        }
        "suspension-down-front" => ("Seal strut tower seam", "Sellar junta de la torre", 60),
        "cradle-down" => {
            ("Repair and seal front rail lip", "Reparar y sellar orilla del larguero delantero", 200)
        }
        "fuel-tank-out" => {
            ("Weld floor flange near the tank", "Soldar pestaña del piso cerca del tanque", 150)
        }
        _ => ("Straighten and seal floor seam", "Enderezar y sellar junta del piso", 110),
    }
}

pub(super) fn parts_hold(chance: &mut Chance) -> &'static str {
    chance.pick(&[
        "Outer panel on the way.",
        "Lamp on back order.",
        "Bumper cover came damaged, sent back.",
        "Clips and one-time bolts.",
        "Glass moulding, second delivery.",
        "Falta la moldura, viene del almacén.",
    ])
}

pub(super) fn parts_note(chance: &mut Chance) -> &'static str {
    chance.pick(&[
        "All here, shelf 4.",
        "Here, one clip short, taken from stock.",
        "Todo llegó, estante 2.",
        "Laid beside the old one: same.",
    ])
}

pub(super) fn sublet(chance: &mut Chance) -> &'static str {
    chance.pick(&[
        "Glass works across the river; keys with their driver.",
        "Upholsterer, seat belt trim; keys with them.",
        "Wheel straightening, two wheels; vehicle went along.",
    ])
}

pub(super) fn promise_reason(chance: &mut Chance) -> &'static str {
    chance.pick(&[
        "Parts came later than said.",
        "Hidden damage found, customer told.",
        "Lift was not free for two days.",
        "Booth queue.",
        "Colour had to be done again.",
    ])
}

pub(super) fn weight_reason(weight: u32, chance: &mut Chance) -> &'static str {
    if weight == 1 {
        return chance
            .pick(&["Customer is on a journey until the end of the month.", "Own vehicle of the shop."]);
    }
    chance.pick(&["Only vehicle of a family.", "Needed for work on Monday.", "Rental car ends this week."])
}

pub(super) const LOOKED_AT: &str = "Looked at, all right.";

pub(super) fn answer(kind: ExceptionKind, chance: &mut Chance) -> &'static str {
    match kind {
        ExceptionKind::MovedOpen => chance.pick(&[
            "Rolled on dollies for ten minutes, mounts looked at.",
            "Lift checked, vehicle back on it.",
        ]),
        ExceptionKind::StartedEarly => chance.pick(&[
            "Spoken about at the vehicle, nothing in the way.",
            "Order of the two did not matter here.",
        ]),
        ExceptionKind::ClosedOverUndone => {
            chance.pick(&["Sealed from outside, looked at with a mirror.", "Opened again and done."])
        }
        ExceptionKind::TooLate => {
            chance.pick(&["Sanded again before it was primed.", "Metal wiped and looked at, no rust."])
        }
        ExceptionKind::OpenedTwice => chance.pick(&["Supplement came after closing, no other way."]),
        _ => chance.pick(&[LOOKED_AT, "Spoken with both."]),
    }
}

impl Chance {
    fn pick_row(
        &mut self,
        rows: &[(&'static str, Option<&'static str>)],
    ) -> (&'static str, Option<&'static str>) {
        rows[self.next() as usize % rows.len()]
    }
}
