//! Each interlock of the practice pack, tried to be got round. Every day is a script; a row that names a reason in its
//! last column must be refused for it. The rules are common practice, no source, where no publication is named.

use offshed_tests::{TO_THE_FEEDS, TO_THE_REVIEW, day};

const COLD: &str = "\
03:00,,21,4,open,preparation,,,p
,,,p,choose,found,1
";

/// A warm engine worked up to steady pressure, before its glasses are proven.
const IN_STEAM: &str = "\
05:00,,21,4,open,preparation,,,p
,,,p,choose,found,2
,,,,work,date-plugs,5 s
05:20,,,,work,fire-ready,5 s,31
05:30,,,,work,open-fire,5 s
06:00,,,,work,pressure-2,5 s
";

const READY_TO_LIGHT: &str = "\
03:10,,,,work,date-plugs,5 s
03:40,,,,work,fire-ready,5 s,31
";

// ---- Lighting up ----

#[test]
fn no_fire_before_water_plugs_seals_and_dates_were_seen() {
    day(&[
        COLD,
        ",,,,done,light-up,,,,,needs-first
         ,,,,work,secured,5 s
         ,,,,done,light-up,,,,,needs-first
         ,,,,done,fire-ready,,,,,needs-first
         ,,,,work,crown,5 s
         ,,,,done,fire-ready,,,,,needs-first
         ,,,,work,date-annual,5 s
         ,,,,done,fire-ready,,,,,needs-first
         ,,,,work,fire-ready,5 s,31
         ,,,,done,light-up
        ",
    ]);
}

#[test]
fn no_fire_under_a_glass_that_was_not_seen_to_refill_or_is_too_full() {
    // Hot water fills more: 1.13 times from 20 °C to 184 °C, so that a cold boiler has an upper limit too.
    day(&[
        COLD,
        READY_TO_LIGHT,
        "03:50,,,,strike,glass-left-refill,,,,read on the wrong engine
         ,,,,done,light-up,,,,,needs-first
         ,,,,part,glass-left-refill,1 150 mm
         ,,,,part,glass-left-refill,2 150 mm
         ,,,,done,light-up,,,,,high
         ,,,,part,glass-left-refill,1 20 mm
         ,,,,part,glass-left-refill,2 20 mm
         ,,,,done,light-up,,,,,low
         ,,,,part,glass-left-refill,1 70 mm
         ,,,,part,glass-left-refill,2 72 mm
         ,,,,done,light-up
        ",
    ]);
}

#[test]
fn no_fire_on_an_engine_that_is_not_secured_has_a_tag_or_a_stopping_defect() {
    day(&[
        COLD,
        READY_TO_LIGHT,
        "03:50,,21,4,event,scotches-out
         ,,,p,done,light-up,,,,,state-wanted
         ,,,,done,secured
         ,,42,4,tag
         ,,21,p,done,light-up,,,,,tag-held
         ,,21,4,untag,,,,,,no-tag-of-theirs
         ,,42,4,untag
         ,,22,4,defect,,stopping,,leak,Weeping stay
         ,,21,p,done,light-up,,,,,defect-stopping
         ,,22,4,clear,leak,fitter,,,looked at it,not-in-grade
         ,,42,4,clear,leak,boilersmith,,,Caulked
         ,,21,p,done,light-up
        ",
    ]);
}

#[test]
fn a_seal_with_another_number_is_no_seal() {
    day(&[
        COLD,
        "03:10,,,,work,ashpan,5 s
         ,,,,number,seal-front,HV 9999
         ,,,,work,date-plugs,5 s
         ,,,,work,fire-ready,5 s,31
        ",
        ",,,,done,fire-ready,,,,,not-right
         ,,,,number,seal-front,hv 1041
         ,,,,done,fire-ready,,,,,
        ",
    ]);
}

#[test]
fn a_fire_is_never_left_alone() {
    day(&[
        COLD,
        "03:10,,,,work,date-plugs,5 s
         ,,,,work,chimney,5 s
         ,,,,done,attendant,,,,,nobody-with
         ,,,,done,attendant,,21,,,with-oneself
         ,,,,done,fire-ready,,,,,needs-first
         ,,,,done,attendant,,31
         ,,,,done,fire-ready
        ",
    ]);
}

