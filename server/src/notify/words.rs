//! What a notice says as an e-mail, in the language of the person who gets it.
//!
//! Invariants: pure; expected times are filled in now, from the plan that stands now, and are called
//! expected; no line of text that people typed can become a header. Must not know: SMTP, cursors.

use std::collections::BTreeMap;

use domain::Ms;
use domain::calendar;
use domain::ids::CardId;
use domain::state::State;
use domain::stored::{Card, Caution, ExceptionKind, Notice, NoticeKind, Order, Words};
use jiff::Timestamp;
use jiff::tz::TimeZone;

/// When the plan expects each card to begin and end.
pub type Expected = BTreeMap<CardId, (Ms, Ms)>;

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Language {
    English,
    Spanish,
}

impl Language {
    /// The person's own, else the shop's, else English.
    pub fn of(own: &str, shop: &str) -> Self {
        let known = |word: &str| match word.get(..2).unwrap_or_default() {
            "es" => Some(Language::Spanish),
            "en" => Some(Language::English),
            _ => None,
        };
        known(own).or_else(|| known(shop)).unwrap_or(Language::English)
    }

    fn say(self, english: &'static str, spanish: &'static str) -> &'static str {
        match self {
            Language::English => english,
            Language::Spanish => spanish,
        }
    }

    fn of_words(self, words: &Words) -> &str {
        match (self, &words.es) {
            (Language::Spanish, Some(es)) => es,
            _ => &words.text,
        }
    }
}

#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Letter {
    pub subject: String,
    pub body: String,
}

/// Longest subject; the body has room for the rest.
const SUBJECT_CHARS_MAX: usize = 120;

pub struct About<'a> {
    pub state: &'a State,
    pub zone: &'a TimeZone,
    pub expected: &'a Expected,
    pub now: Ms,
    /// Where the app is reached; empty: no link.
    pub link: &'a str,
}

pub fn letter(about: &About<'_>, notice: &Notice) -> Letter {
    let state = about.state;
    let shop = state.shop.as_ref();
    let own = state.people.get(&notice.person).map_or("", |p| p.language.as_str());
    let language = Language::of(own, shop.map_or("", |s| s.language.as_str()));
    let card = notice.card.and_then(|id| state.cards.get(&id)).map(|c| &**c);
    let order = notice.order.or(card.map(|c| c.order)).and_then(|id| state.orders.get(&id)).map(|o| &**o);
    let what = task(state, notice, card, language);
    let who = notice.by.and_then(|id| state.people.get(&id)).map(|p| p.name.clone());

    let head = headline(notice.kind, language);
    let number = order.map(|o| format!("{}: ", o.number)).unwrap_or_default();
    let subject = match &what {
        Some(what) => format!("{number}{head}: {what}"),
        None => format!("{number}{head}"),
    };

    let mut lines = vec![sentence(notice.kind, who.as_deref(), language)];
    if let Some(order) = order {
        lines.push(format!("{}: {}, {}", language.say("Vehicle", "Vehículo"), order.number, order.vehicle));
    }
    if let Some(what) = &what {
        lines.push(format!("{}: {what}", language.say("Task", "Tarea")));
    }
    let equipment = notice.equipment.as_ref().and_then(|id| state.equipment.get(id));
    if let Some(equipment) = equipment {
        let title = one_line(language.of_words(&equipment.title));
        lines.push(format!("{}: {title}", language.say("Equipment", "Equipo")));
    }
    let exception = notice.exception.and_then(|id| state.exceptions.get(&id));
    if let Some(exception) = exception {
        lines.push(format!("{}: {}", language.say("What", "Qué"), exception_words(exception.kind, language)));
    }
    lines.extend(typed(state, notice, language));
    lines.extend(order.and_then(|o| stands(state, o, language)));
    lines.extend(when(about, notice, card, order, language));
    let works = matches!(notice.kind, NoticeKind::Asked | NoticeKind::Assigned | NoticeKind::Next);
    lines.extend(card.filter(|_| works).and_then(|c| cautions(c, language)));
    if let Some(order) = order.filter(|_| !about.link.is_empty()) {
        lines.push(String::new());
        lines.push(format!("{}/vehicle/{}", about.link.trim_end_matches('/'), order.id));
    }
    lines.push(String::new());
    let name = shop.map_or("", |s| s.name.as_str());
    let why = language.say(
        "You get this because e-mail is switched on for you; you can switch it off in the app.",
        "Recibe esto porque tiene activado el correo; puede desactivarlo en la aplicación.",
    );
    lines.push(if name.is_empty() { why.to_owned() } else { format!("{}. {why}", one_line(name)) });
    Letter { subject: shortened(&one_line(&subject)), body: lines.join("\n") + "\n" }
}

