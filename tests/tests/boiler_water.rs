//! Water treatment against published worked examples, a statistics library's figures, and laws that hold for any water.

use offshed_core::boiler::level::GlassReading;
use offshed_core::boiler::water::blowdown::{Advice, MOST_ROUNDS, Refused, Rounds, Task, fewest_rounds, in_rounds};
use offshed_core::boiler::water::conductivity::{Conversion, Sample, at_25, at_temperature, coefficient, solids};
use offshed_core::boiler::water::cycles::{Blowdown, Cycles, Feed, ShareOfFeed, Steam};
use offshed_core::boiler::water::dose::{Dose, Measure, Measured, Product, Request, dose};
use offshed_core::boiler::water::hardness::{Hardness, HardnessUnit};
use offshed_core::boiler::water::plant::{Plant, Work, check, litres_left};
use offshed_core::boiler::water::trend::{
    Limit, MOST_TESTS, NoTrend, Outlook, Test, Trend, Washout, Z_95, fit, washout,
};
use offshed_core::boiler::water::{AgainstBand, Band, Estimate, cold_litres};
use offshed_core::units::{Reading, Unit};
use proptest::prelude::*;

#[track_caller]
fn near(got: f64, expected: f64, within: f64) {
    assert!((got - expected).abs() <= within, "{got}, not {expected} within {within}");
}

mod conductivity_to_solids {
    use super::*;

    /// A conductivity analyser maker's user manual, appendix on temperature compensation: 124.5 µS/cm at 18.0 °C and 147.6 at 31.0 °C are
    /// one water of 1.298 %/°C.
    #[test]
    fn one_water_at_two_temperatures() {
        let percent = coefficient((124.5, 18.0), (147.6, 31.0)).unwrap();
        near(percent, 1.298, 0.0005);
        near(at_25(124.5, 18.0, percent).unwrap(), 136.938, 0.0005);
        near(at_25(147.6, 31.0, percent).unwrap(), 136.938, 0.0005);
        near(coefficient((147.6, 31.0), (124.5, 18.0)).unwrap(), percent, 1e-12);
    }

    /// A boiler control maker's manual, section on TDS probes: 2 %/°C, solids 0.7 times µS/cm at 25 °C, 5000 µS/cm are 3500 ppm.
    #[test]
    fn five_thousand_microsiemens() {
        let by = Conversion { percent_per_k: 2.0, mg_l_per_us_cm: 0.7 };
        let sample = Sample { us_cm: 5_000.0, error_us_cm: 0.0, celsius: 25.0, error_k: 0.0 };
        near(solids(sample, by).unwrap().mg_l.value, 3_500.0, 1e-9);
    }

    /// A standard solution maker's table of standards: 1413 µS/cm are 1000 ppm by the 442 standard (factor 0.7078) and 702.1
    /// as NaCl (0.4969): the factor is data, and one for all waters is wrong by a third.
    #[test]
    fn the_factor_depends_on_the_salts() {
        let sample = Sample { us_cm: 1_413.0, error_us_cm: 0.0, celsius: 25.0, error_k: 0.0 };
        for (factor, ppm) in [(0.7078, 1_000.0), (0.4969, 702.1)] {
            let by = Conversion { percent_per_k: 2.0, mg_l_per_us_cm: factor };
            near(solids(sample, by).unwrap().mg_l.value, ppm, 0.2);
        }
    }

    /// 5000 [1 + 0.02 (184 − 25)] = 20 900 µS/cm in a boiler at 10 bar (a steam tutorial, from memory).
    #[test]
    fn a_probe_in_the_hot_boiler() {
        near(at_temperature(5_000.0, 184.0, 2.0).unwrap(), 20_900.0, 1e-6);
        near(at_25(20_900.0, 184.0, 2.0).unwrap(), 5_000.0, 1e-9);
    }

    #[test]
    fn what_cannot_be_names_its_field() {
        let by = Conversion { percent_per_k: 2.0, mg_l_per_us_cm: 0.7 };
        let good = Sample { us_cm: 5_000.0, error_us_cm: 50.0, celsius: 20.0, error_k: 0.5 };
        let field = |sample, by| solids(sample, by).unwrap_err().field;
        for bad in [f64::NAN, f64::INFINITY, -1.0] {
            assert_eq!(field(Sample { us_cm: bad, ..good }, by), "us_cm");
            assert_eq!(field(Sample { error_us_cm: bad, ..good }, by), "error_us_cm");
            assert_eq!(field(Sample { celsius: bad, ..good }, by), "celsius");
            assert_eq!(field(Sample { error_k: bad, ..good }, by), "error_k");
            assert_eq!(field(good, Conversion { percent_per_k: bad, ..by }), "percent_per_k");
            assert_eq!(field(good, Conversion { mg_l_per_us_cm: bad, ..by }), "mg_l_per_us_cm");
        }
        assert_eq!(coefficient((100.0, 20.0), (100.0, 25.0)), Ok(0.0));
        assert_eq!(coefficient((100.0, 20.0), (90.0, 25.0)).unwrap_err().field, "percent_per_k");
        assert_eq!(coefficient((100.0, 20.0), (100.0, 20.0)).unwrap_err().field, "percent_per_k");
    }

    proptest! {
        #[test]
        fn every_true_sample_lies_between_the_least_and_the_most(
            us_cm in 0.0..10_000.0f64, error in 0.0..500.0f64, celsius in 5.0..60.0f64, error_k in 0.0..5.0f64,
            off in -1.0..1.0f64, off_too in -1.0..1.0f64, percent in 0.0..3.0f64,
        ) {
            let by = Conversion { percent_per_k: percent, mg_l_per_us_cm: 0.7 };
            let seen = solids(Sample { us_cm, error_us_cm: error, celsius, error_k }, by).unwrap();
            let truly = at_25((us_cm + off * error).max(0.0), celsius + off_too * error_k, percent).unwrap();
            prop_assert!(seen.us_cm_25.low <= truly + 1e-9 && truly <= seen.us_cm_25.high + 1e-9);
        }
    }
}

mod hardness_units {
    use super::*;

    #[track_caller]
    fn mg_l(value: f64, unit: HardnessUnit) -> f64 {
        Hardness::new(value, unit).unwrap().mg_l()
    }

