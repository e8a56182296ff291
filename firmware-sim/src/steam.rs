//! The local days on which an engine was in steam, as bits that end with the last of them.

use offshed_core::stamp::Day;

/// Days that are told apart: eleven years, one more than the longest date of a boiler runs.
pub const WINDOW: u32 = 4_096;

/// Words of 32 days.
const WORDS: usize = (WINDOW / 32) as usize;

/// Days in steam. Where days in steam lie before the window, every day before it counts: a date then runs out early
/// rather than late.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct SteamDays {
    /// Bit n of word m: the day `32 m + n` before the last.
    bits: [u32; WORDS],
    /// The last day of the window; `None`: none was ever in steam.
    last: Option<Day>,
    /// In steam since this day.
    since: Option<Day>,
    /// The last day in steam that lies before the window.
    lost: Option<Day>,
}

impl Default for SteamDays {
    fn default() -> SteamDays {
        SteamDays { bits: [0; WORDS], last: None, since: None, lost: None }
    }
}

impl SteamDays {
    /// The engine came into steam, or went out of it, on `day`.
    pub fn change(&mut self, in_steam: bool, day: Day) {
        match (self.since, in_steam) {
            (None, true) => self.since = Some(day),
            (Some(first), false) => {
                let last = Day(day.0.max(first.0));
                self.end_at(last);
                let start = self.start();
                if first < start {
                    self.lost = Some(Day(start.0.saturating_sub(1)));
                }
                (first.0.max(start.0)..=last.0).for_each(|day| self.set(Day(day)));
                self.since = None;
            }
            _ => {}
        }
    }

    /// The first day of the window.
    fn start(&self) -> Day {
        Day(self.last.map_or(i32::MAX, |last| last.0.saturating_sub(WINDOW.cast_signed() - 1)))
    }

    /// Moves the window so that it ends with `day`, if that is later.
    fn end_at(&mut self, day: Day) {
        let old = *self;
        self.last = Some(old.last.map_or(day, |last| last.max(day)));
        if self.last == old.last {
            return;
        }
        self.bits = [0; WORDS];
        for back in (0..WINDOW).rev().filter(|back| old.bit(*back)) {
            let was = Day(old.last.unwrap_or(day).0.saturating_sub(back.cast_signed()));
            if was < self.start() { self.lost = Some(was) } else { self.set(was) }
        }
    }

    fn bit(&self, back: u32) -> bool {
        self.bits.get((back / 32) as usize).is_some_and(|word| word & 1 << (back % 32) != 0)
    }

    fn set(&mut self, day: Day) {
        let Some(back) = self.back(day) else { return };
        if let Some(word) = self.bits.get_mut((back / 32) as usize) {
            *word |= 1 << (back % 32);
        }
    }

    /// How many days before the window's last day lies; `None` after it.
    fn back(&self, day: Day) -> Option<u32> {
        u32::try_from(self.last?.0.checked_sub(day.0)?).ok()
    }

    fn was(&self, day: Day) -> bool {
        self.back(day).is_some_and(|back| self.bit(back)) || self.since.is_some_and(|since| since <= day)
    }

    /// Distinct days from `first` through `last`, as far as they are not after `today`; a fire kept past midnight counts
    /// both days.
    pub fn count(&self, first: Day, last: Day, today: Day) -> u32 {
        let last = last.0.min(today.0);
        let days = |from: i32, to: i32| u32::try_from(i64::from(to) - i64::from(from) + 1).unwrap_or(0);
        let lost = self.lost.map_or(0, |lost| days(first.0, lost.0.min(last)));
        // Nothing that is known to be in steam lies before the earliest of these.
        let known = [self.start().0, self.since.map_or(i32::MAX, |day| day.0)].into_iter().min().unwrap_or(first.0);
        let from = first.0.max(known).max(self.lost.map_or(i32::MIN, |lost| lost.0.saturating_add(1)));
        let told = (from..=last).filter(|day| self.was(Day(*day))).count();
        lost.saturating_add(u32::try_from(told).unwrap_or(u32::MAX))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn days_count_once_and_through_midnight() {
        let mut days = SteamDays::default();
        for (on, day) in [(true, 100), (false, 100), (true, 100), (false, 101), (true, 104)] {
            days.change(on, Day(day));
        }
        assert_eq!(days.count(Day(100), Day(200), Day(105)), 4, "100, 101, 104 and 105");
        assert_eq!(days.count(Day(101), Day(104), Day(105)), 2);
        assert_eq!(days.count(Day(102), Day(103), Day(105)), 0);
        assert_eq!(days.count(Day(106), Day(103), Day(105)), 0);
        assert_eq!(days.count(Day(-1_000_000), Day(103), Day(105)), 2);
    }

    #[test]
    fn the_window_moves_and_what_it_lost_counts_as_in_steam() {
        let mut days = SteamDays::default();
        for day in [0, 1, 4_000, 4_096] {
            days.change(true, Day(day));
            days.change(false, Day(day));
        }
        // The window begins with day 1: day 0 is lost, and all before it count.
        assert_eq!(days.count(Day(1), Day(5_000), Day(5_000)), 3);
        assert_eq!(days.count(Day(-9), Day(5_000), Day(5_000)), 10 + 3);
    }

    #[test]
    fn an_engine_never_in_steam_has_no_such_days() {
        assert_eq!(SteamDays::default().count(Day(-3_000), Day(400), Day(400)), 0);
    }
}
