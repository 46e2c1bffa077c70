//! What must hold for any text.

#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::print_stdout,
    clippy::single_range_in_vec_init,
    reason = "a test that cannot go on has failed"
)]

use proptest::prelude::*;
use std::time::{Duration, Instant};
use syntax::{PlanText, Statement, plan_ranges, read_plan};

/// Pieces of the language in any order make better garbage than random characters.
fn garbage() -> impl Strategy<Value = String> {
    let piece = prop_oneof![
        Just("\n".to_owned()),
        Just("\r\n".to_owned()),
        Just("\r".to_owned()),
        Just(", ".to_owned()),
        Just(" ".to_owned()),
        Just("".to_owned()),
        "[ -~]{0,6}",
        "\\PC{0,4}",
        proptest::sample::select(PIECES).prop_map(str::to_owned),
        proptest::sample::select(PIECES).prop_map(|piece| format!("{piece} ")),
    ];
    proptest::collection::vec(piece, 0..60).prop_map(|pieces| pieces.concat())
}

const PIECES: &[&str] = &[
    "plan",
    "materials",
    "products",
    "equipment",
    "steps",
    "runs",
    "is",
    "\nruns\n",
    "A: 2.50 mmol, thf is toluene, 99 %\n",
    "\nsteps\n",
    "\nmaterials\n",
    "\nequipment\n",
    "\nplan x\n",
    "thf: tetrahydrofuran, 25 mL\n",
    "flask: 100 mL flask\n",
    "scale 5.00 mmol ketone",
    "reaction 2 a + b -> c",
    "room 21 °C",
    "add",
    "wash",
    "dry",
    "keep",
    "as",
    "with",
    "in",
    "to",
    "over",
    "until",
    "via",
    "at",
    "for",
    "of",
    "the",
    "a",
    "rest",
    "half",
    "tenth of",
    "and",
    "then",
    "thf",
    "flask",
    "20 mL",
    "3 x 20 mL",
    "3 x",
    "2,5 mL",
    "1,000 mL",
    "1 000 mL",
    "- 78 °C",
    "-78 to 0 °C",
    "10-3 mbar",
    "1e999 mL",
    "1e-30 g",
    "99999999999999999999999999999999 g",
    "5 mL/mmol of",
    "4:1",
    "40:1 to 20:1",
    "mixture of",
    "hexanes/ethyl acetate",
    "(",
    ")",
    "((",
    "(20 mL, 3 g)",
    "(4:1)",
    "1/3 of",
    "50 % of",
    "3 cycles",
    "2 drops",
    "each",
    "1 M HCl",
    "sat. aq.",
    "2.5 M in hexanes",
    "60% in oil",
    "SMILES",
    "CC#N",
    "# note",
    "#3",
    "1, 4-dioxane",
    "N, N-",
    "-, ",
    "e",
    "½ H2",
    "→",
    "\u{feff}",
    "\u{2028}",
    "\u{85}",
    "µL",
    "Å",
    "℃",
    "x",
    "3x",
    ".",
    ";",
    ":",
    ",",
    "\t",
    "pH 7",
    "meanwhile in",
    "out of",
    "the day before",
    "last 2 steps",
    "bath 95 °C",
    "found 0.78 M",
    "ice bath",
    "if",
    "3.",
    "12)",
];

fn holds(text: &str) -> Result<(), TestCaseError> {
    let mut end = 0;
    for range in plan_ranges(text) {
        prop_assert_eq!(range.start, end);
        end = range.end;
        let plan = read_plan(&text[range]);
        lines_tile(&plan)?;
        spans_fit(&plan)?;
        tokens_tile(&plan)?;
    }
    prop_assert_eq!(end, text.len());
    for quantity in syntax::find_quantities(text) {
        let span = quantity.span;
        let written = text.get(span.start as usize..span.end as usize);
        prop_assert!(written.is_some_and(|written| !written.is_empty()));
        prop_assert!(
            syntax::read_quantity(written.unwrap()).is_some(),
            "{:?}",
            written
        );
    }
    let _ = syntax::read_quantity(text);
    Ok(())
}