    /// From the units' definitions: a grain (64.79891 mg) in 4.54609 l and in 3.785411784 l; 10 mg/l CaO; 10 mg/l
    /// CaCO3.
    /// Two of them printed: Clark 14.254 (a derivation from 64.8/4.546), US grain 17.118 (a boiler maker's manual).
    #[test]
    fn one_of_each() {
        near(mg_l(1.0, HardnessUnit::Clark), 14.2538, 5e-5);
        near(mg_l(1.0, HardnessUnit::GrainPerGallonUs), 17.1181, 5e-5);
        near(mg_l(1.0, HardnessUnit::German), 17.848, 5e-4);
        near(mg_l(1.0, HardnessUnit::French), 10.0, 0.0);
        near(mg_l(1.0, HardnessUnit::MilliequivalentPerL), 50.04, 5e-3);
        near(mg_l(1.0, HardnessUnit::Clark), 14.254, 5e-4);
        near(mg_l(1.0, HardnessUnit::GrainPerGallonUs), 17.118, 5e-4);
    }

    /// A filter maker's worked example: 350 mg/l times 0.0584 are 20.44 grains a US gallon.
    #[test]
    fn three_hundred_and_fifty_in_grains() {
        let grains = Hardness::new(350.0, HardnessUnit::MgPerLCaCO3).unwrap().told_in(HardnessUnit::GrainPerGallonUs);
        near(grains, 20.44, 0.01);
    }

    /// EN 12953-10:2003, Table 5-1 (as quoted in boiler manuals): 0.01 mmol/l of Ca and Mg are 1.0 mg/l CaCO3.
    #[test]
    fn millimoles() {
        near(mg_l(0.01, HardnessUnit::MillimolePerL), 1.0, 0.05);
    }

    /// Published pages equate the Clark degree with the US grain, and swap the German degree and the US grain.
    #[test]
    fn units_that_are_taken_for_each_other_differ() {
        let [clark, gpg, german] =
            [HardnessUnit::Clark, HardnessUnit::GrainPerGallonUs, HardnessUnit::German].map(HardnessUnit::mg_l);
        near(gpg / clark, 4.54609 / 3.785_411_784, 1e-12);
        near(german / gpg, 1.0426, 1e-4);
    }

    /// Readings are thousandths of a unit; both ways of converting agree to that.
    #[test]
    fn readings_agree() {
        let pairs = [
            (Unit::Clark, HardnessUnit::Clark),
            (Unit::GrainPerGallonUs, HardnessUnit::GrainPerGallonUs),
            (Unit::GermanDegree, HardnessUnit::German),
            (Unit::FrenchDegree, HardnessUnit::French),
        ];
        for (unit, ours) in pairs {
            let reading = Reading { milli: 1_000_000, unit }.to(Unit::MgPerLCaCO3, None).unwrap();
            near(f64::from(reading.milli) / 1_000.0, mg_l(1_000.0, ours), 0.001);
        }
    }

    #[test]
    fn what_cannot_be_is_refused() {
        for bad in [f64::NAN, f64::INFINITY, -0.1, 1e7] {
            assert_eq!(Hardness::new(bad, HardnessUnit::Clark).unwrap_err().field, "hardness");
        }
    }
}

mod continuous_blowdown {
    use super::*;

    fn steam(flow: f64) -> Steam {
        Steam::new(flow).unwrap()
    }

    /// UFC 3-240-13FN (2005), p. 44: 5000 over 250 µmho are 20 cycles; 5 % of the feed; 40,000 lb/h of steam need a
    /// blowdown of 2105 lb/h and a feed of 42,105, of which 30,316 return and 11,789 are make-up. In SI 5.0, 0.26, 5.26
    /// kg/s.
    #[test]
    fn the_ufc_example() {
        let cycles = Cycles::of(5_000.0, 250.0).unwrap();
        near(cycles.get(), 20.0, 1e-12);
        near(cycles.of_feed().get(), 0.05, 1e-12);
        let blowdown = cycles.of_steam().blowdown(steam(40_000.0));
        near(blowdown.get(), 2_105.0, 0.5);
        let feed = steam(40_000.0).with(blowdown);
        near(feed.get(), 42_105.0, 0.5);
        near(feed.get() - 30_316.0, 11_789.0, 0.5);
        near(cycles.of_steam().blowdown(steam(5.0)).get(), 0.26, 0.005);
        near(cycles.of_feed().feed_for(steam(5.0)).get(), 5.26, 0.005);
    }

    /// A steam supplier's worked example: feed 80, boiler 3500 ppm, 4000 kg/h of steam: 93.6 kg/h.
    #[test]
    fn four_tonnes_an_hour() {
        let cycles = Cycles::of(3_500.0, 80.0).unwrap();
        near(cycles.of_steam().blowdown(steam(4_000.0)).get(), 93.6, 0.05);
    }

    /// A treatment manual: feed 0.1, limit 25 ppm, 10,000 kg/h: 0.4 %, 40 kg/h.
    #[test]
    fn a_tenth_of_a_part_per_million() {
        let cycles = Cycles::of(25.0, 0.1).unwrap();
        near(cycles.of_feed().get() * 100.0, 0.4, 0.05);
        near(cycles.of_steam().blowdown(steam(10_000.0)).get(), 40.0, 0.5);
    }

    /// A question-and-answer page: feed hardness 50, sludge limit 500 ppm: 10 concentrations, 5 kg in 50 kg fed.
    #[test]
    fn five_in_fifty() {
        let cycles = Cycles::of(500.0, 50.0).unwrap();
        near(cycles.get(), 10.0, 1e-12);
        near(cycles.of_feed().blowdown(Feed::new(50.0).unwrap()).get(), 5.0, 1e-12);
    }

    /// A steam tutorial (from memory): 250 and 2500 ppm, 10,000 kg/h of steam: 1111 kg/h.
    #[test]
    fn eleven_hundred() {
        near(Cycles::of(2_500.0, 250.0).unwrap().of_steam().blowdown(steam(10_000.0)).get(), 1_111.0, 0.5);
    }

