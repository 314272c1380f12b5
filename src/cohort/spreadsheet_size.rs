//! How large a spreadsheet becomes once it is unpacked: a small file can hold more than memory does.

use std::fs::File;
use std::io::BufReader;
use std::path::Path;

use calamine::{Cell, Data, DataRef};
use zip::ZipArchive;
use zip::read::ZipFile;

use super::error::CohortError;
use super::whole::file_error;

/// Most bytes that a spreadsheet's parts may unpack to.
pub(super) const MOST_BYTES: u64 = 1 << 30;

/// Most fields of the least rectangle with everything in it.
const MOST_FIELDS: u64 = 50_000_000;

/// Refuses a file that says of itself that it unpacks to more than so many bytes; one that unpacks to more than it says is refused while it
/// is read. What is no archive is left to its reader.
///
/// # Errors
/// A file that cannot be opened, or that unpacks to more.
pub(super) fn check_unpacked(path: &Path, most: u64) -> Result<(), CohortError> {
    let file = File::open(path).map_err(|source| file_error(path, source))?;
    let packed = file
        .metadata()
        .map_err(|source| file_error(path, source))?
        .len();
    let Ok(mut archive) = ZipArchive::new(BufReader::new(file)) else {
        return Ok(());
    };
    let mut stated = 0_u64;
    for at in 0..archive.len() {
        if let Ok(part) = archive.by_index_raw(at)
            && is_read(&part)
        {
            stated = stated.saturating_add(part.size());
        }
    }
    if stated > most {
        return Err(too_large(path, packed, stated, most));
    }
    Ok(())
}

/// Whether a part is read; pictures are not.
fn is_read(part: &ZipFile<'_, BufReader<File>>) -> bool {
    let name = part.name_raw().to_ascii_lowercase();
    name.ends_with(b".xml") || name.ends_with(b".rels")
}

fn too_large(path: &Path, packed: u64, stated: u64, most: u64) -> CohortError {
    CohortError::Table {
        path: path.to_owned(),
        message: format!(
            "its {} unpack to {}; a spreadsheet is held whole in memory, and {} is the most that is read: save its sheet as .csv, which is read piece by piece",
            megabytes(packed),
            megabytes(stated),
            megabytes(most)
        ),
    }
}

fn megabytes(bytes: u64) -> String {
    match bytes {
        ..1_000_000 => format!("{} kB", bytes.div_ceil(1000)),
        _ => format!("{} MB", bytes.div_ceil(1_000_000)),
    }
}

/// Gathers the fields of a sheet that hold something, as far as they stand near each other.
#[derive(Default)]
pub(super) struct Gathered {
    pub(super) cells: Vec<Cell<Data>>,
    /// Rows and columns of the first and the last, from 0.
    reach: Option<[u32; 4]>,
}

impl Gathered {
    pub(super) fn push(&mut self, cell: Cell<DataRef<'_>>) {
        if *cell.get_value() == DataRef::Empty {
            return;
        }
        let (row, column) = cell.get_position();
        let [top, left, bottom, right] = self.reach.unwrap_or([row, column, row, column]);
        self.reach = Some([
            top.min(row),
            left.min(column),
            bottom.max(row),
            right.max(column),
        ]);
        self.cells
            .push(Cell::new((row, column), cell.get_value().clone().into()));
    }

    /// Refuses fields so far apart that the rectangle around them would not fit in memory.
    ///
    /// # Errors
    /// A rectangle of more than 50 million fields, with its corners.
    pub(super) fn check(&self, path: &Path, sheet: &str) -> Result<(), CohortError> {
        let Some([top, left, bottom, right]) = self.reach else {
            return Ok(());
        };
        let fields = u64::from(bottom - top + 1) * u64::from(right - left + 1);
        if fields <= MOST_FIELDS {
            return Ok(());
        }
        Err(CohortError::Table {
            path: path.to_owned(),
            message: format!(
                "the fields of its sheet `{sheet}` reach from {} to {}, {} million with the blank ones between, and {} million are the most that is read: delete what stands far from the table, or save the sheet as .csv",
                place(top, left),
                place(bottom, right),
                fields.div_ceil(1_000_000),
                MOST_FIELDS / 1_000_000
            ),
        })
    }
}

