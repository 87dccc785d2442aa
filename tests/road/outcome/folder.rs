//! The folder: written beside, swapped in whole; what is not ours is left alone.

use evenfall_sim::outcome::{Defect, Outcome, WriteError, WriteList, check_target, read, write};
use evenfall_tests::made_up;
use std::collections::BTreeMap;
use std::fs;
use std::path::Path;

/// Everything but pictures, which take time and say nothing here.
fn unpictured() -> WriteList {
    "triangles,probes,mesh,outcome".parse().unwrap()
}

fn titled(title: &str) -> Outcome {
    let mut outcome = made_up::outcome();
    outcome.summary.title = title.to_owned();
    outcome
}

fn title_at(folder: &Path) -> String {
    read(folder).unwrap().summary.title
}

/// All entries beside and in a folder, by name, with their bytes.
fn files(folder: &Path) -> BTreeMap<String, Vec<u8>> {
    let entries = fs::read_dir(folder).unwrap().map(Result::unwrap);
    entries
        .map(|entry| {
            let name = entry.file_name().into_string().unwrap();
            (name, fs::read(entry.path()).unwrap_or_default())
        })
        .collect()
}

fn names(folder: &Path) -> Vec<String> {
    files(folder).into_keys().collect()
}

#[test]
fn the_same_outcome_gives_the_same_bytes_twice() {
    let parent = tempfile::tempdir().unwrap();
    let [first, second] = ["first", "second"].map(|name| parent.path().join(name));
    write(&made_up::outcome(), &first, &WriteList::default()).unwrap();
    write(&made_up::outcome(), &second, &WriteList::default()).unwrap();
    let (first, second) = (files(&first), files(&second));
    assert!(first.len() >= 9, "{:?}", first.keys());
    assert_eq!(first, second);
}

#[test]
fn only_the_files_asked_for_are_written_beside_the_summary() {
    let parent = tempfile::tempdir().unwrap();
    let folder = parent.path().join("coat");
    write(
        &made_up::outcome(),
        &folder,
        &"triangles,probes".parse().unwrap(),
    )
    .unwrap();
    assert_eq!(
        names(&folder),
        [
            "probe-a_b.csv",
            "probe-across the edge.csv",
            "summary.json",
            "triangles.csv"
        ]
    );
    // The next run knows the folder as ours and leaves nothing of the last one in it.
    write(&made_up::outcome(), &folder, &"outcome".parse().unwrap()).unwrap();
    assert_eq!(names(&folder), ["coat.evenfall", "summary.json"]);
    assert_eq!(names(parent.path()), ["coat"]);
}

#[test]
fn parents_are_created_and_an_empty_folder_is_filled() {
    let parent = tempfile::tempdir().unwrap();
    let deep = parent.path().join("a/b/coat");
    write(&titled("deep"), &deep, &unpictured()).unwrap();
    assert_eq!(title_at(&deep), "deep");
    let empty = parent.path().join("empty");
    fs::create_dir(&empty).unwrap();
    write(&titled("filled"), &empty, &unpictured()).unwrap();
    assert_eq!(title_at(&empty), "filled");
    assert_eq!(names(parent.path()), ["a", "empty"]);
}

#[test]
fn a_folder_with_a_file_that_is_not_ours_is_refused_and_left_as_it_is() {
    let parent = tempfile::tempdir().unwrap();
    let folder = parent.path().join("coat");
    write(&titled("good"), &folder, &unpictured()).unwrap();
    fs::write(folder.join("notes.txt"), "mine").unwrap();
    let before = files(&folder);
    for refused in [
        write(&titled("new"), &folder, &unpictured()),
        check_target(&folder),
    ] {
        match refused {
            Err(WriteError::ForeignFile { entry, .. }) => assert_eq!(entry, "notes.txt"),
            other => panic!("{other:?}"),
        }
    }
    assert_eq!(files(&folder), before);
    assert_eq!(names(parent.path()), ["coat"]);
}

