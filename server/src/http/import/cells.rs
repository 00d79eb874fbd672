//! One line of the table as the repair order it means, or what is wrong with which cell.
//!
//! Must not know: whether the shop takes it (that is decided by `domain`).

use std::collections::BTreeMap;

use domain::Ms;
use domain::ids::{PlaceId, RoutingId};
use domain::state::State;
use domain::stored::{OpenOrder, Stage, Words};
use domain::vin;
use jiff::tz::TimeZone;

use super::dates::{self, Edge};
use super::table::Line;

#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Field {
    Number,
    Vehicle,
    Vin,
    Promise,
    Arrived,
    TowedIn,
    Weight,
    Stage,
    Place,
    SoldHours,
    Routings,
}

impl Field {
    pub const ALL: [Field; 11] = [
        Field::Number,
        Field::Vehicle,
        Field::Vin,
        Field::Promise,
        Field::Arrived,
        Field::TowedIn,
        Field::Weight,
        Field::Stage,
        Field::Place,
        Field::SoldHours,
        Field::Routings,
    ];

    pub fn word(self) -> &'static str {
        match self {
            Field::Number => "number",
            Field::Vehicle => "vehicle",
            Field::Vin => "vin",
            Field::Promise => "promise",
            Field::Arrived => "arrived",
            Field::TowedIn => "towed_in",
            Field::Weight => "weight",
            Field::Stage => "stage",
            Field::Place => "place",
            Field::SoldHours => "sold_hours",
            Field::Routings => "routings",
        }
    }

    pub fn required(self) -> bool {
        matches!(self, Field::Number | Field::Vehicle)
    }

    /// Titles under which shops keep it, in plain words; more telling ones first.
    fn titles(self) -> &'static [&'static str] {
        match self {
            Field::Number => &[
                "number",
                "ro number",
                "ro",
                "ro no",
                "repair order",
                "repair order number",
                "order number",
                "order",
                "job number",
                "job",
                "no",
                "numero",
                "numero de orden",
                "orden",
                "orden de reparacion",
                "folio",
            ],
            Field::Vehicle => &[
                "vehicle",
                "vehicle description",
                "description",
                "car",
                "vehiculo",
                "descripcion",
                "descripcion del vehiculo",
                "coche",
                "carro",
                "auto",
            ],
            Field::Vin => &[
                "vin",
                "vehicle identification number",
                "chassis number",
                "bastidor",
                "numero de bastidor",
                "numero de serie",
                "niv",
            ],
            Field::Promise => &[
                "promise",
                "promised",
                "promise date",
                "promised date",
                "promised for",
                "due",
                "due date",
                "delivery date",
                "promesa",
                "prometido",
                "fecha prometida",
                "fecha promesa",
                "fecha de entrega",
                "entrega",
            ],
            Field::Arrived => &[
                "arrived",
                "arrival",
                "arrival date",
                "keys in",
                "date in",
                "in",
                "received",
                "llegada",
                "llegado",
                "fecha de llegada",
                "entrada",
                "fecha de entrada",
                "recibido",
            ],
            Field::TowedIn => &["towed in", "towed", "tow in", "tow", "grua", "en grua", "remolcado"],
            Field::Weight => &["weight", "urgency", "priority", "urgencia", "prioridad", "peso"],
            Field::Stage => &["stage", "status", "state", "etapa", "estado", "situacion"],
            Field::Place => {
                &["place", "location", "stands at", "where", "lugar", "ubicacion", "sitio", "plaza"]
            }
            Field::SoldHours => &[
                "sold hours",
                "hours",
                "hours sold",
                "labor hours",
                "labour hours",
                "horas vendidas",
                "horas",
            ],
            Field::Routings => {
                &["routings", "routing", "work", "jobs", "rutas", "ruta", "trabajos", "trabajo"]
            }
        }
    }
}

/// Small letters and digits, single blanks, no accents: for comparing what people typed.
pub fn plain(text: &str) -> String {
    let letters = text.chars().flat_map(char::to_lowercase).map(|c| match c {
        'á' | 'à' | 'ä' => 'a',
        'é' | 'è' | 'ë' => 'e',
        'í' | 'ì' | 'ï' => 'i',
        'ó' | 'ò' | 'ö' => 'o',
        'ú' | 'ù' | 'ü' => 'u',
        'ñ' => 'n',
        c if c.is_alphanumeric() => c,
        _ => ' ',
    });
    letters.collect::<String>().split_whitespace().collect::<Vec<_>>().join(" ")
}