    /// US DOE Steam Tip Sheet 9 (from memory): 100,000 lb/h of steam at 8 % and 6 % blowdown of feed: 108,696 and
    /// 106,383, 2,312 lb/h saved.
    #[test]
    fn eight_and_six_per_cent() {
        let feed = |share| ShareOfFeed::new(share).unwrap().feed_for(steam(100_000.0)).get();
        near(feed(0.08), 108_696.0, 0.5);
        near(feed(0.06), 106_383.0, 0.5);
        near(feed(0.08) - feed(0.06), 2_312.0, 1.0);
    }

    /// A published page takes 1/(C − 1) for the share of the feed and divides by (1 − b) again, which gives a
    /// seventeenth too much here; the two shares say the same blowdown and the balance closes.
    #[test]
    fn the_two_shares_are_not_mixed_up() {
        let cycles = Cycles::of(5_000.0, 250.0).unwrap();
        near(cycles.of_feed().of_steam().get(), cycles.of_steam().get(), 1e-15);
        near(cycles.of_steam().of_feed().get(), cycles.of_feed().get(), 1e-15);
        let mistaken = 40_000.0 * cycles.of_steam().get() / (1.0 - cycles.of_steam().get());
        assert!(mistaken > 1.05 * cycles.of_steam().blowdown(steam(40_000.0)).get());
    }

    #[test]
    fn what_cannot_be_names_its_field() {
        assert_eq!(Cycles::of(250.0, 250.0).unwrap_err().field, "boiler");
        assert_eq!(Cycles::of(250.0, 0.0).unwrap_err().field, "feed");
        assert_eq!(Cycles::of(f64::NAN, 1.0).unwrap_err().field, "boiler");
        assert_eq!(Cycles::new(1.0).unwrap_err().field, "cycles");
        assert_eq!(ShareOfFeed::new(5.0).unwrap_err().field, "share_of_feed");
        assert_eq!(Steam::new(-1.0).unwrap_err().field, "steam");
        assert_eq!(Blowdown::new(f64::NAN).unwrap_err().field, "blowdown");
    }

    proptest! {
        /// Salts in are salts out, and what is fed is what is steamed and blown down.
        #[test]
        fn the_balance_closes(boiler in 100.0..9_000.0f64, part in 0.01..0.9f64, flow in 1.0..1e5f64) {
            let feed_solids = boiler * part;
            let cycles = Cycles::of(boiler, feed_solids).unwrap();
            let blowdown = cycles.of_steam().blowdown(steam(flow));
            let feed = steam(flow).with(blowdown);
            prop_assert!((feed.get() * feed_solids / (blowdown.get() * boiler) - 1.0).abs() < 1e-9);
            prop_assert!((cycles.of_feed().feed_for(steam(flow)).get() / feed.get() - 1.0).abs() < 1e-9);
            prop_assert!((cycles.of_feed().blowdown(feed).get() / blowdown.get() - 1.0).abs() < 1e-9);
        }
    }
}

mod doses {
    use super::*;

    /// An avoirdupois ounce, g, and a US gallon, l (NIST SP 811, appendix B.8).
    const OUNCE: f64 = 28.349_523_125;
    const GALLON_US: f64 = 3.785_411_784;

    fn plain(reading: f64, target: f64, litres: f64, strength: f64) -> Request {
        Request {
            reading_mg_l: Estimate::exact(reading),
            target_mg_l: target,
            litres: Estimate::exact(litres),
            product: Product { strength, measure: None },
        }
    }

    #[track_caller]
    fn grams(request: &Request) -> f64 {
        match dose(request) {
            Ok(Dose::Add { grams, .. }) => grams.value,
            other => panic!("{other:?}"),
        }
    }

    #[track_caller]
    fn measured(request: &Request) -> Measured {
        match dose(request) {
            Ok(Dose::Add { measured: Some(measured), .. }) => measured,
            other => panic!("{other:?}"),
        }
    }

    /// NAVEDTRA 14075 (Engineman 1 & C), p. 7-10: the initial fill takes 0.100 oz of trisodium phosphate and 0.022 oz
    /// of disodium phosphate a gallon, to the nearest half ounce: eight printed results.
    #[test]
    fn the_initial_fill_of_navedtra() {
        for (gallons, tsp, dsp) in [(84.0, 8.5, 2.0), (215.0, 21.5, 4.5), (280.0, 28.0, 6.0), (300.0, 30.0, 6.5)] {
            for (ounces_a_gallon, expected) in [(0.100, tsp), (0.022, dsp)] {
                let target = ounces_a_gallon * OUNCE * 1_000.0 / GALLON_US;
                let mut request = plain(0.0, target, gallons * GALLON_US, 1.0);
                request.product.measure = Some(Measure { grams: OUNCE, parts: 2 });
                assert_eq!(measured(&request).measures, expected, "{gallons} gallons");
            }
        }
    }

    /// NAVEDTRA 14075, p. 7-12: to reach 2.0 epm of alkalinity take 0.095 oz a gallon at 0.1 epm, 0.050 at 1.0, 0.005
    /// at 1.9, printed in steps of 0.005; phosphate rises about 100 ppm an epm.
    /// Trisodium phosphate with twelve waters is 380.12 g/mol, of which one equivalent counts, and gives 94.97 g PO4.
    #[test]
    fn the_top_up_of_navedtra() {
        let an_equivalent = HardnessUnit::MilliequivalentPerL.mg_l();
        let alkalinity = |epm: f64| Hardness::new(epm, HardnessUnit::MilliequivalentPerL).unwrap().mg_l();
        for (epm, printed) in [(0.1, 0.095), (1.0, 0.050), (1.9, 0.005)] {
            let request = plain(alkalinity(epm), alkalinity(2.0), GALLON_US, an_equivalent / 380.12);
            let ounces = grams(&request) / OUNCE;
            near(ounces, printed, 0.0025);
            let phosphate = ounces * OUNCE * 1_000.0 / GALLON_US * 94.97 / 380.12;
            near(phosphate / (2.0 - epm), 100.0, 6.0);
        }
    }

    /// A treatment manual: oxygen from 0.02 to 0.002 ppm in 10,000 kg/h by deaeration leaves 0.18 g/h to take up, at
    /// 7.875 g of sodium sulphite each 1.4175 g/h; 4 ppm of phosphate in 40 kg are 0.16 g.
    #[test]
    fn oxygen_and_phosphate_by_the_hour() {
        near(grams(&plain(0.002, 0.02, 10_000.0, 1.0)), 0.18, 1e-9);
        near(grams(&plain(0.002, 0.02, 10_000.0, 1.0 / 7.875)), 1.4175, 1e-9);
        near(grams(&plain(0.0, 4.0, 40.0, 1.0)), 0.16, 1e-12);
    }

