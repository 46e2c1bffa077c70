//! Lines tile the text; reading again after an edit is a fresh read; formatting moves blanks only, and once.

use syntax::{format, plan_ranges, read_plan, read_plan_again};

pub fn holds(bytes: &[u8]) {
    let Ok(text) = std::str::from_utf8(bytes) else {
        return;
    };
    let mut end = 0;
    for range in plan_ranges(text) {
        assert_eq!(range.start, end);
        end = range.end;
        reads(&text[range]);
    }
    assert_eq!(end, text.len());
    for quantity in syntax::find_quantities(text) {
        let span = quantity.span.start as usize..quantity.span.end as usize;
        assert!(text.get(span).is_some_and(|written| !written.is_empty()));
    }
    let _ = syntax::read_quantity(text);
}

fn reads(text: &str) {
    let plan = read_plan(text);
    let mut end = 0;
    for (line, index) in plan.lines.iter().zip(0..) {
        assert_eq!(line.start as usize, end);
        let own = &text[end..end + line.len as usize];
        end += (line.len + line.eol) as usize;
        for problem in &line.problems {
            let mends = problem.fixes.iter().flat_map(|mend| &mend.edits);
            for span in mends.map(|(span, _)| *span).chain([problem.span]) {
                assert!(own.get(span.start as usize..span.end as usize).is_some());
            }
        }
        let mut at = 0;
        for token in syntax::tokens(&plan, index) {
            assert!(token.span.start >= at && token.span.end >= token.span.start);
            at = token.span.end;
            assert!(own.get(token.span.start as usize..at as usize).is_some());
        }
    }
    assert_eq!(end, text.len());

    let edits = format(&plan);
    let mut formatted = text.to_owned();
    for (range, new) in edits.iter().rev() {
        formatted.replace_range(range.clone(), new);
    }
    let solid = |text: &str| {
        text.chars()
            .filter(|c| !c.is_whitespace())
            .collect::<String>()
    };
    assert_eq!(solid(text), solid(&formatted));
    let again = read_plan_again(&formatted, plan);
    assert_eq!(again, read_plan(&formatted));
    assert_eq!(format(&again), [], "of {formatted:?}");
}
