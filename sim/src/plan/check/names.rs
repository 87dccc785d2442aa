//! Which names are well-formed, and which known word somebody may have meant.

use strsim::damerau_levenshtein;

/// Longest name, characters.
pub(in crate::plan) const MOST_CHARACTERS: usize = 64;

/// Signs that a name cannot have: dots part keys, the others part paths or are refused by file
/// systems and tables.
const NOT_IN_NAMES: &str = ".,;/\\:*?\"'<>|=[]{}#`";

/// Base names that Windows keeps for devices.
const DEVICES: [&str; 4] = ["con", "prn", "aux", "nul"];

/// Why a text is no name, and what to do.
pub(in crate::plan) fn why_not(name: &str) -> Option<(String, &'static str)> {
    let rename = "write letters, digits, spaces, - or _";
    if name.is_empty() {
        return Some(("it is empty".to_owned(), "write for example \"horn\""));
    }
    if name.chars().count() > MOST_CHARACTERS {
        return Some((
            format!("it has more than {MOST_CHARACTERS} characters"),
            "write a shorter one",
        ));
    }
    if name.trim() != name {
        return Some((
            "it begins or ends with a space".to_owned(),
            "write it without",
        ));
    }
    if let Some(c) = name.chars().find(|c| c.is_control()) {
        return Some((
            format!("it has the control character {}", c.escape_default()),
            rename,
        ));
    }
    if let Some(c) = name.chars().find(|c| NOT_IN_NAMES.contains(*c)) {
        let why = if c == '.' {
            "the dot parts keys, as in part.horn.at".to_owned()
        } else {
            format!("it has the sign {c}, which keys, tables or file names use")
        };
        return Some((why, rename));
    }
    None
}

/// Why a well-formed name cannot be part of a file's name, and what to do.
pub(in crate::plan) fn why_no_file(name: &str) -> Option<(String, &'static str)> {
    let lower = name.to_lowercase();
    let port = ["com", "lpt"].iter().any(|p| {
        lower
            .strip_prefix(p)
            .is_some_and(|rest| rest.chars().count() == 1 && rest.chars().all(char::is_numeric))
    });
    (port || DEVICES.contains(&lower.as_str())).then(|| {
        (
            "it is used in file names and some systems keep it for a device".to_owned(),
            "write another",
        )
    })
}

/// The known word nearest to what somebody wrote, if one is near.
///
/// Near: at most a quarter of its letters (at least one) changed, swapped, added or left out.
pub(in crate::plan) fn nearest<'a>(
    written: &str,
    known: impl Iterator<Item = &'a str>,
) -> Option<String> {
    if written.chars().count() > MOST_CHARACTERS {
        return None;
    }
    let plain = written.to_lowercase().replace([' ', '-'], "_");
    known
        .map(|word| {
            let folded = word.to_lowercase().replace([' ', '-'], "_");
            (damerau_levenshtein(&plain, &folded), word)
        })
        .filter(|(distance, word)| *distance <= (word.chars().count() / 4).max(1))
        .min_by_key(|(distance, _)| *distance)
        .map(|(_, word)| word.to_owned())
}
