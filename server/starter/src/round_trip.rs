//! Round trips: another department opens the vehicle, the asker works inside, it is closed again.
//!
//! Invariant: whatever a routing opens it also closes, and the closing comes after all that is inside.

use domain::stored::Caution::{Airbag, Fuel, HotWork, Lift, Refrigerant, Spring, UnexpectedStart};
use domain::stored::Routing;

use super::draft::{Draft, routing, step};

pub(super) fn routings() -> Vec<Routing> {
    vec![
        suspension_down_rear(),
        suspension_down_front(),
        cradle_down(),
        fuel_tank_out(),
        interior_out(),
        refrigerant_out(),
        high_voltage_safe(),
    ]
}

/// Where bolts go and what is hidden afterwards: asked for whenever something is taken down.
fn taken_down(draft: Draft) -> Draft {
    draft
        .check(
            "Lifting points sound; locks engaged before anything comes off",
            "Puntos de apoyo en buen estado; seguros puestos antes de quitar nada",
        )
        .check(
            "Load balanced again or on stands before heavy parts come off",
            "Carga rebalanceada o sobre torres antes de quitar partes pesadas",
        )
        .check(
            "Bolts bagged and labelled; where they are is written down",
            "Tornillos en bolsa con etiqueta; anotado dónde están",
        )
        .check("One-time fasteners listed for ordering", "Tornillos de un solo uso anotados para pedir")
}

/// What is looked at before something is closed for good.
fn closing(draft: Draft) -> Draft {
    draft
        .check("Nothing inside is undone", "No queda nada pendiente adentro")
        .check("Photographed what will be hidden", "Fotos de lo que va a quedar tapado")
        .check("One-time fasteners renewed", "Tornillos de un solo uso cambiados")
        .check(
            "Torque by the maker's values, final torque at ride height",
            "Torque según el fabricante, apriete final a altura de marcha",
        )
}

/// Sealing inside an open state. Two-part seam sealer, 30 to 60 minutes to paintable at 20 °C [CP]; the
/// product's data sheet rules.
fn sealing(draft: Draft) -> Draft {
    draft
        .check("Photographed the bare seam", "Foto de la junta limpia")
        .check(
            "Clean, primed as the data sheet says, then sealed",
            "Limpio, primario según la hoja técnica, luego sellador de juntas",
        )
        .check("Photographed the sealed seam", "Foto de la junta sellada")
}

/// Cure before the way back, in minutes [CP].
const SEALER_CURE_MINUTES: u32 = 60;

fn suspension_down_rear() -> Routing {
    let open = "suspension-down-rear";
    routing(
        open,
        "Suspension down, rear",
        "Bajar suspensión trasera",
        vec![
            taken_down(step(
                "drop",
                "mechanical",
                150,
                "Take the rear suspension down",
                "Bajar la suspensión trasera",
            ))
            .on("lift")
            .opens(open)
            .caution(&[Lift, UnexpectedStart, Spring]),
            sealing(step(
                "seal",
                "body",
                75,
                "Seal inside, suspension down",
                "Sellar por dentro con la suspensión abajo",
            ))
            .inside(open)
            .after("drop")
            .caution(&[Lift]),
            closing(step(
                "refit",
                "mechanical",
                180,
                "Refit the rear suspension",
                "Montar la suspensión trasera",
            ))
            .on("lift")
            .closes(open)
            .cured("seal", SEALER_CURE_MINUTES)
            .caution(&[Lift, UnexpectedStart, Spring]),
            alignment("refit"),
        ],
    )
}

fn suspension_down_front() -> Routing {
    let open = "suspension-down-front";
    routing(
        open,
        "Suspension down, front",
        "Bajar suspensión delantera",
        vec![
            taken_down(step(
                "drop",
                "mechanical",
                120,
                "Take the front suspension down",
                "Bajar la suspensión delantera",
            ))
            .on("lift")
            .opens(open)
            .caution(&[Lift, UnexpectedStart, Spring]),
            sealing(step(
                "seal",
                "body",
                60,
                "Seal inside, suspension down",
                "Sellar por dentro con la suspensión abajo",
            ))
            .inside(open)
            .after("drop")
            .caution(&[Lift]),
            closing(step(
                "refit",
                "mechanical",
                150,
                "Refit the front suspension",
                "Montar la suspensión delantera",
            ))
            .on("lift")
            .closes(open)
            .cured("seal", SEALER_CURE_MINUTES)
            .caution(&[Lift, UnexpectedStart, Spring]),
            alignment("refit"),
        ],
    )
}

fn alignment(after: &str) -> Draft {
    step("align", "mechanical", 60, "Alignment", "Alineación")
        .on("alignment")
        .after(after)
        .check("Printout kept with the order", "Hoja de medidas guardada con la orden")
        .check("Calibration owed is written down", "Anotada la calibración que falta")
        .caution(&[Lift])
}

fn cradle_down() -> Routing {
    let open = "cradle-down";
    routing(
        open,
        "Cradle down",
        "Bajar la cuna",
        vec![
            taken_down(step("drop", "mechanical", 240, "Take the cradle down", "Bajar la cuna"))
                .on("lift")
                .opens(open)
                .check("Steering shaft marked and locked", "Columna de dirección marcada y asegurada")
                .caution(&[Lift, UnexpectedStart, Spring]),
            sealing(step(
                "rail",
                "body",
                240,
                "Rail repair and sealing, cradle down",
                "Reparar y sellar el larguero con la cuna abajo",
            ))
            .inside(open)
            .after("drop")
            .caution(&[Lift, HotWork]),
            closing(step("refit", "mechanical", 270, "Refit the cradle", "Montar la cuna"))
                .on("lift")
                .closes(open)
                .cured("rail", SEALER_CURE_MINUTES)
                .check("Fluids filled, no leak", "Fluidos llenos, sin fugas")
                .caution(&[Lift, UnexpectedStart, Spring]),
            alignment("refit"),
        ],
    )
}

