//! The real window in a virtual display: typed into, clicked on, resized, robbed of its device.
//!
//! Run by `tests/all`. Needs `Xvfb`, `xdotool` and ImageMagick's `import`; each step is asserted by what the window then
//! says of itself. Screenshots are left in `target/window/`.

mod measure;
mod written;

use evenfall_tests::solids;
use glam::DVec3;
use serde_json::Value;
use std::io::{BufRead, BufReader, Write};
use std::path::{Path, PathBuf};
use std::process::{Child, ChildStdin, ChildStdout, Command, Stdio};
use std::time::{Duration, Instant};

/// A slow machine under load is no failure; a window that hangs is.
const PATIENCE: Duration = Duration::from_secs(120);

const PLAN: &str = r#"title = "TITLE"
[chamber]
shape = "cylinder"
diameter = "300 mm"
height = "300 mm"
[[part]]
name = "block"
mesh = "block.stl"
unit = "cm"
at = ["0 mm", "0 mm", "150 mm"]
turn = ["0 deg", "20 deg", "0 deg"] # tilted
[[source]]
name = "head"
kind = "sputter"
metal = "silver"
at = ["30 mm", "0 mm", "60 mm"]
facing = [0, 0, 1]
footprint = { shape = "ring", inner_radius = "12 mm", outer_radius = "21 mm" }
output = { charge = "50 mg" }
[[step]]
lasts = "10 min"
[film]
want = "100 nm"
"#;

/// Ends the process with its owner.
struct Ended(Child);

impl Drop for Ended {
    fn drop(&mut self) {
        // It may have ended by itself.
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}

/// How a window is opened.
#[derive(Clone, Copy)]
struct Look {
    /// Colours, as settings name them.
    colours: &'static str,
    /// Pixels per point.
    scale: u32,
}

const PLAIN: Look = Look {
    colours: "light",
    scale: 1,
};

struct Window {
    display: String,
    folder: PathBuf,
    shots: PathBuf,
    app: Ended,
    to: ChildStdin,
    from: BufReader<ChildStdout>,
    patience: Duration,
    _screen: Ended,
}

impl Window {
    fn open(folder: &Path, look: Look) -> Self {
        let kept = folder.join("settings").join("evenfall");
        std::fs::create_dir_all(&kept).expect("a folder for settings");
        let settings = format!("{{\"colours\": \"{}\"}}", look.colours);
        std::fs::write(kept.join("window.json"), settings).expect("settings");
        let mut screen = Command::new("Xvfb")
            .args([
                "-displayfd",
                "1",
                "-screen",
                "0",
                "2600x1700x24",
                "-nolisten",
                "tcp",
            ])
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .expect("Xvfb starts");
        let mut number = String::new();
        BufReader::new(screen.stdout.take().expect("a pipe"))
            .read_line(&mut number)
            .expect("Xvfb names its display");
        let display = format!(":{}", number.trim());
        let build = std::env::current_exe().expect("this program's path");
        let build = build
            .ancestors()
            .nth(2)
            .expect("the build folder")
            .to_owned();
        let mut app = Command::new(build.join("evenfall"))
            .args(["show", "--heed"])
            .env("DISPLAY", &display)
            .env("XDG_CONFIG_HOME", folder.join("settings"))
            .env("WINIT_X11_SCALE_FACTOR", look.scale.to_string())
            .env_remove("WAYLAND_DISPLAY")
            .current_dir(folder)
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .spawn()
            .expect("the window starts");
        let shots = build.join("../window");
        std::fs::create_dir_all(&shots).expect("a folder for screenshots");
        Self {
            to: app.stdin.take().expect("a pipe"),
            from: BufReader::new(app.stdout.take().expect("a pipe")),
            app: Ended(app),
            display,
            patience: PATIENCE,
            folder: folder.to_owned(),
            shots,
            _screen: Ended(screen),
        }
    }

    fn tell(&mut self, command: &str) {
        writeln!(self.to, "{command}").expect("the window listens");
    }

    fn say(&mut self) -> Value {
        self.tell("say");
        let mut line = String::new();
        self.from.read_line(&mut line).expect("the window answers");
        serde_json::from_str(&line).unwrap_or(Value::Null)
    }

    /// Closes it and waits for its end.
    fn close(&mut self) {
        self.tell("quit");
        let ended = self.app.0.wait().expect("the window ends");
        assert!(ended.success(), "{ended}");
    }

    /// Waits until what the window says fulfils a condition.
    fn until(&mut self, what: &str, holds: impl Fn(&Value) -> bool) -> Value {
        let begun = Instant::now();
        loop {
            let said = self.say();
            if holds(&said) {
                println!("ok   {what}");
                return said;
            }
            if begun.elapsed() > self.patience {
                self.shoot("failed");
                panic!("{what}: {said:#}");
            }
            std::thread::sleep(Duration::from_millis(50));
        }
    }