    /// A chemical data sheet: 7.88 mg of sodium sulphite a mg of oxygen, so 0.10 mg/l need 0.788 mg/l.
    #[test]
    fn a_tenth_of_oxygen() {
        near(grams(&plain(0.0, 0.10, 1_000.0, 1.0 / 7.88)), 0.788, 1e-9);
    }

    /// Stoichiometry: a mg/l of CaCO3 takes 1.059 mg/l of soda ash (105.99 over 100.09 g/mol).
    #[test]
    fn soda_ash_for_hardness() {
        near(grams(&plain(0.0, 1.0, 1_000.0, 100.09 / 105.99)), 1.059, 5e-4);
    }

    /// By hand: 3000 l from 100 to 160 mg/l of tannin with a product of 35 %: 180 g of tannin, 514.3 g, 12.86 scoops of
    /// 40 g, thirteen if whole ones are taken, which reaches 160.67.
    #[test]
    fn scoops_by_hand() {
        let mut request = plain(100.0, 160.0, 3_000.0, 0.35);
        near(grams(&request), 514.286, 5e-4);
        request.product.measure = Some(Measure { grams: 40.0, parts: 1 });
        let told = measured(&request);
        assert_eq!((told.measures, told.grams), (13.0, 520.0));
        near(told.reaches_mg_l, 160.667, 5e-4);
        request.product.measure = Some(Measure { grams: 40.0, parts: 4 });
        assert_eq!(measured(&request).measures, 12.75);
    }

    #[test]
    fn nothing_is_added_over_the_target() {
        assert_eq!(dose(&plain(170.0, 160.0, 3_000.0, 0.35)), Ok(Dose::None { over_mg_l: 10.0 }));
        assert_eq!(dose(&plain(160.0, 160.0, 3_000.0, 0.35)), Ok(Dose::None { over_mg_l: 0.0 }));
    }

    /// Steam tables (from memory): saturated water at 180 °C fills 1.127 l a kg, at 25 °C 1.003; so litres of the hot
    /// boiler would ask for an eighth too much.
    #[test]
    fn hot_litres_hold_less_water() {
        near(cold_litres(3_000.0, 180.0).unwrap(), 3_000.0 * 1.003 / 1.127, 2.0);
        near(cold_litres(3_000.0, 25.0).unwrap(), 3_000.0, 1e-9);
        assert_eq!(cold_litres(f64::NAN, 25.0).unwrap_err().field, "hot_litres");
    }

    #[test]
    fn what_cannot_be_names_its_field() {
        let good = plain(100.0, 160.0, 3_000.0, 0.35);
        let field = |r: Request| dose(&r).unwrap_err().field;
        for bad in [f64::NAN, f64::INFINITY, -1.0] {
            assert_eq!(field(Request { reading_mg_l: Estimate::exact(bad), ..good }), "reading_mg_l");
            assert_eq!(field(Request { target_mg_l: bad, ..good }), "target_mg_l");
            assert_eq!(field(Request { litres: Estimate::exact(bad), ..good }), "litres");
            assert_eq!(field(Request { product: Product { strength: bad, measure: None }, ..good }), "strength");
            let measure = Some(Measure { grams: bad, parts: 1 });
            assert_eq!(field(Request { product: Product { strength: 1.0, measure }, ..good }), "measure_grams");
        }
        let measure = Some(Measure { grams: 1.0, parts: 0 });
        assert_eq!(field(Request { product: Product { strength: 1.0, measure }, ..good }), "measure_parts");
        let upside_down = Estimate { value: 100.0, low: 110.0, high: 120.0 };
        assert_eq!(field(Request { reading_mg_l: upside_down, ..good }), "reading_mg_l");
    }

    proptest! {
        /// The dose put in brings the water to its target, whichever of the possible waters it was.
        #[test]
        fn the_dose_lies_between_the_least_and_the_most(
            reading in 10.0..150.0f64, error in 0.0..10.0f64, litres in 500.0..8_000.0f64, unsure in 0.0..200.0f64,
            strength in 0.05..2.0f64, off in -1.0..1.0f64, off_too in -1.0..1.0f64,
        ) {
            let request = Request {
                reading_mg_l: Estimate::around(reading, error),
                target_mg_l: 160.0,
                litres: Estimate::around(litres, unsure),
                product: Product { strength, measure: None },
            };
            let Dose::Add { grams, .. } = dose(&request).unwrap() else { panic!() };
            let (mg_l, truly) = (reading + off * error, litres + off_too * unsure);
            let needed = (160.0 - mg_l) * truly / strength / 1_000.0;
            prop_assert!(grams.low <= needed + 1e-9 && needed <= grams.high + 1e-9);
            let shown = reading + grams.value * 1_000.0 * strength / litres;
            prop_assert!((shown - 160.0).abs() < 1e-9);
        }
    }
}

mod blowdown_by_the_glass {
    use super::*;

    /// 3000 l at 150 mm and 10 l in each.
    fn tank(level_mm: f64) -> Option<f64> {
        Some(1_500.0 + 10.0 * level_mm)
    }

    /// A lying drum: narrower higher up, litres over a height above its bottom.
    fn drum(level_mm: f64) -> Option<f64> {
        let (r, length) = (600.0f64, 3_000.0);
        let h = 700.0 + level_mm;
        ((0.0..=2.0 * r).contains(&h)).then(|| {
            let segment = r * r * libm::acos((r - h) / r) - (r - h) * libm::sqrt(2.0 * r * h - h * h);
            segment * length / 1e6
        })
    }

    fn task() -> Task {
        Task {
            solids_mg_l: Estimate::exact(4_000.0),
            feed_mg_l: 200.0,
            target_mg_l: 3_500.0,
            level: GlassReading { mm: 150.0, error_mm: 0.0 },
            lower_mark_mm: 50.0,
        }
    }

    #[track_caller]
    fn rounds(advice: Result<Advice, Refused>) -> Rounds {
        match advice {
            Ok(Advice::Blow(rounds)) => rounds,
            other => panic!("{other:?}"),
        }
    }

