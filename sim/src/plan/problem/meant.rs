//! What can be wrong between values: names that meet nothing, values that do not go together.

use thiserror::Error;

/// Values that do not go together.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum MeantProblem {
    /// `[source]` where `[[source]]` belongs.
    #[error("is a single table (there may be several {name}s); write [[{name}]]")]
    OneTable {
        /// Its key.
        name: String,
    },
    /// `[[chamber]]` where `[chamber]` belongs.
    #[error("is a list of tables (there is one {name} at most); write [{name}]")]
    ManyTables {
        /// Its key.
        name: String,
    },
    /// Two of one kind with one name.
    #[error(
        "\"{name}\" is taken (line {line} names another {what} so); give each {what} its own name"
    )]
    NameTaken {
        /// The name.
        name: String,
        /// Kind of thing.
        what: String,
        /// Line of the first.
        line: usize,
    },
    /// Two names that file systems may not tell apart.
    #[error(
        "\"{name}\" differs from \"{other}\" only by case (many disks would write both to one file); rename one of them"
    )]
    NameAlike {
        /// The name.
        name: String,
        /// The other.
        other: String,
    },
    /// A name that meets nothing.
    #[error("\"{name}\" is no {what} of this plan ({}); {}", there_are(.known), meant(.nearest, .what))]
    NoSuch {
        /// The name.
        name: String,
        /// Kind of thing.
        what: &'static str,
        /// Names there are.
        known: Vec<String>,
        /// The nearest of them.
        nearest: Option<String>,
    },
    /// A metal of the plan that every plan knows.
    #[error(
        "\"{name}\" is known already ({density} g/cm3, {molar_mass} g/mol); give your own another name"
    )]
    MetalKnown {
        /// Its name.
        name: String,
        /// Its built-in density, g/cm³.
        density: String,
        /// Its built-in molar mass, g/mol.
        molar_mass: String,
    },
    /// Something that needs something else.
    #[error("needs {what} ({why}); {instead}")]
    Needs {
        /// What is missing.
        what: String,
        /// Why.
        why: &'static str,
        /// What to do.
        instead: String,
    },
    /// Something that has no meaning beside something else.
    #[error("does not go with {other} ({why}); {instead}")]
    DoesNotGoWith {
        /// The other thing.
        other: String,
        /// Why.
        why: &'static str,
        /// What to do.
        instead: &'static str,
    },
    /// A value that has to be smaller than another.
    #[error("{value} must be below {other} {limit} ({why}); {instead}")]
    NotBelow {
        /// As written.
        value: String,
        /// The other key, or a name for it.
        other: String,
        /// As written.
        limit: String,
        /// Why.
        why: &'static str,
        /// What to do.
        instead: &'static str,
    },
    /// Two directions that must differ.
    #[error(
        "{along} is parallel to facing {facing} (nothing of it lies in the face); write a direction in the face"
    )]
    Parallel {
        /// As written.
        along: String,
        /// As written.
        facing: String,
    },
    /// A list with one entry per rotation.
    #[error("has {found} (the plan has {}); write one per rotation", counted(*.rotations, "rotation"))]
    PerRotation {
        /// Its length, in words.
        found: String,
        /// Rotations of the plan.
        rotations: usize,
    },
    /// A shutter that is shut and does not exist.
    #[error(
        "\"shut\" shuts nothing (the plan has no [[shutter]], the film would land all the same); add the [[shutter]], or power = 0 for a step without metal"
    )]
    NothingToShut,
    /// No step in which a source with power is not shut off.
    #[error(
        "is never open (in every step the power is 0 or a shutter over the source is shut, so no film lands); open one step"
    )]
    NeverOpen,
    /// A charge that cannot leave.
    #[error(
        "can never leave (the power of {source_name} is 0 in every step); give it power in a step"
    )]
    ChargeStays {
        /// Its source.
        source_name: String,
    },
    /// A region that is wanted and unwanted.
    #[error(
        "\"{name}\" is also in film.bare (film cannot be wanted and unwanted there); keep one of them"
    )]
    WantedAndBare {
        /// The region.
        name: String,
    },
    /// A metal that no source emits.
    #[error(
        "\"{metal}\" comes from no source of this plan (they emit {emitted}); want a metal that is emitted"
    )]
    NotEmitted {
        /// The metal.
        metal: String,
        /// Those emitted.
        emitted: String,
    },
    /// The same thing twice in a list.
    #[error("\"{name}\" stands here twice (once says it all); leave one out")]
    Twice {
        /// The name.
        name: String,
    },
    /// Something with a beginning equal to its end.
    #[error("is the same point as from (the line has no length); move one of them")]
    NoLength,
    /// A file that is not there.
    #[error(
        "{path} does not exist (it is needed for the run); check the path, which is relative to the plan"
    )]
    NoFile {
        /// The file.
        path: String,
    },
    /// A file of a kind that is not read.
    #[error("{path} is no {wanted} (nothing else is read here); export it as one")]
    OtherFile {
        /// The file.
        path: String,
        /// What is read.
        wanted: &'static str,
    },
    /// More than a fixed number of something.
    #[error("is number {found} of its kind (at most {most} are kept apart); leave some out")]
    TooMany {
        /// How many.
        found: usize,
        /// The limit.
        most: usize,
    },
    /// A key of `advise` that names nothing.
    #[error("\"{key}\" names no value ({why}); {instead}")]
    NoSuchKey {
        /// As written.
        key: String,
        /// Why.
        why: String,
        /// What to do.
        instead: String,
    },
    /// More problems than anybody reads.
    #[error("{more} more problems (only the first {shown} are listed); correct those first")]
    MoreProblems {
        /// Not listed.
        more: usize,
        /// Listed.
        shown: usize,
    },
}

fn there_are(known: &[String]) -> String {
    if known.is_empty() {
        "it has none".to_owned()
    } else {
        let most = 12;
        let mut listed = known
            .iter()
            .take(most)
            .cloned()
            .collect::<Vec<_>>()
            .join(", ");
        if known.len() > most {
            listed.push_str(", …");
        }
        format!("there are: {listed}")
    }
}

fn meant(nearest: &Option<String>, what: &str) -> String {
    match nearest {
        Some(nearest) => format!("did you mean \"{nearest}\"?"),
        None => format!("correct the name or add the [[{what}]]"),
    }
}

/// As in "2 rotations".
pub(in crate::plan) fn counted(count: usize, what: &str) -> String {
    match count {
        1 => format!("1 {what}"),
        many => format!("{many} {what}s"),
    }
}