/// Line breaks and other control characters become blanks.
fn one_line(text: &str) -> String {
    text.chars().map(|c| if c.is_control() { ' ' } else { c }).collect()
}

fn shortened(text: &str) -> String {
    if text.chars().count() <= SUBJECT_CHARS_MAX {
        return text.to_owned();
    }
    text.chars().take(SUBJECT_CHARS_MAX - 1).chain(['…']).collect()
}

fn task(state: &State, notice: &Notice, card: Option<&Card>, language: Language) -> Option<String> {
    // Asking and handing back are about the whole round trip, the rest is about one card.
    let whole = matches!(notice.kind, NoticeKind::Asked | NoticeKind::HandedBack);
    let handoff = notice.handoff.filter(|_| whole).and_then(|id| state.handoffs.get(&id));
    let words = handoff.map(|h| &h.title).or(card.map(|c| &c.title))?;
    Some(one_line(language.of_words(words)))
}

/// What the asker wrote.
fn typed(state: &State, notice: &Notice, language: Language) -> Vec<String> {
    let asked = notice.kind == NoticeKind::Asked;
    let Some(handoff) = notice.handoff.filter(|_| asked).and_then(|id| state.handoffs.get(&id)) else {
        return Vec::new();
    };
    let note = handoff.note.as_ref().map(|n| format!("{}: {n}", language.say("Note", "Nota")));
    let not_yet = handoff.not_yet.as_ref().map(|n| format!("{}: {n}", language.say("Not yet", "Todavía no")));
    note.into_iter().chain(not_yet).collect()
}

fn stands(state: &State, order: &Order, language: Language) -> Option<String> {
    let place = state.places.get(order.condition.place.as_ref()?)?;
    Some(format!("{}: {}", language.say("Stands at", "Está en"), language.of_words(&place.title)))
}

fn when(
    about: &About<'_>,
    notice: &Notice,
    card: Option<&Card>,
    order: Option<&Order>,
    language: Language,
) -> Option<String> {
    let (from, to) = card.and_then(|c| about.expected.get(&c.id)).copied().unzip();
    let time = |at: Ms| moment(at, about.now, about.zone, language);
    let begins = |at| format!("{}: {}", language.say("Expected to begin", "Comienzo previsto"), time(at));
    let ends = |at| format!("{}: {}", language.say("Expected to be done", "Fin previsto"), time(at));
    match notice.kind {
        NoticeKind::Asked
        | NoticeKind::Assigned
        | NoticeKind::Next
        | NoticeKind::NotNext
        | NoticeKind::HoldEnded
        | NoticeKind::FellFree
        | NoticeKind::Untaken
        | NoticeKind::GivenBack => from.map(begins),
        NoticeKind::Taken | NoticeKind::LiftBlocked => to.map(ends),
        NoticeKind::PromiseUnlikely => {
            order?.promise.map(|at| format!("{}: {}", language.say("Promised", "Prometido"), time(at)))
        }
        NoticeKind::Exception
        | NoticeKind::Refused
        | NoticeKind::ClosedOver
        | NoticeKind::EquipmentOut
        | NoticeKind::CalledOff
        | NoticeKind::DoneForYou
        | NoticeKind::PutBefore
        | NoticeKind::TakenAway
        | NoticeKind::Open
        | NoticeKind::HandedBack
        | NoticeKind::StillRunning
        | NoticeKind::StoppedHere
        | NoticeKind::StageTakenBack
        | NoticeKind::RoutingOutdated => None,
    }
}

