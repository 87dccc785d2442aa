//! The body of a PLY: values one after the other, as text or as bytes of either order.
//!
//! In: what follows the header. Out: numbers of the declared kinds, each checked against what is
//! left of the file before anything is done with it.

use super::error::{At, Fault, MeshPlace, MeshProblem, shortened};
use super::text::{Words, number};

/// A scalar type of PLY, under its old or its new name.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Kind {
    I8,
    U8,
    I16,
    U16,
    I32,
    U32,
    F32,
    F64,
}

impl Kind {
    pub fn named(name: &[u8]) -> Option<Self> {
        Some(match name {
            b"char" | b"int8" => Self::I8,
            b"uchar" | b"uint8" => Self::U8,
            b"short" | b"int16" => Self::I16,
            b"ushort" | b"uint16" => Self::U16,
            b"int" | b"int32" => Self::I32,
            b"uint" | b"uint32" => Self::U32,
            b"float" | b"float32" => Self::F32,
            b"double" | b"float64" => Self::F64,
            _ => return None,
        })
    }

    fn size(self) -> usize {
        match self {
            Self::I8 | Self::U8 => 1,
            Self::I16 | Self::U16 => 2,
            Self::I32 | Self::U32 | Self::F32 => 4,
            Self::F64 => 8,
        }
    }

    fn of_little(self, b: &[u8]) -> f64 {
        match (self, b) {
            (Self::I8, [a]) => f64::from(i8::from_le_bytes([*a])),
            (Self::U8, [a]) => f64::from(*a),
            (Self::I16, [a, b]) => f64::from(i16::from_le_bytes([*a, *b])),
            (Self::U16, [a, b]) => f64::from(u16::from_le_bytes([*a, *b])),
            (Self::I32, [a, b, c, d]) => f64::from(i32::from_le_bytes([*a, *b, *c, *d])),
            (Self::U32, [a, b, c, d]) => f64::from(u32::from_le_bytes([*a, *b, *c, *d])),
            (Self::F32, [a, b, c, d]) => f64::from(f32::from_le_bytes([*a, *b, *c, *d])),
            (_, [a, b, c, d, e, f, g, h]) => f64::from_le_bytes([*a, *b, *c, *d, *e, *f, *g, *h]),
            _ => f64::NAN,
        }
    }
}

/// Values after the header.
pub(super) enum Body<'a> {
    /// One item per line.
    Ascii {
        rest: &'a [u8],
        line: usize,
        words: Option<Words<'a>>,
    },
    /// Bytes.
    Binary {
        bytes: &'a [u8],
        at: usize,
        order: Order,
    },
}

/// Byte order.
#[derive(Clone, Copy)]
pub(super) enum Order {
    Little,
    Big,
}

impl<'a> Body<'a> {
    pub fn ascii(bytes: &'a [u8], at: usize, line: usize) -> Self {
        Self::Ascii {
            rest: &bytes[at..],
            line: line - 1,
            words: None,
        }
    }

    pub fn little(bytes: &'a [u8], at: usize) -> Self {
        let order = Order::Little;
        Self::Binary { bytes, at, order }
    }

    pub fn big(bytes: &'a [u8], at: usize) -> Self {
        let order = Order::Big;
        Self::Binary { bytes, at, order }
    }

    /// Where the item that comes next starts.
    pub fn place(&self) -> MeshPlace {
        match self {
            Self::Ascii { line, words, .. } => {
                MeshPlace::Line((line + usize::from(words.is_none())) as u64)
            }
            Self::Binary { at, .. } => MeshPlace::Byte(*at as u64),
        }
    }

    /// A number.
    pub fn scalar(&mut self, kind: Kind) -> Result<f64, Fault> {
        match self {
            Self::Ascii { .. } => {
                let word = self.word()?;
                number(word).at(|| self.place())
            }
            Self::Binary { .. } => {
                let place = self.place();
                let Self::Binary { bytes, at, order } = self else {
                    return Ok(f64::NAN);
                };
                let piece = take(bytes, at, kind.size()).at(|| place)?;
                let mut little = [0; 8];
                let little = &mut little[..piece.len()];
                little.copy_from_slice(piece);
                if matches!(order, Order::Big) {
                    little.reverse();
                }
                Ok(kind.of_little(little))
            }
        }
    }