#[test]
fn steam_is_not_raised_faster_than_three_hours_from_cold() {
    day(&[
        COLD,
        READY_TO_LIGHT,
        "04:00,,,,done,light-up
         06:59:59,,,,reading,pressure-1,8 psi,,,,too-soon
         07:00:00,,,,reading,pressure-1,8 psi
        ",
    ]);
}

// ---- Blower, glasses, feeds ----

#[test]
fn the_firehole_waits_for_the_blower() {
    day(&[
        COLD,
        READY_TO_LIGHT,
        "04:00,,,,done,light-up
         07:00,,,,reading,pressure-1,8 psi
         ,,,,done,fire-built,,,,,needs-first
         ,,,,done,blower
         ,,,4,event,blower-shut
         ,,,p,done,fire-built,,,,,state-wanted
         ,,,,done,blower
         ,,,,done,fire-built
        ",
    ]);
}

#[test]
fn no_part_of_a_blow_through_is_skipped_repeated_or_done_out_of_order() {
    day(&[
        IN_STEAM,
        "         06:10,,,,part,glass-left,2 95 mm,,,,part-order
         ,,,,done,glass-left,,,,,wrong-kind
         ,,,,part,glass-left,1 seen
         ,,,,part,glass-left,3 seen,,,,part-order
         ,,,,part,glass-left,9 95 mm,,,,part-order
         ,,,,part,glass-left,2 95 mm
         ,,,,part,glass-left,2 95 mm,,,,part-order
         ,,,,part,glass-left,3 seen
         ,,,,part,glass-left,4 seen
         ,,,,part,glass-left,5 1.0 s
         ,,,,part,glass-left,6 seen
         ,,,,part,glass-left,7 seen
         ,,,,done,trial-move,,,,,not-in-grade
         ,,,,part,glass-left,8 0.9 s
         ,,,,part,glass-left,9 100 mm
        ",
    ]);
}

#[test]
fn a_slow_return_fails_the_glass_and_the_feeds_wait() {
    let day = day(&[
        IN_STEAM,
        "         06:10,,,,part,glass-left,1 seen
         ,,,,part,glass-left,2 95 mm
         ,,,,part,glass-left,3 seen
         ,,,,part,glass-left,4 seen
         ,,,,part,glass-left,5 3.1 s
         06:12,,,,work,glass-right,5 s
         06:15,,,,part,feed-early,1 95 mm,,,,not-right
        ",
    ]);
    let open = day.ledger.defects().count();
    assert_eq!(open, 1, "a failed check opens its defect by itself");
}

#[test]
fn feeds_need_a_proven_glass_and_enough_rise() {
    day(&[
        IN_STEAM,
        "         06:02,,,,part,feed-early,1 95 mm,,,,needs-first
         06:03,,,,work,pressure-proof,5 s
         06:20,,,,part,feed-1,1 95 mm,,,,needs-first
         06:21,,,,work,glass-right-ready,5 s
         06:30,,,,part,feed-1,1 150 mm
         06:31,,,,part,feed-1,1 95 mm
         ,,,,part,feed-1,2 seen
         ,,,,part,feed-1,3 seen
         ,,,,part,feed-1,4 59.9 s
         06:33,,,,part,feed-1,1 95 mm
         ,,,,part,feed-1,2 seen
         ,,,,part,feed-1,3 seen
         ,,,,part,feed-1,4 90 s
         ,,,,part,feed-1,5 109 mm
         ,,,,part,feed-1,6 seen,,,,part-order
         06:36,,,,part,feed-1,1 95 mm
         ,,,,part,feed-1,2 seen
         ,,,,part,feed-1,3 seen
         ,,,,part,feed-1,4 90 s
         ,,,,part,feed-1,5 110 mm
         ,,,,part,feed-1,6 seen
        ",
    ]);
}

// ---- Moving ----

#[test]
fn nothing_moves_with_a_tag_held_or_a_glass_or_brake_unproven() {
    day(&[
        TO_THE_FEEDS,
        "07:00,,21,p,work,regulator-tight,5 s
         07:10,,42,4,tag
         ,,11,p,done,clear-to-move,,,,,tag-held
         ,,42,4,untag
         ,,11,p,done,clear-to-move
         ,,42,4,tag
         ,,11,p,done,trial-move,,,,,tag-held
         ,,42,4,untag
         ,,21,4,event,glass-renewed-right
         ,,11,p,done,trial-move,,,,,voided
         ,,21,,work,glass-right-ready,5 s
         ,,,4,event,uncoupled
         ,,11,p,done,trial-move,,,,,voided
         ,,21,,done,vacuum-hold,,,,,lapsed
         ,,,,begin,vacuum-hold,21 inHg,,,,lapsed
         ,,,,reading,vacuum-created,21 inHg
         ,,,,work,vacuum-hold,5 s
         ,,11,,done,clear-to-move
         ,,11,,done,trial-move
        ",
    ]);
}

