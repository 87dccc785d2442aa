//! 3MF: units, components, transforms, parts of the archive, and archives that explode.

use super::files::{archive, brick, mesh_xml, model_xml, threemf};
use super::formats::is_brick;
use super::{mesh, refused};
use glam::DVec3;

fn object(id: u32, content: &str) -> String {
    format!("<object id=\"{id}\" type=\"model\" name=\"object {id}\">{content}</object>")
}

fn body(id: u32) -> String {
    object(id, &mesh_xml(&brick()))
}

fn components(id: u32, parts: &[(u32, &str)]) -> String {
    let parts: String = parts
        .iter()
        .map(|(part, more)| format!("<component objectid=\"{part}\" {more}/>"))
        .collect();
    object(id, &format!("<components>{parts}</components>"))
}

#[test]
fn the_unit_of_a_3mf_is_its_own() {
    let units = [
        ("", 0.001),
        ("unit=\"micron\"", 1e-6),
        ("unit=\"millimeter\"", 1e-3),
        ("unit=\"centimeter\"", 1e-2),
        ("unit=\"inch\"", 0.0254),
        ("unit=\"foot\"", 0.3048),
        ("unit=\"meter\"", 1.0),
    ];
    for (unit, unit_m) in units {
        let model = model_xml(unit, &body(1), "<item objectid=\"1\"/>");
        is_brick(&mesh("x.3mf", &threemf(&model), None), unit_m);
    }
    let model = model_xml("", &body(1), "<item objectid=\"1\"/>");
    refused(
        "x.3mf",
        &threemf(&model),
        Some(0.001),
        &["carry their own unit"],
    );
    let model = model_xml("unit=\"furlong\"", &body(1), "<item objectid=\"1\"/>");
    refused("x.3mf", &threemf(&model), None, &["furlong", "inch"]);
}

#[test]
fn components_are_placed_by_their_transforms_from_the_inside_out() {
    // Rows of the matrix are where x, y and z go. The component shifts by 10 along x, the item then
    // turns x to y and y to −x: the lower corner (1, 1, 1) goes to (11, 1, 1) and to (−1, 11, 1).
    let resources = body(1) + &components(2, &[(1, "transform=\"1 0 0 0 1 0 0 0 1 10 0 0\"")]);
    let build =
        "<item objectid=\"2\" transform=\"0 1 0 -1 0 0 0 0 1 0 0 0\"/><item objectid=\"1\"/>";
    let mesh = mesh(
        "x.3mf",
        &threemf(&model_xml("unit=\"meter\"", &resources, build)),
        None,
    );
    assert_eq!(mesh.triangles.len(), 24);
    assert_eq!(mesh.corners(0)[0], DVec3::new(-1.0, 11.0, 1.0));
    assert_eq!(mesh.corners(12)[0], DVec3::new(1.0, 1.0, 1.0));
    assert!((mesh.volume_m3().unwrap() - 48.0).abs() < 1e-9);
    assert_eq!(mesh.health.flipped, 0);
    let names: Vec<_> = mesh
        .objects
        .iter()
        .map(|(name, rows)| (name.as_str(), rows.clone()))
        .collect();
    assert_eq!(
        names,
        [
            ("object 1", 0..12),
            ("object 2", 0..12),
            ("object 1", 12..24)
        ]
    );
}

#[test]
fn a_mirrored_copy_still_points_outward() {
    let build = "<item objectid=\"1\" transform=\"-1 0 0 0 1 0 0 0 1 0 0 0\"/>";
    let mesh = mesh("x.3mf", &threemf(&model_xml("", &body(1), build)), None);
    is_brick(&mesh, 0.001);
    assert_eq!(mesh.health.flipped, 0);
}

