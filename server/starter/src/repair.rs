//! The body's and the painters' own work: teardown, structure, panels, refinish.

use domain::stored::Caution::{Airbag, HotWork, Pulling, Spraying, UnexpectedStart};
use domain::stored::Routing;

use super::draft::{routing, step};

pub(super) fn routings() -> Vec<Routing> {
    vec![
        keys_in(),
        teardown(),
        structure(),
        panel_repair(),
        panel_joined(),
        bolt_on(),
        refinish(),
        loose_part(),
    ]
}

fn keys_in() -> Routing {
    routing(
        "keys-in",
        "Keys in",
        "Recepción",
        vec![
            step("look", "office", 20, "Look round with the customer", "Recorrido con el cliente")
                .check(
                    "Photos of all sides, mileage, dash lights",
                    "Fotos de todos los lados, kilometraje, testigos",
                )
                .check(
                    "What rolls and what does not; who holds the keys",
                    "Qué rueda y qué no; quién tiene las llaves",
                ),
            step("scan", "mechanical", 20, "Pre-repair scan", "Escaneo inicial")
                .after("look")
                .beside()
                .check("Faults kept with the order", "Fallas guardadas con la orden"),
        ],
    )
}

fn teardown() -> Routing {
    routing(
        "teardown",
        "Teardown and repair planning",
        "Desarme y plan de reparación",
        vec![
            step(
                "teardown",
                "body",
                120,
                "Teardown, damage mapped and measured",
                "Desarme, daño marcado y medido",
            )
            .check("Hidden damage photographed", "Fotos del daño oculto")
            .check("Parts and one-time fasteners listed", "Partes y tornillos de un solo uso anotados")
            .caution(&[UnexpectedStart, Airbag]),
            step("plan", "office", 40, "Repair plan and supplement", "Plan de reparación y suplemento")
                .after("teardown")
                .beside()
                .check(
                    "Maker's procedures at hand for every joint",
                    "Procedimientos del fabricante a la mano para cada unión",
                ),
            step(
                "mirror",
                "parts",
                30,
                "New parts laid beside the old ones",
                "Comparar partes nuevas con las viejas",
            )
            .after("plan")
            .loose_part()
            .check(
                "Layers at every flange, small pieces to move over",
                "Capas en cada pestaña, piezas chicas que pasar",
            )
            .check("Wrong or damaged deliveries sent back", "Partes equivocadas o dañadas devueltas"),
        ],
    )
}

/// ±3 mm unless the maker says otherwise, closer for suspension mounts [CP].
fn structure() -> Routing {
    let open = "on-the-bench";
    routing(
        "structure",
        "Structure on the frame bench",
        "Estructura en la máquina de enderezar",
        vec![
            step("set-up", "body", 90, "Set up and measure on the bench", "Montar y medir en el banco")
                .on("bench")
                .opens(open)
                .check("Reference points in an undamaged area", "Puntos de referencia en zona sin daño")
                .check("Clamps tight, measured before the pull", "Mordazas apretadas, medido antes de jalar")
                .caution(&[UnexpectedStart]),
            step("pull", "body", 150, "Pull and measure", "Jalar y medir")
                .inside(open)
                .after("set-up")
                .check(
                    "Safety cable on clamps and chains, nobody in the line of pull",
                    "Cable de seguridad en mordazas y cadenas, nadie en la línea de jalón",
                )
                .check("Within ±3 mm or the maker's value", "Dentro de ±3 mm o del valor del fabricante")
                .caution(&[Pulling]),
            step("weld", "body", 240, "Cut out, test-fit and weld in", "Cortar, presentar y soldar")
                .inside(open)
                .after("pull")
                .check("Test coupon of the day", "Probeta del día")
                .check("As many joints as the maker set", "Tantos puntos como puso el fabricante")
                .check("Battery and control units protected", "Batería y módulos protegidos")
                .caution(&[HotWork, Airbag]),
            step(
                "off",
                "body",
                45,
                "Measure again and take it off the bench",
                "Medir otra vez y bajar del banco",
            )
            .on("bench")
            .closes(open)
            // The fire watch, 29 CFR 1910.252(a)(2)(iii) [STD].
            .cured("weld", 30)
            .check("Sheet of measures kept with the order", "Hoja de medidas guardada con la orden")
            .check("Looked again 30 minutes after hot work", "Revisado 30 minutos después de soldar"),
        ],
    )
}

fn panel_repair() -> Routing {
    routing(
        "panel-repair",
        "Panel repair",
        "Reparar panel",
        vec![
            step("repair", "body", 150, "Pull out, fill and shape", "Sacar golpe, masilla y forma")
                .check("Bare metal only where the repair is", "Metal desnudo sólo en la reparación")
                .caution(&[Spraying]),
            step("fit", "body", 30, "Gap and flush looked at", "Revisar luces y niveles")
                .after("repair")
                .check("Left against right, about 1 mm", "Izquierda contra derecha, como 1 mm"),
        ],
    )
}

