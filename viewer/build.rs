//! Puts the commit, the profile and the target into the program, for `evenfall --version`.

use std::path::Path;
use std::process::Command;

fn main() {
    println!("cargo::rerun-if-changed=build.rs");
    // A source tree without git (an archive, say) still builds: it then says "no commit known".
    let commit = git(&["rev-parse", "--short=10", "HEAD"]);
    if let Some(log) = git(&["rev-parse", "--git-path", "logs/HEAD"])
        && Path::new(&log).exists()
    {
        println!("cargo::rerun-if-changed={log}");
    }
    let commit = commit.unwrap_or_else(|| "no commit known".to_owned());
    println!("cargo::rustc-env=EVENFALL_COMMIT={commit}");
    for (from, to) in [
        ("PROFILE", "EVENFALL_PROFILE"),
        ("TARGET", "EVENFALL_TARGET"),
    ] {
        let value = std::env::var(from).unwrap_or_else(|_| "unknown".to_owned());
        println!("cargo::rustc-env={to}={value}");
    }
}

/// What git says, or nothing where it has nothing to say.
fn git(arguments: &[&str]) -> Option<String> {
    let output = Command::new("git").args(arguments).output().ok()?;
    let text = String::from_utf8(output.stdout).ok()?;
    let text = text.trim();
    (output.status.success() && !text.is_empty()).then(|| text.to_owned())
}