    fn drive(&self, arguments: &[&str]) {
        let done = Command::new("xdotool")
            .args(arguments)
            .env("DISPLAY", &self.display)
            .status()
            .expect("xdotool runs");
        assert!(done.success(), "xdotool {arguments:?}");
    }

    /// X's number of the window.
    fn number(&self) -> String {
        let found = Command::new("xdotool")
            .args(["search", "--onlyvisible", "--name", "^Evenfall$"])
            .env("DISPLAY", &self.display)
            .output()
            .expect("xdotool runs");
        let found = String::from_utf8_lossy(&found.stdout);
        found
            .lines()
            .next()
            .expect("the window's number")
            .to_owned()
    }

    fn click(&self, [x, y]: [f64; 2]) {
        self.drive(&["mousemove", &format!("{x:.0}"), &format!("{y:.0}")]);
        std::thread::sleep(Duration::from_millis(150));
        self.drive(&["click", "1"]);
        std::thread::sleep(Duration::from_millis(150));
    }

    /// Types a text into the field that a label names.
    fn type_into(&mut self, field: &str, text: &str) {
        let mut said = self.until(&format!("field {field} is there"), |said| {
            field_at(said, field).is_some()
        });
        // into view, if the panel has to be scrolled for it
        for _ in 0..40 {
            let height = said["size"][1].as_f64().unwrap_or(0.0);
            let at = field_at(&said, field).expect("found above");
            if at[1] < height - 130.0 {
                break;
            }
            self.drive(&["mousemove", "120", "300"]);
            self.drive(&["click", "5"]);
            std::thread::sleep(Duration::from_millis(300));
            said = self.say();
        }
        self.click(field_at(&said, field).expect("found above"));
        self.drive(&["key", "ctrl+a"]);
        self.drive(&["type", "--delay", "15", text]);
        self.drive(&["key", "Return"]);
    }

    fn shoot(&self, name: &str) {
        let file = self.shots.join(format!("{name}.png"));
        let done = Command::new("import")
            .args(["-window", &self.number()])
            .arg(&file)
            .env("DISPLAY", &self.display)
            .status();
        assert!(done.is_ok_and(|done| done.success()), "a screenshot");
    }
}

fn middle(node: &Value) -> Option<[f64; 2]> {
    let at: Vec<f64> = node["at"]
        .as_array()?
        .iter()
        .filter_map(Value::as_f64)
        .collect();
    let [x0, y0, x1, y1] = at[..] else {
        return None;
    };
    Some([0.5 * (x0 + x1), 0.5 * (y0 + y1)])
}

/// Middle of the text field that a label names.
fn field_at(said: &Value, label: &str) -> Option<[f64; 2]> {
    let (ids, nodes) = (said["ids"].as_array()?, said["nodes"].as_array()?);
    let named: Vec<&Value> = ids
        .iter()
        .zip(nodes)
        .filter(|(_, node)| node["label"] == label || node["value"] == label)
        .map(|(id, _)| id)
        .collect();
    let field = nodes.iter().find(|node| {
        node["role"] == "TextInput"
            && node["labelled_by"]
                .as_array()
                .is_some_and(|by| by.iter().any(|id| named.contains(&id)))
    })?;
    middle(field)
}

fn node<'a>(said: &'a Value, label: &str) -> Option<&'a Value> {
    let mut nodes = said["nodes"].as_array()?.iter();
    nodes.find(|node| node["label"] == label || node["value"] == label)
}

fn at_rest(said: &Value) -> bool {
    said["running"] == false && said["headline"].is_string()
}

fn mean(said: &Value) -> f64 {
    said["mean_nm"].as_f64().expect("a mean thickness")
}

/// A flat block as binary STL: what it catches depends on its tilt.
fn block() -> Vec<u8> {
    let sheet = solids::block(DVec3::new(-1.0, -0.7, -0.3), DVec3::new(1.0, 0.7, 0.3));
    let mut bytes = vec![0; 80];
    let count = u32::try_from(sheet.triangles.len()).expect("a small mesh");
    bytes.extend(count.to_le_bytes());
    for triangle in &sheet.triangles {
        bytes.extend([0; 12]);
        for corner in triangle {
            for x in corner.as_vec3().to_array() {
                bytes.extend(x.to_le_bytes());
            }
        }
        bytes.extend([0; 2]);
    }
    bytes
}

