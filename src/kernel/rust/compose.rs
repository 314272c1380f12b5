//! The text that is compiled for a cell, and the way back from places in it to places in the cell.
//!
//! The statements of a cell go into a block, so that its variables end with it; items stay
//! outside, so that later cells have them. A variable whose type is written is taken out of the
//! block and outlives the cell: the type has to be written since nothing else tells it in time.

use std::ops::Range;

use ra_ap_syntax::ast::{self, AstNode, HasModuleItem, HasName};
use ra_ap_syntax::{Edition, SourceFile, SyntaxKind, TextRange};

/// What is compiled for a cell.
#[derive(Debug, Default)]
pub(super) struct Composed {
    pub(super) text: String,
    /// Names of the variables that outlive the cell.
    pub(super) kept: Vec<String>,
    /// Imports of the cell: what the compiler says of them comes without a place.
    pub(super) imports: Vec<Range<usize>>,
    /// What is wrong in the grammar, as the parser sees it.
    pub(super) ungrammatical: Vec<(String, Range<usize>)>,
    pieces: Vec<Piece>,
}

/// A stretch of the text, and the stretch of the cell that it came from or stands for.
#[derive(Debug)]
struct Piece {
    start: usize,
    end: usize,
    cell: Range<usize>,
    is_own: bool,
}

/// A variable of a cell with its type.
struct Kept {
    name: String,
    kind: String,
    is_mutable: bool,
    place: Range<usize>,
}

const BEFORE: &str = "fn cell() {\n";

/// Composes the text for a cell. The cell's first line, which opens it, has to be blank.
pub(super) fn compose(code: &str) -> Composed {
    let around = format!("{BEFORE}{code}\n}}\n");
    let parsed = SourceFile::parse(&around, Edition::Edition2024);
    let in_cell = |range: TextRange| {
        let start = usize::from(range.start()).saturating_sub(BEFORE.len());
        let end = usize::from(range.end()).saturating_sub(BEFORE.len());
        start.min(code.len())..end.min(code.len())
    };
    let mut out = Composed::default();
    let errors = parsed.errors();
    let list = parsed.tree().items().find_map(|item| match item {
        ast::Item::Fn(function) => function.body()?.stmt_list(),
        _ => None,
    });
    let Some(list) = list.filter(|_| errors.is_empty()) else {
        // The compiler explains it better than this parser.
        out.made("{\n", 0..0);
        out.own(code, 0..code.len());
        out.made("\n}\n;", 0..0);
        out.ungrammatical = errors
            .iter()
            .map(|e| (e.to_string(), in_cell(e.range())))
            .collect();
        return out;
    };
    let statements: Vec<ast::Stmt> = list.statements().collect();
    for statement in &statements {
        if let ast::Stmt::Item(item) = statement {
            let range = in_cell(item.syntax().text_range());
            if matches!(item, ast::Item::Use(_)) {
                out.imports.push(range.clone());
            }
            out.own(code, range);
        }
    }
    out.made("{ ::semilunar::around_cell::begin();\n", 0..0);
    for statement in &statements {
        if !matches!(statement, ast::Stmt::Item(_)) {
            out.own(code, in_cell(statement.syntax().text_range()));
        }
    }
    if let Some(last) = list.tail_expr() {
        let range = in_cell(last.syntax().text_range());
        out.made(
            "{ use ::semilunar::around_cell::{LastHidden as _, LastPrinted as _, LastShown as _};\n\
             (&&&::semilunar::around_cell::Last(&(\n",
            range.clone(),
        );
        out.own(code, range.clone());
        out.made("))).show_last(); }\n", range);
    }
    let kept = kept_variables(&statements, in_cell);
    for Kept {
        name, kind, place, ..
    } in &kept
    {
        let line = format!("::semilunar::around_cell::keep::<{kind}>(\"{name}\", {name});\n");
        out.made(&line, place.clone());
    }
    out.made("};\n", 0..0);
    for kept in kept {
        let Kept {
            name,
            kind,
            is_mutable,
            place,
        } = kept;
        let mutable = if is_mutable { "mut " } else { "" };
        let line =
            format!("let {mutable}{name}: {kind} = ::semilunar::around_cell::kept(\"{name}\");\n");
        out.made(&line, place);
        out.kept.push(name);
    }
    out.made("::semilunar::around_cell::done();\n", 0..0);
    out
}

/// The variables with a written type, each name once: as it is at the end of the cell.
fn kept_variables(
    statements: &[ast::Stmt],
    in_cell: impl Fn(TextRange) -> Range<usize>,
) -> Vec<Kept> {
    let mut kept: Vec<Kept> = Vec::new();
    for statement in statements {
        let ast::Stmt::LetStmt(statement) = statement else {
            continue;
        };
        let Some(ast::Pat::IdentPat(pattern)) = statement.pat() else {
            continue;
        };
        let Some(name) = pattern.name() else { continue };
        let name = name.text().to_string();
        kept.retain(|k| k.name != name);
        let Some(kind) = statement.ty() else { continue };
        let is_open = |kind: &ast::Type| {
            let mut nodes = kind.syntax().descendants();
            nodes.any(|n| n.kind() == SyntaxKind::INFER_TYPE)
        };
        if !is_open(&kind) {
            kept.push(Kept {
                name,
                kind: kind.syntax().text().to_string(),
                is_mutable: pattern.mut_token().is_some(),
                place: in_cell(statement.syntax().text_range()),
            });
        }
    }
    kept
}