/// "14:30" today, "Tue 14:30" this week, with the date further away.
pub fn moment(at: Ms, now: Ms, zone: &TimeZone, language: Language) -> String {
    let Ok(stamp) = Timestamp::from_millisecond(at) else { return String::new() };
    let local = zone.to_datetime(stamp);
    let clock = format!("{:02}:{:02}", local.hour(), local.minute());
    let today = calendar::local_date(now, zone);
    let days = (local.date() - today).get_days();
    let day = [
        ("Mon", "lun"),
        ("Tue", "mar"),
        ("Wed", "mié"),
        ("Thu", "jue"),
        ("Fri", "vie"),
        ("Sat", "sáb"),
        ("Sun", "dom"),
    ][local.weekday().to_monday_zero_offset() as usize % 7];
    let day = language.say(day.0, day.1);
    match days {
        0 => clock,
        1..7 => format!("{day} {clock}"),
        _ => format!("{day} {} {clock}", local.date()),
    }
}

fn headline(kind: NoticeKind, language: Language) -> &'static str {
    let (english, spanish) = match kind {
        NoticeKind::Exception => ("needs an answer", "necesita respuesta"),
        NoticeKind::Refused => ("not accepted", "no aceptado"),
        NoticeKind::ClosedOver => ("closed over your work", "cerrado sobre su trabajo"),
        NoticeKind::EquipmentOut => ("equipment out of service", "equipo fuera de servicio"),
        NoticeKind::CalledOff => ("cancelled", "cancelado"),
        NoticeKind::DoneForYou => ("finished by somebody else", "lo terminó otra persona"),
        NoticeKind::PutBefore => ("something comes first", "algo va antes"),
        NoticeKind::TakenAway => ("not yours any more", "ya no es de usted"),
        NoticeKind::Open => ("the vehicle is open", "el vehículo está abierto"),
        NoticeKind::Asked => ("asked for", "se pide"),
        NoticeKind::HandedBack => ("handed back", "devuelto"),
        NoticeKind::Assigned => ("given to you", "asignado a usted"),
        NoticeKind::Taken => ("taken", "tomado"),
        NoticeKind::GivenBack => ("given back to the queue", "vuelve a la cola"),
        NoticeKind::Next => ("your turn next", "le toca a usted"),
        NoticeKind::NotNext => ("not your turn after all", "todavía no le toca"),
        NoticeKind::HoldEnded => ("what it waited for has come", "llegó lo que esperaba"),
        NoticeKind::FellFree => ("nobody has it any more", "ya nadie la tiene"),
        NoticeKind::Untaken => ("nobody has taken it", "nadie lo ha tomado"),
        NoticeKind::LiftBlocked => ("held longer than planned", "ocupado más de lo previsto"),
        NoticeKind::PromiseUnlikely => ("the promise will be missed", "no se cumplirá la promesa"),
        NoticeKind::StillRunning => ("still running?", "¿sigue en marcha?"),
        NoticeKind::StoppedHere => ("stopped, and its keys are here", "detenido, y sus llaves siguen aquí"),
        NoticeKind::StageTakenBack => ("its keys are not back", "sus llaves no se devolvieron"),
        NoticeKind::RoutingOutdated => ("a routing must be changed", "hay que cambiar un recorrido"),
    };
    language.say(english, spanish)
}

