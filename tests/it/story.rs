//! A copy of a data folder to change and run commands on: scrubbed environment, masked paths.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

use tempfile::TempDir;

/// The small data folder of the tests.
pub(crate) const SMALL: &str = "tests/fixtures/small";
/// The shipped data folder.
pub(crate) const SHIPPED: &str = "matrices";

/// A story: a data folder of its own, changed step by step.
pub(crate) struct Story {
    folder: TempDir,
}

/// What a command did.
#[derive(Debug)]
pub(crate) struct Told {
    /// Its exit code.
    pub(crate) code: i32,
    /// Standard output, paths masked.
    pub(crate) out: String,
    /// Standard error, paths masked.
    pub(crate) err: String,
}

impl Story {
    /// Copies a data folder of the repository.
    pub(crate) fn of(data: &str) -> Story {
        let story = Story { folder: TempDir::new().unwrap() };
        copy(&Path::new(env!("CARGO_MANIFEST_DIR")).join(data), &story.data());
        story
    }

    /// Where the data are.
    pub(crate) fn data(&self) -> PathBuf {
        self.folder.path().join("data")
    }

    /// The folder that commands run in.
    pub(crate) fn root(&self) -> &Path {
        self.folder.path()
    }

    /// Replaces the first `from` of a file, which must be there.
    pub(crate) fn change(self, file: &str, from: &str, to: &str) -> Story {
        let path = self.data().join(file);
        let text = fs::read_to_string(&path).unwrap();
        assert!(text.contains(from), "{file} has no {from:?}");
        fs::write(path, text.replacen(from, to, 1)).unwrap();
        self
    }

    /// Rewrites a file.
    pub(crate) fn rewrite(self, file: &str, change: impl FnOnce(&str) -> String) -> Story {
        let path = self.data().join(file);
        let text = fs::read_to_string(&path).unwrap();
        fs::write(path, change(&text)).unwrap();
        self
    }

    /// Runs the program in the story's folder.
    pub(crate) fn run(&self, arguments: &[&str]) -> Told {
        self.run_with(arguments, &[])
    }

    /// The same with variables of the environment.
    pub(crate) fn run_with(&self, arguments: &[&str], variables: &[(&str, &str)]) -> Told {
        let output = Command::new(env!("CARGO_BIN_EXE_lapwise"))
            .args(arguments)
            .current_dir(self.root())
            .env_clear()
            .envs(
                std::env::vars()
                    .filter(|(name, _)| ["PATH", "HOME", "XDG_CACHE_HOME", "LAPWISE_TYPST"].contains(&name.as_str())),
            )
            .env("LAPWISE_STATE", self.root().join("state"))
            .envs(variables.iter().copied())
            .output()
            .unwrap();
        let mask =
            |bytes: Vec<u8>| String::from_utf8(bytes).unwrap().replace(&self.root().display().to_string(), "[HERE]");
        Told { code: output.status.code().unwrap_or(-1), out: mask(output.stdout), err: mask(output.stderr) }
    }

    /// A library that a program loads before the system's, made by the C compiler that the build needs too.
    pub(crate) fn preload(&self, source: &str) -> String {
        let library = self.root().join(source).with_extension("so");
        let source = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/it/preload").join(source);
        let made = Command::new("cc").args(["-shared", "-fPIC", "-o"]).arg(&library).arg(&source).status();
        assert!(made.is_ok_and(|made| made.success()), "cc does not make {}", source.display());
        library.display().to_string()
    }

    /// Runs a command on the story's data.
    pub(crate) fn lapwise(&self, arguments: &[&str]) -> Told {
        let mut all = arguments.to_vec();
        all.extend(["--data", "data"]);
        self.run(&all)
    }
}

/// Copies a folder with all that is in it.
pub(crate) fn copy(from: &Path, to: &Path) {
    fs::create_dir_all(to).unwrap();
    for entry in fs::read_dir(from).unwrap() {
        let entry = entry.unwrap();
        let target = to.join(entry.file_name());
        if entry.path().is_dir() {
            copy(&entry.path(), &target);
        } else {
            fs::copy(entry.path(), target).unwrap();
        }
    }
}

/// Every file below a folder with its bytes.
pub(crate) fn tree(folder: &Path) -> Vec<(String, Vec<u8>)> {
    let mut files = Vec::new();
    for entry in fs::read_dir(folder).unwrap().map(Result::unwrap) {
        let path = entry.path();
        if path.is_dir() {
            files.extend(tree(&path));
        } else if path.is_file() {
            files.push((path.display().to_string(), fs::read(&path).unwrap()));
        }
    }
    files.sort();
    files
}