impl Composed {
    fn own(&mut self, code: &str, cell: Range<usize>) {
        let start = self.text.len();
        self.text.push_str(&code[cell.clone()]);
        let end = self.text.len();
        self.pieces.push(Piece {
            start,
            end,
            cell,
            is_own: true,
        });
        self.text.push('\n');
    }

    fn made(&mut self, text: &str, cell: Range<usize>) {
        let start = self.text.len();
        self.text.push_str(text);
        let end = self.text.len();
        self.pieces.push(Piece {
            start,
            end,
            cell,
            is_own: false,
        });
    }

    /// The stretch of the cell that a stretch of the text came from, given by line and column
    /// from 1, columns in characters, as the compiler counts.
    pub(super) fn in_cell(
        &self,
        start: (usize, usize),
        end: (usize, usize),
    ) -> Option<Range<usize>> {
        let start = self.offset(start)?;
        let end = self.offset(end)?.max(start);
        let stands_for = |p: &&Piece| p.start <= start && start <= p.end && !p.cell.is_empty();
        let pieces = || self.pieces.iter().filter(stands_for);
        // Where one ends and the next one starts, the next one is meant.
        let piece = pieces()
            .find(|p| start < p.end)
            .or_else(|| pieces().next())?;
        if !piece.is_own {
            return Some(piece.cell.clone());
        }
        let end = end.min(piece.end);
        let moved = |at: usize| piece.cell.start + (at - piece.start);
        Some(moved(start)..moved(end))
    }

    fn offset(&self, (line, column): (usize, usize)) -> Option<usize> {
        let mut at = 0;
        let mut lines = self.text.split_inclusive('\n');
        for _ in 1..line {
            at += lines.next()?.len();
        }
        let text = lines.next().unwrap_or("");
        let inside = text.char_indices().nth(column.saturating_sub(1));
        Some(at + inside.map_or(text.len(), |(at, _)| at))
    }

    /// Where a line of the compiled library stands in the cell, found by its text.
    pub(super) fn line_in_cell(&self, line: &str, column: usize) -> Option<Range<usize>> {
        let mut found = self.text.lines().enumerate().filter(|(_, l)| *l == line);
        let (number, _) = found.next()?;
        if found.next().is_some() {
            return None;
        }
        let at = (number + 1, column);
        let end = (number + 1, line.chars().count() + 1);
        self.in_cell(at, end)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const CODE: &str = "\nuse std::f64::consts::E;\nfn twice(x: f64) -> f64 { x * 2.0 }\nlet local = 1.0;\nlet mut total: f64 = local;\ntotal += twice(E); total";

    #[test]
    fn items_stay_outside_and_written_types_outlive_the_block() {
        let composed = compose(CODE);
        let (items, block) = composed.text.split_once("{ ::semilunar").unwrap();
        assert!(items.contains("use std::f64::consts::E;") && items.contains("fn twice"));
        assert!(block.contains("let local = 1.0;"));
        assert_eq!(composed.kept, ["total"]);
        assert!(block.contains("let mut total: f64 = ::semilunar::around_cell::kept(\"total\");"));
        assert!(composed.ungrammatical.is_empty());
    }

    #[test]
    fn places_lead_back_to_the_cell() {
        let composed = compose(CODE);
        for wanted in ["local = 1.0", "twice(E)", "x * 2.0"] {
            let at = composed.text.find(wanted).unwrap();
            let before = &composed.text[..at];
            let line = before.matches('\n').count() + 1;
            let column = before.rsplit('\n').next().unwrap().chars().count() + 1;
            let place = composed
                .in_cell((line, column), (line, column + wanted.len()))
                .unwrap();
            assert_eq!(&CODE[place], wanted);
        }
        let made = composed.text.find("keep::<f64>").unwrap();
        let line = composed.text[..made].matches('\n').count() + 1;
        let place = composed.in_cell((line, 1), (line, 5)).unwrap();
        assert_eq!(&CODE[place], "let mut total: f64 = local;");
    }

    #[test]
    fn a_shadowed_variable_and_an_open_type_do_not_outlive_the_cell() {
        let composed = compose("let a: f64 = 1.0;\nlet a = 2;\nlet b: Vec<_> = vec![1];");
        assert!(composed.kept.is_empty());
    }

    #[test]
    fn what_cannot_be_parsed_is_left_to_the_compiler_and_noted() {
        let composed = compose("let a = ;");
        assert!(composed.text.contains("let a = ;"));
        assert_eq!(&"let a = ;"[composed.ungrammatical[0].1.clone()], "");
    }
}
