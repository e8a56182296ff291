//! The global of exchanging records.

use std::rc::Rc;

use slint::{ComponentHandle, SharedString};

use super::models::Rows;
use super::{Hub, calls, calls_with};
use crate::controllers::sync::{Exchange, Matter, SyncDesk};
use crate::controllers::{Desks, Session};
use crate::ui::{MainWindow, SyncDone, SyncMatter, SyncPage, SyncPlace};

#[derive(Default)]
pub(super) struct Lists {
    places: Rows<SyncPlace>,
    recent: Rows<SyncPlace>,
    done: Rows<SyncDone>,
    matters: Rows<SyncMatter>,
}

fn with_session(hub: &Rc<Hub>, act: fn(&mut SyncDesk, &mut Session)) -> impl Fn() + 'static {
    calls(hub, move |desks| {
        if let Some(session) = &mut desks.session {
            act(&mut desks.sync, session);
        }
    })
}

pub(super) fn bind(hub: &Rc<Hub>, window: &MainWindow) {
    let page = window.global::<SyncPage>();
    page.set_places(hub.sync.places.model());
    page.set_recent(hub.sync.recent.model());
    page.set_done(hub.sync.done.model());
    page.set_matters(hub.sync.matters.model());
    page.set_path(SharedString::default());
    page.on_typed(calls_with(hub, |desks, path: SharedString| desks.sync.typed(&path)));
    page.on_choose(calls_with(hub, |desks, path: SharedString| desks.sync.typed(&path)));
    page.on_share_it(with_session(hub, SyncDesk::share));
    page.on_unshare_it(with_session(hub, SyncDesk::unshare));
    page.on_start(with_session(hub, SyncDesk::start));
    page.on_stop(calls(hub, |desks| desks.sync.stop()));
}

pub(super) fn show(lists: &Lists, desks: &Desks, window: &MainWindow) {
    let Some(session) = &desks.session else { return };
    let view = desks.sync.view(session);
    let page = window.global::<SyncPage>();
    // What is being typed keeps its spaces.
    if page.get_path().trim() != view.path {
        page.set_path(view.path.into());
    }
    let place = |(path, name): (String, String)| SyncPlace { path: path.into(), name: name.into() };
    lists.places.set(view.places.into_iter().map(place));
    lists.recent.set(view.recent.into_iter().map(|path| place((path.clone(), path))));
    lists.done.set(view.done.into_iter().map(done));
    lists.matters.set(view.matters.into_iter().map(matter));
    let more = if view.more == 0 { String::new() } else { format!("{} more are not listed: type the name", view.more) };
    page.set_more(more.into());
    page.set_ready(view.ready);
    page.set_shared(view.shared.into());
    page.set_shared_words(view.shared_words.into());
    page.set_shared_trouble(view.shared_trouble);
    page.set_may_share(view.may_share);
    page.set_key(view.key.into());
    page.set_notice(view.notice.into());
    page.set_running(view.running);
    page.set_stopping(view.stopping);
    page.set_share(view.share);
    page.set_progress(view.progress.into());
}

fn done(one: Exchange) -> SyncDone {
    SyncDone {
        at: one.at.into(),
        with: one.with.into(),
        word: one.word.into(),
        detail: one.detail.into(),
        look: one.look,
    }
}

fn matter(one: Matter) -> SyncMatter {
    SyncMatter { mark: one.mark.into(), title: one.title.into(), todo: one.todo.into() }
}
