//! What the simulator runs: a program over a roster file, or a handheld over a flash memory that takes a card.

use std::cell::RefCell;
use std::error::Error;
use std::path::{Path, PathBuf};

use embedded_graphics::Drawable;
use embedded_graphics::prelude::Size;
use offshed_core::desk::Desk;
use offshed_core::ident::TextId;
use offshed_core::pack::{Pack, SliceTexts};
use offshed_core::record::shift::Part;
use offshed_depot::packfile::PackFile;
use offshed_handheld::card::report::CardReport;
use offshed_handheld::card::{Bytes, NoCard};
use offshed_handheld::hand::{Hand, Journal, Moment, Pins};
use offshed_handheld::keys::{Event, Key, Keys};
use offshed_handheld::program::{Program, turn};
use offshed_handheld::screens::Card as CardScreen;
use offshed_handheld::store::{FlashPins, Identity, MountFault, NorStore, provision};

use crate::card_dir::CardDir;
use crate::device::Simulated;
use crate::nor::SimFlash;
use crate::picture::Canvas;

/// Something that has buttons and a display.
pub(crate) trait Machine {
    /// Looks at the buttons and acts.
    fn turn(&mut self, hand: &mut Simulated, keys: Keys) -> Result<Keys, Box<dyn Error>>;

    /// Draws what is at hand.
    fn draw(&self, display: &mut Canvas, at: Moment);

    /// Whether what is shown changes with time alone.
    fn is_live(&self) -> bool;

    /// What is said at the end.
    fn farewell(&self) -> String;
}

/// Pages of a flash image that is made: one MiB.
const PAGES: usize = 256;

type Flash = SimFlash<1>;
type OnFlash = Program<'static, SliceTexts<'static>, NorStore<'static, Flash>, FlashPins<'static, Flash>>;

/// A handheld over a flash image.
pub(crate) struct Handheld {
    flash: &'static RefCell<Flash>,
    card: Option<PathBuf>,
    size: Size,
    /// `None`: there is no shift file yet.
    program: Option<Box<OnFlash>>,
    report: Option<CardReport>,
    begun: u32,
}

/// What is said where there is no shift file yet.
const WAITING: &str = "There is no shift file here yet. Put the office's card in and press select";

impl Handheld {
    /// The handheld of an image; set up anew where the image is new.
    pub(crate) fn open(image: &Path, card: Option<PathBuf>, size: Size) -> Result<Handheld, Box<dyn Error>> {
        let flash = Flash::in_file(image, PAGES).map_err(|fault| format!("{}: {fault}", image.display()))?;
        // Both live as long as the simulator.
        let flash: &'static RefCell<Flash> = Box::leak(Box::new(RefCell::new(flash)));
        if let Err(MountFault::Blank) = NorStore::mount(flash) {
            let mut drawn = [0; 40];
            getrandom::fill(&mut drawn)?;
            let (device, seed) = drawn.split_at(8);
            let device = offshed_core::ident::DeviceId(device.try_into()?);
            provision(flash, &Identity { device, seed: seed.try_into()? }).map_err(|fault| format!("{fault:?}"))?;
        }
        let begun = mount(flash)?.last();
        Ok(Handheld { flash, card, size, program: None, report: None, begun })
    }

    /// Starts the program, where there is a shift file.
    pub(crate) fn start(&mut self, at: Moment) -> Result<(), Box<dyn Error>> {
        let store = mount(self.flash)?;
        let Some(pack) = pack(&store)? else {
            self.program = None;
            return Ok(());
        };
        // A pack lives as long as the simulator.
        let file: &'static PackFile = Box::leak(Box::new(pack));
        let rules: &'static Pack<'static> = Box::leak(Box::new(file.pack()));
        let texts: &'static SliceTexts<'static> = Box::leak(Box::new(file.texts()));
        let pins = store.pins();
        let desk = Desk::new(store.device(), store.last(), store.clock(), store);
        let mut program = Program::new(rules, texts, desk, pins, self.size, at).with_card();
        if let Some(report) = self.report.take() {
            program.tell_card(report);
        }
        self.program = Some(Box::new(program));
        Ok(())
    }

