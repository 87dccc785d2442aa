//! Keys of rotations, steps, the film wanted, and `advise`.

use super::*;
use Dimension::{Angle, Length, Share, Time, TurningSpeed};

pub(super) static ROTATION: Entries = Entries {
    by: By::Number,
    least: 0,
    keys: &[
        required("axis", Kind::Direction, "direction of its axis"),
        or(
            "through",
            Kind::Vector(Length, &POSITION),
            r#"["0 mm", "0 mm", "0 mm"]"#,
            "a point on its axis",
        ),
        required(
            "speed",
            Kind::Quantity(TurningSpeed, &SPEED),
            "turning speed, positive for right-hand about the axis",
        ),
        optional(
            "swing",
            Kind::Quantity(Angle, &SWING),
            "it goes from 0 up to this angle and back",
        ),
    ],
};

pub(super) static STEP: Entries = Entries {
    by: By::Number,
    least: 1,
    keys: &[
        optional("note", Kind::Text, "note for the bench card"),
        required("lasts", Kind::Quantity(Time, &DURATION), "its duration"),
        or(
            "shutter",
            Kind::OrMap(Of::Shutter, &Kind::Word(&["open", "shut"])),
            "\"open\"",
            "state of all shutters, or of those named",
        ),
        or(
            "power",
            Kind::OrMap(Of::Source, &Kind::Number(&POWER)),
            "1.0",
            "factor on every source's output, or on that of those named",
        ),
        optional(
            "hold",
            Kind::List(&Kind::QuantityOr(Angle, &ANGLE, "turn"), 0),
            "angles at which the rotations are parked, one per rotation",
        ),
        optional(
            "speed",
            Kind::List(&Kind::Quantity(TurningSpeed, &SPEED), 0),
            "turning speeds during this step, one per rotation",
        ),
        or(
            "vent",
            Kind::Flag,
            "false",
            "whether the chamber is opened up before this step",
        ),
        optional(
            "turn",
            Kind::Map(Of::Part, &Kind::Vector(Angle, &ANGLE)),
            "new angles of parts from this step on; needs vent = true",
        ),
        optional(
            "at",
            Kind::Map(Of::Part, &Kind::Vector(Length, &POSITION)),
            "new places of parts from this step on; needs vent = true",
        ),
    ],
};

pub(super) static FILM: &[Key] = &[
    required(
        "want",
        Kind::OrMap(Of::Metal, &Kind::Quantity(Length, &THICKNESS)),
        "least useful thickness, in all or per metal",
    ),
    or(
        "on",
        Kind::Quantity(Share, &SHARE),
        "\"95 %\"",
        "share of the area that must have it",
    ),
    optional(
        "in",
        Kind::List(&Kind::Reference(Of::Region), 1),
        "regions that must have it; all parts when left out",
    ),
    or(
        "bare",
        Kind::List(&Kind::Reference(Of::Region), 0),
        "[]",
        "regions that should stay bare",
    ),
    or(
        "bare_under",
        Kind::Quantity(Length, &THICKNESS),
        "\"5 nm\"",
        "thickness that still counts as bare",
    ),
];

static VARY: Entries = Entries {
    by: By::Number,
    least: 1,
    keys: &[
        required(
            "key",
            Kind::FreeKey,
            "the value that may vary, as table.name.key",
        ),
        required("from", Kind::Bound, "its least value"),
        required("to", Kind::Bound, "its greatest value"),
    ],
};

pub(super) static ADVISE: &[Key] = &[
    or(
        "minimise",
        Kind::Word(&["time", "metal", "unevenness"]),
        "\"time\"",
        "what is made small",
    ),
    or(
        "turning",
        Kind::Word(&["steady", "stops", "both"]),
        "\"steady\"",
        "how the part turns in the plans that are tried",
    ),
    required("vary", Kind::Entries(&VARY), "a value that may vary"),
];