/// The fire watch lasts at least 30 minutes after hot work where one is required
/// [STD, 29 CFR 1910.252(a)(2)(iii)].
const FIRE_WATCH_MINUTES: u32 = 30;

fn fuel_tank_out() -> Routing {
    let open = "tank-out";
    routing(
        "fuel-tank-out",
        "Fuel tank out before welding",
        "Sacar el tanque antes de soldar",
        vec![
            taken_down(step(
                "out",
                "mechanical",
                120,
                "Drain and take the fuel tank out",
                "Vaciar y sacar el tanque",
            ))
            .on("lift")
            .opens(open)
            .check(
                "Tank and lines closed, stored away from hot work",
                "Tanque y líneas tapados, lejos de donde se suelda",
            )
            .check("No fuel vapour where it will be welded", "Sin vapores de gasolina donde se va a soldar")
            .caution(&[Lift, UnexpectedStart, Fuel]),
            step(
                "weld",
                "body",
                180,
                "Weld near the tank, tank out",
                "Soldar cerca del tanque, tanque afuera",
            )
            .inside(open)
            .after("out")
            .check("Battery and control units protected", "Batería y módulos protegidos")
            .check("Extinguisher at hand", "Extintor a la mano")
            .caution(&[HotWork, Fuel, Lift]),
            step("fire-watch", "body", 10, "Look again after hot work", "Revisar después de soldar")
                .inside(open)
                .cured("weld", FIRE_WATCH_MINUTES)
                .check("No smoulder, no smell, nothing warm", "Sin brasa, sin olor, nada caliente")
                .caution(&[HotWork]),
            closing(step("refit", "mechanical", 120, "Refit the fuel tank", "Montar el tanque"))
                .on("lift")
                .closes(open)
                .after("fire-watch")
                .check("Filled and looked at: no leak", "Lleno y revisado: sin fugas")
                .caution(&[Lift, UnexpectedStart, Fuel]),
        ],
    )
}

fn interior_out() -> Routing {
    let open = "interior-out";
    routing(
        open,
        "Interior out",
        "Sacar interiores",
        vec![
            step("out", "assembly", 90, "Take the interior out", "Sacar los interiores")
                .opens(open)
                .check(
                    "Power off, the maker's waiting time kept before airbags are touched",
                    "Sin corriente y con la espera del fabricante antes de tocar bolsas de aire",
                )
                .check("Connectors and clips photographed", "Fotos de conectores y grapas")
                .caution(&[Airbag, UnexpectedStart]),
            sealing(step("work", "body", 120, "Work inside, interior out", "Trabajo adentro sin interiores"))
                .inside(open)
                .after("out")
                .caution(&[HotWork]),
            step("back", "assembly", 120, "Put the interior back", "Montar los interiores")
                .closes(open)
                .cured("work", SEALER_CURE_MINUTES)
                .check("Nothing inside is undone", "No queda nada pendiente adentro")
                .check("Photographed what will be hidden", "Fotos de lo que va a quedar tapado")
                .check(
                    "Seat and belt bolts to the maker's torque",
                    "Tornillos de asientos y cinturones con el torque del fabricante",
                )
                .check("Airbag lamp goes out", "El testigo de bolsas de aire se apaga")
                .caution(&[Airbag]),
        ],
    )
}

fn refrigerant_out() -> Routing {
    let open = "refrigerant-out";
    routing(
        open,
        "Refrigerant out and back",
        "Sacar y cargar refrigerante",
        vec![
            step("recover", "mechanical", 30, "Recover the refrigerant", "Recuperar el refrigerante")
                .opens(open)
                .only("refrigerant")
                .check(
                    "Weight recovered written down; lines closed",
                    "Peso recuperado anotado; líneas tapadas",
                )
                .caution(&[Refrigerant]),
            step(
                "charge",
                "mechanical",
                45,
                "Evacuate, charge and look for leaks",
                "Hacer vacío, cargar y buscar fugas",
            )
            .closes(open)
            .only("refrigerant")
            .after("recover")
            .check("Seals renewed", "Sellos cambiados")
            .check("Charged by weight as on the vehicle's label", "Cargado por peso según la etiqueta")
            .caution(&[Refrigerant, UnexpectedStart]),
        ],
    )
}

fn high_voltage_safe() -> Routing {
    use domain::stored::Caution::HighVoltage;
    let open = "high-voltage-off";
    routing(
        "high-voltage-safe",
        "High voltage isolated and live again",
        "Aislar y reconectar alto voltaje",
        vec![
            step("isolate", "mechanical", 40, "Isolate and prove dead", "Aislar y comprobar sin tensión")
                .opens(open)
                .only("high-voltage")
                .check(
                    "Isolated by the maker's procedure, plug kept by who did it",
                    "Aislado según el fabricante, conector guardado por quien lo hizo",
                )
                .check("Proven dead, waiting time kept", "Comprobado sin tensión, espera cumplida")
                .check("Sign on the vehicle", "Letrero en el vehículo")
                .caution(&[HighVoltage, UnexpectedStart]),
            step("live", "mechanical", 40, "Make live again and read faults", "Reconectar y leer fallas")
                .closes(open)
                .only("high-voltage")
                .after("isolate")
                .check("Insulation looked at and measured", "Aislamiento revisado y medido")
                .check("Nobody works on the vehicle", "Nadie trabaja en el vehículo")
                .caution(&[HighVoltage]),
        ],
    )
}
