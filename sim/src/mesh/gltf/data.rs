//! The numbers of a glTF: accessors over views over buffers.
//!
//! In: the JSON and where its buffers may come from. Out: positions and indices. Every range is
//! checked before anything is copied.

use super::out_of_range;
use crate::mesh::error::{At, Fault, MeshProblem, shortened};
use crate::mesh::read::{Beside, companion};
use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use glam::DVec3;
use gltf_json::Root;
use gltf_json::accessor::{Accessor, ComponentType, GenericComponentType, Type};
use gltf_json::validation::Checked;
use std::borrow::Cow;
use std::collections::BTreeMap;

/// Most bytes of all buffers of a file together.
const BYTES_LIMIT: u64 = 4 << 30;

/// The buffers, loaded when they are first used.
pub(super) struct Data<'a> {
    root: &'a Root,
    binary: Option<&'a [u8]>,
    beside: Beside<'a>,
    buffers: BTreeMap<usize, Cow<'a, [u8]>>,
    /// Bytes loaded from other files.
    pub loaded: usize,
}

impl<'a> Data<'a> {
    pub fn new(root: &'a Root, binary: Option<&'a [u8]>, beside: Beside<'a>) -> Self {
        Self {
            root,
            binary,
            beside,
            buffers: BTreeMap::new(),
            loaded: 0,
        }
    }

    /// Three floats each.
    pub fn positions(&mut self, accessor: usize) -> Result<Vec<DVec3>, Fault> {
        let wanted = "VEC3 of FLOAT";
        let (items, kind) = self.items(accessor, Type::Vec3, wanted)?;
        if kind != ComponentType::F32 {
            return Err(not_plain(wanted)).at_element(|| format!("accessor {accessor}"));
        }
        let axis = |item: &[u8], axis: usize| {
            let b = &item[4 * axis..];
            f64::from(f32::from_le_bytes([b[0], b[1], b[2], b[3]]))
        };
        Ok(items
            .map(|item| DVec3::new(axis(item, 0), axis(item, 1), axis(item, 2)))
            .collect())
    }

    /// Bytes, shorts or words.
    pub fn indices(&mut self, accessor: usize) -> Result<Vec<u32>, Fault> {
        let wanted = "SCALAR of UNSIGNED_BYTE, UNSIGNED_SHORT or UNSIGNED_INT";
        let (items, kind) = self.items(accessor, Type::Scalar, wanted)?;
        match kind {
            ComponentType::U8 => Ok(items.map(|b| u32::from(b[0])).collect()),
            ComponentType::U16 => Ok(items
                .map(|b| u32::from(u16::from_le_bytes([b[0], b[1]])))
                .collect()),
            ComponentType::U32 => Ok(items
                .map(|b| u32::from_le_bytes([b[0], b[1], b[2], b[3]]))
                .collect()),
            _ => Err(not_plain(wanted)).at_element(|| format!("accessor {accessor}")),
        }
    }

    /// The items of an accessor, each as its bytes.
    fn items(
        &mut self,
        index: usize,
        shape: Type,
        wanted: &'static str,
    ) -> Result<(impl Iterator<Item = &[u8]>, ComponentType), Fault> {
        let place = || format!("accessor {index}");
        let root = self.root;
        let accessor = root
            .accessors
            .get(index)
            .ok_or_else(|| out_of_range("accessor", index, root.accessors.len()))
            .at_element(place)?;
        let kind = plain(accessor, shape, wanted).at_element(place)?;
        let size = kind.size() as u64 * shape.multiplicity() as u64;
        let view_index = accessor
            .buffer_view
            .ok_or(MeshProblem::Missing { key: "bufferView" })
            .at_element(place)?
            .value();
        let view = root
            .buffer_views
            .get(view_index)
            .ok_or_else(|| out_of_range("buffer view", view_index, root.buffer_views.len()))
            .at_element(place)?;
        let stride = view.byte_stride.map_or(size, |stride| stride.0 as u64);
        if stride < size {
            return Err(MeshProblem::Unexpected {
                expected: "a byte stride of at least the size of an item",
                found: stride.to_string(),
            })
            .at_element(place);
        }
        let count = accessor.count.0;
        let needs = match count.checked_sub(1) {
            None => Some(0),
            Some(before) => before
                .checked_mul(stride)
                .and_then(|bytes| bytes.checked_add(size)),
        };
        let range = |offset: u64, length: u64, within: u64| {
            let end = offset.checked_add(length).filter(|end| *end <= within);
            end.ok_or(MeshProblem::Truncated {
                what: "an accessor or its buffer view",
                needs: offset.saturating_add(length),
                has: within,
            })
        };
        let needs = needs.unwrap_or(u64::MAX);
        let offset = accessor.byte_offset.map_or(0, |offset| offset.0);
        range(offset, needs, view.byte_length.0).at_element(place)?;
        let view_offset = view.byte_offset.map_or(0, |offset| offset.0);
        let buffer = self.buffer(view.buffer.value())?;
        range(view_offset, view.byte_length.0, buffer.len() as u64).at_element(place)?;
        // Within the buffer by the two checks, so within memory.
        let within = |value: u64| usize::try_from(value).unwrap_or(usize::MAX);
        let start = within(view_offset + offset);
        let bytes = &buffer[start..start + within(needs)];
        let (stride, size) = (within(stride), within(size));
        let items = bytes
            .chunks(stride)
            .filter_map(move |item| item.get(..size));
        Ok((items, kind))
    }

