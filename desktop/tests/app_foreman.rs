//! The foreman's desk: a sheet that waits is read with what is unusual first and leads to its review; defects and dates
//! stand in the order that matters.

mod window;

use offshed::controllers::crew::Place;
use offshed::screen::{Scheme, Screen};
use window::{Bench, SIZES};

#[test]
fn a_reviewed_sheet_is_read_with_what_is_unusual_first() {
    let bench = Bench::new(SIZES[2], &Screen::default());
    bench.touch("Foreman");
    assert!(bench.has("No sheet waits for review"), "{:?}", bench.labels());
    bench.touch(&bench.starting("3 things unusual: No. 11"));
    let labels = bench.labels();
    let place = |start: &str| labels.iter().position(|label| label.starts_with(start)).expect(start);
    assert!(place("Unusual: 3") < place("Signatures"), "{labels:?}");
    assert!(place("Signatures") < place("Readings and figures"), "{labels:?}");
    assert!(
        bench
            .has("Axleboxes, trimmings, lubricators was answered on south and on north, neither having seen the other")
    );
    // What is reviewed already is not offered again.
    assert!(!bench.has("Review this sheet"));
    bench.touch("Back");
    assert!(bench.has("No sheet waits for review"));
}

#[test]
fn defects_and_dates_are_listed_from_what_weighs_most() {
    let bench = Bench::new(SIZES[2], &Screen::default());
    bench.touch("Foreman");
    bench.touch("Defects");
    assert!(
        bench.labels().iter().any(|label| label.ends_with("open") && label.contains("defect")),
        "{:?}",
        bench.labels()
    );
    bench.touch("Dates");
    let view = bench.app.desks(|desks| {
        let session = desks.session.as_ref().expect("the demonstration");
        desks.foreman.view(session.ledger(), session.now())
    });
    let dates: Vec<_> = view.rows.iter().filter(|row| row.kind == "date").collect();
    let out = dates.iter().take_while(|row| row.word != "in date").count();
    assert!(out > 0 && dates.iter().skip(out).all(|row| row.word == "in date"), "{dates:#?}");
    assert!(dates.iter().any(|row| (0.0..=1.0).contains(&row.share)), "{dates:#?}");
}

/// The last review of the demonstration is struck out: the sheet waits, and the page leads to where it is reviewed.
#[test]
fn a_waiting_sheet_leads_to_its_review_at_the_crew_desk() {
    let bench = Bench::new(SIZES[2], &Screen::default());
    bench.touch("Crew");
    bench.touch("Sign on");
    bench.touch("Moss Orrin");
    for digit in ["4", "7", "1", "1"] {
        bench.touch(digit);
    }
    bench.touch("OK");
    bench.touch(&bench.starting("FIT: No. 4"));
    bench.touch(&bench.starting("Open: Preparation"));
    bench.touch("All steps");
    bench.touch(&bench.starting("Done: Running foreman reviews"));
    bench.touch("Strike out this answer");
    bench.touch("Touched by mistake");
    while !bench.has("Foreman") {
        bench.touch("Back");
    }
    bench.touch("Foreman");
    assert!(bench.has("1 sheet waits for review"), "{:?}", bench.labels());
    bench.touch(&bench.starting("1 thing unusual: No. 4"));
    bench.touch("Review this sheet");
    assert_eq!(bench.app.desks(|desks| desks.shell.desk()), "crew");
    assert!(matches!(bench.app.desks(|desks| desks.crew.place()), Place::Step(..)));
    assert!(bench.has("Accept the sheet"), "{:?}", bench.labels());
}

#[test]
fn pictures_of_every_list_on_every_size() {
    for size in SIZES {
        for scheme in [Scheme::ALL[0], Scheme::ALL[1]] {
            std::thread::spawn(move || {
                let bench = Bench::new(size, &Screen { scheme, ..Screen::default() });
                let picture = |page: &str| {
                    bench.picture(&format!("foreman-{page}-{}-{}", size.name, scheme.key()));
                };
                bench.touch("Foreman");
                picture("1-sheets");
                bench.touch(&bench.starting("3 things unusual: No. 11"));
                picture("2-reading");
                bench.touch("Defects");
                picture("3-defects");
                bench.touch("Dates");
                picture("4-dates");
            })
            .join()
            .expect("the pages");
        }
    }
}
