//! The window: what it offers and what it does not, that it can be reached, read and touched, and what it says first.

mod window;

use offshed::controllers::crew::Place;
use offshed::screen::{Scheme, Screen, Units};
use offshed::ui::Theme;
use slint::{Color, ComponentHandle};
use window::{Bench, Day, SIZES};

/// Everything that gives an answer.
const ANSWERS: [&str; 16] = [
    "Done",
    "Not right",
    "Not applicable",
    "Seen",
    "Accept",
    "Enter the reading",
    "Enter the number",
    "Record",
    "Start",
    "Read, then start",
    "End the hold",
    "Start the watch",
    "Sign",
    "Accept the sheet",
    "Sign on to answer",
    "Who is there with you?",
];

fn at_sheet(bench: &Bench) {
    bench.touch("Crew");
    bench.touch("Sign on");
    bench.touch("Jory Tamble");
    bench.touch("NOT FIT: No. 23");
    bench.touch(&bench.starting("Open: Preparation"));
    bench.touch("All steps");
}

#[test]
fn a_locked_step_offers_no_answer_and_a_reason_leads_to_its_step() {
    let bench = Bench::new(SIZES[2], &Screen::default());
    at_sheet(&bench);
    bench.touch("Waits: Trial movement");
    for control in ANSWERS {
        assert!(!bench.has(control), "{control}");
    }
    let because = bench.starting("Because Engine handbrake works");
    bench.touch(&because);
    assert_eq!(
        bench.app.desks(|desks| desks.crew.view(desks.session.as_ref().unwrap()).step.title),
        "Engine handbrake works"
    );
}

#[test]
fn what_the_page_shows_as_done_is_written() {
    let bench = Bench::new(SIZES[2], &Screen::default());
    at_sheet(&bench);
    bench.touch("To do: Regulator shuts tight");
    let before = bench.app.desks(|desks| desks.session.as_ref().unwrap().ledger().entries().count());
    bench.touch("Not right");
    // Two touches report a fault.
    bench.touch("Leaks");
    assert!(bench.starting("State: Not right").contains("Jory Tamble, Leaks"));
    let written = bench.folder.path().join("shed");
    let (ledger, _, _) = offshed_depot::shed::look(&written).unwrap();
    assert_eq!(ledger.entries().count(), before + 1);
    // It is struck out with a reason, and stays readable.
    bench.touch("Strike out this answer");
    bench.touch("Touched by mistake");
    let (ledger, _, _) = offshed_depot::shed::look(&written).unwrap();
    assert_eq!(ledger.entries().count(), before + 2);
    assert!(bench.has("State: To do"));
}

#[test]
fn a_value_beyond_its_limits_is_told_before_it_is_recorded() {
    let bench = Bench::new(SIZES[2], &Screen::default());
    at_sheet(&bench);
    bench.touch("To do: Pressure gauge");
    bench.touch("Enter the reading");
    bench.touch("9");
    assert!(bench.has("Would be recorded as not right: Pressure gauge: 9 psi is below the lowest that counts, 25 psi"));
    bench.touch("Cancel");
    assert!(bench.has("Enter the reading"));
}

#[test]
fn a_wrong_pin_is_no_signing_on() {
    let bench = Bench::new(SIZES[1], &Screen::default());
    bench.touch("Crew");
    bench.touch("Sign on");
    bench.touch("Moss Orrin");
    for key in ["1", "2", "3", "4"] {
        bench.touch(key);
    }
    assert!(!bench.labels().iter().any(|label| label.contains("1234")), "a PIN is never shown");
    bench.touch("OK");
    assert!(bench.labels().iter().any(|label| label.starts_with("wrong PIN")), "{:#?}", bench.labels());
    bench.touch("Cancel");
    assert!(bench.has("Sign on"));
}

