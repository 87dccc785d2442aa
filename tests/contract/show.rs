//! `evenfall show`: without a display, as a picture, with input that cannot be used.

use crate::sample::cube_folder;
use std::process::Command;

/// Width and height that a PNG file says of itself.
fn sides(png: &[u8]) -> [u32; 2] {
    assert_eq!(&png[..8], b"\x89PNG\r\n\x1a\n");
    [16, 20].map(|at| u32::from_be_bytes([png[at], png[at + 1], png[at + 2], png[at + 3]]))
}

#[test]
fn without_a_display_one_sentence_says_what_answers_instead() {
    let folder = cube_folder();
    let mut command = Command::new(env!("CARGO_BIN_EXE_evenfall"));
    command
        .args(["show", "cube.toml"])
        .env_remove("DISPLAY")
        .env_remove("WAYLAND_DISPLAY")
        .env_remove("WAYLAND_SOCKET");
    let ran = folder.finish(command).ends_with(1);
    assert_eq!(ran.stdout, "");
    assert!(ran.stderr.contains("no display"), "{}", ran.stderr);
    assert!(
        ran.stderr.contains("`evenfall coat cube.toml`"),
        "{}",
        ran.stderr
    );
}

#[test]
fn a_shot_needs_no_display_and_has_the_size_asked_for() {
    let folder = cube_folder();
    for (theme, name) in [("light", "light.png"), ("dark", "dark.png")] {
        let ran = folder
            .run(&[
                "show",
                "cube.toml",
                "--shot",
                name,
                "--size",
                "700x500",
                "--theme",
                theme,
            ])
            .ends_with(0);
        assert!(ran.stdout.contains(name), "{}", ran.stdout);
    }
    let read = |name: &str| std::fs::read(folder.join(name)).unwrap();
    assert_eq!(sides(&read("light.png")), [700, 500]);
    assert_ne!(read("light.png"), read("dark.png"));
}

#[test]
fn a_shot_of_an_outcome_is_taken_too() {
    let folder = cube_folder();
    folder
        .run(&["coat", "cube.toml", "--quiet", "--out", "coat"])
        .ends_with(0);
    folder
        .run(&["show", "coat", "--shot", "coat.png"])
        .ends_with(0);
    assert_eq!(
        sides(&std::fs::read(folder.join("coat.png")).unwrap()),
        [1280, 800]
    );
}

#[test]
fn what_cannot_be_shown_is_refused_with_why() {
    let folder = cube_folder();
    folder
        .run(&["show", "cube.toml", "--shot", "x.png", "--size", "7x5"])
        .refuses_with(&["--size", "1280x800"]);
    folder.write("bad.toml", "title = 5\n");
    folder
        .run(&["show", "bad.toml", "--shot", "x.png"])
        .refuses_with(&["evenfall check bad.toml"]);
    folder
        .run(&["show", "nothing.toml", "--shot", "x.png"])
        .refuses_with(&["nothing.toml"]);
    assert!(!folder.join("x.png").exists());
}
