//! From the last bake to keys back, and what remains of a vehicle that is not repaired.

use domain::stored::Caution::{Airbag, Driving, HighVoltage, Lift, UnexpectedStart};
use domain::stored::Routing;

use super::draft::{routing, step};

pub(super) fn routings() -> Vec<Routing> {
    vec![reassembly(), alignment(), calibration(), delivery(), put_back(), comeback()]
}

/// Cavity wax closes the holes after the last bake and before trim [CP].
fn reassembly() -> Routing {
    routing(
        "reassembly",
        "Cavity wax, then reassembly",
        "Cera de cavidades y armado",
        vec![
            step("wax", "body", 25, "Cavity wax", "Cera de cavidades")
                .check("Every cavity that was opened or heated", "Cada cavidad abierta o calentada")
                .check("Photographed before trim covers it", "Foto antes de taparla"),
            step("trim", "assembly", 120, "Reassembly", "Armado")
                .after("wax")
                .check("Fasteners to the maker's torque", "Tornillos con el torque del fabricante")
                .check("Lamps, locks, belts, windows work", "Luces, chapas, cinturones y vidrios funcionan")
                .caution(&[Airbag]),
        ],
    )
}

fn alignment() -> Routing {
    routing(
        "alignment",
        "Alignment",
        "Alineación",
        vec![
            step("align", "mechanical", 60, "Alignment", "Alineación")
                .on("alignment")
                .check("Printout kept with the order", "Hoja de medidas guardada con la orden")
                .check("Calibration owed is written down", "Anotada la calibración que falta")
                .caution(&[Lift]),
        ],
    )
}

fn calibration() -> Routing {
    routing(
        "calibration",
        "Calibration after glass, bumper or alignment",
        "Calibración después de vidrio, fascia o alineación",
        vec![
            step("calibrate", "mechanical", 75, "Calibrate cameras and radar", "Calibrar cámaras y radar")
                .only("calibration")
                .check(
                    "Alignment done, tyres and load as the maker says",
                    "Alineado, llantas y carga según el fabricante",
                )
                .check("Report kept with the order", "Reporte guardado con la orden")
                .caution(&[UnexpectedStart]),
        ],
    )
}

fn delivery() -> Routing {
    routing(
        "delivery",
        "Scan, road test, detail, final check",
        "Escaneo, prueba, detallado y revisión final",
        vec![
            step("scan", "mechanical", 25, "Post-repair scan", "Escaneo final")
                .check("No faults left, report kept", "Sin fallas, reporte guardado"),
            step("road-test", "mechanical", 20, "Road test", "Prueba de manejo")
                .after("scan")
                .caution(&[Driving])
                .check("Pulls, noises, lamps, driver aids", "Si jala, ruidos, testigos, asistencias"),
            step("detail", "detail", 90, "Detail", "Detallado").after("road-test"),
            step("final", "office", 20, "Final check", "Revisión final")
                .after("detail")
                .check(
                    "Every line of the order looked at on the vehicle",
                    "Cada línea de la orden revisada en el vehículo",
                )
                .check("Fuel cap, wheel bolts, personal things", "Tapón, birlos, objetos personales"),
        ],
    )
}

fn put_back() -> Routing {
    routing(
        "put-back",
        "Not repaired: make safe and put back",
        "No se repara: asegurar y armar",
        vec![
            step("safe", "body", 60, "Make safe, openings covered", "Asegurar, tapar aberturas")
                .check(
                    "Battery, airbags and high voltage safe",
                    "Batería, bolsas de aire y alto voltaje asegurados",
                )
                .caution(&[Airbag, HighVoltage, UnexpectedStart]),
            step(
                "back",
                "assembly",
                45,
                "Loose parts back into the vehicle",
                "Partes sueltas adentro del vehículo",
            )
            .after("safe"),
        ],
    )
}

fn comeback() -> Routing {
    routing(
        "comeback",
        "Comeback",
        "Regreso",
        vec![
            step("look", "office", 20, "Look at it with the customer", "Revisar con el cliente").check(
                "What is wrong, in the customer's words, photographed",
                "Qué está mal, en palabras del cliente, con fotos",
            ),
            step("cause", "body", 45, "Find the cause", "Encontrar la causa")
                .after("look")
                .check("The card that caused it is named", "Anotada la tarjeta que lo causó"),
        ],
    )
}
