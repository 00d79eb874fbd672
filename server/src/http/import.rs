//! Bringing over the repair orders that are open now, from a CSV.
//!
//! Invariants: a dry run decides every line by the shop's own rules, on the state after the lines before it,
//! and makes nothing. A real run makes all good lines; if there is a bad one, it makes nothing unless told to
//! leave bad lines out. Repeating it makes nothing twice, because numbers are unique.

mod cells;
mod dates;
mod table;

use std::collections::BTreeMap;

use actix_web::{HttpResponse, http::StatusCode, web as routes};
use domain::Ms;
use domain::calendar::{local_date, open_day};
use domain::decide::{Code, Context, Refusal, decide};
use domain::fold;
use domain::ids::OpId;
use domain::stored::{Act, OpenOrder, Role, Stage, Verdict};
use jiff::Timestamp;
use jiff::civil::Date;
use jiff::tz::TimeZone;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::error::{ApiError, ErrorBody};
use super::{Answer, Shared, blocking};
use crate::auth::Who;
use crate::limits::IMPORT_LINES_MAX;
use crate::shop::{OwnOp, View};
use cells::{Field, Mapping, Meanings, Orders, Reader, Wrong, short};
use dates::Edge;
use table::Table;

/// Orders shown before any is made.
const PREVIEW_MAX: usize = 20;

pub fn configure(config: &mut routes::ServiceConfig) {
    config.route("/import/orders", routes::post().to(orders));
}

/// Orders from a table, as CSV (RFC 4180).
#[derive(Deserialize, ToSchema)]
pub struct ImportOrders {
    /// The file as text.
    pub csv: String,
    /// Field → title of its column. None or empty: guessed from the titles.
    #[serde(default)]
    pub mapping: BTreeMap<String, String>,
    /// Only look; create nothing.
    #[serde(default)]
    pub dry_run: bool,
    /// Create the good lines although there are bad ones.
    #[serde(default)]
    pub skip_bad: bool,
    /// What words of the file mean in this shop, by field and word: a stage, "yes" or "no", an urgency, the id
    /// of a place or routing; empty leaves the word out.
    #[serde(default)]
    pub words: BTreeMap<String, BTreeMap<String, String>>,
}

/// What the table says, and what can be brought over.
#[derive(Serialize, ToSchema)]
pub struct ImportReport {
    /// Titles of the columns.
    pub columns: Vec<String>,
    /// What can be brought over.
    pub fields: Vec<ImportField>,
    /// As it was given or guessed.
    pub mapping: BTreeMap<&'static str, String>,
    /// Lines with something in them, after the titles.
    pub rows: usize,
    /// Lines that can be brought over.
    pub good: usize,
    /// One for each line that cannot be brought over.
    pub bad: Vec<ImportLine>,
    /// Words that this shop does not know, each once, the most frequent first, with the meaning they were
    /// given.
    pub words: Vec<ImportWord>,
    /// Lines that lack nothing but the meaning of such words.
    pub unsaid: usize,
    /// Lines that are brought over all the same.
    pub warnings: Vec<ImportLine>,
    /// The first good ones, as they were understood.
    pub preview: Vec<ImportPreview>,
    /// Orders that were opened; not in a dry run.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub made: Option<usize>,
}

/// Something an order can have.
#[derive(Serialize, ToSchema)]
pub struct ImportField {
    /// Its stable name.
    pub field: &'static str,
    /// Whether every line must have it.
    pub required: bool,
}

/// A word of the file that means nothing to this shop yet.
#[derive(Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct ImportWord {
    /// The field it stands in.
    pub field: &'static str,
    /// As it stands in the file where it comes first.
    pub word: String,
    /// In how many lines.
    pub count: usize,
    /// What it was said to mean; absent: nobody has said.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub meaning: Option<String>,
}

/// Something about one line of the file.
#[derive(Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct ImportLine {
    /// Counted as a text editor does.
    pub line: u64,
    /// Title of the column; absent: the line as a whole.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub column: Option<String>,
    /// An English sentence that says what to do.
    pub why: String,
}

/// Times in the shop's zone, for people to look at.
#[derive(Serialize, ToSchema)]
pub struct ImportPreview {
    /// The order's number.
    pub number: String,
    /// What one sees when looking at the vehicle.
    pub vehicle: String,
    /// Vehicle identification number.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub vin: Option<String>,
    /// When it is promised.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub promise: Option<String>,
    /// When its keys came in.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub arrived: Option<String>,
    /// Whether it came on a tow truck.
    pub towed_in: bool,
    /// Urgency: 1, 2 (normal) or 4.
    pub weight: u32,
    /// Where it is in its visit.
    pub stage: Stage,
    /// Where it stands.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub place: Option<String>,
    /// Hours of labour sold.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub sold_hours: Option<f64>,
    /// What is laid out at once.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub routings: Option<String>,
}

