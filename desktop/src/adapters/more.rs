//! The global of settings and of what this program is.

use std::rc::Rc;

use slint::{ComponentHandle, SharedString};

use super::models::Rows;
use super::{Hub, calls_with};
use crate::controllers::more::{self, Choice};
use crate::controllers::{Desks, Session};
use crate::ui::{MainWindow, MoreChoice, MorePage};

#[derive(Default)]
pub(super) struct Lists {
    schemes: Rows<MoreChoice>,
    sizes: Rows<MoreChoice>,
    hands: Rows<MoreChoice>,
    units: Rows<MoreChoice>,
}

fn keyed(hub: &Rc<Hub>, change: fn(&mut Session, &str)) -> impl Fn(SharedString) + 'static {
    calls_with(hub, move |desks, key: SharedString| {
        if let Some(session) = &mut desks.session {
            change(session, &key);
        }
    })
}

pub(super) fn bind(hub: &Rc<Hub>, window: &MainWindow) {
    let page = window.global::<MorePage>();
    page.set_schemes(hub.more.schemes.model());
    page.set_sizes(hub.more.sizes.model());
    page.set_hands(hub.more.hands.model());
    page.set_units(hub.more.units.model());
    page.on_choose_scheme(keyed(hub, more::choose_scheme));
    page.on_choose_size(keyed(hub, more::choose_size));
    page.on_choose_hand(keyed(hub, more::choose_hand));
    page.on_choose_units(keyed(hub, more::choose_units));
    page.on_change_density(calls_with(hub, |desks, by: i32| {
        if let (Some(session), Ok(by)) = (&mut desks.session, i16::try_from(by)) {
            more::change_density(session, by);
        }
    }));
}

pub(super) fn show(lists: &Lists, desks: &Desks, window: &MainWindow) {
    let Some(session) = &desks.session else { return };
    let view = more::view(session);
    let page = window.global::<MorePage>();
    lists.schemes.set(view.schemes.into_iter().map(choice));
    lists.sizes.set(view.sizes.into_iter().map(choice));
    lists.hands.set(view.hands.into_iter().map(choice));
    lists.units.set(view.units.into_iter().map(choice));
    page.set_density(view.density.into());
    page.set_version(view.version.into());
    page.set_folder(view.folder.into());
    page.set_device(view.device.into());
    page.set_fault(view.fault.into());
    page.set_caution(view.caution.into());
    page.set_licences(view.licences.into());
}

fn choice(choice: Choice) -> MoreChoice {
    MoreChoice { key: choice.key.into(), label: choice.label.into(), chosen: choice.chosen }
}
