//! Small plans and meshes that the checks start from.

use crate::program::Folder;

type Triangle = [[f32; 3]; 3];

/// A cube around its origin, 12 triangles, normals outward.
pub fn cube(edge: f32) -> Vec<Triangle> {
    let half = edge / 2.0;
    let corner = |index: usize| {
        let sign = |bit: usize| if index >> bit & 1 == 1 { half } else { -half };
        [sign(0), sign(1), sign(2)]
    };
    [
        [0, 2, 3],
        [0, 3, 1],
        [4, 5, 7],
        [4, 7, 6],
        [0, 1, 5],
        [0, 5, 4],
        [2, 6, 7],
        [2, 7, 3],
        [0, 4, 6],
        [0, 6, 2],
        [1, 3, 7],
        [1, 7, 5],
    ]
    .map(|triangle| triangle.map(corner))
    .to_vec()
}

/// A bowl, open upward: an open sheet of 2·n² triangles that shades itself.
pub fn bowl(radius: f32, n: u16) -> Vec<Triangle> {
    let point = |i: u16, j: u16| {
        let (u, v) = (
            f32::from(i) / f32::from(n) * std::f32::consts::TAU,
            f32::from(j) / f32::from(n) * std::f32::consts::FRAC_PI_2,
        );
        [
            radius * v.sin() * u.cos(),
            radius * v.sin() * u.sin(),
            -radius * v.cos(),
        ]
    };
    let mut triangles = Vec::new();
    for i in 0..n {
        for j in 0..n {
            let next = (i + 1) % n;
            let (a, b, c, d) = (
                point(i, j),
                point(next, j),
                point(next, j + 1),
                point(i, j + 1),
            );
            triangles.push([a, c, b]);
            triangles.push([a, d, c]);
        }
    }
    triangles
}

/// A binary STL file.
pub fn stl(triangles: &[Triangle]) -> Vec<u8> {
    let mut bytes = vec![b' '; 80];
    bytes.extend(u32::try_from(triangles.len()).unwrap().to_le_bytes());
    for triangle in triangles {
        bytes.extend([0; 12]);
        for corner in triangle {
            for coordinate in corner {
                bytes.extend(coordinate.to_le_bytes());
            }
        }
        bytes.extend([0; 2]);
    }
    bytes
}

/// An ASCII STL file.
pub fn ascii_stl(triangles: &[Triangle]) -> String {
    let mut text = String::from("solid cube\n");
    for triangle in triangles {
        text.push_str("facet normal 0 0 0\nouter loop\n");
        for [x, y, z] in triangle {
            text.push_str(&format!("vertex {x} {y} {z}\n"));
        }
        text.push_str("endloop\nendfacet\n");
    }
    text.push_str("endsolid cube\n");
    text
}

/// A ring source below, a 20 mm cube 100 mm above it, a coupon beside it, two steps.
pub const CUBE_PLAN: &str = r#"title = "A cube over a ring"

[[source]]
name = "head"
kind = "sputter"
metal = "silver"
at = ["0 mm", "0 mm", "0 mm"]
facing = [0, 0, 1]
footprint = { shape = "ring", inner_radius = "12 mm", outer_radius = "21 mm" }
output = { charge = "50 mg" }

[[part]]
name = "cube"
mesh = "cube.stl"
unit = "mm"
at = ["0 mm", "0 mm", "100 mm"]

[[coupon]]
name = "witness"
at = ["40 mm", "0 mm", "100 mm"]
facing = [0, 0, -1]

[[rotation]]
axis = [0, 1, 0]
through = ["0 mm", "0 mm", "100 mm"]
speed = "6 rpm"

[[step]]
note = "first half"
lasts = "5 min"

[[step]]
note = "second half"
lasts = "5 min"
"#;

/// The plan with one line replaced.
#[track_caller]
pub fn cube_plan_with(line: &str, instead: &str) -> String {
    assert_eq!(CUBE_PLAN.matches(line).count(), 1, "{line}");
    CUBE_PLAN.replace(line, instead)
}

/// A folder with `cube.toml` and `cube.stl`.
pub fn cube_folder() -> Folder {
    let folder = Folder::new();
    folder.write("cube.toml", CUBE_PLAN);
    folder.write("cube.stl", stl(&cube(20.0)));
    folder
}

/// A folder with `bowl.toml` and `bowl.stl`, which take long when asked for great accuracy.
pub fn bowl_folder() -> Folder {
    let folder = Folder::new();
    let plan = CUBE_PLAN
        .replace("cube.stl", "bowl.stl")
        .replace("\"cube\"", "\"bowl\"")
        + "\n[[probe]]\nname = \"rim to rim\"\npart = \"bowl\"\nfrom = [\"-19 mm\", \"0 mm\", \"0 mm\"]\nto = [\"19 mm\", \"0 mm\", \"0 mm\"]\npoints = 5\n";
    folder.write("bowl.toml", plan);
    folder.write("bowl.stl", stl(&bowl(20.0, 40)));
    folder
}
