//! The handheld in a window: the arrow keys and Enter are its five buttons.

use std::error::Error;
use std::num::NonZeroU32;
use std::rc::Rc;
use std::time::{Duration, Instant};

use embedded_graphics::prelude::{OriginDimensions, Point, Size};
use offshed_handheld::hand::Hand;
use offshed_handheld::keys::{Contacts, Key, Keys};
use softbuffer::{Context, Surface};
use winit::application::ApplicationHandler;
use winit::dpi::PhysicalSize;
use winit::event::{ElementState, WindowEvent};
use winit::event_loop::{ActiveEventLoop, ControlFlow, EventLoop};
use winit::keyboard::{Key as Typed, NamedKey};
use winit::window::{Window, WindowId};

use crate::device::Simulated;
use crate::machine::Machine;

/// Between two looks at the buttons while one is down, or while time is shown.
const LOOK: Duration = Duration::from_millis(10);
/// Colours of a dark dot and of a lit one: ink on a pale display.
const PAPER: u32 = 0x00d7_dccf;
const INK: u32 = 0x0017_1c17;
/// How often a dot is enlarged when the window opens.
const SCALE: u32 = 4;

/// Opens a window over a machine, until it is closed.
///
/// # Errors
/// When there is no display to open it on, or drawing fails.
pub(crate) fn open(machine: &mut dyn Machine, hand: &mut Simulated) -> Result<(), Box<dyn Error>> {
    let events = EventLoop::new()?;
    let mut shown =
        Shown { machine, hand, keys: Keys::default(), down: Vec::new(), begun: Instant::now(), on: None, failed: None };
    shown.draw();
    events.run_app(&mut shown)?;
    match shown.failed {
        Some(fault) => Err(fault),
        None => Ok(()),
    }
}

/// A window with what is drawn into it.
struct On {
    window: Rc<Window>,
    surface: Surface<Rc<Window>, Rc<Window>>,
}

struct Shown<'a> {
    machine: &'a mut dyn Machine,
    hand: &'a mut Simulated,
    keys: Keys,
    /// Keys that are down.
    down: Vec<Key>,
    begun: Instant,
    on: Option<On>,
    failed: Option<Box<dyn Error>>,
}

fn button(typed: &Typed) -> Option<Key> {
    match typed {
        Typed::Named(NamedKey::ArrowUp) => Some(Key::Up),
        Typed::Named(NamedKey::ArrowDown) => Some(Key::Down),
        Typed::Named(NamedKey::ArrowLeft) => Some(Key::Left),
        Typed::Named(NamedKey::ArrowRight) => Some(Key::Right),
        Typed::Named(NamedKey::Enter | NamedKey::Space) => Some(Key::Select),
        _ => None,
    }
}

impl Shown<'_> {
    fn draw(&mut self) {
        let at = self.hand.moment();
        self.machine.draw(&mut self.hand.display, at);
    }

    fn look(&mut self) {
        self.hand.ms = u64::try_from(self.begun.elapsed().as_millis()).unwrap_or(u64::MAX);
        self.hand.contacts = self.down.iter().fold(Contacts::OPEN, |all, key| all.with(*key));
        let before = self.hand.display.clone();
        match self.machine.turn(self.hand, self.keys) {
            Ok(keys) => self.keys = keys,
            Err(fault) => self.failed = Some(fault),
        }
        if self.hand.display != before
            && let Some(on) = &self.on
        {
            on.window.request_redraw();
        }
    }

    fn put(&mut self) -> Result<(), Box<dyn Error>> {
        let Some(on) = &mut self.on else { return Ok(()) };
        let PhysicalSize { width, height } = on.window.inner_size();
        let (Some(wide), Some(high)) = (NonZeroU32::new(width), NonZeroU32::new(height)) else { return Ok(()) };
        on.surface.resize(wide, high)?;
        let display = &self.hand.display;
        let Size { width: dots, height: lines } = display.size();
        let scale = (width / dots).min(height / lines).max(1);
        let (left, top) = (width.saturating_sub(dots * scale) / 2, height.saturating_sub(lines * scale) / 2);
        let mut buffer = on.surface.buffer_mut()?;
        for (n, colour) in (0..).zip(buffer.iter_mut()) {
            let (x, y) = ((n % width).checked_sub(left), (n / width).checked_sub(top));
            let dot = x.zip(y).map(|(x, y)| Point::new((x / scale) as i32, (y / scale) as i32));
            *colour = if dot.is_some_and(|dot| display.is_lit(dot)) { INK } else { PAPER };
        }
        buffer.present()?;
        Ok(())
    }

    fn make(&self, events: &ActiveEventLoop) -> Result<On, Box<dyn Error>> {
        let Size { width, height } = self.hand.display.size();
        let size = PhysicalSize::new(width * SCALE, height * SCALE);
        let window = Window::default_attributes().with_title("offshed handheld").with_inner_size(size);
        let window = Rc::new(events.create_window(window)?);
        let context = Context::new(window.clone())?;
        let surface = Surface::new(&context, window.clone())?;
        Ok(On { window, surface })
    }
}

impl ApplicationHandler for Shown<'_> {
    fn resumed(&mut self, events: &ActiveEventLoop) {
        match self.make(events) {
            Ok(on) => self.on = Some(on),
            Err(fault) => {
                self.failed = Some(fault);
                events.exit();
            }
        }
    }

    fn window_event(&mut self, events: &ActiveEventLoop, _: WindowId, event: WindowEvent) {
        match event {
            WindowEvent::CloseRequested => events.exit(),
            WindowEvent::Focused(false) => self.down.clear(),
            WindowEvent::KeyboardInput { event, .. } if !event.repeat => {
                if let Some(key) = button(&event.logical_key) {
                    self.down.retain(|down| *down != key);
                    if event.state == ElementState::Pressed {
                        self.down.push(key);
                    }
                }
            }
            WindowEvent::RedrawRequested => {
                if let Err(fault) = self.put() {
                    self.failed = Some(fault);
                    events.exit();
                }
            }
            _ => {}
        }
    }

    fn about_to_wait(&mut self, events: &ActiveEventLoop) {
        self.look();
        if self.failed.is_some() {
            return events.exit();
        }
        let rests = self.down.is_empty() && self.keys == Keys::default() && !self.machine.is_live();
        events.set_control_flow(if rests { ControlFlow::Wait } else { ControlFlow::WaitUntil(Instant::now() + LOOK) });
    }
}
