//! Tables as files of comma-separated values (RFC 4180, UTF-8).

use std::fs::File;
use std::io::Read;
use std::path::{Path, PathBuf};

use super::error::CohortError;

/// A table being read, row by row.
pub struct TableReader {
    path: PathBuf,
    reader: csv::Reader<Box<dyn Read>>,
    headings: Vec<String>,
}

/// A row as it came.
pub enum RawRow {
    /// Its fields.
    Fields(Vec<String>),
    /// Fields that are no UTF-8 text, as well as they can be shown.
    NotText(Vec<String>),
}

impl TableReader {
    /// Opens a table and reads its headings.
    ///
    /// # Errors
    /// A file that cannot be read, or has no headings.
    pub fn open(path: &Path) -> Result<TableReader, CohortError> {
        refuse_other_kinds(path)?;
        let file = File::open(path).map_err(|source| CohortError::File {
            path: path.to_owned(),
            source,
        })?;
        TableReader::new(Box::new(file), path)
    }

    /// Reads a table from bytes; `path` is the name that messages show.
    ///
    /// # Errors
    /// As [`TableReader::open`].
    pub fn new(source: Box<dyn Read>, path: &Path) -> Result<TableReader, CohortError> {
        let mut reader = csv::ReaderBuilder::new()
            .flexible(true)
            .has_headers(false)
            .from_reader(source);
        let mut first = csv::ByteRecord::new();
        let wrong = |message: String| CohortError::Table {
            path: path.to_owned(),
            message,
        };
        let found = reader
            .read_byte_record(&mut first)
            .map_err(|e| wrong(e.to_string()))?;
        if !found {
            return Err(CohortError::NoHeading {
                path: path.to_owned(),
            });
        }
        let mut headings = Vec::with_capacity(first.len());
        for (at, heading) in first.iter().enumerate() {
            let text = std::str::from_utf8(heading)
                .map_err(|_| wrong(format!("heading {} is not UTF-8 text", at + 1)))?;
            // A mark of byte order at the start of a file is no part of a name.
            headings.push(text.trim_start_matches('\u{feff}').to_owned());
        }
        Ok(TableReader {
            path: path.to_owned(),
            reader,
            headings,
        })
    }

    /// The headings as they stand.
    pub fn headings(&self) -> &[String] {
        &self.headings
    }

    /// The next row, if there is one.
    ///
    /// # Errors
    /// A file that cannot be read on.
    pub fn next_row(&mut self) -> Result<Option<RawRow>, CohortError> {
        let mut record = csv::ByteRecord::new();
        let found = self
            .reader
            .read_byte_record(&mut record)
            .map_err(|e| CohortError::Table {
                path: self.path.clone(),
                message: e.to_string(),
            })?;
        if !found {
            return Ok(None);
        }
        let is_text = record
            .iter()
            .all(|field| std::str::from_utf8(field).is_ok());
        let fields = record
            .iter()
            .map(|field| String::from_utf8_lossy(field).into_owned())
            .collect();
        Ok(Some(if is_text {
            RawRow::Fields(fields)
        } else {
            RawRow::NotText(fields)
        }))
    }
}

/// A file of results that appears under its name only when it is whole.
pub struct TableWriter {
    path: PathBuf,
    writer: csv::Writer<tempfile::NamedTempFile>,
}

impl TableWriter {
    /// Starts a file beside where it will stand.
    ///
    /// # Errors
    /// A folder that cannot be written to.
    pub fn create(path: &Path) -> Result<TableWriter, CohortError> {
        refuse_other_kinds(path)?;
        let file = beside(path).map_err(|source| CohortError::File {
            path: path.to_owned(),
            source,
        })?;
        Ok(TableWriter {
            path: path.to_owned(),
            writer: csv::WriterBuilder::new().flexible(true).from_writer(file),
        })
    }

    /// Writes a row.
    ///
    /// # Errors
    /// A file that cannot be written.
    pub fn write<F: AsRef<[u8]>>(
        &mut self,
        fields: impl IntoIterator<Item = F>,
    ) -> Result<(), CohortError> {
        self.writer
            .write_record(fields)
            .map_err(|e| CohortError::Table {
                path: self.path.clone(),
                message: e.to_string(),
            })
    }

    /// Lets the file appear.
    ///
    /// # Errors
    /// A file that cannot be completed or renamed.
    pub fn appear(self) -> Result<(), CohortError> {
        let file_error = |source| CohortError::File {
            path: self.path.clone(),
            source,
        };
        let file = self
            .writer
            .into_inner()
            .map_err(|e| file_error(e.into_error()))?;
        appear(file, &self.path).map_err(file_error)
    }
}

/// Endings of tables that are no text.
const OTHER_KINDS: [&str; 6] = ["parquet", "xlsx", "xls", "ods", "feather", "arrow"];

/// A file that is no text would be read as one strange heading.
fn refuse_other_kinds(path: &Path) -> Result<(), CohortError> {
    let ending = path.extension().map(|e| e.to_string_lossy().to_lowercase());
    match ending.is_some_and(|e| OTHER_KINDS.contains(&e.as_str())) {
        true => Err(CohortError::Kind {
            path: path.to_owned(),
        }),
        false => Ok(()),
    }
}

/// A temporary file in the folder of `path`.
fn beside(path: &Path) -> std::io::Result<tempfile::NamedTempFile> {
    let folder = match path.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        _ => Path::new("."),
    };
    tempfile::NamedTempFile::new_in(folder)
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
    std::io::Write::write_all(&mut file, contents)?;
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
    fn files_that_are_no_text_are_refused_by_their_ending() {
        for name in ["a.parquet", "b.XLSX"] {
            let path = Path::new(name);
            assert!(matches!(
                TableReader::open(path),
                Err(CohortError::Kind { .. })
            ));
            assert!(matches!(
                TableWriter::create(path),
                Err(CohortError::Kind { .. })
            ));
        }
    }
}