    /// A whole number.
    pub fn integer(&mut self, kind: Kind) -> Result<i64, Fault> {
        let place = self.place();
        let value = self.scalar(kind)?;
        // All whole kinds of PLY fit into 32 bits.
        let fits = value.abs() <= f64::from(u32::MAX);
        if value.fract() != 0.0 || !fits {
            return Err(MeshProblem::Unexpected {
                expected: "a whole number",
                found: value.to_string(),
            })
            .at(|| place);
        }
        #[expect(
            clippy::cast_possible_truncation,
            reason = "a whole number of at most 32 bits and a sign"
        )]
        let value = value as i64;
        Ok(value)
    }

    /// The length of a list of `items`, checked against what is left.
    pub fn count(&mut self, kind: Kind, items: Kind) -> Result<usize, Fault> {
        let place = self.place();
        let count = self.integer(kind)?;
        let negative = || MeshProblem::OutOfRange {
            what: "list length",
            index: count,
            count: u64::from(u32::MAX),
        };
        let length = usize::try_from(count)
            .map_err(|_| negative())
            .at(|| place.clone())?;
        let (needs, has) = match self {
            // A digit and a blank at least.
            Self::Ascii { rest, words, .. } => {
                let line = words.as_ref().map_or(0, Words::left);
                (length, line.max(rest.len()))
            }
            Self::Binary { bytes, at, .. } => {
                (length.saturating_mul(items.size()), bytes.len() - *at)
            }
        };
        if needs > has {
            return Err(MeshProblem::Truncated {
                what: "a list",
                needs: needs as u64,
                has: has as u64,
            })
            .at(|| place);
        }
        Ok(length)
    }

    /// Passes over a value or a list.
    pub fn skip(&mut self, kind: Kind, list: Option<Kind>) -> Result<(), Fault> {
        let length = match list {
            Some(count) => self.count(count, kind)?,
            None => 1,
        };
        if let Self::Binary { bytes, at, .. } = self {
            let place = MeshPlace::Byte(*at as u64);
            take(bytes, at, length * kind.size()).at(|| place)?;
        } else {
            for _ in 0..length {
                self.word()?;
            }
        }
        Ok(())
    }

    /// Ends an item: a line of text must be used up.
    pub fn end_of_item(&mut self) -> Result<(), Fault> {
        let Self::Ascii { line, words, .. } = self else {
            return Ok(());
        };
        match words.take().as_mut().and_then(Words::next) {
            None => Ok(()),
            Some(word) => Err(MeshProblem::Unexpected {
                expected: "the end of the line",
                found: shortened(word),
            })
            .at_line(*line),
        }
    }

    /// Refuses anything but blanks after the last element.
    pub fn must_be_over(&self) -> Result<(), Fault> {
        let (rest, place) = match self {
            Self::Ascii { rest, line, .. } => {
                (rest.trim_ascii_start(), MeshPlace::Line(*line as u64 + 1))
            }
            Self::Binary { bytes, at, .. } => (&bytes[*at..], MeshPlace::Byte(*at as u64)),
        };
        if rest.is_empty() {
            return Ok(());
        }
        Err(MeshProblem::Unexpected {
            expected: "the end of the file after the last announced element",
            found: format!("{} more bytes", rest.len()),
        })
        .at(|| place)
    }

    /// The next word of this item, which starts on the next line that is not blank.
    fn word(&mut self) -> Result<&'a [u8], Fault> {
        let Self::Ascii { rest, line, words } = self else {
            return Ok(b"");
        };
        while words.is_none() {
            if rest.is_empty() {
                return Err(MeshProblem::Unexpected {
                    expected: "another element, as the header announces",
                    found: "the end of the file".to_owned(),
                })
                .at_line(*line + 1);
            }
            let end = rest
                .iter()
                .position(|byte| *byte == b'\n')
                .unwrap_or(rest.len());
            let text = &rest[..end];
            *rest = rest.get(end + 1..).unwrap_or_default();
            *line += 1;
            if !text.trim_ascii().is_empty() {
                *words = Some(Words::new(text));
            }
        }
        match words.as_mut().and_then(Words::next) {
            Some(word) => Ok(word),
            None => Err(MeshProblem::Unexpected {
                expected: "another value of the element",
                found: "the end of the line".to_owned(),
            })
            .at_line(*line),
        }
    }
}

fn take<'a>(bytes: &'a [u8], at: &mut usize, size: usize) -> Result<&'a [u8], MeshProblem> {
    let piece = at
        .checked_add(size)
        .and_then(|end| bytes.get(*at..end))
        .ok_or(MeshProblem::Truncated {
            what: "the next element",
            needs: size as u64,
            has: (bytes.len() - *at) as u64,
        })?;
    *at += size;
    Ok(piece)
}