#[test]
fn a_folder_in_a_folder_is_not_ours() {
    let parent = tempfile::tempdir().unwrap();
    fs::create_dir_all(parent.path().join("coat/triangles.csv")).unwrap();
    let refused = write(
        &made_up::outcome(),
        &parent.path().join("coat"),
        &unpictured(),
    );
    assert!(
        matches!(refused, Err(WriteError::ForeignFile { .. })),
        "{refused:?}"
    );
}

#[test]
fn files_with_our_names_but_without_our_mark_are_not_ours() {
    let parent = tempfile::tempdir().unwrap();
    let folder = parent.path().join("coat");
    fs::create_dir(&folder).unwrap();
    let foreign: [(&str, &[u8]); 3] = [
        ("report.html", b"<p>last year"),
        ("summary.json", b"{\"format\": \"something else\"}"),
        ("coat.evenfall", b"PK"),
    ];
    for (name, bytes) in foreign {
        fs::write(folder.join(name), bytes).unwrap();
        let refused = write(&made_up::outcome(), &folder, &unpictured());
        assert!(
            matches!(refused, Err(WriteError::NoMark { .. })),
            "{name}: {refused:?}"
        );
        assert_eq!(fs::read(folder.join(name)).unwrap(), bytes);
    }
}

#[test]
fn a_file_and_a_place_without_a_name_are_refused() {
    let parent = tempfile::tempdir().unwrap();
    let file = parent.path().join("file");
    fs::write(&file, "mine").unwrap();
    let refused = write(&made_up::outcome(), &file, &unpictured());
    assert!(
        matches!(refused, Err(WriteError::NotAFolder { .. })),
        "{refused:?}"
    );
    assert_eq!(fs::read(&file).unwrap(), b"mine");
    let refused = write(&made_up::outcome(), Path::new("/"), &unpictured());
    assert!(
        matches!(refused, Err(WriteError::NoName { .. })),
        "{refused:?}"
    );
}

#[test]
fn a_run_killed_while_writing_leaves_the_last_good_outcome_and_the_next_run_tidies_up() {
    let parent = tempfile::tempdir().unwrap();
    let folder = parent.path().join("coat");
    write(&titled("good"), &folder, &unpictured()).unwrap();
    let good = files(&folder);
    // What a killed writer leaves: its lock, nobody holding it, and half of a file.
    let half = parent.path().join(".coat.evenfall-new-0");
    fs::create_dir(&half).unwrap();
    fs::write(half.join(".evenfall-lock"), "").unwrap();
    fs::write(half.join("triangles.csv"), "part,trian").unwrap();
    assert_eq!(files(&folder), good);
    assert_eq!(title_at(&folder), "good");
    write(&titled("new"), &folder, &unpictured()).unwrap();
    assert_eq!(title_at(&folder), "new");
    assert_eq!(names(parent.path()), ["coat"]);
}

#[test]
fn a_run_killed_after_the_exchange_leaves_the_new_outcome_and_the_next_run_removes_the_old() {
    let parent = tempfile::tempdir().unwrap();
    let folder = parent.path().join("coat");
    let old = parent.path().join(".coat.evenfall-new-0");
    write(&titled("old"), &old, &unpictured()).unwrap();
    write(&titled("new"), &folder, &unpictured()).unwrap();
    assert_eq!(names(parent.path()), ["coat"]);
    assert_eq!(title_at(&folder), "new");
}

#[test]
fn a_run_killed_between_two_renames_loses_nothing() {
    let parent = tempfile::tempdir().unwrap();
    let folder = parent.path().join("coat");
    write(&titled("good"), &folder, &unpictured()).unwrap();
    fs::rename(&folder, parent.path().join(".coat.evenfall-old")).unwrap();
    // Readers find the last good outcome, and a run that fails brings it back to its place.
    assert_eq!(title_at(&folder), "good");
    fs::write(parent.path().join(".coat.evenfall-old/notes.txt"), "mine").unwrap();
    let refused = write(&titled("new"), &folder, &unpictured());
    assert!(
        matches!(refused, Err(WriteError::ForeignFile { .. })),
        "{refused:?}"
    );
    assert_eq!(title_at(&folder), "good");
    fs::remove_file(folder.join("notes.txt")).unwrap();
    write(&titled("new"), &folder, &unpictured()).unwrap();
    assert_eq!(title_at(&folder), "new");
    assert_eq!(names(parent.path()), ["coat"]);
}