/// A place as spreadsheets name it: letters for the column, a number for the row.
fn place(row: u32, column: u32) -> String {
    let mut letters = Vec::new();
    let mut left = column + 1;
    while left > 0 {
        letters.push(char::from(b'A' + ((left - 1) % 26) as u8));
        left = (left - 1) / 26;
    }
    let letters: String = letters.into_iter().rev().collect();
    format!("{letters}{}", row + 1)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::cohort::Table;
    use std::io::Write;
    use std::path::PathBuf;
    use zip::ZipWriter;
    use zip::write::SimpleFileOptions;

    /// The parts of a spreadsheet with one sheet that holds these cells (ECMA-376 part 1, sections 12 and 18, from memory).
    fn spreadsheet(folder: &Path, cells: &str) -> PathBuf {
        let path = folder.join("t.xlsx");
        let mut archive = ZipWriter::new(File::create(&path).unwrap());
        let main = "http://schemas.openxmlformats.org/spreadsheetml/2006/main";
        let office = "http://schemas.openxmlformats.org/officeDocument/2006/relationships";
        let package = "http://schemas.openxmlformats.org/package/2006/relationships";
        let relations = |kind: &str, target: &str| {
            format!(
                "<Relationships xmlns=\"{package}\"><Relationship Id=\"rId1\" Type=\"{office}/{kind}\" Target=\"{target}\"/></Relationships>"
            )
        };
        for (name, text) in [
            (
                "_rels/.rels",
                relations("officeDocument", "xl/workbook.xml"),
            ),
            (
                "xl/workbook.xml",
                format!(
                    "<workbook xmlns=\"{main}\" xmlns:r=\"{office}\"><sheets><sheet name=\"Echo\" sheetId=\"1\" r:id=\"rId1\"/></sheets></workbook>"
                ),
            ),
            (
                "xl/_rels/workbook.xml.rels",
                relations("worksheet", "worksheets/sheet1.xml"),
            ),
            (
                "xl/worksheets/sheet1.xml",
                format!("<worksheet xmlns=\"{main}\"><sheetData>{cells}</sheetData></worksheet>"),
            ),
        ] {
            archive
                .start_file(name, SimpleFileOptions::default())
                .unwrap();
            archive.write_all(text.as_bytes()).unwrap();
        }
        archive.finish().unwrap();
        path
    }

    fn text(place: &str, text: &str) -> String {
        format!("<c r=\"{place}\" t=\"inlineStr\"><is><t>{text}</t></is></c>")
    }

    #[test]
    fn a_field_far_away_is_refused_with_its_place() {
        let folder = tempfile::tempdir().unwrap();
        let near = format!(
            "<row r=\"1\">{}</row><row r=\"2\">{}</row>",
            text("A1", "lvot_vti"),
            text("A2", "20")
        );
        let path = spreadsheet(folder.path(), &near);
        assert_eq!(Table::open(&path).unwrap().headings(), ["lvot_vti"]);
        let far = format!("{near}<row r=\"1048576\">{}</row>", text("XFD1048576", "x"));
        let refused = Table::open(&spreadsheet(folder.path(), &far))
            .err()
            .unwrap()
            .to_string();
        assert!(
            refused.ends_with("the fields of its sheet `Echo` reach from A1 to XFD1048576, 17180 million with the blank ones between, and 50 million are the most that is read: delete what stands far from the table, or save the sheet as .csv"),
            "{refused}"
        );
    }

    #[test]
    fn a_file_that_unpacks_to_too_much_is_refused_with_its_sizes() {
        let folder = tempfile::tempdir().unwrap();
        let path = spreadsheet(folder.path(), &" ".repeat(5_000_000));
        assert!(check_unpacked(&path, MOST_BYTES).is_ok());
        let refused = check_unpacked(&path, 4_000_000).unwrap_err().to_string();
        assert!(
            refused.contains("unpack to 6 MB; a spreadsheet is held whole in memory, and 4 MB is the most that is read: save its sheet as .csv"),
            "{refused}"
        );
    }

    #[test]
    fn a_file_that_states_too_little_of_itself_is_refused_too() {
        let folder = tempfile::tempdir().unwrap();
        let long = text("A1", &"x".repeat(5_000_000));
        let path = spreadsheet(folder.path(), &format!("<row r=\"1\">{long}</row>"));
        assert!(Table::open(&path).is_ok());
        let mut bytes = std::fs::read(&path).unwrap();
        // The size before packing stands four bytes long in both headers of the part (APPNOTE.TXT 6.3.10, sections 4.3.7 and 4.3.12).
        let found: Vec<usize> = (0..bytes.len() - 4)
            .filter(|at| {
                let size =
                    u32::from_le_bytes([bytes[*at], bytes[at + 1], bytes[at + 2], bytes[at + 3]]);
                size.abs_diff(5_000_100) < 500
            })
            .collect();
        assert!(found.len() >= 2, "{found:?}");
        for at in found {
            bytes[at..at + 4].copy_from_slice(&100_u32.to_le_bytes());
        }
        std::fs::write(&path, bytes).unwrap();
        let refused = Table::open(&path).err().unwrap().to_string();
        assert!(
            refused.contains("cannot be read as a spreadsheet"),
            "{refused}"
        );
        assert!(refused.contains("declared uncompressed size"), "{refused}");
    }

    #[test]
    fn places_are_named_as_spreadsheets_do() {
        for (column, name) in [
            (0, "A1"),
            (25, "Z1"),
            (26, "AA1"),
            (701, "ZZ1"),
            (702, "AAA1"),
            (16_383, "XFD1"),
        ] {
            assert_eq!(place(0, column), name);
        }
    }
}
