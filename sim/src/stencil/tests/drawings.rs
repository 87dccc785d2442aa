//! SVG and DXF: scale, rules, transforms, curves, and what is told of odd drawings.

use crate::stencil::{Artwork, read_artwork_bytes};
use std::f64::consts::PI;

fn svg(page: &str, inside: &str) -> Result<Artwork, String> {
    let text = format!("<svg xmlns=\"http://www.w3.org/2000/svg\" {page}>{inside}</svg>");
    read_artwork_bytes("x.svg", text.as_bytes(), None).map_err(|error| error.to_string())
}

const PAGE: &str = r#"width="40mm" height="20mm" viewBox="0 0 40 20""#;

fn mm2(artwork: &Artwork) -> f64 {
    artwork.shapes.area_m2() * 1e6
}

#[test]
fn shapes_stand_at_scale_around_the_middle_of_the_page_with_y_up() {
    let art = svg(PAGE, r#"<rect x="30" y="0" width="10" height="4"/>"#).unwrap();
    let [low, high] = art.shapes.bounds_m().unwrap();
    let near = |a: f64, b: f64| (a - b).abs() < 2e-8;
    assert!(near(low.x, 0.010) && near(high.x, 0.020), "{low} {high}");
    assert!(near(low.y, 0.006) && near(high.y, 0.010), "{low} {high}");
    assert!((art.page_m.unwrap().x - 0.04).abs() < 1e-8);
    assert!(art.findings.is_empty(), "{:?}", art.findings);
    // half an inch, through a group that scales, turns and moves
    let turned = r#"<g transform="translate(20 10) rotate(90) scale(2)"><rect x="1" y="2" width="3" height="1"/></g>"#;
    let art = svg(PAGE, turned).unwrap();
    let [low, high] = art.shapes.bounds_m().unwrap();
    // (x, y) → 2 (−y, x) on a page that runs down: x −6…−4, y −8…−2 mm
    assert!(near(low.x, -0.006) && near(high.x, -0.004), "{low} {high}");
    assert!(near(low.y, -0.008) && near(high.y, -0.002), "{low} {high}");
}

#[test]
fn both_fill_rules_are_followed() {
    let nested = |rule: &str, inner: &str| {
        format!(r#"<path fill-rule="{rule}" d="M0 0H10V10H0Z {inner}"/>"#)
    };
    let same_way = "M2 2H8V8H2Z";
    let other_way = "M2 2V8H8V2Z";
    for (rule, inner, area) in [
        ("evenodd", same_way, 64.0),
        ("nonzero", same_way, 100.0),
        ("nonzero", other_way, 64.0),
    ] {
        let art = svg(PAGE, &nested(rule, inner)).unwrap();
        assert!(
            (mm2(&art) - area).abs() < 1e-3,
            "{rule} {inner}: {}",
            mm2(&art)
        );
    }
}

#[test]
fn curves_keep_their_area() {
    let art = svg(PAGE, r#"<circle cx="20" cy="10" r="8"/>"#).unwrap();
    // cubic quarters are round to 2.7·10⁻⁴ of the radius
    assert!((mm2(&art) / (64.0 * PI) - 1.0).abs() < 6e-4);
    // a quadratic from (0,0) over (10,20) to (20,0) encloses two thirds of its triangle
    let art = svg(PAGE, r#"<path d="M0 0 Q10 20 20 0Z"/>"#).unwrap();
    assert!(
        (mm2(&art) - 2.0 / 3.0 * 200.0).abs() < 2e-2,
        "{}",
        mm2(&art)
    );
}

#[test]
fn open_crossing_double_and_stroked_paths_are_told() {
    let told = |inside: &str| svg(PAGE, inside).unwrap().findings.join("; ");
    assert!(told(r#"<path d="M0 0H10V10"/>"#).contains("1 contours are open"));
    assert!(told(r#"<path d="M0 0L10 10H0L10 0Z"/>"#).contains("cross themselves"));
    let square = r#"<path d="M0 0H10V10H0Z"/>"#;
    let twice = format!("{square}<path d=\"M10 10V0H0V10Z\"/>");
    assert!(told(&twice).contains("1 contours are drawn more than once"));
    let stroked = format!(r#"{square}<path fill="none" stroke="red" d="M0 0H30"/>"#);
    assert!(told(&stroked).contains("1 paths have strokes"));
    assert!(
        told(&format!(
            "{square}<rect x='2' y='2' width='3' height='3' fill='#fff'/>"
        ))
        .contains("white")
    );
}

#[test]
fn a_scale_is_never_guessed() {
    let shape = r#"<rect width="10" height="10"/>"#;
    for page in [
        r#"width="400" height="200""#,
        r#"width="400px" height="200px""#,
        r#"viewBox="0 0 40 20""#,
        r#"width="100%" height="100%" viewBox="0 0 40 20""#,
        r#"width="40mm" viewBox="0 0 40 20""#,
    ] {
        let said = svg(page, shape).unwrap_err();
        assert!(
            said.contains("no physical size") && said.contains("unit_per_px"),
            "{page}: {said}"
        );
    }
    let text = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"400\" height=\"200\">{shape}</svg>"
    );
    let art = read_artwork_bytes("x.svg", text.as_bytes(), Some(1e-4)).unwrap();
    assert!((mm2(&art) - 1.0).abs() < 1e-6);
    let text = format!("<svg xmlns=\"http://www.w3.org/2000/svg\" {PAGE}>{shape}</svg>");
    let said = read_artwork_bytes("x.svg", text.as_bytes(), Some(1e-4)).unwrap_err();
    assert!(said.to_string().contains("leave unit_per_px out"));
}

#[test]
fn what_has_no_outline_is_refused_with_its_place() {
    let square = r#"<path d="M0 0H10V10H0Z"/>"#;
    for (bad, said) in [
        ("<text>12</text>", "depends on the fonts"),
        ("<image href='a.png'/>", "no outline"),
        ("<clipPath id='a'/>", "hides parts"),
        ("<mask id='a'/>", "hides parts"),
        ("<use href='#nothing'/>", "not there"),
        ("<use href='other.svg#a'/>", "another file"),
        ("<path d='M0 0L10 10 lorem'/>", "d of <path>"),
        ("<path d='M0 0L1e38 10V5Z'/>", "beyond 1e30"),
        (
            "<path transform='rotate(' d='M0 0H1V1Z'/>",
            "transform of <path>",
        ),
        ("<polygon points='0,0 1,1 2'/>", "points of <polygon>"),
        ("<rect width='x' height='1'/>", "width of <rect>"),
    ] {
        let error = svg(PAGE, &format!("\n{square}\n {bad}")).unwrap_err();
        assert!(error.contains(said), "{bad}: {error}");
        assert!(error.starts_with("x.svg:3:2: "), "{bad}: {error}");
    }
    for (inside, said) in [
        ("", "no closed filled shape"),
        (
            "<path fill='none' stroke='red' d='M0 0H9'/>",
            "turn strokes into paths",
        ),
        ("<path d='M0 0H10'/>", "no closed filled shape"),
    ] {
        let error = svg(PAGE, inside).unwrap_err();
        assert!(error.contains(said), "{inside}: {error}");
    }
}

#[test]
fn files_that_are_no_drawings_are_refused() {
    let said = |name: &str, bytes: &[u8]| {
        read_artwork_bytes(name, bytes, name.ends_with("dxf").then_some(1e-3))
            .unwrap_err()
            .to_string()
    };
    assert!(
        said("x.svg", b"").contains("no sound XML") || said("x.svg", b"").contains("not sound XML")
    );
    assert!(said("x.svg", b"<svg").contains("not sound XML"));
    assert!(said("x.svg", b"<html/>").contains("its root is <html>"));
    assert!(said("x.svg", &[0xff, 0xfe, 0, 60]).contains("UTF-8"));
    assert!(said("x.svg", &[0x1f, 0x8b, 8, 0]).contains("compressed"));
    let bomb = "<!DOCTYPE svg [<!ENTITY a \"aaaaaaaaaa\"><!ENTITY b \"&a;&a;\">]><svg>&b;</svg>";
    assert!(said("x.svg", bomb.as_bytes()).contains("not sound XML"));
    let deep = format!(
        "<svg xmlns='http://www.w3.org/2000/svg' {PAGE}>{}</svg>",
        "<g>".repeat(300) + &"</g>".repeat(300)
    );
    assert!(said("x.svg", deep.as_bytes()).contains("nested too deeply"));
    assert!(said("x.dxf", b"").contains("cut short"));
    assert!(said("x.dxf", b"0\nSECTION\n2\nENTITIES\n0\nLINE\n10\n").contains("x.dxf:7"));
    assert!(said("x.dxf", b"AutoCAD Binary DXF\r\n\x1a\0").contains("binary drawing"));
    assert!(said("x.dxf", b"AC1032").contains("DWG"));
    assert!(said("x.dxf", b"hello\nworld\n").contains("x.dxf:1: is not a sound DXF"));
}

fn dxf(entities: &str) -> Result<Artwork, String> {
    let text = format!("0\nSECTION\n2\nENTITIES\n{entities}0\nENDSEC\n0\nEOF\n");
    read_artwork_bytes("x.dxf", text.as_bytes(), Some(1e-3)).map_err(|error| error.to_string())
}

fn line(a: [f64; 2], b: [f64; 2]) -> String {
    format!(
        "0\nLINE\n8\n0\n10\n{}\n20\n{}\n11\n{}\n21\n{}\n",
        a[0], a[1], b[0], b[1]
    )
}

#[test]
fn lines_and_arcs_of_a_dxf_are_joined_into_shapes() {
    // a slot with round ends, its pieces in any order and direction
    let arc = |x: f64, from: f64, to: f64| {
        format!("0\nARC\n8\n0\n10\n{x}\n20\n0\n40\n2\n50\n{from}\n51\n{to}\n")
    };
    let slot = line([-5.0, 2.0], [5.0, 2.0])
        + &arc(5.0, -90.0, 90.0)
        + &line([5.0, -2.0], [-5.0, -2.0])
        + &arc(-5.0, 90.0, 270.0);
    let art = dxf(&slot).unwrap();
    // chords stray 0.5 um at most, so that the area lacks that times the length of the arcs at most
    assert!(
        (mm2(&art) - (40.0 + 4.0 * PI)).abs() < 0.5e-3 * 4.0 * PI,
        "{}",
        mm2(&art)
    );
    // a circle inside a closed polyline is a hole; bulges of 1 make half circles
    let disc = "0\nLWPOLYLINE\n8\n0\n90\n2\n70\n1\n10\n-10\n20\n0\n42\n1\n10\n10\n20\n0\n42\n1\n";
    let hole = "0\nCIRCLE\n8\n0\n10\n1\n20\n0\n40\n3\n";
    let art = dxf(&format!("{disc}{hole}")).unwrap();
    assert!((mm2(&art) - 91.0 * PI).abs() < 2e-2, "{}", mm2(&art));
    assert_eq!(art.shapes.shapes[0].len(), 2);
    // drawn twice it is there once
    let art = dxf(&format!("{disc}{disc}")).unwrap();
    assert!((mm2(&art) - 100.0 * PI).abs() < 2e-2);
    assert!(
        art.findings[0].contains("more than once"),
        "{:?}",
        art.findings
    );
}

#[test]
fn ellipses_splines_polylines_and_blocks_of_a_dxf_keep_their_area() {
    let ellipse =
        "0\nELLIPSE\n8\n0\n10\n0\n20\n0\n11\n6\n21\n0\n40\n0.5\n41\n0\n42\n6.283185307179586\n";
    assert!((mm2(&dxf(ellipse).unwrap()) - 18.0 * PI).abs() < 1e-2);
    // a rational quadratic spline that is a full circle of radius 1 mm
    let mut spline = "0\nSPLINE\n8\n0\n70\n1\n71\n2\n72\n12\n73\n9\n".to_owned();
    for knot in [0, 0, 0, 1, 1, 2, 2, 3, 3, 4, 4, 4] {
        spline += &format!("40\n{knot}\n");
    }
    let w = std::f64::consts::FRAC_1_SQRT_2;
    let corners = [
        [1, 0],
        [1, 1],
        [0, 1],
        [-1, 1],
        [-1, 0],
        [-1, -1],
        [0, -1],
        [1, -1],
        [1, 0],
    ];
    for i in 0..corners.len() {
        spline += &format!("41\n{}\n", if i % 2 == 1 { w } else { 1.0 });
    }
    for [x, y] in corners {
        spline += &format!("10\n{x}\n20\n{y}\n30\n0\n");
    }
    assert!((mm2(&dxf(&spline).unwrap()) - PI).abs() < 3e-3);
    let block = "0\nSECTION\n2\nBLOCKS\n0\nBLOCK\n2\nDOT\n70\n0\n10\n0\n20\n0\n0\nCIRCLE\n8\n0\n10\n0\n20\n0\n40\n1\n0\nENDBLK\n0\nENDSEC\n";
    let inserts = "0\nSECTION\n2\nENTITIES\n0\nINSERT\n8\n0\n2\nDOT\n10\n0\n20\n0\n41\n2\n42\n2\n70\n3\n44\n10\n0\nENDSEC\n0\nEOF\n";
    let art =
        read_artwork_bytes("x.dxf", format!("{block}{inserts}").as_bytes(), Some(1e-3)).unwrap();
    assert!((mm2(&art) - 3.0 * 4.0 * PI).abs() < 1e-2, "{}", mm2(&art));
}

#[test]
fn odd_entities_of_a_dxf_are_refused_with_their_line() {
    let at_line = |entities: &str, said: &str| {
        let error = dxf(entities).unwrap_err();
        assert!(error.contains(said), "{entities:?}: {error}");
        error
    };
    assert!(at_line("0\nTEXT\n1\nhello\n", "fonts").starts_with("x.dxf:6: "));
    at_line("0\nHATCH\n", "filling");
    at_line("0\nBODY\n", "not read");
    assert!(
        at_line("0\nCIRCLE\n10\nNaN\n20\n0\n40\n1\n", "no finite number").starts_with("x.dxf:8")
    );
    at_line("0\nCIRCLE\n10\n1e300\n20\n0\n40\n1\n", "more than 10 m");
    at_line("0\nCIRCLE\n10\n0\n20\n0\n40\n1e9\n", "x.dxf");
    let open = at_line(
        &(line([0.0, 0.0], [5.0, 0.0]) + &line([5.0, 0.0], [5.0, 5.0])),
        "ends 7.071 mm from its start",
    );
    assert!(open.contains("at (5.000, 5.000) mm"), "{open}");
    at_line("0\nINSERT\n2\nNOPE\n10\n0\n20\n0\n", "not there");
    let knots = "0\nSPLINE\n71\n3\n72\n2000000000\n73\n2000000000\n40\n0\n10\n0\n20\n0\n";
    at_line(knots, "do not go together");
    at_line(
        "0\nLWPOLYLINE\n90\n2147483647\n70\n1\n10\n0\n20\n0\n",
        "no closed filled shape",
    );
    let itself = "0\nSECTION\n2\nBLOCKS\n0\nBLOCK\n2\nA\n10\n0\n20\n0\n0\nINSERT\n2\nA\n10\n0\n20\n0\n0\nENDBLK\n0\nENDSEC\n\
                  0\nSECTION\n2\nENTITIES\n0\nINSERT\n2\nA\n10\n0\n20\n0\n0\nENDSEC\n0\nEOF\n";
    let error = read_artwork_bytes("x.dxf", itself.as_bytes(), Some(1e-3))
        .unwrap_err()
        .to_string();
    assert!(error.contains("nested"), "{error}");
}

#[test]
fn no_damage_to_a_drawing_ends_otherwise_than_in_a_drawing_or_a_sentence() {
    let svg = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" {PAGE}><g transform=\"rotate(5)\"><path fill-rule=\"evenodd\" \
         d=\"M0 0H10V10H0Z M2 2c1 0 2 1 2 2a3 3 0 0 1 2 2z\"/><use href=\"#a\"/><circle id=\"a\" r=\"2\"/></g></svg>"
    );
    let dxf = "0\nSECTION\n2\nBLOCKS\n0\nBLOCK\n2\nDOT\n10\n0\n20\n0\n0\nCIRCLE\n10\n0\n20\n0\n40\n1\n0\nENDBLK\n0\nENDSEC\n\
               0\nSECTION\n2\nENTITIES\n0\nINSERT\n2\nDOT\n10\n0\n20\n0\n0\nLWPOLYLINE\n90\n2\n70\n1\n10\n-10\n20\n0\n42\n1\n\
               10\n10\n20\n0\n42\n1\n0\nSPLINE\n70\n1\n71\n1\n40\n0\n40\n0\n40\n1\n40\n1\n10\n0\n20\n0\n10\n1\n20\n0\n0\nENDSEC\n0\nEOF\n";
    let mut state = 0x9E37_79B9_7F4A_7C15_u64;
    let mut next = move |most: usize| {
        state ^= state << 13;
        state ^= state >> 7;
        state ^= state << 17;
        usize::try_from(state % most as u64).unwrap()
    };
    for (name, whole, unit) in [
        ("x.svg", svg.as_bytes(), None),
        ("x.dxf", dxf.as_bytes(), Some(1e-3)),
    ] {
        for _ in 0..1500 {
            let mut bytes = whole.to_vec();
            for _ in 0..1 + next(3) {
                let at = next(bytes.len());
                match next(4) {
                    0 => bytes[at] = b"0123456789-.eE<>/\"MLZ \n"[next(23)],
                    1 => {
                        bytes.remove(at);
                    }
                    2 => bytes.insert(at, b'9'),
                    _ => bytes.truncate(at.max(1)),
                }
            }
            if let Err(error) = read_artwork_bytes(name, &bytes, unit) {
                assert!(error.to_string().starts_with(name), "{error}");
            }
        }
    }
}
