//! A day's sheets as a shed writes them, drawn from a seed: what the size of records is measured on.
//!
//! Each draw also adds what it is worth in bits, so that a day's ideal length is known: what a perfect code would take
//! that knows the pack, the railway's habits written down here, and nothing of the day itself.

use offshed_core::entry::{Answer, Entry, Found, Review, Shown, What};
use offshed_core::ident::{DeviceId, EngineId, EntryRef, PackHash, PersonId, SequenceId, SheetId};
use offshed_core::pack::Pack;
use offshed_core::pack::rows::{AskRow, KindRow, StepRow};
use offshed_core::stamp::{Clock, Day, Hlc, Stamp};
use offshed_core::units::{Reading, Unit};

/// Entries of one measured sheet: its opening, answers, two signatures and a review.
pub const ENTRIES: usize = 60;
/// The practice pack's preparation.
const PREPARATION: SequenceId = SequenceId(1);
/// 2026-05-02 05:00 UTC.
const MORNING: i64 = 1_777_698_000;
/// Mean seconds from one entry to the next.
const MEAN_GAP: f64 = 75.0;

/// Draws, and what they were worth.
#[derive(Clone, Debug)]
pub struct Dice {
    state: u64,
    /// Bits drawn so far.
    pub bits: f64,
}

impl Dice {
    /// The same draws for the same seed.
    pub fn new(seed: u64) -> Dice {
        Dice { state: seed, bits: 0.0 }
    }

    /// SplitMix64 (Steele, Lea, Flood 2014, "Fast splittable pseudorandom number generators", figure 17).
    fn next(&mut self) -> u64 {
        self.state = self.state.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.state;
        z = (z ^ z >> 30).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ z >> 27).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ z >> 31
    }

    fn share(&mut self) -> f64 {
        (self.next() >> 11) as f64 / (1u64 << 53) as f64
    }

    /// One of `n`, each as likely.
    pub fn of(&mut self, n: u64) -> u64 {
        self.bits += (n as f64).log2();
        (self.share() * n as f64) as u64
    }

    /// True in so many cases of one.
    pub fn chance(&mut self, share: f64) -> bool {
        let hit = self.share() < share;
        self.bits -= if hit { share.log2() } else { (1.0 - share).log2() };
        hit
    }

    /// Whole seconds, at least one, of this mean: a geometric distribution.
    fn gap(&mut self, mean: f64) -> i64 {
        let stay = 1.0 - 1.0 / mean;
        let more = (self.share().max(1e-12).ln() / stay.ln()) as i64;
        self.bits -= more as f64 * stay.log2() + (1.0 - stay).log2();
        1 + more
    }
}

/// One sheet being worked.
struct Work<'d> {
    dice: &'d mut Dice,
    device: DeviceId,
    sheet: SheetId,
    hash: PackHash,
    now: i64,
    hlc: Hlc,
    crew: [u16; 3],
    who: usize,
    /// Where the glasses stand, thousandths of a millimetre.
    glass: i32,
    /// Thousandths of a pound-force per square inch.
    pressure: i32,
    entries: Vec<Entry>,
}

/// The preparation of one engine from its opening to its review, [`ENTRIES`] entries, the first of count `first`.
pub fn sheet(dice: &mut Dice, pack: &Pack<'_>, device: DeviceId, first: u32) -> Vec<Entry> {
    let engine = EngineId(1 + dice.of(40) as u16);
    let crew = [11, 21, 31].map(|base| base + dice.of(10) as u16);
    let now = MORNING + dice.of(7_200) as i64;
    let sheet = EntryRef { device, seq: first };
    let (glass, pressure) = (5_000 * (8 + dice.of(20) as i32), 5_000 * dice.of(8) as i32);
    let (hash, hlc, entries) = (pack.hash(), Hlc::default(), Vec::new());
    let mut work = Work { dice, device, sheet, hash, now, hlc, crew, who: 1, glass, pressure, entries };
    work.put(first, 21, What::SheetOpened { engine, sequence: PREPARATION, pack: pack.hash() });
    for step in chosen(work.dice, pack) {
        work.step(pack, &step);
    }
    work.entries
}

/// Steps up to the review that come to the right number of entries: those of fittings that the engine lacks are left
/// out by lot. What follows the review goes into the next block, with the opening of the next sheet.
fn chosen(dice: &mut Dice, pack: &Pack<'_>) -> Vec<StepRow> {
    let mut steps: Vec<StepRow> =
        pack.steps(PREPARATION).filter(|s| !matches!(s.kind, KindRow::Figure { .. })).collect();
    let review = steps.iter().position(|step| step.kind == KindRow::Signature { review: true });
    steps.truncate(review.map_or(steps.len(), |at| at + 1));
    let weight = |step: &StepRow| match step.kind {
        KindRow::Procedure { parts } => pack.parts(parts).count(),
        KindRow::Timed { .. } => 2,
        _ => 1,
    };
    let mut have = 1 + steps.iter().map(weight).sum::<usize>();
    while have > ENTRIES {
        let at = dice.of(steps.len() as u64) as usize;
        let left_out = weight(&steps[at]);
        if !matches!(steps[at].kind, KindRow::Signature { .. }) && have >= ENTRIES + left_out {
            have -= left_out;
            steps.remove(at);
        }
    }
    steps
}

