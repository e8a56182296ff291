//! The global of what stands round every page, and the theme.

use std::rc::Rc;

use slint::{ComponentHandle, ModelRc, SharedString, VecModel};

use super::{Hub, calls, calls_with};
use crate::controllers::Desks;
use crate::controllers::shell::TABS;
use crate::ui::{MainWindow, Shell, Tab, Theme};

pub(super) fn bind(hub: &Rc<Hub>, window: &MainWindow) {
    let shell = window.global::<Shell>();
    let tabs = TABS.iter().map(|tab| Tab { id: tab.id.into(), label: tab.label.into() });
    shell.set_tabs(ModelRc::new(tabs.collect::<VecModel<Tab>>()));
    shell.on_show(calls_with(hub, |desks, id: SharedString| desks.shell.show(&id)));
    shell.on_toggle_doubt(calls(hub, |desks| desks.shell.toggle_doubt()));
    shell.on_read_caution(calls(hub, |desks| desks.shell.read_caution()));
    shell.on_make_demo(calls(hub, Desks::make_demo));
    shell.on_make_new(calls(hub, Desks::make_new));
}

pub(super) fn show(desks: &Desks, window: &MainWindow) {
    let view = desks.shell_view();
    let shell = window.global::<Shell>();
    shell.set_desk(view.desk.into());
    shell.set_clock(view.clock.into());
    shell.set_day(view.day.into());
    let (words, detail) = view.doubt.map_or_else(Default::default, |doubt| (doubt.words, doubt.detail));
    shell.set_doubt(words.into());
    shell.set_doubt_detail(detail.into());
    shell.set_doubt_open(view.doubt_open);
    shell.set_caution(view.caution.into());
    shell.set_first_run(view.first_run);
    shell.set_first_run_where(view.wherever.into());
    shell.set_first_run_fault(view.fault.into());
    theme(desks, window);
}

fn theme(desks: &Desks, window: &MainWindow) {
    let Some(session) = &desks.session else { return };
    let theme = window.global::<Theme>();
    theme.set_scheme(session.screen.scheme.key().into());
    theme.set_text_scale(f32::from(session.screen.text) / 100.0);
    theme.set_dots_per_inch(f32::from(session.screen.density));
    theme.set_left_handed(session.screen.left_handed);
}