#[test]
fn clear_to_move_holds_for_ten_minutes() {
    day(&[
        TO_THE_FEEDS,
        "07:00,,21,p,work,regulator-tight,5 s
         07:10:00,,11,p,done,clear-to-move
         07:20:00,,,,done,trial-move,,,,,lapsed
         07:20:01,,,,done,clear-to-move
         07:30:00,,,,done,trial-move
        ",
    ]);
}

// ---- Signatures ----

#[test]
fn fireman_and_driver_are_two_and_the_reviewer_is_a_third() {
    day(&[
        TO_THE_FEEDS,
        "07:00,,21,p,work,regulator-tight,5 s
         07:15,,11,,work,running-brake,5 s
         07:30,,21,,work,level-final,5 s
         07:38,,31,,sign,fireman-signs,,,,,not-in-grade
         ,,11,,sign,fireman-signs
         ,,11,,sign,driver-signs,,,,,same-person
         ,,21,,sign,driver-signs,,,,,not-in-grade
         ,,1,,review,review,accepted,,,,needs-first
         ,,12,,sign,driver-signs
         ,,12,,review,review,accepted,,,,not-in-grade
         ,office,1,,grade,12,foreman,,,no end
         ,,12,p,review,review,accepted,,,,on-this-sheet
         ,,1,,review,review,accepted
        ",
    ]);
}

#[test]
fn a_grade_counts_through_its_last_day() {
    day(&[
        TO_THE_FEEDS,
        "07:00,,21,p,work,regulator-tight,5 s
         07:15,,11,,work,running-brake,5 s
         07:30,,21,,work,level-final,5 s
         07:38,,1,,grade,21,fireman,,,2026-05-01
         ,,21,p,sign,fireman-signs,,,,,grade-lapsed
         ,,1,,grade,21,fireman,,,2026-05-02
         ,,21,p,sign,fireman-signs
        ",
    ]);
}

#[test]
fn the_last_reading_is_fresh_at_the_second() {
    // Life of the final level: 15 minutes (common practice, from memory).
    day(&[
        TO_THE_FEEDS,
        "07:00,,21,p,work,regulator-tight,5 s
         07:15,,11,,work,running-brake,5 s
         07:29,,21,,work,pressure-ready,5 s
         07:30:00,,21,,reading,level-final,150 mm
         07:38:00,,,,sign,fireman-signs
         07:44:59,,11,,sign,driver-signs
        ",
    ]);
    day(&[
        TO_THE_FEEDS,
        "07:00,,21,p,work,regulator-tight,5 s
         07:15,,11,,work,running-brake,5 s
         07:29,,21,,work,pressure-ready,5 s
         07:30:00,,21,,reading,level-final,150 mm
         07:38:00,,,,sign,fireman-signs
         07:45:00,,11,,sign,driver-signs,,,,,lapsed
        ",
    ]);
}

#[test]
fn a_review_that_sends_back_takes_the_signatures_away() {
    let day = day(&[
        TO_THE_FEEDS,
        TO_THE_REVIEW,
        "07:41,,1,,review,review,sent-back,,,,words-missing
         ,,,,review,review,sent-back,,,Who saw the right glass?
         ,,11,,done,off-shed,,,,,not-right
         ,,1,,review,review,accepted,,,,voided
        ",
    ]);
    assert_eq!(offshed_tests::keys(&day.fitness(4, "2026-05-02 07:42"))[0], "needs-first");
}

// ---- Disposal ----

/// Engine 4 comes on shed and is secured over the pit.
const OVER_THE_PIT: &str = "\
12:00,,11,4,open,disposal,,,d
,,,d,done,on-shed
";

