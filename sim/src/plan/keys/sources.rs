//! Keys of gas, metals and sources.

use super::*;
use Dimension::{
    Area, Current, Density, Energy, Length, Mass, MolarMass, Power, Pressure, Resistivity,
    Temperature, Time, Voltage,
};

pub(super) static GAS: &[Key] = &[
    or(
        "species",
        Kind::Word(&["argon", "neon", "krypton", "xenon", "nitrogen"]),
        "\"argon\"",
        "the gas",
    ),
    required(
        "pressure",
        Kind::Quantity(Pressure, &PRESSURE),
        "pressure during the run",
    ),
    or(
        "temperature",
        Kind::Quantity(Temperature, &KELVIN),
        "\"300 K\"",
        "temperature of the gas",
    ),
    optional(
        "base_pressure",
        Kind::Quantity(Pressure, &PRESSURE),
        "residual pressure before the gas is let in",
    ),
    optional(
        "free_path",
        Kind::Quantity(Length, &FREE_PATH),
        "free path 1/(n·sigma) at this pressure, instead of the built-in one",
    ),
    or(
        "scatter",
        Kind::Word(&["hard-sphere", "hard-sphere-at-rest", "isotropic"]),
        "\"hard-sphere\"",
        "how atoms are deflected; the two others serve checks",
    ),
];

pub(super) static METAL: Entries = Entries {
    by: By::Name,
    least: 0,
    keys: &[
        required("name", Kind::Name(Naming::Plain), "its name"),
        required(
            "density",
            Kind::Quantity(Density, &DENSITY),
            "density of the bulk",
        ),
        required(
            "molar_mass",
            Kind::Quantity(MolarMass, &MOLAR_MASS),
            "mass of a mole of atoms",
        ),
        optional(
            "surface_binding",
            Kind::Quantity(Energy, &ENERGY),
            "surface binding energy of an atom",
        ),
        optional(
            "resistivity",
            Kind::Quantity(Resistivity, &RESISTIVITY),
            "resistivity of the bulk",
        ),
        optional(
            "melting_point",
            Kind::Quantity(Temperature, &KELVIN),
            "melting point",
        ),
        optional(
            "diameter",
            Kind::Quantity(Length, &EXTENT_OF_ATOM),
            "diameter of an atom in collisions",
        ),
        optional(
            "nk_table",
            Kind::Path,
            "table of n and k, columns wavelength_nm,n,k",
        ),
    ],
};

static EXTENT_OF_ATOM: Range = from(
    1e-11,
    1e-8,
    "as atoms are some tenths of a nanometre wide",
    "check the unit",
);

static FOOTPRINT: Tagged = Tagged {
    tag: "shape",
    help: "shape of the emitting face",
    common: &[],
    variants: &[
        Variant {
            name: "spot",
            help: "a tiny flat area",
            keys: &[],
        },
        Variant {
            name: "disc",
            help: "a disc",
            keys: &[required(
                "radius",
                Kind::Quantity(Length, &EXTENT),
                "its radius",
            )],
        },
        Variant {
            name: "ring",
            help: "a ring",
            keys: &[
                required(
                    "inner_radius",
                    Kind::Quantity(Length, &EXTENT),
                    "its inner radius",
                ),
                required(
                    "outer_radius",
                    Kind::Quantity(Length, &EXTENT),
                    "its outer radius",
                ),
            ],
        },
        Variant {
            name: "rectangle",
            help: "a rectangle",
            keys: &[
                required(
                    "width",
                    Kind::Quantity(Length, &EXTENT),
                    "extent along `along`",
                ),
                required(
                    "depth",
                    Kind::Quantity(Length, &EXTENT),
                    "extent across `along`",
                ),
            ],
        },
        Variant {
            name: "line",
            help: "a line along `along`",
            keys: &[required(
                "length",
                Kind::Quantity(Length, &EXTENT),
                "its length",
            )],
        },
        Variant {
            name: "groove",
            help: "an erosion groove",
            keys: &[required(
                "table",
                Kind::Path,
                "table of weight per unit area, columns radius_mm,weight",
            )],
        },
        Variant {
            name: "mesh",
            help: "the faces of a mesh, along their normals",
            keys: &[
                required("file", Kind::Path, "the mesh file"),
                optional(
                    "unit",
                    Kind::LengthUnit,
                    "unit of the file, needed where it carries none",
                ),
            ],
        },
        Variant {
            name: "point",
            help: "a point that emits in all directions",
            keys: &[],
        },
    ],
};

