//! The boiler picture and the treatment page in the window: reached and worked by their labels, in words for every state,
//! large enough for a glove; and what the desks behind them make of the records.

mod geometry;
#[path = "../window/mod.rs"]
mod window;

use std::path::Path;

use offshed::controllers::boiler::drawing::Spot;
use offshed::controllers::boiler::{BoilerDesk, BoilerView, Move};
use offshed::controllers::{Session, treatment};
use offshed::screen::Screen;
use offshed::ui::BoilerPage;
use offshed_core::ident::EngineId;
use offshed_depot::folder::Folder;
use offshed_depot::{demo, script};
use proptest::prelude::*;
use slint::ComponentHandle;
use window::{Bench, SIZES};

fn view(bench: &Bench) -> BoilerView {
    bench.app.desks(|desks| desks.boiler.view(desks.session.as_ref().unwrap()))
}

fn at_picture(bench: &Bench) {
    bench.touch("Crew");
    bench.touch("FIT: No. 4 Tamsin");
    bench.touch("Boiler picture");
}

#[test]
fn the_picture_starts_from_the_last_reading_on_record() {
    let bench = Bench::new(SIZES[1], &Screen::default());
    at_picture(&bench);
    // The day's script: the final level is read at 165 mm.
    assert!(bench.has("Last on record: 09:20, \u{201c}Final level\u{201d}"), "{:#?}", bench.labels());
    assert!(bench.has("CROWN COVERED") && bench.has("IN SIGHT: the glass shows 165 mm"));
    bench.touch("Reading down 10 mm");
    bench.touch("Reading up 1 mm");
    assert_eq!(view(&bench).reading, "156 mm");
    assert!(bench.has("IN SIGHT: the glass shows 156 mm"));
    assert!(bench.starting("Set on this page, not read").contains("09:20"));
    let entries = bench.app.desks(|desks| desks.session.as_ref().unwrap().ledger().entries().count());
    bench.touch("Back");
    assert!(bench.has("Boiler picture"), "the way back leads to the engine");
    assert_eq!(bench.app.desks(|desks| desks.session.as_ref().unwrap().ledger().entries().count()), entries);
}

#[test]
fn gradient_and_speed_lean_the_water_and_the_worst_edge_is_named() {
    let bench = Bench::new(SIZES[1], &Screen::default());
    at_picture(&bench);
    bench.touch("Gradient: Up");
    assert!(bench.has("Here: 1 in 500 up, chimney leads, steady."), "{:#?}", view(&bench).lines);
    assert!(bench.starting("Least cover").contains("FRONT edge"));
    bench.touch("Leading: Bunker");
    assert!(bench.starting("Least cover").contains("BACK edge"));
    bench.touch("Leading: Chimney");
    for _ in 0..20 {
        bench.touch("Reading down 10 mm");
        bench.touch("Gradient: Down");
        bench.touch("Speed: Brake");
    }
    assert_eq!(view(&bench).gradient, "1 in 20 down", "the steepest");
    assert!(bench.has("CROWN BARE"), "{:#?}", view(&bench).headlines);
    assert_eq!(view(&bench).flags[0].word, "BARE");
    let below = bench.starting("OUT OF SIGHT BELOW");
    assert!(below.contains("the railway's own low-water instruction applies"), "{below}");
    bench.touch("Gradient: Level");
    assert_eq!((view(&bench).gradient, view(&bench).speed), ("level".to_owned(), "steady".to_owned()));
    // Bunker first and uphill leans it the same way as chimney first and downhill; the other way round it piles up at the glass.
    for _ in 0..20 {
        bench.touch("Reading up 10 mm");
        bench.touch("Gradient: Up");
    }
    assert!(bench.starting("OUT OF SIGHT ABOVE").contains("does not say how much"));
}

