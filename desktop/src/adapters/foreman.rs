//! The global of the foreman's desk.

use std::rc::Rc;

use slint::{ComponentHandle, ModelRc, SharedString, VecModel};

use super::models::Rows;
use super::{Hub, calls, calls_with};
use crate::controllers::Desks;
use crate::controllers::foreman::{List, Row};
use crate::ui::{ForemanPage, ForemanRow, MainWindow, Tab};

#[derive(Default)]
pub(super) struct Lists {
    rows: Rows<ForemanRow>,
}

pub(super) fn bind(hub: &Rc<Hub>, window: &MainWindow) {
    let page = window.global::<ForemanPage>();
    let lists = List::ALL.iter().map(|(_, id, label)| Tab { id: (*id).into(), label: (*label).into() });
    page.set_lists(ModelRc::new(lists.collect::<VecModel<Tab>>()));
    page.set_rows(hub.foreman.rows.model());
    page.on_choose(calls_with(hub, |desks, key: SharedString| desks.foreman.choose(&key)));
    page.on_read(calls_with(hub, |desks, sheet: SharedString| desks.foreman.read(&sheet)));
    page.on_back(calls(hub, |desks| desks.foreman.back()));
    page.on_review(calls(hub, Desks::review));
}

pub(super) fn show(lists: &Lists, desks: &Desks, window: &MainWindow) {
    let Some(session) = &desks.session else { return };
    let view = desks.foreman.view(session.ledger(), session.now());
    let page = window.global::<ForemanPage>();
    page.set_list(view.list.into());
    page.set_title(view.title.into());
    page.set_reading(view.reading);
    page.set_may_review(view.may_review);
    lists.rows.set(view.rows.into_iter().map(row));
}

fn row(row: Row) -> ForemanRow {
    ForemanRow {
        kind: row.kind.into(),
        id: row.id.into(),
        title: row.title.into(),
        word: row.word.into(),
        note: row.note.into(),
        mark: row.mark.into(),
        share: row.share,
    }
}