#[test]
fn models_may_be_spread_over_the_archive() {
    let production = "xmlns:p=\"http://schemas.microsoft.com/3dmanufacturing/production/2015/06\" \
                      requiredextensions=\"p\" unit=\"inch\"";
    let resources = components(2, &[(5, "p:path=\"/3D/Objects/body.model\"")]);
    let main = model_xml(production, &resources, "<item objectid=\"2\"/>");
    let part = model_xml("unit=\"inch\"", &body(5), "");
    let relations = "<Relationships xmlns=\"http://schemas.openxmlformats.org/package/2006/relationships\">\
        <Relationship Target=\"/3D/main.model\" Id=\"a\" \
        Type=\"http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel\"/></Relationships>";
    let members: [(&str, &[u8]); 3] = [
        ("_rels/.rels", relations.as_bytes()),
        ("3D/main.model", main.as_bytes()),
        ("3D/Objects/body.model", part.as_bytes()),
    ];
    is_brick(&mesh("x.3mf", &archive(&members), None), 0.0254);
    // The same without the part: nothing outside the archive is looked at.
    refused(
        "x.3mf",
        &archive(&members[..2]),
        None,
        &["body.model", "archive"],
    );
    let metric = part.replace("inch", "meter");
    let mixed = [
        members[0],
        members[1],
        ("3D/Objects/body.model", metric.as_bytes()),
    ];
    refused("x.3mf", &archive(&mixed), None, &["different units"]);
}

#[test]
fn unknown_required_extensions_are_refused() {
    let lattice = "xmlns:b=\"http://schemas.microsoft.com/3dmanufacturing/beamlattice/2017/02\" \
                   requiredextensions=\"b\"";
    let model = model_xml(lattice, &body(1), "<item objectid=\"1\"/>");
    refused(
        "x.3mf",
        &threemf(&model),
        None,
        &["beamlattice", "plain triangles"],
    );
}

#[test]
fn references_and_transforms_of_a_3mf_must_make_sense() {
    let cases = [
        (body(1), "<item objectid=\"7\"/>", "object 7"),
        (body(1), "<item/>", "objectid is missing"),
        (body(1), "<item objectid=\"-1\"/>", "-1"),
        (body(1), "", "holds no triangles"),
        (body(1) + &body(1), "<item objectid=\"1\"/>", "not used yet"),
        (
            body(1),
            "<item objectid=\"1\" transform=\"1 0 0\"/>",
            "12 finite numbers",
        ),
        (
            body(1),
            "<item objectid=\"1\" transform=\"1 0 0 0 1 0 0 0 0 0 0 0\"/>",
            "keeps volumes",
        ),
        (
            body(1),
            "<item objectid=\"1\" transform=\"1 0 0 0 1 0 0 0 nan 0 0 0\"/>",
            "keeps volumes",
        ),
        (
            body(1).replace("v1=\"0\"", "v1=\"8\""),
            "<item objectid=\"1\"/>",
            "vertex 8",
        ),
        (
            body(1).replace("v1=\"0\"", "v1=\"0.5\""),
            "<item objectid=\"1\"/>",
            "0.5",
        ),
        (
            body(1).replace("v1=\"0\"", ""),
            "<item objectid=\"1\"/>",
            "v1 is missing",
        ),
        (
            body(1).replace("x=\"1\"", "x=\"inf\""),
            "<item objectid=\"1\"/>",
            "inf",
        ),
        (
            body(1).replace("x=\"1\"", "x=\"1,5\""),
            "<item objectid=\"1\"/>",
            "1,5",
        ),
        (
            body(1).replace("x=\"1\"", "x=\"1e60\""),
            "<item objectid=\"1\"/>",
            "1e57 m",
        ),
        (
            body(1).replace("type=\"model\"", "type=\"support\""),
            "<item objectid=\"1\"/>",
            "support structures",
        ),
        (
            format!(
                "<object id=\"2\"><object id=\"3\">{}</object></object>",
                mesh_xml(&brick())
            ),
            "<item objectid=\"3\"/>",
            "end of an object",
        ),
    ];
    for (resources, build, fragment) in cases {
        refused(
            "x.3mf",
            &threemf(&model_xml("", &resources, build)),
            None,
            &[fragment],
        );
    }
}

#[test]
fn components_that_contain_themselves_are_refused() {
    let circle = components(1, &[(2, "")]) + &components(2, &[(1, "")]);
    let model = model_xml("", &circle, "<item objectid=\"1\"/>");
    refused(
        "x.3mf",
        &threemf(&model),
        None,
        &["contains itself", "object 1"],
    );
}

