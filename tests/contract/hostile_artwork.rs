//! Broken drawings end in a sentence with the place, exit status 2, and nothing written.

use crate::program::Folder;
use crate::sample::{CUBE_PLAN, cube_folder};

fn with_artwork(file: &str, content: &[u8], keys: &str) -> Folder {
    let folder = cube_folder();
    let mask = format!(
        "{CUBE_PLAN}\n[[mask]]\npart = \"cube\"\nartwork = \"{file}\"\nsheet = \"0.1 mm\"\n{keys}\n"
    );
    folder.write("cube.toml", mask);
    folder.write(file, content);
    folder
}

#[track_caller]
fn refused(file: &str, content: &[u8], keys: &str, said: &[&str]) {
    let folder = with_artwork(file, content, keys);
    let names = folder.names();
    folder
        .run_limited(&["check", "cube.toml"])
        .refuses_with(said);
    folder
        .run_limited(&["coat", "cube.toml", "--quiet"])
        .refuses_with(said);
    assert_eq!(folder.names(), names, "something was written");
}

const HEAD: &str = "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"10mm\" height=\"10mm\" viewBox=\"0 0 10 10\">";

#[test]
fn broken_svg_is_refused_with_its_place() {
    for (inside, said) in [
        ("\n<path d=\"M0 0H5V5Z", ["a.svg:2", "XML"]),
        (
            "\n<path d='M0 0H5 nonsense'/></svg>",
            ["a.svg:2:1", "d of <path>"],
        ),
        ("<text>12</text></svg>", ["a.svg:1", "fonts"]),
        ("</svg>", ["a.svg", "no closed filled shape"]),
        ("<use href='b.svg#x'/></svg>", ["a.svg:1", "another file"]),
    ] {
        refused("a.svg", format!("{HEAD}{inside}").as_bytes(), "", &said);
    }
    let bare =
        "<svg xmlns='http://www.w3.org/2000/svg' viewBox='0 0 9 9'><path d='M0 0H5V5Z'/></svg>";
    refused("a.svg", bare.as_bytes(), "", &["a.svg", "unit_per_px"]);
    refused("a.svg", &[0xff; 64], "", &["a.svg", "UTF-8"]);
    refused("a.svg", b"", "", &["a.svg", "XML"]);
}

#[test]
fn drawings_that_explode_are_refused_in_bounded_time_and_memory() {
    // copies of copies of copies: 10^9 squares
    let mut bomb = format!("{HEAD}<defs><path id='a0' d='M0 0H1V1Z'/>");
    for level in 1..10 {
        let uses = format!("<use href='#a{}'/>", level - 1).repeat(10);
        bomb += &format!("<g id='a{level}'>{uses}</g>");
    }
    bomb += "</defs><use href='#a9'/></svg>";
    refused("a.svg", bomb.as_bytes(), "", &["a.svg"]);
    let deep = format!("{HEAD}{}", "<g>".repeat(200_000));
    refused("a.svg", deep.as_bytes(), "", &["a.svg"]);
    let entities = "<!DOCTYPE svg [<!ENTITY a 'aaaa'><!ENTITY b '&a;&a;&a;&a;'>]><svg>&b;</svg>";
    refused("a.svg", entities.as_bytes(), "", &["a.svg", "XML"]);
}

#[test]
fn broken_dxf_is_refused_with_its_place() {
    let unit = "unit = \"mm\"";
    let dxf = |inside: &str| format!("0\nSECTION\n2\nENTITIES\n{inside}0\nENDSEC\n0\nEOF\n");
    for (text, said) in [
        (String::new(), ["a.dxf", "cut short"]),
        (
            "0\nSECTION\n2\nENTITIES\n0\nLINE\n".to_owned(),
            ["a.dxf", "cut short"],
        ),
        ("what is this\n".to_owned(), ["a.dxf:1", "group code"]),
        (dxf("0\nMTEXT\n1\nhi\n"), ["a.dxf:6", "fonts"]),
        (
            dxf("0\nCIRCLE\n10\n0\n20\n0\n40\nnan\n"),
            ["a.dxf:12", "no finite number"],
        ),
        (
            dxf("0\nLINE\n10\n0\n20\n0\n11\n5\n21\n0\n"),
            ["a.dxf", "close it"],
        ),
        (
            dxf("0\nSPLINE\n71\n3\n72\n2147483647\n73\n2147483647\n40\n0\n10\n0\n20\n0\n"),
            ["a.dxf", "do not go together"],
        ),
        (
            dxf("0\nPOINT\n10\n0\n20\n0\n"),
            ["a.dxf", "no closed filled shape"],
        ),
    ] {
        refused("a.dxf", text.as_bytes(), unit, &said);
    }
    refused(
        "a.dxf",
        b"AutoCAD Binary DXF\r\n\x1a\0garbage",
        unit,
        &["a.dxf", "binary"],
    );
    refused("a.dxf", b"", "", &["cube.toml", "unit"]);
}

#[test]
fn masks_that_cannot_be_laid_are_refused_at_their_key() {
    let square = format!("{HEAD}<rect width='4' height='4'/></svg>");
    let all = format!("{HEAD}<rect x='-100' y='-100' width='300' height='300'/></svg>");
    refused("a.svg", all.as_bytes(), "", &["cube.toml", "no sheet"]);
    refused(
        "a.svg",
        square.as_bytes(),
        "wrap = \"0.5 mm\"",
        &["cube.toml", "round a cylinder"],
    );
    refused(
        "a.svg",
        square.as_bytes(),
        "conform = [1, 0, 0]",
        &["cube.toml", "pushed sideways"],
    );
}
