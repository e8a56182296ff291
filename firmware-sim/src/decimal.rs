//! Numbers with few decimals, without what the printing of any floating-point number takes of a small device's flash.

use core::fmt;

/// A number rounded to so many decimals, halves to even; beyond ±9 × 10¹² it is shown as too large.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Decimal {
    value: f64,
    places: u32,
    /// Zeros at the end are left away.
    short: bool,
}

/// Rounded to a whole number.
pub(crate) fn whole(value: f64) -> Decimal {
    Decimal { value, places: 0, short: false }
}

/// With one decimal.
pub(crate) fn tenths(value: f64) -> Decimal {
    Decimal { value, places: 1, short: false }
}

/// With at most three decimals.
pub(crate) fn thousandths(value: f64) -> Decimal {
    Decimal { value, places: 3, short: true }
}

/// The most that is shown, in units of the last decimal: doubles tell every whole number below it apart.
const MOST: f64 = 9e15;

/// To the nearest whole number, of two as near the even one.
fn nearest(value: f64) -> i64 {
    let down = value as i64;
    let rest = value - down as f64;
    let away = if value < 0.0 { -1 } else { 1 };
    if rest.abs() > 0.5 || (rest.abs() == 0.5 && down % 2 != 0) { down + away } else { down }
}

impl fmt::Display for Decimal {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let scaled = self.value * f64::from(10u32.pow(self.places.min(3)));
        // Not a number is not within either.
        if !(-MOST..=MOST).contains(&scaled) {
            return f.write_str("too large");
        }
        let (number, mut places) = (nearest(scaled), self.places.min(3) as usize);
        let (mut size, sign) = (number.unsigned_abs(), if self.value.is_sign_negative() { "-" } else { "" });
        while self.short && places > 0 && size % 10 == 0 {
            (size, places) = (size / 10, places - 1);
        }
        let unit = 10u64.pow(places as u32);
        match places {
            0 => write!(f, "{sign}{size}"),
            _ => write!(f, "{sign}{}.{:0places$}", size / unit, size % unit),
        }
    }
}

#[cfg(test)]
mod tests {
    extern crate std;

    use std::format;

    use super::*;

    /// As the standard library prints them, which is exact; near a half it may differ in the last digit shown.
    #[test]
    fn prints_as_the_standard_library() {
        for value in [0.0, 0.04, 0.26, 0.5, 1.5, 2.5, 3.49, 99.96, 145.0, -0.3, -7.5, 1e9, 123_456.789] {
            assert_eq!(format!("{}", whole(value)), format!("{value:.0}"));
            assert_eq!(format!("{}", tenths(value)), format!("{value:.1}"), "{value}");
        }
        for value in [0.65, 0.7, 1.0, 12.375, 0.001] {
            assert_eq!(format!("{}", thousandths(value)), format!("{value}"));
        }
        assert_eq!(format!("{} {}", whole(f64::NAN), tenths(f64::INFINITY)), "too large too large");
    }
}
