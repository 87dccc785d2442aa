//! The table of keys: the one list of what a plan file may say.
//!
//! In: nothing. Out: key, kind of value, range, default and help text, from which the reader, the
//! suggestions for unknown keys, the JSON Schema and the keys of `advise` are all made.

mod bodies;
mod receivers;
mod root;
mod schedule;
mod sources;
mod words;

use crate::units::Dimension;
pub(super) use root::ROOT;
pub(super) use words::quoted;

/// A key of a table.
#[derive(Debug, Clone, Copy)]
pub(super) struct Key {
    /// As written.
    pub name: &'static str,
    /// What may stand behind it.
    pub kind: Kind,
    /// Whether it may be left out.
    pub need: Need,
    /// What it says: a noun phrase for messages and for the schema.
    pub help: &'static str,
}

/// Whether a key may be left out.
#[derive(Debug, Clone, Copy)]
pub(super) enum Need {
    /// It must be said.
    Required,
    /// It may be left out, and then says nothing.
    Optional,
    /// Left out, it means this TOML value.
    Default(&'static str),
}

/// What may stand behind a key.
#[derive(Debug, Clone, Copy)]
pub(super) enum Kind {
    /// Any text that is not empty.
    Text,
    /// The name of an entry.
    Name(Naming),
    /// The name of something of this plan.
    Reference(Of),
    /// One of these words.
    Word(&'static [&'static str]),
    /// A quantity with its unit.
    Quantity(Dimension, &'static Range),
    /// A quantity, or this word.
    QuantityOr(Dimension, &'static Range, &'static str),
    /// A bare number.
    Number(&'static Range),
    /// A whole number between these.
    Count(u32, u32),
    /// true or false.
    Flag,
    /// Three numbers, not all zero.
    Direction,
    /// Three quantities.
    Vector(Dimension, &'static Range),
    /// A path, relative to the file in which it stands.
    Path,
    /// A unit of length.
    LengthUnit,
    /// A list with at least so many entries.
    List(&'static Kind, usize),
    /// A table from names of these things to values.
    Map(Of, &'static Kind),
    /// A value, or a table from names of these things to such values.
    OrMap(Of, &'static Kind),
    /// A table.
    Table(&'static [Key]),
    /// A table whose keys depend on the word behind one of them.
    Tagged(&'static Tagged),
    /// A table whose keys depend on which of some keys is said.
    Marked(&'static [Variant]),
    /// `[[...]]`.
    Entries(&'static Entries),
    /// The key of another value, as in `part.horn.turn.y`.
    FreeKey,
    /// A value of the kind that a free key has.
    Bound,
}

/// What a name refers to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Of {
    /// A `[[source]]`.
    Source,
    /// A `[[shutter]]`.
    Shutter,
    /// A `[[part]]`.
    Part,
    /// A `[[region]]`.
    Region,
    /// A `[[coupon]]`.
    Coupon,
    /// A metal that every plan knows, or a `[[metal]]`.
    Metal,
}

impl Of {
    /// The key of its table.
    pub fn table(self) -> &'static str {
        match self {
            Self::Source => "source",
            Self::Shutter => "shutter",
            Self::Part => "part",
            Self::Region => "region",
            Self::Coupon => "coupon",
            Self::Metal => "metal",
        }
    }

    fn example(self) -> &'static str {
        match self {
            Self::Source => "head",
            Self::Shutter => "flag",
            Self::Part => "horn",
            Self::Region => "bore",
            Self::Coupon => "witness",
            Self::Metal => "silver",
        }
    }
}

/// What a name is used for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Naming {
    /// In keys and reports.
    Plain,
    /// Also in file names.
    File,
}

/// A table whose keys depend on a word.
#[derive(Debug)]
pub(super) struct Tagged {
    /// The key of the word.
    pub tag: &'static str,
    /// What the word says.
    pub help: &'static str,
    /// Keys that every variant has.
    pub common: &'static [Key],
    /// The words and their keys.
    pub variants: &'static [Variant],
}

/// Keys that go with a word, or with a key that marks them.
#[derive(Debug, Clone, Copy)]
pub(super) struct Variant {
    /// The word or the marking key.
    pub name: &'static str,
    /// The keys; the marking key among them.
    pub keys: &'static [Key],
    /// What it is.
    pub help: &'static str,
}

/// Entries of an array of tables.
#[derive(Debug)]
pub(super) struct Entries {
    /// How they are told apart.
    pub by: By,
    /// How many there must be.
    pub least: usize,
    /// Keys of an entry.
    pub keys: &'static [Key],
}

/// How entries are told apart.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum By {
    /// By their `name`; included ones merge by it.
    Name,
    /// By their number from 1; the including file's replace the included ones.
    Number,
}

/// The values that are allowed, in SI, ends included.
#[derive(Debug)]
pub(super) struct Range {
    /// Least value.
    pub least: f64,
    /// Greatest value.
    pub most: f64,
    /// Whether values must be above `least`, or may be equal to it.
    pub end: End,
    /// Why.
    pub why: &'static str,
    /// What to do.
    pub instead: &'static str,
}

/// Whether the lower end belongs to a range.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum End {
    /// It does.
    Closed,
    /// It does not.
    Open,
}

const fn above(least: f64, most: f64, why: &'static str, instead: &'static str) -> Range {
    Range {
        least,
        most,
        end: End::Open,
        why,
        instead,
    }
}

const fn from(least: f64, most: f64, why: &'static str, instead: &'static str) -> Range {
    Range {
        least,
        most,
        end: End::Closed,
        why,
        instead,
    }
}

/// Lengths that a machine can have: nothing is built larger than 100 m or set finer than 1 pm.
const LARGEST_M: f64 = 100.0;

pub(super) static EXTENT: Range = from(
    1e-9,
    LARGEST_M,
    "as it is the size of a real thing",
    "write its true size",
);
pub(super) static POSITION: Range = from(
    -LARGEST_M,
    LARGEST_M,
    "as it is a place in a chamber",
    "check the unit",
);
pub(super) static OFFSET: Range = from(
    0.0,
    LARGEST_M,
    "as it is a distance",
    "write it without the minus sign, or check the unit",
);
pub(super) static THICKNESS: Range = from(
    1e-15,
    1.0,
    "as it is the thickness of a film",
    "write a thickness above 0 nm",
);
pub(super) static FREE_PATH: Range =
    from(1e-9, 1e9, "as it is a length", "write a length above 0 mm");
pub(super) static DURATION: Range = from(
    1e-6,
    1e8,
    "as nothing happens in no time",
    "write a time above 0 s or leave the step out",
);
pub(super) static MASS: Range = from(
    1e-18,
    1e3,
    "as it is metal that leaves the source",
    "write a mass above 0 mg",
);
pub(super) static KELVIN: Range = from(
    1.0,
    1e5,
    "as it is counted from absolute zero",
    "check the number and its unit",
);
pub(super) static PRESSURE: Range = from(
    1e-12,
    1e6,
    "as it is the pressure of a gas",
    "write a pressure above 0 Pa or leave it out",
);
pub(super) static POWER_W: Range = from(
    1e-6,
    1e9,
    "as it is the power of a discharge",
    "write a power above 0 W",
);
pub(super) static VOLTAGE: Range = from(
    1e-3,
    1e6,
    "as it is the size of a voltage",
    "write it without a sign",
);
pub(super) static CURRENT: Range = from(
    1e-12,
    1e6,
    "as it is the current of a discharge",
    "write a current above 0 A",
);
pub(super) static AREA: Range = from(
    1e-18,
    1e4,
    "as it is a real area",
    "write an area above 0 mm2",
);
pub(super) static DENSITY: Range = from(
    1.0,
    1e5,
    "as it is the density of a solid",
    "check the number and its unit",
);
pub(super) static MOLAR_MASS: Range = from(
    1e-3,
    1.0,
    "as no atom is lighter than hydrogen or weighs 1000 g/mol",
    "check the number",
);
/// 0 to 1e6 eV, in J.
pub(super) static ENERGY: Range = above(
    0.0,
    1.602_176_634e-13,
    "as it is the energy of an atom",
    "write an energy above 0 eV",
);
pub(super) static RESISTIVITY: Range = above(
    0.0,
    1e3,
    "as it is the resistivity of a metal",
    "check the number and its unit",
);
pub(super) static ANGLE: Range = from(
    -1e6,
    1e6,
    "as more turns than that are not counted exactly",
    "check the unit",
);
pub(super) static SWING: Range = from(
    1e-9,
    1e6,
    "as it is the width of a swing",
    "write it without a sign; a negative speed starts it the other way",
);
pub(super) static CONE: Range = above(
    0.0,
    std::f64::consts::PI,
    "as it is the half-angle of a cone",
    "write an angle above 0 deg and up to 180 deg",
);
pub(super) static SPEED: Range = from(
    -1e5,
    1e5,
    "as no part turns faster",
    "check the number and its unit",
);
pub(super) static SHARE: Range = above(
    0.0,
    1.0,
    "as it is a share of the area",
    "write for example \"95 %\"",
);
pub(super) static STICKING: Range = from(
    0.0,
    1.0,
    "as it is the probability that an atom stays",
    "write a number from 0 to 1",
);
pub(super) static EXPONENT: Range = above(
    -1.0,
    1e4,
    "otherwise the law has no finite total",
    "use 1 for a flat evaporating surface",
);
pub(super) static ELECTRONS: Range = from(
    0.0,
    0.99,
    "as it is the share of the current that electrons carry",
    "write for example 0.1",
);
pub(super) static FACTOR: Range = from(
    1e-9,
    1e9,
    "as it is a factor on something that exists",
    "write a number above 0",
);
pub(super) static POWER: Range = from(
    0.0,
    1e6,
    "as it multiplies the output of a source",
    "write 0 for off and 1 for the output as said",
);
pub(super) static RATE: Range = above(
    0.0,
    1e40,
    "as it is a number of atoms per second",
    "write for example 1e18",
);

pub(super) const fn required(name: &'static str, kind: Kind, help: &'static str) -> Key {
    Key {
        name,
        kind,
        need: Need::Required,
        help,
    }
}

pub(super) const fn optional(name: &'static str, kind: Kind, help: &'static str) -> Key {
    Key {
        name,
        kind,
        need: Need::Optional,
        help,
    }
}

pub(super) const fn or(
    name: &'static str,
    kind: Kind,
    default: &'static str,
    help: &'static str,
) -> Key {
    Key {
        name,
        kind,
        need: Need::Default(default),
        help,
    }
}
