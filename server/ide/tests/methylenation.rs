//! What an editor shows for the first example. The amounts were worked by hand from CIAAW 2021 weights:
//! ketone 771 mg (5.00 mmol), salt 2.14 g (6.00 mmol), base 2.30 mL (5.75 mmol), alkene 647 mg of 761 mg.

use ide::{ActionKind, Document};

const PLAN: &str = include_str!("../../../examples/methylenation.prep");

/// The hover on some words of the plan; empty when there is none.
fn hover(document: &Document, text: &str, words: &str) -> String {
    let hover = text.find(words).and_then(|at| document.hover(at + 1));
    hover.map_or_else(String::new, |hover| hover.markdown)
}

#[test]
fn hover_says_mass_volume_and_amount() {
    let document = Document::new(PLAN);
    for (words, expected) in [
        ("ketone:  ", "**771 mg** · 5.00 mmol"),
        ("salt:    ", "**2.14 g** · 6.00 mmol"),
        ("base:    ", "**2.30 mL** · 5.75 mmol"),
        (
            "alkene: ",
            "**647 mg, 4.25 mmol expected** · 761 mg in theory",
        ),
        ("base dropwise", "**2.30 mL**"),
        ("5.00 mmol", "1.00 eq is **5.00 mmol** of ketone: 771 mg"),
        // 152.281 of 154.253 + 357.230 + 64.055 g/mol.
        ("Methylenation", "alkene: atom economy 26 %"),
        // 16 h, 2 h, 45 min, 3 h and 5 min of argon by themselves; 10, 5 and 5 min of adding.
        (
            "Methylenation",
            "Stated times: 22 h 10 min, of which waiting 21 h 50 min; ",
        ),
    ] {
        let markdown = hover(&document, PLAN, words);
        assert!(markdown.contains(expected), "{words}: {markdown}");
    }
}

#[test]
fn hints_say_what_the_lines_do_not() {
    let document = Document::new(PLAN);
    let hints: Vec<String> = document
        .inlay_hints(0..PLAN.len())
        .into_iter()
        .map(|hint| hint.label)
        .collect();
    assert!(hints.contains(&"771 mg · 5.00 mmol".to_owned()));
    assert!(hints.contains(&"2.14 g · 6.00 mmol".to_owned()));
    assert!(hints.contains(&"2.30 mL · 5.75 mmol".to_owned()));
    assert!(hints.contains(&"647 mg expected · 761 mg in theory".to_owned()));
}

#[test]
fn rescaling_there_and_back_is_the_same_text() {
    let mut document = Document::new(PLAN);
    let scale = PLAN.find("scale").expect("a scale");
    for words in ["(× 2)", "(÷ 2)"] {
        let actions = document.actions(scale..scale);
        let action = actions
            .into_iter()
            .find(|a| a.kind == ActionKind::Rescale && a.title.contains(words))
            .expect(words);
        for edit in action.edits.iter().rev() {
            document.edit(edit.range.clone(), &edit.new_text);
        }
        if words == "(× 2)" {
            let text = document.rope().to_string();
            for line in [
                "scale 10.0 mmol ketone",
                "add thf 40 mL, via syringe",
                "extract with pentane, 3 x 40 mL",
            ] {
                assert!(text.contains(line), "{line}");
            }
        }
    }
    assert_eq!(document.rope().to_string(), PLAN);
}

#[test]
fn to_a_concentration_has_two_readings() {
    // 5.00 mmol to 0.20 M are 25.0 mL; 5.00 mmol of acetophenone are 600.8 mg, at 1.0238 g/mL (25 °C, CRC) 0.587 mL.
    let text = "plan A\nscale 5.00 mmol a\nmaterials\n  a: acetophenone, 1.00 eq\n  thf: tetrahydrofuran, to 0.20 M\nsteps\n  add a, thf\n";
    let markdown = hover(&Document::new(text), text, "thf:");
    assert!(
        markdown.contains("25.0 mL of solvent; filled up to 25.0 mL beside 0.58"),
        "{markdown}"
    );
    assert!(markdown.contains("about 24.4 mL"), "{markdown}");
}