#[test]
fn copies_of_copies_are_refused() {
    // Each object holds the one before twice: 2³⁰ boxes, or as many empty objects.
    for first in [body(1), object(1, "<mesh><vertices/><triangles/></mesh>")] {
        let mut resources = first;
        for id in 2..32 {
            resources += &components(id, &[(id - 1, ""), (id - 1, "")]);
        }
        let model = model_xml("", &resources, "<item objectid=\"31\"/>");
        refused("x.3mf", &threemf(&model), None, &["more than", "copies"]);
    }
    let mut resources = body(1);
    for id in 2..100 {
        resources += &components(id, &[(id - 1, "")]);
    }
    let model = model_xml("", &resources, "<item objectid=\"99\"/>");
    refused(
        "x.3mf",
        &threemf(&model),
        None,
        &["nested more than 32 deep"],
    );
}

#[test]
fn corners_without_triangles_cannot_be_copied_without_end() {
    let corners = "<vertex x=\"1\" y=\"2\" z=\"3\"/>".repeat(100_000);
    let triangle = "<triangle v1=\"0\" v2=\"1\" v3=\"2\"/>";
    let first = object(
        1,
        &format!("<mesh><vertices>{corners}</vertices><triangles>{triangle}</triangles></mesh>"),
    );
    let copies: Vec<_> = (0..10_000).map(|_| (1, "")).collect();
    let model = model_xml(
        "",
        &(first + &components(2, &copies)),
        "<item objectid=\"2\"/>",
    );
    refused("x.3mf", &threemf(&model), None, &["makes more than"]);
}

#[test]
fn xml_that_explodes_is_refused() {
    let entities = "<!DOCTYPE a [<!ENTITY a \"ha\"><!ENTITY b \"&a;&a;&a;\">]>";
    let model = model_xml("", &body(1), "<item objectid=\"1\"/>");
    let with_entities = model.replace("?>\n", &format!("?>\n{entities}"));
    refused("x.3mf", &threemf(&with_entities), None, &["document type"]);
    let named = model.replace("name=\"object 1\"", "name=\"&a;\"");
    refused("x.3mf", &threemf(&named), None, &["XML"]);
    let deep = "<a>".repeat(100_000);
    refused(
        "x.3mf",
        &threemf(&model_xml("", &deep, "")),
        None,
        &["64 deep"],
    );
    let long = model.replace(
        "name=\"object 1\"",
        &format!("name=\"{}\"", "x".repeat(100_000)),
    );
    refused("x.3mf", &threemf(&long), None, &["tag is"]);
    let longer = model.replace(
        "<resources>",
        &format!("<!--{}--><resources>", "x".repeat(9 << 20)),
    );
    refused("x.3mf", &threemf(&longer), None, &["longer than"]);
    for text in ["", "<model", "<model>", "<model></build>", "\u{0}", "model"] {
        refused("x.3mf", &threemf(text), None, &[]);
    }
    refused(
        "x.3mf",
        &archive(&[("3D/3dmodel.model", &[0xff, 0xfe, b'<', 0])]),
        None,
        &[],
    );
}

#[test]
fn an_archive_bomb_is_refused() {
    // 200 MB of blanks in about 200 kB.
    let blanks = " ".repeat(1000) + "\n<metadata/>";
    let mut model = model_xml("", "", "");
    model.insert_str(model.find("<resources>").unwrap(), &blanks.repeat(200_000));
    let bytes = threemf(&model);
    assert!(bytes.len() < 2 << 20);
    refused("x.3mf", &bytes, None, &["unpacks to more than", "bomb"]);
}

#[test]
fn archives_that_are_none_are_refused() {
    let whole = threemf(&model_xml("", &body(1), "<item objectid=\"1\"/>"));
    is_brick(&mesh("x.3mf", &whole, None), 0.001);
    for length in 0..whole.len() {
        refused("x.3mf", &whole[..length], None, &[]);
    }
    refused("x.3mf", &archive(&[]), None, &["3dmodel.model"]);
    refused(
        "x.3mf",
        &archive(&[("other.txt", b"hello")]),
        None,
        &["3dmodel.model"],
    );
    // One byte wrong anywhere is noticed or harmless, and never a panic.
    for at in 0..whole.len() {
        let mut wrong = whole.clone();
        wrong[at] ^= 0x55;
        drop(super::read("x.3mf", &wrong, None));
    }
}
