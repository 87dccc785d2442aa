//! Problems of a plan as a person reads them: one plain line each, then the places underlined.
//!
//! In: the problems with their places and the plan's texts. Out: text for stderr.
//! The plain lines `file:line:col: what is wrong` come first, so that editors and scripts find them;
//! the drawing follows, coloured only on a terminal and never where `NO_COLOR` is set.

use evenfall_sim::plan::model::Place;
use evenfall_sim::plan::{Plan, PlanError, PlanErrors};
use evenfall_sim::scene::SceneIssues;
use miette::{GraphicalReportHandler, GraphicalTheme, LabeledSpan, MietteDiagnostic, NamedSource};
use std::fmt::Write;
use std::io::IsTerminal;
use std::path::{Path, PathBuf};

/// Places drawn per file; the plain lines name all of them.
const MOST_DRAWN: usize = 20;
/// Lines longer than this are named, not drawn, bytes.
const LONGEST_DRAWN_LINE: usize = 240;
/// Texts longer than this are not drawn, bytes.
const LARGEST_DRAWN_TEXT: usize = 1 << 20;

/// How drawings look.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Look {
    /// Line-drawing characters and colours.
    Coloured,
    /// Line-drawing characters.
    Plain,
    /// Letters and signs of ASCII only.
    Ascii,
}

impl Look {
    /// What stderr can show and its owner wants.
    pub fn of_stderr() -> Self {
        let wants_no_colour = std::env::var_os("NO_COLOR").is_some_and(|value| !value.is_empty());
        match (std::io::stderr().is_terminal(), wants_no_colour) {
            (false, _) => Self::Ascii,
            (true, true) => Self::Plain,
            (true, false) => Self::Coloured,
        }
    }

    fn theme(self) -> GraphicalTheme {
        match self {
            Self::Coloured => GraphicalTheme::unicode(),
            Self::Plain => GraphicalTheme::unicode_nocolor(),
            Self::Ascii => GraphicalTheme::none(),
        }
    }
}

/// Problems of a plan or of the scene it describes, with the texts they stand in.
#[derive(Debug, Clone, PartialEq)]
pub struct Problems {
    found: Vec<Problem>,
    files: Vec<(PathBuf, String)>,
}

/// One of them.
#[derive(Debug, Clone, PartialEq)]
struct Problem {
    place: Option<Place>,
    key: String,
    message: String,
}

impl Problems {
    /// What the reader of plans found.
    pub fn of_plan(found: &[PlanError], files: &[(PathBuf, String)]) -> Self {
        Self {
            found: found
                .iter()
                .map(|error| Problem {
                    place: error.place().cloned(),
                    key: error.key().to_owned(),
                    message: error.message(),
                })
                .collect(),
            files: files.to_vec(),
        }
    }

    /// What was found when the plan was made solid, each at the place of the key it belongs to.
    pub fn of_scene(found: &SceneIssues, plan: &Plan) -> Self {
        Self {
            found: found
                .issues
                .iter()
                .map(|issue| Problem {
                    place: Some(place_of(issue.key(), plan)),
                    key: issue.key().to_owned(),
                    message: format!("{}: {issue}", issue.key()),
                })
                .collect(),
            files: plan.files.clone(),
        }
    }
}

impl From<PlanErrors> for Problems {
    fn from(errors: PlanErrors) -> Self {
        Self::of_plan(&errors.errors, &errors.files)
    }
}

/// Where a key stands, or else what encloses it, or else the plan's head.
fn place_of(key: &str, plan: &Plan) -> Place {
    let head = || Place {
        file: plan.path.clone(),
        start: 0,
        end: 0,
        line: 1,
        column: 1,
    };
    plan.place_of(key).cloned().unwrap_or_else(head)
}

/// All problems, each on a line, then the places in each file underlined.
pub fn drawn(problems: &Problems, look: Look) -> String {
    let mut text = String::new();
    for error in &problems.found {
        // Writing into a String cannot fail.
        let _ = writeln!(text, "{}", line(error));
    }
    for (file, content) in &problems.files {
        let here: Vec<_> = problems
            .found
            .iter()
            .filter_map(|error| Some((error, error.place.as_ref()?)))
            .filter(|(_, place)| place.file == *file)
            .collect();
        if let Some(picture) = drawing(file, content, &here, look) {
            let _ = write!(text, "\n{}", picture.trim_end());
            text.push('\n');
        }
    }
    let _ = write!(
        text,
        "\n{} found; nothing was written",
        crate::say::counted(problems.found.len(), "problem")
    );
    text
}

/// `file:line:col: what is wrong`, on one line.
fn line(problem: &Problem) -> String {
    let place = problem.place.as_ref().map_or_else(String::new, |place| {
        format!("{}:{}:{}: ", place.file.display(), place.line, place.column)
    });
    printable_line(&format!("{place}{}", problem.message))
}

