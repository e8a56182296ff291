//! The running foreman's global.

use std::rc::Rc;

use offshed_core::entry::Review;
use slint::{ComponentHandle, SharedString};

use super::models::{Rows, list};
use super::{Hub, calls_with, letters};
use crate::controllers::Desks;
use crate::controllers::foreman::{
    Asked, Choice, DateEngine, DefectRow, ForemanView, Line, Plot, STRIP_DAYS, SheetPage, SheetRow, StageRow, TabRow,
    Touch, WaterEngine, WaterPage,
};
use crate::ui::{
    ForemanAsk, ForemanChoice, ForemanDate, ForemanDates, ForemanDefect, ForemanEngine, ForemanLine, ForemanMark,
    ForemanPage, ForemanPaper, ForemanPlot, ForemanSheet, ForemanStage, ForemanTab, ForemanWater, MainWindow,
};

#[derive(Default)]
pub(super) struct Lists {
    tabs: Rows<ForemanTab>,
    sheets: Rows<ForemanSheet>,
    oddities: Rows<ForemanLine>,
    signatures: Rows<ForemanLine>,
    readings: Rows<ForemanLine>,
    stages: Rows<ForemanStage>,
    defects: Rows<ForemanDefect>,
    dates: Rows<ForemanDates>,
    engines: Rows<ForemanEngine>,
    tests: Rows<ForemanLine>,
    treatments: Rows<ForemanLine>,
    choices: Rows<ForemanChoice>,
}

fn touch(desks: &mut Desks, touch: Touch) {
    if let Some(session) = &mut desks.session {
        desks.foreman.touch(session, touch);
    }
}

/// A touch that carries a number; one out of range is none.
fn numbered<N: TryFrom<i32> + 'static>(hub: &Rc<Hub>, make: fn(N) -> Touch) -> impl Fn(i32) + 'static {
    calls_with(hub, move |desks, number: i32| {
        if let Ok(number) = N::try_from(number) {
            touch(desks, make(number));
        }
    })
}

fn worded(hub: &Rc<Hub>, make: fn(String) -> Touch) -> impl Fn(SharedString) + 'static {
    calls_with(hub, move |desks, words: SharedString| touch(desks, make(words.to_string())))
}

pub(super) fn bind(hub: &Rc<Hub>, window: &MainWindow) {
    let page = window.global::<ForemanPage>();
    lists(&hub.foreman, &page);
    page.on_turn_to(worded(hub, Touch::Tab));
    page.on_sheet(worded(hub, Touch::Sheet));
    page.on_stage(numbered(hub, Touch::Stage));
    page.on_restrict(worded(hub, Touch::Restrict));
    page.on_clear(worded(hub, Touch::Clear));
    page.on_engine(numbered(hub, Touch::Engine));
    page.on_choose(worded(hub, Touch::Choose));
    page.on_turn(numbered(hub, Touch::Letters));
    page.on_typed(calls_with(hub, |desks, key: SharedString| {
        for key in key.chars().filter(|key| !key.is_control() && !('\u{e000}'..='\u{f8ff}').contains(key)) {
            touch(desks, Touch::Type(key));
        }
    }));
    page.on_touch(calls_with(hub, |desks, what: SharedString| {
        if let Some(named) = named(&what) {
            touch(desks, named);
        }
    }));
}

/// A touch that carries nothing, by the name the markup gives it.
fn named(what: &str) -> Option<Touch> {
    Some(match what {
        "back" => Touch::Back,
        "accept" => Touch::Decide(Review::Accepted),
        "send-back" => Touch::Decide(Review::SentBack),
        "stop" => Touch::Decide(Review::Stopped),
        "own-words" => Touch::OwnWords,
        "erase" => Touch::Erase,
        "confirm" => Touch::Confirm,
        _ => return None,
    })
}

fn lists(lists: &Lists, page: &ForemanPage<'_>) {
    page.set_tabs(lists.tabs.model());
    page.set_sheets(lists.sheets.model());
    page.set_oddities(lists.oddities.model());
    page.set_signatures(lists.signatures.model());
    page.set_readings(lists.readings.model());
    page.set_stages(lists.stages.model());
    page.set_defects(lists.defects.model());
    page.set_dates(lists.dates.model());
    page.set_engines(lists.engines.model());
    page.set_tests(lists.tests.model());
    page.set_treatments(lists.treatments.model());
    page.set_choices(lists.choices.model());
    page.set_strip_days(STRIP_DAYS.into());
    page.set_letters(letters::pages());
}

pub(super) fn show(lists: &Lists, desks: &Desks, window: &MainWindow) {
    let Some(session) = &desks.session else { return };
    let view = desks.foreman.view(session);
    let page = window.global::<ForemanPage>();
    let up = view.sheet.as_ref().map_or("", |sheet| sheet.title.as_str());
    let scene = format!("{} {up} {} {}", view.tab, view.ask.kind, view.ask.title);
    page.set_tab(view.tab.into());
    page.set_notice(view.notice.as_str().into());
    page.set_empty(view.empty.into());
    page.set_today(session.zone().day(session.now().stamp).format("%-d %b").to_string().into());
    ask(lists, &page, &view.ask);
    pages(lists, &page, view);
    page.set_scene(scene.into());
}