/// Nothing was made: the error, and everything a dry run says.
#[derive(Serialize, ToSchema)]
pub struct ImportRefused {
    /// Why nothing was made.
    #[serde(flatten)]
    pub error: ErrorBody,
    /// What a dry run would say.
    #[serde(flatten)]
    pub report: ImportReport,
}

#[utoipa::path(post, path = "/api/v1/import/orders", request_body = ImportOrders, tag = "import",
    responses((status = 200, body = ImportReport), (status = 403, body = ErrorBody), (status = 413, body = ErrorBody),
        (status = 422, body = ImportRefused)))]
pub async fn orders(app: Shared, who: Who, body: routes::Json<ImportOrders>) -> Answer {
    if who.role < Role::Planner {
        return Err(ApiError::forbidden("Only a planner or manager can bring over repair orders."));
    }
    let ImportOrders { csv, mapping, dry_run, skip_bad, words } = body.into_inner();
    let (shop, person) = (app.shop.clone(), who.clone());
    let looked = blocking(move || {
        let table = table::read(&csv).map_err(|why| ApiError::new(400, "csv", why))?;
        if table.lines.len() > IMPORT_LINES_MAX {
            let message =
                format!("At most {IMPORT_LINES_MAX} orders are brought over at once; split the file.");
            return Err(ApiError::new(413, "too_large", message));
        }
        Ok(look(&table, (&mapping, &words), &shop.view(), &person, shop.clock.now()))
    });
    let Looked { mut report, orders } = looked.await??;
    if dry_run {
        return Ok(HttpResponse::Ok().json(report));
    }
    let bad = report.bad.len() + report.unsaid;
    if bad > 0 && !skip_bad {
        let message = format!(
            "{bad} of {} lines cannot be brought over, so nothing was; put them right or leave them out.",
            report.rows
        );
        let error = ApiError::new(422, "bad_lines", message).body;
        return Ok(
            HttpResponse::build(StatusCode::UNPROCESSABLE_ENTITY).json(ImportRefused { error, report })
        );
    }
    let (lines, ops): (Vec<u64>, Vec<OwnOp>) = orders
        .into_iter()
        .map(|Checked { line, id, open }| {
            (line, OwnOp { by: who.person, role: who.role, id, act: Act::OpenOrder(open), at: None })
        })
        .unzip();
    let made = app.shop.own(ops).await?.ops;
    report.made = Some(made.iter().filter(|op| op.verdict == Verdict::Applied).count());
    // Between the check and the creation somebody else may have used a number.
    for (line, op) in lines.into_iter().zip(made).filter(|(_, op)| op.verdict == Verdict::Refused) {
        report.good -= 1;
        report.bad.push(ImportLine { line, column: None, why: op.message.unwrap_or_default() });
    }
    Ok(HttpResponse::Ok().json(report))
}

struct Looked {
    report: ImportReport,
    orders: Vec<Checked>,
}

/// A good line.
struct Checked {
    line: u64,
    id: OpId,
    open: OpenOrder,
}

/// Field → column, and what words mean: as they came.
type Said<'a> = (&'a BTreeMap<String, String>, &'a BTreeMap<String, BTreeMap<String, String>>);