    /// By hand: (3500 − 200)/(4000 − 200) = 0.86842 of 3000 l may stay, 394.7 l go, 39.47 mm: 40 mm told, which leaves
    /// 200 + 3800 · 2600/3000 = 3493.3 mg/l. In two rounds √0.86842 = 0.93189 may stay: 20.43 mm, 21 told.
    #[test]
    fn a_tank_by_hand() {
        let one = rounds(in_rounds(&task(), 1, tank));
        assert_eq!((one.rounds, one.fall_mm, one.stop_mm), (1, 40.0, 110.0));
        near(one.litres_each, 400.0, 1e-9);
        near(one.share_each, 400.0 / 3_000.0, 1e-12);
        near(one.reaches_mg_l.value, 3_493.333, 5e-4);
        assert_eq!(one, rounds(fewest_rounds(&task(), tank)));
        let two = rounds(in_rounds(&task(), 2, tank));
        assert_eq!((two.rounds, two.fall_mm), (2, 21.0));
    }

    #[test]
    fn a_fall_past_the_lower_mark_is_refused() {
        let high_mark = Task { lower_mark_mm: 125.0, ..task() };
        let refused = in_rounds(&high_mark, 1, tank).unwrap_err();
        assert_eq!(refused, Refused::PassesLowerMark { rounds: 1, allowed_mm: 25.0, rounds_needed: Some(2) });
        assert!(refused.to_string().contains("2 rounds"));
        let two = rounds(fewest_rounds(&high_mark, tank));
        assert_eq!((two.rounds, two.fall_mm), (2, 21.0));
        // Two millimetres of reading error are two more above the mark, and 23 mm are still enough; five are not.
        let unsure = |error_mm| Task { level: GlassReading { mm: 150.0, error_mm }, ..high_mark };
        assert_eq!(rounds(fewest_rounds(&unsure(2.0), tank)).rounds, 2);
        assert_eq!(rounds(fewest_rounds(&unsure(5.0), tank)).rounds, 3);
        assert!(rounds(fewest_rounds(&unsure(5.0), tank)).stop_mm - 5.0 >= 125.0);
    }

    #[test]
    fn what_no_blowdown_reaches_is_refused() {
        let strong = Task { feed_mg_l: 3_500.0, ..task() };
        assert_eq!(
            fewest_rounds(&strong, tank),
            Err(Refused::FeedTooStrong { feed_mg_l: 3_500.0, target_mg_l: 3_500.0 })
        );
        let low = Task { level: GlassReading { mm: 53.0, error_mm: 3.0 }, ..task() };
        assert_eq!(fewest_rounds(&low, tank), Err(Refused::StartsTooLow { level_mm: 53.0, least_mm: 54.0 }));
        let far = Task { target_mg_l: 210.0, lower_mark_mm: 145.0, ..task() };
        assert_eq!(
            fewest_rounds(&far, tank),
            Err(Refused::PassesLowerMark { rounds: MOST_ROUNDS, allowed_mm: 5.0, rounds_needed: None })
        );
        let clean = Task { solids_mg_l: Estimate::exact(3_400.0), ..task() };
        assert_eq!(fewest_rounds(&clean, tank), Ok(Advice::NotNeeded { under_mg_l: 100.0 }));
    }

    #[test]
    fn a_boiler_that_makes_no_sense_is_refused() {
        assert_eq!(fewest_rounds(&task(), |_| None), Err(Refused::NoLitres { level_mm: 150.0 }));
        assert_eq!(fewest_rounds(&task(), |_| Some(3_000.0)), Err(Refused::LitresDoNotFall { level_mm: 50.0 }));
        for bad in [f64::NAN, f64::INFINITY, -1.0] {
            assert!(matches!(fewest_rounds(&task(), |_| Some(bad)), Err(Refused::Number(b)) if b.field == "litres"));
        }
    }

    #[test]
    fn what_cannot_be_names_its_field() {
        let field = |t: Task| match fewest_rounds(&t, tank) {
            Err(Refused::Number(bad)) => bad.field,
            other => panic!("{other:?}"),
        };
        for bad in [f64::NAN, f64::INFINITY, -1.0] {
            assert_eq!(field(Task { solids_mg_l: Estimate::exact(bad), ..task() }), "solids_mg_l");
            assert_eq!(field(Task { feed_mg_l: bad, ..task() }), "feed_mg_l");
            assert_eq!(field(Task { target_mg_l: bad, ..task() }), "target_mg_l");
            assert_eq!(field(Task { level: GlassReading { mm: bad, error_mm: 1.0 }, ..task() }), "level_mm");
            assert_eq!(field(Task { level: GlassReading { mm: 100.0, error_mm: bad }, ..task() }), "level_error_mm");
            assert_eq!(field(Task { lower_mark_mm: bad, ..task() }), "lower_mark_mm");
        }
        assert!(matches!(in_rounds(&task(), 0, tank), Err(Refused::Number(b)) if b.field == "rounds"));
    }

