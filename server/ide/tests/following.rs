//! After the scale was edited, the lines can follow it together.

#![allow(clippy::unwrap_used)]

use ide::Document;

const PLAN: &str = "\
plan A
scale 10.0 mmol ketone
materials
  ketone: cyclohexanone, MW 98.145, 1.00 eq, 491 mg
  salt: lithium chloride, MW 42.39, 2.00 eq, 424 mg, 10.0 mmol
";

#[test]
fn stated_amounts_follow_an_edited_scale_in_one_click() {
    let document = Document::new(PLAN);
    let at = PLAN.find("10.0").unwrap();
    let actions = document.actions(at..at);
    let action = actions
        .iter()
        .find(|action| action.title.contains("follow the scale"));
    let action = action.unwrap();
    let mut text = PLAN.to_owned();
    for edit in action.edits.iter().rev() {
        text.replace_range(edit.range.clone(), &edit.new_text);
    }
    // 10.0 mmol × 98.145 g/mol and 20.0 mmol × 42.39 g/mol.
    assert!(text.contains("1.00 eq, 981 mg"), "{text}");
    assert!(text.contains("2.00 eq, 848 mg, 20.0 mmol"), "{text}");
    let fine = Document::new(&text);
    assert!(
        fine.actions(at..at)
            .iter()
            .all(|action| !action.title.contains("follow the scale"))
    );
}