/// The places of one file, underlined and named by their keys; nothing where nothing can be drawn well.
fn drawing(file: &Path, content: &str, here: &[(&Problem, &Place)], look: Look) -> Option<String> {
    if content.len() > LARGEST_DRAWN_TEXT {
        return None;
    }
    let mut labels: Vec<LabeledSpan> = Vec::new();
    let mut marked: Vec<(usize, usize)> = Vec::new();
    for (error, place) in here {
        let (start, end) = (place.start, shortened_end(content, place)?);
        if labels.len() == MOST_DRAWN || marked.contains(&(start, end)) {
            continue;
        }
        if longest_line_around(content, start) > LONGEST_DRAWN_LINE {
            continue;
        }
        marked.push((start, end));
        let name = if error.key.is_empty() {
            "here".to_owned()
        } else {
            printable_line(&error.key)
        };
        labels.push(LabeledSpan::new(Some(name), start, end - start));
    }
    if labels.is_empty() {
        return None;
    }
    let name = printable_line(&file.display().to_string());
    let message = format!("{} in {name}", crate::say::counted(here.len(), "problem"));
    let report = miette::Report::new(MietteDiagnostic::new(message).with_labels(labels))
        .with_source_code(NamedSource::new(name, printable_text(content)));
    let mut text = String::new();
    GraphicalReportHandler::new_themed(look.theme())
        .with_width(100)
        .render_report(&mut text, report.as_ref())
        .ok()?;
    Some(text)
}

/// The end of what is underlined: inside the text, on the line it starts on, at a character's edge.
fn shortened_end(content: &str, place: &Place) -> Option<usize> {
    let rest = content.get(place.start..)?;
    let line_end = place.start + rest.find('\n').unwrap_or(rest.len());
    let end = place.end.clamp(place.start, line_end);
    content.is_char_boundary(end).then_some(end)
}

/// Length of the longest of the three lines that a drawing of this place shows, bytes.
fn longest_line_around(content: &str, start: usize) -> usize {
    let head = content.get(..start).unwrap_or(content);
    let from = head
        .rmatch_indices('\n')
        .nth(1)
        .map_or(0, |(index, _)| index + 1);
    content
        .get(from..)
        .unwrap_or("")
        .lines()
        .take(3)
        .map(str::len)
        .max()
        .unwrap_or(0)
}

/// A text on one line that cannot steer a terminal.
pub fn printable_line(text: &str) -> String {
    text.chars()
        .map(|letter| {
            if letter.is_control() {
                '\u{fffd}'
            } else {
                letter
            }
        })
        .collect()
}

/// The same number of bytes, line feeds and tabs kept, nothing that could steer a terminal.
fn printable_text(text: &str) -> String {
    text.chars()
        .map(|letter| match letter {
            '\n' | '\t' => letter,
            _ if !letter.is_control() => letter,
            _ if letter.len_utf8() == 1 => '?',
            // The controls beyond ASCII (U+0080 to U+009F) take two bytes, as this sign does.
            _ => '¿',
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sample(content: &str, spans: &[(usize, usize, &str)]) -> Problems {
        let file = PathBuf::from("horn.toml");
        let found = spans
            .iter()
            .map(|&(start, end, key)| Problem {
                place: Some(Place {
                    file: file.clone(),
                    start,
                    end,
                    line: 1 + content[..start].matches('\n').count(),
                    column: 1 + start - content[..start].rfind('\n').map_or(0, |at| at + 1),
                }),
                key: key.to_owned(),
                message: "film -3 nm (a film is not negative); say 3 nm".to_owned(),
            })
            .collect();
        Problems {
            found,
            files: vec![(file, content.to_owned())],
        }
    }

    #[test]
    fn plain_line_comes_first_and_the_place_is_underlined() {
        let content = "[film]\nwant = \"-3 nm\"\n";
        let text = drawn(&sample(content, &[(14, 21, "film.want")]), Look::Ascii);
        assert!(
            text.starts_with("horn.toml:2:8: film -3 nm (a film is not negative); say 3 nm\n"),
            "{text}"
        );
        assert!(text.contains("film.want"), "{text}");
        assert!(text.contains("want = \"-3 nm\""), "{text}");
        assert!(
            !text.contains('\u{1b}'),
            "colour without a terminal: {text}"
        );
    }

    #[test]
    fn all_problems_are_named_though_not_all_are_drawn() {
        let content = "x = 1\n".repeat(100);
        let spans: Vec<_> = (0..100).map(|line| (6 * line, 6 * line + 1, "x")).collect();
        let text = drawn(&sample(&content, &spans), Look::Ascii);
        assert_eq!(
            text.matches("horn.toml:").count(),
            100 + text.matches("[horn.toml:").count()
        );
        assert!(text.ends_with("100 problems found; nothing was written"));
    }

    #[test]
    fn a_huge_line_is_named_but_not_drawn() {
        let content = format!("x = \"{}\"\n", "y".repeat(100_000));
        let text = drawn(&sample(&content, &[(4, 100_006, "x")]), Look::Ascii);
        assert!(text.len() < 300, "{} bytes", text.len());
    }

    #[test]
    fn control_characters_of_a_plan_do_not_reach_the_terminal() {
        let content = "x = \"\u{1b}[31m\u{9b}\"\n";
        let text = drawn(&sample(content, &[(4, 11, "\u{1b}[2J")]), Look::Ascii);
        assert!(!text.contains(['\u{1b}', '\u{9b}']), "{text:?}");
    }

    #[test]
    fn a_place_outside_the_text_is_only_named() {
        let text = drawn(&sample("x = 1\n", &[(4, 5, "x")]), Look::Ascii);
        let mut beyond = sample("x = 1\n", &[(4, 5, "x")]);
        if let Some(place) = &mut beyond.found[0].place {
            (place.start, place.end) = (400, 500);
        }
        assert!(drawn(&beyond, Look::Ascii).len() < text.len());
    }
}
