//! The layout of a notebook's text: what Python's `json.dumps(indent=1, ensure_ascii=False)` gives,
//! which is how Jupyter writes its files. Order of names is the caller's.

use std::io::{Result, Write};

use serde::Serialize;
use serde_json::ser::{Formatter, PrettyFormatter, Serializer};

/// The text of `value`, with a newline at the end.
pub(super) fn write<T: Serialize>(value: &T) -> String {
    let mut bytes = Vec::new();
    let mut serializer = Serializer::with_formatter(&mut bytes, JupyterLayout::new());
    value
        .serialize(&mut serializer)
        .expect("JSON values with text names always serialize into memory");
    bytes.push(b'\n');
    String::from_utf8(bytes).expect("a JSON serializer writes UTF-8 only")
}

/// serde_json's indented layout, with numbers as Python prints them.
struct JupyterLayout(PrettyFormatter<'static>);

impl JupyterLayout {
    fn new() -> Self {
        Self(PrettyFormatter::with_indent(b" "))
    }
}

impl Formatter for JupyterLayout {
    fn write_f64<W: ?Sized + Write>(&mut self, writer: &mut W, value: f64) -> Result<()> {
        writer.write_all(python_repr(value).as_bytes())
    }

    fn begin_array<W: ?Sized + Write>(&mut self, writer: &mut W) -> Result<()> {
        self.0.begin_array(writer)
    }

    fn end_array<W: ?Sized + Write>(&mut self, writer: &mut W) -> Result<()> {
        self.0.end_array(writer)
    }

    fn begin_array_value<W: ?Sized + Write>(&mut self, writer: &mut W, first: bool) -> Result<()> {
        self.0.begin_array_value(writer, first)
    }

    fn end_array_value<W: ?Sized + Write>(&mut self, writer: &mut W) -> Result<()> {
        self.0.end_array_value(writer)
    }

    fn begin_object<W: ?Sized + Write>(&mut self, writer: &mut W) -> Result<()> {
        self.0.begin_object(writer)
    }

    fn end_object<W: ?Sized + Write>(&mut self, writer: &mut W) -> Result<()> {
        self.0.end_object(writer)
    }

    fn begin_object_key<W: ?Sized + Write>(&mut self, writer: &mut W, first: bool) -> Result<()> {
        self.0.begin_object_key(writer, first)
    }

    fn begin_object_value<W: ?Sized + Write>(&mut self, writer: &mut W) -> Result<()> {
        self.0.begin_object_value(writer)
    }

    fn end_object_value<W: ?Sized + Write>(&mut self, writer: &mut W) -> Result<()> {
        self.0.end_object_value(writer)
    }
}

/// A finite number as Python's `repr` gives it: the shortest digits that read back to the same
/// number, with an exponent below 1e-4 and from 1e16 on.
fn python_repr(value: f64) -> String {
    let scientific = format!("{value:e}");
    let (digits, exponent) = scientific
        .split_once('e')
        .expect("the scientific form of a finite number has an exponent");
    let exponent: i32 = exponent
        .parse()
        .expect("the exponent of a finite number is a small whole number");
    if value == 0.0 || (-4..16).contains(&exponent) {
        let plain = value.to_string();
        return if plain.contains('.') {
            plain
        } else {
            plain + ".0"
        };
    }
    let sign = if exponent < 0 { '-' } else { '+' };
    format!("{digits}e{sign}{:02}", exponent.unsigned_abs())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Right column: `repr(float(left))` of CPython 3.
    #[test]
    fn numbers_look_as_python_prints_them() {
        let cases = [
            ("0.0", "0.0"),
            ("-0.0", "-0.0"),
            ("1.0", "1.0"),
            ("-2.5", "-2.5"),
            ("0.1", "0.1"),
            ("0.0001", "0.0001"),
            ("0.00001", "1e-05"),
            ("1.5e-7", "1.5e-07"),
            ("1e15", "1000000000000000.0"),
            ("9999999999999998.0", "9999999999999998.0"),
            ("1e16", "1e+16"),
            ("1.7976931348623157e308", "1.7976931348623157e+308"),
            ("5e-324", "5e-324"),
            ("123456.789", "123456.789"),
        ];
        for (text, expected) in cases {
            let value: f64 = serde_json::from_str(text).unwrap();
            assert_eq!(python_repr(value), expected, "{text}");
        }
    }

    /// A number whose nearest double a fast but inexact reader misses by one unit in the last
    /// place; `repr(float('...'))` of CPython 3 gives the same digits back.
    #[test]
    fn numbers_survive_reading_and_writing() {
        for text in [
            "51.24817837550540",
            "0.8333333333333334",
            "2.2250738585072014e-308",
        ] {
            let value: serde_json::Value = serde_json::from_str(text).unwrap();
            let exact: f64 = text.parse().unwrap();
            assert_eq!(value.as_f64(), Some(exact), "{text}");
        }
    }

    #[test]
    fn empty_lists_and_objects_stay_on_one_line() {
        let value = serde_json::json!({"a": [], "b": {}, "c": [1]});
        assert_eq!(
            write(&value),
            "{\n \"a\": [],\n \"b\": {},\n \"c\": [\n  1\n ]\n}\n"
        );
    }
}
