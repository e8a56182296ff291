//! The command line of the arithmetic commands. Values carry their unit in the text.

use std::path::PathBuf;

use clap::{Args, Subcommand};

#[derive(Debug, Subcommand)]
pub(crate) enum Reckon {
    /// Saturation temperature, margin of a plug core, heating rate between two gauge readings.
    Steam(SteamArgs),
    /// From a glass reading to volume and cover over the crown, level and on gradients.
    Level(LevelArgs),
    /// Least cover along a road, its worst place, and the least reading to leave with.
    Road(RoadArgs),
    /// Blowing down and refilling, as millimetres of glass.
    Blowdown(BlowdownArgs),
    /// Grams of a product that bring a reading up to its target.
    Dose(DoseArgs),
    /// Conductivity to 25 C and to dissolved solids.
    Solids(SolidsArgs),
    /// What a feed delivers, from its rise in the glass.
    Feed(FeedArgs),
    /// Hardness or alkalinity in every unit.
    Hardness(HardnessArgs),
    /// Where a water test is heading, over days in steam since washout, and when it meets its limit.
    Trend(TrendArgs),
    /// Cycles of concentration, and what share of the feed and of the steam goes to blowdown.
    Cycles(CyclesArgs),
    /// What a softener or other plant takes out of the feed, and how long it lasts.
    Plant(PlantArgs),
    /// The last day in date, by the calendar and by days in steam.
    Due(DueArgs),
    /// Working back from off shed over a pack's steps: light up by, crew on by, what is critical, what is late.
    Plan(ReckonPlanArgs),
}

/// What both plans take.
#[derive(Debug, Args)]
pub(crate) struct PlanArgs {
    /// Now, local: "HH:MM" today, or "YYYY-MM-DD HH:MM"; left out: the system's clock.
    #[arg(long, value_name = "MOMENT")]
    pub(crate) now: Option<String>,
    /// The sequence's id in the pack; left out: the one that leads off shed.
    #[arg(long)]
    pub(crate) sequence: Option<String>,
    /// The grade of a person at hand, once for each person; left out: one of each grade that the steps ask for.
    #[arg(long, value_name = "GRADE")]
    pub(crate) hand: Vec<String>,
    /// The water's temperature now: "60 C"; left out: cold, or as the sheet says.
    #[arg(long, value_name = "TEMPERATURE", allow_hyphen_values = true)]
    pub(crate) from: Option<String>,
    /// Greatest heating rate, K/h; common practice, from memory.
    #[arg(long, default_value_t = 30.0, value_name = "K/H", allow_hyphen_values = true)]
    pub(crate) limit: f64,
    /// Least time from lighting up a cold boiler to first pressure; common practice, from memory.
    #[arg(long, default_value = "3 h", value_name = "TIME", allow_hyphen_values = true)]
    pub(crate) first_pressure: String,
}

#[derive(Debug, Args)]
pub(crate) struct ReckonPlanArgs {
    /// Off shed, local: "HH:MM" on the day of now, or "YYYY-MM-DD HH:MM".
    #[arg(long, value_name = "MOMENT")]
    pub(crate) off_shed: String,
    /// The pack, a folder of TOML or a compiled file; left out: the built-in practice pack.
    #[arg(long, value_name = "PACK")]
    pub(crate) pack: Option<PathBuf>,
    /// A feature the engine has, by its id in the pack; may be given again. Steps of features it lacks do not apply.
    #[arg(long, value_name = "FEATURE")]
    pub(crate) has: Vec<String>,
    /// Working pressure: "145 psi"; left out: no time for raising steam to it.
    #[arg(long, allow_hyphen_values = true)]
    pub(crate) pressure: Option<String>,
    /// Local time: an IANA name or a POSIX rule.
    #[arg(long, default_value = "Etc/UTC")]
    pub(crate) zone: String,
    #[command(flatten)]
    pub(crate) plan: PlanArgs,
}

#[derive(Debug, Args)]
pub(crate) struct EnginePlanArgs {
    /// The engine.
    pub(crate) engine: u16,
    /// Off shed, local; left out: as the engine's turn is booked.
    #[arg(long, value_name = "MOMENT")]
    pub(crate) off_shed: Option<String>,
    #[command(flatten)]
    pub(crate) plan: PlanArgs,
}

