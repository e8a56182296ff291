//! Which unit stands first where a reading is asked for.

use offshed_core::units::{Quantity, Unit};

use crate::screen::Units;

/// The unit in which a step that asks for `asked` is first answered here.
pub(super) fn first(asked: Unit, choice: Units) -> Unit {
    match choice {
        Units::Pack => asked,
        Units::Metric => metric(asked.quantity()).unwrap_or(asked),
        Units::Imperial => imperial(asked.quantity()).unwrap_or(asked),
    }
}

fn metric(quantity: Quantity) -> Option<Unit> {
    Some(match quantity {
        Quantity::Glass => Unit::GlassMm,
        Quantity::Length => Unit::Mm,
        Quantity::Pressure => Unit::Bar,
        Quantity::Vacuum => Unit::VacuumKPa,
        Quantity::Temperature => Unit::Celsius,
        Quantity::Volume => Unit::Litre,
        Quantity::Mass => Unit::Kilogram,
        _ => return None,
    })
}

fn imperial(quantity: Quantity) -> Option<Unit> {
    Some(match quantity {
        Quantity::Glass => Unit::GlassInch,
        Quantity::Length => Unit::Inch,
        Quantity::Pressure => Unit::Psi,
        Quantity::Vacuum => Unit::InHg,
        Quantity::Temperature => Unit::Fahrenheit,
        Quantity::Volume => Unit::Gallon,
        Quantity::Mass => Unit::Pound,
        _ => return None,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_choice_keeps_the_quantity() {
        for asked in (0..=u8::MAX).map_while(Unit::from_number) {
            for choice in Units::ALL {
                assert_eq!(first(asked, choice).quantity(), asked.quantity(), "{asked:?}");
            }
        }
        assert_eq!(first(Unit::GlassMm, Units::Imperial), Unit::GlassInch);
        assert_eq!(first(Unit::Psi, Units::Metric), Unit::Bar);
        assert_eq!(first(Unit::Ph, Units::Imperial), Unit::Ph);
    }
}