/// What it says of itself, with `{who}` where somebody did it.
fn sentence(kind: NoticeKind, who: Option<&str>, language: Language) -> String {
    let who = who.map_or_else(|| language.say("Somebody", "Alguien").to_owned(), one_line);
    let (english, spanish) = match kind {
        NoticeKind::StageTakenBack => (
            "{who} says that the keys did not go back: the vehicle counts as here again.",
            "{who} dice que las llaves no se devolvieron: el vehículo cuenta otra vez como presente.",
        ),
        NoticeKind::RoutingOutdated => (
            "{who} asked by a routing with a department that is no more; change the routing.",
            "{who} pidió con un recorrido que nombra un departamento que ya no existe; cámbielo.",
        ),
        NoticeKind::Exception => (
            "Something breaks a rule of the shop and needs an answer with a reason.",
            "Algo rompe una regla del taller y necesita una respuesta con motivo.",
        ),
        NoticeKind::Refused => (
            "What you sent could not be accepted; the app shows why and what to do next.",
            "Lo que envió no se pudo aceptar; la aplicación muestra por qué y qué hacer.",
        ),
        NoticeKind::ClosedOver => (
            "{who} closed the vehicle over work of yours that is not done; tell the planner.",
            "{who} cerró el vehículo sobre trabajo suyo sin hacer; avise a quien planea.",
        ),
        NoticeKind::EquipmentOut => (
            "{who} says that the equipment cannot be used; get the vehicle off it if that is safe.",
            "{who} dice que el equipo no se puede usar; baje el vehículo si se puede sin peligro.",
        ),
        NoticeKind::CalledOff => ("{who} has cancelled this task.", "{who} ha cancelado esta tarea."),
        NoticeKind::DoneForYou => {
            ("{who} has finished what you had.", "{who} ha terminado lo que usted tenía.")
        }
        NoticeKind::PutBefore => (
            "{who} has put something before what you are working on.",
            "{who} ha puesto algo antes de lo que usted está haciendo.",
        ),
        NoticeKind::TakenAway => (
            "{who} has given what you had to somebody else, or back to the queue.",
            "{who} ha dado a otra persona, o a la cola, lo que usted tenía.",
        ),
        NoticeKind::Open => (
            "{who} has opened the vehicle: what waited for this can go on.",
            "{who} ha abierto el vehículo: ya se puede hacer lo que esperaba a esto.",
        ),
        NoticeKind::Asked => {
            ("{who} asks your department for work.", "{who} pide trabajo a su departamento.")
        }
        NoticeKind::HandedBack => ("{who} has handed the vehicle back.", "{who} ha devuelto el vehículo."),
        NoticeKind::Assigned => ("{who} gave you this task.", "{who} le ha dado esta tarea."),
        NoticeKind::Taken => ("{who} has taken what you asked for.", "{who} ha tomado lo que usted pidió."),
        NoticeKind::GivenBack => (
            "{who} has given back what you asked for; it is in the queue again.",
            "{who} ha dejado lo que usted pidió; vuelve a estar en la cola.",
        ),
        NoticeKind::Next => (
            "What came before is done; the vehicle comes to your department.",
            "Lo anterior está hecho; el vehículo viene a su departamento.",
        ),
        NoticeKind::NotNext => (
            "{who} has taken back what came before; the task waits again.",
            "{who} ha deshecho lo anterior; la tarea espera otra vez.",
        ),
        NoticeKind::HoldEnded => {
            ("What kept this task has come, or has ended.", "Llegó o terminó lo que detenía esta tarea.")
        }
        NoticeKind::FellFree => (
            "Who held the task has left the shop; it is in the queue again.",
            "Quien tenía la tarea se fue del taller; está otra vez en la cola.",
        ),
        NoticeKind::Untaken => (
            "It was asked for more than a working hour ago and nobody has taken it.",
            "Se pidió hace más de una hora de trabajo y nadie lo ha tomado.",
        ),
        NoticeKind::LiftBlocked => (
            "The vehicle is still open and holds its place more than an hour past the plan.",
            "El vehículo sigue abierto y ocupa su puesto más de una hora después de lo previsto.",
        ),
        NoticeKind::PromiseUnlikely => (
            "By the plan as it stands the promised date will be missed.",
            "Según el plan actual no se llega a la fecha prometida.",
        ),
        NoticeKind::StillRunning => (
            "It is your break, or your shift is over, and this task still counts. Pause it, or correct when you ended.",
            "Es su descanso, o su turno terminó, y esta tarea sigue contando. Páusela, o corrija a qué hora terminó.",
        ),
        NoticeKind::StoppedHere => (
            "The job was stopped more than three days ago and nobody has given the keys back. Give them back, or say what comes next.",
            "El trabajo se detuvo hace más de tres días y nadie ha devuelto las llaves. Devuélvalas o diga qué sigue.",
        ),
    };
    language.say(english, spanish).replace("{who}", &who)
}