#[derive(Debug, Args)]
pub(crate) struct SteamArgs {
    /// What the gauge shows: "160 psi".
    #[arg(long, allow_hyphen_values = true)]
    pub(crate) pressure: String,
    /// Melting point of a fusible plug's core: "327 C".
    #[arg(long, value_name = "TEMPERATURE", allow_hyphen_values = true)]
    pub(crate) plug_melts: Option<String>,
    /// A later gauge reading.
    #[arg(long, value_name = "PRESSURE", requires = "hours", allow_hyphen_values = true)]
    pub(crate) and: Option<String>,
    /// Hours between the two readings.
    #[arg(long, requires = "and", allow_hyphen_values = true)]
    pub(crate) hours: Option<f64>,
    /// Greatest heating rate allowed, K/h.
    #[arg(long, requires = "and", allow_hyphen_values = true)]
    pub(crate) limit: Option<f64>,
    /// Greatest error of reading the gauge, for a heating rate.
    #[arg(long, default_value = "2 psi", requires = "and", allow_hyphen_values = true)]
    pub(crate) error: String,
    /// The air's pressure, kPa.
    #[arg(long, default_value_t = 101.325, allow_hyphen_values = true)]
    pub(crate) air: f64,
}

/// The boiler's glass as it was read.
#[derive(Debug, Args)]
pub(crate) struct GlassArgs {
    /// What the glass shows over the bottom nut: "95 mm".
    #[arg(long, allow_hyphen_values = true)]
    pub(crate) reading: String,
    /// Greatest error of reading the glass, mm.
    #[arg(long, default_value_t = 3.0, value_name = "MM", allow_hyphen_values = true)]
    pub(crate) error: f64,
}

#[derive(Debug, Args)]
pub(crate) struct LevelArgs {
    /// The boiler; left out: the demo boiler of the Harrow Vale line.
    pub(crate) boiler: Option<PathBuf>,
    #[command(flatten)]
    pub(crate) glass: GlassArgs,
    /// A gradient it comes to, uphill as it travels: "1 in 60", "-1.6 %"; may be given again.
    #[arg(long, allow_hyphen_values = true)]
    pub(crate) gradient: Vec<String>,
    /// Gaining speed on those gradients, m/s2; negative: braking.
    #[arg(long, default_value_t = 0.0, requires = "gradient", allow_hyphen_values = true)]
    pub(crate) acceleration: f64,
    /// The bunker or tender leads.
    #[arg(long)]
    pub(crate) bunker_first: bool,
    /// The gradient it stood on at the reading.
    #[arg(long, default_value = "level", value_name = "GRADIENT", allow_hyphen_values = true)]
    pub(crate) standing: String,
    /// The regulator was open: how much the glass shows too much, mm.
    #[arg(long, value_name = "MM", allow_hyphen_values = true)]
    pub(crate) swell: Option<f64>,
    /// Cover asked for over both edges of the crown: "75 mm"; the railway's own rule goes before this figure.
    #[arg(long, allow_hyphen_values = true)]
    pub(crate) cover: Option<String>,
}

#[derive(Debug, Args)]
pub(crate) struct RoadArgs {
    /// The boiler; left out: the demo boiler of the Harrow Vale line.
    pub(crate) boiler: Option<PathBuf>,
    /// The road; left out: the demo road of the Harrow Vale line.
    pub(crate) road: Option<PathBuf>,
    /// What the glass shows on leaving; left out: the least that covers the crown and keeps the level in sight.
    #[arg(long, allow_hyphen_values = true)]
    pub(crate) reading: Option<String>,
    /// Greatest error of reading the glass, mm.
    #[arg(long, default_value_t = 3.0, value_name = "MM", allow_hyphen_values = true)]
    pub(crate) error: f64,
    /// Least cover wanted over the whole crown; the railway's own rule goes before this figure.
    #[arg(long, default_value = "50 mm", allow_hyphen_values = true)]
    pub(crate) cover: String,
    /// Water used and not fed again, l/km; left out: as the road says.
    #[arg(long, value_name = "L/KM", allow_hyphen_values = true)]
    pub(crate) used: Option<f64>,
    /// The regulator was open: how much the glass shows too much, mm.
    #[arg(long, value_name = "MM", allow_hyphen_values = true)]
    pub(crate) swell: Option<f64>,
}

