//! A plan as plain data: moments in local time, every state in words. Field names are stable.

use offshed_core::ident::{StepId, TextId};
use offshed_core::plan::Timing;
use offshed_core::stamp::{Stamp, Zone};
use serde::Serialize;

use super::{Lapse, Planned, PlannedRow, Way, What, Words};
use crate::ids::Ids;
use crate::packfile::PackFile;
use crate::views::Moments;

/// A plan.
#[derive(Clone, Debug, Serialize)]
pub struct PlanView {
    /// The sequence's title.
    pub sequence: String,
    /// The pack.
    pub pack: String,
    /// The moment it speaks of, RFC 3339 local.
    pub as_of: String,
    /// The same for a person.
    pub as_of_words: String,
    /// Off shed, RFC 3339 local.
    pub off_shed: String,
    /// The same for a person.
    pub off_shed_words: String,
    /// Light up by, RFC 3339 local; left out when the fire is lit or none is wanted.
    pub light_up_by: Option<String>,
    /// The same for a person.
    pub light_up_by_short: Option<String>,
    /// The title of the step that lights the fire.
    pub light_up: Option<String>,
    /// The first person is wanted, RFC 3339 local; left out when nothing is left to do.
    pub crew_on_by: Option<String>,
    /// The same for a person.
    pub crew_on_by_short: Option<String>,
    /// `cold` or `warm`.
    pub way: &'static str,
    /// Who is at hand.
    pub hands: Vec<HandView>,
    /// Nobody was named: one of each grade is supposed.
    pub hands_supposed: bool,
    /// Minutes that no sharing among these people can beat.
    pub least_minutes: u32,
    /// Minutes that this plan needs.
    pub planned_minutes: u32,
    /// Off shed at the earliest, RFC 3339 local.
    pub expected_off_shed: String,
    /// The same for a person.
    pub expected_off_shed_short: String,
    /// Minutes by which that is after off shed.
    pub minutes_late: i64,
    /// What should have started, worst first.
    pub late: Vec<LateView>,
    /// What is left to do, by planned start.
    pub rows: Vec<PlanRowView>,
    /// Steps that are done, as far as the sheet says.
    pub done: usize,
    /// Steps that apply, but that nothing asks for on this way.
    pub left_out: Vec<String>,
    /// What a person should know.
    pub notes: Vec<String>,
}

/// Somebody at hand.
#[derive(Clone, Debug, Serialize)]
pub struct HandView {
    /// The grade's id.
    pub grade: String,
    /// The grade's name.
    pub name: String,
    /// On by, RFC 3339 local; left out when nothing is planned for them.
    pub on_by: Option<String>,
    /// The same for a person.
    pub on_by_short: Option<String>,
}

/// What should have started.
#[derive(Clone, Debug, Serialize)]
pub struct LateView {
    /// The step's id; left out for heating and waiting.
    pub step: Option<String>,
    /// In words.
    pub what: String,
    /// `late`: off shed will be late; `behind-plan`: only a better sharing keeps the time.
    pub timing: &'static str,
    /// Minutes past its latest start, or past its planned one.
    pub minutes: u32,
}

/// One row.
#[derive(Clone, Debug, Serialize)]
pub struct PlanRowView {
    /// The step's id; left out for heating and waiting.
    pub step: Option<String>,
    /// In words.
    pub what: String,
    /// Minutes.
    pub minutes: u32,
    /// Planned start, RFC 3339 local.
    pub start: String,
    /// The same for a person.
    pub start_short: String,
    /// Latest start, RFC 3339 local.
    pub latest: String,
    /// The same for a person.
    pub latest_short: String,
    /// The grade of who does it; left out where nobody is needed.
    pub who: Option<String>,
    /// Any delay of it delays off shed.
    pub critical: bool,
    /// `in-time`, `behind-plan`, `late`.
    pub timing: &'static str,
}

/// A plan as data.
pub fn view(file: &PackFile, planned: &Planned, zone: &Zone) -> PlanView {
    let teller = Teller { file, words: Words::of(file), planned, moments: Moments::new(zone) };
    teller.whole()
}

struct Teller<'a> {
    file: &'a PackFile,
    words: Words<'a>,
    planned: &'a Planned,
    moments: Moments<'a>,
}

