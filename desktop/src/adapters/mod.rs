//! Between the pages' plain data and the toolkit: the only code that names it. An adapter binds a global's callbacks to
//! intentions and writes what a page shows into the global's properties.

mod board;
mod boiler;
mod crew;
mod foreman;
mod letters;
mod models;
mod more;
mod shell;
mod sync;
mod treatment;

use std::cell::{Cell, RefCell};
use std::rc::Rc;
use std::time::Duration;

use slint::{ComponentHandle, Timer, TimerMode, Weak};

use crate::controllers::Desks;
use crate::ui::MainWindow;

/// How often the clock and the folder are looked at.
const TICK: Duration = Duration::from_secs(1);
/// As [`TICK`], while a hold or a watch is on the page.
const QUICK: Duration = Duration::from_millis(200);

/// The pages' state, the window, and the lists that the window shows.
pub(crate) struct Hub {
    window: Weak<MainWindow>,
    desks: RefCell<Desks>,
    timer: Timer,
    board: board::Lists,
    crew: crew::Lists,
    foreman: foreman::Lists,
    more: more::Lists,
    boiler: boiler::Lists,
    treatment: treatment::Lists,
    sync: sync::Lists,
    /// Whether the timer goes at the pace of something that moves.
    quick: Cell<bool>,
    /// The minute that was shown last; what is shown changes by itself on the minute.
    minute: Cell<i64>,
}

impl Hub {
    /// Binds everything and shows it for the first time.
    pub(crate) fn new(window: &MainWindow, desks: Desks) -> Rc<Hub> {
        let hub = Rc::new(Hub {
            window: window.as_weak(),
            desks: RefCell::new(desks),
            timer: Timer::default(),
            board: board::Lists::default(),
            crew: crew::Lists::default(),
            foreman: foreman::Lists::default(),
            more: more::Lists::default(),
            boiler: boiler::Lists::default(),
            treatment: treatment::Lists::default(),
            sync: sync::Lists::default(),
            quick: Cell::new(false),
            minute: Cell::new(0),
        });
        shell::bind(&hub, window);
        board::bind(&hub, window);
        crew::bind(&hub, window);
        foreman::bind(&hub, window);
        more::bind(&hub, window);
        boiler::bind(&hub, window);
        treatment::bind(&hub, window);
        sync::bind(&hub, window);
        hub.show();
        let weak = Rc::downgrade(&hub);
        hub.timer.start(TimerMode::Repeated, TICK, move || {
            if let Some(hub) = weak.upgrade() {
                hub.tick();
            }
        });
        hub
    }

    /// Looks at the pages' state.
    pub(crate) fn look<R>(&self, look: impl FnOnce(&mut Desks) -> R) -> R {
        look(&mut self.desks.borrow_mut())
    }

    /// Does something to the pages' state, then shows what came of it.
    pub(crate) fn act(&self, act: impl FnOnce(&mut Desks)) {
        self.look(|desks| {
            act(desks);
            desks.keep_place();
        });
        self.show();
    }

    /// The clock went on; another program may have written. What nobody would see is not drawn again.
    pub(crate) fn tick(&self) {
        let news = self.look(|desks| {
            let Some(session) = &mut desks.session else { return false };
            let read_again = session.refresh();
            desks.crew.tick(session);
            let exchanged = desks.sync.tick(session);
            let minute = session.now().stamp.0.div_euclid(60);
            read_again || exchanged || self.minute.replace(minute) != minute || desks.crew.moves(session)
        });
        if news {
            self.show();
        }
    }

    /// A hold or a watch on the page is shown in tenths of a second.
    fn pace(&self, desks: &Desks) {
        let moves = desks.session.as_ref().is_some_and(|session| desks.crew.moves(session));
        let quick = moves && desks.shell.desk() == "crew" || desks.sync.runs();
        if self.quick.replace(quick) != quick {
            self.timer.set_interval(if quick { QUICK } else { TICK });
        }
    }

    /// Writes the page that is up into the window.
    fn show(&self) {
        let Some(window) = self.window.upgrade() else { return };
        let desks = self.desks.borrow();
        shell::show(&desks, &window);
        match desks.shell.desk() {
            "board" => board::show(&self.board, &desks, &window),
            "crew" => crew::show(&self.crew, &desks, &window),
            "foreman" => foreman::show(&self.foreman, &desks, &window),
            "more" => more::show(&self.more, &desks, &window),
            "boiler" => boiler::show(&self.boiler, &desks, &window),
            "treatment" => treatment::show(&self.treatment, &desks, &window),
            "exchange" => sync::show(&self.sync, &desks, &window),
            _ => {}
        }
        boiler::show_doors(&self.boiler, &desks, &window);
        // The low-water card comes up over these pages as well, and goes back to them.
        if matches!(desks.shell.desk(), "boiler" | "treatment") {
            crew::show(&self.crew, &desks, &window);
        }
        self.pace(&desks);
    }
}

/// A callback that does something to the pages' state.
fn calls(hub: &Rc<Hub>, act: impl Fn(&mut Desks) + 'static) -> impl Fn() + 'static {
    let weak = Rc::downgrade(hub);
    move || {
        if let Some(hub) = weak.upgrade() {
            hub.act(&act);
        }
    }
}

/// As [`calls`], with what the window hands over.
fn calls_with<A>(hub: &Rc<Hub>, act: impl Fn(&mut Desks, A) + 'static) -> impl Fn(A) + 'static {
    let weak = Rc::downgrade(hub);
    move |given| {
        if let Some(hub) = weak.upgrade() {
            hub.act(|desks| act(desks, given));
        }
    }
}