#[derive(Debug, Args)]
pub(crate) struct BlowdownArgs {
    /// The boiler; left out: the demo boiler of the Harrow Vale line.
    pub(crate) boiler: Option<PathBuf>,
    #[command(flatten)]
    pub(crate) glass: GlassArgs,
    /// Solids in the boiler: "4000 mg/l".
    #[arg(long, allow_hyphen_values = true)]
    pub(crate) solids: String,
    /// Greatest error of that test, mg/l.
    #[arg(long, default_value_t = 0.0, value_name = "MG/L", allow_hyphen_values = true)]
    pub(crate) solids_error: f64,
    /// Solids in the feed.
    #[arg(long, allow_hyphen_values = true)]
    pub(crate) feed: String,
    /// What the boiler should come down to.
    #[arg(long, allow_hyphen_values = true)]
    pub(crate) target: String,
    /// The mark below which the water never goes.
    #[arg(long, allow_hyphen_values = true)]
    pub(crate) lower_mark: String,
    /// Rounds; left out: the fewest that do.
    #[arg(long)]
    pub(crate) rounds: Option<u8>,
}

#[derive(Debug, Args)]
pub(crate) struct DoseArgs {
    /// What the test shows: "100 mg/l".
    #[arg(long, allow_hyphen_values = true)]
    pub(crate) reading: String,
    /// Greatest error of the test, mg/l.
    #[arg(long, default_value_t = 0.0, value_name = "MG/L", allow_hyphen_values = true)]
    pub(crate) error: f64,
    /// What it should show.
    #[arg(long, allow_hyphen_values = true)]
    pub(crate) target: String,
    /// Water to treat: "3000 l".
    #[arg(long, allow_hyphen_values = true)]
    pub(crate) water: String,
    /// That water's temperature where it is hot: it holds less than its litres say.
    #[arg(long, value_name = "TEMPERATURE", allow_hyphen_values = true)]
    pub(crate) hot: Option<String>,
    /// What one gram of product adds, in grams of what the test shows.
    #[arg(long, allow_hyphen_values = true)]
    pub(crate) strength: f64,
    /// Grams of product in one measure.
    #[arg(long, value_name = "GRAMS", allow_hyphen_values = true)]
    pub(crate) measure: Option<f64>,
    /// Into how many parts a measure can be divided.
    #[arg(long, default_value_t = 1, requires = "measure")]
    pub(crate) parts: u8,
}

#[derive(Debug, Args)]
pub(crate) struct SolidsArgs {
    /// What the meter shows without its own correction: "5000 uS/cm".
    #[arg(long, allow_hyphen_values = true)]
    pub(crate) conductivity: String,
    /// Temperature of the sample.
    #[arg(long, default_value = "25 C", value_name = "TEMPERATURE", allow_hyphen_values = true)]
    pub(crate) at: String,
    /// Temperature coefficient, per cent a kelvin, as the water-treatment adviser gives it.
    #[arg(long, allow_hyphen_values = true)]
    pub(crate) percent_per_k: f64,
    /// mg/l for each uS/cm at 25 C, as the water-treatment adviser gives it.
    #[arg(long, allow_hyphen_values = true)]
    pub(crate) factor: f64,
    /// Greatest error of the meter, uS/cm.
    #[arg(long, default_value_t = 0.0, allow_hyphen_values = true)]
    pub(crate) error: f64,
    /// Greatest error of the thermometer, K.
    #[arg(long, default_value_t = 0.0, allow_hyphen_values = true)]
    pub(crate) error_k: f64,
}

#[derive(Debug, Args)]
pub(crate) struct FeedArgs {
    /// The boiler; left out: the demo boiler of the Harrow Vale line.
    pub(crate) boiler: Option<PathBuf>,
    /// The glass at the start.
    #[arg(long, allow_hyphen_values = true)]
    pub(crate) start: String,
    /// The glass at the end.
    #[arg(long, allow_hyphen_values = true)]
    pub(crate) end: String,
    /// Greatest error of reading the glass, mm.
    #[arg(long, default_value_t = 3.0, value_name = "MM", allow_hyphen_values = true)]
    pub(crate) error: f64,
    /// Time between: "3 min".
    #[arg(long, allow_hyphen_values = true)]
    pub(crate) time: String,
    /// The boiler's pressure.
    #[arg(long, allow_hyphen_values = true)]
    pub(crate) pressure: String,
    /// Temperature of the feed.
    #[arg(long, default_value = "15 C", value_name = "TEMPERATURE", allow_hyphen_values = true)]
    pub(crate) feed_at: String,
    /// Steamed off meanwhile, kg/min; left out: not known.
    #[arg(long, value_name = "KG/MIN", allow_hyphen_values = true)]
    pub(crate) steaming: Option<f64>,
    /// The least that is asked of this feed, l/min.
    #[arg(long, value_name = "L/MIN", allow_hyphen_values = true)]
    pub(crate) least: Option<f64>,
}

