//! Settings of this screen, and what this program is.

use super::{Session, shell};
use crate::screen::{Scheme, Screen, Units};

/// Text sizes that are offered, percent.
pub const SIZES: [u16; 4] = [100, 125, 150, 200];

/// What is used of others, and under what licence.
const LICENCES: &str = "offshed: MIT licence.\nThe window is made with Slint, under its royalty-free licence.\nType: \
Atkinson Hyperlegible Next, SIL Open Font License 1.1; its text is with the source, in ui/fonts/OFL.txt.\nFurther \
libraries and their licences: Cargo.lock, with the source.";

/// One of several.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Choice {
    /// Its key.
    pub key: String,
    /// Its words.
    pub label: String,
    /// It is the one.
    pub chosen: bool,
}

/// What the page shows.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct MoreView {
    /// Colours.
    pub schemes: Vec<Choice>,
    /// Text sizes.
    pub sizes: Vec<Choice>,
    /// Which hand.
    pub hands: Vec<Choice>,
    /// Which units stand first.
    pub units: Vec<Choice>,
    /// Dots to the inch.
    pub density: u16,
    /// The program's version.
    pub version: &'static str,
    /// Where the data folder is.
    pub folder: String,
    /// What the device is called.
    pub device: String,
    /// Why settings are not kept; empty: they are.
    pub fault: String,
    /// What the program is not.
    pub caution: &'static str,
    /// What is used of others.
    pub licences: &'static str,
}

/// The page as it stands.
pub fn view(session: &Session) -> MoreView {
    let screen = &session.screen;
    let scheme = |s: Scheme| choice(s.key(), scheme_words(s), s == screen.scheme);
    let size = |s: u16| choice(&s.to_string(), &format!("{s} %"), s == screen.text);
    let units = |u: Units| choice(u.key(), units_words(u), u == screen.units);
    MoreView {
        schemes: Scheme::ALL.into_iter().map(scheme).collect(),
        sizes: SIZES.into_iter().map(size).collect(),
        hands: vec![choice("right", "Right", !screen.left_handed), choice("left", "Left", screen.left_handed)],
        units: Units::ALL.into_iter().map(units).collect(),
        density: screen.density,
        version: env!("CARGO_PKG_VERSION"),
        folder: session.path().display().to_string(),
        device: session.device_name(),
        fault: session.screen_fault.clone().unwrap_or_default(),
        caution: shell::CAUTION,
        licences: LICENCES,
    }
}

fn choice(key: &str, label: &str, chosen: bool) -> Choice {
    Choice { key: key.to_owned(), label: label.to_owned(), chosen }
}

fn scheme_words(scheme: Scheme) -> &'static str {
    match scheme {
        Scheme::Day => "Day",
        Scheme::Night => "Night",
        Scheme::Contrast => "High contrast",
    }
}

fn units_words(units: Units) -> &'static str {
    match units {
        Units::Pack => "As the rules",
        Units::Metric => "Metric",
        Units::Imperial => "Imperial",
    }
}

/// Changes one thing and keeps it.
fn change(session: &mut Session, change: impl FnOnce(&mut Screen)) {
    let mut screen = session.screen.clone();
    change(&mut screen);
    session.keep_screen(screen);
}

/// Other colours, by key; an unknown one changes nothing.
pub fn choose_scheme(session: &mut Session, key: &str) {
    if let Some(scheme) = Scheme::named(key) {
        change(session, |screen| screen.scheme = scheme);
    }
}

/// Another text size, percent; one that is not offered changes nothing.
pub fn choose_size(session: &mut Session, key: &str) {
    if let Some(size) = key.parse().ok().filter(|size| SIZES.contains(size)) {
        change(session, |screen| screen.text = size);
    }
}

/// The hand that holds the pen, by key.
pub fn choose_hand(session: &mut Session, key: &str) {
    change(session, |screen| screen.left_handed = key == "left");
}

/// Which units stand first, by key; an unknown one changes nothing.
pub fn choose_units(session: &mut Session, key: &str) {
    if let Some(units) = Units::named(key) {
        change(session, |screen| screen.units = units);
    }
}

/// More or fewer dots to the inch, held within what is taken.
pub fn change_density(session: &mut Session, by: i16) {
    change(session, |screen| screen.density = screen.density.saturating_add_signed(by));
}
