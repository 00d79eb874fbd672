//! A short way to write routings down, so that the library reads like a list of work.

use domain::stored::{Caution, Routing, Step, StepLink, Words};

pub fn words(text: &str, es: &str) -> Words {
    Words { text: text.to_owned(), es: Some(es.to_owned()) }
}

pub(super) fn routing(id: &str, en: &str, es: &str, steps: Vec<Draft>) -> Routing {
    let steps = steps.into_iter().map(|draft| draft.0).collect();
    Routing { id: id.into(), version: 0, title: words(en, es), steps, retired: false }
}

/// A step with its short word, department and planned minutes.
pub(super) fn step(word: &str, department: &str, planned_minutes: u32, en: &str, es: &str) -> Draft {
    Draft(Step {
        step: word.to_owned(),
        department: department.into(),
        title: words(en, es),
        planned_minutes,
        after: Vec::new(),
        needs: Default::default(),
    })
}

pub(super) struct Draft(Step);

impl Draft {
    pub fn after(self, word: &str) -> Self {
        self.cured(word, 0)
    }

    /// So many minutes on the wall clock after that step.
    pub fn cured(self, word: &str, lag_minutes: u32) -> Self {
        self.link(word, lag_minutes, None)
    }

    /// At once after that step, and not later than so many minutes after it.
    pub fn within(self, word: &str, lag_minutes_max: u32) -> Self {
        self.link(word, 0, Some(lag_minutes_max))
    }

    fn link(mut self, word: &str, lag_minutes: u32, lag_minutes_max: Option<u32>) -> Self {
        self.0.after.push(StepLink { step: word.to_owned(), lag_minutes, lag_minutes_max });
        self
    }

    /// On a piece of equipment of this kind.
    pub fn on(mut self, kind: &str) -> Self {
        self.0.needs.equipment = Some(kind.into());
        self
    }

    pub fn opens(mut self, open: &str) -> Self {
        self.0.needs.opens = Some(open.into());
        self
    }

    pub fn inside(mut self, open: &str) -> Self {
        self.0.needs.inside = Some(open.into());
        self
    }

    pub fn closes(mut self, open: &str) -> Self {
        self.0.needs.closes = Some(open.into());
        self
    }

    pub fn loose_part(mut self) -> Self {
        self.0.needs.off_vehicle = true;
        self
    }

    /// May go on while somebody else works on the vehicle.
    pub fn beside(mut self) -> Self {
        self.0.needs.beside = true;
        self
    }

    pub fn one_go(mut self) -> Self {
        self.0.needs.one_go = true;
        self
    }

    pub fn only(mut self, qualification: &str) -> Self {
        self.0.needs.qualification = Some(qualification.into());
        self
    }

    pub fn check(mut self, en: &str, es: &str) -> Self {
        self.0.needs.checks.push(words(en, es));
        self
    }

    pub fn caution(mut self, cautions: &[Caution]) -> Self {
        self.0.needs.cautions.extend(cautions);
        self
    }
}