fn exception_words(kind: ExceptionKind, language: Language) -> &'static str {
    use ExceptionKind as K;
    let (english, spanish) = match kind {
        K::StartedEarly => {
            ("started before what comes first was done", "empezado antes de terminar lo anterior")
        }
        K::FinishedEarly => {
            ("finished before what comes first was done", "terminado antes de terminar lo anterior")
        }
        K::ClosedOverUndone => ("closed over work that is not done", "cerrado sobre trabajo sin hacer"),
        K::OpenedTwice => ("the vehicle would go up twice", "el vehículo subiría dos veces"),
        K::NotOpen => ("worked inside although it was not open", "trabajado dentro sin estar abierto"),
        K::TwoAtOnce => ("two tasks running at once", "dos tareas en marcha a la vez"),
        K::MovedOpen => ("moved while open", "movido estando abierto"),
        K::Occupied => ("two vehicles on one piece of equipment", "dos vehículos en un mismo equipo"),
        K::DoneByAnother => ("done by somebody else than the holder", "hecho por otra persona"),
        K::AfterEnd => ("worked after the task was over", "trabajado después de terminada la tarea"),
        K::DuringHold => ("worked during a hold", "trabajado durante una retención"),
        K::HighVoltage => {
            ("high voltage: no known limit or not isolated", "alta tensión: sin límite conocido o sin aislar")
        }
        K::Unqualified => {
            ("done without the qualification it asks for", "hecho sin la cualificación que pide")
        }
        K::OutOfTurn => ("a stage out of turn", "una etapa fuera de orden"),
        K::OutOfService => {
            ("worked on equipment that is out of service", "trabajado en un equipo fuera de servicio")
        }
        K::TooLate => (
            "begun later after the step before than is allowed",
            "empezado más tarde tras el paso anterior de lo permitido",
        ),
        K::LeftOpen => (
            "driven, ready or keys back with something open, isolated, loose, owed or unanswered",
            "manejado, listo o entregado con algo abierto, aislado, suelto, debido o sin respuesta",
        ),
        K::CancelledOpen => (
            "cancelled although the vehicle is open, or will be",
            "cancelado aunque el vehículo está abierto, o lo estará",
        ),
        K::InspectionOverdue => {
            ("on equipment whose inspection is overdue", "en un equipo con la inspección vencida")
        }
        K::UnsafeLift => (
            "on a lift with damaged lifting points or heavy parts off",
            "en un elevador con puntos de apoyo dañados o partes pesadas quitadas",
        ),
        K::NoKeysIn => {
            ("went on, but nobody said its keys came in", "siguió, pero nadie anotó que entraron sus llaves")
        }
        K::Unproved => {
            ("done in a sign-in that the server lost", "hecho en una entrada que el servidor perdió")
        }
    };
    language.say(english, spanish)
}

fn cautions(card: &Card, language: Language) -> Option<String> {
    let words: Vec<&str> = card.needs.cautions.iter().map(|c| caution_words(*c, language)).collect();
    if words.is_empty() {
        return None;
    }
    let follow = language.say(
        "Follow the vehicle maker's procedure and local rules.",
        "Siga el procedimiento del fabricante y las normas locales.",
    );
    Some(format!("{}: {}. {follow}", language.say("Caution", "Precaución"), words.join(", ")))
}

fn caution_words(caution: Caution, language: Language) -> &'static str {
    let (english, spanish) = match caution {
        Caution::Lift => ("lift and load balance", "elevador y equilibrio de la carga"),
        Caution::UnexpectedStart => {
            ("unexpected start, keep the key", "arranque inesperado, guarde la llave")
        }
        Caution::Pulling => ("line of pull", "línea de tiro"),
        Caution::HotWork => ("hot work and fire watch", "trabajo en caliente y vigilancia de fuego"),
        Caution::Airbag => ("airbags and belts", "airbags y cinturones"),
        Caution::HighVoltage => {
            ("high voltage, qualified people only", "alta tensión, solo personal cualificado")
        }
        Caution::Spraying => ("spraying and sanding, respirator", "pintado y lijado, respirador"),
        Caution::Refrigerant => {
            ("refrigerant, certified people only", "refrigerante, solo personal certificado")
        }
        Caution::Spring => ("stored energy in springs", "energía acumulada en muelles"),
        Caution::Fuel => ("fuel and vapour", "combustible y vapores"),
        Caution::Driving => {
            ("driving, nothing open, loose or isolated", "manejar, nada abierto, suelto ni aislado")
        }
    };
    language.say(english, spanish)
}

