//! Who of those at hand may do which step, so that nobody checks their own work.

use std::collections::BTreeSet;

use offshed_core::ident::{GradeId, Set, StepId};
use offshed_core::pack::{Pack, Rule};
use offshed_core::plan::Grades;

use super::route::Route;
use super::{Begun, NotPlanned, Words};

/// Most people at hand in one plan.
pub const MOST_HANDS: usize = 32;

/// The people at hand, and for each row of a route who may do it.
pub(super) struct Crew {
    /// Each person's grade; whoever may do least goes first.
    pub(super) hands: Vec<GradeId>,
    /// For each row, places in `hands`; empty where nobody is needed any more.
    pub(super) able: Vec<BTreeSet<usize>>,
}

impl Crew {
    /// Those of `hands`, or one person of each grade that the open steps ask for where it is empty.
    ///
    /// # Errors
    /// A grade that nobody at hand may act in; a step that wants somebody else and finds nobody.
    pub(super) fn gather(
        pack: &Pack<'_>,
        words: &Words<'_>,
        route: &Route,
        begun: &Begun,
        hands: &[GradeId],
    ) -> Result<Crew, NotPlanned> {
        if hands.len() > MOST_HANDS {
            return Err(NotPlanned::TooManyHands { given: hands.len() });
        }
        let open: Vec<usize> = (0..route.rows.len()).filter(|n| route.holds(*n) && !route.done(*n, begun)).collect();
        let mut hands = if hands.is_empty() { usual(pack, route, &open) } else { hands.to_vec() };
        // Whoever may do least goes first: of several who could, they are taken.
        let may = |grade: &GradeId| {
            let rows = open.iter().filter_map(|n| route.rows.get(*n));
            rows.filter(|row| pack.holders_of(row.by).has(grade.0)).count()
        };
        hands.sort_by_key(may);
        let mut crew = Crew { hands, able: vec![BTreeSet::new(); route.rows.len()] };
        crew.fill(pack, words, route, &open)?;
        for n in &open {
            crew.second(pack, words, route, *n)?;
        }
        crew.part(words, route, &open)?;
        Ok(crew)
    }

    fn may(&self, holders: Set) -> BTreeSet<usize> {
        self.hands.iter().enumerate().filter(|(_, grade)| holders.has(grade.0)).map(|(n, _)| n).collect()
    }

    /// Who may act in the grade of each step.
    fn fill(&mut self, pack: &Pack<'_>, words: &Words<'_>, route: &Route, open: &[usize]) -> Result<(), NotPlanned> {
        for n in open {
            let (Some(row), Some(rules)) = (route.rows.get(*n), route.rules.get(*n)) else { continue };
            let mut able = self.may(pack.holders_of(row.by));
            let mut lacking = row.by;
            for rule in rules {
                if let Rule::Grade(grade) = rule {
                    able = able.intersection(&self.may(pack.holders_of(*grade))).copied().collect();
                    lacking = *grade;
                }
            }
            if able.is_empty() {
                return Err(self.nobody(words, route, open, row.id, lacking));
            }
            if let Some(place) = self.able.get_mut(*n) {
                *place = able;
            }
        }
        Ok(())
    }

    fn nobody(&self, words: &Words<'_>, route: &Route, open: &[usize], step: StepId, grade: GradeId) -> NotPlanned {
        let asks = open.iter().filter(|n| route.rows.get(**n).is_some_and(|row| row.by == grade)).count().max(1);
        let hands = self.hands.iter().map(|grade| words.grade(*grade)).collect();
        let (step, grade, id) = (words.step(step), words.grade(grade), words.grade_id(grade));
        NotPlanned::Nobody { step, grade, id, asks, hands }
    }

    /// Whether a second person is there where a step wants one named.
    fn second(&self, pack: &Pack<'_>, words: &Words<'_>, route: &Route, n: usize) -> Result<(), NotPlanned> {
        let (Some(row), Some(rules), Some(able)) = (route.rows.get(n), route.rules.get(n), self.able.get(n)) else {
            return Ok(());
        };
        for rule in rules {
            let Rule::With(grade) = rule else { continue };
            let seconds = self.may(pack.holders_of(*grade));
            if able.iter().all(|one| seconds.iter().all(|other| other == one)) {
                let (step, grade, id) = (words.step(row.id), words.grade(*grade), words.grade_id(*grade));
                return Err(NotPlanned::NobodyElse { step, grade, id });
            }
        }
        Ok(())
    }

    /// Keeps apart who must not be the same person.
    fn part(&mut self, words: &Words<'_>, route: &Route, open: &[usize]) -> Result<(), NotPlanned> {
        for n in open {
            let (Some(row), Some(rules)) = (route.rows.get(*n), route.rules.get(*n)) else { continue };
            for rule in rules {
                let (others, other): (Vec<usize>, _) = match rule {
                    Rule::DifferentEveryone => (open.iter().copied().filter(|other| other != n).collect(), None),
                    Rule::Different(step) => {
                        (open.iter().copied().filter(|other| is(route, *other, *step)).collect(), Some(*step))
                    }
                    _ => continue,
                };
                if !self.keep_apart(*n, &others) {
                    let other = other.map(|step| words.step(step));
                    return Err(NotPlanned::Same { step: words.step(row.id), other });
                }
            }
        }
        Ok(())
    }

    /// Gives a row to the person whom the others can best spare, and to nobody of theirs.
    fn keep_apart(&mut self, row: usize, others: &[usize]) -> bool {
        let able = self.able.get(row).cloned().unwrap_or_default();
        let elsewhere = |who: &usize| self.able.iter().filter(|able| able.contains(who)).count();
        let spared = |who: &&usize| {
            others.iter().all(|other| self.able.get(*other).is_none_or(|able| able.iter().any(|one| one != *who)))
        };
        let Some(who) = able.iter().filter(spared).min_by_key(|who| elsewhere(who)).copied() else { return false };
        for other in others {
            if let Some(able) = self.able.get_mut(*other) {
                able.remove(&who);
            }
        }
        if let Some(able) = self.able.get_mut(row) {
            *able = BTreeSet::from([who]);
        }
        true
    }

    /// The people who may do a row, one bit each.
    pub(super) fn people(&self, row: usize) -> Grades {
        let able = self.able.get(row).into_iter().flatten();
        able.filter_map(|n| u8::try_from(*n).ok()).fold(Grades::NONE, |set, n| set.with(n).unwrap_or(set))
    }

    /// One set a person, with the one bit that stands for them.
    pub(super) fn each(&self) -> Vec<Grades> {
        let numbers = (0..self.hands.len()).filter_map(|n| u8::try_from(n).ok());
        numbers.map(|n| Grades::NONE.with(n).unwrap_or(Grades::NONE)).collect()
    }
}

fn is(route: &Route, row: usize, step: StepId) -> bool {
    route.rows.get(row).is_some_and(|r| r.id == step)
}

/// One person of each grade that open steps are done in, and a second person where one must be named and none is there.
fn usual(pack: &Pack<'_>, route: &Route, open: &[usize]) -> Vec<GradeId> {
    let asked: BTreeSet<GradeId> = open.iter().filter_map(|n| route.rows.get(*n)).map(|row| row.by).collect();
    let mut hands: Vec<GradeId> = asked.into_iter().collect();
    for rule in open.iter().filter_map(|n| route.rules.get(*n)).flatten() {
        if let Rule::With(grade) = rule {
            let holders = pack.holders_of(*grade);
            if hands.iter().filter(|hand| holders.has(hand.0)).count() < 2 {
                hands.push(*grade);
            }
        }
    }
    hands
}
