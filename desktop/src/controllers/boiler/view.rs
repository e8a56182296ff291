//! The picture as plain data: places in boxes, words beside them.

use offshed_core::boiler::level::{Edge, GlassReading, Seen, Tilt};
use offshed_core::boiler::road::{Journey, Run};
use offshed_core::boiler::shape::Vessel;
use offshed_core::ident::EngineId;
use offshed_core::register::{Register, RoadFacts};
use offshed_core::verdict::GLASS_ERROR_MM;

use super::super::Session;
use super::drawing::{self, Frame, Spot, Surface};
use super::gauge::{Gauge, MarkKind};
use super::least::{Least, least};
use super::words::{self, Headline};
use super::{BoilerDesk, facts, way};

/// A flag at an edge of the crown.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Flag {
    /// Where the edge is, in the drawing's box.
    pub at: Option<Spot>,
    /// Which edge.
    pub edge: &'static str,
    /// Its cover.
    pub cover: String,
    /// That it is the least, or bare; empty: neither.
    pub word: &'static str,
    /// It is the one to look at.
    pub worst: bool,
    /// It is not covered.
    pub bare: bool,
}

/// The road under the picture.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct RoadView {
    /// Its name; empty: the engine's turn has none.
    pub name: String,
    /// What is missing, where it has none.
    pub missing: String,
    /// Its profile.
    pub profile: Vec<Spot>,
    /// The place the slider stands at.
    pub here: Option<Spot>,
    /// The worst place.
    pub worst: Option<Spot>,
    /// Where the slider stands, in words.
    pub here_words: String,
    /// The worst place, in words.
    pub worst_words: String,
    /// The distance, as a share of the road.
    pub share: f64,
}

/// The page.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct BoilerView {
    /// The engine's number.
    pub engine: u16,
    /// The engine.
    pub title: String,
    /// What the picture starts from.
    pub note: String,
    /// Why there is no picture, and what the office does about it; empty: there is one.
    pub missing: String,
    /// Width of the drawing over its height.
    pub aspect: f64,
    /// The boiler's outside.
    pub shell: Vec<Spot>,
    /// The inner firebox.
    pub firebox: Vec<Spot>,
    /// The water.
    pub water: Vec<Spot>,
    /// Its surface.
    pub surface: Vec<Spot>,
    /// The tubes.
    pub tubes: Vec<Vec<Spot>>,
    /// The bare part of the crown.
    pub bare: Vec<Spot>,
    /// The fusible plugs.
    pub plugs: Vec<Spot>,
    /// The glass with its two nuts.
    pub glass: Vec<Vec<Spot>>,
    /// Back edge and front edge of the crown.
    pub flags: [Flag; 2],
    /// The crown, the glass, and a boiler that is full or empty.
    pub headlines: Vec<Headline>,
    /// Further figures.
    pub lines: Vec<String>,
    /// The glass, large.
    pub gauge: Gauge,
    /// The reading.
    pub reading: String,
    /// The regulator was open at the reading.
    pub open: bool,
    /// What an open regulator does to the reading.
    pub swell: String,
    /// The bunker leads.
    pub bunker_first: bool,
    /// The gradient in words.
    pub gradient: String,
    /// The change of speed in words.
    pub speed: String,
    /// The picture stands on the road.
    pub along: bool,
    /// The road.
    pub road: RoadView,
    /// The picture in one sentence, for those who hear it.
    pub spoken: String,
    /// The caution.
    pub caution: &'static str,
}

/// The way to an engine's boiler.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Door {
    /// The engine.
    pub engine: u16,
    /// Its number and name.
    pub title: String,
    /// Its boiler is measured.
    pub measured: bool,
}

/// Every engine, by number.
pub fn doors(session: &Session) -> Vec<Door> {
    let door = |id: EngineId| Door { engine: id.0, title: title(session, id), measured: facts(session, id).is_some() };
    session.ledger().engine_ids().into_iter().map(door).collect()
}