pub type Mapping = BTreeMap<Field, usize>;

/// Which column is what, by its title; each column for one field.
pub fn guess(columns: &[String]) -> Mapping {
    let plain_columns: Vec<String> = columns.iter().map(|title| plain(title)).collect();
    let mut mapping = Mapping::new();
    for field in Field::ALL {
        let free = |title: &&str| {
            let at = plain_columns.iter().position(|column| column == *title)?;
            (!mapping.values().any(|taken| *taken == at)).then_some(at)
        };
        if let Some(at) = field.titles().iter().find_map(free) {
            mapping.insert(field, at);
        }
    }
    mapping
}

/// How the dates of this table are read.
#[derive(Debug, Clone, Copy)]
pub struct Orders {
    pub promise: dates::Order,
    pub arrived: dates::Order,
}

pub struct Reader<'a> {
    pub state: &'a State,
    pub zone: &'a TimeZone,
    pub mapping: &'a Mapping,
    pub orders: Orders,
    pub meanings: &'a Meanings,
    pub now: Ms,
}

/// What is wrong with a cell.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Wrong {
    /// A word of the program it comes from, as it stands there: the person says once what it means here.
    Word(String),
    Why(String),
}

/// What words of the file mean here, by field and plain word: as somebody would have typed it who knows this
/// shop; nothing, to leave it empty.
pub type Meanings = BTreeMap<(Field, String), String>;

/// The words of a cell: several routings stand in one.
pub fn words_in(field: Field, cell: &str) -> Vec<&str> {
    match field {
        Field::Routings => parts(cell).collect(),
        Field::Stage | Field::Place | Field::TowedIn | Field::Weight => vec![cell],
        _ => Vec::new(),
    }
}

fn parts(cell: &str) -> impl Iterator<Item = &str> {
    cell.split([';', '+', '|', '\n']).map(str::trim).filter(|part| !part.is_empty())
}

/// What one line means.
pub struct Read {
    pub open: OpenOrder,
    pub warnings: Vec<(Field, String)>,
}

