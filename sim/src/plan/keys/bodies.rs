//! Keys of the chamber and of what stands in the way.

use super::*;
use Dimension::{Angle, Length};

/// Sides of the way things turn with.
pub(super) const RIDES: Kind = Kind::Word(&["chamber", "part"]);

pub(super) const STICKING_KEY: Key = or(
    "sticking",
    Kind::Number(&STICKING),
    "1.0",
    "probability that an arriving atom stays; the rest leaves by the cosine law",
);

pub(super) const AT_KEY: Key = or(
    "at",
    Kind::Vector(Length, &POSITION),
    r#"["0 mm", "0 mm", "0 mm"]"#,
    "where its centre goes (of a mesh: its origin)",
);

pub(super) const TURN_KEY: Key = or(
    "turn",
    Kind::Vector(Angle, &ANGLE),
    r#"["0 deg", "0 deg", "0 deg"]"#,
    "angles about x, then y, then z",
);

const DIAMETER: Key = required("diameter", Kind::Quantity(Length, &EXTENT), "its diameter");
const LENGTH: Key = required(
    "length",
    Kind::Quantity(Length, &EXTENT),
    "its length along z",
);

pub(super) static CHAMBER: Tagged = Tagged {
    tag: "shape",
    help: "shape of the chamber; it stands on z = 0 around the z axis",
    common: &[STICKING_KEY],
    variants: &[
        Variant {
            name: "cylinder",
            help: "an upright cylinder",
            keys: &[
                required(
                    "diameter",
                    Kind::Quantity(Length, &EXTENT),
                    "inner diameter",
                ),
                required("height", Kind::Quantity(Length, &EXTENT), "inner height"),
            ],
        },
        Variant {
            name: "box",
            help: "a box",
            keys: &[required(
                "size",
                Kind::Vector(Length, &EXTENT),
                "inner extent in x, y and z",
            )],
        },
    ],
};

const PLATE: Variant = Variant {
    name: "plate",
    help: "a centred plate, with a hole along z if you like",
    keys: &[
        required(
            "size",
            Kind::Vector(Length, &EXTENT),
            "extent in x, y and z",
        ),
        optional(
            "hole_diameter",
            Kind::Quantity(Length, &EXTENT),
            "diameter of a round hole along z through the centre",
        ),
    ],
};

const CYLINDER: Variant = Variant {
    name: "cylinder",
    help: "a solid cylinder along z, centred",
    keys: &[DIAMETER, LENGTH],
};

const TUBE: Variant = Variant {
    name: "tube",
    help: "a tube along z, centred",
    keys: &[
        required(
            "outer_diameter",
            Kind::Quantity(Length, &EXTENT),
            "its outer diameter",
        ),
        required(
            "inner_diameter",
            Kind::Quantity(Length, &EXTENT),
            "its inner diameter",
        ),
        LENGTH,
    ],
};

const SPHERE: Variant = Variant {
    name: "sphere",
    help: "a solid sphere",
    keys: &[DIAMETER],
};

/// Shape of a fixture or a shutter.
pub(super) static BODY: Tagged = Tagged {
    tag: "shape",
    help: "shape of the body, centred on its own origin",
    common: &[],
    variants: &[
        PLATE,
        CYLINDER,
        TUBE,
        SPHERE,
        Variant {
            name: "mesh",
            help: "a mesh file",
            keys: &[
                required("file", Kind::Path, "the mesh file"),
                optional(
                    "unit",
                    Kind::LengthUnit,
                    "unit of the file, needed where it carries none",
                ),
            ],
        },
    ],
};

/// Shape of a region, in the part's coordinates.
pub(super) static INSIDE: Tagged = Tagged {
    tag: "shape",
    help: "shape in which the centroids of the region's triangles lie",
    common: &[AT_KEY, TURN_KEY],
    variants: &[PLATE, CYLINDER, TUBE, SPHERE],
};

pub(super) static FIXTURE: Entries = Entries {
    by: By::Name,
    least: 0,
    keys: &[
        required("name", Kind::Name(Naming::Plain), "its name"),
        required("body", Kind::Tagged(&BODY), "its shape"),
        AT_KEY,
        TURN_KEY,
        or("rides", RIDES, "\"chamber\"", "what it turns with"),
        STICKING_KEY,
    ],
};

pub(super) static SHUTTER: Entries = Entries {
    by: By::Name,
    least: 0,
    keys: &[
        required("name", Kind::Name(Naming::Plain), "its name"),
        required(
            "over",
            Kind::List(&Kind::Reference(Of::Source), 1),
            "the sources it belongs to",
        ),
        required("body", Kind::Tagged(&BODY), "its shape"),
        AT_KEY,
        TURN_KEY,
        STICKING_KEY,
    ],
};
