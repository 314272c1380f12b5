//! The folder that is kept between sessions, with the built library in it.
//!
//! It holds places, each of which one notebook has at a time and holds by a lock; the lock ends
//! with the process, however that ends. The first place is built, once; a further one copies what
//! the first has built.

use std::fs::{File, TryLockError};
use std::io;
use std::path::{Path, PathBuf};

use sha2::{Digest, Sha256};

use super::core_source;
use super::worker::CELLS;

/// The environment variable that names another folder to keep.
pub const KEPT: &str = "SEMILUNAR_RUST_FOLDER";

/// So many notebooks can have Rust cells at a time.
const MOST_PLACES: usize = 16;

/// Written when the library has been built in a place.
const BUILT: &str = "built";

/// Settings of the build: cells start fast and run fast enough; the library is optimized.
const WORKSPACE: &str = "\
[workspace]
members = [\"cells\", \"core\"]
resolver = \"3\"

[profile.dev]
opt-level = 1
debug = false
rpath = true
codegen-units = 16

[profile.dev.package.\"*\"]
opt-level = 2

[profile.dev.package.semilunar]
opt-level = 2
";

/// A place in the kept folder, held for as long as this lives.
pub(super) struct Place {
    pub(super) folder: PathBuf,
    _lock: File,
}

/// Why there is no place.
#[derive(Debug, thiserror::Error)]
pub(super) enum KeptError {
    #[error("{path}: {source}", path = path.display())]
    File { path: PathBuf, source: io::Error },
    #[error("{MOST_PLACES} notebooks have Rust cells already; end one of them")]
    Full,
}

fn at<T>(path: &Path, result: io::Result<T>) -> Result<T, KeptError> {
    result.map_err(|source| KeptError::File {
        path: path.to_owned(),
        source,
    })
}

/// Where the system keeps what can be made again, with a folder for this program.
pub fn usual_folder() -> Option<PathBuf> {
    let var = |name: &str| std::env::var_os(name).filter(|v| !v.is_empty());
    if let Some(folder) = var(KEPT) {
        return Some(PathBuf::from(folder));
    }
    let home = || var("HOME").map(PathBuf::from);
    let cache = if cfg!(windows) {
        var("LOCALAPPDATA").map(PathBuf::from)
    } else if cfg!(target_os = "macos") {
        home().map(|home| home.join("Library/Caches"))
    } else {
        let named = var("XDG_CACHE_HOME").map(PathBuf::from);
        named.or_else(|| home().map(|home| home.join(".cache")))
    };
    cache.map(|cache| cache.join("semilunar").join("rust_cells"))
}

/// The folder of this version of the library inside the kept one: another library is built anew.
pub(super) fn of_this_version(kept: &Path) -> PathBuf {
    let mut hash = Sha256::new();
    for (path, contents) in core_source::files() {
        hash.update(path.as_bytes());
        hash.update(contents);
    }
    hash.update(core_source::LOCK);
    hash.update(WORKSPACE);
    let digest = hash.finalize();
    let name: String = digest.iter().take(8).map(|b| format!("{b:02x}")).collect();
    kept.join(name)
}

impl Place {
    /// The first place that nobody holds, with the library's source in it.
    pub(super) fn take(version: &Path) -> Result<Place, KeptError> {
        at(version, std::fs::create_dir_all(version))?;
        for number in 0..MOST_PLACES {
            let path = version.join(format!("{number}.lock"));
            let lock = at(&path, File::create(&path))?;
            match lock.try_lock() {
                Ok(()) => {
                    let folder = version.join(number.to_string());
                    let place = Place {
                        folder,
                        _lock: lock,
                    };
                    place.unpack()?;
                    return Ok(place);
                }
                Err(TryLockError::WouldBlock) => {}
                Err(TryLockError::Error(source)) => return Err(KeptError::File { path, source }),
            }
        }
        Err(KeptError::Full)
    }

    pub(super) fn is_built(&self) -> bool {
        self.folder.join(BUILT).exists()
    }

    pub(super) fn set_built(&self, is_built: bool) -> Result<(), KeptError> {
        let mark = self.folder.join(BUILT);
        let done = match is_built {
            true => std::fs::write(&mark, ""),
            false if mark.exists() => std::fs::remove_file(&mark),
            false => Ok(()),
        };
        at(&mark, done)?;
        self.configure(is_built)
    }

    /// Files that are there with the same contents stay, so that cargo does not build anew.
    fn unpack(&self) -> Result<(), KeptError> {
        let core = self.folder.join("core");
        for (path, contents) in core_source::files() {
            put(&core.join(path), &contents)?;
        }
        put(&self.folder.join("Cargo.toml"), WORKSPACE.as_bytes())?;
        let lock = self.folder.join("Cargo.lock");
        if !lock.exists() {
            put(&lock, core_source::LOCK.as_bytes())?;
        }
        // Where the standard library's source is installed, the analyzer behind the cells would
        // read all of it at each start and use none: types that outlive a cell are written down.
        put(&self.no_std_source().join("core/src/lib.rs"), b"")?;
        self.configure(self.is_built())
    }

    /// A stand-in for the source of the standard library.
    pub(super) fn no_std_source(&self) -> PathBuf {
        self.folder.join("no_std_source")
    }

    /// What is read at the start; once all is built, the network is not asked.
    fn configure(&self, is_built: bool) -> Result<(), KeptError> {
        let cells = self.folder.join(CELLS);
        at(&cells, std::fs::create_dir_all(cells.join("src")))?;
        let text =
            format!("[evcxr]\ntmpdir = {cells:?}\noffline_mode = {is_built}\nopt_level = \"1\"\n");
        put(&self.folder.join("evcxr.toml"), text.as_bytes())
    }

    /// Copies what another place has built, if one has.
    pub(super) fn copy_built(&self, version: &Path) -> Result<bool, KeptError> {
        let others = (0..MOST_PLACES).map(|number| version.join(number.to_string()));
        let mut built =
            others.filter(|folder| *folder != self.folder && folder.join(BUILT).exists());
        let Some(other) = built.next() else {
            return Ok(false);
        };
        let (from, to) = (
            other.join(CELLS).join("target"),
            self.folder.join(CELLS).join("target"),
        );
        at(&from, copy(&from, &to))?;
        let lock = self.folder.join("Cargo.lock");
        at(
            &lock,
            std::fs::copy(other.join("Cargo.lock"), &lock).map(drop),
        )?;
        for (path, _) in core_source::files() {
            let (from, to) = (
                other.join("core").join(&path),
                self.folder.join("core").join(&path),
            );
            at(&to, same_time(&from, &to))?;
        }
        Ok(true)
    }
}

fn put(path: &Path, contents: &[u8]) -> Result<(), KeptError> {
    if std::fs::read(path).is_ok_and(|there| there == contents) {
        return Ok(());
    }
    if let Some(folder) = path.parent() {
        at(folder, std::fs::create_dir_all(folder))?;
    }
    at(path, std::fs::write(path, contents))
}

/// Copies a folder with the times of its files, by which cargo tells what is built. What the
/// other notebook makes or removes meanwhile is its own and not needed here.
fn copy(from: &Path, to: &Path) -> io::Result<()> {
    std::fs::create_dir_all(to)?;
    for entry in std::fs::read_dir(from)? {
        let entry = entry?;
        let (from, to) = (entry.path(), to.join(entry.file_name()));
        let done = match from.is_dir() {
            true => copy(&from, &to),
            false => std::fs::copy(&from, &to).and_then(|_| same_time(&from, &to)),
        };
        match done {
            Err(e) if e.kind() == io::ErrorKind::NotFound => {}
            done => done?,
        }
    }
    Ok(())
}

fn same_time(from: &Path, to: &Path) -> io::Result<()> {
    let time = from.metadata()?.modified()?;
    File::options().append(true).open(to)?.set_modified(time)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn two_holders_have_two_places_and_a_place_is_free_again_after_its_holder() {
        let kept = std::env::temp_dir().join(format!("semilunar_places_{}", std::process::id()));
        let first = Place::take(&kept).unwrap();
        let second = Place::take(&kept).unwrap();
        assert_ne!(first.folder, second.folder);
        assert!(first.folder.join("core/src/sheet/mod.rs").exists());
        let folder = first.folder.clone();
        drop(first);
        assert_eq!(Place::take(&kept).unwrap().folder, folder);
        drop(second);
        std::fs::remove_dir_all(&kept).unwrap();
    }
}