    fn buffer(&mut self, index: usize) -> Result<&[u8], Fault> {
        if !self.buffers.contains_key(&index) {
            let loaded = self.load(index).at_element(|| format!("buffer {index}"))?;
            self.buffers.insert(index, loaded);
        }
        Ok(&self.buffers[&index])
    }

    fn load(&mut self, index: usize) -> Result<Cow<'a, [u8]>, MeshProblem> {
        let root = self.root;
        let buffer = root
            .buffers
            .get(index)
            .ok_or_else(|| out_of_range("buffer", index, root.buffers.len()))?;
        let needs = buffer.byte_length.0;
        let bytes = match (&buffer.uri, self.binary) {
            (None, Some(binary)) if index == 0 => Cow::Borrowed(binary),
            (None, _) => return Err(MeshProblem::Missing { key: "uri" }),
            (Some(uri), _) if uri.starts_with("data:") => Cow::Owned(decode(uri)?),
            (Some(uri), _) => {
                let left = BYTES_LIMIT.saturating_sub(self.loaded as u64);
                let bytes = companion(self.beside, &unescape(uri), needs.min(left))?;
                self.loaded += bytes.len();
                Cow::Owned(bytes)
            }
        };
        if (bytes.len() as u64) < needs {
            return Err(MeshProblem::Truncated {
                what: "the buffer",
                needs,
                has: bytes.len() as u64,
            });
        }
        Ok(bytes)
    }
}

/// The kind of an accessor that is neither sparse nor normalised and has this shape.
fn plain(
    accessor: &Accessor,
    shape: Type,
    wanted: &'static str,
) -> Result<ComponentType, MeshProblem> {
    if accessor.sparse.is_some() {
        return Err(not_plain("accessors that are not sparse"));
    }
    if accessor.normalized {
        return Err(not_plain("accessors that are not normalised"));
    }
    match (&accessor.component_type, &accessor.type_) {
        (Checked::Valid(GenericComponentType(kind)), Checked::Valid(found)) if *found == shape => {
            Ok(*kind)
        }
        _ => Err(not_plain(wanted)),
    }
}

fn not_plain(wanted: &'static str) -> MeshProblem {
    MeshProblem::Unsupported {
        feature: format!("an accessor other than {wanted}"),
        instead: "export plain, unquantised triangles",
    }
}

fn decode(uri: &str) -> Result<Vec<u8>, MeshProblem> {
    let unexpected = || MeshProblem::Unexpected {
        expected: "a data URI in base64",
        found: shortened(uri.as_bytes()),
    };
    let (head, text) = uri.split_once(',').ok_or_else(unexpected)?;
    if !head.ends_with(";base64") {
        return Err(unexpected());
    }
    STANDARD.decode(text).map_err(|_| unexpected())
}

/// A reference with its %xx put back; what is no such escape stays as it is.
fn unescape(uri: &str) -> String {
    let bytes = uri.as_bytes();
    let mut plain = Vec::with_capacity(bytes.len());
    let mut at = 0;
    while at < bytes.len() {
        let escaped = (bytes[at] == b'%')
            .then(|| uri.get(at + 1..at + 3))
            .flatten()
            .and_then(|digits| u8::from_str_radix(digits, 16).ok());
        match escaped {
            Some(byte) => {
                plain.push(byte);
                at += 3;
            }
            None => {
                plain.push(bytes[at]);
                at += 1;
            }
        }
    }
    String::from_utf8_lossy(&plain).into_owned()
}