static LAW: &[Variant] = &[
    Variant {
        name: "cosine",
        help: "a power of the cosine",
        keys: &[required(
            "cosine",
            Kind::Number(&EXPONENT),
            "exponent n of cos^n per solid angle",
        )],
    },
    Variant {
        name: "table",
        help: "a table",
        keys: &[required(
            "table",
            Kind::Path,
            "table of weight per solid angle, columns angle_deg,weight",
        )],
    },
];

const ELECTRON_SHARE: Key = or(
    "electron_share",
    Kind::Number(&ELECTRONS),
    "0.1",
    "share of the current that electrons carry",
);
const VOLTAGE_KEY: Key = required(
    "voltage",
    Kind::Quantity(Voltage, &VOLTAGE),
    "voltage of the discharge",
);

static OUTPUT: &[Variant] = &[
    Variant {
        name: "charge",
        help: "all of the charge leaves during the run",
        keys: &[required(
            "charge",
            Kind::Quantity(Mass, &MASS),
            "mass that leaves during the run",
        )],
    },
    Variant {
        name: "current",
        help: "a discharge by its current",
        keys: &[
            required(
                "current",
                Kind::Quantity(Current, &CURRENT),
                "current of the discharge",
            ),
            VOLTAGE_KEY,
            ELECTRON_SHARE,
        ],
    },
    Variant {
        name: "power",
        help: "a discharge by its power",
        keys: &[
            required(
                "power",
                Kind::Quantity(Power, &POWER_W),
                "power of the discharge",
            ),
            VOLTAGE_KEY,
            ELECTRON_SHARE,
        ],
    },
    Variant {
        name: "temperature",
        help: "evaporation from a melt",
        keys: &[
            required(
                "temperature",
                Kind::Quantity(Temperature, &KELVIN),
                "temperature of the melt",
            ),
            required("area", Kind::Quantity(Area, &AREA), "area of the melt"),
        ],
    },
    Variant {
        name: "coupon",
        help: "as measured on a coupon",
        keys: &[
            required("coupon", Kind::Reference(Of::Coupon), "name of the coupon"),
            required(
                "thickness",
                Kind::Quantity(Length, &THICKNESS),
                "thickness measured on it",
            ),
            required(
                "after",
                Kind::Quantity(Time, &DURATION),
                "time at full power after which it was measured",
            ),
        ],
    },
    Variant {
        name: "atoms_per_second",
        help: "a rate",
        keys: &[required(
            "atoms_per_second",
            Kind::Number(&RATE),
            "atoms per second at power 1",
        )],
    },
];

pub(super) static SOURCE: Entries = Entries {
    by: By::Name,
    least: 1,
    keys: &[
        required("name", Kind::Name(Naming::Plain), "its name"),
        required(
            "kind",
            Kind::Word(&["sputter", "boat"]),
            "how atoms start: sputtered or evaporated",
        ),
        required("metal", Kind::Reference(Of::Metal), "what it emits"),
        required(
            "at",
            Kind::Vector(Length, &POSITION),
            "centre of the emitting face",
        ),
        optional("facing", Kind::Direction, "normal of the emitting face"),
        required(
            "footprint",
            Kind::Tagged(&FOOTPRINT),
            "shape of the emitting face",
        ),
        optional(
            "along",
            Kind::Direction,
            "direction of the width of a rectangle or the length of a line",
        ),
        optional(
            "law",
            Kind::Marked(LAW),
            "emission per solid angle; { cosine = 1.0 } when left out",
        ),
        required("output", Kind::Marked(OUTPUT), "how much leaves"),
        or(
            "correction",
            Kind::Number(&FACTOR),
            "1.0",
            "factor on the output, as `evenfall tune` writes it",
        ),
        optional(
            "target_thickness",
            Kind::Quantity(Length, &EXTENT),
            "thickness of the target, for the verdict on its groove",
        ),
        optional(
            "energy_cut",
            Kind::Quantity(Energy, &ENERGY),
            "where the energies of sputtered atoms are cut off; 100 eV when left out",
        ),
    ],
};
