//! Keys of parts and of what is told about them: regions, masks, probes, coupons.

use super::bodies::{INSIDE, RIDES, STICKING_KEY, TURN_KEY};
use super::*;
use Dimension::{Angle, Length, Temperature};

const PART_NAME: Key = required("part", Kind::Reference(Of::Part), "name of the part");

static EMISSIVITY: Range = from(
    0.0,
    1.0,
    "as it is a share of what a black body radiates",
    "write a number from 0 to 1",
);

pub(super) static PART: Entries = Entries {
    by: By::Name,
    least: 1,
    keys: &[
        required("name", Kind::Name(Naming::Plain), "its name"),
        required(
            "mesh",
            Kind::Path,
            "its mesh: STL, OBJ, PLY, 3MF, glTF or GLB",
        ),
        optional(
            "unit",
            Kind::LengthUnit,
            "unit of the mesh file, needed where it carries none",
        ),
        or("scale", Kind::Number(&FACTOR), "1.0", "factor on the mesh"),
        or(
            "at",
            Kind::Vector(Length, &POSITION),
            r#"["0 mm", "0 mm", "0 mm"]"#,
            "where the mesh's origin goes",
        ),
        TURN_KEY,
        or(
            "faces",
            Kind::Word(&["outside", "both"]),
            "\"outside\"",
            "sides on which film counts",
        ),
        STICKING_KEY,
        optional("material", Kind::Text, "what it is made of"),
        optional(
            "wall",
            Kind::Quantity(Length, &EXTENT),
            "thickness of its wall, for heat",
        ),
        optional(
            "limit",
            Kind::Quantity(Temperature, &KELVIN),
            "temperature it bears, for heat",
        ),
        optional(
            "emissivity",
            Kind::Number(&EMISSIVITY),
            "emissivity for thermal radiation",
        ),
        or(
            "clear",
            Kind::Flag,
            "false",
            "whether its material is clear, for looks",
        ),
    ],
};

pub(super) static REGION: Entries = Entries {
    by: By::Name,
    least: 0,
    keys: &[
        required("name", Kind::Name(Naming::Plain), "its name"),
        PART_NAME,
        optional(
            "inside",
            Kind::Tagged(&INSIDE),
            "a shape in the part's coordinates",
        ),
        optional("object", Kind::Text, "name of an object in the mesh file"),
        optional(
            "facing",
            Kind::Direction,
            "direction in which its triangles face, in the part's coordinates",
        ),
        optional(
            "within",
            Kind::Quantity(Angle, &CONE),
            "angle from `facing` within which their normals lie",
        ),
    ],
};

pub(super) static COUPON: Entries = Entries {
    by: By::Name,
    least: 0,
    keys: &[
        required("name", Kind::Name(Naming::File), "its name"),
        required("at", Kind::Vector(Length, &POSITION), "its centre"),
        required("facing", Kind::Direction, "normal of its coated side"),
        or(
            "size",
            Kind::Quantity(Length, &EXTENT),
            "\"10 mm\"",
            "edge of the square",
        ),
        or("rides", RIDES, "\"chamber\"", "what it turns with"),
        STICKING_KEY,
    ],
};

pub(super) static MASK: Entries = Entries {
    by: By::Number,
    least: 0,
    keys: &[
        PART_NAME,
        required("artwork", Kind::Path, "an SVG or DXF file"),
        optional("unit", Kind::LengthUnit, "unit of a DXF file"),
        optional(
            "unit_per_px",
            Kind::Quantity(Length, &EXTENT),
            "size of a px, where an SVG has no physical size",
        ),
        or(
            "opens",
            Kind::Word(&["shapes", "ground"]),
            "\"shapes\"",
            "what is open: the filled shapes, or everything else",
        ),
        required(
            "sheet",
            Kind::Quantity(Length, &EXTENT),
            "thickness of the sheet",
        ),
        or(
            "lift",
            Kind::Quantity(Length, &OFFSET),
            "\"0 um\"",
            "distance of the sheet's foot from the artwork's plane",
        ),
        or(
            "at",
            Kind::Vector(Length, &POSITION),
            r#"["0 mm", "0 mm", "0 mm"]"#,
            "where the artwork's origin sits, in the part's coordinates",
        ),
        TURN_KEY,
        optional(
            "wrap",
            Kind::Quantity(Length, &EXTENT),
            "radius of the cylinder it is laid on, axis along the artwork's y",
        ),
        optional(
            "conform",
            Kind::Direction,
            "direction along which it is pushed onto the mesh",
        ),
        STICKING_KEY,
    ],
};

pub(super) static PROBE: Entries = Entries {
    by: By::Name,
    least: 0,
    keys: &[
        required("name", Kind::Name(Naming::File), "its name"),
        PART_NAME,
        required(
            "from",
            Kind::Vector(Length, &POSITION),
            "its beginning, in the part's coordinates",
        ),
        required(
            "to",
            Kind::Vector(Length, &POSITION),
            "its end, in the part's coordinates",
        ),
        or(
            "points",
            Kind::Count(2, 100_000),
            "201",
            "number of points along it",
        ),
    ],
};
