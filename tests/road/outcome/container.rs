//! `coat.evenfall`: read back equal, bit by bit; hostile bytes end in a typed error.

use super::tables::file_of;
use evenfall_sim::outcome::read::from_bytes;
use evenfall_sim::outcome::{Damage, Outcome, ReadError, read, write};
use evenfall_tests::made_up;
use proptest::prelude::*;
use std::fs;
use std::io::{Cursor, Read, Write};
use std::path::Path;
use zip::write::SimpleFileOptions;
use zip::{CompressionMethod, ZipArchive, ZipWriter};

fn open(bytes: &[u8]) -> Result<Outcome, ReadError> {
    from_bytes(
        Cursor::new(bytes),
        bytes.len() as u64,
        Path::new("coat.evenfall"),
    )
}

/// Every field with every bit: the debug text of an f64 is the shortest that reads back as the same bits.
fn text(outcome: &Outcome) -> String {
    format!("{outcome:?}")
}

#[test]
fn what_is_read_back_equals_what_was_written_in_every_field_and_bit() {
    let parent = tempfile::tempdir().unwrap();
    let folder = parent.path().join("coat");
    let outcome = made_up::outcome();
    write(&outcome, &folder, &"outcome".parse().unwrap()).unwrap();
    assert_eq!(text(&read(&folder).unwrap()), text(&outcome));
    assert_eq!(
        text(&read(&folder.join("coat.evenfall")).unwrap()),
        text(&outcome)
    );
}

#[test]
fn comparing_texts_notices_one_changed_bit() {
    let outcome = made_up::outcome();
    let mut other = made_up::outcome();
    let thickness_m = &mut other.parts[0].facets[1].thickness_m;
    *thickness_m = f64::from_bits(thickness_m.to_bits() ^ 1);
    assert_ne!(text(&outcome), text(&other));
}

#[test]
fn odd_doubles_of_the_summary_survive_json() {
    // Numbers that parsers are known to get wrong in the last bit: a halfway case, subnormals, the largest one.
    for odd in [
        9_007_199_254_740_993.0,
        2.225_073_858_507_201e-308,
        5e-324,
        f64::MAX,
        -0.0,
        0.1 + 0.2,
    ] {
        let mut outcome = made_up::outcome();
        outcome.summary.emitted_real = odd;
        let back = open(&file_of(&outcome, "coat.evenfall")).unwrap();
        assert_eq!(back.summary.emitted_real.to_bits(), odd.to_bits());
    }
}

#[test]
fn an_outcome_without_anything_optional_is_read_back_too() {
    let mut outcome = made_up::outcome();
    outcome.summary.film = None;
    outcome.summary.parts.clear();
    outcome.parts.clear();
    outcome.bodies.clear();
    outcome.probes.clear();
    outcome.chamber = None;
    let back = open(&file_of(&outcome, "coat.evenfall")).unwrap();
    assert_eq!(text(&back), text(&outcome));
}

#[test]
fn what_is_not_there_is_named() {
    let parent = tempfile::tempdir().unwrap();
    let folder = parent.path().join("coat");
    let missing = read(&folder).unwrap_err();
    assert!(matches!(missing, ReadError::Missing { .. }), "{missing}");
    write(&made_up::outcome(), &folder, &"triangles".parse().unwrap()).unwrap();
    let left_out = read(&folder).unwrap_err();
    assert!(
        matches!(left_out, ReadError::NoContainer { .. }),
        "{left_out}"
    );
    fs::write(folder.join("coat.evenfall"), "hello").unwrap();
    let foreign = read(&folder).unwrap_err();
    assert!(matches!(foreign, ReadError::NotOurs { .. }), "{foreign}");
}

/// Entries of a container, unpacked.
fn entries(bytes: &[u8]) -> Vec<(String, Vec<u8>)> {
    let mut archive = ZipArchive::new(Cursor::new(bytes)).unwrap();
    let count = archive.len();
    let read = |index: usize| {
        let mut entry = archive.by_index(index).unwrap();
        let mut bytes = Vec::new();
        entry.read_to_end(&mut bytes).unwrap();
        (entry.name().unwrap().into_owned(), bytes)
    };
    (0..count).map(read).collect()
}

/// A container from entries: the header packed, the rest as said.
fn packed(entries: &[(String, Vec<u8>)], arrays: CompressionMethod) -> Vec<u8> {
    let mut archive = ZipWriter::new(Cursor::new(Vec::new()));
    for (name, bytes) in entries {
        let method = if name == "outcome.json" {
            CompressionMethod::Deflated
        } else {
            arrays
        };
        let options = SimpleFileOptions::default().compression_method(method);
        archive.start_file(name.as_str(), options).unwrap();
        archive.write_all(bytes).unwrap();
    }
    archive.finish().unwrap().into_inner()
}

/// The made-up outcome's container with one entry changed.
fn changed(name: &str, change: impl FnOnce(&mut Vec<u8>)) -> Vec<u8> {
    let mut all = entries(&file_of(&made_up::outcome(), "coat.evenfall"));
    let entry = all.iter_mut().find(|entry| entry.0 == name).unwrap();
    change(&mut entry.1);
    packed(&all, CompressionMethod::Stored)
}

fn header_with(from: &str, to: &str) -> Vec<u8> {
    changed("outcome.json", |bytes| {
        let text = String::from_utf8(bytes.clone()).unwrap();
        assert!(text.contains(from), "{from} is not in the header");
        *bytes = text.replace(from, to).into_bytes();
    })
}

#[test]
fn a_repacked_container_is_read() {
    let same = changed("outcome.json", |_| {});
    assert_eq!(text(&open(&same).unwrap()), text(&made_up::outcome()));
}

