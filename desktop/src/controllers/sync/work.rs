//! An exchange at work on a thread of its own. The books are lent to it; the window goes on, and entries are recorded.

use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{Receiver, Sender, TryRecvError, channel};
use std::thread;

use offshed_depot::exchange::{Exchange, Exchanged};
use offshed_depot::sync::Progress;

use super::super::{Session, Trouble};

/// One exchange that is going on.
#[derive(Debug)]
pub(super) struct Work {
    from: Receiver<Told>,
    stop: Arc<AtomicBool>,
    /// With which folder.
    pub(super) with: PathBuf,
    /// How far it is.
    pub(super) progress: Progress,
    /// Nobody asked for it: the shared folder is exchanged with by itself.
    pub(super) by_itself: bool,
}

/// What the thread tells.
enum Told {
    Progress(Progress),
    Done(Box<Exchanged>),
}

/// How an exchange stands.
pub(super) enum Look {
    /// It goes on; whether it got further since the last look.
    GoesOn(bool),
    /// It is over.
    Over(Box<Exchanged>),
    /// Its thread is gone; the records are as they were.
    BrokeOff,
}

impl Work {
    /// Begins an exchange.
    ///
    /// # Errors
    /// When another program writes in the data folder, the journal can't be sealed, or no thread can be had.
    pub(super) fn begin(session: &mut Session, with: &Path, by_itself: bool) -> Result<Work, Trouble> {
        let exchange = session.begin_exchange()?;
        let (to, from) = channel();
        let stop = Arc::new(AtomicBool::new(false));
        let (folder, halt) = (with.to_path_buf(), stop.clone());
        let work = move || run(exchange, &folder, &halt, &to);
        let spawned = thread::Builder::new().name("exchange".to_owned()).spawn(work);
        spawned.map_err(|error| Trouble { key: "folder", words: format!("no exchange was begun: {error}") })?;
        Ok(Work { from, stop, with: with.to_path_buf(), progress: Progress { done: 0, of: 0 }, by_itself })
    }

    /// Asks it to stop after the book it is at. What was copied until then stays.
    pub(super) fn halt(&self) {
        self.stop.store(true, Ordering::Relaxed);
    }

    /// Whether it was asked to stop.
    pub(super) fn halts(&self) -> bool {
        self.stop.load(Ordering::Relaxed)
    }

    /// Looks how it stands.
    pub(super) fn look(&mut self) -> Look {
        let mut further = false;
        loop {
            match self.from.try_recv() {
                Ok(Told::Progress(progress)) => (self.progress, further) = (progress, true),
                Ok(Told::Done(exchanged)) => return Look::Over(exchanged),
                Err(TryRecvError::Empty) => return Look::GoesOn(further),
                Err(TryRecvError::Disconnected) => return Look::BrokeOff,
            }
        }
    }
}

fn run(exchange: Exchange, with: &Path, halt: &AtomicBool, to: &Sender<Told>) {
    let mut watch = |progress: Progress| {
        // Nobody listens any more only when the window is gone: then it is stopped too.
        to.send(Told::Progress(progress)).is_ok() && !halt.load(Ordering::Relaxed)
    };
    let exchanged = exchange.run(with, &mut watch);
    // The window may be gone.
    let _ = to.send(Told::Done(Box::new(exchanged)));
}