    proptest! {
        /// Mixing bucket by bucket, with no formula, ends where it is told; a millimetre less each time would not do;
        /// and nothing falls past the mark.
        #[test]
        fn mixing_by_hand_agrees(
            solids in 2_600.0..9_000.0f64, feed in 0.0..1_500.0f64, target in 1_600.0..2_500.0f64,
            level in 120.0..220.0f64, mark in 10.0..90.0f64, error in 0.0..6.0f64, asked in 1u8..=6,
        ) {
            let task = Task {
                solids_mg_l: Estimate::exact(solids), feed_mg_l: feed, target_mg_l: target,
                level: GlassReading { mm: level, error_mm: error }, lower_mark_mm: mark,
            };
            let full = drum(level).unwrap();
            let mix = |fall: f64, times: u8| {
                let (mut salts, left) = (solids * full, drum(level - fall).unwrap());
                for _ in 0..times {
                    salts = salts / full * left + feed * (full - left);
                }
                salts / full
            };
            match in_rounds(&task, asked, drum) {
                Ok(Advice::Blow(told)) => {
                    prop_assert_eq!(told.rounds, asked);
                    prop_assert!((mix(told.fall_mm, asked) - told.reaches_mg_l.value).abs() < 1e-6);
                    prop_assert!(told.reaches_mg_l.value <= target + 1e-9);
                    prop_assert!(mix(told.fall_mm - 1.0, asked) > target);
                    prop_assert!(told.stop_mm - error >= mark);
                    prop_assert!(told.reaches_mg_l.low <= told.reaches_mg_l.value);
                    prop_assert!(told.reaches_mg_l.value <= told.reaches_mg_l.high);
                }
                Err(Refused::PassesLowerMark { allowed_mm, rounds_needed, .. }) => {
                    prop_assert!(mix(allowed_mm, asked) > target);
                    if let Some(needed) = rounds_needed {
                        prop_assert!(needed > asked);
                        prop_assert!(mix(allowed_mm, needed) <= target + 1e-6);
                        prop_assert!(mix(allowed_mm, needed - 1) > target);
                    }
                }
                other => prop_assert!(false, "{other:?}"),
            }
        }

        /// Many small rounds waste more than one large one, and never more than the steady flow of -V ln(stay).
        #[test]
        fn more_rounds_take_more_water(asked in 1u8..MOST_ROUNDS) {
            let wide = |mm: f64| Some(150_000.0 + 1_000.0 * mm);
            let total = |n: u8| {
                let told = rounds(in_rounds(&task(), n, wide));
                f64::from(n) * told.litres_each
            };
            let a_millimetre = f64::from(asked + 1) * 1_000.0;
            prop_assert!(total(asked + 1) + f64::from(asked) * 1_000.0 >= total(asked));
            let steady = -300_000.0 * libm::log(3_300.0 / 3_800.0);
            prop_assert!(total(asked) <= steady + a_millimetre);
        }
    }
}

mod trends {
    use super::*;

    fn tests(days: &[f64], values: &[f64]) -> Vec<Test> {
        days.iter().zip(values).map(|(d, v)| Test { steam_days: *d, value: *v }).collect()
    }

    /// `scipy.stats.theilslopes(y, x, alpha=0.95, method='joint')`, scipy 1.17.1: slope, intercept, and both ends of
    /// the interval of five series: plain, with a wild reading, with ties, of four tests, and flat.
    #[test]
    fn as_scipy_fits_them() {
        #[rustfmt::skip]
        let series: [(&[f64], &[f64], [f64; 4]); 5] = [
            (
                &[0.0, 3.0, 5.0, 8.0, 10.0, 13.0, 15.0, 18.0],
                &[900.0, 1105.0, 1260.0, 1490.0, 1655.0, 1840.0, 2010.0, 2250.0],
                [75.20833333333334, 886.1458333333333, 72.3076923076923, 78.57142857142857],
            ),
            (
                &[0.0, 2.0, 4.0, 7.0, 9.0, 12.0, 14.0, 16.0, 19.0, 21.0],
                &[800.0, 960.0, 1090.0, 1300.0, 2900.0, 1690.0, 1850.0, 1960.0, 2200.0, 2330.0],
                [72.94117647058823, 807.0588235294117, 70.0, 75.0],
            ),
            (
                &[1.0, 1.0, 3.0, 3.0, 5.0, 8.0, 8.0, 11.0, 11.0],
                &[150.0, 148.0, 150.0, 146.0, 140.0, 138.0, 140.0, 131.0, 133.0],
                [-1.7, 151.6, -2.3333333333333335, -1.1666666666666667],
            ),
            (
                &[0.0, 4.0, 9.0, 13.0],
                &[500.0, 700.0, 650.0, 900.0],
                [26.495726495726494, 527.7777777777778, -10.0, 62.5],
            ),
            (&[0.0, 2.0, 4.0, 6.0, 8.0, 10.0], &[500.0, 510.0, 495.0, 505.0, 498.0, 503.0], [-0.25, 502.75, -3.5, 5.0]),
        ];
        for (days, values, [slope, intercept, low, high]) in series {
            let trend = fit(&tests(days, values), Z_95).unwrap();
            let got = trend.slope();
            near(got.value, slope, 1e-9);
            near(got.low, low, 1e-9);
            near(got.high, high, 1e-9);
            near(trend.at(0.0).unwrap(), intercept, 1e-9);
            assert_eq!(trend.is_whole_spread(), days.len() == 4);
        }
    }

    fn line(slope: f64, height: f64) -> Trend {
        let days: Vec<_> = (0..10).map(|n| 2.0 * f64::from(n)).collect();
        let values: Vec<_> = days.iter().map(|d| height + slope * d).collect();
        fit(&tests(&days, &values), Z_95).unwrap()
    }

    /// By hand: 1000 + 100 a day reaches 3500 on day 25, seven days in steam after the latest test on day 18.
    #[test]
    fn a_straight_line_by_hand() {
        let rising = line(100.0, 1_000.0);
        assert_eq!(rising.last_day(), 18.0);
        let Outlook::In { days, soonest, latest } = rising.outlook(Limit::Above(3_500.0)).unwrap() else { panic!() };
        near(days, 7.0, 1e-9);
        near(soonest, 7.0, 1e-9);
        near(latest.unwrap(), 7.0, 1e-9);
        assert_eq!(rising.outlook(Limit::Above(2_800.0)).unwrap(), Outlook::Met);
        assert_eq!(
            line(0.0, 1_000.0).outlook(Limit::Above(3_500.0)).unwrap(),
            Outlook::NotApproaching { soonest: None }
        );
        // Tannin of 180 losing 2 a day is at 144 on the latest day, and at its least of 120 twelve days on.
        let Outlook::In { days, .. } = line(-2.0, 180.0).outlook(Limit::Below(120.0)).unwrap() else { panic!() };
        near(days, 12.0, 1e-9);
        assert_eq!(line(-2.0, 180.0).outlook(Limit::Above(200.0)).unwrap(), Outlook::NotApproaching { soonest: None });
        assert_eq!(rising.outlook(Limit::Above(f64::NAN)).unwrap_err().field, "limit");
        assert_eq!(rising.at(f64::NAN).unwrap_err().field, "steam_days");
    }