#[test]
fn low_water_is_one_touch_away_everywhere_on_the_crew_desk() {
    let bench = Bench::new(SIZES[0], &Screen::default());
    bench.touch("Crew");
    let card = |bench: &Bench| {
        bench.touch("Low water");
        assert!(bench.starting("YOUR RAILWAY'S OWN").contains("move nothing on the word of this screen"));
        bench.touch("Back");
    };
    card(&bench);
    bench.touch("Sign on");
    card(&bench);
    bench.touch("Jory Tamble");
    bench.touch("NOT FIT: No. 23");
    card(&bench);
    bench.touch(&bench.starting("Open: Preparation"));
    card(&bench);
    bench.touch("To do: Pressure gauge");
    card(&bench);
    bench.touch("Enter the reading");
    card(&bench);
    assert!(bench.has("Typed: nothing"), "what was asked before comes back");
}

/// 19 mm: a gloved fingertip and its slip; common practice, no source.
#[test]
fn controls_of_the_crew_desk_take_a_glove() {
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
                bench.touch("Crew");
                check("engines");
                bench.touch("Sign on");
                check("people");
                bench.touch("Jory Tamble");
                bench.touch("NOT FIT: No. 23");
                check("engine");
                bench.touch(&bench.starting("Open: Preparation"));
                check("sheet");
                bench.touch("To do: Pressure gauge");
                check("step");
                bench.touch("Enter the reading");
                bench.touch("9");
                check("number");
                bench.touch("Cancel");
                bench.touch("Not right");
                check("phrases");
                bench.touch("Other words");
                check("letters");
            };
            std::thread::spawn(shown).join().expect("every control");
        }
    }
}

/// WCAG 2.1, "relative luminance" and "contrast ratio".
fn contrast(a: Color, b: Color) -> f64 {
    let channel = |c: u8| {
        let c = f64::from(c) / 255.0;
        if c <= 0.04045 { c / 12.92 } else { ((c + 0.055) / 1.055).powf(2.4) }
    };
    let luminance = |c: Color| 0.2126 * channel(c.red()) + 0.7152 * channel(c.green()) + 0.0722 * channel(c.blue());
    let (a, b) = (luminance(a) + 0.05, luminance(b) + 0.05);
    if a > b { a / b } else { b / a }
}

/// WCAG 2.1, success criterion 1.4.6: 7:1 for text; 1.4.11: 3:1 for what is drawn.
#[test]
fn text_stands_out_in_every_scheme() {
    // Black on white is 21:1 by definition.
    assert!((contrast(Color::from_rgb_u8(0, 0, 0), Color::from_rgb_u8(255, 255, 255)) - 21.0).abs() < 1e-9);
    for scheme in Scheme::ALL {
        let shown = move || {
            let bench = Bench::new(SIZES[1], &Screen { scheme, ..Screen::default() });
            let theme = bench.app.window().global::<Theme>();
            let texts = [
                ("ink on paper", theme.get_ink(), theme.get_paper()),
                ("ink on panel", theme.get_ink(), theme.get_panel()),
                ("ink on held", theme.get_ink(), theme.get_held()),
                ("soft on paper", theme.get_soft(), theme.get_paper()),
                ("soft on panel", theme.get_soft(), theme.get_panel()),
                ("on fill", theme.get_on_fill(), theme.get_fill()),
            ];
            for (name, text, ground) in texts {
                assert!(contrast(text, ground) >= 7.0, "{scheme:?}, {name}: {}", contrast(text, ground));
            }
            let signals = theme.get_signals();
            let signs = [
                ("stop", signals.stop, signals.on_stop),
                ("warn", signals.warn, signals.on_warn),
                ("safe", signals.safe, signals.on_safe),
            ];
            for (name, ground, sign) in signs {
                assert!(contrast(ground, sign) >= 3.0, "{scheme:?}, {name}");
            }
            // The window is drawn in these colours and no others that text could stand on.
            bench.touch("Board");
            let (ink, paper) = (theme.get_ink(), theme.get_paper());
            let pixels = bench.pixels();
            let share = |color: Color| {
                let same = |p: &&slint::Rgba8Pixel| (p.r, p.g, p.b) == (color.red(), color.green(), color.blue());
                pixels.as_slice().iter().filter(same).count() as f64 / pixels.as_slice().len() as f64
            };
            assert!(share(paper) > 0.4 && share(ink) > 0.01, "{scheme:?}: {} {}", share(paper), share(ink));
        };
        std::thread::spawn(shown).join().expect("a scheme");
    }
}