fn panel_joined() -> Routing {
    routing(
        "panel-joined",
        "Outer panel renewed",
        "Cambiar panel exterior",
        vec![
            step("cut", "body", 120, "Drill out and prepare flanges", "Despuntar y preparar pestañas")
                .check(
                    "Heat-sensitive things shielded, who works beside is warned",
                    "Lo sensible al calor tapado, avisado quien trabaja al lado",
                )
                .caution(&[HotWork, Airbag]),
            step("test-fit", "body", 60, "Test fit with lamps and lid", "Presentar con calaveras y cajuela")
                .after("cut")
                .check("Gap and flush, then apart again", "Luces y niveles, luego desarmar otra vez"),
            step("join", "body", 180, "Join by the maker's method", "Unir con el método del fabricante")
                .after("test-fit")
                .check("Test coupon of the day", "Probeta del día")
                .check(
                    "Zinc-rich or weld-through primer where the maker says so",
                    "Primario donde el fabricante lo pide",
                )
                .caution(&[HotWork, Airbag]),
            step("seal", "body", 60, "Prime and seal outer seams", "Primario y sellador en juntas de afuera")
                .cured("join", 30)
                .check("Photographed the bare seam", "Foto de la junta limpia"),
        ],
    )
}

fn bolt_on() -> Routing {
    routing(
        "bolt-on",
        "Bolted panels off and fitted",
        "Quitar y presentar partes atornilladas",
        vec![
            step("fit", "body", 90, "Bolt on and set gaps", "Atornillar y ajustar luces")
                .check("Left against right, about 1 mm", "Izquierda contra derecha, como 1 mm"),
        ],
    )
}

/// Flash, purge, about 30 minutes at 60 °C metal, cool-down [CP]; the data sheet rules, and with high
/// voltage on board the maker's limit.
const BAKE_MINUTES: u32 = 50;

fn refinish() -> Routing {
    let open = "in-the-booth";
    routing(
        "refinish",
        "Refinish",
        "Pintura",
        vec![
            step(
                "colour",
                "refinish",
                25,
                "Colour match and spray-out card",
                "Igualar color y tarjeta de prueba",
            )
            .loose_part()
            .caution(&[Spraying]),
            step("prep", "refinish", 90, "Sand and clean", "Lijar y limpiar").on("prep").caution(&[Spraying]),
            step("prime", "refinish", 40, "Prime", "Primario")
                .on("prep")
                .one_go()
                // Bare metal should not stand longer [CP].
                .within("prep", 480)
                .caution(&[Spraying]),
            step("block", "refinish", 60, "Block and final sand", "Lijar con bloque y acabado")
                .on("prep")
                .cured("prime", 60)
                .check("Guide coat gone everywhere", "Guía de lijado pareja"),
            step("mask", "refinish", 45, "Mask", "Enmascarar").on("prep").after("block"),
            step(
                "paint",
                "refinish",
                90,
                "Paint: sealer, base, clear; start the bake",
                "Pintar: sellador de pintura, base, transparente; empezar a hornear",
            )
            .on("booth")
            .opens(open)
            .one_go()
            .only("spray-trained")
            .after("colour")
            .after("mask")
            .check("Bake limit of the vehicle looked up", "Límite de horneado del vehículo revisado")
            .check("No phones in the booth while spraying", "Sin teléfonos en la cabina al pintar")
            .caution(&[Spraying]),
            step("unload", "refinish", 15, "Unload and unmask", "Sacar y desenmascarar")
                .on("booth")
                .closes(open)
                .cured("paint", BAKE_MINUTES),
            step("polish", "refinish", 45, "Denib and polish", "Quitar basuras y pulir")
                .cured("unload", 60)
                .check("Looked at in daylight", "Revisado a la luz del día"),
        ],
    )
}

fn loose_part() -> Routing {
    routing(
        "loose-part",
        "Loose part painted off the vehicle",
        "Pintar parte suelta",
        vec![
            step("prep", "refinish", 60, "Prepare the loose part", "Preparar la parte suelta")
                .loose_part()
                .caution(&[Spraying]),
            step(
                "paint",
                "refinish",
                90,
                "Paint and bake the loose part",
                "Pintar y hornear la parte suelta",
            )
            .on("booth")
            .loose_part()
            .one_go()
            .only("spray-trained")
            .after("prep")
            .check("Bake limit of the part looked up", "Límite de horneado de la parte revisado")
            .caution(&[Spraying]),
            step("polish", "refinish", 20, "Denib the loose part", "Quitar basuras de la parte suelta")
                .loose_part()
                .cured("paint", 60),
        ],
    )
}
