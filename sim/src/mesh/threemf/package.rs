//! The archive of a 3MF: members by name, unpacked with limits.

use super::super::error::shortened;
use super::super::error::{Fault, MeshPlace, MeshProblem};
use quick_xml::NsReader;
use quick_xml::events::{BytesStart, Event};
use quick_xml::name::ResolveResult;
use std::io::{BufReader, Cursor, Read};

/// Bytes that any archive may unpack to, however small it is.
const ALWAYS: u64 = 64 << 20;
/// Bytes out of each packed one beyond that. Meshes written as XML come to 5 to 20.
const RATIO: u64 = 50;
/// Longest tag, text or comment of an XML file, bytes.
const PIECE_LIMIT: u64 = 4 << 20;
/// Longest tag, bytes.
const TAG_LIMIT: usize = 64 << 10;
/// Deepest nesting of tags.
const DEPTH_LIMIT: usize = 64;
/// Type of the relationship that names the model.
const MODEL_RELATION: &str = "http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel";

/// An opened archive.
pub(super) struct Package<'a> {
    archive: zip::ZipArchive<Cursor<&'a [u8]>>,
    packed: u64,
    left: u64,
}

/// What is made of an XML file, tag by tag.
pub(super) trait TakeTags {
    /// A tag that opens; `namespace` is empty if there is none.
    fn open(&mut self, namespace: &str, tag: &BytesStart<'_>) -> Result<(), Fault>;
    /// The tag that closes the one opened last.
    fn close(&mut self) -> Result<(), Fault>;
    /// Where this is, for a diagnostic.
    fn element(&self) -> String;
}

impl<'a> Package<'a> {
    pub fn open(bytes: &'a [u8]) -> Result<Self, MeshProblem> {
        let archive = zip::ZipArchive::new(Cursor::new(bytes)).map_err(unpacking)?;
        let packed = bytes.len() as u64;
        Ok(Self {
            archive,
            packed,
            left: ALWAYS + RATIO * packed,
        })
    }

    /// Name of the model that the archive's relationships point at.
    pub fn root_model(&mut self) -> Result<String, Fault> {
        if self.archive.index_for_name("_rels/.rels").is_none() {
            return Ok("3D/3dmodel.model".to_owned());
        }
        let mut relations = Relations(None);
        self.read_xml("_rels/.rels", &mut relations)?;
        Ok(relations.0.unwrap_or_else(|| "3D/3dmodel.model".to_owned()))
    }

