//! The handheld: the program of `offshed_handheld` on the board, its records on the card.
#![no_std]
#![no_main]

use core::convert::Infallible;
use core::fmt::Write;
use core::panic::PanicInfo;

use cortex_m_rt::{ExceptionFrame, entry, exception};
use offshed_core::desk::Desk;
use offshed_core::record::seal::Signer;
use offshed_core::stamp::{Now, Stamp};
use offshed_guest::bench::{Asked, Bench};
use offshed_guest::board::buttons::Buttons;
use offshed_guest::board::clock::{Clock, TICK};
use offshed_guest::board::host::{self, Called};
use offshed_guest::board::oled::{Oled, SIZE};
use offshed_guest::board::sdcard::SdCard;
use offshed_guest::board::wire::Wire;
use offshed_guest::stack::Gauge;
use offshed_guest::{board, rules};
use offshed_handheld::hand::{Hand, Moment};
use offshed_handheld::keys::{Contacts, Keys};
use offshed_handheld::program::{Program, turn};
use offshed_handheld::screens::show_notice;
use offshed_sd::book;
use offshed_sd::fault::CardFault;
use offshed_sd::journal::{Card, CardJournal};
use offshed_sd::pins::CardPins;
use offshed_sd::words::CardTexts;

type Handheld<'a> = Program<'a, CardTexts<SdCard>, CardJournal<'a, SdCard>, CardPins<'a, SdCard>>;

/// The device: its clock, its buttons or the bench's, its display.
struct Device {
    clock: Clock,
    start: Stamp,
    buttons: Buttons,
    bench: Option<Bench>,
    display: Oled,
}

impl Hand for Device {
    type Display = Oled;

    fn moment(&self) -> Moment {
        let ms = self.clock.ms();
        let seconds = i64::try_from(ms / 1_000).unwrap_or(i64::MAX);
        Moment { now: Now::good(self.start.plus(seconds)), ms }
    }

    fn contacts(&mut self) -> Contacts {
        let pressed = self.buttons.look();
        self.bench.as_ref().map_or(pressed, Bench::contacts)
    }

    fn display(&mut self) -> &mut Oled {
        &mut self.display
    }
}

#[entry]
fn main() -> ! {
    let gauge = Gauge::paint();
    board::start();
    let called = Called::ask();
    let Some(core) = cortex_m::Peripherals::take() else { host::leave(false) };
    let mut device = Device {
        clock: Clock::start(core.SYST),
        start: called.time(),
        buttons: Buttons::default(),
        bench: called.has("bench").then(Bench::default),
        display: Oled::default(),
    };
    let Err(fault) = start(&mut device, &gauge);
    stop(&mut device, fault)
}

/// Looks at the card, and works until something is wrong with it.
fn start(device: &mut Device, gauge: &Gauge) -> Result<Infallible, CardFault> {
    let pack = rules::pack().ok_or(CardFault::Pack)?;
    let sd = SdCard::start().map_err(|_| CardFault::Card)?;
    let texts = CardTexts::open(sd, pack.hash(), pack.head().rules_len)?;
    let (own, signer) = book::identity(sd)?;
    let card = Card::open(sd, own, pack.hash())?;
    // What was left unsealed when the power went.
    book::seal(&card, &signer)?;
    let pins = CardPins::open(&card)?;
    let (last, clock) = card.last();
    let desk = Desk::new(own, last, clock, CardJournal::new(&card));
    let mut program = Program::unfolded(&pack, &texts, desk, pins, SIZE);
    program.fold(device.moment());
    let at = device.moment();
    let Ok(_) = program.draw(&mut device.display, at);
    device.display.show();
    let mut keys = Keys::default();
    loop {
        device.ask(&card, gauge);
        device.clock.wait();
        keys = look(&mut program, device, keys)?;
        if card.take_signed() {
            device.seal(&card, &signer)?;
        }
        if let Some(fault) = card.fault().or(texts.fault()) {
            return Err(fault);
        }
    }
}

/// One look at the buttons, and what comes of it.
fn look(program: &mut Handheld<'_>, device: &mut Device, keys: Keys) -> Result<Keys, CardFault> {
    let before = device.clock.ticks();
    let Ok(keys) = turn(program, device, keys);
    if device.bench.as_mut().is_some_and(Bench::take_draw) {
        let at = device.moment();
        let Ok(_) = program.draw(&mut device.display, at);
    }
    let shown = device.display.show();
    let took = device.clock.ticks().wrapping_sub(before);
    if let Some(bench) = &mut device.bench {
        bench.took(took, shown);
    }
    Ok(keys)
}

impl Device {
    /// Where the bench's act is over, asks it for the next while time stands still.
    fn ask(&mut self, card: &Card<SdCard>, gauge: &Gauge) {
        let Device { clock, bench, .. } = self;
        let Some(bench) = bench.as_mut().filter(|bench| bench.is_over(clock.ms())) else { return };
        clock.stopped(|| {
            while bench.next(clock.ms()) == Asked::Told {
                let log = card.log();
                let _ = writeln!(Wire, "stack {} pages {} free {}", gauge.deepest(), log.pages(), log.free());
            }
        });
    }

    fn seal(&mut self, card: &Card<SdCard>, signer: &Signer) -> Result<(), CardFault> {
        let before = self.clock.ticks();
        let (tip, entries) = book::seal(card, signer)?;
        let took = self.clock.ticks().wrapping_sub(before);
        if self.bench.is_some() {
            let instructions = u64::from(took) * u64::from(TICK);
            let _ = writeln!(
                Wire,
                "sealed {entries} blocks {} bytes {} instructions {instructions}",
                tip.blocks, tip.bytes
            );
        }
        Ok(())
    }
}

/// Shows what is wrong, for ever.
fn stop(device: &mut Device, fault: CardFault) -> ! {
    let Ok(()) = show_notice(&mut device.display, "Card", &fault, "Nothing is written. Start again");
    device.display.show();
    let _ = writeln!(Wire, "fault {fault}");
    loop {
        if let Some(bench) = &mut device.bench {
            bench.next(0);
        }
        cortex_m::asm::wfi();
    }
}

/// A fault of the program itself.
#[exception]
#[allow(unsafe_code)]
unsafe fn HardFault(_: &ExceptionFrame) -> ! {
    let _ = Wire.write_str("stopped\n");
    host::leave(false)
}

/// Nothing in the program panics; what a library does all the same ends here.
#[panic_handler]
fn panicked(_: &PanicInfo<'_>) -> ! {
    let _ = Wire.write_str("panicked\n");
    host::leave(false)
}