#[test]
fn the_blower_is_on_before_the_regulator_shuts_and_off_only_when_the_fire_is_dealt_with() {
    day(&[
        TO_THE_FEEDS,
        OVER_THE_PIT,
        "12:01,,21,4,event,blower-shut
         ,,11,d,done,regulator-shut,,,,,state-wanted
         ,,21,,done,disposal-blower
         ,,11,,done,regulator-shut
         12:02,,11,,work,disposal-pressure,5 s
         12:20,,21,,work,disposal-feed-2,5 s
         12:30,,21,,work,pit-clear,5 s,22
         12:31,,,4,event,blower-shut
         ,,,d,done,fire-cleaned,,,,,state-wanted
         ,,,,done,fire-out,,,,,state-wanted
         ,,,,done,disposal-blower
         ,,,,done,blower-off,,,,,needs-first
         ,,,,done,fire-cleaned
         ,,,,done,fire-out
         ,,,,choose,fire-state,1
         ,,,,done,blower-off,,,,,needs-first
         ,,,,done,disposal-plugs
         ,,,,work,dampers-shut,5 s
         ,,,,done,blower-off
        ",
    ]);
}

#[test]
fn the_fire_is_not_dropped_before_the_boiler_is_filled() {
    day(&[
        TO_THE_FEEDS,
        OVER_THE_PIT,
        "12:01,,21,d,done,disposal-blower
         12:02,,11,,work,felt-hot,5 s
         12:05,,21,,work,disposal-pressure,5 s
         ,,,,done,pit-clear
         ,,,,done,fire-out,,,,,needs-first
         ,,,,done,fire-banked,,,,,needs-first
         ,,,,reading,disposal-fill,150 mm,,,,needs-first
         12:20,,,,work,disposal-feed-2,5 s
         ,,,,reading,disposal-fill,60 mm
         ,,,,done,feeds-shut,,,,,not-right
         ,,,,reading,disposal-fill,150 mm
         ,,,,done,feeds-shut
         ,,,,done,fire-out
        ",
    ]);
}

#[test]
fn blowdown_wants_a_second_person_water_enough_and_both_feeds() {
    day(&[
        TO_THE_FEEDS,
        OVER_THE_PIT,
        "12:01,,21,d,done,disposal-blower
         12:02,,11,,work,felt-hot,5 s
         12:05,,21,,work,disposal-pressure,5 s
         ,,,,reading,blowdown-level,150 mm
         ,,,,done,blowdown-clear
         ,,,,done,blowdown,,22,,,needs-first
         ,,,,work,disposal-feed-2,5 s
         ,,,,reading,blowdown-level,100 mm
         ,,,,done,blowdown-clear
         ,,,,done,blowdown,,22,,,not-right
         ,,,,reading,blowdown-level,150 mm
         ,,,,done,blowdown,,,,,nobody-with
         ,,,,done,blowdown,,21,,,with-oneself
         ,,,,done,blowdown,,31,,,not-in-grade
         ,,42,4,tag
         ,,21,d,done,blowdown,,22,,,tag-held
         ,,42,4,untag
         ,,21,d,done,blowdown,,22
        ",
    ]);
}

#[test]
fn the_smokebox_stays_shut_while_blower_or_dampers_are_open() {
    day(&[
        TO_THE_FEEDS,
        OVER_THE_PIT,
        "12:01,,21,d,done,disposal-blower
         12:02,,11,,work,disposal-pressure,5 s
         12:20,,21,,work,disposal-feed-2,5 s
         12:30,,21,,work,fire-out,5 s,22
         ,,,,done,smokebox-opened,,,,,needs-first
         ,,,,choose,fire-state,1
         ,,,,work,dampers-shut,5 s
         ,,,,done,smokebox-opened,,,,,needs-first
         ,,,,done,blower-off
         ,,,4,event,scotches-out
         ,,,d,done,smokebox-opened,,,,,state-wanted
         ,,11,,done,pit-secured
         ,,21,,done,smokebox-opened
        ",
    ]);
}

// ---- Low water ----

#[test]
fn low_water_takes_every_proof_and_two_people_must_clear_it() {
    let day = day(&[
        TO_THE_FEEDS,
        TO_THE_REVIEW,
        "07:41,,31,4,event,low-water,,,,Level out of sight at the bottom
         07:42,,11,p,done,clear-to-leave,,,,,voided
         ,,11,,done,off-shed,,,,,voided
         07:50,,42,4,clear,low-water,fitter,,,no,not-in-grade
         ,,42,4,clear,low-water,boilersmith,,,Crown and stays examined
        ",
    ]);
    let after_one = day.fitness(4, "2026-05-02 07:51");
    assert!(offshed_tests::keys(&after_one).contains(&"defect-stopping"));
}