    /// Unpacks a member and hands its tags on.
    pub fn read_xml(&mut self, name: &str, taker: &mut impl TakeTags) -> Result<(), Fault> {
        let member = self
            .archive
            .by_name(name)
            .map_err(|error| at(name, unpacking(format!("{name}: {error}"))))?;
        let limit = ALWAYS + RATIO * self.packed;
        let metered = Metered {
            member,
            left: self.left,
            piece: PIECE_LIMIT,
            spent: None,
        };
        let mut reader = NsReader::from_reader(BufReader::with_capacity(1 << 16, metered));
        let result = hand_on(&mut reader, taker);
        let metered = reader.get_mut().get_mut();
        self.left = metered.left;
        result.map_err(|mut fault| {
            // The parser only knows that reading failed; the meter knows why.
            if let Some(spent) = metered.spent.take() {
                fault.problem = Box::new(match spent {
                    Spent::All => MeshProblem::Inflates {
                        limit,
                        packed: self.packed,
                    },
                    Spent::Piece => MeshProblem::Xml {
                        detail: format!("a tag or text is longer than {PIECE_LIMIT} bytes"),
                    },
                });
            }
            if fault.place == MeshPlace::Whole {
                let element = taker.element();
                fault.place = MeshPlace::Element(if element.is_empty() {
                    name.to_owned()
                } else {
                    format!("{name}, {element}")
                });
            }
            fault
        })
    }
}

fn hand_on<R: Read>(
    reader: &mut NsReader<BufReader<Metered<R>>>,
    taker: &mut impl TakeTags,
) -> Result<(), Fault> {
    let mut buffer = Vec::new();
    let mut depth = 0;
    loop {
        buffer.clear();
        reader.get_mut().get_mut().piece = PIECE_LIMIT;
        let (namespace, event) = reader
            .read_resolved_event_into(&mut buffer)
            .map_err(|error| xml(&error))?;
        let namespace = match namespace {
            ResolveResult::Bound(namespace) => namespace.into_inner(),
            ResolveResult::Unbound | ResolveResult::Unknown(_) => "",
        };
        match event {
            Event::Start(tag) => {
                depth += 1;
                if depth > DEPTH_LIMIT {
                    let (what, limit) = ("XML tags", DEPTH_LIMIT);
                    return Err(MeshProblem::TooDeep { what, limit }.into());
                }
                not_too_long(&tag)?;
                taker.open(namespace, &tag)?;
            }
            Event::Empty(tag) => {
                not_too_long(&tag)?;
                taker.open(namespace, &tag)?;
                taker.close()?;
            }
            Event::End(_) => {
                depth -= 1;
                taker.close()?;
            }
            Event::DocType(_) => return Err(MeshProblem::DocumentType.into()),
            Event::Eof if depth > 0 => {
                let detail = format!("it ends with {depth} tags still open");
                return Err(MeshProblem::Xml { detail }.into());
            }
            Event::Eof => return Ok(()),
            _ => {}
        }
    }
}

fn not_too_long(tag: &BytesStart<'_>) -> Result<(), MeshProblem> {
    if tag.len() <= TAG_LIMIT {
        return Ok(());
    }
    Err(MeshProblem::Xml {
        detail: format!("a tag is {} bytes long, more than {TAG_LIMIT}", tag.len()),
    })
}

/// Value of an attribute without a namespace prefix.
pub(super) fn attribute(tag: &BytesStart<'_>, key: &str) -> Result<Option<String>, MeshProblem> {
    for attribute in tag.attributes().with_checks(false) {
        let attribute = attribute.map_err(|error| xml(&error))?;
        if attribute.key.into_inner() == key {
            let value = attribute
                .normalized_value(quick_xml::XmlVersion::Implicit1_0)
                .map_err(|error| xml(&error))?;
            return Ok(Some(value.into_owned()));
        }
    }
    Ok(None)
}

/// Value of an attribute with any prefix, as `path` of the production extension.
pub(super) fn prefixed(tag: &BytesStart<'_>, local: &str) -> Result<Option<String>, MeshProblem> {
    for attribute in tag.attributes().with_checks(false) {
        let attribute = attribute.map_err(|error| xml(&error))?;
        if attribute.key.prefix().is_some() && attribute.key.local_name().into_inner() == local {
            let value = attribute
                .normalized_value(quick_xml::XmlVersion::Implicit1_0)
                .map_err(|error| xml(&error))?;
            return Ok(Some(value.into_owned()));
        }
    }
    Ok(None)
}

/// Name of an archive member as a path of a 3MF means it: from the top, without the leading slash.
pub(super) fn member_name(path: &str) -> String {
    path.strip_prefix('/').unwrap_or(path).to_owned()
}

pub(super) fn xml(error: &impl ToString) -> MeshProblem {
    MeshProblem::Xml {
        detail: shortened_text(&error.to_string()),
    }
}

fn unpacking(error: impl ToString) -> MeshProblem {
    MeshProblem::Archive {
        detail: shortened_text(&error.to_string()),
    }
}

/// At most 120 bytes whole, or the start of a longer text.
pub(super) fn shortened_text(text: &str) -> String {
    if text.len() <= 120 {
        text.to_owned()
    } else {
        shortened(text.as_bytes())
    }
}

fn at(name: &str, problem: MeshProblem) -> Fault {
    Fault {
        place: MeshPlace::Element(shortened(name.as_bytes())),
        problem: Box::new(problem),
    }
}

struct Relations(Option<String>);

impl TakeTags for Relations {
    fn open(&mut self, _: &str, tag: &BytesStart<'_>) -> Result<(), Fault> {
        if tag.local_name().into_inner() == "Relationship"
            && attribute(tag, "Type")?.as_deref() == Some(MODEL_RELATION)
            && let Some(target) = attribute(tag, "Target")?
        {
            self.0.get_or_insert(member_name(&target));
        }
        Ok(())
    }
    fn close(&mut self) -> Result<(), Fault> {
        Ok(())
    }
    fn element(&self) -> String {
        String::new()
    }
}

/// Why a meter stopped the reading.
enum Spent {
    All,
    Piece,
}

/// Counts what comes out of the unpacker.
struct Metered<R> {
    member: R,
    left: u64,
    piece: u64,
    spent: Option<Spent>,
}

impl<R: Read> Read for Metered<R> {
    fn read(&mut self, buffer: &mut [u8]) -> std::io::Result<usize> {
        let size = self.member.read(buffer)?;
        let stop = |spent: &mut Option<Spent>, why| {
            *spent = Some(why);
            Err(std::io::Error::other("too much"))
        };
        match self.left.checked_sub(size as u64) {
            Some(left) => self.left = left,
            None => return stop(&mut self.spent, Spent::All),
        }
        match self.piece.checked_sub(size as u64) {
            Some(piece) => self.piece = piece,
            None => return stop(&mut self.spent, Spent::Piece),
        }
        Ok(size)
    }
}