fn lines_tile(plan: &PlanText) -> Result<(), TestCaseError> {
    let mut end = 0;
    for line in &plan.lines {
        prop_assert_eq!(line.start, end);
        end = line.start + line.len + line.eol;
        let eol = plan
            .text
            .get((line.start + line.len) as usize..end as usize);
        prop_assert!(matches!(eol, Some("" | "\n" | "\r" | "\r\n")));
    }
    prop_assert_eq!(end as usize, plan.text.len());
    Ok(())
}

fn spans_fit(plan: &PlanText) -> Result<(), TestCaseError> {
    for line in &plan.lines {
        let text = &plan.text[line.start as usize..(line.start + line.len) as usize];
        for problem in &line.problems {
            let edits = problem
                .fixes
                .iter()
                .flat_map(|mend| mend.edits.iter().map(|(span, _)| *span));
            for span in edits.chain([problem.span]) {
                prop_assert!(
                    text.get(span.start as usize..span.end as usize).is_some(),
                    "{:?} in {:?}",
                    problem,
                    text
                );
            }
        }
    }
    for key in &plan.keys {
        prop_assert!(plan.lines.get(key.line as usize).is_some());
    }
    Ok(())
}

fn tokens_tile(plan: &PlanText) -> Result<(), TestCaseError> {
    for (number, line) in plan.lines.iter().enumerate() {
        let text = &plan.text[line.start as usize..(line.start + line.len) as usize];
        let mut end = 0;
        for token in syntax::tokens(plan, number) {
            prop_assert_eq!(token.span.start, end);
            prop_assert!(token.span.end > token.span.start);
            end = token.span.end;
            prop_assert!(text.is_char_boundary(end as usize));
        }
        prop_assert_eq!(end, line.len);
    }
    Ok(())
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(3000))]

    #[test]
    fn any_string_reads(text in "\\PC*|.{0,80}") {
        holds(&text)?;
    }

    #[test]
    fn any_garbage_reads(text in garbage()) {
        holds(&text)?;
    }

    /// A line that is no step and refers to no key reads the same alone as in its plan.
    #[test]
    fn lines_read_alone(text in garbage()) {
        let plan = read_plan(&text);
        for line in &plan.lines {
            let written = &plan.text[line.start as usize..(line.start + line.len) as usize];
            let header = match line.block {
                syntax::Block::None => "",
                syntax::Block::Materials => "materials\n",
                syntax::Block::Products => "products\n",
                syntax::Block::Equipment => "equipment\n",
                syntax::Block::Steps => "steps\n",
                syntax::Block::Runs => "runs\n",
            };
            let refers = matches!(line.statement, Statement::Step(_) | Statement::Place(_) | Statement::Reaction(_) | Statement::Remark(..) | Statement::Run(_))
                || line.block == syntax::Block::None && matches!(line.statement, Statement::Plan(_))
                || written.contains(" of ") || written.contains(" in ") || written.contains(" on ");
            if !refers {
                let alone = read_plan(&format!("{header}{written}"));
                prop_assert_eq!(&alone.lines.last().unwrap().statement, &line.statement, "{:?}", written);
            }
        }
    }

    /// With all keys before it, a line reads the same whatever stands around it.
    #[test]
    fn steps_depend_on_keys_alone(line in "add|stir|wash|dry", rest in garbage(), between in garbage()) {
        let line = format!("{line} {}", rest.replace(['\n', '\r'], " "));
        let keys = "plan x\nmaterials\nthf: a\nsalt: b\nequipment\nflask: flask\n";
        let between: String = between.split(['\n', '\r']).map(|line| format!("note {line}\n")).collect();
        let plain = read_plan(&format!("{keys}steps\n{line}"));
        let full = read_plan(&format!("{keys}steps\n{between}{line}"));
        prop_assert_eq!(&plain.lines.last().unwrap().statement, &full.lines.last().unwrap().statement);
        prop_assert_eq!(&plain.lines.last().unwrap().problems, &full.lines.last().unwrap().problems);
    }
}

