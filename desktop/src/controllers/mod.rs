//! What each page shows and does, without the toolkit: plain data out, intentions in.

pub mod board;
pub mod boiler;
pub mod crew;
pub mod foreman;
pub mod more;
mod pins;
pub mod place;
pub mod session;
pub mod shell;
pub mod sync;
pub mod treatment;

use std::path::{Path, PathBuf};
use std::rc::Rc;

pub use session::{Doubt, Session, Trouble};

use crate::clock::Clock;

/// Every page's state, and the data folder they share.
pub struct Desks {
    /// Where the folder is, or would be.
    pub path: PathBuf,
    /// The clock a test gave; else the one the folder asks for.
    clock: Option<Rc<dyn Clock>>,
    /// The folder; none before the first run has made one.
    pub session: Option<Session>,
    /// Tabs, banner, first screens.
    pub shell: shell::ShellDesk,
    /// The duty board.
    pub board: board::BoardDesk,
    /// The crew desk.
    pub crew: crew::CrewDesk,
    /// The foreman's desk.
    pub foreman: foreman::ForemanDesk,
    /// The boiler picture.
    pub boiler: boiler::BoilerDesk,
    /// Where the window was when that was last kept.
    kept: place::Kept,
    /// Exchanging records.
    pub sync: sync::SyncDesk,
}

impl Desks {
    /// Every page as it first shows, at the place where the folder was last used.
    pub fn new(path: &Path, clock: Option<Rc<dyn Clock>>, session: Option<Session>) -> Desks {
        let mut desks = Desks {
            path: path.to_owned(),
            clock,
            session,
            shell: shell::ShellDesk::default(),
            board: board::BoardDesk::default(),
            crew: crew::CrewDesk::default(),
            foreman: foreman::ForemanDesk::default(),
            boiler: boiler::BoilerDesk::default(),
            sync: sync::SyncDesk::default(),
            kept: place::Kept::default(),
        };
        desks.reopen();
        desks
    }
}
