//! The figures of a group of notes, each declared once: its name, its unit, its words, what it is of, how it is withheld
//! and how it is got. JSON and its schema, CSV, Parquet, tables, trends, comparisons and the journal read the declarations.
//!
//! A new figure is a static below, its place in `OURS` (the order of JSON and of every table), and the function that
//! gets it.

use crate::members::Members;
use crate::score::Unit;
use crate::value::Value;
use std::sync::OnceLock;

/// One figure of a group of notes.
#[derive(Debug)]
pub struct GroupFigure {
    /// Its key in JSON and its column in tables of numbers; ends in its unit.
    pub key: &'static str,
    /// The key of its 95 % interval in JSON, with "ci95" in it; empty where it has none.
    pub interval_key: &'static str,
    /// Of its value.
    pub unit: Unit,
    /// Whether it is a whole number.
    pub is_count: bool,
    /// Whether it may lie below 0.
    pub signed: bool,
    /// As a player reads it in a sentence.
    pub words: &'static str,
    /// What it is of, and when it is withheld.
    pub about: &'static str,
    /// How tables show it; `None` where they leave it out.
    pub shown: Option<Shown>,
    /// Its place among the figures that a trend follows; `None` where none does.
    pub trend: Option<u8>,
    /// Whether two sets of takes are held against each other by it; it needs an interval.
    pub compared: bool,
    /// How it is got.
    pub of: fn(&Members<'_>) -> Value,
}

impl PartialEq for GroupFigure {
    fn eq(&self, other: &Self) -> bool {
        self.key == other.key
    }
}

impl Eq for GroupFigure {}

/// A figure in tables for people.
#[derive(Debug, Clone, Copy)]
pub struct Shown {
    /// In a few letters, without a unit.
    pub short: &'static str,
    /// Head of its column in the terminal; empty where it has none there, as in the two below.
    pub wide: &'static str,
    /// The same in a narrow terminal; counts under one head are added up.
    pub narrow: &'static str,
    /// In HTML.
    pub page: &'static str,
    /// How a cell is written.
    pub cell: Cell,
}

/// How a table's cell is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Cell {
    /// A count, 0 included.
    Count,
    /// A count of what should not happen: nothing where it is 0.
    Events,
    /// With its sign, the interval in a column beside it.
    Signed,
    /// With its interval, "below" where that reaches 0.
    Scatter,
    /// "33 or less" at the shortest that can be told.
    Ringing,
    /// With its standard error.
    Margin,
    /// To either side.
    Limit,
    /// To a tenth.
    Plain,
}

const fn shown(
    short: &'static str,
    wide: &'static str,
    narrow: &'static str,
    page: &'static str,
    cell: Cell,
) -> Option<Shown> {
    Some(Shown { short, wide, narrow, page, cell })
}

/// What most figures are: a number, in no table for people, followed by nothing.
pub const NUMBER: GroupFigure = GroupFigure {
    key: "",
    interval_key: "",
    unit: Unit::None,
    is_count: false,
    signed: false,
    words: "",
    about: "",
    shown: None,
    trend: None,
    compared: false,
    of: |_| Value::default(),
};

const COUNT: GroupFigure = GroupFigure { is_count: true, ..NUMBER };

/// Notes with a time.
pub static N: GroupFigure = GroupFigure {
    key: "n",
    words: "notes",
    about: "Notes with a time in it.",
    shown: shown("notes", "notes", "notes", "n", Cell::Count),
    of: |m| Value::count(m.timed.len()),
    ..COUNT
};

/// Places of the line.
pub static PLACES: GroupFigure = GroupFigure {
    key: "places",
    words: "places",
    about: "Places of the line that it covers.",
    of: |m| m.places(),
    ..COUNT
};

/// Early or late.
pub static BIAS: GroupFigure = GroupFigure {
    key: "bias_ms",
    signed: true,
    interval_key: "bias_ci95_ms",
    unit: Unit::Milliseconds,
    words: "early (-) or late (+) on average",
    about: "Against the notes in no found group; null with fewer than 8 notes here or there.",
    shown: shown("late +", "late +", "late +", "early / late", Cell::Signed),
    trend: Some(1),
    compared: true,
    of: |m| Value::estimate(m.bias),
    ..NUMBER
};

