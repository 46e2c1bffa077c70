//! The nine plans read without a single problem, and their tree holds their text to the byte.

#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::print_stdout,
    clippy::single_range_in_vec_init,
    reason = "a test that cannot go on has failed"
)]

use std::fs;
use std::path::Path;

#[test]
fn the_plans_read_without_a_problem() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/plans");
    let mut count = 0;
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        let text = fs::read_to_string(&path).unwrap();
        assert_eq!(
            syntax::plan_ranges(&text),
            [0..text.len()],
            "{}",
            path.display()
        );
        let plan = syntax::read_plan(&text);
        for (number, line) in (1..).zip(&plan.lines) {
            let start = line.start as usize;
            let written = &text[start..start + line.len as usize];
            assert!(
                line.problems.is_empty(),
                "{}:{number}: {written}\n{:#?}",
                path.display(),
                line.problems
            );
            assert!(
                !matches!(line.statement, syntax::Statement::Unread(_)),
                "{}:{number}: {written} is not read",
                path.display()
            );
        }
        count += 1;
    }
    assert_eq!(count, 9);
}
