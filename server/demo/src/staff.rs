//! The invented people of the demo shop, and the acts that set the shop up.

use std::collections::BTreeMap;

use domain::Ms;
use domain::decide::SYSTEM;
use domain::ids::*;
use domain::stored::*;

use super::sim::Sim;

pub(super) const SHOP_NAME: &str = "Halvorn Ferry Body Works";

/// Who does what in the shop. Everybody here is invented.
#[derive(Clone, Default)]
pub(super) struct Staff {
    pub body: Vec<PersonId>,
    pub mechanics: Vec<PersonId>,
    pub refinish: Vec<PersonId>,
    pub assembly: PersonIdOrNil,
    pub detail: PersonIdOrNil,
    pub parts: PersonIdOrNil,
    pub planner: PersonIdOrNil,
    pub manager: PersonIdOrNil,
    pub admin: PersonIdOrNil,
    /// Everybody who works on cards, in the order in which they choose their next one.
    pub workers: Vec<PersonId>,
}

/// A person, or nobody as long as the shop has no people.
#[derive(Clone, Copy)]
pub(super) struct PersonIdOrNil(pub PersonId);

impl Default for PersonIdOrNil {
    fn default() -> Self {
        Self(SYSTEM)
    }
}

struct Row {
    name: &'static str,
    department: &'static str,
    also: &'static [&'static str],
    role: Role,
    language: &'static str,
    qualifications: &'static [&'static str],
}

const fn row(name: &'static str, department: &'static str, role: Role, language: &'static str) -> Row {
    Row { name, department, also: &[], role, language, qualifications: &[] }
}

fn rows() -> Vec<Row> {
    use Role::{Admin, Manager, Parts, Planner, Technician};
    vec![
        Row { qualifications: &["welding"], ..row("Inés Varga", "body", Technician, "es") },
        Row { qualifications: &["welding"], ..row("Dwayne Holt", "body", Technician, "en") },
        row("Kofi Lindqvist", "body", Technician, "en"),
        Row {
            qualifications: &["high-voltage", "refrigerant", "calibration"],
            ..row("Marta Okafor", "mechanical", Technician, "en")
        },
        Row { qualifications: &["calibration"], ..row("Lou Brandt", "mechanical", Technician, "en") },
        Row { qualifications: &["spray-trained"], ..row("Teo Salgado", "refinish", Technician, "es") },
        Row { qualifications: &["spray-trained"], ..row("Priya Nolan", "refinish", Technician, "en") },
        row("Hank Duarte", "refinish", Technician, "en"),
        Row { also: &["body", "detail"], ..row("Yusuf Kemper", "assembly", Technician, "en") },
        Row { also: &["assembly"], ..row("Bea Tran", "detail", Technician, "en") },
        row("Noor Castillo", "parts", Parts, "es"),
        row("Greta Amsel", "office", Planner, "en"),
        row("Sam Whitlock", "office", Manager, "en"),
        row("Ivo Petrak", "office", Admin, "en"),
    ]
}

/// Sets up the shop and its people; all these acts stand at the very beginning.
pub(super) fn set_up(sim: &mut Sim<'_>, time_zone: &str) -> Staff {
    let mut library = starter::library();
    library.insert(0, starter::shop(SHOP_NAME, time_zone, "en"));
    for act in library {
        sim.act(SYSTEM, act);
    }
    let mut all = rows();
    // The administrator is first: the others are set up by a person.
    all.rotate_right(1);
    let mut staff = Staff::default();
    let mut by = SYSTEM;
    for row in all {
        let person = person(sim, &row);
        let id = person.id;
        sim.act(by, Act::SetPerson { person });
        if row.role == Role::Admin {
            by = id;
        }
        enlist(&mut staff, &row, id);
    }
    deputies(sim, &staff);
    staff
}

fn person(sim: &mut Sim<'_>, row: &Row) -> Person {
    let id = PersonId(sim.uuid());
    // Qualifications end some time after today, some soon.
    let until = |n: usize, now: Ms| (n == 1).then_some(now + 40 * super::sim::DAY);
    let qualifications: BTreeMap<Qualification, Option<Ms>> =
        row.qualifications.iter().enumerate().map(|(n, q)| ((*q).into(), until(n, sim.now))).collect();
    Person {
        id,
        name: row.name.to_owned(),
        department: row.department.into(),
        also: row.also.iter().map(|d| (*d).into()).collect(),
        role: row.role,
        language: row.language.to_owned(),
        qualifications,
        calendar: None,
        away: absences(sim, row),
        retired: false,
        retired_at: None,
        erased_at: None,
    }
}

/// Whole days off: two of the people had one in the last weeks.
fn absences(sim: &mut Sim<'_>, row: &Row) -> Vec<Absence> {
    let back = match row.name {
        "Kofi Lindqvist" => sim.chance.between(20, 26),
        "Hank Duarte" => sim.chance.between(34, 44),
        _ => return Vec::new(),
    };
    let from = sim.midnight(sim.now - back * super::sim::DAY);
    let to = sim.midnight(from + 30 * 60 * domain::MINUTE);
    vec![Absence { from, to, reason: None }]
}

fn enlist(staff: &mut Staff, row: &Row, id: PersonId) {
    match (row.department, row.role) {
        ("body", _) => staff.body.push(id),
        ("mechanical", _) => staff.mechanics.push(id),
        ("refinish", _) => staff.refinish.push(id),
        ("assembly", _) => staff.assembly = PersonIdOrNil(id),
        ("detail", _) => staff.detail = PersonIdOrNil(id),
        ("parts", _) => staff.parts = PersonIdOrNil(id),
        (_, Role::Planner) => staff.planner = PersonIdOrNil(id),
        (_, Role::Manager) => staff.manager = PersonIdOrNil(id),
        _ => staff.admin = PersonIdOrNil(id),
    }
    if row.role != Role::Admin {
        staff.workers.push(id);
    }
}

/// Departments of one person have somebody who answers for them.
fn deputies(sim: &mut Sim<'_>, staff: &Staff) {
    for (id, deputy) in
        [("detail", staff.assembly.0), ("parts", staff.planner.0), ("assembly", staff.detail.0)]
    {
        let department = sim.state.departments.get(&DepartmentId::from(id)).map(|d| (**d).clone());
        if let Some(department) = department {
            let department = Department { deputies: vec![deputy], ..department };
            sim.act(staff.admin.0, Act::SetDepartment { department });
        }
    }
}