impl Reader<'_> {
    pub fn cell<'l>(&self, line: &'l Line, field: Field) -> &'l str {
        let at = self.mapping.get(&field).copied();
        at.and_then(|at| line.cells.get(at)).map_or("", String::as_str)
    }

    /// The word, or what it was said to mean.
    fn meant<'t>(&'t self, field: Field, text: &'t str) -> &'t str {
        self.meanings.get(&(field, plain(text))).map_or(text, String::as_str)
    }

    /// A cell of words, with what they mean.
    fn word<'t>(&'t self, line: &'t Line, field: Field) -> &'t str {
        self.meant(field, self.cell(line, field))
    }

    /// All that is wrong with the line, not only the first.
    pub fn read(&self, line: &Line) -> Result<Read, Vec<(Field, Wrong)>> {
        let mut wrong = Vec::new();
        let mut warnings = Vec::new();
        let wrong_in = std::cell::RefCell::new(&mut wrong);
        let note = |field: Field, why: String| wrong_in.borrow_mut().push((field, Wrong::Why(why)));
        let unknown = |field: Field, word: Wrong| wrong_in.borrow_mut().push((field, word));

        let number = self.cell(line, Field::Number).to_owned();
        if number.is_empty() {
            note(Field::Number, "The number is empty.".into());
        }
        let vehicle = self.cell(line, Field::Vehicle).split_whitespace().collect::<Vec<_>>().join(" ");
        if vehicle.is_empty() {
            note(Field::Vehicle, "What the vehicle looks like is empty.".into());
        }
        let vin = Some(self.cell(line, Field::Vin).to_uppercase()).filter(|vin| !vin.is_empty());
        if let Some(doubt) = vin.as_ref().and_then(|vin| vin::check(vin).err()) {
            warnings.push((Field::Vin, format!("This VIN is doubtful and is kept: {doubt}.")));
        }
        let keep = |field: Field, why: Result<Option<Ms>, String>| match why {
            Ok(at) => at,
            Err(why) => {
                note(field, why);
                None
            }
        };
        let promise = keep(
            Field::Promise,
            self.date(self.cell(line, Field::Promise), self.orders.promise, Edge::Closing),
        );
        let came = keep(
            Field::Arrived,
            self.date(self.cell(line, Field::Arrived), self.orders.arrived, Edge::Opening),
        );

        let stage = stage(self.word(line, Field::Stage))
            .map_err(|why| unknown(Field::Stage, why))
            .unwrap_or_default();
        // Of a vehicle that is booked the same date is when it is expected.
        let expected = stage == Stage::Expected;
        let today = |at: Ms| {
            domain::calendar::local_date(at, self.zone) == domain::calendar::local_date(self.now, self.zone)
        };
        if let Some(at) = came.filter(|at| !expected && *at > self.now && !today(*at)) {
            let date = domain::calendar::local_date(at, self.zone);
            note(
                Field::Arrived,
                format!("{date} is still to come; a vehicle that is booked has the stage «expected»."),
            );
        }
        let towed_in = yes_or_no(self.word(line, Field::TowedIn))
            .map_err(|why| unknown(Field::TowedIn, why))
            .unwrap_or_default();
        let weight = weight(self.word(line, Field::Weight))
            .map_err(|why| unknown(Field::Weight, why))
            .unwrap_or_default();
        let place = self
            .place(self.word(line, Field::Place))
            .map_err(|why| unknown(Field::Place, why))
            .unwrap_or_default();
        let sold_minutes = sold_minutes(self.cell(line, Field::SoldHours))
            .map_err(|why| note(Field::SoldHours, why))
            .unwrap_or_default();
        let routings = self
            .routings(self.cell(line, Field::Routings))
            .map_err(|all| all.into_iter().for_each(|word| unknown(Field::Routings, word)))
            .unwrap_or_default();
        if !wrong.is_empty() {
            return Err(wrong);
        }
        let open = OpenOrder {
            number,
            vehicle,
            vin,
            towed_in,
            weight,
            stage,
            expected_at: came.filter(|_| expected),
            promise,
            place,
            energy: None,
            sold_minutes,
            comeback_of: None,
            routings,
            arrived_at: came.filter(|_| !expected).map(|at| at.min(self.now)),
        };
        Ok(Read { open, warnings })
    }

    fn date(&self, text: &str, order: dates::Order, edge: Edge) -> Result<Option<Ms>, String> {
        if text.is_empty() {
            return Ok(None);
        }
        let at = dates::read(text, order).and_then(|when| dates::instant(when, edge, self.state, self.zone));
        at.map(Some).ok_or_else(|| {
            format!(
                "«{}» is no date that can be read; write it as 2026-03-05 or 2026-03-05 14:30.",
                short(text)
            )
        })
    }

    fn place(&self, text: &str) -> Result<Option<PlaceId>, Wrong> {
        let wanted = plain(text);
        if wanted.is_empty() {
            return Ok(None);
        }
        let places = self.state.places.values().filter(|place| !place.retired);
        let found = places
            .filter(|place| place.id.0 == text || named(&place.title, &wanted))
            .map(|place| place.id.clone());
        found.min().map(Some).ok_or_else(|| Wrong::Word(text.to_owned()))
    }

    /// Several are separated by a semicolon, a plus, a bar or a line break; a title may hold a comma.
    fn routings(&self, text: &str) -> Result<Vec<RoutingId>, Vec<Wrong>> {
        let one = |text: &str| {
            let wanted = plain(text);
            let routings = self.state.routings.values().filter(|routing| !routing.retired);
            let found =
                routings.filter(|r| r.id.0 == text.trim() || named(&r.title, &wanted)).map(|r| r.id.clone());
            found.min()
        };
        let (mut all, mut wrong) = (Vec::new(), Vec::new());
        for part in parts(text) {
            let meant = self.meant(Field::Routings, part);
            if meant.is_empty() {
                continue;
            }
            let filled = |part: &&str| !part.trim().is_empty();
            let listed = || meant.split(',').filter(filled).map(one).collect::<Option<Vec<_>>>();
            match one(meant).map(|id| vec![id]).or_else(listed) {
                Some(ids) => all.extend(ids),
                None => wrong.push(Wrong::Word(part.to_owned())),
            }
        }
        if wrong.is_empty() { Ok(all) } else { Err(wrong) }
    }
}

fn named(title: &Words, wanted: &str) -> bool {
    !wanted.is_empty()
        && (plain(&title.text) == wanted || title.es.as_ref().is_some_and(|es| plain(es) == wanted))
}

/// As much of a cell as a sentence can carry.
pub fn short(text: &str) -> String {
    if text.chars().count() <= 40 { text.to_owned() } else { text.chars().take(39).chain(['…']).collect() }
}

