//! Which files of the outcome folder are wanted: `report,summary,triangles,probes,mesh,views,outcome`.
//!
//! In: the words of `--write`. Out: a [`WriteList`] for `outcome::write`.

use std::collections::BTreeSet;
use std::fmt;
use std::str::FromStr;

/// One kind of file in the outcome folder.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum WriteItem {
    /// `report.html`.
    Report,
    /// `summary.json`.
    Summary,
    /// `triangles.csv`.
    Triangles,
    /// `probe-NAME.csv`.
    Probes,
    /// `coat.ply`, `coat.vtu` and `coat.glb`.
    Mesh,
    /// `view-*.png`.
    Views,
    /// `coat.evenfall`.
    Outcome,
}

impl WriteItem {
    /// All kinds, in the order of the contract.
    pub const ALL: [Self; 7] = [
        Self::Report,
        Self::Summary,
        Self::Triangles,
        Self::Probes,
        Self::Mesh,
        Self::Views,
        Self::Outcome,
    ];

    /// Its word on the command line.
    pub fn word(self) -> &'static str {
        match self {
            Self::Report => "report",
            Self::Summary => "summary",
            Self::Triangles => "triangles",
            Self::Probes => "probes",
            Self::Mesh => "mesh",
            Self::Views => "views",
            Self::Outcome => "outcome",
        }
    }
}

/// What to write. `summary.json` is written in any case: by it the next run knows the folder as an outcome.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct WriteList {
    /// The kinds wanted; never empty.
    pub items: BTreeSet<WriteItem>,
}

impl WriteList {
    /// True when this kind is wanted.
    pub fn has(&self, item: WriteItem) -> bool {
        self.items.contains(&item)
    }
}

impl Default for WriteList {
    /// Everything.
    fn default() -> Self {
        Self {
            items: WriteItem::ALL.into_iter().collect(),
        }
    }
}

/// What is wrong with a list of files to write.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum WriteListError {
    /// A word that names nothing.
    #[error(
        "\"{word}\" names no file of the outcome (known: {}); separate words with commas",
        known()
    )]
    Unknown {
        /// The word.
        word: String,
    },
    /// No word at all.
    #[error(
        "the list of files to write is empty (nothing would be kept); name at least one of {}",
        known()
    )]
    Empty,
}

fn known() -> String {
    WriteItem::ALL.map(WriteItem::word).join(", ")
}

impl FromStr for WriteList {
    type Err = WriteListError;

    fn from_str(text: &str) -> Result<Self, WriteListError> {
        if text.trim().is_empty() {
            return Err(WriteListError::Empty);
        }
        let mut items = BTreeSet::new();
        for word in text.split(',').map(str::trim) {
            let item = WriteItem::ALL.into_iter().find(|item| item.word() == word);
            items.insert(item.ok_or_else(|| WriteListError::Unknown {
                word: word.to_owned(),
            })?);
        }
        Ok(Self { items })
    }
}

impl fmt::Display for WriteList {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let words: Vec<_> = self.items.iter().map(|item| item.word()).collect();
        f.write_str(&words.join(","))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_of_the_contract_are_read_in_any_order_and_printed_in_its_own() {
        let list: WriteList = "outcome, report,triangles".parse().unwrap();
        assert_eq!(list.to_string(), "report,triangles,outcome");
        assert!(!list.has(WriteItem::Summary));
        let all: WriteList = "report,summary,triangles,probes,mesh,views,outcome"
            .parse()
            .unwrap();
        assert_eq!(all, WriteList::default());
    }

    #[test]
    fn unknown_and_missing_words_are_refused_with_the_known_ones() {
        let unknown = "report,pictures".parse::<WriteList>().unwrap_err();
        assert_eq!(
            unknown.to_string(),
            "\"pictures\" names no file of the outcome (known: report, summary, triangles, probes, mesh, \
             views, outcome); separate words with commas"
        );
        assert_eq!(" ".parse::<WriteList>().unwrap_err(), WriteListError::Empty);
        let trailing = "report,".parse::<WriteList>().unwrap_err();
        assert!(trailing.to_string().starts_with("\"\" names no file"));
    }
}
