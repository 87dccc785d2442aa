//! Runs the real binary in an empty folder, with limits on time and memory.

use std::fs;
use std::io::Read;
use std::os::unix::process::ExitStatusExt;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, ExitStatus, Stdio};
use std::thread;
use std::time::{Duration, Instant};
use tempfile::TempDir;

/// Processor time a hostile input may take, s.
const HOSTILE_CPU_S: u32 = 5;
/// Address space a hostile input may take, KiB: 500 MB.
const HOSTILE_MEMORY_KIB: u32 = 500_000;
/// Wall time after which a run counts as hanging; far beyond what a loaded machine needs.
const WATCHDOG: Duration = Duration::from_secs(240);

/// A folder of its own for one test, gone with it.
pub struct Folder {
    folder: TempDir,
}

impl Folder {
    /// An empty folder.
    pub fn new() -> Self {
        Self {
            folder: tempfile::tempdir().unwrap(),
        }
    }

    pub fn path(&self) -> &Path {
        self.folder.path()
    }

    pub fn join(&self, name: &str) -> PathBuf {
        self.path().join(name)
    }

    pub fn write(&self, name: &str, content: impl AsRef<[u8]>) {
        fs::write(self.join(name), content).unwrap();
    }

    pub fn read(&self, name: &str) -> String {
        fs::read_to_string(self.join(name)).unwrap()
    }

    /// Names of everything in the folder, sorted.
    pub fn names(&self) -> Vec<String> {
        names_in(self.path())
    }

    /// Runs the program here.
    pub fn run(&self, arguments: &[&str]) -> Ran {
        wait(&mut self.start(arguments))
    }

    /// Runs the program here under the limits that hold for hostile input.
    pub fn run_limited(&self, arguments: &[&str]) -> Ran {
        let limits = format!(
            "ulimit -t {HOSTILE_CPU_S} && ulimit -v {HOSTILE_MEMORY_KIB} && exec \"$0\" \"$@\""
        );
        let mut command = Command::new("sh");
        command
            .args(["-c", &limits, env!("CARGO_BIN_EXE_evenfall")])
            .args(arguments)
            // Each thread reserves address space that it never uses.
            .env("RAYON_NUM_THREADS", "2");
        wait(&mut self.spawn(command))
    }

    /// Runs a command here to its end.
    pub fn finish(&self, command: Command) -> Ran {
        wait(&mut self.spawn(command))
    }

    /// Starts the program here and lets it run.
    pub fn start(&self, arguments: &[&str]) -> Child {
        let mut command = Command::new(env!("CARGO_BIN_EXE_evenfall"));
        command.args(arguments);
        self.spawn(command)
    }

    fn spawn(&self, mut command: Command) -> Child {
        command
            .current_dir(self.path())
            .env_remove("NO_COLOR")
            .stdin(Stdio::null())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap()
    }
}

/// Names in a folder, sorted.
pub fn names_in(folder: &Path) -> Vec<String> {
    let mut names: Vec<_> = fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .collect();
    names.sort();
    names
}

/// What a run of the program left.
#[derive(Debug)]
pub struct Ran {
    status: ExitStatus,
    pub stdout: String,
    pub stderr: String,
}

impl Ran {
    /// The exit status, with everything that was said where it is not the one expected.
    #[track_caller]
    pub fn ends_with(self, code: i32) -> Self {
        assert_eq!(
            self.status.code(),
            Some(code),
            "signal {:?}\nstdout:\n{}\nstderr:\n{}",
            self.status.signal(),
            clip(&self.stdout),
            clip(&self.stderr)
        );
        assert!(
            !self.stderr.contains("panicked"),
            "a panic: {}",
            clip(&self.stderr)
        );
        self
    }

    /// The exit status is that of input that cannot be used, and stderr says each of these.
    #[track_caller]
    pub fn refuses_with(self, said: &[&str]) -> Self {
        let ran = self.ends_with(2);
        for text in said {
            assert!(
                ran.stderr.contains(text),
                "{text:?} is not in:\n{}",
                clip(&ran.stderr)
            );
        }
        assert_eq!(ran.stdout, "", "stdout carries only what was asked for");
        ran
    }

    /// stdout as JSON.
    #[track_caller]
    pub fn json(&self) -> serde_json::Value {
        serde_json::from_str(&self.stdout).unwrap()
    }
}

fn clip(text: &str) -> &str {
    let end = text
        .char_indices()
        .nth(4000)
        .map_or(text.len(), |(index, _)| index);
    &text[..end]
}

/// Waits for the program with a watchdog against hanging.
pub fn wait(child: &mut Child) -> Ran {
    let stdout = drain(child.stdout.take());
    let stderr = drain(child.stderr.take());
    let began = Instant::now();
    let status = loop {
        if let Some(status) = child.try_wait().unwrap() {
            break status;
        }
        if began.elapsed() > WATCHDOG {
            child.kill().unwrap();
            panic!("the program hangs");
        }
        thread::sleep(Duration::from_millis(5));
    };
    Ran {
        status,
        stdout: stdout.join().unwrap(),
        stderr: stderr.join().unwrap(),
    }
}

fn drain(pipe: Option<impl Read + Send + 'static>) -> thread::JoinHandle<String> {
    let mut pipe = pipe.unwrap();
    thread::spawn(move || {
        let mut bytes = Vec::new();
        pipe.read_to_end(&mut bytes).unwrap();
        String::from_utf8(bytes).unwrap()
    })
}

/// Sends a signal by its short name, as in "INT".
pub fn signal(child: &Child, name: &str) {
    let sent = Command::new("sh")
        .args(["-c", "kill -s \"$0\" \"$1\"", name, &child.id().to_string()])
        .status()
        .unwrap();
    assert!(sent.success());
}