fn yes_or_no(text: &str) -> Result<bool, Wrong> {
    match plain(text).as_str() {
        "" | "no" | "n" | "false" | "falso" | "0" => Ok(false),
        "yes" | "y" | "true" | "1" | "x" | "si" | "s" | "verdadero" | "towed" | "grua" => Ok(true),
        _ => Err(Wrong::Word(text.to_owned())),
    }
}

fn weight(text: &str) -> Result<u32, Wrong> {
    match plain(text).as_str() {
        "" | "2" | "normal" => Ok(2),
        "1" | "low" | "can wait" | "baja" | "puede esperar" => Ok(1),
        "4" | "high" | "urgent" | "alta" | "urgente" => Ok(4),
        _ => Err(Wrong::Word(text.to_owned())),
    }
}

fn stage(text: &str) -> Result<Stage, Wrong> {
    match plain(text).as_str() {
        "" | "arrived" | "in" | "here" | "in shop" | "llegado" | "en taller" => Ok(Stage::Arrived),
        "expected" | "booked" | "scheduled" | "esperado" | "citado" | "programado" => Ok(Stage::Expected),
        "authorised" | "authorized" | "approved" | "autorizado" | "aprobado" => Ok(Stage::Authorised),
        "away" | "sublet" | "fuera" => Ok(Stage::Away),
        "ready" | "done" | "listo" | "terminado" => Ok(Stage::Ready),
        "delivered" | "closed" | "picked up" | "entregado" | "cerrado" => {
            Err(Wrong::Why("It has been delivered; only open orders are brought over.".into()))
        }
        "stopped" | "total loss" | "withdrawn" | "detenido" | "perdida total" => Ok(Stage::Stopped),
        _ => Err(Wrong::Word(text.to_owned())),
    }
}

/// More than any job was ever sold for: a slip, or another unit.
const SOLD_HOURS_MAX: f64 = 1_000.0;

fn sold_minutes(text: &str) -> Result<Option<u32>, String> {
    let bare = text.trim().trim_end_matches(['h', 'H']).trim().replace(',', ".");
    if bare.is_empty() {
        return Ok(None);
    }
    match bare.parse::<f64>() {
        Ok(hours) if (0.0..=SOLD_HOURS_MAX).contains(&hours) => Ok(Some((hours * 60.0).round() as u32)),
        _ => Err(format!("«{}» is no number of hours from 0 to {SOLD_HOURS_MAX}.", short(text))),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn columns(titles: &[&str]) -> Vec<String> {
        titles.iter().map(|title| (*title).to_owned()).collect()
    }

    #[test]
    fn columns_are_known_by_usual_titles_in_both_languages() {
        let english =
            guess(&columns(&["Customer", "RO #", "Vehicle", "VIN", "Date In", "Due Date", "Hours"]));
        let spanish = guess(&columns(&[
            "Cliente",
            "Número de orden",
            "Descripción",
            "Bastidor",
            "Fecha de entrada",
            "Fecha de entrega",
            "Horas",
        ]));
        let wanted = [
            (Field::Number, 1),
            (Field::Vehicle, 2),
            (Field::Vin, 3),
            (Field::Promise, 5),
            (Field::Arrived, 4),
            (Field::SoldHours, 6),
        ];
        assert_eq!(english, wanted.into());
        assert_eq!(spanish, wanted.into());
        assert!(guess(&columns(&["a", "b"])).is_empty());
        // One column is one thing.
        assert_eq!(guess(&columns(&["Order"])), [(Field::Number, 0)].into());
    }

    #[test]
    fn words_and_numbers_are_read_as_people_write_them() {
        assert_eq!(yes_or_no("Sí"), Ok(true));
        assert_eq!(yes_or_no(""), Ok(false));
        assert!(yes_or_no("maybe").is_err());
        assert_eq!((weight("Urgente"), weight(""), weight("1")), (Ok(4), Ok(2), Ok(1)));
        assert!(weight("3").is_err());
        assert_eq!(stage("Authorized"), Ok(Stage::Authorised));
        assert!(matches!(stage("Delivered"), Err(Wrong::Why(why)) if why.contains("open orders")));
        assert_eq!(stage("Body"), Err(Wrong::Word("Body".into())));
        assert_eq!(sold_minutes("12,5"), Ok(Some(750)));
        assert_eq!(sold_minutes("8.25 h"), Ok(Some(495)));
        assert!(
            sold_minutes("-1").is_err() && sold_minutes("NaN").is_err() && sold_minutes("1.234,5").is_err()
        );
    }
}