#[test]
fn the_slider_moves_the_surface() {
    let bench = Bench::new(SIZES[1], &Screen::default());
    at_picture(&bench);
    bench.touch("Where: On the road");
    assert!(bench.has("Along the road"));
    let page = bench.app.window().global::<BoilerPage>();
    page.invoke_slide(0.2);
    let up = view(&bench);
    assert!(up.lines[0].contains("1 in 60 up"), "{}", up.lines[0]);
    assert!(page.get_lines().surface.starts_with("M "));
    page.invoke_slide(0.7);
    let back = view(&bench);
    assert!(back.lines[0].contains("1 in 100 up, bunker or tender leads"), "{}", back.lines[0]);
    assert_ne!(up.surface, back.surface);
    page.invoke_slide(f32::NAN);
    assert_eq!(view(&bench).surface, back.surface, "what is no number moves nothing");
    bench.one("Along the road").invoke_accessible_increment_action();
    assert!(view(&bench).road.share > 0.7);
    // The worst place shows the cover that was announced for it.
    bench.touch("To the worst place");
    let worst = view(&bench);
    let least = worst.flags.iter().find(|flag| flag.worst).unwrap();
    assert!(
        worst.road.worst_words.contains(&format!("cover {} at", least.cover)),
        "{:?} {least:?}",
        worst.road.worst_words
    );
    assert_eq!(worst.road.here, worst.road.worst);
}

/// The two figures come from one sum, but by two ways: along the road point by point, and the wish of each place.
#[test]
fn the_line_on_the_glass_is_just_enough() {
    let bench = Bench::new(SIZES[1], &Screen::default());
    at_picture(&bench);
    let line = view(&bench).gauge.marks.into_iter().find(|mark| mark.words.starts_with("Leave with")).unwrap();
    let mm: f64 = line.words.split(' ').nth(2).unwrap().parse().unwrap();
    bench.app.desks(|desks| {
        let by = (mm - desks.boiler.reading_mm()) as i16;
        let session = desks.session.as_ref().unwrap();
        desks.boiler.touch(session, Move::Reading(by));
        desks.boiler.touch(session, Move::Along(true));
        desks.boiler.touch(session, Move::Worst);
        let seen = desks.boiler.view(session);
        assert!(seen.headlines[0].words == "CROWN COVERED", "{:?}", seen.headlines);
        assert!(!seen.headlines.iter().any(|h| h.words.starts_with("OUT OF SIGHT BELOW")), "{:?}", seen.headlines);
    });
}

#[test]
fn a_swell_is_taken_off_and_one_that_is_not_stated_is_said() {
    let bench = Bench::new(SIZES[1], &Screen::default());
    bench.touch("More");
    bench.touch("Boiler picture: No. 11 Bramble Down");
    let shut = view(&bench);
    bench.touch("Regulator: Open");
    let open = view(&bench);
    assert_eq!(open.swell, "Regulator open at the reading: 12 mm of swell are taken off.");
    assert_ne!(open.surface, shut.surface);
    bench.touch("Back");
    assert!(bench.has("Boiler picture: No. 4 Tamsin"), "the way back leads to where it was opened");
    bench.touch("Boiler picture: No. 4 Tamsin");
    bench.touch("Regulator: Open");
    assert!(view(&bench).swell.contains("not stated"));
}

#[test]
fn a_boiler_that_is_not_measured_says_what_the_office_does() {
    let bench = Bench::new(SIZES[0], &Screen::default());
    bench.touch("Crew");
    bench.touch("NOT FIT: No. 23");
    bench.touch("Boiler picture");
    assert!(bench.starting("The boiler of No. 23 is not measured").contains("offshed register boiler"));
    assert!(!bench.labels().iter().any(|label| label.starts_with("Reading")), "there is nothing to set");
    assert!(bench.starting("Caution: ").contains("never advises feeding"));
    bench.touch("Low water");
    assert!(bench.starting("YOUR RAILWAY'S OWN").contains("move nothing on the word of this screen"));
    bench.touch("Back");
    assert!(bench.starting("The boiler of No. 23").contains("not measured"), "the card goes back to where it came up");
}

#[test]
fn a_step_about_the_level_leads_to_the_picture_and_others_do_not() {
    let bench = Bench::new(SIZES[2], &Screen::default());
    bench.touch("Crew");
    bench.touch("FIT: No. 4 Tamsin");
    bench.touch(&bench.starting("Open: Preparation"));
    bench.touch("All steps");
    bench.touch(&bench.starting("Done: Final level"));
    bench.touch("Boiler picture");
    assert!(bench.has("CROWN COVERED"));
    i_slint_backend_testing::mock_elapsed_time(std::time::Duration::from_millis(20));
    bench.key(slint::SharedString::from(slint::platform::Key::Escape));
    assert!(bench.starting("State: Done").contains("165 mm"), "the way back leads to the step");
    bench.touch(&bench.starting("Done: Vacuum created"));
    assert!(!bench.has("Boiler picture"));
}

