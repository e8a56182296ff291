//! Whether every text has the room that it needs where it stands: the toolkit's own measure of it beside its box.

use std::ops::ControlFlow;

use i_slint_core::item_tree::ItemRc;
use i_slint_core::items::{ComplexText, SimpleText, TextOverflow};
use i_slint_core::layout::{LayoutInfo, Orientation};
use i_slint_core::window::WindowInner;
use slint::{ComponentHandle, SharedString};

use super::Bench;

/// Rounding of boxes to whole dots.
const ROUNDING: f32 = 1.01;

/// Every text that is cut: lines that its box is too low for, words that it is too narrow for, or words left out.
pub fn cut(bench: &Bench) -> Vec<String> {
    let inner = WindowInner::from_pub(bench.app.window().window());
    let mut all = Vec::new();
    let look = |item: &ItemRc| {
        all.extend(wants_more(item));
        ControlFlow::<()>::Continue(())
    };
    ItemRc::new_root(inner.component()).visit_descendants(look);
    all
}

/// The text of an item and whether it ends in dots where it has no room; `None`: it is no text.
fn text_of(item: &ItemRc) -> Option<(SharedString, bool)> {
    if let Some(text) = item.downcast::<SimpleText>() {
        return Some((text.as_pin_ref().text(), false));
    }
    let text = item.downcast::<ComplexText>()?;
    Some((text.as_pin_ref().text(), text.as_pin_ref().overflow() == TextOverflow::Elide))
}

fn wants_more(item: &ItemRc) -> Option<String> {
    let (text, ends_in_dots) = text_of(item).filter(|(text, _)| !text.is_empty())?;
    let has = item.geometry().size;
    let adapter = item.window_adapter()?;
    let wants = |way: Orientation| -> LayoutInfo { item.borrow().as_ref().layout_info(way, has.width, &adapter, item) };
    let (across, down) = (wants(Orientation::Horizontal), wants(Orientation::Vertical));
    let wide = if ends_in_dots { across.preferred } else { across.min };
    let fits = wide <= has.width + ROUNDING && down.min <= has.height + ROUNDING;
    (!fits).then(|| format!("\"{text}\" wants {wide} by {}, has {} by {}", down.min, has.width, has.height))
}