#[test]
fn a_newer_version_is_named_with_both_numbers() {
    let newer = header_with("\"version\":1", "\"version\":7,\"what_comes\":[]");
    assert_eq!(
        open(&newer).unwrap_err().to_string(),
        "coat.evenfall has format version 7 (this build reads up to version 1); open it with a newer Evenfall"
    );
    let foreign = header_with("\"format\":\"evenfall-outcome\"", "\"format\":\"else\"");
    assert!(matches!(open(&foreign), Err(ReadError::NotOurs { .. })));
}

fn damage(bytes: &[u8]) -> Damage {
    match open(bytes) {
        Err(ReadError::Damaged { detail, .. }) => detail,
        other => panic!("{other:?}"),
    }
}

#[test]
fn counts_that_lie_are_refused_before_anything_is_allocated() {
    let huge = header_with("\"vertices\":8", "\"vertices\":4000000000000000000");
    assert!(matches!(
        damage(&huge),
        Damage::Size {
            expected: 96_000_000_000_000_000_000,
            ..
        }
    ));
    let fewer = header_with("\"back_facets\":6", "\"back_facets\":5");
    assert!(matches!(damage(&fewer), Damage::Size { .. }));
    let overflowing = header_with("\"back_facets\":6", "\"back_facets\":18446744073709551615");
    assert!(matches!(damage(&overflowing), Damage::Size { .. }));
    let negative = header_with("\"back_facets\":6", "\"back_facets\":-1");
    assert!(matches!(damage(&negative), Damage::Header { .. }));
    let more_steps = header_with("\"steps\":2", "\"steps\":3");
    assert!(matches!(damage(&more_steps), Damage::Missing { entry } if entry == "part-0/step-2"));
}

#[test]
fn packed_arrays_are_refused_because_they_could_be_bombs() {
    let all = entries(&file_of(&made_up::outcome(), "coat.evenfall"));
    assert!(matches!(
        damage(&packed(&all, CompressionMethod::Deflated)),
        Damage::Size { .. }
    ));
}

#[test]
fn contradictions_in_the_arrays_are_found() {
    let corner = changed("part-0/triangles", |bytes| bytes[0] = 200);
    let found = damage(&corner).to_string();
    assert_eq!(found, "triangle 0 of dial, large refers to corner 200 of 8");
    let state = changed("part-0/facet/state", |bytes| bytes[4] = 9);
    assert!(matches!(
        damage(&state),
        Damage::State {
            index: 4,
            code: 9,
            ..
        }
    ));
    let row = changed("part-0/facet/row", |bytes| bytes[0] = 3);
    assert!(matches!(damage(&row), Damage::Content(_)));
    let film = changed("part-0/row/thickness", |bytes| {
        bytes[..8].copy_from_slice(&f64::NAN.to_le_bytes())
    });
    assert_eq!(
        damage(&film).to_string(),
        "film of row 0 of dial, large is NaN"
    );
    let whole = changed("part-0/facet/whole", |bytes| bytes[0] = 0);
    assert!(matches!(damage(&whole), Damage::Content(_)));
}

#[test]
fn a_flipped_byte_in_an_array_fails_its_checksum() {
    let mut bytes = file_of(&made_up::outcome(), "coat.evenfall");
    let mut archive = ZipArchive::new(Cursor::new(bytes.clone())).unwrap();
    let start = archive
        .by_name("part-0/row/thickness")
        .unwrap()
        .data_start()
        .unwrap();
    bytes[usize::try_from(start).unwrap()] ^= 1;
    assert!(matches!(damage(&bytes), Damage::Unpack { .. }));
}

#[test]
fn every_truncation_ends_in_an_error() {
    let bytes = file_of(&made_up::outcome(), "coat.evenfall");
    for length in (0..bytes.len()).step_by(97) {
        assert!(
            open(&bytes[..length]).is_err(),
            "{length} bytes were enough"
        );
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]

    /// Mutated bytes end in an error or in an outcome that is sound, never in a panic.
    #[test]
    fn mutated_containers_never_panic(
        changes in prop::collection::vec((any::<prop::sample::Index>(), any::<u8>()), 1..12),
        cut in prop::option::of(any::<prop::sample::Index>()),
    ) {
        thread_local!(static GOOD: Vec<u8> = file_of(&made_up::outcome(), "coat.evenfall"));
        let mut bytes = GOOD.with(Clone::clone);
        for (place, value) in changes {
            let place = place.index(bytes.len());
            bytes[place] = value;
        }
        if let Some(cut) = cut {
            bytes.truncate(cut.index(bytes.len()));
        }
        if let Ok(outcome) = open(&bytes) {
            prop_assert!(evenfall_sim::outcome::validate(&outcome).is_ok());
        }
    }

    /// The same behind the checksums: an array's bytes changed and packed again.
    #[test]
    fn mutated_arrays_never_panic(
        entry in any::<prop::sample::Index>(),
        changes in prop::collection::vec((any::<prop::sample::Index>(), any::<u8>()), 1..12),
    ) {
        thread_local!(static GOOD: Vec<(String, Vec<u8>)> = entries(&file_of(&made_up::outcome(), "coat.evenfall")));
        let mut all = GOOD.with(Clone::clone);
        let entry = entry.index(all.len());
        let bytes = &mut all[entry].1;
        if !bytes.is_empty() {
            for (place, value) in changes {
                let place = place.index(bytes.len());
                bytes[place] = value;
            }
        }
        if let Ok(outcome) = open(&packed(&all, CompressionMethod::Stored)) {
            prop_assert!(evenfall_sim::outcome::validate(&outcome).is_ok());
        }
    }
}