#[test]
fn the_first_screen_says_what_it_is_not() {
    let bench = Bench::unread(SIZES[0], &Screen::default(), Day::Morning);
    assert!(bench.has("It records what competent people did. It does not make an engine safe."));
    assert!(!bench.has("Crew"), "nothing else is there before it is read");
    bench.touch("Read");
    assert!(bench.has("Crew") && bench.has("Board") && bench.has("More"));
}

#[test]
fn the_board_says_every_verdict_in_words() {
    let bench = Bench::new(SIZES[2], &Screen::default());
    bench.touch("Board");
    for start in [
        "No. 4 Tamsin: fit to leave. until 09:",
        "No. 11 Bramble Down: fit with restriction. until 09:",
        "No. 17 Fennel: not known",
        "No. 23: not fit to leave",
        "No. 30 Quern: not fit to leave",
    ] {
        assert!(bench.labels().iter().any(|label| label.starts_with(start)), "{start}: {:#?}", bench.labels());
    }
    // An hour later nobody may leave, and who should have is late.
    bench.clock.step(36_000);
    bench.app.tick();
    assert!(bench.has("0 of 5 may leave"), "{:#?}", bench.labels());
    assert!(bench.starting("No. 4 Tamsin").contains("LATE by 44 min"), "{}", bench.starting("No. 4 Tamsin"));
}

#[test]
fn settings_are_kept_on_this_device_and_are_no_record() {
    let bench = Bench::new(SIZES[1], &Screen::default());
    let entries = bench.app.desks(|desks| desks.session.as_ref().unwrap().ledger().entries().count());
    bench.touch("More");
    bench.touch("Colours: Night");
    bench.touch("Text size: 150 %");
    bench.touch("Hand: Left");
    bench.touch("Units: Imperial");
    bench.touch("Larger controls");
    let kept = Screen::read(&bench.folder.path().join("shed")).unwrap();
    let want = Screen {
        scheme: Scheme::Night,
        text: 150,
        density: 168,
        left_handed: true,
        units: Units::Imperial,
        shared: String::new(),
        demonstration: false,
    };
    assert_eq!(kept, want);
    assert_eq!(bench.app.window().global::<Theme>().get_scheme(), "night");
    assert_eq!(bench.app.desks(|desks| desks.session.as_ref().unwrap().ledger().entries().count()), entries);
    assert!(
        i_slint_backend_testing::ElementHandle::find_by_element_type_name(bench.app.window(), "AboutSlint").count()
            == 1
            || bench
                .reach(|b| {
                    let found =
                        i_slint_backend_testing::ElementHandle::find_by_element_type_name(b.app.window(), "AboutSlint");
                    (found.count() == 1).then_some(())
                })
                .is_some()
    );
}

#[test]
fn a_keyboard_does_without_touching() {
    let bench = Bench::new(SIZES[2], &Screen::default());
    at_sheet(&bench);
    bench.touch("To do: Pressure gauge");
    bench.touch("Enter the reading");
    i_slint_backend_testing::mock_elapsed_time(std::time::Duration::from_millis(20));
    bench.key("1");
    bench.key("4");
    bench.key("0");
    assert!(bench.has("Typed: 140 psi"), "{:#?}", bench.labels());
    bench.key(slint::SharedString::from(slint::platform::Key::Backspace));
    assert!(bench.has("Typed: 14 psi"));
    bench.key("0");
    bench.key(slint::SharedString::from(slint::platform::Key::Return));
    assert!(bench.starting("State: Done").contains("140 psi"), "{:#?}", bench.labels());
    i_slint_backend_testing::mock_elapsed_time(std::time::Duration::from_millis(20));
    bench.key(slint::SharedString::from(slint::platform::Key::Escape));
    assert!(matches!(bench.app.desks(|desks| desks.crew.place()), Place::Sheet(_)));
}

