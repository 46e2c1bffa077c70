//! White space put in order: what is edited, and that no amount and no finding changes.

#![allow(
    clippy::expect_used,
    clippy::panic,
    clippy::unwrap_used,
    reason = "a test that cannot go on has failed"
)]

use ide::{Document, TargetKind, TargetText, TextEdit};

#[path = "../../plan/tests/rescaling/generated.rs"]
#[allow(
    dead_code,
    reason = "of the plans' own tests only the generator is used"
)]
mod generated;

use generated::Random;

/// The text with every edit drawn in it: what goes in square brackets, what comes after a bar.
fn drawn(text: &str, edits: &[TextEdit]) -> String {
    let mut text = text.to_owned();
    for edit in edits.iter().rev() {
        let old = text[edit.range.clone()].replace('\n', "⏎");
        text.replace_range(edit.range.clone(), &format!("[{old}|{}]", edit.new_text));
    }
    text
}

fn made(text: &str, edits: &[TextEdit]) -> String {
    let mut text = text.to_owned();
    for edit in edits.iter().rev() {
        text.replace_range(edit.range.clone(), &edit.new_text);
    }
    text
}

const PLAN: &str = "\
plan A
materials
thf: water, 5  mL
  ketone: cyclohexanone  # a
steps
 add thf
plan B
steps
 stir
";

#[test]
fn only_blanks_that_change_are_edited() {
    assert_eq!(
        drawn(PLAN, &Document::new(PLAN).formatting()),
        "\
plan A
materials
[|  ]thf: [|   ]water, 5 [ |]mL
  ketone: cyclohexanone  [|                        ]# a
steps
 [| ]add thf
plan B
steps
 [| ]stir
"
    );
}

#[test]
fn lines_of_a_stretch_are_as_in_the_whole() {
    let range = |from: &str, to: &str| PLAN.find(from).unwrap()..PLAN.find(to).unwrap();
    let document = Document::new(PLAN);
    let shown = |range| drawn(PLAN, &document.range_formatting(range));
    // The key of the next line gives the column, and the line at whose start the stretch ends is not in it.
    let expected = PLAN.replace("thf: water, 5  mL", "[|  ]thf: [|   ]water, 5 [ |]mL");
    assert_eq!(shown(range("thf:", "  ketone")), expected);
    assert_eq!(shown(range("water", "water")), expected);
    let expected = PLAN
        .replace(" add", " [| ]add")
        .replace(" stir", " [| ]stir");
    assert_eq!(shown(range("add", "stir")), expected);
    assert_eq!(shown(PLAN.len()..PLAN.len() + 9), PLAN);
}

#[test]
fn a_new_line_tidies_the_line_before_it_alone() {
    let text = "steps\n add thf \n\t\n\n\n\n stir\n";
    let shown = |at: &str| {
        let at = text.find(at).unwrap_or(text.len());
        drawn(text, &Document::new(text).newline_formatting(at))
    };
    assert_eq!(shown("steps"), text);
    assert_eq!(shown("\t"), text.replace(" add thf ", " [| ]add thf[ |]"));
    // Of the empty lines, none goes away under the cursor.
    assert_eq!(shown("\n stir"), text);
    assert_eq!(shown(" stir"), text);
    assert_eq!(shown("no such"), text.replace(" stir", " [| ]stir"));
}

/// What a plan comes to: amounts at the end of its lines, and findings.
fn comes_to(text: &str) -> (Vec<String>, Vec<(&'static str, String)>) {
    let document = Document::new(text);
    let hints = document
        .inlay_hints(0..text.len())
        .into_iter()
        .map(|hint| hint.label);
    let findings = document.findings().into_iter();
    (
        hints.collect(),
        findings
            .map(|finding| (finding.check, finding.message))
            .collect(),
    )
}

/// Other blanks wherever there are two, around lines, and behind commas and colons.
fn untidied(text: &str, random: &mut Random) -> String {
    let mut new = String::new();
    for line in text.lines() {
        let mut rest = line.trim_start();
        if !line.starts_with('#') {
            new.push_str(random.one_of(&["", " ", "  ", "\t", "      "]));
        }
        if !rest.starts_with("note") && !rest.starts_with("plan") {
            while let Some(at) = rest
                .find([',', ':', '#'])
                .filter(|at| !rest[*at..].starts_with('#'))
            {
                let (done, after) = rest.split_at(at + 1);
                new.push_str(done);
                rest = after.trim_start_matches(' ');
                if rest.len() < after.len() {
                    new.push_str(random.one_of(&[" ", "  ", "\t", " \t "]));
                }
            }
        }
        new.push_str(rest);
        new.push_str(random.one_of(&["", "", " ", "\t\t"]));
        new.push_str(random.one_of(&["\n", "\n", "\n\n", "\n \n"]));
    }
    new
}

#[test]
fn no_amount_and_no_finding_changes() {
    let mut random = Random(3);
    let mut changed = 0;
    for _ in 0..80 {
        let plan = generated::plan(&mut random, true).text();
        let text = untidied(&plan, &mut random);
        let new = made(&text, &Document::new(&text).formatting());
        changed += usize::from(new != text);
        assert_eq!(comes_to(&new), comes_to(&text), "{text}");
        assert_eq!(comes_to(&new), comes_to(&plan), "{text}");
        assert_eq!(Document::new(&new).formatting(), []);
    }
    assert_eq!(changed, 80);
}

/// Whether a plan is put in order before it is rescaled, after, or both times, it comes to the same text.
#[test]
fn rescaling_commutes_with_formatting() {
    let mut random = Random(5);
    let mut rescaled = 0;
    let all_of_it = |text: &str, target: &TargetText| {
        let document = Document::new(text);
        let found = document.rescale_target(0, target).ok()?;
        Some(made(text, &found.edits_with(|_| true)))
    };
    let formatted = |text: &str| made(text, &Document::new(text).formatting());
    for _ in 0..60 {
        let plan = generated::plan(&mut random, true).text();
        let text = untidied(&plan, &mut random);
        for factor in ["2", "0.5", "0.3", "7", "12"] {
            let target = TargetText {
                kind: TargetKind::By,
                quantity: Some(factor.to_owned()),
                key: None,
            };
            let (first, last) = (
                all_of_it(&formatted(&text), &target),
                all_of_it(&text, &target),
            );
            let (Some(first), Some(last)) = (first, last) else {
                continue;
            };
            assert_eq!(formatted(&first), formatted(&last), "{factor} of\n{text}");
            rescaled += 1;
        }
    }
    assert!(rescaled > 250, "{rescaled}");
}

#[test]
fn no_amount_and_no_finding_of_the_examples_changes() {
    let mut random = Random(4);
    for folder in ["/../../examples", "/../syntax/tests/plans"] {
        let folder = format!("{}{folder}", env!("CARGO_MANIFEST_DIR"));
        for entry in std::fs::read_dir(folder).unwrap() {
            let path = entry.unwrap().path();
            if path.extension().is_some_and(|end| end == "prep") {
                let plan = std::fs::read_to_string(&path).unwrap();
                for text in [plan.clone(), untidied(&plan, &mut random)] {
                    let new = made(&text, &Document::new(&text).formatting());
                    assert_eq!(comes_to(&new), comes_to(&plan), "{}", path.display());
                }
            }
        }
    }
}