#[derive(Debug, Args)]
pub(crate) struct HardnessArgs {
    /// The value with its unit: "5 degClark", "350 mg/l CaCO3", "3 gpg", "4 degdH", "10 degfH".
    #[arg(allow_hyphen_values = true)]
    pub(crate) value: String,
}

#[derive(Debug, Args)]
pub(crate) struct DueArgs {
    /// Calendar months.
    #[arg(long, default_value_t = 0)]
    pub(crate) months: u16,
    /// Calendar days.
    #[arg(long, default_value_t = 0)]
    pub(crate) days: u32,
    /// Days in steam.
    #[arg(long, default_value_t = 0)]
    pub(crate) steam_days: u32,
    /// The day it was last done, YYYY-MM-DD.
    #[arg(long, value_name = "DAY")]
    pub(crate) done: String,
    /// Days in steam since then.
    #[arg(long, default_value_t = 0)]
    pub(crate) used: u32,
    /// Today, YYYY-MM-DD; left out: the system's day, UTC.
    #[arg(long, value_name = "DAY")]
    pub(crate) today: Option<String>,
    /// The anniversary itself is out of date.
    #[arg(long)]
    pub(crate) day_before: bool,
    /// The last day of a written postponement, YYYY-MM-DD.
    #[arg(long, value_name = "DAY")]
    pub(crate) postponed_to: Option<String>,
}

#[derive(Debug, Args)]
#[command(group = clap::ArgGroup::new("limit").required(true))]
pub(crate) struct TrendArgs {
    /// One test: days in steam since washout, then what it showed: "4 1650 mg/l"; give it again for each test, in one
    /// unit.
    #[arg(long, required = true, value_name = "DAYS VALUE", allow_hyphen_values = true)]
    pub(crate) test: Vec<String>,
    /// The limit that it must stay below: "3500 mg/l".
    #[arg(long, value_name = "VALUE", group = "limit", allow_hyphen_values = true)]
    pub(crate) most: Option<String>,
    /// The limit that it must stay over: "100 mg/l".
    #[arg(long, value_name = "VALUE", group = "limit", allow_hyphen_values = true)]
    pub(crate) least: Option<String>,
    /// Days in steam left until the booked washout; negative: over.
    #[arg(long, value_name = "DAYS", allow_hyphen_values = true)]
    pub(crate) steam_days_left: Option<i32>,
}

#[derive(Debug, Args)]
pub(crate) struct CyclesArgs {
    /// Solids or conductivity of the boiler water: "5000 uS/cm".
    #[arg(long, value_name = "VALUE", allow_hyphen_values = true)]
    pub(crate) boiler: String,
    /// The same of the feed.
    #[arg(long, value_name = "VALUE", allow_hyphen_values = true)]
    pub(crate) feed: String,
    /// Steam raised, kg/h; left out: shares alone.
    #[arg(long, value_name = "KG/H", allow_hyphen_values = true)]
    pub(crate) steam: Option<f64>,
}

#[derive(Debug, Args)]
pub(crate) struct PlantArgs {
    /// The test of what goes in: "280 mg/l CaCO3".
    #[arg(long, value_name = "VALUE", allow_hyphen_values = true)]
    pub(crate) going_in: String,
    /// The test of what comes out.
    #[arg(long, value_name = "VALUE", allow_hyphen_values = true)]
    pub(crate) coming_out: String,
    /// The most that may come out, as the plant's maker or the water-treatment adviser gives it.
    #[arg(long, value_name = "VALUE", allow_hyphen_values = true)]
    pub(crate) most: String,
    /// Greatest error of either test, in the base unit of what is tested: mg/l, mg/l CaCO3 or uS/cm.
    #[arg(long, default_value_t = 0.0, allow_hyphen_values = true)]
    pub(crate) error: f64,
    /// What a softener takes out between regenerations, grams as CaCO3: tells the litres left.
    #[arg(long, value_name = "GRAMS", allow_hyphen_values = true)]
    pub(crate) capacity: Option<f64>,
    /// What it has treated since it was regenerated: "4000 l".
    #[arg(long, value_name = "VOLUME", requires = "capacity", allow_hyphen_values = true)]
    pub(crate) treated: Option<String>,
}