/// 19 mm: a gloved fingertip and its slip; common practice, no source.
#[test]
fn controls_take_a_glove_and_stay_on_the_screen() {
    for text in [100, 200] {
        for size in SIZES {
            let shown = move || {
                let bench = Bench::new(size, &Screen { text, ..Screen::default() });
                let least = 19.0 * f32::from(size.density) / 25.4;
                let check = |place: &str| {
                    for control in bench.controls() {
                        let (label, is) = (control.accessible_label().unwrap_or_default(), control.size());
                        assert!(is.width >= least && is.height >= least, "{place}, {label}: {is:?} below {least}");
                        let left = control.absolute_position().x;
                        let inside = left >= -0.5 && left + is.width <= size.width + 0.5;
                        assert!(inside, "{place}, {label}: {left} and {is:?} leave {size:?} at {text} %");
                    }
                };
                at_picture(&bench);
                check("picture");
                bench.touch("Where: On the road");
                check("road");
                let strip = bench.one("Along the road").size();
                assert!(strip.height >= least, "{strip:?}");
                bench.touch("Back");
                bench.touch("Water treatment");
                check("treatment");
                bench.touch("Back");
                bench.touch("More");
                check("more");
            };
            std::thread::spawn(shown).join().expect("every control");
        }
    }
}

#[test]
fn the_treatment_page_tells_the_newest_water_test() {
    let bench = Bench::new(SIZES[1], &Screen::default());
    bench.touch("More");
    bench.touch("Water treatment: No. 4 Tamsin");
    assert!(bench.starting("Water test, opened").ends_with("finished"));
    assert!(bench.starting("Tannin: 105 mg/l").contains("wanted 120 mg/l to 180 mg/l"));
    assert!(bench.starting("Dissolved solids: 2411 mg/l").contains("wanted up to 2500 mg/l; right up to 3500 mg/l"));
    assert!(bench.starting("Caution: A figure is advice").contains("gloves and goggles"));
    let told = bench.reach(|bench| bench.labels().into_iter().find(|label| label.contains("tests that it takes")));
    assert!(told.is_some(), "{:#?}", bench.labels());
    let view = bench.app.desks(|desks| treatment::view(desks.session.as_ref().unwrap(), EngineId(4)));
    assert!(
        view.dose.recorded.starts_with("Accepted: ") && view.dose.recorded.contains(" g from 105 mg/l"),
        "{view:#?}"
    );
    // By the day's script: 390 g go into the tank at 03:58, on another sheet than the test of the evening before.
    assert!(view.dose.since.starts_with("Put in since this test: 390 g (03:58)."), "{}", view.dose.since);
    assert_eq!(view.blowdown.result, "None needed");
    assert!(view.gauge.marks.is_empty(), "nothing is to be blown down");
    let none = bench.app.desks(|desks| treatment::view(desks.session.as_ref().unwrap(), EngineId(17)));
    assert!(none.missing.starts_with("No water test"), "{none:#?}");
}

/// A water test of Bramble Down in the morning, its solids high.
const SALTY: &str = "
09:30,office,21,11,open,water-test,,,salty
,,,salty,done,water-sample
,,,,reading,water-temperature,20 C
,,,,reading,water-conductivity,4300 uS/cm
,,,,accept,water-tds
,,,,reading,water-level,180 mm
";

fn played(script: &str) -> (tempfile::TempDir, Session) {
    let temp = tempfile::tempdir().unwrap();
    let path = temp.path().join("shed");
    drop(Folder::make(&path, demo::DEVICE, demo::ZONE).unwrap());
    let sources = demo::write_sources(&path).unwrap();
    script::play(&path, script, &sources).unwrap();
    let session = at(&path);
    (temp, session)
}

fn at(path: &Path) -> Session {
    Session::open(path, Some(std::rc::Rc::new(offshed::clock::StepClock::new(window::MORNING.plus(300))))).unwrap()
}