    /// As of when the shift file was written; `None` where there is none.
    pub(crate) fn stated(&self) -> Result<Option<offshed_core::stamp::Stamp>, Box<dyn Error>> {
        Ok(mount(self.flash)?.shift().map(|slot| slot.head().stated))
    }

    /// Local time as the records state it.
    pub(crate) fn zone(&self) -> Result<offshed_core::stamp::Zone, Box<dyn Error>> {
        Ok(crate::zone(&mount(self.flash)?))
    }

    /// Looks at the card.
    pub(crate) fn exchange(&mut self) -> Result<(), Box<dyn Error>> {
        self.program = None;
        let mut store = mount(self.flash)?;
        self.report = Some(match &self.card {
            Some(path) => store.exchange(&mut CardDir::new(path), None),
            None => store.exchange(&mut NoCard, None),
        });
        Ok(())
    }
}

fn mount(flash: &'static RefCell<Flash>) -> Result<NorStore<'static, Flash>, Box<dyn Error>> {
    NorStore::mount(flash).map_err(|fault| format!("the flash image can't be used: {fault:?}").into())
}

/// The pack in the shift file.
fn pack(store: &NorStore<'static, Flash>) -> Result<Option<PackFile>, Box<dyn Error>> {
    let Some(slot) = store.shift() else { return Ok(None) };
    let (at, length) = slot.head().part(Part::Pack);
    let mut bytes = vec![0; length as usize];
    if !slot.read(at, &mut bytes) {
        return Err("the pack in the flash image can't be read".into());
    }
    Ok(Some(PackFile::from_bytes(bytes)?))
}

impl Machine for Handheld {
    fn turn(&mut self, hand: &mut Simulated, keys: Keys) -> Result<Keys, Box<dyn Error>> {
        let asked = match &mut self.program {
            Some(program) => {
                let keys = turn(program.as_mut(), hand, keys)?;
                (keys, program.card_asked())
            }
            None => {
                let at = hand.moment();
                let (keys, event) = keys.look(hand.contacts, at.ms);
                (keys, event == Some(Event::Press(Key::Select)))
            }
        };
        let (keys, asked) = asked;
        if asked {
            self.exchange()?;
            let at = hand.moment();
            self.start(at)?;
            self.draw(&mut hand.display, at);
        }
        Ok(keys)
    }

    fn draw(&self, display: &mut Canvas, at: Moment) {
        if let Some(program) = &self.program {
            let Ok(_) = program.draw(display, at);
            return;
        }
        let words = self.report.map_or_else(|| WAITING.to_owned(), |report| report.to_string());
        let (texts, foot) = (SliceTexts::default(), "select: look at the card");
        let screen =
            CardScreen { texts: &texts, title: "No shift file", words: &words, text: TextId::NONE, foot, skip: 0 };
        let Ok(_) = screen.draw(display);
    }

    fn is_live(&self) -> bool {
        self.program.as_ref().is_some_and(|program| program.is_live())
    }

    fn farewell(&self) -> String {
        let store = match &self.program {
            Some(program) => Some((program.journal().device(), program.journal().key(), program.journal().last())),
            None => mount(self.flash).ok().map(|store| (store.device(), store.key(), store.last())),
        };
        let told = |(device, key, last)| format!("device {device}, key {key}: {} entries written", last - self.begun);
        store.map_or_else(String::new, told)
    }
}

/// A program over a roster file.
pub(crate) struct Plain<'a, J, P> {
    pub(crate) program: Program<'a, SliceTexts<'a>, J, P>,
    pub(crate) written: fn(&J) -> usize,
    pub(crate) before: usize,
}

impl<J: Journal, P: Pins> Machine for Plain<'_, J, P> {
    fn turn(&mut self, hand: &mut Simulated, keys: Keys) -> Result<Keys, Box<dyn Error>> {
        Ok(turn(&mut self.program, hand, keys)?)
    }

    fn draw(&self, display: &mut Canvas, at: Moment) {
        let Ok(_) = self.program.draw(display, at);
    }

    fn is_live(&self) -> bool {
        self.program.is_live()
    }

    fn farewell(&self) -> String {
        format!("{} entries written", (self.written)(self.program.journal()) - self.before)
    }
}