fn look(table: &Table, (said, words): Said<'_>, view: &View, who: &Who, now: Ms) -> Looked {
    let (mapping, mut bad) = mapping(table, said);
    let meanings = meanings(words);
    let mut words = Words::default();
    let mut unsaid = 0;
    let title = |field: Field| mapping.get(&field).map(|at| table.columns[*at].clone());
    let mut warnings = Vec::new();
    let orders = date_orders(table, &mapping, view, &mut warnings);
    let reader =
        Reader { state: &view.state, zone: &view.zone, mapping: &mapping, orders, meanings: &meanings, now };
    let mut state = view.state.clone();
    let mut checked: Vec<Checked> = Vec::new();
    // Without its required columns no line can be read, and saying so once is enough.
    let lines = if bad.is_empty() { table.lines.as_slice() } else { &[] };
    for line in lines {
        let refuse = |field: Option<Field>, why: String| ImportLine {
            line: line.number,
            column: field.and_then(title),
            why,
        };
        if let Some(why) = &line.wrong {
            bad.push(refuse(None, why.clone()));
            continue;
        }
        for field in Field::ALL {
            let said = cells::words_in(field, reader.cell(line, field)).into_iter();
            said.filter(|word| meanings.contains_key(&(field, cells::plain(word))))
                .for_each(|word| words.count(field, word));
        }
        let mut read = match reader.read(line) {
            Ok(read) => read,
            Err(wrong) => {
                let mut whys = Vec::new();
                for (field, wrong) in wrong {
                    match wrong {
                        Wrong::Word(word) => words.count(field, &word),
                        Wrong::Why(why) => whys.push((field, why)),
                    }
                }
                match whys.first() {
                    Some((field, _)) => bad.push(refuse(Some(*field), in_one(&whys, title))),
                    None => unsaid += 1,
                }
                continue;
            }
        };
        if let Some(doubt) = can_be_promised(&mut read.open, view, now) {
            read.warnings.push((Field::Promise, doubt));
        }
        let id = OpId(uuid::Uuid::now_v7());
        let context = Context {
            by: who.person,
            role: who.role,
            op: id,
            at: now,
            uncertain: false,
            now,
            zone: &view.zone,
        };
        let act = Act::OpenOrder(read.open.clone());
        match decide(&state, &act, &[], &context) {
            Ok(events) => {
                for event in &events {
                    fold::fold(&mut state, event, &mut fold::Changed::new());
                }
                warnings.extend(read.warnings.into_iter().map(|(field, why)| refuse(Some(field), why)));
                checked.push(Checked { line: line.number, id, open: read.open });
            }
            Err(refusal) => {
                let same = checked.iter().find(|other| other.open.number.trim() == read.open.number.trim());
                bad.push(refuse(field_of(&refusal), why_of(&refusal, same.map(|other| other.line))));
            }
        }
    }
    let preview = checked.iter().take(PREVIEW_MAX).map(|order| preview(&order.open, view)).collect();
    let report = ImportReport {
        columns: table.columns.clone(),
        fields: Field::ALL.map(|f| ImportField { field: f.word(), required: f.required() }).into(),
        mapping: mapping.iter().map(|(field, at)| (field.word(), table.columns[*at].clone())).collect(),
        rows: table.lines.len(),
        good: checked.len(),
        bad,
        words: words.listed(&meanings),
        unsaid,
        warnings,
        preview,
        made: None,
    };
    Looked { report, orders: checked }
}

/// Only fields of words; dates and numbers are read one by one.
fn meanings(said: &BTreeMap<String, BTreeMap<String, String>>) -> Meanings {
    let of = |(field, words): (&String, &BTreeMap<String, String>)| {
        let field = Field::ALL.into_iter().find(|f| f.word() == field);
        let words: Vec<(String, String)> =
            words.iter().map(|(word, meaning)| (cells::plain(word), meaning.trim().to_owned())).collect();
        field.into_iter().flat_map(move |field| words.clone().into_iter().map(move |(w, m)| ((field, w), m)))
    };
    said.iter().flat_map(of).collect()
}

/// Words that were met: as they first stand in the file, and in how many lines.
#[derive(Default)]
struct Words(BTreeMap<(Field, String), (String, usize)>);

impl Words {
    fn count(&mut self, field: Field, word: &str) {
        let met = self.0.entry((field, cells::plain(word))).or_insert_with(|| (word.to_owned(), 0));
        met.1 += 1;
    }

    fn listed(self, meanings: &Meanings) -> Vec<ImportWord> {
        let mut listed: Vec<ImportWord> = self
            .0
            .into_iter()
            .map(|(key, (word, count))| ImportWord {
                field: key.0.word(),
                word,
                count,
                meaning: meanings.get(&key).cloned(),
            })
            .collect();
        listed.sort_by_key(|one| std::cmp::Reverse(one.count));
        listed
    }
}

/// From a day on which the shop is closed, how far back an open one is looked for.
const CLOSED_DAYS_MAX: usize = 14;

/// A promise made elsewhere is taken over as well as it can be, with a remark: importing a list of open orders
/// is not the place to promise anew.
fn can_be_promised(open: &mut OpenOrder, view: &View, now: Ms) -> Option<String> {
    let due = open.promise?;
    let date = local_date(due, &view.zone);
    if due <= now {
        open.promise = None;
        return Some(format!("The time promised, {date}, has passed; promise a new one."));
    }
    if open_day(&view.state, &view.zone, due) {
        return None;
    }
    let closing =
        |date| dates::instant(dates::When::Local(date, None), Edge::Closing, &view.state, &view.zone);
    let fits =
        |date: &Date| closing(*date).is_some_and(|at| at > now && open_day(&view.state, &view.zone, at));
    let days = |step: fn(Date) -> Result<Date, jiff::Error>| {
        std::iter::successors(Some(date), move |date| step(*date).ok()).skip(1).take(CLOSED_DAYS_MAX)
    };
    let other = days(Date::yesterday).find(&fits).or_else(|| days(Date::tomorrow).find(&fits));
    open.promise = other.and_then(closing);
    Some(match other {
        Some(other) => format!("The shop is closed on {date}; it is promised for {other}."),
        None => format!("The shop is closed on {date} and around it; promise another day."),
    })
}

