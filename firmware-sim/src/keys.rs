//! The five buttons: from what the contacts show to what a person meant, as pure functions of time.
//!
//! A press counts once its contact was closed for [`SETTLE_MS`] without a break, and is over once it was open as long:
//! bounce and brushes shorter than that do not matter.
//! One button at a time counts; what is pressed beside it is passed over, and no press means more when it is doubled.
//! `up`, `down`, `right` and `select` act when they go down, and `up` and `down` repeat while held.
//! `left` acts when it is let go, since holding it opens the low-water card.

/// Milliseconds that a contact must stay as it is before it is believed: contacts bounce for some 10 ms, and no person
/// presses and lets go in 30 (common practice, no source).
pub const SETTLE_MS: u64 = 30;
/// Milliseconds from a press to its first repeat.
pub const FIRST_REPEAT_MS: u64 = 500;
/// Milliseconds between repeats.
pub const REPEAT_MS: u64 = 120;
/// Milliseconds between repeats after [`FAST_AFTER`] of them.
pub const FAST_REPEAT_MS: u64 = 40;
/// Repeats before they become fast.
pub const FAST_AFTER: u32 = 10;
/// Milliseconds for which `left` is held to open the low-water card.
pub const LONG_MS: u64 = 900;

/// A button.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[repr(u8)]
pub enum Key {
    /// One up, or one more.
    Up,
    /// One down, or one less.
    Down,
    /// Back; held: the low-water card.
    Left,
    /// On: more of what is shown, or the next place.
    Right,
    /// Takes what is shown.
    Select,
}

/// All buttons.
pub const KEYS: [Key; 5] = [Key::Up, Key::Down, Key::Left, Key::Right, Key::Select];

impl Key {
    /// Its name in key scripts.
    pub fn name(self) -> &'static str {
        match self {
            Key::Up => "up",
            Key::Down => "down",
            Key::Left => "left",
            Key::Right => "right",
            Key::Select => "select",
        }
    }

    /// The key with this name.
    pub fn named(name: &str) -> Option<Key> {
        KEYS.into_iter().find(|key| key.name() == name)
    }

    fn repeats(self) -> bool {
        matches!(self, Key::Up | Key::Down)
    }
}

/// Which contacts are closed.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Contacts(u8);

impl Contacts {
    /// None is closed.
    pub const OPEN: Contacts = Contacts(0);

    /// These, and this one.
    #[must_use]
    pub fn with(self, key: Key) -> Contacts {
        Contacts(self.0 | 1 << key as u8)
    }

    /// Whether a key's contact is closed.
    pub fn has(self, key: Key) -> bool {
        self.0 & 1 << key as u8 != 0
    }

    /// The only closed one.
    fn only(self) -> Option<Key> {
        KEYS.into_iter().find(|key| self == Contacts::OPEN.with(*key))
    }
}

/// What a person meant.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Event {
    /// A press.
    Press(Key),
    /// A held key again; how often so far, from 1.
    Repeat(Key, u32),
    /// `left` was held: the low-water card.
    LowWater,
}

impl Event {
    /// The key that it moves by.
    pub fn key(self) -> Option<Key> {
        match self {
            Event::Press(key) | Event::Repeat(key, _) => Some(key),
            Event::LowWater => None,
        }
    }
}

/// A key that is down.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Held {
    key: Key,
    /// When the press was believed.
    since: u64,
    /// Repeats so far.
    repeats: u32,
    /// When the next is due.
    next: u64,
    /// It opened the card already.
    long: bool,
    /// Since when its contact is open again.
    open_since: Option<u64>,
}

/// What is known of the buttons.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Keys {
    held: Option<Held>,
    /// A contact that has closed and is not believed yet.
    closing: Option<(Key, u64)>,
}

impl Keys {
    /// The buttons after a look at the contacts at `ms`, a clock that only rises, and what a person meant by it.
    ///
    /// It is called at least every 10 ms while a contact is closed; more often does no harm.
    #[must_use]
    pub fn look(self, contacts: Contacts, ms: u64) -> (Keys, Option<Event>) {
        match self.held {
            Some(held) => held.look(contacts, ms),
            None => self.closing(contacts, ms),
        }
    }

    fn closing(self, contacts: Contacts, ms: u64) -> (Keys, Option<Event>) {
        let Some(key) = contacts.only() else { return (Keys::default(), None) };
        let since = self.closing.filter(|(k, _)| *k == key).map_or(ms, |(_, since)| since);
        if ms.saturating_sub(since) < SETTLE_MS {
            return (Keys { held: None, closing: Some((key, since)) }, None);
        }
        let held = Held { key, since: ms, repeats: 0, next: ms + FIRST_REPEAT_MS, long: false, open_since: None };
        let pressed = (key != Key::Left).then_some(Event::Press(key));
        (Keys { held: Some(held), closing: None }, pressed)
    }
}