#[test]
fn a_blowdown_is_drawn_as_a_fall_of_the_glass() {
    let (_temp, session) = played(&format!("{}{SALTY}", demo::SCRIPT.trim_end()));
    let view = treatment::view(&session, EngineId(11));
    assert!(view.sheet.ends_with("still open"), "{view:#?}");
    let fall = |start: &str| {
        let mark = view.gauge.marks.iter().find(|mark| mark.words.starts_with(start));
        mark.unwrap_or_else(|| panic!("{start}: {view:#?}"))
    };
    let (start, stop, lower) = (fall("Start: 180 mm"), fall("Stop: "), fall("Lower mark: "));
    assert!(start.at > stop.at && stop.at > lower.at, "{view:#?}");
    // A quarter of the visible glass, by the pack.
    assert!((lower.at - 0.25).abs() < 1e-6, "{lower:?}");
    // 4300 uS/cm at 20 C: 0.7 x 4300 / (1 - 0.02 x 5) = 3344 mg/l by ISO 7888's linear correction; the mass balance of
    // salts then leaves (2500 - 120) / (3344 - 120) of the water over so many equal rounds.
    assert!(view.blowdown.lines.join(" ").contains("a second person watches the glass"), "{view:#?}");
    let words = &stop.words;
    let number = |after: &str| -> f64 {
        let rest = words.split(after).nth(1).unwrap();
        rest.split(' ').next().unwrap().parse().unwrap()
    };
    assert!((180.0 - number("fall of ") - number("Stop: ")).abs() < 1e-6, "{words}");
}

fn numbers(view: &BoilerView) -> Vec<Spot> {
    let lines = view.tubes.iter().chain(&view.glass).flatten();
    let flat = [&view.shell, &view.firebox, &view.water, &view.surface, &view.bare, &view.plugs, &view.road.profile];
    let single = view.flags.iter().filter_map(|flag| flag.at).chain(view.road.here).chain(view.road.worst);
    lines.copied().chain(flat.into_iter().flatten().copied()).chain(single).collect()
}

fn moves() -> impl Strategy<Value = Move> {
    prop_oneof![
        any::<i16>().prop_map(Move::Reading),
        any::<bool>().prop_map(Move::RegulatorOpen),
        any::<bool>().prop_map(Move::BunkerFirst),
        any::<i16>().prop_map(Move::Slope),
        Just(Move::Level),
        any::<i16>().prop_map(Move::Speed),
        any::<bool>().prop_map(Move::Along),
        any::<f64>().prop_map(Move::Slide),
        any::<i16>().prop_map(Move::Step),
        Just(Move::Worst),
    ]
}

#[test]
fn no_moves_lead_to_what_is_no_number() {
    let (_temp, session) = played(demo::SCRIPT);
    let mut runner = proptest::test_runner::TestRunner::new(ProptestConfig::with_cases(64));
    let engines = prop_oneof![Just(4_u16), Just(11), Just(23)];
    let strategy = (engines, prop::collection::vec(moves(), 0..12));
    let held = runner.run(&strategy, |(engine, moves)| {
        let mut desk = BoilerDesk::default();
        desk.open(&session, EngineId(engine), "crew");
        for touch in moves {
            desk.touch(&session, touch);
        }
        let view = desk.view(&session);
        prop_assert!(numbers(&view).iter().all(|at| at.x.is_finite() && at.y.is_finite()), "{view:?}");
        prop_assert!(view.aspect.is_finite() && (0.0..=1.0).contains(&view.gauge.fill));
        prop_assert!(!view.spoken.contains("NaN") && !view.spoken.contains("inf "), "{}", view.spoken);
        prop_assert_eq!(view.missing.is_empty(), engine != 23);
        Ok(())
    });
    held.unwrap();
}

/// A fall that was worked out is later on record than the reading it was worked out from, and in the same unit.
#[test]
fn a_fall_that_was_worked_out_is_never_taken_for_the_level() {
    let (_temp, session) = played(&format!("{}{SALTY},,,,accept,water-blowdown\n", demo::SCRIPT.trim_end()));
    let log = offshed_depot::views::water(session.ledger(), EngineId(11), session.now());
    let fall = log.treatments.first().expect("a blowdown on record");
    assert!(fall.kind == "blowdown-worked-out" && fall.value.ends_with(" mm"), "{fall:#?}");
    let mut desk = BoilerDesk::default();
    desk.open(&session, EngineId(11), "crew");
    assert_eq!(desk.reading_mm(), 180.0);
    assert!(desk.view(&session).note.starts_with("Last on record: 09:30, \u{201c}Level in the glass\u{201d}"));
}

/// By the pack a level under 10 mm is not right; it is still where the water stands.
#[test]
fn a_level_that_is_not_right_is_still_the_level() {
    let low = SALTY.replace("180 mm", "5 mm");
    let (_temp, session) = played(&format!("{}{low}", demo::SCRIPT.trim_end()));
    let mut desk = BoilerDesk::default();
    desk.open(&session, EngineId(11), "crew");
    assert_eq!(desk.reading_mm(), 5.0);
}
