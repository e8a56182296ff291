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