/// "No. 4 Tamsin".
pub(in super::super) fn title(session: &Session, id: EngineId) -> String {
    let name = session.ledger().office.engines.get(&id).map_or("", |card| card.name.as_str());
    format!("No. {id} {name}").trim_end().to_owned()
}

/// What the office does about a boiler that is not measured.
fn not_measured(title: &str) -> String {
    format!(
        "The boiler of {title} is not measured: there is no picture of it and no figure from it.\n\nThe office measures \
barrel, casing, inner firebox, tubes and glass from the drawing or the boiler itself, writes them in a file, and enters \
it with:  offshed register boiler"
    )
}

/// All that one picture is made from.
struct Sitting<'a> {
    vessel: &'a Vessel,
    seen: Seen,
    start: Tilt,
    place: String,
}

impl BoilerDesk {
    /// The page as it stands now.
    pub fn view(&self, session: &Session) -> BoilerView {
        let Some(engine) = self.engine else { return BoilerView::default() };
        let title = title(session, engine);
        let base = BoilerView { engine: engine.0, caution: words::CAUTION, title, ..BoilerView::default() };
        let Some((vessel, swell_mm)) = facts(session, engine) else {
            return BoilerView { missing: not_measured(&base.title), ..base };
        };
        let road = session.ledger().office.road(engine, session.now().stamp);
        let least = least(session, engine);
        let cover = least.as_ref().map_or(0.0, |(_, cover_mm)| *cover_mm);
        let journey = road.as_ref().map(|road| way::journey(road, self.regulator(swell_mm), cover, GLASS_ERROR_MM));
        let Some(sitting) = self.sitting(vessel, swell_mm, journey.as_ref()) else {
            let missing = "The reading cannot be used with this boiler: measure its glass again.".to_owned();
            return BoilerView { missing, ..base };
        };
        let mut view = self.controls(base, swell_mm);
        view.road = self.road_view(session, road.as_ref(), journey.as_ref(), vessel);
        draw(&mut view, &sitting);
        self.tell(&mut view, &sitting, least.map(|(least, _)| least));
        view
    }

    /// The water where the picture is: on the road at the slider, or on the gradient that was chosen.
    fn sitting<'a>(&self, vessel: &'a Vessel, swell_mm: f64, journey: Option<&Journey<'_>>) -> Option<Sitting<'a>> {
        let reading = GlassReading { mm: self.reading_mm, error_mm: GLASS_ERROR_MM };
        let regulator = self.regulator(swell_mm);
        match journey.filter(|_| self.along) {
            None => {
                let seen = vessel.after(reading, regulator, Tilt::LEVEL, self.tilt()).ok()?;
                let facing = way::facing_words(self.facing());
                let (slope, speed) = (way::gradient_words(self.gradient()), way::speed_words(self.acceleration()));
                Some(Sitting { vessel, seen, start: Tilt::LEVEL, place: format!("{slope}, {facing}, {speed}") })
            }
            Some(journey) => {
                let point = way::point_at(journey.points, self.stop)?;
                let tilt = point.tilt().ok()?;
                let used = way::passing(vessel, journey, point, self.reading_mm)?.used_l;
                let seen = vessel.at_reading(reading, regulator, journey.start).ok()?;
                let left = |litres: f64| vessel.at_volume((litres - used).max(0.0), tilt).ok();
                let seen = Seen {
                    as_read: left(seen.as_read.volume_l)?,
                    at_least: left(seen.at_least.volume_l)?,
                    at_most: left(seen.at_most.volume_l)?,
                };
                let (slope, speed) = (way::gradient_words(point.gradient), way::speed_words(point.acceleration_m_s2));
                let canted = if point.cant == 0.0 { "" } else { ", canted" };
                let place = format!("{slope}, {}, {speed}{canted}", way::facing_words(point.facing));
                Some(Sitting { vessel, seen, start: journey.start, place })
            }
        }
    }