/// Scatter.
pub static SPREAD: GroupFigure = GroupFigure {
    key: "spread_ms",
    interval_key: "spread_ci95_ms",
    unit: Unit::Milliseconds,
    words: "scatter",
    about: "SD within places of the line, the detector's variance taken off; null with fewer than 8 notes, with places \
            played once, and where it cannot be told from the detector's own error. The lower end of the interval is null \
            where it reaches 0.",
    shown: shown("scatter", "scatter (95 %)", "scatter 95 %", "scatter (95 %)", Cell::Scatter),
    trend: Some(0),
    compared: true,
    of: |m| m.spread(),
    ..NUMBER
};

/// Slips.
pub static SLIPS: GroupFigure = GroupFigure {
    key: "slips",
    words: "slips",
    about: "Notes beyond 4 MAD of their place, left out of the scatter and counted apart.",
    shown: shown("slips", "slips", "slips", "slips", Cell::Events),
    of: |m| Value::count(m.scatter.as_ref().map_or(0, |s| s.slips)),
    ..COUNT
};

/// Notes reached.
pub static REACHED: GroupFigure = GroupFigure {
    key: "reached",
    words: "notes reached",
    about: "Notes of it reached.",
    of: |m| Value::count(m.all.len()),
    ..COUNT
};

/// Not heard.
pub static MISSED: GroupFigure = GroupFigure {
    key: "missed",
    interval_key: "missed_ci95_pct",
    words: "notes not heard",
    about: "Not heard; Wilson's interval in per cent of the notes reached.",
    shown: shown("not heard", "not heard", "errors", "not heard", Cell::Events),
    of: |m| m.rate(|n| n.missed()),
    ..COUNT
};

/// At another pitch.
pub static WRONG_PITCH: GroupFigure = GroupFigure {
    key: "wrong_pitch",
    interval_key: "wrong_pitch_ci95_pct",
    words: "notes at another pitch",
    about: "At another pitch; Wilson's interval in per cent of the notes reached.",
    shown: shown("wrong", "wrong", "errors", "wrong", Cell::Events),
    of: |m| m.rate(|n| n.wrong()),
    ..COUNT
};

/// Attacks too many.
pub static EXTRA: GroupFigure = GroupFigure {
    key: "extra",
    interval_key: "extra_ci95_pct",
    words: "extra attacks",
    about: "Notes with an extra attack just before them; Wilson's interval in per cent of the notes reached.",
    shown: shown("extra", "", "", "extra", Cell::Events),
    of: |m| m.rate(|n| n.extras_before > 0),
    ..COUNT
};

/// Ringing over.
pub static SMEAR: GroupFigure = GroupFigure {
    key: "smear_ms",
    unit: Unit::Milliseconds,
    words: "ringing over",
    about: "Median time that the string left rings over; null with fewer than 3 notes that have one.",
    shown: shown("rings", "rings over", "rings", "rings over", Cell::Ringing),
    trend: Some(4),
    of: |m| m.smear(),
    ..NUMBER
};

/// Notes behind the ringing.
pub static SMEAR_N: GroupFigure = GroupFigure {
    key: "smear_n",
    words: "notes with a time of ringing over",
    about: "Notes with a ringing-over figure.",
    of: |m| Value::count(m.smears().len()),
    ..COUNT
};

/// Level.
pub static LEVEL: GroupFigure = GroupFigure {
    key: "level_db",
    signed: true,
    unit: Unit::Decibels,
    words: "level against the same strings",
    about: "Mean level against the same strings' other notes; null with few notes or a driven recording.",
    of: |m| Value::number(m.level()),
    ..NUMBER
};

/// Evenness.
pub static EVENNESS: GroupFigure = GroupFigure {
    key: "evenness_ms",
    unit: Unit::Milliseconds,
    words: "unevenness of the intervals",
    about: "SD of the intervals that end on its notes; null with fewer than 8.",
    trend: Some(2),
    of: |m| m.evenness(),
    ..NUMBER
};