impl Held {
    fn look(mut self, contacts: Contacts, ms: u64) -> (Keys, Option<Event>) {
        let kept = |held| Keys { held: Some(held), closing: None };
        if !contacts.has(self.key) {
            let since = *self.open_since.get_or_insert(ms);
            if ms.saturating_sub(since) < SETTLE_MS {
                return (kept(self), None);
            }
            let back = self.key == Key::Left && !self.long;
            return (Keys::default(), back.then_some(Event::Press(Key::Left)));
        }
        self.open_since = None;
        let event = self.due(ms);
        (kept(self), event)
    }

    fn due(&mut self, ms: u64) -> Option<Event> {
        if self.key == Key::Left && !self.long && ms.saturating_sub(self.since) >= LONG_MS {
            self.long = true;
            return Some(Event::LowWater);
        }
        if !self.key.repeats() || ms < self.next {
            return None;
        }
        self.repeats = self.repeats.saturating_add(1);
        self.next = ms + if self.repeats >= FAST_AFTER { FAST_REPEAT_MS } else { REPEAT_MS };
        Some(Event::Repeat(self.key, self.repeats))
    }
}

#[cfg(test)]
mod tests {
    extern crate std;

    use std::vec::Vec;

    use super::*;

    /// Looks every 5 ms at contacts that change at the times given, up to `end`.
    fn watch(changes: &[(u64, Contacts)], end: u64) -> Vec<(u64, Event)> {
        let mut keys = Keys::default();
        let mut seen = Vec::new();
        for ms in (0..=end).step_by(5) {
            let now = changes.iter().rev().find(|(at, _)| *at <= ms).map_or(Contacts::OPEN, |(_, c)| *c);
            let (next, event) = keys.look(now, ms);
            keys = next;
            seen.extend(event.map(|event| (ms, event)));
        }
        seen
    }

    fn down(key: Key) -> Contacts {
        Contacts::OPEN.with(key)
    }

    const UP: Contacts = Contacts::OPEN;

    #[test]
    fn what_is_shorter_than_30_ms_does_not_matter() {
        assert_eq!(watch(&[(0, down(Key::Select)), (25, UP)], 300), []);
        let once = watch(&[(0, down(Key::Select)), (60, UP)], 300);
        assert_eq!(once, [(30, Event::Press(Key::Select))]);
    }

    #[test]
    fn bounce_at_either_end_of_a_press_is_one_press() {
        let contacts = [
            (0, down(Key::Down)),
            (5, UP),
            (10, down(Key::Down)),
            (100, UP),
            (110, down(Key::Down)),
            (120, UP),
            (130, down(Key::Down)),
            (140, UP),
        ];
        assert_eq!(watch(&contacts, 500), [(40, Event::Press(Key::Down))]);
    }

    #[test]
    fn holding_repeats_and_then_faster() {
        let events = watch(&[(0, down(Key::Up)), (3_000, UP)], 3_200);
        assert_eq!(events[0], (30, Event::Press(Key::Up)));
        assert_eq!(events[1], (530, Event::Repeat(Key::Up, 1)));
        assert_eq!(events[2], (650, Event::Repeat(Key::Up, 2)));
        let last = events[events.len() - 1];
        assert!(last.0 - events[events.len() - 2].0 == FAST_REPEAT_MS, "{events:?}");
        assert_eq!(watch(&[(0, down(Key::Select)), (3_000, UP)], 3_200).len(), 1, "select does not repeat");
    }

    #[test]
    fn left_acts_when_let_go_and_held_opens_the_card_alone() {
        let short = watch(&[(0, down(Key::Left)), (200, UP)], 500);
        assert_eq!(short, [(230, Event::Press(Key::Left))]);
        let long = watch(&[(0, down(Key::Left)), (2_000, UP)], 2_500);
        assert_eq!(long, [(930, Event::LowWater)]);
    }

    #[test]
    fn a_second_button_beside_the_first_is_passed_over() {
        let both = Contacts::OPEN.with(Key::Select).with(Key::Down);
        assert_eq!(watch(&[(0, both), (400, UP)], 500), []);
        let added = watch(&[(0, down(Key::Select)), (100, both), (200, down(Key::Select)), (300, UP)], 500);
        assert_eq!(added, [(30, Event::Press(Key::Select))]);
    }
}