fn pages(lists: &Lists, page: &ForemanPage<'_>, view: ForemanView) {
    lists.tabs.set(view.tabs.into_iter().map(tab));
    lists.sheets.set(view.rows.into_iter().map(sheet));
    lists.defects.set(view.defects.into_iter().map(defect));
    if view.tab == "dates" {
        lists.dates.set(view.dates.into_iter().map(dates));
    }
    if view.tab == "water" {
        water(lists, page, view.water);
    }
    page.set_at_sheet(view.sheet.is_some());
    if let Some(sheet) = view.sheet {
        paper(lists, page, sheet);
    }
}

fn tab(row: TabRow) -> ForemanTab {
    ForemanTab { id: row.id.into(), label: row.label.into(), count: row.count.into(), chosen: row.chosen }
}

fn sheet(row: SheetRow) -> ForemanSheet {
    ForemanSheet {
        id: row.id.into(),
        title: row.title.into(),
        heading: row.heading.into(),
        word: row.word.into(),
        mark: row.mark.into(),
        note: row.note.into(),
        chosen: row.chosen,
    }
}

fn line(line: Line) -> ForemanLine {
    ForemanLine { mark: line.mark.into(), word: line.word.into(), words: line.words.into(), note: line.note.into() }
}

fn paper(lists: &Lists, page: &ForemanPage<'_>, sheet: SheetPage) {
    page.set_paper(ForemanPaper {
        title: sheet.title.into(),
        note: sheet.note.into(),
        who: sheet.who.into(),
        offered: sheet.offered,
    });
    lists.oddities.set(sheet.oddities.into_iter().map(line));
    lists.signatures.set(sheet.signatures.into_iter().map(line));
    lists.readings.set(sheet.readings.into_iter().map(line));
    lists.stages.set(sheet.stages.into_iter().map(stage));
}

fn stage(stage: StageRow) -> ForemanStage {
    ForemanStage {
        title: stage.title.into(),
        note: stage.note.into(),
        lines: list(stage.lines.into_iter().map(line)),
        open: stage.open,
    }
}

fn defect(row: DefectRow) -> ForemanDefect {
    ForemanDefect {
        id: row.id.into(),
        heading: row.heading.into(),
        engine: row.engine.into(),
        mark: row.mark.into(),
        word: row.word.into(),
        words: row.words.into(),
        by: row.by.into(),
        restriction: row.restriction.into(),
        cleared: row.cleared.into(),
        may_restrict: row.may_restrict,
        may_clear: row.may_clear,
    }
}

fn dates(engine: DateEngine) -> ForemanDates {
    let rows = engine.rows.into_iter().map(|row| ForemanDate {
        number: i32::try_from(row.number).unwrap_or(0),
        title: row.title.into(),
        state: row.state.into(),
        word: row.word.into(),
        words: row.words.into(),
    });
    let marks = engine.marks.into_iter();
    let marks = marks.map(|mark| ForemanMark { at: mark.at, label: mark.label.into(), lower: mark.lower });
    let months = engine.months.into_iter();
    let months = months.map(|(at, label)| ForemanMark { at, label: label.into(), lower: false });
    ForemanDates {
        title: engine.title.into(),
        first: engine.first.into(),
        out: engine.out,
        rows: list(rows),
        marks: list(marks),
        months: list(months),
        spoken: engine.spoken.into(),
    }
}

fn water(lists: &Lists, page: &ForemanPage<'_>, water: WaterPage) {
    lists.engines.set(water.engines.into_iter().map(engine));
    lists.tests.set(water.tests.into_iter().map(line));
    lists.treatments.set(water.treatments.into_iter().map(line));
    page.set_water(ForemanWater {
        title: water.title.into(),
        since: water.since.into(),
        outlook: water.outlook.into(),
        basis: water.basis.into(),
        notes: water.notes.into(),
        plot: plot(water.plot),
    });
}

fn engine(engine: WaterEngine) -> ForemanEngine {
    ForemanEngine { number: engine.number.into(), title: engine.title.into(), chosen: engine.chosen }
}

fn plot(plot: Plot) -> ForemanPlot {
    ForemanPlot {
        shown: plot.shown,
        tests: plot.tests.into(),
        line: plot.line.into(),
        doses: plot.doses.into(),
        blowdowns: plot.blowdowns.into(),
        legend: plot.legend.into(),
        from_words: plot.from_words.into(),
        limit: plot.limit,
        limit_words: plot.limit_words.into(),
        warn: plot.warn,
        warn_words: plot.warn_words.into(),
        top_words: plot.top_words.into(),
        days: i32::try_from(plot.days).unwrap_or(i32::MAX),
        spoken: plot.spoken.into(),
    }
}

fn ask(lists: &Lists, page: &ForemanPage<'_>, ask: &Asked) {
    let choice = |choice: &Choice| ForemanChoice {
        key: choice.key.as_str().into(),
        title: choice.title.as_str().into(),
        note: choice.note.as_str().into(),
    };
    lists.choices.set(ask.choices.iter().map(choice));
    page.set_ask(ForemanAsk {
        kind: ask.kind.into(),
        title: ask.title.as_str().into(),
        note: ask.note.as_str().into(),
        other: ask.other.into(),
        typed: ask.typed.as_str().into(),
        ready: ask.ready,
        confirm: ask.confirm.into(),
        page: i32::try_from(ask.page).unwrap_or(0),
    });
}