#[test]
fn a_writer_that_still_lives_is_left_alone() {
    let parent = tempfile::tempdir().unwrap();
    let folder = parent.path().join("coat");
    let other = parent.path().join(".coat.evenfall-new-0");
    fs::create_dir(&other).unwrap();
    let lock = fs::File::create(other.join(".evenfall-lock")).unwrap();
    lock.try_lock().unwrap();
    write(&titled("mine"), &folder, &unpictured()).unwrap();
    assert!(other.join(".evenfall-lock").exists());
    drop(lock);
    write(&titled("mine again"), &folder, &unpictured()).unwrap();
    assert!(!other.exists());
}

#[test]
fn somebody_elses_hidden_folder_is_left_alone() {
    let parent = tempfile::tempdir().unwrap();
    let folder = parent.path().join("coat");
    let other = parent.path().join(".coat.evenfall-new-7");
    fs::create_dir(&other).unwrap();
    fs::write(other.join("notes.txt"), "mine").unwrap();
    write(&titled("mine"), &folder, &unpictured()).unwrap();
    assert_eq!(fs::read(other.join("notes.txt")).unwrap(), b"mine");
}

#[cfg(unix)]
#[test]
fn a_link_to_the_folder_stays_a_link() {
    let parent = tempfile::tempdir().unwrap();
    let (folder, link) = (parent.path().join("coat"), parent.path().join("latest"));
    write(&titled("good"), &folder, &unpictured()).unwrap();
    std::os::unix::fs::symlink(&folder, &link).unwrap();
    write(&titled("new"), &link, &unpictured()).unwrap();
    assert!(link.is_symlink());
    assert_eq!(title_at(&folder), "new");
}

#[test]
fn an_outcome_that_is_not_sound_is_never_written() {
    let parent = tempfile::tempdir().unwrap();
    let folder = parent.path().join("coat");
    write(&titled("good"), &folder, &unpictured()).unwrap();
    let spoil: [fn(&mut Outcome); 8] = [
        |outcome| outcome.summary.parts[0].thickness_nm.mean = f64::NAN,
        |outcome| outcome.summary.audit[0].z = f64::INFINITY,
        |outcome| outcome.parts[0].rows[1].thickness_m = -1e-9,
        |outcome| outcome.parts[0].facets[0].std_error_m = f64::NAN,
        |outcome| outcome.parts[0].triangles[0] = [0, 1, 99],
        |outcome| outcome.parts[0].facets[0].row = 5,
        |outcome| drop(outcome.parts[1].rows.pop()),
        |outcome| outcome.parts[0].by_step_m[0].truncate(1),
    ];
    for (index, spoil) in spoil.iter().enumerate() {
        let mut outcome = titled("bad");
        spoil(&mut outcome);
        let refused = write(&outcome, &folder, &unpictured());
        assert!(
            matches!(refused, Err(WriteError::Defect(_))),
            "{index}: {refused:?}"
        );
        assert_eq!(title_at(&folder), "good");
    }
    let mut outcome = titled("bad");
    outcome.parts[0].rows[1].thickness_m = -1e-9;
    let Err(WriteError::Defect(defect)) = write(&outcome, &folder, &unpictured()) else {
        panic!("written");
    };
    assert!(matches!(defect, Defect::Number { .. }));
    assert_eq!(
        defect.to_string(),
        "film of row 1 of dial, large is -0.000000001"
    );
    assert_eq!(names(parent.path()), ["coat"]);
}
