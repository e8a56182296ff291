//! The crew desk's global.

use std::rc::Rc;

use offshed_core::entry::Review;
use offshed_core::pack::rows::DefectGrade;
use slint::{ComponentHandle, SharedString};

use super::models::Rows;
use super::{Hub, calls_with, letters};
use crate::controllers::Desks;
use crate::controllers::crew::{AskView, Form, Row, StepCard, Touch};
use crate::ui::{CrewAsk, CrewForm, CrewPage, CrewPerson, CrewReason, CrewRow, CrewStep, MainWindow};

#[derive(Default)]
pub(super) struct Lists {
    engines: Rows<CrewRow>,
    sheets: Rows<CrewRow>,
    tags: Rows<SharedString>,
    events: Rows<CrewRow>,
    sequences: Rows<CrewRow>,
    steps: Rows<CrewRow>,
    reasons: Rows<CrewReason>,
    options: Rows<SharedString>,
    people: Rows<CrewPerson>,
    phrases: Rows<SharedString>,
    units: Rows<SharedString>,
}

fn touch(desks: &mut Desks, touch: Touch) {
    if let Some(session) = &mut desks.session {
        desks.crew.touch(session, touch);
    }
}

/// A touch that carries a number; one out of range is none.
fn numbered<N: TryFrom<i32>>(hub: &Rc<Hub>, make: impl Fn(N) -> Touch + 'static) -> impl Fn(i32) + 'static {
    calls_with(hub, move |desks, number: i32| {
        if let Ok(number) = N::try_from(number) {
            touch(desks, make(number));
        }
    })
}

fn worded(hub: &Rc<Hub>, make: impl Fn(String) -> Touch + 'static) -> impl Fn(SharedString) + 'static {
    calls_with(hub, move |desks, words: SharedString| touch(desks, make(words.to_string())))
}

fn keys(hub: &Rc<Hub>, make: fn(char) -> Touch) -> impl Fn(SharedString) + 'static {
    calls_with(hub, move |desks, text: SharedString| {
        for key in text.chars().filter(|key| !key.is_control() && !is_private(*key)) {
            touch(desks, make(key));
        }
    })
}

pub(super) fn bind(hub: &Rc<Hub>, window: &MainWindow) {
    let page = window.global::<CrewPage>();
    lists(&hub.crew, &page);
    page.on_engine(numbered(hub, Touch::Engine));
    page.on_sheet(worded(hub, Touch::Sheet));
    page.on_open(numbered(hub, Touch::Open));
    page.on_event(numbered(hub, Touch::Event));
    page.on_go(numbered(hub, Touch::Step));
    page.on_reason(numbered(hub, Touch::Reason));
    page.on_show_all(calls_with(hub, |desks, all: bool| touch(desks, Touch::ShowAll(all))));
    page.on_person(numbered(hub, Touch::Person));
    page.on_typed(keys(hub, Touch::Type));
    page.on_keyed(keys(hub, Touch::Key));
    page.on_turn(numbered(hub, Touch::Letters));
    page.on_phrase(worded(hub, Touch::Phrase));
    page.on_choose_unit(worded(hub, Touch::Unit));
    page.on_choose(numbered(hub, Touch::Choose));
    page.on_touch(calls_with(hub, |desks, what: SharedString| {
        if let Some(named) = named(&what) {
            touch(desks, named);
        }
    }));
}

/// Keys without a letter come as characters of the private use area.
fn is_private(key: char) -> bool {
    ('\u{e000}'..='\u{f8ff}').contains(&key)
}

/// A touch that carries nothing, by the name the markup gives it.
fn named(what: &str) -> Option<Touch> {
    Some(match what {
        "back" => Touch::Back,
        "next" => Touch::Next,
        "sign-on" => Touch::SignOn,
        "sign-off" => Touch::SignOff,
        "second" => Touch::Second,
        "low-water" => Touch::LowWater,
        "hand-over" => Touch::HandOver,
        "events" => Touch::Events,
        "defect-stopping" => Touch::Defect(DefectGrade::Stopping),
        "defect-restricted" => Touch::Defect(DefectGrade::Restricted),
        "defect-note" => Touch::Defect(DefectGrade::Note),
        "hang-tag" => Touch::HangTag,
        "lift-tag" => Touch::LiftTag,
        "abandon" => Touch::Abandon,
        "done" => Touch::Done,
        "not-right" => Touch::NotRight,
        "skip" => Touch::Skip,
        "fault" => Touch::Fault,
        "strike" => Touch::Strike,
        "enter" => Touch::Enter,
        "record" => Touch::Record,
        "seen" => Touch::Seen,
        "start" => Touch::Start,
        "stop" => Touch::Stop,
        "restart" => Touch::Restart,
        "accept" => Touch::Accept,
        "sign" => Touch::Sign,
        "review-accepted" => Touch::Review(Review::Accepted),
        "review-sent-back" => Touch::Review(Review::SentBack),
        "review-stopped" => Touch::Review(Review::Stopped),
        "next-unit" => Touch::NextUnit,
        "own-words" => Touch::OwnWords,
        "erase" => Touch::Erase,
        "confirm" => Touch::Confirm,
        _ => return None,
    })
}

fn lists(lists: &Lists, page: &CrewPage<'_>) {
    page.set_engines(lists.engines.model());
    page.set_sheets(lists.sheets.model());
    page.set_tags(lists.tags.model());
    page.set_events(lists.events.model());
    page.set_sequences(lists.sequences.model());
    page.set_steps(lists.steps.model());
    page.set_reasons(lists.reasons.model());
    page.set_options(lists.options.model());
    page.set_people(lists.people.model());
    page.set_phrases(lists.phrases.model());
    page.set_units(lists.units.model());
    page.set_letters(letters::pages());
}

pub(super) fn show(lists: &Lists, desks: &Desks, window: &MainWindow) {
    let Some(session) = &desks.session else { return };
    let view = desks.crew.view(session);
    let page = window.global::<CrewPage>();
    let scene = format!(
        "{} {} {} {} {} {}",
        view.place,
        view.title,
        view.step.id,
        view.form.kind.key(),
        view.form.part,
        view.ask.kind
    );
    page.set_place(view.place.into());
    page.set_title(view.title.into());
    page.set_note(view.note.into());
    page.set_who(view.who.into());
    page.set_with(view.with.into());
    page.set_notice(view.notice.into());
    page.set_empty(view.empty.into());
    page.set_next(view.next.into());
    page.set_now(i32::try_from(view.now).unwrap_or(i32::MAX));
    page.set_all(view.all);
    lists.engines.set(view.engines.into_iter().map(row));
    lists.sheets.set(view.sheets.into_iter().map(row));
    lists.tags.set(view.beside.tags.into_iter().map(SharedString::from));
    page.set_handover(view.beside.handover.into());
    page.set_has_events(view.beside.has_events);
    page.set_may_abandon(view.may_abandon);
    lists.sequences.set(view.sequences.into_iter().map(row));
    lists.steps.set(view.steps.into_iter().map(row));
    lists.options.set(view.form.options.iter().map(SharedString::from));
    page.set_form(form(&view.form, view.comes_to));
    step(lists, &page, view.step);
    ask(lists, &page, view.ask);
    page.set_scene(scene.into());
}

fn row(row: Row) -> CrewRow {
    CrewRow {
        id: row.id.into(),
        number: row.number,
        title: row.title.into(),
        heading: row.heading.into(),
        word: row.word.into(),
        mark: row.mark.into(),
        note: row.note.into(),
        chosen: row.chosen,
    }
}

fn form(form: &Form, comes_to: String) -> CrewForm {
    CrewForm {
        kind: form.kind.key().into(),
        prompt: form.prompt.as_str().into(),
        limits: form.limits.as_str().into(),
        part: form.part.as_str().into(),
        face: form.face.as_str().into(),
        share: form.share,
        unit: form.unit.map_or("", |unit| unit.symbol()).into(),
        comes_to: comes_to.into(),
        may_fail: form.kind.answers(),
        may_skip: form.may_skip,
        may_restart: form.may_restart,
    }
}

fn step(lists: &Lists, page: &CrewPage<'_>, card: StepCard) {
    let reasons = card.reasons.into_iter();
    lists.reasons.set(reasons.map(|reason| CrewReason { words: reason.words.into(), leads: reason.leads.into() }));
    page.set_step(CrewStep {
        id: card.id.into(),
        title: card.title.into(),
        stage: card.stage.into(),
        instruction: card.instruction.into(),
        caution: card.caution.into(),
        source: card.source.into(),
        by: card.by.into(),
        state: card.state.into(),
        word: card.word.into(),
        answered: card.answered.into(),
        worked_out: card.worked_out.into(),
        may_strike: card.may_strike,
        may_report: card.may_report,
    });
}

fn ask(lists: &Lists, page: &CrewPage<'_>, ask: AskView) {
    let people = ask.people.into_iter();
    let person = |(number, name, grades): (u16, String, String)| CrewPerson {
        number: number.into(),
        name: name.into(),
        grades: grades.into(),
    };
    lists.people.set(people.map(person));
    lists.events.set(ask.events.into_iter().map(row));
    lists.phrases.set(ask.phrases.into_iter().map(SharedString::from));
    lists.units.set(ask.units.iter().map(SharedString::from));
    page.set_ask(CrewAsk {
        kind: ask.kind.into(),
        title: ask.title.into(),
        note: ask.note.into(),
        origin: ask.origin.into(),
        typed: ask.typed.into(),
        limits: ask.limits.into(),
        comes_to: ask.comes_to.into(),
        right: ask.right,
        ready: ask.ready,
        confirm: ask.confirm.into(),
        page: i32::try_from(ask.page).unwrap_or(0),
        unit: ask.unit.into(),
    });
}
