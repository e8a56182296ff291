//! What a hand does on the pads of the window.

use offshed_core::units::Reading;

use super::Bench;

/// Types a reading on the pad, in its own unit.
pub fn type_reading(bench: &Bench, reading: Reading, confirm: &str) {
    let text = reading.to_string();
    let (number, symbol) = text.split_once(' ').expect("a number and a unit");
    let unit = format!("Unit {symbol}");
    if bench.has(&unit) {
        bench.touch(&unit);
    }
    for key in number.chars() {
        bench.touch(&key_label(key));
    }
    bench.touch(confirm);
}

pub fn key_label(key: char) -> String {
    match key {
        '.' => "Point".to_owned(),
        '-' => "Minus".to_owned(),
        key => key.to_string(),
    }
}

/// Types the digits of a PIN.
pub fn type_pin(bench: &Bench, pin: &str) {
    for key in pin.chars() {
        bench.touch(&key.to_string());
    }
    bench.touch("OK");
}

/// Types on a keyboard.
pub fn type_keys(bench: &Bench, text: &str) {
    for key in text.chars() {
        bench.key(slint::SharedString::from(key.to_string()));
    }
}