    /// The flat series above may rise by 5 a day at the most: with a limit near it, perhaps.
    #[test]
    fn a_flat_trend_may_still_reach_the_limit() {
        let days = [0.0, 2.0, 4.0, 6.0, 8.0, 10.0];
        let flat = fit(&tests(&days, &[500.0, 510.0, 495.0, 505.0, 498.0, 503.0]), Z_95).unwrap();
        // Less 5 a day the tests are 500, 500, 475, 475, 458, 453, in the middle 475; with 50 on day 10 that is 525.
        let Outlook::NotApproaching { soonest: Some(soonest) } = flat.outlook(Limit::Above(600.0)).unwrap() else {
            panic!()
        };
        near(soonest, (600.0 - 525.0) / 5.0, 1e-9);
    }

    #[test]
    fn one_wild_reading_does_not_turn_it() {
        let days: Vec<_> = (0..12).map(f64::from).collect();
        let mut values: Vec<_> = days.iter().map(|d| 900.0 + 60.0 * d).collect();
        values[11] = 9_000.0;
        near(fit(&tests(&days, &values), Z_95).unwrap().slope().value, 60.0, 1e-9);
    }

    #[test]
    fn what_shows_no_trend_is_refused() {
        let of = |n: u32| (0..n).map(|d| Test { steam_days: d.into(), value: 1.0 }).collect::<Vec<_>>();
        assert_eq!(fit(&of(2), Z_95).unwrap_err(), NoTrend::TooFew { given: 2 });
        assert_eq!(fit(&of(65), Z_95).unwrap_err(), NoTrend::TooMany { given: 65 });
        assert!(fit(&of(MOST_TESTS as u32), Z_95).is_ok());
        assert_eq!(fit(&tests(&[3.0; 5], &[1.0, 2.0, 3.0, 4.0, 5.0]), Z_95).unwrap_err(), NoTrend::OneDay);
        for bad in [f64::NAN, f64::INFINITY, -1e300] {
            let field = |days, value| match fit(&tests(&[0.0, 1.0, days], &[0.0, 1.0, value]), Z_95) {
                Err(NoTrend::Number(bad)) => bad.field,
                other => panic!("{other:?}"),
            };
            assert_eq!(field(bad, 1.0), "steam_days");
            assert_eq!(field(2.0, bad), "value");
        }
        assert!(matches!(fit(&of(5), f64::NAN), Err(NoTrend::Number(b)) if b.field == "z"));
    }

    #[test]
    fn washouts() {
        let soon = |days| Outlook::In { days, soonest: days / 2.0, latest: None };
        assert_eq!(washout(-3, soon(9.0)), Washout::Overdue { by: 3 });
        assert_eq!(washout(i32::MIN, Outlook::Met), Washout::Overdue { by: 2_147_483_648 });
        assert_eq!(washout(5, Outlook::Met), Washout::Now);
        assert_eq!(washout(10, soon(6.9)), Washout::BringForward { within_days: 6, booked_days: 10 });
        assert_eq!(washout(10, soon(15.0)), Washout::Watch { soonest_days: 7, booked_days: 10 });
        assert_eq!(washout(10, soon(20.0)), Washout::AsBooked { booked_days: 10 });
        assert_eq!(washout(10, Outlook::NotApproaching { soonest: None }), Washout::AsBooked { booked_days: 10 });
        let perhaps = Outlook::NotApproaching { soonest: Some(4.5) };
        assert_eq!(washout(10, perhaps), Washout::Watch { soonest_days: 4, booked_days: 10 });
    }

    proptest! {
        /// Sorting all slopes is the other way to find their middle, and the order of the tests does not matter.
        #[test]
        fn sorting_finds_the_same_middle(
            series in proptest::collection::vec((0u16..60, -3_000i32..3_000), 3..=MOST_TESTS),
        ) {
            let mut all: Vec<_> =
                series.iter().map(|(d, v)| Test { steam_days: (*d).into(), value: (*v).into() }).collect();
            let mut slopes = Vec::new();
            for (n, a) in all.iter().enumerate() {
                for b in &all[n + 1..] {
                    if a.steam_days != b.steam_days {
                        slopes.push((b.value - a.value) / (b.steam_days - a.steam_days));
                    }
                }
            }
            slopes.sort_by(f64::total_cmp);
            let Ok(trend) = fit(&all, Z_95) else {
                prop_assert!(slopes.is_empty());
                return Ok(());
            };
            let half = slopes.len() / 2;
            let middle =
                if slopes.len() % 2 == 1 { slopes[half] } else { (slopes[half - 1] + slopes[half]) / 2.0 };
            prop_assert!((trend.slope().value - middle).abs() <= 1e-9 * middle.abs().max(1.0));
            prop_assert!(trend.slope().low <= trend.slope().value && trend.slope().value <= trend.slope().high);
            all.reverse();
            prop_assert_eq!(fit(&all, Z_95), Ok(trend));
        }

        /// The same days on, the fitted line is at the limit; and soonest and latest lie about it.
        #[test]
        fn the_line_is_at_the_limit_when_told(
            values in proptest::collection::vec(0.0..4_000.0f64, 4..20),
            limit in 0.0..5_000.0f64,
            below in any::<bool>(),
        ) {
            let all: Vec<_> = (0u8..).zip(&values).map(|(d, v)| Test { steam_days: d.into(), value: *v }).collect();
            let trend = fit(&all, Z_95).unwrap();
            let limit_at = if below { Limit::Below(limit) } else { Limit::Above(limit) };
            if let Outlook::In { days, soonest, latest } = trend.outlook(limit_at).unwrap() {
                prop_assert!(days > 0.0 && soonest <= days && latest.is_none_or(|l| l >= days));
                if trend.last_day() + days < 1e5 {
                    prop_assert!((trend.at(trend.last_day() + days).unwrap() - limit).abs() < 1e-6 * (1.0 + days));
                }
            }
        }
    }
}

mod bands_and_plants {
    use super::*;

    /// A shell boiler's pH of 10.5 to 12 (common practice, from memory).
    #[test]
    fn a_reading_beside_its_band() {
        let ph = Band::new(10.5, 12.0).unwrap();
        let told = |value, error| Estimate::around(value, error).against(ph).unwrap();
        assert_eq!(told(11.0, 0.2), AgainstBand::Inside);
        assert_eq!(told(10.6, 0.2), AgainstBand::InsideUnlessMisread);
        assert!(matches!(told(10.4, 0.2), AgainstBand::Below { by, unless_misread: true } if (by - 0.1).abs() < 1e-9));
        assert!(matches!(told(9.0, 0.2), AgainstBand::Below { unless_misread: false, .. }));
        assert!(matches!(told(12.1, 0.2), AgainstBand::Above { unless_misread: true, .. }));
        assert!(matches!(told(13.0, 0.2), AgainstBand::Above { by, unless_misread: false } if (by - 1.0).abs() < 1e-9));
        assert!(told(12.0, 0.0).is_inside() && !told(12.0, 0.0).error_could_change());
    }

