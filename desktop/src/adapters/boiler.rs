//! The boiler picture's global, and the ways to it from other pages.

use std::rc::Rc;

use offshed_core::ident::EngineId;
use slint::{ComponentHandle, SharedString};

use super::models::Rows;
use super::{Hub, calls, calls_with};
use crate::controllers::Desks;
use crate::controllers::boiler::drawing::Spot;
use crate::controllers::boiler::gauge::Gauge;
use crate::controllers::boiler::{self, BoilerView, Flag, Move, RoadView};
use crate::controllers::crew::{Place, Touch};
use crate::ui::{
    BoilerDoor, BoilerFlag, BoilerHeadline, BoilerLines, BoilerPage, BoilerRoad, BoilerSpot, GaugeMark, MainWindow,
};

/// Side of the box that path commands are written in.
const SIDE: f64 = 1_000.0;
/// Width of the road's box over its height.
const ROAD_ASPECT: f64 = 7.0;

#[derive(Default)]
pub(super) struct Lists {
    plugs: Rows<BoilerSpot>,
    headlines: Rows<BoilerHeadline>,
    figures: Rows<SharedString>,
    marks: Rows<GaugeMark>,
    doors: Rows<BoilerDoor>,
}

pub(super) fn bind(hub: &Rc<Hub>, window: &MainWindow) {
    let page = window.global::<BoilerPage>();
    let lists = &hub.boiler;
    page.set_plugs(lists.plugs.model());
    page.set_headlines(lists.headlines.model());
    page.set_figures(lists.figures.model());
    page.set_marks(lists.marks.model());
    page.set_doors(lists.doors.model());
    moves(hub, &page);
    page.on_back(calls(hub, |desks| desks.shell.show(desks.boiler.from())));
    page.on_low_water(calls(hub, |desks| {
        if let Some(session) = &mut desks.session {
            desks.crew.touch(session, Touch::LowWater);
        }
    }));
    page.on_show(two(hub, |desks, page: &str, engine: i32| {
        if let Ok(engine) = u16::try_from(engine) {
            open(desks, page, EngineId(engine));
        }
    }));
    page.on_show_here(calls_with(hub, |desks, page: SharedString| {
        let here = desks.session.as_ref().and_then(|session| boiler::engine_at(session, desks.crew.place()));
        if let Some(engine) = here {
            open(desks, &page, engine);
        }
    }));
}

/// Puts a page up for an engine.
fn open(desks: &mut Desks, page: &str, engine: EngineId) {
    let from = desks.shell.desk();
    if let Some(session) = &desks.session {
        desks.boiler.open(session, engine, from);
        desks.shell.show(page);
    }
}

fn moves(hub: &Rc<Hub>, page: &BoilerPage<'_>) {
    page.on_move(two(hub, |desks, what: &str, by: i32| {
        let Ok(by) = i16::try_from(by) else { return };
        let touched = match what {
            "reading" => Move::Reading(by),
            "slope" => Move::Slope(by),
            "speed" => Move::Speed(by),
            "step" => Move::Step(by),
            _ => return,
        };
        touch(desks, touched);
    }));
    page.on_set(two(hub, |desks, what: &str, so: bool| {
        let touched = match what {
            "open" => Move::RegulatorOpen(so),
            "bunker" => Move::BunkerFirst(so),
            "along" => Move::Along(so),
            _ => return,
        };
        touch(desks, touched);
    }));
    page.on_touch(calls_with(hub, |desks, what: SharedString| match what.as_str() {
        "level" => touch(desks, Move::Level),
        "worst" => touch(desks, Move::Worst),
        _ => {}
    }));
    page.on_slide(calls_with(hub, |desks, share: f32| touch(desks, Move::Slide(share.into()))));
}

fn touch(desks: &mut Desks, touched: Move) {
    if let Some(session) = &desks.session {
        desks.boiler.touch(session, touched);
    }
}

/// A callback with a name and something more.
fn two<A: 'static>(hub: &Rc<Hub>, act: impl Fn(&mut Desks, &str, A) + 'static) -> impl Fn(SharedString, A) + 'static {
    let call = calls_with(hub, move |desks, (what, more): (SharedString, A)| act(desks, &what, more));
    move |what, more| call((what, more))
}

/// The ways to the page.
pub(super) fn show_doors(lists: &Lists, desks: &Desks, window: &MainWindow) {
    let Some(session) = &desks.session else { return };
    let door = |door: boiler::Door| BoilerDoor {
        engine: door.engine.into(),
        title: door.title.into(),
        measured: door.measured,
    };
    lists.doors.set(boiler::doors(session).into_iter().map(door));
    let about_water = match desks.crew.place() {
        Place::Step(sheet, step) => boiler::is_about_water(session, sheet, step),
        _ => false,
    };
    window.global::<BoilerPage>().set_at_step(about_water);
}