impl Work<'_> {
    fn put(&mut self, seq: u32, person: u16, what: What) {
        self.hlc = self.hlc.tick(Stamp(self.now));
        let at = EntryRef { device: self.device, seq };
        let (stamp, person) = (Stamp(self.now), PersonId(person));
        self.entries.push(Entry { at, hlc: self.hlc, stamp, clock: Clock::Good, person, what });
    }

    fn answer(&mut self, step: &StepRow, answer: Answer, over: Option<EntryRef>) {
        self.now += self.dice.gap(MEAN_GAP);
        if self.dice.chance(0.12) {
            self.who = (self.who + 1 + self.dice.of(2) as usize) % self.crew.len();
        }
        let seq = self.sheet.seq + self.entries.len() as u32;
        let person = if matches!(answer, Answer::Reviewed { .. }) { 1 } else { self.crew[self.who] };
        let what = What::Answered { sheet: self.sheet, step: step.id, answer, done_at: None, with: None, over };
        self.put(seq, person, what);
    }

    fn last(&self) -> EntryRef {
        EntryRef { device: self.device, seq: self.sheet.seq + self.entries.len() as u32 - 1 }
    }

    fn step(&mut self, pack: &Pack<'_>, step: &StepRow) {
        match step.kind {
            KindRow::Procedure { parts } => {
                for (n, part) in pack.parts(parts).enumerate() {
                    let found = self.part(part.ask);
                    let over = (n > 0).then(|| self.last());
                    self.answer(step, Answer::Part { part: n as u8, found }, over);
                }
            }
            KindRow::Timed { unit, .. } => {
                let reading = unit.map(|unit| self.reading(unit));
                self.answer(step, Answer::Began(reading), None);
                let reading = unit.map(|unit| self.reading(unit));
                let tenths = 3_000 + 10 * self.dice.of(30) as u32;
                self.now += i64::from(tenths / 10);
                let over = Some(self.last());
                self.answer(step, Answer::Ended { tenths, reading }, over);
            }
            _ => {
                let answer = self.whole(step);
                self.answer(step, answer, None);
            }
        }
    }

    fn whole(&mut self, step: &StepRow) -> Answer {
        match step.kind {
            KindRow::Reading { unit, .. } => Answer::Reading(self.reading(unit)),
            KindRow::Identity { .. } => {
                let number = format!("HV {:04}", self.dice.of(10_000));
                Answer::Number(number.as_str().try_into().expect("a short number"))
            }
            KindRow::Choice { .. } => Answer::Choice(self.dice.of(3) as u8),
            KindRow::Due { .. } => {
                let done_on = Day((self.now / 86_400) as i32 - self.dice.of(60) as i32);
                let (last_day, steam_days) = (Some(Day(done_on.0 + 60)), self.dice.of(28) as u32);
                let steam_days_left = Some(28 - steam_days as i32);
                Answer::Accepted(Shown::Date { done_on, steam_days, last_day, steam_days_left })
            }
            KindRow::Signature { review: true } => {
                let seen = [self.last()].into_iter().collect();
                Answer::Reviewed { outcome: Review::Accepted, words: Default::default(), seen }
            }
            KindRow::Signature { review: false } => {
                Answer::Signed { pack: self.hash, seen: [self.last()].into_iter().collect() }
            }
            _ => Answer::Done,
        }
    }

    fn part(&mut self, ask: AskRow) -> Found {
        match ask {
            AskRow::Seen => Found::Seen,
            AskRow::Reading { unit, .. } | AskRow::Same { unit, .. } | AskRow::Rise { unit, .. } => {
                Found::Reading(self.reading(unit))
            }
            AskRow::Time { .. } => Found::Time { tenths: 10 + self.dice.of(50) as u32 },
        }
    }

    /// A reading as it is read off, to the nearest five: the glasses stay near each other, the pressure rises as steam
    /// is raised; all else is one of a hundred values.
    fn reading(&mut self, unit: Unit) -> Reading {
        let grain = [1_000, 100, 10][usize::from(unit.digits()).min(2)];
        let milli = match unit {
            Unit::GlassMm => self.glass + 5_000 * (self.dice.of(5) as i32 - 2),
            Unit::Psi => {
                self.pressure += 5_000 * self.dice.of(6) as i32;
                self.pressure
            }
            _ => grain * (1 + self.dice.of(100) as i32),
        };
        Reading { milli, unit }
    }
}

/// The runs of a sheet that are sealed together: up to each signature or review.
pub fn sealed(sheet: &[Entry]) -> impl Iterator<Item = &[Entry]> {
    sheet.split_inclusive(|entry| {
        let What::Answered { answer, .. } = &entry.what else { return false };
        matches!(answer, Answer::Signed { .. } | Answer::Reviewed { .. })
    })
}

/// Looks at a compiled pack.
///
/// # Panics
/// When it is none.
pub fn with_pack<R>(bytes: &[u8], look: impl FnOnce(&Pack<'_>) -> R) -> R {
    let hash = offshed_depot::folder::pack_hash(bytes);
    let pack = Pack::check(bytes, hash).expect("a compiled pack");

    look(&pack)
}
