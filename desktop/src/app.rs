//! The window with everything behind it: made without being run, so that a test can look at it and touch it.

use std::fmt;
use std::fs;
use std::path::Path;
use std::rc::Rc;

use offshed_depot::folder::FolderFault;
use slint::ComponentHandle;

use crate::adapters::Hub;
use crate::clock::Clock;
use crate::controllers::{Desks, Session};
use crate::ui::MainWindow;

/// Why there is no window.
#[derive(Debug)]
pub enum NoWindow {
    /// The data folder can't be opened.
    Folder(FolderFault),
    /// The window system gives none.
    Display(String),
}

impl fmt::Display for NoWindow {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            NoWindow::Folder(fault) => fault.fmt(f),
            NoWindow::Display(why) => f.write_str(why),
        }
    }
}

impl std::error::Error for NoWindow {}

/// A window on a data folder.
pub struct App {
    window: MainWindow,
    hub: Rc<Hub>,
}

/// Makes the window on the data folder at `path`, and runs nothing.
///
/// Where there is no folder yet, the window asks what to make. `clock` is left out for the one the folder asks for.
///
/// # Errors
/// When the folder is there and can't be opened, or no window can be made.
pub fn init(path: &Path, clock: Option<Rc<dyn Clock>>) -> Result<App, NoWindow> {
    let session = match is_unused(path) {
        true => None,
        false => Some(Session::open(path, clock.clone()).map_err(NoWindow::Folder)?),
    };
    let window = MainWindow::new().map_err(|error| NoWindow::Display(error.to_string()))?;
    let hub = Hub::new(&window, Desks::new(path, clock, session));
    Ok(App { window, hub })
}

/// Nothing is there yet, or an empty directory.
fn is_unused(path: &Path) -> bool {
    match fs::read_dir(path) {
        Ok(mut listing) => listing.next().is_none(),
        Err(error) => error.kind() == std::io::ErrorKind::NotFound,
    }
}

impl App {
    /// Shows the window.
    ///
    /// # Errors
    /// When the window system gives none.
    pub fn show(&self) -> Result<(), NoWindow> {
        self.window.show().map_err(|error| NoWindow::Display(error.to_string()))
    }

    /// Runs the window that is shown until it is closed.
    ///
    /// # Errors
    /// When the window system fails.
    pub fn run(&self) -> Result<(), NoWindow> {
        slint::run_event_loop().map_err(|error| NoWindow::Display(error.to_string()))
    }

    /// The window.
    pub fn window(&self) -> &MainWindow {
        &self.window
    }

    /// Looks at the clock and the folder again, as the window's own timer does.
    pub fn tick(&self) {
        self.hub.tick();
    }

    /// What the pages hold.
    pub fn desks<R>(&self, look: impl FnOnce(&mut Desks) -> R) -> R {
        self.hub.look(look)
    }
}