fn main() {
    let folder = tempfile::tempdir().expect("a folder");
    let mut asked = std::env::args().skip(1);
    if asked.next().as_deref() == Some("measure") {
        measure::run(folder.path(), &asked.next().unwrap_or_default());
        return;
    }
    std::fs::write(folder.path().join("block.stl"), block()).expect("a mesh");
    for name in ["first", "second"] {
        let plan = PLAN.replace("TITLE", name);
        std::fs::write(folder.path().join(format!("{name}.toml")), plan).expect("a plan");
    }
    let mut window = Window::open(folder.path(), PLAIN);
    window.until("the window opens", |said| said["frames"].as_u64() > Some(0));
    let id = window.number();
    // without a window manager nobody else does
    window.drive(&["windowfocus", "--sync", &id]);
    window.shoot("empty");

    window.type_into("Path", "first.toml");
    let first = window.until("a plan given by its path is coated", |said| {
        said["title"] == "first" && at_rest(said)
    });
    let headline = first["headline"].as_str().expect("a headline").to_owned();
    assert!(headline.contains("reaches 100 nm"), "{headline}");
    window.until("the headline is read out", |said| {
        node(said, &headline).is_some()
    });
    window.shoot("first");

    let second = window.folder.join("second.toml");
    window.tell(&format!("drop {}", second.display()));
    let before = window.until("a dropped plan is coated", |said| {
        said["title"] == "second" && at_rest(said)
    });

    window.type_into("turn y", "75 deg");
    let moved = window.until("an edited tilt gives another film", |said| {
        at_rest(said) && said["unsaved"] == true && (mean(said) / mean(&before) - 1.0).abs() > 0.02
    });
    window.shoot("edited");

    let stage = node(&moved, "Stage").and_then(middle).expect("the stage");
    window.click(stage);
    window.until("a click on the part pins a spot", |said| {
        said["spot"] == true && node(said, "Pinned spot").is_some()
    });
    window.shoot("pinned");

    window.drive(&["key", "ctrl+z"]);
    window.until("undo brings the first film back", |said| {
        at_rest(said) && mean(said).total_cmp(&mean(&before)).is_eq() && said["unsaved"] == false
    });

    window.drive(&["windowsize", &id, "1500", "1000"]);
    window.until("the window is resized, and the stage with it", |said| {
        let wide = node(said, "Stage").and_then(|node| node["at"][2].as_f64());
        said["size"] == serde_json::json!([1500, 1000]) && wide > Some(1100.0)
    });
    window.shoot("resized");

    window.tell("lose");
    window.until("a lost device is opened again", |said| {
        said["losses"] == 1 && at_rest(said) && node(said, "Stage").is_some()
    });
    window.shoot("revived");

    std::thread::sleep(Duration::from_secs(2));
    let frames = window.say()["frames"].clone();
    std::thread::sleep(Duration::from_secs(3));
    assert_eq!(
        window.say()["frames"],
        frames,
        "an idle window draws no frame"
    );
    println!("ok   an idle window draws no frame");

    // a click, and gone before it can have been written
    let button = node(&window.say(), "Write outcome").and_then(middle);
    window.click(button.expect("the button"));
    window.close();
    println!("ok   the window closes");
    written::whole(folder.path(), "second-coat");
    drop(window);
    written::alone(folder.path(), "second-coat");
    for colours in ["light", "dark"] {
        for scale in [1, 2] {
            looks(folder.path(), Look { colours, scale });
        }
    }
}

/// The window in other colours and at another scale: a spot pinned, the part about to be moved.
fn looks(folder: &Path, look: Look) {
    let mut window = Window::open(folder, look);
    window.until("the window opens", |said| said["frames"].as_u64() > Some(0));
    let id = window.number();
    window.drive(&["windowfocus", "--sync", &id]);
    let plan = folder.join("first.toml");
    window.tell(&format!("drop {}", plan.display()));
    let coated = window.until("a plan is coated", |said| {
        said["title"] == "first" && at_rest(said)
    });
    let scale = f64::from(look.scale);
    let width = 1280.0 * scale;
    assert_eq!(
        coated["size"][0].as_f64(),
        Some(width),
        "the window is as large as its scale says"
    );
    let stage = node(&coated, "Stage").and_then(middle).expect("the stage");
    window.click(stage.map(|x| x * scale));
    // where things are now: the bar above may have had two rows while it ran
    let pinned = window.until("a click pins at this scale too", |said| {
        said["spot"] == true && at_rest(said)
    });
    let moves = node(&pinned, "Move part")
        .and_then(middle)
        .expect("the grips' box");
    window.click(moves.map(|x| x * scale));
    window.until("grips are there", |said| {
        node(said, "Move block x").is_some()
    });
    window.shoot(&format!("{}-{}", look.colours, look.scale));
    window.close();
}
