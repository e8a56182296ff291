//! Steam arithmetic against published tables, a reference library and an old handbook.

use offshed_core::boiler::pressure::{Absolute, Atmosphere, Gauge};
use offshed_core::boiler::steam::{
    AgainstLimit, GaugeReading, NoRate, expansion, heating_rate, plug_margin, saturation_celsius, saturation_gauge,
    saturation_pressure, saturation_temperature, water_density,
};
use proptest::prelude::*;

const AIR: Atmosphere = Atmosphere::STANDARD;

/// To nine significant digits, as the release prints them.
fn printed(value: f64) -> String {
    format!("{value:.8e}")
}

/// IAPWS R7-97(2012), Table 35.
#[test]
fn saturation_pressure_is_table_35() {
    let table = [(300.0, 3.536_589_41e-3), (500.0, 2.638_897_76), (600.0, 12.344_314_6)];
    for (kelvin, mpa) in table {
        let got = saturation_pressure(kelvin).unwrap().mpa();
        assert_eq!(printed(got), printed(mpa), "{kelvin} K");
    }
}

/// IAPWS R7-97(2012), Table 36.
#[test]
fn saturation_temperature_is_table_36() {
    let table = [(0.1, 372.755_919), (1.0, 453.035_632), (10.0, 584.149_488)];
    for (mpa, kelvin) in table {
        let got = saturation_temperature(Absolute::from_mpa(mpa).unwrap()).unwrap();
        assert_eq!(printed(got), printed(kelvin), "{mpa} MPa");
    }
}

/// The `seuif97` library, over all the pressures of a locomotive: 1e-6 of the value.
#[test]
fn agrees_with_the_reference_library() {
    for step in 0..=290 {
        let mpa = 0.1 + f64::from(step) * 0.01;
        let kelvin = saturation_temperature(Absolute::from_mpa(mpa).unwrap()).unwrap();
        let celsius = kelvin - 273.15;
        let theirs = seuif97::px(mpa, 0.0, seuif97::OT);
        assert!((celsius / theirs - 1.0).abs() < 1e-6, "{mpa} MPa: {celsius} {theirs}");
        let back = saturation_pressure(kelvin).unwrap().mpa();
        let theirs = seuif97::tx(celsius, 0.0, seuif97::OP);
        assert!((back / theirs - 1.0).abs() < 1e-6, "{celsius} C: {back} {theirs}");
    }
}

/// The density of the `seuif97` library (IF97 region 1), from cold to 3 MPa: another equation, so 1e-4 of the value.
#[test]
fn density_agrees_with_the_reference_library() {
    for step in 1..=230 {
        let celsius = f64::from(step);
        let ours = water_density(celsius).unwrap();
        let theirs = seuif97::tx(celsius, 0.0, seuif97::OD);
        assert!((ours / theirs - 1.0).abs() < 1e-4, "{celsius} C: {ours} {theirs}");
    }
}

/// IAPWS SR1-86(1992), Table 1 of check values: 273.16 K and 373.1243 K (from memory).
#[test]
fn density_is_the_releases_own() {
    let at = |kelvin: f64| water_density(kelvin - 273.15).unwrap();
    assert!((at(273.16) - 999.789).abs() < 5e-4, "{}", at(273.16));
    assert!((at(373.1243) - 958.365).abs() < 5e-4, "{}", at(373.1243));
}

/// Common practice, no source: water hot at 140 psi fills about an eighth more than cold.
#[test]
fn hot_water_fills_more() {
    let times = expansion(20.0, 184.0).unwrap();
    assert_eq!(format!("{times:.2}"), "1.13");
    let back = expansion(184.0, 20.0).unwrap();
    assert!((times * back - 1.0).abs() < 1e-15);
}

/// Sinclair, Locomotive Engine Running and Management (1885): water at 140 lb is at 361 °F.
#[test]
fn the_old_handbook_agrees() {
    let celsius = saturation_celsius(Gauge::from_psi(140.0).unwrap(), AIR).unwrap();
    assert_eq!((celsius * 1.8 + 32.0).round(), 361.0);
}