impl Teller<'_> {
    fn whole(&self) -> PlanView {
        let plan = self.planned;
        let pack = self.file.pack();
        let title = pack.sequence(plan.sequence).map_or(TextId::NONE, |row| row.text);
        let light_up = plan.light_up_by.map(|(_, at)| at);
        PlanView {
            sequence: self.file.texts().get(title).to_owned(),
            pack: self.file.title(),
            as_of: self.long(plan.now),
            as_of_words: self.moments.long(plan.now),
            off_shed: self.long(plan.off_shed),
            off_shed_words: self.moments.long(plan.off_shed),
            light_up_by: light_up.map(|at| self.long(at)),
            light_up_by_short: light_up.map(|at| self.short(at)),
            light_up: plan.light_up_by.map(|(step, _)| self.words.step(step)),
            crew_on_by: plan.crew_on_by.map(|at| self.long(at)),
            crew_on_by_short: plan.crew_on_by.map(|at| self.short(at)),
            way: match plan.way {
                Way::Cold => "cold",
                Way::Warm => "warm",
            },
            hands: plan.hands.iter().map(|hand| self.hand(hand)).collect(),
            hands_supposed: plan.hands_supposed,
            least_minutes: plan.least_minutes,
            planned_minutes: plan.planned_minutes,
            expected_off_shed: self.long(plan.expected),
            expected_off_shed_short: self.short(plan.expected),
            minutes_late: plan.expected.since(plan.off_shed) / 60,
            late: self.late(),
            rows: plan.rows.iter().map(|row| self.row(row)).collect(),
            done: plan.done,
            left_out: plan.left_out.iter().map(|step| self.words.step(*step)).collect(),
            notes: self.notes(),
        }
    }

    fn long(&self, at: Stamp) -> String {
        self.moments.rfc3339(at)
    }

    fn short(&self, at: Stamp) -> String {
        self.moments.short(at, self.planned.off_shed)
    }

    fn hand(&self, hand: &super::Hand) -> HandView {
        HandView {
            grade: self.words.grade_id(hand.grade),
            name: self.words.grade(hand.grade),
            on_by: hand.on_by.map(|at| self.long(at)),
            on_by_short: hand.on_by.map(|at| self.short(at)),
        }
    }

    /// A row in words; a time that nobody works in tells when it must be over.
    fn what(&self, row: &PlannedRow) -> String {
        let over = self.short(row.planned_start.plus(i64::from(row.minutes) * 60));
        match row.what {
            What::Step(step) => self.words.step(step),
            What::Raising { told: Some(reading), .. } => format!("(raising steam to {reading}, wanted by {over})"),
            What::Raising { kpa, told: None } if kpa > 0.0 => {
                format!("(raising steam to working pressure, wanted by {over})")
            }
            What::Raising { .. } => format!("(raising steam, wanted by {over})"),
            What::Waiting { since } => format!("(waiting time after \"{}\", over by {over})", self.words.step(since)),
        }
    }

    fn step_id(&self, what: What) -> Option<String> {
        let What::Step(step) = what else { return None };
        Some(Ids::of(self.file).step_id(step))
    }

    fn row(&self, row: &PlannedRow) -> PlanRowView {
        let grade = row.hand.and_then(|n| self.planned.hands.get(n)).map(|hand| hand.grade);
        PlanRowView {
            step: self.step_id(row.what),
            what: self.what(row),
            minutes: row.minutes,
            start: self.long(row.planned_start),
            start_short: self.short(row.planned_start),
            latest: self.long(row.latest_start),
            latest_short: self.short(row.latest_start),
            who: grade.map(|grade| self.words.grade(grade)),
            critical: row.critical,
            timing: timing(row.timing).0,
        }
    }

    fn late(&self) -> Vec<LateView> {
        let mut late: Vec<LateView> = self
            .planned
            .late()
            .map(|row| {
                let (timing, minutes) = timing(row.timing);
                LateView { step: self.step_id(row.what), what: self.what(row), timing, minutes }
            })
            .collect();
        late.sort_by_key(|late| (late.timing != "late", u32::MAX - late.minutes));
        late
    }

    fn notes(&self) -> Vec<String> {
        let plan = self.planned;
        let lapses = plan.lapses.iter().map(|lapse| self.lapse(lapse));
        let elsewhere = plan.elsewhere.iter().map(|step| format!("another sheet must bring {}", self.title(*step)));
        let wanting = plan.wanting.iter().map(|(step, state)| {
            let state = self.words.state(*state);
            format!("{} asks about the state \"{state}\", which no step here changes", self.title(*step))
        });
        let unknown = "no working pressure is known: no time is planned for raising steam to it".to_owned();
        let pressure = plan.working_pressure_missing.then_some(unknown);
        lapses.chain(elsewhere).chain(wanting).chain(pressure).collect()
    }

    fn lapse(&self, lapse: &Lapse) -> String {
        let (step, before) = (self.title(lapse.step), self.title(lapse.before));
        let minutes = lapse.life_seconds / 60;
        format!("{step} lives {minutes} min and would lapse before {before}: do it again, or keep the two together")
    }

    fn title(&self, step: StepId) -> String {
        format!("\"{}\"", self.words.step(step))
    }
}

fn timing(timing: Timing) -> (&'static str, u32) {
    match timing {
        Timing::Done => ("done", 0),
        Timing::InTime => ("in-time", 0),
        Timing::BehindPlan { minutes } => ("behind-plan", minutes),
        Timing::Late { minutes } => ("late", minutes),
    }
}
