//! Keeps columns where they stood: a number that grows takes the room from the spaces behind it.

use crate::Plan;
use crate::known::At;
use std::collections::HashMap;
use syntax::Span;

/// A run of at least two spaces between words.
struct Gap {
    span: Span,
    /// The column, in characters, of the word behind it.
    column: usize,
}

/// Adds edits of the spaces that keep later columns aligned. A column is a word that stands behind two spaces or
/// more, at the same place as one of another line without a blank line between them. Two spaces stay.
pub(super) fn keep(plan: &Plan, edits: &mut Vec<(At, String)>) {
    let gaps: Vec<Vec<Gap>> = (0u32..)
        .zip(&plan.text.lines)
        .map(|(line, found)| {
            let whole = Span {
                start: 0,
                end: found.len,
            };
            plan.slice(line, whole).map_or_else(Vec::new, gaps)
        })
        .collect();
    let blocks = blocks(plan);
    let mut columns: HashMap<(usize, usize), usize> = HashMap::new();
    for (block, gaps) in blocks.iter().zip(&gaps) {
        for gap in gaps {
            *columns.entry((*block, gap.column)).or_default() += 1;
        }
    }
    edits.sort_by_key(|(at, _)| *at);
    let mut padding = Vec::new();
    for of_line in edits.chunk_by(|a, b| a.0.line == b.0.line) {
        let Some(line) = of_line.first().map(|(at, _)| at.line as usize) else {
            continue;
        };
        let (Some(gaps), Some(block)) = (gaps.get(line), blocks.get(line)) else {
            continue;
        };
        // By how many characters what stands before the next gap has grown.
        let mut grown = 0isize;
        let mut rest = of_line.iter().peekable();
        for gap in gaps {
            while let Some((at, text)) = rest.next_if(|(at, _)| at.span.end <= gap.span.start) {
                let old = plan.slice(at.line, at.span).unwrap_or("");
                grown += signed(text.chars().count()) - signed(old.chars().count());
            }
            let shared = columns.get(&(*block, gap.column)).is_some_and(|n| *n > 1);
            if grown == 0 || !shared {
                continue;
            }
            let old = signed((gap.span.end - gap.span.start) as usize);
            let new = (old - grown).max(2);
            grown += new - old;
            if new != old {
                let at = At {
                    line: u32::try_from(line).unwrap_or(0),
                    span: gap.span,
                };
                padding.push((at, " ".repeat(new.unsigned_abs())));
            }
        }
    }
    edits.extend(padding);
}

fn signed(count: usize) -> isize {
    isize::try_from(count).unwrap_or(isize::MAX)
}

/// For every line, which run of lines without a blank one between them it belongs to.
fn blocks(plan: &Plan) -> Vec<usize> {
    let mut block = 0;
    plan.text
        .lines
        .iter()
        .map(|line| {
            block += usize::from(line.len == 0);
            block
        })
        .collect()
}

/// None in a line with a tab, whose columns depend on who shows it.
fn gaps(line: &str) -> Vec<Gap> {
    let mut gaps = Vec::new();
    if line.contains('\t') {
        return gaps;
    }
    let mut spaces = 0;
    let mut words = false;
    for (column, (byte, character)) in line.char_indices().enumerate() {
        if character == ' ' {
            spaces += 1;
            continue;
        }
        if spaces >= 2 && words {
            let (Ok(start), Ok(end)) = (u32::try_from(byte - spaces), u32::try_from(byte)) else {
                return gaps;
            };
            gaps.push(Gap {
                span: Span { start, end },
                column,
            });
        }
        spaces = 0;
        words = true;
    }
    gaps
}