pub(super) fn show(lists: &Lists, desks: &Desks, window: &MainWindow) {
    let Some(session) = &desks.session else { return };
    let view = desks.boiler.view(session);
    let page = window.global::<BoilerPage>();
    page.set_title(view.title.as_str().into());
    page.set_note(view.note.as_str().into());
    page.set_missing(view.missing.as_str().into());
    page.set_caution(view.caution.into());
    if view.missing.is_empty() {
        drawing(&page, &view);
        controls(&page, &view);
        lists.plugs.set(view.plugs.iter().map(|at| spot(*at)));
        let headlines = view.headlines.iter();
        lists.headlines.set(headlines.map(|h| BoilerHeadline { words: h.words.as_str().into(), warns: h.warns }));
        lists.figures.set(view.lines.iter().map(SharedString::from));
        lists.marks.set(marks(&view.gauge));
    }
}

fn drawing(page: &BoilerPage<'_>, view: &BoilerView) {
    let (wide, high) = (SIDE * view.aspect, SIDE);
    let line = |spots: &[Spot], closed: bool| commands(spots, closed, wide, high);
    let several = |lines: &[Vec<Spot>]| -> SharedString {
        lines.iter().map(|one| line(one, false).to_string()).collect::<Vec<_>>().join(" ").into()
    };
    page.set_aspect(view.aspect as f32);
    page.set_lines(BoilerLines {
        shell: line(&view.shell, true),
        firebox: line(&view.firebox, true),
        water: line(&view.water, true),
        surface: line(&view.surface, false),
        tubes: several(&view.tubes),
        bare: line(&view.bare, false),
        glass: several(&view.glass),
    });
    let [back, front] = &view.flags;
    page.set_back_edge(flag(back));
    page.set_front_edge(flag(front));
    page.set_spoken(view.spoken.as_str().into());
    page.set_fill(view.gauge.fill as f32);
    page.set_band_low(view.gauge.band[0] as f32);
    page.set_band_high(view.gauge.band[1] as f32);
    page.set_gauge_spoken(view.gauge.spoken.as_str().into());
}

fn controls(page: &BoilerPage<'_>, view: &BoilerView) {
    page.set_reading(view.reading.as_str().into());
    page.set_open(view.open);
    page.set_swell(view.swell.as_str().into());
    page.set_bunker_first(view.bunker_first);
    page.set_gradient(view.gradient.as_str().into());
    page.set_speed(view.speed.as_str().into());
    page.set_along(view.along);
    page.set_road(road(&view.road));
}

fn road(view: &RoadView) -> BoilerRoad {
    let place = |at: Option<Spot>| at.map_or_else(BoilerSpot::default, spot);
    BoilerRoad {
        name: view.name.as_str().into(),
        missing: view.missing.as_str().into(),
        profile: commands(&view.profile, false, SIDE * ROAD_ASPECT, SIDE),
        here: place(view.here),
        worst: place(view.worst),
        has_worst: view.worst.is_some(),
        here_words: view.here_words.as_str().into(),
        worst_words: view.worst_words.as_str().into(),
        share: view.share as f32,
    }
}

fn flag(flag: &Flag) -> BoilerFlag {
    let at = flag.at.map_or_else(BoilerSpot::default, spot);
    BoilerFlag {
        x: at.x,
        y: at.y,
        edge: flag.edge.into(),
        cover: flag.cover.as_str().into(),
        word: flag.word.into(),
        worst: flag.worst,
        bare: flag.bare,
    }
}

pub(super) fn spot(at: Spot) -> BoilerSpot {
    BoilerSpot { x: at.x as f32, y: at.y as f32 }
}

/// A gauge's marks.
pub(super) fn marks(gauge: &Gauge) -> impl Iterator<Item = GaugeMark> + '_ {
    gauge.marks.iter().map(|mark| GaugeMark {
        kind: mark.kind.key().into(),
        at: mark.at as f32,
        words_at: mark.words_at as f32,
        words: mark.words.as_str().into(),
    })
}

/// Shares of a box as path commands in a box of so many units.
pub(super) fn commands(spots: &[Spot], closed: bool, wide: f64, high: f64) -> SharedString {
    let mut all = String::new();
    for (n, at) in spots.iter().enumerate() {
        let letter = if n == 0 { 'M' } else { 'L' };
        all.push_str(&format!("{letter} {:.1} {:.1} ", at.x * wide, at.y * high));
    }
    if closed && !spots.is_empty() {
        all.push('Z');
    }
    all.into()
}