    #[test]
    fn bands_open_on_one_side() {
        let most = Band::at_most(3_500.0).unwrap();
        assert!(Estimate::exact(0.0).against(most).unwrap().is_inside());
        assert!(!Estimate::exact(3_501.0).against(most).unwrap().is_inside());
        let least = Band::at_least(120.0).unwrap();
        assert!(Estimate::exact(1e6).against(least).unwrap().is_inside());
        assert_eq!(Band::new(2.0, 1.0).unwrap_err().field, "high");
        assert_eq!(Band::new(f64::NAN, 1.0).unwrap_err().field, "low");
        assert_eq!(Estimate::exact(f64::NAN).against(least).unwrap_err().field, "reading");
        assert_eq!(Estimate { value: 1.0, low: 2.0, high: 3.0 }.against(least).unwrap_err().field, "reading");
    }

    /// UFC 3-240-13FN (2005), Table 3-8: feed hardness below 0.5 ppm as CaCO3.
    #[test]
    fn a_softener_in_and_out() {
        let at = |going_in, out, error| {
            check(&Plant {
                going_in: Estimate::exact(going_in),
                coming_out: Estimate::around(out, error),
                most_out: 0.5,
            })
            .unwrap()
        };
        let fine = at(200.0, 0.2, 0.1);
        assert_eq!(fine.work, Work::Working);
        near(fine.taken_out.unwrap(), 0.999, 1e-12);
        assert_eq!(at(200.0, 0.45, 0.1).work, Work::CannotTell);
        assert_eq!(at(200.0, 5.0, 0.1).work, Work::Slipping);
        assert_eq!(at(200.0, 200.0, 0.1).work, Work::NotTreating);
        assert_eq!(at(0.0, 0.0, 0.0).taken_out, None);
        assert_eq!(at(2e-308, 1_957.0, 0.0).taken_out, None);
    }

    /// By hand: 1000 g of CaCO3 at 250 mg/l are 4000 l.
    #[test]
    fn litres_until_regeneration() {
        near(litres_left(1_000.0, 250.0, 1_500.0).unwrap(), 2_500.0, 1e-9);
        assert_eq!(litres_left(1_000.0, 250.0, 5_000.0), Ok(0.0));
        assert_eq!(litres_left(f64::NAN, 250.0, 0.0).unwrap_err().field, "capacity_g");
        assert_eq!(litres_left(1_000.0, 0.0, 0.0).unwrap_err().field, "hardness_mg_l");
    }
}

mod anything_at_all {
    use super::*;

    /// Any number there is, and often one that is nearly right.
    fn number() -> impl Strategy<Value = f64> {
        prop_oneof![any::<f64>(), proptest::num::f64::ANY, 0.0..5_000.0f64, Just(0.0), Just(25.0)]
    }

    fn estimate() -> impl Strategy<Value = Estimate> {
        prop_oneof![
            number().prop_map(Estimate::exact),
            (number(), number()).prop_map(|(value, error)| Estimate::around(value, error)),
            (number(), number(), number()).prop_map(|(value, low, high)| Estimate { value, low, high }),
        ]
    }

    fn told(e: Estimate) -> bool {
        e.low.is_finite() && e.value.is_finite() && e.high.is_finite() && e.low <= e.value && e.value <= e.high
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(2_000))]

        /// An answer is a number or an error, never a NaN, an infinity or a panic.
        #[test]
        fn an_answer_is_a_number_or_an_error(
            a in number(), b in number(), c in number(), d in number(), e in number(), f in number(),
            one in estimate(), other in estimate(), parts in any::<u8>(), asked in any::<u8>(),
        ) {
            let sample = Sample { us_cm: a, error_us_cm: b, celsius: c, error_k: d };
            if let Ok(got) = solids(sample, Conversion { percent_per_k: e, mg_l_per_us_cm: f }) {
                prop_assert!(told(got.us_cm_25) && told(got.mg_l));
            }
            if let Ok(got) = coefficient((a, b), (c, d)) { prop_assert!(got.is_finite()); }
            if let Ok(got) = Cycles::of(a, b) {
                prop_assert!(got.of_steam().get().is_finite() && got.of_feed().get() < 1.0);
            }
            let product = Product { strength: c, measure: Some(Measure { grams: d, parts }) };
            let request = Request { reading_mg_l: one, target_mg_l: a, litres: other, product };
            if let Ok(Dose::Add { grams, measured: Some(m) }) = dose(&request) {
                prop_assert!(told(grams) && m.measures.is_finite() && m.grams.is_finite() && m.reaches_mg_l.is_finite());
            }
            let level = GlassReading { mm: b, error_mm: c };
            let task = Task { solids_mg_l: one, feed_mg_l: d, target_mg_l: e, level, lower_mark_mm: f };
            for advice in [in_rounds(&task, asked, |mm| Some(a + mm)), fewest_rounds(&task, |mm| Some(3_000.0 + mm * d))] {
                if let Ok(Advice::Blow(got)) = advice {
                    prop_assert!(told(got.reaches_mg_l) && got.stop_mm >= f && (0.0..=1.0).contains(&got.share_each));
                }
            }
            let plant = Plant { going_in: one, coming_out: other, most_out: f };
            if let Ok(got) = check(&plant) { prop_assert!(got.taken_out.is_none_or(f64::is_finite)); }
            if let Ok(got) = litres_left(a, b, c) { prop_assert!(got.is_finite()); }
            let tests = [(a, b), (c, d), (e, f)].map(|(steam_days, value)| Test { steam_days, value });
            if let Ok(trend) = fit(&tests, Z_95) {
                prop_assert!(told(trend.slope()));
                if let Ok(Outlook::In { days, soonest, .. }) = trend.outlook(Limit::Above(a)) {
                    prop_assert!(days.is_finite() && soonest.is_finite());
                }
            }
        }
    }
}