    fn controls(&self, base: BoilerView, swell_mm: f64) -> BoilerView {
        let swell = match (self.open, swell_mm > 0.0) {
            (false, _) => "Regulator shut at the reading: the glass shows what there is.".to_owned(),
            (true, true) => format!("Regulator open at the reading: {swell_mm:.0} mm of swell are taken off."),
            (true, false) => {
                "Regulator open at the reading: this engine's swell is not stated, and none is taken off. \
                              There is less water than the glass shows."
                    .to_owned()
            }
        };
        let set = if self.standing.changed { "Set on this page, not read" } else { "Last on record" };
        let note = match (self.standing.reading_mm.is_some(), self.standing.changed) {
            (true, false) => format!("{set}: {}", self.standing.words),
            (true, true) => format!("{set}. Last on record: {}", self.standing.words),
            (false, true) => format!("{set}. No reading is on record."),
            (false, false) => "No reading is on record: a half glass is taken, not read.".to_owned(),
        };
        BoilerView {
            note,
            reading: format!("{:.0} mm", self.reading_mm),
            open: self.open,
            swell,
            bunker_first: self.bunker_first,
            gradient: way::gradient_words(self.gradient()),
            speed: way::speed_words(self.acceleration()),
            along: self.along,
            ..base
        }
    }

    /// The whole road from the reading, where there is one.
    fn run(&self, vessel: &Vessel, journey: &Journey<'_>) -> Option<Run> {
        vessel.run(journey, self.reading_mm).ok()
    }

    /// The point of the road where the cover is least.
    pub(super) fn worst_point(&self, session: &Session) -> Option<usize> {
        let engine = self.engine?;
        let (vessel, swell_mm) = facts(session, engine)?;
        let road = session.ledger().office.road(engine, session.now().stamp)?;
        let journey = way::journey(&road, self.regulator(swell_mm), 0.0, GLASS_ERROR_MM);
        Some(self.run(vessel, &journey)?.worst.place.index)
    }

    fn road_view(
        &self,
        session: &Session,
        road: Option<&RoadFacts<'_>>,
        journey: Option<&Journey<'_>>,
        vessel: &Vessel,
    ) -> RoadView {
        let Some((road, journey)) = road.zip(journey) else {
            let missing = "No road is entered for this engine's turn, nor a usual one: the office enters it with  offshed \
                           register road";
            return RoadView { missing: missing.to_owned(), ..RoadView::default() };
        };
        let office = &session.ledger().office;
        let name = office.roads.get(&road.road).map_or("", |road| road.name.as_str());
        let profile = way::profile(road.points);
        let spot = |share: f64| drawing::spot(share, way::profile_at(&profile, share));
        let here = way::point_at(road.points, self.stop);
        let run = self.run(vessel, journey);
        let worst = run.as_ref().map(|run| way::share_of(road.points, run.worst.place.distance_m));
        let worst_words = run.as_ref().map_or(String::new(), |run| {
            let least = &run.worst.water.cover;
            let km = run.worst.place.distance_m / 1_000.0;
            format!("Worst place: {km:.1} km, cover {} at the {}", words::cover(least.least_mm), least.edge.words())
        });
        let km = here.map_or(0.0, |point| point.distance_m / 1_000.0);
        let share = here.map_or(0.0, |point| way::share_of(road.points, point.distance_m));
        RoadView {
            name: name.to_owned(),
            missing: String::new(),
            here: Some(spot(share)),
            worst: worst.map(spot),
            here_words: format!("{km:.1} of {:.1} km", way::length_m(road.points) / 1_000.0),
            worst_words,
            share,
            profile,
        }
    }

