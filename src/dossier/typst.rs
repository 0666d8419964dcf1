//! Finding, installing and running the Typst compiler, one pinned version of it.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

use super::pool::Seat;
use crate::fault::{Code, Fault};
use crate::keep::unwritable;

/// The version that prints dossiers.
pub const VERSION: &str = "0.15.1";
/// Names a compiler to use instead of looking for one.
pub const VARIABLE: &str = "LAPWISE_TYPST";

/// Where a compiler was found.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Origin {
    /// Named by [`VARIABLE`].
    Named,
    /// On the search path.
    Path,
    /// In the cache that `lapwise setup` fills.
    Cache,
}

impl Origin {
    /// In words.
    #[must_use]
    pub const fn text(self) -> &'static str {
        match self {
            Origin::Named => "named by LAPWISE_TYPST",
            Origin::Path => "on the search path",
            Origin::Cache => "in the cache",
        }
    }
}

/// A compiler of the pinned version.
#[derive(Clone, Debug)]
pub struct Typst {
    /// The program.
    pub program: PathBuf,
    /// Where it was found.
    pub origin: Origin,
}

impl Typst {
    /// Finds the compiler: the one that is named, else the pinned version on the search path, else the cache.
    ///
    /// # Errors
    /// In one sentence, what is missing.
    pub fn find() -> Result<Typst, Fault> {
        if let Some(named) = std::env::var_os(VARIABLE).filter(|value| !value.is_empty()) {
            let program = PathBuf::from(named);
            return match version(&program) {
                Some(found) if found == VERSION => Ok(Typst { program, origin: Origin::Named }),
                Some(found) => {
                    Err(missing(format!("{VARIABLE} names `{}`, which is version {found}", program.display())))
                }
                None => Err(missing(format!("{VARIABLE} names `{}`, which does not run", program.display()))),
            };
        }
        let on_path = PathBuf::from("typst");
        if version(&on_path).is_some_and(|found| found == VERSION) {
            return Ok(Typst { program: on_path, origin: Origin::Path });
        }
        let program = cached()?;
        if version(&program).is_some_and(|found| found == VERSION) {
            return Ok(Typst { program, origin: Origin::Cache });
        }
        Err(missing(format!("no Typst {VERSION} on the search path or in `{}`", program.display())))
    }

    /// Finds the compiler, or installs it into the cache; `tell` hears what takes long.
    ///
    /// # Errors
    /// Nothing is found and `offline` forbids to install, or the installation fails.
    pub fn setup(offline: bool, tell: impl Fn(&str)) -> Result<Typst, Fault> {
        let fault = match Typst::find() {
            Ok(found) => return Ok(found),
            Err(fault) => fault,
        };
        if offline || std::env::var_os(VARIABLE).is_some_and(|value| !value.is_empty()) {
            return Err(fault);
        }
        install(&tell)?;
        Typst::find()
    }
}

fn missing(found: String) -> Fault {
    Fault::new(
        Code::TypstMissing,
        found,
        format!("the Typst compiler, version {VERSION}"),
        format!("run `lapwise setup`, or name a typst {VERSION} with the variable {VARIABLE}"),
    )
}

/// The version that a program prints, if it runs.
fn version(program: &Path) -> Option<String> {
    let output = clean(Command::new(program)).arg("--version").stdin(Stdio::null()).output().ok()?;
    let text = String::from_utf8(output.stdout).ok()?;
    Some(text.split_whitespace().nth(1)?.to_owned())
}

/// A command that no variable of the environment can steer.
fn clean(mut command: Command) -> Command {
    for (name, _) in std::env::vars_os() {
        let text = name.to_string_lossy();
        if text.starts_with("TYPST_") || text == "SOURCE_DATE_EPOCH" {
            command.env_remove(&name);
        }
    }
    command
}

/// The folder of the cache for this version and target.
fn cache() -> Result<PathBuf, Fault> {
    let home = |name: &str| std::env::var_os(name).map(PathBuf::from).filter(|path| path.is_absolute());
    let root = home("XDG_CACHE_HOME")
        .or_else(|| home("HOME").map(|home| home.join(".cache")))
        .or_else(|| home("LOCALAPPDATA"))
        .ok_or_else(|| missing("no HOME and no XDG_CACHE_HOME, so no cache".to_owned()))?;
    let target = format!("{}-{}", std::env::consts::ARCH, std::env::consts::OS);
    Ok(root.join("lapwise").join(format!("typst-{VERSION}-{target}")))
}

fn cached() -> Result<PathBuf, Fault> {
    Ok(cache()?.join("bin").join(format!("typst{}", std::env::consts::EXE_SUFFIX)))
}

