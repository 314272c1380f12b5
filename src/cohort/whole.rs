//! Files that appear whole or not at all.

use std::fs::File;
use std::io::Write;
use std::path::{Path, PathBuf};

use super::error::CohortError;

/// A file being written beside where it will stand; dropped, it leaves nothing behind.
#[derive(Debug)]
pub(super) struct Pending {
    path: PathBuf,
    file: tempfile::NamedTempFile,
}

impl Pending {
    /// Starts a file in the folder of `path`.
    ///
    /// # Errors
    /// A folder that cannot be written to.
    pub(super) fn create(path: &Path) -> Result<Pending, CohortError> {
        let file = beside(path).map_err(|source| file_error(path, source))?;
        Ok(Pending {
            path: path.to_owned(),
            file,
        })
    }

    /// Writes on.
    ///
    /// # Errors
    /// What the system says.
    pub(super) fn write(&mut self, bytes: &[u8]) -> Result<(), CohortError> {
        self.file
            .write_all(bytes)
            .map_err(|source| file_error(&self.path, source))
    }

    /// Another handle to write through.
    ///
    /// # Errors
    /// What the system says.
    pub(super) fn handle(&self) -> Result<File, CohortError> {
        let file = self.file.as_file().try_clone();
        file.map_err(|source| file_error(&self.path, source))
    }

    /// Where it will stand.
    pub(super) fn path(&self) -> &Path {
        &self.path
    }

    /// Lets the file appear under its name.
    ///
    /// # Errors
    /// A file that cannot be completed or renamed.
    pub(super) fn appear(self) -> Result<(), CohortError> {
        appear(self.file, &self.path).map_err(|source| file_error(&self.path, source))
    }
}

pub(super) fn file_error(path: &Path, source: std::io::Error) -> CohortError {
    CohortError::File {
        path: path.to_owned(),
        source,
    }
}

/// A temporary file in the folder of `path`.
fn beside(path: &Path) -> std::io::Result<tempfile::NamedTempFile> {
    let folder = match path.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        _ => Path::new("."),
    };
    tempfile::NamedTempFile::new_in(folder).map_err(|error| {
        // What the system says names a file that nobody knows.
        let kind = error.kind();
        let words = match folder.is_dir() {
            false => format!(
                "there is no folder {}: make it first, or name another",
                folder.display()
            ),
            true => format!(
                "no file can be made in the folder {}: {kind}",
                folder.display()
            ),
        };
        std::io::Error::new(kind, words)
    })
}

fn appear(file: tempfile::NamedTempFile, path: &Path) -> std::io::Result<()> {
    let_others_read(file.as_file())?;
    file.persist(path).map_err(|e| e.error)?;
    Ok(())
}

/// Writes a file so that it appears whole or not at all.
///
/// # Errors
/// What the system says.
pub fn write_whole(path: &Path, contents: &[u8]) -> std::io::Result<()> {
    let mut file = beside(path)?;
    file.write_all(contents)?;
    appear(file, path)
}

/// A temporary file is for its owner only; a result is an ordinary file.
#[cfg(unix)]
fn let_others_read(file: &File) -> std::io::Result<()> {
    use std::os::unix::fs::PermissionsExt;
    file.set_permissions(std::fs::Permissions::from_mode(0o644))
}

#[cfg(not(unix))]
fn let_others_read(_: &File) -> std::io::Result<()> {
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_folder_that_is_not_there_is_named_and_no_temporary_file() {
        let folder = tempfile::tempdir().unwrap();
        let nowhere = folder.path().join("nowhere");
        let path = nowhere.join("r.csv");
        let refused = Pending::create(&path).unwrap_err().to_string();
        let (path_shown, folder_shown) = (path.display(), nowhere.display());
        let expected = format!(
            "{path_shown}: there is no folder {folder_shown}: make it first, or name another"
        );
        assert_eq!(refused, expected);
        assert_eq!(
            write_whole(&path, b"").unwrap_err().kind(),
            std::io::ErrorKind::NotFound
        );
    }
}
