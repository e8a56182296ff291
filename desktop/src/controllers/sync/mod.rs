//! Exchanging records: with a memory stick, a shared folder or another data folder, by hand or by itself. The work is
//! done off the window's own thread; what was exchanged, with whom and when, is kept beside the records.

mod matters;
mod places;
mod view;
mod watch;
mod work;

use std::path::{Path, PathBuf};

use offshed_core::stamp::Stamp;
use offshed_depot::exchange::Exchanged;

pub use matters::Matter;
pub use view::{Exchange, SyncView};

use super::{Session, Trouble};
use crate::exchanged::{Line, Log};
use watch::{Next, Watch};
use work::{Look, Work};

/// The page.
#[derive(Debug, Default)]
pub struct SyncDesk {
    path: PathBuf,
    work: Option<Work>,
    watch: Watch,
    /// An exchange was asked for while another went on by itself: it begins behind that one.
    wanted: bool,
    /// Read when the page or an exchange first needs it.
    log: Option<Log>,
    notice: String,
}

impl SyncDesk {
    /// Another folder was typed or touched.
    pub fn typed(&mut self, path: &str) {
        self.path = PathBuf::from(path.trim());
        self.notice.clear();
    }

    /// The folder that is chosen.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Whether an exchange is going on.
    pub fn runs(&self) -> bool {
        self.work.is_some()
    }

    /// Begins an exchange with the folder that is chosen.
    pub fn start(&mut self, session: &mut Session) {
        self.notice = match self.begin(session) {
            Ok(()) => String::new(),
            Err(trouble) => trouble.words,
        };
    }

    fn begin(&mut self, session: &mut Session) -> Result<(), Trouble> {
        if let Some(work) = &self.work {
            self.wanted = work.by_itself;
            return Ok(());
        }
        if let Some(why) = self.in_the_way(session) {
            return Err(Trouble::input(why));
        }
        self.work = Some(Work::begin(session, &self.path, false)?);
        Ok(())
    }

    /// What is in the way of an exchange with the folder that is chosen.
    fn in_the_way(&self, session: &Session) -> Option<String> {
        if self.path.as_os_str().is_empty() {
            return Some("choose a folder first: a memory stick, a shared folder, another data folder".to_owned());
        }
        let unwritten =
            (!session.writes()).then(|| "another program writes in this data folder: close it there first".to_owned());
        places::unfit(session.path(), &self.path).or(unwritten)
    }

    /// Asks the exchange to stop after the book it is at. What was copied until then stays.
    pub fn stop(&mut self) {
        if let Some(work) = &self.work {
            work.halt();
        }
    }

    /// From here on the folder that is chosen is exchanged with by itself.
    pub fn share(&mut self, session: &mut Session) {
        self.notice = match self.in_the_way(session) {
            Some(why) => why,
            None => keep_shared(session, self.path.display().to_string()),
        };
    }

    /// From here on nothing is exchanged by itself.
    pub fn unshare(&mut self, session: &mut Session) {
        self.notice = keep_shared(session, String::new());
    }

    /// Looks how the exchange stands, and at the shared folder. Whether there is news.
    pub fn tick(&mut self, session: &mut Session) -> bool {
        let mut news = false;
        if let Some(mut work) = self.work.take() {
            match work.look() {
                Look::GoesOn(further) => {
                    self.work = Some(work);
                    return further;
                }
                Look::Over(exchanged) => self.ended(session, &work, Some(*exchanged)),
                Look::BrokeOff => self.ended(session, &work, None),
            }
            news = true;
        }
        if std::mem::take(&mut self.wanted) {
            self.start(session);
            return true;
        }
        match self.watch.tick(session) {
            Next::Rest(told) => news || told,
            Next::Exchange(with) => {
                match Work::begin(session, &with, true) {
                    Ok(work) => self.work = Some(work),
                    Err(trouble) => drop(self.watch.wrong(session, trouble.words)),
                }
                true
            }
        }
    }

    fn ended(&mut self, session: &mut Session, work: &Work, exchanged: Option<Exchanged>) {
        if work.by_itself {
            self.watch.exchanged(session, exchanged.as_ref());
        }
        let at = session.now().stamp;
        let Some(exchanged) = exchanged else {
            if !work.by_itself {
                self.keep(session, Line::failed(at, &work.with, "the exchange broke off; it can be run again"));
            }
            return;
        };
        let (report, fault) = session.end_exchange(exchanged);
        // What is wrong with the shared folder is told by its own line; that nothing was missing, too.
        if !work.by_itself || !report.is_quiet() {
            let line = view::line(session.ledger(), at, &work.with, &report, fault.as_ref());
            self.keep(session, line);
        }
    }

    fn keep(&mut self, session: &Session, line: Line) {
        let log = self.log.get_or_insert_with(|| Log::read(session.path()));
        log.add(line);
        if let Err(why) = log.write(session.path()) {
            self.notice = why.to_string();
        }
    }
}

/// Keeps which folder is exchanged with by itself; why it was not kept, in words.
fn keep_shared(session: &mut Session, shared: String) -> String {
    let screen = crate::screen::Screen { shared, ..session.screen.clone() };
    session.keep_screen(screen);
    session.screen_fault.clone().unwrap_or_default()
}

fn local(session: &Session, at: Stamp) -> String {
    session.zone().local(at).format("%a %-d %b %H:%M").to_string()
}