/// Margin.
pub static MARGIN: GroupFigure = GroupFigure {
    key: "margin",
    signed: true,
    words: "margin",
    about: "(limit - |bias|) / spread; null where one of them is.",
    shown: shown("margin", "margin", "margin", "margin", Cell::Margin),
    trend: Some(5),
    of: |m| Value::number(m.margin.as_ref().map(|m| m.value)),
    ..NUMBER
};

/// Its standard error.
pub static MARGIN_SE: GroupFigure = GroupFigure {
    key: "margin_se",
    words: "standard error of the margin",
    about: "Standard error of the margin.",
    of: |m| Value::number(m.margin.as_ref().map(|m| m.se)),
    ..NUMBER
};

/// How far off a note may be.
pub static LIMIT: GroupFigure = GroupFigure {
    key: "limit_ms",
    unit: Unit::Milliseconds,
    words: "limit",
    about: "A quarter of the shorter neighbouring note distance.",
    shown: shown("limit", "", "", "limit", Cell::Limit),
    of: |m| Value::number(m.limit),
    ..NUMBER
};

/// Beyond the limit.
pub static OUTSIDE: GroupFigure = GroupFigure {
    key: "outside_pct",
    unit: Unit::PerCent,
    words: "notes outside the limit in 100",
    about: "The chance that the next note lands outside the limit; null where the margin is.",
    of: |m| Value::number(m.margin.as_ref().map(|m| 100.0 * m.outside)),
    ..NUMBER
};

static OURS: [&GroupFigure; 17] = [
    &N,
    &PLACES,
    &BIAS,
    &SPREAD,
    &SLIPS,
    &REACHED,
    &MISSED,
    &WRONG_PITCH,
    &EXTRA,
    &SMEAR,
    &SMEAR_N,
    &LEVEL,
    &EVENNESS,
    &MARGIN,
    &MARGIN_SE,
    &LIMIT,
    &OUTSIDE,
];

static DECLARED: OnceLock<Vec<&'static GroupFigure>> = OnceLock::new();

/// Every figure, in the order of JSON and tables.
pub fn declared() -> &'static [&'static GroupFigure] {
    DECLARED.get_or_init(|| OURS.to_vec())
}

/// Declares figures beside our own. It must come before the first report is made or read; `false` where it is too late.
pub fn declare(more: &[&'static GroupFigure]) -> bool {
    DECLARED.set([&OURS, more].concat()).is_ok()
}

/// What of a figure stands in a column.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Part {
    /// The figure itself.
    Value,
    /// Lower end of its interval.
    Low,
    /// Upper end.
    High,
}

/// A column of a table of numbers.
#[derive(Debug, Clone, Copy)]
pub struct FlatColumn {
    /// Whose.
    pub figure: &'static GroupFigure,
    /// What of it.
    pub part: Part,
}

impl FlatColumn {
    /// "bias_ms", "bias_low_ms", "bias_high_ms"
    pub fn name(&self) -> String {
        match self.part {
            Part::Value => self.figure.key.to_owned(),
            Part::Low => self.figure.interval_key.replace("ci95", "low"),
            Part::High => self.figure.interval_key.replace("ci95", "high"),
        }
    }

    /// Whether it holds whole numbers.
    pub fn is_count(&self) -> bool {
        self.figure.is_count && self.part == Part::Value
    }
}

/// The columns of a table of numbers: each figure, then the ends of its interval.
pub fn flat_columns() -> impl Iterator<Item = FlatColumn> {
    declared().iter().flat_map(|figure| figure.columns())
}

impl GroupFigure {
    /// The same of one figure.
    pub fn columns(&'static self) -> impl Iterator<Item = FlatColumn> {
        let ends = if self.interval_key.is_empty() { &[][..] } else { &[Part::Low, Part::High] };
        [Part::Value].iter().chain(ends).map(move |part| FlatColumn { figure: self, part: *part })
    }

    /// Its key without the unit.
    pub fn name(&self) -> &'static str {
        self.key.strip_suffix(self.unit.suffix()).unwrap_or(self.key)
    }
}