#[cfg(test)]
mod tests {
    use super::*;
    use domain::ids::PersonId;

    const ALL: [NoticeKind; 23] = [
        NoticeKind::Exception,
        NoticeKind::Refused,
        NoticeKind::ClosedOver,
        NoticeKind::EquipmentOut,
        NoticeKind::CalledOff,
        NoticeKind::DoneForYou,
        NoticeKind::PutBefore,
        NoticeKind::TakenAway,
        NoticeKind::NotNext,
        NoticeKind::HoldEnded,
        NoticeKind::FellFree,
        NoticeKind::Open,
        NoticeKind::Asked,
        NoticeKind::HandedBack,
        NoticeKind::Assigned,
        NoticeKind::Taken,
        NoticeKind::GivenBack,
        NoticeKind::Next,
        NoticeKind::Untaken,
        NoticeKind::LiftBlocked,
        NoticeKind::PromiseUnlikely,
        NoticeKind::StillRunning,
        NoticeKind::StoppedHere,
    ];

    #[test]
    fn every_kind_has_its_words_in_both_languages() {
        for kind in ALL {
            let pairs = [
                (headline(kind, Language::English).to_owned(), headline(kind, Language::Spanish).to_owned()),
                (
                    sentence(kind, Some("Ada"), Language::English),
                    sentence(kind, Some("Ada"), Language::Spanish),
                ),
            ];
            for (english, spanish) in pairs {
                assert_ne!(english, spanish, "{kind:?}");
            }
        }
        assert!(sentence(NoticeKind::Taken, Some("Ada"), Language::English).starts_with("Ada has taken"));
    }

    #[test]
    fn the_language_is_the_persons_else_the_shops() {
        assert_eq!(Language::of("es", "en"), Language::Spanish);
        assert_eq!(Language::of("", "es"), Language::Spanish);
        assert_eq!(Language::of("fr", ""), Language::English);
    }

    #[test]
    fn a_moment_is_as_short_as_it_can_be() {
        let zone = TimeZone::get("America/Chicago").unwrap();
        let at = |text: &str| text.parse::<Timestamp>().unwrap().as_millisecond();
        let now = at("2026-03-03T15:00:00Z"); // Tuesday 09:00 there
        assert_eq!(moment(at("2026-03-03T20:30:00Z"), now, &zone, Language::English), "14:30");
        assert_eq!(moment(at("2026-03-04T20:30:00Z"), now, &zone, Language::Spanish), "mié 14:30");
        // After the change to summer time of 2026-03-08 the same UTC hour is an hour later there.
        assert_eq!(moment(at("2026-03-16T20:30:00Z"), now, &zone, Language::English), "Mon 2026-03-16 15:30");
        assert_eq!(moment(at("2026-03-02T20:30:00Z"), now, &zone, Language::English), "Mon 2026-03-02 14:30");
    }

    #[test]
    fn typed_line_breaks_never_reach_the_subject() {
        use domain::ids::OrderId;
        let person = PersonId(uuid::Uuid::from_u128(1));
        let order = OrderId(uuid::Uuid::from_u128(2));
        let body = serde_json::json!({"id": order, "number": "2041\r\nBcc: x@example.test", "vehicle": "grey wagon", "weight": 2,
            "stage": "arrived", "created_at": 0});
        let mut state = State::default();
        state.orders.insert(order, std::sync::Arc::new(serde_json::from_value(body).unwrap()));
        let notice = Notice {
            person,
            kind: NoticeKind::PromiseUnlikely,
            at: 0,
            order: Some(order),
            card: None,
            handoff: None,
            exception: None,
            equipment: None,
            by: None,
            urgent: false,
        };
        let expected = Expected::new();
        let about = About {
            state: &state,
            zone: &TimeZone::UTC,
            expected: &expected,
            now: 0,
            link: "http://shop.test/",
        };
        let letter = letter(&about, &notice);
        assert!(!letter.subject.contains(['\r', '\n']), "{}", letter.subject);
        assert!(letter.body.contains("http://shop.test/vehicle/00000000-0000-0000-0000-000000000002"));
        assert!(letter.body.contains("grey wagon"));
    }
}