/// NIST SP 811 (2008), appendix B.8: the factors as printed there, to their seven digits.
#[test]
fn units_are_the_standard_ones() {
    let close = |got: f64, want: f64| assert!((got / want - 1.0).abs() < 2e-7, "{got} {want}");
    close(Gauge::from_psi(1.0).unwrap().kpa(), 6.894_757);
    close(Gauge::from_kgf_cm2(1.0).unwrap().kpa(), 98.066_5);
    close(Gauge::from_bar(1.0).unwrap().kpa(), 100.0);
    close(Gauge::from_vacuum_inhg(1.0).unwrap().kpa(), -3.386_389);
    let gauge = Gauge::from_kpa(1_000.0).unwrap();
    close(Gauge::from_psi(gauge.psi()).unwrap().kpa(), 1_000.0);
    close(Gauge::from_bar(gauge.bar()).unwrap().kpa(), 1_000.0);
    close(Gauge::from_kgf_cm2(gauge.kgf_cm2()).unwrap().kpa(), 1_000.0);
    close(Gauge::from_vacuum_inhg(gauge.vacuum_inhg()).unwrap().kpa(), 1_000.0);
}

/// 21 inHg of vacuum at the standard atmosphere leaves 30.211 kPa (worked by hand from NIST SP 811's factor).
#[test]
fn vacuum_leaves_what_is_left() {
    let left = Gauge::from_vacuum_inhg(21.0).unwrap().absolute(AIR).unwrap();
    assert_eq!(format!("{:.3}", left.kpa()), "30.211");
    assert_eq!(format!("{:.3}", left.gauge(AIR).unwrap().vacuum_inhg()), "21.000");
    let field = Gauge::from_vacuum_inhg(31.0).unwrap().absolute(AIR).unwrap_err().field;
    assert_eq!(field, "gauge_kpa");
}

/// The air of the place counts: IF97 at 80 kPa (about 1 950 m, ISO 2533) puts an open boiler's boiling point at 93.5
/// °C.
#[test]
fn local_air_counts() {
    let air = Atmosphere::from_kpa(80.0).unwrap();
    let celsius = saturation_celsius(Gauge::from_kpa(0.0).unwrap(), air).unwrap();
    assert!((celsius - seuif97::px(0.08, 0.0, seuif97::OT)).abs() < 1e-4, "{celsius}");
    assert_eq!(format!("{celsius:.1}"), "93.5");
}

fn read(psi: f64, error_kpa: f64) -> GaugeReading {
    GaugeReading { gauge: Gauge::from_psi(psi).unwrap(), error_kpa }
}

/// 100 to 140 psig is 169.935 to 182.706 °C (IF97 worked by the reference library): in half an hour 25.5 K/h.
#[test]
fn heating_rate_carries_the_error() {
    let steady = Gauge::from_kpa(20.0).unwrap();
    let theirs = |psi: f64| seuif97::px((psi * 6.894_757 + 101.325) / 1e3, 0.0, seuif97::OT);
    let rate = heating_rate(read(100.0, 10.0), read(140.0, 10.0), 0.5, steady, AIR).unwrap();
    assert!((rate.k_per_h - (theirs(140.0) - theirs(100.0)) / 0.5).abs() < 1e-3, "{rate:?}");
    assert!(rate.low_k_per_h < rate.k_per_h && rate.k_per_h < rate.high_k_per_h);
    assert_eq!(rate.against(30.0), AgainstLimit::Within);
    assert_eq!(rate.against(26.0), AgainstLimit::WithinUnlessMisread);
    assert_eq!(rate.against(25.0), AgainstLimit::OverUnlessMisread);
    assert_eq!(rate.against(20.0), AgainstLimit::Over);
    let cooling = heating_rate(read(140.0, 0.0), read(100.0, 0.0), 0.5, steady, AIR).unwrap();
    assert_eq!(cooling.k_per_h, -rate.k_per_h);
}