/// A pointer is pressed and released on the control: the first time counts.
#[test]
fn one_click_is_enough() {
    let bench = Bench::new(SIZES[1], &Screen::default());
    for label in ["Crew", "Sign on", "Corin Vey"] {
        bench.one(label).mock_single_click(slint::platform::PointerEventButton::Left);
        // A page that can be dragged waits a moment whether it is a drag.
        i_slint_backend_testing::mock_elapsed_time(std::time::Duration::from_millis(150));
    }
    assert!(bench.has("Signed on: Corin Vey, Fireman"), "{:#?}", bench.labels());
}

#[test]
fn nobody_is_signed_on_after_a_while_alone() {
    let bench = Bench::new(SIZES[2], &Screen::default());
    at_sheet(&bench);
    assert!(bench.has("Signed on: Jory Tamble, Driver"));
    bench.clock.step(9_100);
    bench.app.tick();
    assert!(bench.has("Sign on"), "{:#?}", bench.labels());
}

#[test]
fn where_another_program_writes_the_window_looks_and_reads_again() {
    window::backend();
    let temp = tempfile::tempdir().unwrap();
    let path = temp.path().join("shed");
    drop(offshed_depot::folder::Folder::make(&path, "office", "Etc/UTC").unwrap());
    let mut other = offshed_depot::shed::Shed::open(&path).unwrap();
    let clock = std::rc::Rc::new(offshed::clock::StepClock::new(window::MORNING));
    let app = offshed::init(&path, Some(clock.clone())).unwrap();
    app.desks(|desks| {
        desks.shell.read_caution();
        assert!(desks.shell_view().doubt.unwrap().words.starts_with("Another program has the data folder open"));
        assert_eq!(desks.session.as_ref().unwrap().ledger().engine_ids().len(), 0);
    });
    let fact = offshed_core::entry::Fact::Person {
        person: offshed_core::ident::PersonId(1),
        name: "Moss Orrin".try_into().unwrap(),
    };
    let now = offshed_core::stamp::Now::good(window::MORNING);
    other.act(offshed_core::entry::What::Registered(fact), offshed_core::ident::PersonId(1), now).unwrap();
    app.tick();
    app.desks(|desks| assert_eq!(desks.session.as_ref().unwrap().ledger().office.people.len(), 1));
    drop(other);
    // Once it is closed there, it is written here.
    app.desks(|desks| assert!(desks.session.as_mut().unwrap().shed().is_ok()));
}

#[test]
fn a_first_run_makes_the_demonstration() {
    window::backend();
    let temp = tempfile::tempdir().unwrap();
    let path = temp.path().join("shed");
    let app = offshed::init(&path, None).unwrap();
    app.desks(|desks| assert!(desks.shell_view().first_run));
    let made =
        i_slint_backend_testing::ElementHandle::find_by_accessible_label(app.window(), "Look round the demonstration");
    made.last().unwrap().invoke_accessible_default_action();
    app.desks(|desks| {
        let view = desks.shell_view();
        assert!(!view.first_run && view.fault.is_empty(), "{}", view.fault);
        // It stays on its own day.
        assert_eq!(view.clock, "09:29");
        assert!(view.day.ends_with("demonstration"));
    });
    // The place of real records stays free, and the demonstration opens again as it was left.
    assert!(!path.exists());
    app.desks(|desks| desks.shell.show("board"));
    app.desks(|desks| desks.keep_place());
    drop(app);
    let again = offshed::init(&path, None).unwrap();
    again.desks(|desks| {
        assert!(desks.shell_view().first_run);
        desks.make_demo();
        assert_eq!(desks.shell_view().desk, "board");
    });
}