    fn tell(&self, view: &mut BoilerView, sitting: &Sitting<'_>, least: Option<Result<Least, String>>) {
        let Sitting { vessel, seen, start, place } = sitting;
        let water = &seen.as_read;
        let all = [words::crown(seen), words::glass(water.glass), words::fill(water.fill)];
        view.headlines = all.into_iter().filter(|headline| !headline.words.is_empty()).collect();
        let lean = if start.along() == 0.0 { "on the level" } else { "as the engine stands before leaving" };
        let regulator = if self.open { "open" } else { "shut" };
        view.lines = vec![
            format!("Here: {place}."),
            words::cover_line(seen),
            format!("Read {:.0} mm ({}) {lean}, regulator {regulator}.", self.reading_mm, words::error(GLASS_ERROR_MM)),
            words::volume_line(seen),
        ];
        let (mark, line) = match least {
            Some(Ok(least)) => (Some(least.mm), least.words),
            Some(Err(why)) => (None, format!("No least reading to leave with can be told: {why}")),
            None => (None, "The adopted rules work out no least reading to leave with.".to_owned()),
        };
        view.lines.push(line);
        if water.glasses_differ_mm > 0.5 {
            view.lines.push(format!(
                "Canted: the two glasses differ by {:.0} mm; this is their mean.",
                water.glasses_differ_mm
            ));
        }
        view.gauge = self.gauge(vessel, seen, mark);
        let heads: Vec<&str> = view.headlines.iter().map(|h| h.words.as_str()).collect();
        view.spoken = format!("Boiler from the side. {}. {}", heads.join(". "), view.lines.join(" "));
    }

    fn gauge(&self, vessel: &Vessel, seen: &Seen, least_mm: Option<f64>) -> Gauge {
        let visible = vessel.visible_mm();
        let there = seen.as_read.glass.over_bottom_nut_mm(visible);
        let shown = match seen.as_read.glass {
            offshed_core::boiler::level::InGlass::Shows { mm } => format!("Here it shows {mm:.0} mm"),
            other => format!("Here: {}", other.words()),
        };
        let read = format!("Read: {:.0} mm {}", self.reading_mm, words::error(GLASS_ERROR_MM));
        let mut marks = vec![(MarkKind::Level, there, shown), (MarkKind::Read, self.reading_mm, read)];
        marks.extend(least_mm.map(|mm| (MarkKind::Line, mm, format!("Leave with {mm:.0} mm or more"))));
        let (low, high) = (self.reading_mm - GLASS_ERROR_MM, self.reading_mm + GLASS_ERROR_MM);
        Gauge::new(visible, there, 0.0, marks).banded(visible, low, high)
    }
}

/// Draws boiler and water into their box.
fn draw(view: &mut BoilerView, sitting: &Sitting<'_>) {
    let (vessel, seen) = (sitting.vessel, &sitting.seen);
    let boiler = vessel.boiler();
    let frame = Frame::of(vessel);
    let surface = Surface::of(vessel, &seen.as_read);
    let line = drawing::waterline(boiler, &surface).map_or(Vec::new(), |line| frame.places(&line));
    view.aspect = frame.aspect();
    view.shell = frame.places(&drawing::shell(boiler));
    view.firebox = frame.places(&drawing::firebox(boiler));
    view.water = frame.places(&drawing::under(&drawing::shell(boiler), &surface));
    view.surface = line;
    view.tubes = drawing::tubes(boiler).iter().map(|tube| frame.places(tube)).collect();
    view.bare = drawing::bare(boiler, &surface).map_or(Vec::new(), |bare| frame.places(&bare));
    view.plugs = frame.places(&drawing::plugs(boiler));
    view.glass = drawing::glass(vessel).iter().map(|line| frame.places(line)).collect();
    view.flags = flags(seen, frame.places(&drawing::crown(boiler)));
}

fn flags(seen: &Seen, edges: Vec<Spot>) -> [Flag; 2] {
    let found = &seen.as_read.cover;
    let flag = |n: usize, edge: &'static str, mm: f64, here: Edge| {
        let bare = mm <= 0.0;
        let worst = found.edge == here || found.edge == Edge::Everywhere;
        let word = match (bare, worst) {
            (true, _) => "BARE",
            (false, true) => "LEAST",
            (false, false) => "",
        };
        let cover = if bare { format!("\u{2212}{:.0} mm", -mm.floor()) } else { words::cover(mm) };
        Flag { at: edges.get(n).copied(), edge, cover, word, worst, bare }
    };
    [flag(0, "Back", found.back_mm, Edge::Back), flag(1, "Front", found.front_mm, Edge::Front)]
}
