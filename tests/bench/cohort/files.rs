//! From file to file: Parquet to Parquet, and comma-separated values to Parquet.

use std::fs::File;
use std::io::{BufWriter, Write};
use std::path::Path;
use std::process::Command;
use std::time::Instant;

use polars::prelude::{
    Engine, FileWriteFormat, LazyCsvReader, LazyFileListReader, LazyFrame, ParquetWriteOptions,
    ParquetWriter, PlRefPath, SinkDestination, SinkTarget, UnifiedSinkArgs,
};
use semilunar::cohort::apply_to_file;
use semilunar::sheet::Sheet;

use crate::columns::{Rows, invented};
use crate::exam_columns::INPUTS;
use crate::exam_lines::{READINGS, TEN_FORMULAS};
use crate::memory::frame;
use crate::peer;
use crate::spread::Spread;

const WAYS: [&str; 3] = ["ours", "ours, whole catalogue", "Polars, streaming"];

pub fn race(rounds: usize, rows: usize) {
    let folder = tempfile::tempdir().unwrap();
    write_tables(folder.path(), rows);
    println!("file to Parquet, {rows} rows");
    for source in ["t.parquet", "t.csv"] {
        let mut times = vec![Vec::new(); WAYS.len()];
        let mut peaks = vec![0_f64; WAYS.len()];
        let mut sizes = vec![0_f64; WAYS.len()];
        for _ in 0..rounds {
            for (at, way) in WAYS.iter().enumerate() {
                let [seconds, peak, size] = apart(way, folder.path(), source);
                times[at].push(seconds);
                peaks[at] = peaks[at].max(peak);
                sizes[at] = size;
            }
        }
        for (at, way) in WAYS.iter().enumerate() {
            let median = Spread::of(times[at].clone()).median;
            println!(
                "  {source:10} {way:24} {median:6.2} s, peak {:6.0} MB, results {:6.0} MB",
                peaks[at], sizes[at]
            );
        }
    }
}

/// Runs one way in a process of its own: seconds, its peak of memory, and the size of its results
/// in MB.
fn apart(way: &str, folder: &Path, source: &str) -> [f64; 3] {
    let output = Command::new(std::env::current_exe().unwrap())
        .args(["one", way, folder.to_str().unwrap(), source])
        .output()
        .unwrap();
    assert!(
        output.status.success(),
        "{}",
        String::from_utf8_lossy(&output.stderr)
    );
    let text = String::from_utf8(output.stdout).unwrap();
    let said = text.lines().last().unwrap().split(' ');
    let numbers: Vec<f64> = said.map(|number| number.parse().unwrap()).collect();
    numbers.try_into().unwrap()
}

/// The work of a process of its own.
pub fn one(arguments: &[String]) {
    let [way, folder, source] = arguments else {
        return;
    };
    let (table, out) = (
        Path::new(folder).join(source),
        Path::new(folder).join("out.parquet"),
    );
    let start = Instant::now();
    match way.as_str() {
        "ours" => ours(&format!("{READINGS}{TEN_FORMULAS}"), &table, &out),
        "ours, whole catalogue" => ours("use hemodynamics", &table, &out),
        _ => polars(&table, &out),
    }
    let seconds = start.elapsed().as_secs_f64();
    let size = std::fs::metadata(&out).unwrap().len() as f64 / 1e6;
    println!("{seconds} {} {size}", peak());
}

/// The greatest memory that this process held at once, in MB, as Linux tells it.
fn peak() -> f64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find_map(|line| line.strip_prefix("VmHWM:"));
    let kilobytes = line.and_then(|line| line.trim().strip_suffix("kB"));
    kilobytes.map_or(f64::NAN, |kb| kb.trim().parse::<f64>().unwrap() / 1024.0)
}

fn ours(sheet: &str, table: &Path, out: &Path) {
    let sheet = Sheet::read(sheet).unwrap().sheet;
    let summary = apply_to_file(&sheet, table, out, &mut |_| {}).unwrap();
    // Rows in which a diameter, a size and a pressure lack at once: nothing can be derived there.
    assert!(summary.counts.set_aside * 100_000 <= summary.counts.read);
}

fn polars(table: &Path, out: &Path) {
    let path = PlRefPath::new(table.to_str().unwrap());
    let read = match table.extension().is_some_and(|e| e == "csv") {
        true => LazyCsvReader::new(path).finish().unwrap(),
        false => LazyFrame::scan_parquet(path, Default::default()).unwrap(),
    };
    let target = SinkTarget::Path(PlRefPath::new(out.to_str().unwrap()));
    let sink = peer::with_outputs(read)
        .sink(
            SinkDestination::File { target },
            FileWriteFormat::Parquet(ParquetWriteOptions::default().into()),
            UnifiedSinkArgs::default(),
        )
        .unwrap();
    sink.collect_with_engine(Engine::Streaming).unwrap();
}

fn write_tables(folder: &Path, rows: usize) {
    let given = invented(rows);
    let file = File::create(folder.join("t.parquet")).unwrap();
    ParquetWriter::new(file).finish(&mut frame(&given)).unwrap();
    write_text(&folder.join("t.csv"), &given, rows);
}

fn write_text(path: &Path, given: &Rows, rows: usize) {
    let mut file = BufWriter::new(File::create(path).unwrap());
    writeln!(file, "{}", INPUTS.join(",")).unwrap();
    for row in 0..rows {
        for column in 0..INPUTS.len() {
            let comma = if column == 0 { "" } else { "," };
            match given.is_known(column, row) {
                true => write!(file, "{comma}{}", given.numbers[column][row]).unwrap(),
                false => write!(file, "{comma}").unwrap(),
            }
        }
        writeln!(file).unwrap();
    }
}