/// The given mapping, else a guessed one; and what is wrong with it, reported for the line of the titles.
fn mapping(table: &Table, said: &BTreeMap<String, String>) -> (Mapping, Vec<ImportLine>) {
    let mut bad = Vec::new();
    let mut mapping = Mapping::new();
    let mut refuse =
        |column: Option<&String>, why: String| bad.push(ImportLine { line: 1, column: column.cloned(), why });
    if said.is_empty() {
        mapping = cells::guess(&table.columns);
    }
    for (word, title) in said.iter().filter(|(_, title)| !title.is_empty()) {
        match (
            Field::ALL.into_iter().find(|f| f.word() == word),
            table.columns.iter().position(|c| c == title),
        ) {
            (Some(field), Some(at)) => {
                mapping.insert(field, at);
            }
            (None, _) => {
                refuse(Some(title), format!("«{}» is nothing that can be brought over.", short(word)))
            }
            (_, None) => refuse(Some(title), format!("The file has no column «{}».", short(title))),
        }
    }
    for field in Field::ALL.into_iter().filter(|field| field.required() && !mapping.contains_key(field)) {
        refuse(None, format!("Say which column holds the {}.", field.word()));
    }
    (mapping, bad)
}

/// Several things wrong with one line, as one text; the first one's column stands beside it.
fn in_one(wrong: &[(Field, String)], title: impl Fn(Field) -> Option<String>) -> String {
    let mut sentences =
        wrong.iter().enumerate().map(|(i, (field, why))| match title(*field).filter(|_| i > 0) {
            Some(title) => format!("{title}: {why}"),
            None => why.clone(),
        });
    let first = sentences.next().unwrap_or_default();
    sentences.fold(first, |all, next| format!("{all} {next}"))
}

fn field_of(refusal: &Refusal) -> Option<Field> {
    match refusal.code {
        Code::DuplicateNumber => Some(Field::Number),
        Code::PromisePast | Code::PromiseClosed => Some(Field::Promise),
        Code::UnknownPlace => Some(Field::Place),
        Code::UnknownRouting => Some(Field::Routings),
        _ => None,
    }
}

fn why_of(refusal: &Refusal, same_number: Option<u64>) -> String {
    match (refusal.code, same_number) {
        (Code::DuplicateNumber, Some(line)) => format!("Line {line} has the same number."),
        (Code::DuplicateNumber, None) => "An order with this number is here already.".into(),
        _ => refusal.message.clone(),
    }
}

/// How each column of dates is read. If nothing in it decides, the shop's language does, and the report says
/// so.
fn date_orders(table: &Table, mapping: &Mapping, view: &View, warnings: &mut Vec<ImportLine>) -> Orders {
    let spanish = view.state.shop.as_ref().is_some_and(|shop| shop.language.starts_with("es"));
    let usual = if spanish { dates::Order::DayFirst } else { dates::Order::MonthFirst };
    let mut order = |field: Field| {
        let Some(at) = mapping.get(&field).copied() else { return usual };
        let values = || table.lines.iter().filter_map(|line| line.cells.get(at)).map(String::as_str);
        if let Some(known) = dates::order_of(values()) {
            return known;
        }
        if let Some(example) = values().find(|value| dates::is_ambiguous(value)) {
            let read = if usual == dates::Order::DayFirst { "day first" } else { "month first" };
            let why = format!(
                "Dates like «{}» are read {read}; write 2026-03-05 if that is wrong.",
                short(example)
            );
            warnings.push(ImportLine { line: 1, column: Some(table.columns[at].clone()), why });
        }
        usual
    };
    Orders { promise: order(Field::Promise), arrived: order(Field::Arrived) }
}

fn preview(open: &OpenOrder, view: &View) -> ImportPreview {
    let time = |at: Option<Ms>| at.map(|at| local(at, &view.zone));
    let place =
        open.place.as_ref().and_then(|id| view.state.places.get(id)).map(|place| place.title.text.clone());
    let titles: Vec<String> = open
        .routings
        .iter()
        .filter_map(|id| view.state.routings.get(id))
        .map(|r| r.title.text.clone())
        .collect();
    ImportPreview {
        number: open.number.clone(),
        vehicle: open.vehicle.clone(),
        vin: open.vin.clone(),
        promise: time(open.promise),
        arrived: time(open.arrived_at.or(open.expected_at)),
        towed_in: open.towed_in,
        weight: open.weight,
        stage: open.stage,
        place,
        sold_hours: open.sold_minutes.map(|minutes| f64::from(minutes) / 60.0),
        routings: (!titles.is_empty()).then(|| titles.join("; ")),
    }
}

fn local(at: Ms, zone: &TimeZone) -> String {
    Timestamp::from_millisecond(at)
        .map_or_else(|_| String::new(), |t| zone.to_datetime(t).strftime("%Y-%m-%d %H:%M").to_string())
}

#[cfg(test)]
mod tests;
