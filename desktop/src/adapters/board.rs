//! The duty board's global.

use std::rc::Rc;

use slint::ComponentHandle;

use super::models::Rows;
use super::{Hub, calls_with};
use crate::controllers::Desks;
use crate::controllers::board::Card;
use crate::ui::{BoardCard, BoardPage, MainWindow};

#[derive(Default)]
pub(super) struct Lists {
    cards: Rows<BoardCard>,
}

pub(super) fn bind(hub: &Rc<Hub>, window: &MainWindow) {
    let page = window.global::<BoardPage>();
    page.set_cards(hub.board.cards.model());
    page.on_toggle(calls_with(hub, |desks, engine: i32| {
        if let Ok(engine) = u16::try_from(engine) {
            desks.board.toggle(engine);
        }
    }));
}

pub(super) fn show(lists: &Lists, desks: &Desks, window: &MainWindow) {
    let Some(session) = &desks.session else { return };
    let view = desks.board.view(session.ledger(), session.now());
    let page = window.global::<BoardPage>();
    page.set_as_of(view.as_of.into());
    page.set_rules(view.rules.into());
    page.set_summary(view.summary.into());
    page.set_caution(view.caution.into());
    page.set_empty(view.empty.into());
    lists.cards.set(view.cards.into_iter().map(card));
}

fn card(card: Card) -> BoardCard {
    BoardCard {
        engine: card.engine.into(),
        number: card.engine.to_string().into(),
        name: card.name.into(),
        verdict: card.verdict.into(),
        word: card.word.into(),
        spoken: card.spoken.into(),
        until: card.until.into(),
        turn: card.turn.into(),
        late: card.late,
        late_words: card.late_words.into(),
        reasons: card.reasons.into(),
        more: card.more.into(),
        conditions: card.conditions.into(),
        work: card.work.into(),
        notes: card.notes.into(),
        open: card.open,
    }
}
