//! The treatment page's global.

use std::rc::Rc;

use slint::{ComponentHandle, SharedString};

use super::Hub;
use super::boiler::{commands, marks, spot};
use super::models::Rows;
use crate::controllers::Desks;
use crate::controllers::treatment::{self, Dated, FigureCard, History, TestRow};
use crate::ui::{
    BoilerSpot, GaugeMark, MainWindow, TreatmentFigure, TreatmentPage, TreatmentRow, TreatmentSolids, TreatmentTest,
};

/// The box that the plot's commands are written in.
const PLOT: [f64; 2] = [3_000.0, 1_000.0];

#[derive(Default)]
pub(super) struct Lists {
    tests: Rows<TreatmentTest>,
    marks: Rows<GaugeMark>,
    points: Rows<BoilerSpot>,
    solids: Rows<TreatmentRow>,
    treatments: Rows<TreatmentRow>,
}

pub(super) fn bind(hub: &Rc<Hub>, window: &MainWindow) {
    let page = window.global::<TreatmentPage>();
    page.set_tests(hub.treatment.tests.model());
    page.set_marks(hub.treatment.marks.model());
    page.set_solids_points(hub.treatment.points.model());
    page.set_solids_rows(hub.treatment.solids.model());
    page.set_treatments(hub.treatment.treatments.model());
}

pub(super) fn show(lists: &Lists, desks: &Desks, window: &MainWindow) {
    let Some((session, engine)) = desks.session.as_ref().zip(desks.boiler.engine()) else { return };
    let view = treatment::view(session, engine);
    let page = window.global::<TreatmentPage>();
    page.set_title(view.title.into());
    page.set_sheet(view.sheet.into());
    page.set_missing(view.missing.into());
    page.set_caution(view.caution.into());
    lists.tests.set(view.tests.into_iter().map(test));
    page.set_dose(figure(view.dose));
    page.set_blowdown(figure(view.blowdown));
    page.set_fill(view.gauge.fill as f32);
    page.set_band_low(view.gauge.band[0] as f32);
    page.set_band_high(view.gauge.band[1] as f32);
    page.set_gauge_spoken(view.gauge.spoken.as_str().into());
    lists.marks.set(marks(&view.gauge));
    history(lists, &page, view.history);
}

fn history(lists: &Lists, page: &TreatmentPage<'_>, history: History) {
    let [wide, high] = PLOT;
    lists.points.set(history.points.iter().map(|at| spot(*at)));
    lists.solids.set(history.tests.into_iter().map(dated));
    lists.treatments.set(history.treatments.into_iter().map(dated));
    page.set_solids(TreatmentSolids {
        plot: commands(&history.points, false, wide, high),
        limit: history.limit.unwrap_or_default() as f32,
        limit_words: SharedString::from(history.limit_words),
        span_words: history.span_words.into(),
        words: history.lines.join("\n").into(),
    });
}

fn dated(row: Dated) -> TreatmentRow {
    TreatmentRow { when: row.when.into(), what: row.what.into() }
}

fn test(row: TestRow) -> TreatmentTest {
    TreatmentTest {
        title: row.title.into(),
        value: row.value.into(),
        limits: row.limits.into(),
        mark: row.mark.into(),
        word: row.word.into(),
        note: row.note.into(),
    }
}

fn figure(card: FigureCard) -> TreatmentFigure {
    TreatmentFigure {
        title: card.title.into(),
        result: card.result.into(),
        lines: card.lines.join("\n").into(),
        from: card.from.into(),
        recorded: card.recorded.into(),
        since: card.since.into(),
        caution: card.caution.into(),
    }
}