/// Common practice, no source: a gauge says nothing of the temperature until steady pressure shows.
#[test]
fn no_rate_before_pressure() {
    let steady = Gauge::from_kpa(20.0).unwrap();
    let none = heating_rate(read(0.0, 5.0), read(40.0, 5.0), 1.0, steady, AIR);
    assert!(matches!(none, Err(NoRate::NoSteadyPressure { .. })), "{none:?}");
    let never = heating_rate(read(50.0, 5.0), read(60.0, 5.0), 0.0, steady, AIR).unwrap_err();
    assert!(matches!(never, NoRate::Number(bad) if bad.field == "hours"), "{never}");
    let wild = heating_rate(read(50.0, f64::NAN), read(60.0, 5.0), 1.0, steady, AIR).unwrap_err();
    assert!(matches!(wild, NoRate::Number(bad) if bad.field == "error_kpa"), "{wild}");
}

/// Lead melts at 327.5 °C (CRC Handbook of Chemistry and Physics, from memory); tin-rich cores can melt under water.
#[test]
fn plug_cores_have_a_margin() {
    let working = Gauge::from_psi(250.0).unwrap();
    let lead = plug_margin(working, AIR, 327.5).unwrap();
    assert!((lead.water_c - 207.8).abs() < 0.05 && (lead.margin_k - 119.7).abs() < 0.05, "{lead:?}");
    assert!(plug_margin(working, AIR, 183.0).unwrap().margin_k < 0.0);
    assert_eq!(plug_margin(working, AIR, f64::INFINITY).unwrap_err().field, "melts_c");
}

#[test]
fn bad_input_names_the_field() {
    assert_eq!(saturation_pressure(273.0).unwrap_err().field, "temperature_k");
    assert_eq!(saturation_pressure(f64::NAN).unwrap_err().field, "temperature_k");
    assert_eq!(saturation_pressure(647.1).unwrap_err().field, "temperature_k");
    let thin = Absolute::from_kpa(0.5).unwrap();
    assert_eq!(saturation_temperature(thin).unwrap_err().field, "absolute_kpa");
    assert_eq!(Absolute::from_mpa(22.1).unwrap_err().field, "absolute_kpa");
    assert_eq!(Gauge::from_psi(f64::NAN).unwrap_err().field, "gauge_kpa");
    assert_eq!(Atmosphere::from_kpa(1_013.25).unwrap_err().field, "atmosphere_kpa");
    assert_eq!(water_density(351.0).unwrap_err().field, "temperature_c");
    assert_eq!(saturation_gauge(374.0, AIR).unwrap_err().field, "temperature_c");
    let says = saturation_pressure(273.0).unwrap_err().to_string();
    assert_eq!(says, "`temperature_k` is 273; give a number from 273.15 to 647.096");
}

proptest! {
    /// There and back over the whole line of saturation; IF97's own consistency is 1e-9 or better here.
    #[test]
    fn there_and_back(kelvin in 273.15..647.09f64) {
        let back = saturation_temperature(saturation_pressure(kelvin).unwrap()).unwrap();
        prop_assert!((back / kelvin - 1.0).abs() < 1e-9, "{} {}", kelvin, back);
    }

    /// Hotter steam presses more, and hotter water weighs less above its greatest density at 4 °C.
    #[test]
    fn monotone(celsius in 5.0..330.0f64, more in 0.01..15.0f64) {
        let gauge = |c| saturation_gauge(c, AIR);
        if let (Ok(low), Ok(high)) = (gauge(celsius), gauge(celsius + more)) {
            prop_assert!(low < high);
        }
        prop_assert!(water_density(celsius).unwrap() > water_density(celsius + more).unwrap());
    }

    /// No number, however odd, gives an answer that is not a number.
    #[test]
    fn always_a_number_or_an_error(value in any::<f64>(), other in any::<f64>()) {
        for pressure in [Absolute::from_kpa(value), Absolute::from_mpa(value)].into_iter().flatten() {
            prop_assert!(saturation_temperature(pressure).is_ok_and(f64::is_finite) || pressure.kpa() < 0.611_213);
        }
        let finite = saturation_pressure(value).is_ok_and(|p| p.kpa().is_finite());
        prop_assert_eq!(finite, (273.15..=647.096).contains(&value));
        prop_assert!(expansion(value, other).map_or(true, f64::is_finite));
    }
}
