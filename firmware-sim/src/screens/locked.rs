//! Why a step waits, reason by reason; a chosen reason leads to what would cure it.

use offshed_core::ident::TextId;
use offshed_core::verdict::Reason;
use offshed_core::words::Names;

use super::{Sentence, screen};
use crate::glyphs;
use crate::names::Wording;
use crate::paint::{Extent, mark};

/// Why a step waits.
pub struct Locked<'a, T: ?Sized> {
    /// The pack's words.
    pub texts: &'a T,
    /// The step's title.
    pub title: TextId,
    /// Names of things.
    pub names: &'a dyn Names,
    /// The reasons in sight and after them.
    pub reasons: &'a [Reason],
    /// Which reason of the whole list `reasons` begins with.
    pub first: usize,
    /// The chosen reason, counted in the whole list.
    pub at: usize,
    /// Reasons in all.
    pub all: usize,
    /// Lines of the chosen reason scrolled away.
    pub skip: usize,
}

screen!(Locked, self, paint, {
    let mut right: crate::lines::Line = crate::lines::Line::new();
    let mut title: crate::lines::Line = crate::lines::Line::new();
    // Two numbers are shorter than a line; a longer title is cut on the bar as well.
    let _ = core::fmt::write(&mut right, format_args!("{}/{}", self.at + 1, self.all));
    let _ = core::fmt::write(&mut title, format_args!("Waits: {}", Wording { texts: self.texts, id: self.title }));
    paint.bar(&title, &right)?;
    paint.foot("select: go there  right: the step  left: back")?;
    let mut column = paint.column(0, self.skip);
    let mut chosen = 0;
    for (n, reason) in (self.first..).zip(self.reasons) {
        if column.is_full() {
            break;
        }
        let sentence = Sentence { names: self.names, why: reason.why };
        column.inverse(n == self.at).glyph(Some(glyphs::LOCK));
        match reason.group {
            0 => column.words(format_args!("{sentence}")),
            _ => column.words(format_args!("one way: {sentence}")),
        };
        if n == self.at {
            chosen = column.lines();
        }
    }
    column.inverse(self.all == self.at + 1);
    let Extent { shown, .. } = column.done()?;
    let body = paint.layout.body;
    mark(&mut paint, body, (self.at, 1, self.all))?;
    Ok(Extent { lines: chosen, shown })
});
