//! Every table: its columns with their meaning, and its rows.

use domain::Ms;
use domain::calendar;
use domain::measure::pay::sold_shares;
use domain::state::State;

use super::{Maybe, Table, Word};

const ORDER: (&str, &str) = ("order", "repair order, one visit of one vehicle (id)");
const CARD: (&str, &str) = ("card", "one task on one vehicle (id)");
const DEPARTMENT: (&str, &str) = ("department", "short word");
const PERSON: (&str, &str) = ("person", "id");
const FROM: (&str, &str) = ("from_utc_ms", "begin, milliseconds since 1970, UTC");
const TO: (&str, &str) = ("to_utc_ms", "end, milliseconds since 1970, UTC; not included");

pub(super) const TABLES: &[Table] = &[
    Table {
        name: "about",
        columns: &[("key", "what"), ("value", "of this export")],
        rows: |view, now, rows| {
            rows.put(&[&"format", &"turnbuckle csv 1"])?;
            rows.put(&[&"log_seq", &view.head.seq])?;
            rows.put(&[&"exported_at_utc_ms", &now])?;
            rows.put(&[&"time_zone", &Maybe(view.zone.iana_name())])?;
            rows.put(&[&"calendar", &Maybe(view.state.shop.as_ref().map(|shop| &shop.calendar))])
        },
    },
    Table {
        name: "columns",
        columns: &[
            ("table", "name of the file"),
            ("column", "name in its first line"),
            (
                "meaning",
                "what and in which unit; in every table, text that begins with = + - @ has a ' in front, so that no spreadsheet runs it",
            ),
        ],
        rows: |_, _, rows| {
            for table in TABLES {
                for (column, meaning) in table.columns {
                    rows.put(&[&table.name, column, meaning])?;
                }
            }
            Ok(())
        },
    },
    Table {
        name: "orders",
        columns: &[
            ORDER,
            ("number", "number of the repair order"),
            ("towed_in", "true: came on a truck; false: rolling"),
            ("weight", "urgency: 1, 2 (normal) or 4"),
            ("stage", "where it is now: expected, arrived, authorised, away, ready, delivered, stopped"),
            ("created_at_utc_ms", "when the order was written, milliseconds since 1970, UTC"),
            ("expected_at_utc_ms", "booked for, milliseconds since 1970, UTC"),
            ("first_promise_utc_ms", "first promise after authorisation"),
            ("promise_utc_ms", "promise as it stands"),
            ("promise_moves", "how often it was moved after the first"),
            ("sold_minutes", "sold for the whole order, minutes"),
            ("comeback_of_card", "card that caused the comeback"),
        ],
        rows: |view, _, rows| {
            for o in view.state.orders.values() {
                rows.put(&[
                    &o.id,
                    &o.number,
                    &o.towed_in,
                    &o.weight,
                    &Word(o.stage),
                    &o.created_at,
                    &Maybe(o.expected_at),
                    &Maybe(o.first_promise),
                    &Maybe(o.promise),
                    &o.promise_moves,
                    &Maybe(o.sold_minutes),
                    &Maybe(o.comeback_of),
                ])?;
            }
            Ok(())
        },
    },
    Table {
        name: "stages",
        columns: &[
            ORDER,
            ("place", "1 is the first in time"),
            ("stage", "reached"),
            ("at_utc_ms", "milliseconds since 1970, UTC"),
        ],
        rows: |view, _, rows| {
            for o in view.state.orders.values() {
                for (place, reached) in (1..).zip(&o.stages) {
                    rows.put(&[&o.id, &place, &Word(reached.stage), &reached.at])?;
                }
            }
            Ok(())
        },
    },
    Table {
        name: "cards",
        columns: &[
            CARD,
            ORDER,
            ("place", "1 is the first laid out on its order"),
            DEPARTMENT,
            ("routing", "the shop's sequence it came from (short word)"),
            ("step", "its place in the routing (short word)"),
            ("handoff", "hand-off it belongs to (id)"),
            ("life", "proposed, waiting, taken, working, paused, done, cancelled"),
            ("planned_minutes", "planned work, minutes"),
            ("sold_minutes", "sold on this card, minutes"),
            ("created_at_utc_ms", "laid out, milliseconds since 1970, UTC"),
            (
                "ready_at_utc_ms",
                "nothing before it undone and the last cure over; empty while something is undone",
            ),
            ("taken_by", "person who has or had it last (id)"),
            ("taken_at_utc_ms", "milliseconds since 1970, UTC"),
            ("done_by", "person (id)"),
            ("done_at_utc_ms", "milliseconds since 1970, UTC"),
            ("needs_equipment", "kind of equipment it needs"),
            ("used_equipment", "piece it was or is worked on"),
            ("opens", "state it opens"),
            ("inside", "state it is worked in"),
            ("closes", "state it closes"),
            ("off_vehicle", "true: done on a loose part"),
            ("qualification", "what its person must be allowed to do"),
        ],
        rows: |view, _, rows| {
            for o in view.state.orders.values() {
                for (place, c) in (1..).zip(view.state.cards_of(o.id)) {
                    rows.put(&[
                        &c.id,
                        &o.id,
                        &place,
                        &c.department,
                        &Maybe(c.routing.as_ref()),
                        &Maybe(c.step.as_ref()),
                        &Maybe(c.handoff),
                        &Word(c.life),
                        &c.planned_minutes,
                        &Maybe(c.sold_minutes),
                        &c.created_at,
                        &Maybe(c.ready_at),
                        &Maybe(c.taken_by),
                        &Maybe(c.taken_at),
                        &Maybe(c.done_by),
                        &Maybe(c.done_at),
                        &Maybe(c.needs.equipment.as_ref()),
                        &Maybe(c.used.as_ref()),
                        &Maybe(c.needs.opens.as_ref()),
                        &Maybe(c.needs.inside.as_ref()),
                        &Maybe(c.needs.closes.as_ref()),
                        &c.needs.off_vehicle,
                        &Maybe(c.needs.qualification.as_ref()),
                    ])?;
                }
            }
            Ok(())
        },
    },
    Table {
        name: "links",
        columns: &[
            CARD,
            ("after_card", "card that comes before it"),
            ("lag_minutes", "calendar minutes that must pass between (cure)"),
            ("lag_minutes_max", "calendar minutes that should not be passed"),
        ],
        rows: |view, _, rows| {
            for c in view.state.cards.values() {
                for link in &c.after {
                    rows.put(&[&c.id, &link.card, &link.lag_minutes, &Maybe(link.lag_minutes_max)])?;
                }
            }
            Ok(())
        },
    },
    Table {
        name: "spans",
        columns: &[
            ORDER,
            CARD,
            DEPARTMENT,
            PERSON,
            FROM,
            ("to_utc_ms", "end, milliseconds since 1970, UTC; empty while it runs"),
            ("uncertain", "true: clocks disagreed by more than two minutes"),
            ("corrected", "true: corrected afterwards"),
        ],
        rows: |view, _, rows| {
            for c in view.state.cards.values() {
                for s in &c.spans {
                    rows.put(&[
                        &c.order,
                        &c.id,
                        &c.department,
                        &s.person,
                        &s.from,
                        &Maybe(s.to),
                        &s.uncertain,
                        &s.corrected,
                    ])?;
                }
            }
            Ok(())
        },
    },
    Table {
        name: "handoffs",
        columns: &[
            ("handoff", "id"),
            ORDER,
            ("routing", "what was asked for (short word)"),
            ("from_department", "who asked"),
            ("to_department", "who was asked"),
            ("life", "asked, taken, started, open, handed_back, cancelled"),
            ("joined", "true: the state was open already"),
            ("asked_by", "person (id)"),
            ("asked_at_utc_ms", "milliseconds since 1970, UTC"),
            ("ready_at_utc_ms", "really ready, milliseconds since 1970, UTC"),
            ("taken_by", "person (id)"),
            ("taken_at_utc_ms", "milliseconds since 1970, UTC"),
            ("started_at_utc_ms", "milliseconds since 1970, UTC"),
            ("opened_at_utc_ms", "milliseconds since 1970, UTC"),
            ("handed_back_at_utc_ms", "milliseconds since 1970, UTC"),
            ("for_card", "the asker's own card that waits for it"),
        ],
        rows: |view, _, rows| {
            for h in view.state.handoffs.values() {
                rows.put(&[
                    &h.id,
                    &h.order,
                    &h.routing,
                    &h.from,
                    &h.to,
                    &Word(h.life),
                    &h.joined,
                    &h.asked_by,
                    &h.asked_at,
                    &Maybe(h.ready_at),
                    &Maybe(h.taken_by),
                    &Maybe(h.taken_at),
                    &Maybe(h.started_at),
                    &Maybe(h.opened_at),
                    &Maybe(h.handed_back_at),
                    &Maybe(h.for_card),
                ])?;
            }
            Ok(())
        },
    },
    Table {
        name: "holds",
        columns: &[
            ("hold", "id"),
            ORDER,
            ("what", "approval, parts, customer, sublet, other"),
            ("blocks", "start or finish of the cards"),
            ("since_utc_ms", "milliseconds since 1970, UTC"),
            ("due_utc_ms", "expected end (parts: arrival), milliseconds since 1970, UTC"),
            ("ended_utc_ms", "milliseconds since 1970, UTC; empty while it holds"),
            ("all_cards", "true: every card of the order; false: those of hold_cards"),
        ],
        rows: |view, _, rows| {
            for o in view.state.orders.values() {
                for h in &o.holds {
                    rows.put(&[
                        &h.id,
                        &o.id,
                        &Word(h.what),
                        &Word(h.blocks),
                        &h.since,
                        &Maybe(h.due),
                        &Maybe(h.ended),
                        &h.cards.is_empty(),
                    ])?;
                }
            }
            Ok(())
        },
    },
    Table {
        name: "hold_cards",
        columns: &[("hold", "id"), CARD],
        rows: |view, _, rows| {
            for h in view.state.orders.values().flat_map(|o| &o.holds) {
                for card in &h.cards {
                    rows.put(&[&h.id, card])?;
                }
            }
            Ok(())
        },
    },
    Table {
        name: "stood",
        columns: &[ORDER, ("place", "short word"), FROM, ("by", "person who moved it (id)")],
        rows: |view, _, rows| {
            for o in view.state.orders.values() {
                for s in &o.stood {
                    rows.put(&[&o.id, &s.place, &s.from, &s.by])?;
                }
            }
            Ok(())
        },
    },
    Table {
        name: "open",
        columns: &[
            ORDER,
            ("open", "state that is open now"),
            ("since_utc_ms", "milliseconds since 1970, UTC"),
            ("by_card", "card that opened it"),
            ("equipment", "piece it keeps"),
        ],
        rows: |view, _, rows| {
            for o in view.state.orders.values() {
                for open in &o.open {
                    rows.put(&[&o.id, &open.open, &open.since, &open.by, &Maybe(open.equipment.as_ref())])?;
                }
            }
            Ok(())
        },
    },
    Table {
        name: "leads",
        columns: &[ORDER, DEPARTMENT, PERSON],
        rows: |view, _, rows| {
            for o in view.state.orders.values() {
                for (department, person) in &o.leads {
                    rows.put(&[&o.id, department, person])?;
                }
            }
            Ok(())
        },
    },
    Table {
        name: "exceptions",
        columns: &[
            ("exception", "a fact that broke a rule (id)"),
            ("kind", "which rule"),
            ORDER,
            CARD,
            ("by", "person (id)"),
            ("since_utc_ms", "milliseconds since 1970, UTC"),
            ("answered_by", "person (id)"),
            ("answered_at_utc_ms", "milliseconds since 1970, UTC"),
        ],
        rows: |view, _, rows| {
            for e in view.state.exceptions.values() {
                rows.put(&[
                    &e.id,
                    &Word(e.kind),
                    &e.order,
                    &Maybe(e.card),
                    &e.by,
                    &e.since,
                    &Maybe(e.answered_by),
                    &Maybe(e.answered_at),
                ])?;
            }
            Ok(())
        },
    },
    Table {
        name: "found",
        columns: &[
            ("note", "id"),
            ORDER,
            CARD,
            ("by", "person (id)"),
            ("at_utc_ms", "milliseconds since 1970, UTC"),
            ("found", "chosen phrase (seized, missing_part, wrong_part, …)"),
        ],
        rows: |view, _, rows| {
            for n in view.state.notes.values() {
                if let Some(found) = n.found {
                    rows.put(&[&n.id, &n.order, &Maybe(n.card), &n.by, &n.at, &Word(found)])?;
                }
            }
            Ok(())
        },
    },
    Table {
        name: "sold",
        columns: &[
            ORDER,
            ("card", "card it was sold on; empty: sold on the order"),
            PERSON,
            ("done_at_utc_ms", "card done, or keys back; milliseconds since 1970, UTC"),
            ("clocked_ms", "clocked there by this person, milliseconds"),
            ("clocked_by_all_ms", "clocked there by everybody, milliseconds"),
            ("sold_minutes", "sold there, minutes"),
            ("share_minutes", "this person's part: sold × clocked ÷ clocked by all, minutes"),
        ],
        rows: |view, now, rows| {
            for s in sold_shares(&view.state, now) {
                rows.put(&[
                    &s.order,
                    &Maybe(s.card),
                    &s.person,
                    &s.done_at,
                    &s.clocked,
                    &s.clocked_by_all,
                    &s.sold_minutes,
                    &s.minutes(),
                ])?;
            }
            Ok(())
        },
    },
    Table {
        name: "departments",
        columns: &[
            DEPARTMENT,
            ("working", "lead: each vehicle has a lead; pool: whoever is free takes the next"),
            ("calendar", "own calendar; empty: the shop's"),
            ("rank", "order on screens"),
            ("retired", "true: no longer used"),
        ],
        rows: |view, _, rows| {
            for d in view.state.departments.values() {
                rows.put(&[&d.id, &Word(d.working), &Maybe(d.calendar.as_ref()), &d.rank, &d.retired])?;
            }
            Ok(())
        },
    },
    Table {
        name: "people",
        columns: &[
            PERSON,
            ("department", "at home in"),
            ("role", "technician, parts, planner, manager, admin"),
            ("calendar", "own calendar; empty: the department's, else the shop's"),
            ("retired", "true: left the shop"),
            ("retired_at_utc_ms", "milliseconds since 1970, UTC"),
        ],
        rows: |view, _, rows| {
            for p in view.state.people.values() {
                rows.put(&[
                    &p.id,
                    &p.department,
                    &Word(p.role),
                    &Maybe(p.calendar.as_ref()),
                    &p.retired,
                    &Maybe(p.retired_at),
                ])?;
            }
            Ok(())
        },
    },
    Table {
        name: "person_departments",
        columns: &[PERSON, ("department", "further department whose work this person takes")],
        rows: |view, _, rows| {
            for p in view.state.people.values() {
                for department in &p.also {
                    rows.put(&[&p.id, department])?;
                }
            }
            Ok(())
        },
    },
    Table {
        name: "qualifications",
        columns: &[PERSON, ("qualification", "short word"), ("until_utc_ms", "empty: no end")],
        rows: |view, _, rows| {
            for p in view.state.people.values() {
                for (qualification, until) in &p.qualifications {
                    rows.put(&[&p.id, qualification, &Maybe(*until)])?;
                }
            }
            Ok(())
        },
    },
    Table {
        name: "away",
        columns: &[("kind", "person or equipment"), ("of", "whose: id or short word"), FROM, TO],
        rows: |view, _, rows| {
            for p in view.state.people.values() {
                for a in &p.away {
                    rows.put(&[&"person", &p.id, &a.from, &a.to])?;
                }
            }
            for e in view.state.equipment.values() {
                for a in &e.out_of_service {
                    rows.put(&[&"equipment", &e.id, &a.from, &a.to])?;
                }
            }
            Ok(())
        },
    },
    Table {
        name: "equipment",
        columns: &[
            ("equipment", "short word"),
            ("kind", "lift, booth, …"),
            DEPARTMENT,
            ("retired", "true: put away"),
        ],
        rows: |view, _, rows| {
            for e in view.state.equipment.values() {
                rows.put(&[&e.id, &e.kind, &e.department, &e.retired])?;
            }
            Ok(())
        },
    },
    Table {
        name: "places",
        columns: &[("place", "short word"), ("equipment", "standing there is standing on this")],
        rows: |view, _, rows| {
            for p in view.state.places.values() {
                rows.put(&[&p.id, &Maybe(p.equipment.as_ref())])?;
            }
            Ok(())
        },
    },
    Table {
        name: "calendar_hours",
        columns: &[("calendar", "short word"), FROM, TO],
        rows: |view, now, rows| {
            let began = first_vehicle(&view.state).unwrap_or(now);
            for c in view.state.calendars.values() {
                for (from, to) in calendar::intervals(c, &view.zone, began, now) {
                    rows.put(&[&c.id, &from, &to])?;
                }
            }
            Ok(())
        },
    },
];

fn first_vehicle(state: &State) -> Option<Ms> {
    state.orders.values().filter_map(|order| order.stages.first()).map(|first| first.at).min()
}
