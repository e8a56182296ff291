//! The shared folder that is exchanged with by itself. It is looked at every second off the window's thread, so that a
//! share that does not answer stops nothing; a folder that is gone is told quietly and tried again.

use std::path::{Path, PathBuf};
use std::sync::mpsc::{Receiver, TryRecvError, channel};
use std::thread;

use offshed_core::stamp::Stamp;
use offshed_depot::exchange::Exchanged;
use offshed_depot::folder::FolderFault;

use super::super::Session;
use super::super::session::{Mark, marks};
use super::places;

/// Tenths of a second from one look to the next.
const PACE: u64 = 10;
/// As [`PACE`], after something went wrong.
const AGAIN: u64 = 50;
/// A look that takes longer is told: ten seconds.
const PATIENCE: u64 = 100;

/// How the shared folder stands.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
enum State {
    /// Nothing was heard of it yet.
    #[default]
    New,
    /// It is there, and nothing is missing on either side.
    Met,
    /// It can't be exchanged with, and why, in words.
    Trouble(String),
}

/// What is known of the shared folder.
#[derive(Debug, Default)]
pub(super) struct Watch {
    /// The folder that this is about.
    folder: String,
    state: State,
    /// Since when it stands so.
    since: Option<Stamp>,
    /// When both were last found to be alike.
    met: Option<Stamp>,
    /// Tenths at which it is looked at next.
    due: u64,
    look: Option<(Receiver<Looked>, u64)>,
    /// What both sides looked like before the last exchange.
    seen: Option<Vec<Mark>>,
}

/// What a look found.
enum Looked {
    /// What both sides look like.
    There(Vec<Mark>),
    /// What is wrong.
    Gone(String),
}

/// What is to be done after a look.
#[derive(Debug, PartialEq, Eq)]
pub(super) enum Next {
    /// Nothing; whether what is shown changed.
    Rest(bool),
    /// An exchange with this folder.
    Exchange(PathBuf),
}

impl Watch {
    /// Looks at the shared folder where it is time to, and answers what is to be done.
    pub(super) fn tick(&mut self, session: &Session) -> Next {
        let (folder, tenths) = (&session.screen.shared, session.tenths());
        if *folder != self.folder {
            *self = Watch { folder: folder.clone(), due: tenths, ..Watch::default() };
        }
        if folder.is_empty() {
            return Next::Rest(false);
        }
        match self.look.take() {
            Some((from, since)) => self.looked(session, from, since),
            None if tenths >= self.due => {
                self.begin(session);
                Next::Rest(false)
            }
            None => Next::Rest(false),
        }
    }

    fn begin(&mut self, session: &Session) {
        let (own, shared) = (session.path().to_path_buf(), PathBuf::from(&self.folder));
        let (to, from) = channel();
        // Without a thread the look is taken for one that broke off, and is tried again.
        let _ = thread::Builder::new().name("shared folder".to_owned()).spawn(move || to.send(look(&own, &shared)));
        self.look = Some((from, session.tenths()));
    }

    fn looked(&mut self, session: &Session, from: Receiver<Looked>, since: u64) -> Next {
        let tenths = session.tenths();
        match from.try_recv() {
            Ok(Looked::There(seen)) => {
                self.due = tenths + PACE;
                if self.seen.as_ref() == Some(&seen) {
                    return Next::Rest(false);
                }
                if !session.writes() {
                    let words = "another program writes in this data folder: close it there first";
                    return Next::Rest(self.stands(session, State::Trouble(words.to_owned())));
                }
                self.seen = Some(seen);
                Next::Exchange(PathBuf::from(&self.folder))
            }
            Ok(Looked::Gone(why)) => Next::Rest(self.wrong(session, why)),
            Err(TryRecvError::Empty) => {
                self.look = Some((from, since));
                let slow = tenths.saturating_sub(since) > PATIENCE;
                Next::Rest(slow && self.stands(session, State::Trouble("it does not answer".to_owned())))
            }
            Err(TryRecvError::Disconnected) => Next::Rest(self.wrong(session, "it could not be looked at".to_owned())),
        }
    }

    /// An exchange with it is over.
    pub(super) fn exchanged(&mut self, session: &Session, came: Option<&Exchanged>) {
        match came {
            Some(Exchanged { fault: None, .. }) => {
                self.met = Some(session.now().stamp);
                self.stands(session, State::Met);
            }
            // Another device wrote at the same moment: it is looked at again at once.
            Some(Exchanged { fault: Some(FolderFault::Changed { .. }), .. }) => self.seen = None,
            Some(Exchanged { fault: Some(fault), .. }) => drop(self.wrong(session, fault.to_string())),
            None => drop(self.wrong(session, "the exchange broke off".to_owned())),
        }
    }

    /// Something went wrong: it is told and tried again. Whether that is news.
    pub(super) fn wrong(&mut self, session: &Session, why: String) -> bool {
        (self.due, self.seen) = (session.tenths() + AGAIN, None);
        self.stands(session, State::Trouble(why))
    }

    fn stands(&mut self, session: &Session, state: State) -> bool {
        let news = self.state != state;
        if news {
            (self.state, self.since) = (state, Some(session.now().stamp));
        }
        news
    }

    /// How it stands, in a line; empty: no folder is shared.
    pub(super) fn words(&self, session: &Session) -> String {
        let at = |stamp: Option<Stamp>| stamp.map_or(String::new(), |stamp| super::local(session, stamp));
        match &self.state {
            _ if session.screen.shared.is_empty() => String::new(),
            State::New => "Not looked at yet".to_owned(),
            State::Met => format!("Nothing was missing on either side at {}", at(self.met)),
            State::Trouble(why) => {
                let before = self.met.map_or(String::new(), |met| format!("; last exchanged {}", at(Some(met))));
                format!("Not exchanged since {}: {why}. It is tried again by itself{before}", at(self.since))
            }
        }
    }

    /// Whether something is wrong with it.
    pub(super) fn is_in_trouble(&self) -> bool {
        matches!(self.state, State::Trouble(_)) && !self.folder.is_empty()
    }
}

/// What both sides look like: length and time of every file of records.
fn look(own: &Path, shared: &Path) -> Looked {
    match places::unfit(own, shared) {
        Some(why) => Looked::Gone(why),
        None => Looked::There(marks(own).into_iter().chain(marks(shared)).collect()),
    }
}
