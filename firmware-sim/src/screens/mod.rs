//! One struct a screen: it borrows what it shows, sees no desk, and draws itself on any display of one colour.
//!
//! Every screen answers how many lines it has to show, so that a program can tell how far it can be scrolled.

mod boiler;
mod card;
mod confirm;
mod figure;
mod fitness;
mod letters;
mod locked;
mod menu;
mod reading;
mod step;
mod steps;
mod timer;

pub use boiler::BoilerPage;
pub use card::{Card, show_notice};
pub use confirm::Confirm;
pub use figure::FigurePage;
pub use fitness::FitnessPage;
pub use letters::Letters;
pub use locked::Locked;
pub use menu::{Item, Label, Menu};
pub use reading::ReadingEntry;
pub use step::{Asks, Brief, PartView, StepPage};
pub use steps::{Standing, StepItem, Steps};
pub use timer::{Timer, Watch};

use core::fmt;

use offshed_core::reason::Why;
use offshed_core::words::{self, ENGLISH, Names};

/// A reason as a sentence.
#[derive(Clone, Copy)]
pub struct Sentence<'a> {
    /// Names of things.
    pub names: &'a dyn Names,
    /// The reason.
    pub why: Why,
}

impl fmt::Display for Sentence<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        words::why(&ENGLISH, self.names, &self.why, f)
    }
}

/// `Drawable` for a screen that borrows texts; the body paints and answers an [`crate::paint::Extent`].
macro_rules! screen {
    ($name:ident, $self:ident, $paint:ident, $body:block) => {
        impl<T: offshed_core::pack::Texts + ?Sized> embedded_graphics::Drawable for $name<'_, T> {
            type Color = embedded_graphics::pixelcolor::BinaryColor;
            type Output = crate::paint::Extent;

            fn draw<D>(&$self, target: &mut D) -> Result<Self::Output, D::Error>
            where
                D: embedded_graphics::draw_target::DrawTarget<Color = Self::Color>,
            {
                let mut $paint = crate::paint::Paint::new(target)?;
                $body
            }
        }
    };
}
pub(crate) use screen;