/// Lines of a megabyte (of less, where the code is not optimised), repeated forms and nested brackets read in
/// time that grows with their length alone: an editor must not hang on them.
#[test]
fn hostile_text_reads_fast() {
    let size = if cfg!(debug_assertions) {
        60_000
    } else {
        1_000_000
    };
    let mut texts: Vec<String> = [
        "x",
        " ",
        "(",
        ")",
        "( ",
        "()",
        "1",
        "1 ",
        "1,",
        "1, ",
        "1,000",
        "1 000 ",
        "1-",
        "- ",
        "a, ",
        "a and ",
        "20 mL ",
        "5 mL, ",
        "3 x ",
        "1:",
        "1/",
        "e1",
        "#",
        " #",
        ",",
        ";",
        ". ",
        "in ",
        "until ",
        "until a, b ",
        "then ",
        "thf ",
        "thf, ",
        "thf 5 mL, ",
        "half ",
        "half of ",
        "a/b 4:1 ",
        "a/",
        "N, ",
        "1, 4-",
        "x-, ",
        "2 M ",
        "sat. aq. ",
        "rest of thf ",
        "each ",
        "thf 1 mL each, ",
        "salt base ",
        "dry a ",
        ", dry a ",
        "keep a as b, ",
        "bath ",
        "ice bath, ",
        "a + ",
        "+ ",
        "-> ",
        "2 drops ",
        "to 5 mL ",
        "1 mL/g of ",
        "µ",
        "½",
        "\u{feff}",
    ]
    .iter()
    .map(|piece| piece.repeat(size / piece.len()))
    .collect();
    texts.push("(".repeat(10_000) + &")".repeat(10_000));
    texts.push("(".repeat(10_000) + "a" + &") ".repeat(10_000));
    let count = size / 50;
    let many: String = (0..count).map(|n| format!("k{n}: x\n")).collect();
    let unknown: String = (0..count).map(|n| format!("add kk{n}\n")).collect();
    texts.push(format!("materials\n{many}steps\n{unknown}"));
    let before = [
        "",
        "plan ",
        "materials\nthf: ",
        "materials\n",
        "equipment\nf: ",
        "steps\nadd ",
        "steps\nwash salt with ",
        "reaction ",
        "scale ",
        "room ",
        "steps\nin ",
    ];
    let mut slowest = (Duration::ZERO, String::new());
    for text in &texts {
        for start in before {
            let plan = format!("{start}{text}");
            let begun = Instant::now();
            let read = read_plan(&plan);
            let took = begun.elapsed();
            assert!(!read.lines.is_empty());
            if took > slowest.0 {
                slowest = (took, plan.chars().take(40).collect());
            }
        }
    }
    println!("slowest: {:?} for {:?}", slowest.0, slowest.1);
    // Generous, for a machine that does other work; a reader of quadratic time takes far longer.
    assert!(slowest.0 < Duration::from_secs(10), "{slowest:?}");
}

#[test]
fn an_empty_file_is_one_empty_plan() {
    assert_eq!(plan_ranges(""), [0..0]);
    assert_eq!(read_plan("").lines.len(), 1);
}

#[test]
fn line_ends_are_those_of_editors() {
    let plan = read_plan("a\nb\r\nc\rd\u{2028}e\u{85}f\u{b}g");
    let ends: Vec<u32> = plan.lines.iter().map(|line| line.eol).collect();
    assert_eq!(ends, [1, 2, 1, 0]);
}

#[test]
fn a_file_splits_at_its_plan_lines() {
    let text = "scale 1 g a\n  Plan one\nsteps\nplan two\r\nplanned\rPLAN: three";
    let parts: Vec<&str> = plan_ranges(text)
        .into_iter()
        .map(|range| &text[range])
        .collect();
    assert_eq!(
        parts,
        [
            "scale 1 g a\n",
            "  Plan one\nsteps\n",
            "plan two\r\nplanned\r",
            "PLAN: three"
        ]
    );
}