/// Builds the compiler into a temporary folder and renames it into the cache, one at a time.
fn install(tell: &impl Fn(&str)) -> Result<(), Fault> {
    let folder = cache()?;
    let parent = folder.parent().unwrap_or(&folder).to_owned();
    let write = |error: &std::io::Error| unwritable(&parent, error);
    fs::create_dir_all(&parent).map_err(|e| write(&e))?;
    let lock = fs::File::create(parent.join("setup.lock")).map_err(|e| write(&e))?;
    lock.lock().map_err(|e| write(&e))?;
    if cached().ok().and_then(|program| version(&program)).is_some_and(|found| found == VERSION) {
        return Ok(());
    }
    tell(&format!("building Typst {VERSION} with cargo; this takes some minutes, once"));
    let building = tempfile::Builder::new().prefix("setup-").tempdir_in(&parent).map_err(|e| write(&e))?;
    let status = clean(Command::new("cargo"))
        .args(["install", "typst-cli", "--version", &format!("={VERSION}"), "--locked", "--root"])
        .arg(building.path())
        .stdin(Stdio::null())
        .stdout(Stdio::null())
        .status();
    match status {
        Err(error) => return Err(missing(format!("cargo does not run ({error}), so Typst cannot be built"))),
        Ok(status) if !status.success() => {
            return Err(missing(format!("`cargo install typst-cli --version ={VERSION}` failed, see above")));
        }
        Ok(_) => {}
    }
    if folder.exists() {
        fs::remove_dir_all(&folder).map_err(|e| write(&e))?;
    }
    fs::rename(building.path(), &folder).map_err(|e| write(&e))
}

/// One document to print: its text, the files beside it, and when it was made.
pub struct Job<'a> {
    /// The text of the document.
    pub document: &'a str,
    /// Files that it reads, by name.
    pub files: &'a [(&'a str, &'a [u8])],
    /// The folder of the faces.
    pub fonts: &'a Path,
    /// Seconds since 1970, for the file's own date.
    pub created: i64,
}

/// The name of the document in its private folder.
const DOCUMENT: &str = "dossier.typ";

/// Prints a document: the bytes of a PDF, ended by one line feed.
///
/// # Errors
/// The private folder cannot be written, or Typst says anything at all: a warning is a failure.
pub fn print(typst: &Typst, job: &Job<'_>) -> Result<Vec<u8>, Fault> {
    print_on(typst, job, &Seat::alone())?.ok_or_else(|| failed("stopped"))
}

/// The same in a seat of a pool; none if it was stopped.
pub(super) fn print_on(typst: &Typst, job: &Job<'_>, seat: &Seat<'_>) -> Result<Option<Vec<u8>>, Fault> {
    let temporary = std::env::temp_dir();
    let write = |error: &std::io::Error| unwritable(&temporary, error);
    let private = tempfile::Builder::new().prefix("lapwise-").tempdir().map_err(|e| write(&e))?;
    let root = private.path().join("root");
    let empty = private.path().join("empty");
    fs::create_dir(&root).map_err(|e| write(&e))?;
    fs::create_dir(&empty).map_err(|e| write(&e))?;
    fs::write(root.join(DOCUMENT), job.document).map_err(|e| write(&e))?;
    for (name, bytes) in job.files {
        fs::write(root.join(name), bytes).map_err(|e| write(&e))?;
    }
    let pdf = private.path().join("dossier.pdf");
    let mut command = clean(Command::new(&typst.program));
    command
        .arg("compile")
        .args(["--pdf-standard", "a-3a,ua-1"])
        .arg("--root")
        .arg(&root)
        .args(["--ignore-system-fonts", "--ignore-embedded-fonts", "--font-path"])
        .arg(job.fonts)
        .args(["--creation-timestamp", &job.created.to_string()])
        .arg("--package-path")
        .arg(&empty)
        .arg("--package-cache-path")
        .arg(&empty)
        .args(["--diagnostic-format", "short", "-j", &seat.threads.to_string()])
        .arg(DOCUMENT)
        .arg(&pdf)
        .current_dir(&root);
    let output = seat
        .output(command)
        .map_err(|error| missing(format!("`{}` does not run: {error}", typst.program.display())))?;
    let Some(output) = output else { return Ok(None) };
    let said = String::from_utf8_lossy(&output.stderr);
    if !output.status.success() || !said.trim().is_empty() {
        let said = said.trim().lines().next().unwrap_or("no reason given");
        // It is told apart by these words alone.
        return Err(match said.split_once("failed to write PDF file ") {
            Some((_, why)) => write(&std::io::Error::other(why)),
            None => failed(said),
        });
    }
    let mut bytes = fs::read(&pdf).map_err(|e| write(&e))?;
    end_streams_plainly(&mut bytes);
    // The file ends without a line feed; with one, a later incremental signature keeps PDF/A.
    bytes.push(b'\n');
    Ok(Some(bytes))
}

fn failed(said: &str) -> Fault {
    Fault::new(
        Code::TypstFailed,
        said,
        "a document that Typst takes without a word",
        "mend the template; without --templates this is a defect to report",
    )
}

/// Makes the end of every stream plain.
///
/// A stream that ends with a carriage return, followed by the line feed that closes it, reads as if
/// both closed it: its length is then one too many (ISO 19005-3, 6.1.7.1). A carriage return alone
/// closes a stream as well, and no byte moves.
fn end_streams_plainly(bytes: &mut [u8]) {
    let ends: Vec<usize> = memchr::memmem::find_iter(bytes, b"\r\nendstream\nendobj").collect();
    for at in ends {
        bytes[at + 1] = b'\r';
    }
}

#[cfg(test)]
mod tests {
    use super::end_streams_plainly;

    #[test]
    fn a_stream_that_ends_with_a_carriage_return_is_closed_by_another() {
        let mut bytes = b"stream\nab\r\nendstream\nendobj\nstream\ncd\nendstream\nendobj\n".to_vec();
        end_streams_plainly(&mut bytes);
        assert_eq!(bytes, b"stream\nab\r\rendstream\nendobj\nstream\ncd\nendstream\nendobj\n");
    }
}
