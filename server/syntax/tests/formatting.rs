//! How the white space of a plan is put in order.

#![allow(clippy::unwrap_used, reason = "a test that cannot go on has failed")]

use proptest::prelude::*;
use syntax::{PlanText, Statement, TokenKind, plan_ranges, read_plan, tokens};

/// A file with every plan in it formatted.
fn formatted(text: &str) -> String {
    let mut new = String::new();
    for range in plan_ranges(text) {
        let part = &text[range];
        let mut done = 0;
        for (range, blanks) in syntax::format(&read_plan(part)) {
            assert!(done <= range.start, "edits are in order");
            assert_ne!(part[range.clone()], blanks, "an edit changes something");
            new.push_str(&part[done..range.start]);
            new.push_str(&blanks);
            done = range.end;
        }
        new.push_str(&part[done..]);
    }
    new
}

#[track_caller]
fn becomes(before: &str, after: &str) {
    assert_eq!(formatted(before), after);
    assert_eq!(formatted(after), after);
}

#[test]
fn blocks_are_indented_and_keys_make_a_column() {
    becomes(
        "
 plan A
  scale  5.00 mmol   ketone
 materials
ketone: cyclohexanone,  1.00 eq
\tthf :\ttetrahydrofuran, 25\tmL  \u{20}
    averyveryverylongkeyofmanyletters:   pyridine, 1 mL
 products
  p:  C6H12,1.00 eq
equipment
flask:100 mL flask
vial: 20 mL   vial, septum
 steps
add ketone,  thf 20 mL
     in vial
   note after this:  two blanks
 expect a  mess
",
        "
plan A
scale 5.00 mmol ketone
materials
  ketone: cyclohexanone, 1.00 eq
  thf:    tetrahydrofuran, 25 mL
  averyveryverylongkeyofmanyletters: pyridine, 1 mL
products
  p: C6H12,1.00 eq
equipment
  flask:100 mL flask
  vial: 20 mL vial, septum
steps
  add ketone, thf 20 mL
  in vial
  note after this:  two blanks
  expect a  mess
",
    );
}

#[test]
fn comments_of_neighbours_make_a_column() {
    becomes(
        "\
# of the plan
steps
# add base
   # of the block
  add salt # one
  add base dropwise over 10 min, via syringe, below -65 °C # two
           # on its own
  stir # three
       # goes on

  stir for 2 h  # alone
  add base dropwise over 10 min, via syringe, below -65 °C # also alone
",
        "\
# of the plan
steps
# add base
  # of the block
  add salt                                                   # one
  add base dropwise over 10 min, via syringe, below -65 °C   # two
  # on its own
  stir                                                       # three
                                                             # goes on

  stir for 2 h                                               # alone
  add base dropwise over 10 min, via syringe, below -65 °C   # also alone
",
    );
    becomes(
        "steps\n  stir for 2 h # 3 °C  \n",
        "steps\n  stir for 2 h                                   # 3 °C\n",
    );
}

#[test]
fn a_far_line_does_not_move_the_comments_of_others() {
    let far = "add base dropwise over 10 min, via syringe, below -65 °C, under argon, until no gas";
    becomes(
        &format!("steps\n  stir # a\n  {far} # b\n"),
        &format!("steps\n  stir                                           # a\n  {far}   # b\n"),
    );
}

#[test]
fn at_most_two_empty_lines_stay() {
    becomes(
        "plan a\n\n\n \n\t\n\nsteps\n\n\n\n\n",
        "plan a\n\n\nsteps\n\n\n",
    );
    becomes("\n\n\n\nplan b\n", "\n\nplan b\n");
}

#[test]
fn what_does_not_read_stays_to_the_byte() {
    for text in [
        "materials\n\t5 mL  x\nsteps\n",
        "  what  is this\n",
        "materials\n  add  base   dropwise\n",
        "steps\n     frobnicate  the flask # now\n",
        "steps\n     thf:  tetrahydrofuran\n",
        "\u{feff}  # a\n\u{feff}  plan x\n",
        "steps\n  add thf 20\u{a0}mL,\u{a0} via syringe\n",
        "materials\n  thf:\u{2009}water\n",
        "a\r  \nb",
        "",
    ] {
        assert_eq!(formatted(text), text, "{text:?}");
    }
}

#[test]
fn every_line_keeps_its_end() {
    becomes(
        " plan a\r\nsteps\r stir \n\n\n\r\n\r\nstir",
        "plan a\r\nsteps\r  stir\n\n\n  stir",
    );
}

/// The plans that a newcomer opens are as they would be formatted.
#[test]
fn examples_are_formatted() {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/../../examples");
    let mut seen = 0;
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        // One of them is about slips, and has that of spacing too.
        if path.extension().is_some_and(|end| end == "prep") && !path.ends_with("slips.prep") {
            let text = std::fs::read_to_string(&path).unwrap();
            assert_eq!(formatted(&text), text, "{}", path.display());
            seen += 1;
        }
    }
    assert!(seen >= 4, "{seen}");
}

/// What a plan says, its lines without their places and runs of white space as one.
fn says(text: &str) -> Vec<String> {
    let line = |plan: &PlanText, index: usize| {
        let line = &plan.lines[index];
        let comment = line.comment.map(|span| {
            plan.text[line.start as usize..][span.start as usize..span.end as usize].trim_end()
        });
        let problems: Vec<_> = line
            .problems
            .iter()
            .map(|problem| (problem.code, problem.severity))
            .collect();
        let said = format!(
            "{:?} {:?} {comment:?} {problems:?}",
            line.block, line.statement
        );
        one_space(&without_spans(&said))
    };
    let mut all = Vec::new();
    for range in plan_ranges(text) {
        let plan = read_plan(&text[range]);
        for index in 0..plan.lines.len() {
            let blank = &plan.lines[index];
            if blank.statement != Statement::Blank
                || blank.comment.is_some()
                || !blank.problems.is_empty()
            {
                all.push(line(&plan, index));
            }
        }
        all.push(format!(
            "{:?}",
            plan.keys
                .iter()
                .map(|key| (&key.name.text, key.kind))
                .collect::<Vec<_>>()
        ));
    }
    all
}

fn without_spans(said: &str) -> String {
    let mut parts = said.split("Span { start: ");
    let mut new = parts.next().unwrap().to_owned();
    for part in parts {
        new.push_str(part.split_once('}').unwrap().1);
    }
    new
}

/// Runs of spaces and tabs as one space, none at the ends of what stands in quotes.
fn one_space(text: &str) -> String {
    text.replace("\\t", " ")
        .split(' ')
        .filter(|part| !part.is_empty())
        .collect::<Vec<_>>()
        .join(" ")
}

fn only_letters(text: &str) -> String {
    text.chars()
        .filter(|c| !matches!(c, ' ' | '\t' | '\n' | '\r'))
        .collect()
}

fn holds(text: &str) -> Result<(), TestCaseError> {
    let new = formatted(text);
    prop_assert_eq!(
        formatted(&new),
        new.as_str(),
        "formatting again changes something"
    );
    prop_assert_eq!(only_letters(&new), only_letters(text));
    prop_assert_eq!(says(&new), says(text));
    Ok(())
}

/// Lines of any length are formatted in time that grows with their length alone.
#[test]
fn hostile_text_is_formatted_fast() {
    let size = if cfg!(debug_assertions) {
        60_000
    } else {
        1_000_000
    };
    let pieces = [
        " ",
        "\t",
        "a  ",
        "a,  ",
        "5  mL  ",
        "# ",
        " #  ",
        "k :  ",
        ":  ",
        "\u{a0}  ",
        "(  ",
        "thf  b,  ",
        "sat.  aq.  ",
        "\n",
        " \n",
        "steps\n",
        "materials\n",
        "a: b\n",
        "  stir # a\n",
        "# a\n",
        "\r",
        "\r\n \r",
    ];
    for piece in pieces {
        for start in [
            "",
            "plan ",
            "materials\nthf: ",
            "materials\n",
            "equipment\nf: ",
            "steps\nadd ",
            "steps\nnote ",
        ] {
            let text = format!("{start}{}", piece.repeat(size / piece.len()));
            let plan = read_plan(&text);
            let begun = std::time::Instant::now();
            let _ = syntax::format(&plan);
            // Generous, for a machine that does other work.
            assert!(
                begun.elapsed().as_secs() < 5,
                "{start:?} {piece:?}: {:?}",
                begun.elapsed()
            );
        }
    }
}

/// Pieces of the language in any order, and any characters.
fn garbage() -> impl Strategy<Value = String> {
    let piece = prop_oneof![
        4 => proptest::sample::select(PIECES).prop_map(str::to_owned),
        2 => proptest::sample::select(&[" ", "  ", "\t", "\u{a0}", "   ", "\u{feff}"][..]).prop_map(str::to_owned),
        1 => proptest::sample::select(&["\n", "\r\n", "\r", "\n\n\n\n"][..]).prop_map(str::to_owned),
        1 => "[ -~]{0,6}",
        1 => "\\PC{0,4}",
    ];
    proptest::collection::vec(piece, 0..60).prop_map(|pieces| pieces.concat())
}

const PIECES: &[&str] = &[
    "plan",
    "\nplan x\n",
    "\nsteps\n",
    "\nmaterials\n",
    "\nproducts\n",
    "\nequipment\n",
    "thf: tetrahydrofuran, 25 mL\n",
    "flask: 100 mL flask\n",
    "scale  5.00 mmol thf",
    "reaction 2 a + b -> c",
    "room 21 °C",
    "\nadd ",
    "\nstir ",
    "thf",
    "flask",
    "20 mL",
    "3 x  20 mL",
    "2,5 mL",
    "1 000 mL",
    "- 78 °C",
    "5 -10 °C",
    "4:1",
    "(",
    ")",
    " # a  b",
    "#3",
    "#",
    ", ",
    ",",
    "; ",
    ": ",
    " : ",
    ":",
    "note ",
    "until ",
    "expect ",
    "over ",
    "via ",
    "in ",
    "in vial",
    "of ",
    "and ",
    "then ",
    "1. ",
    "12) ",
    "meanwhile in flask",
    "the day  before",
    "hexanes/ethyl acetate 4:1",
    "sat. aq.",
    "2.5 M  in hexanes",
    "bottle a  #3",
    "SMILES CC",
    "benzene, 1,2-dichloro-",
    "author  me",
    "start 9:00",
    "if it  boils",
    "keep  filtrate as  x",
    "room  temperature",
    "ice  bath",
    "１：２",
    "½ H2",
    "→",
];

/// The plans of the tests and examples, with other blanks wherever blanks are not part of free text.
fn untidied() -> impl Strategy<Value = (String, String)> {
    let plans = [
        include_str!("plans/00-methylenation.prep"),
        include_str!("plans/01-grignard.prep"),
        include_str!("plans/05-nah-alkylation.prep"),
        include_str!("plans/08-hydrogenation.prep"),
        include_str!("plans/11-syringe-pump-dean-stark.prep"),
        include_str!("../../../examples/slips.prep"),
    ];
    let blanks = proptest::sample::select(&[" ", "  ", "\t", "    ", " \t "][..]);
    let edge = proptest::sample::select(&["", " ", "\t", "      "][..]);
    let choices = proptest::collection::vec((blanks, edge, edge_end()), 64);
    (
        proptest::sample::select(plans.to_vec()).prop_map(str::to_owned),
        choices,
    )
        .prop_map(|(plan, choices)| {
            let mut choices = choices.iter().cycle();
            let read = read_plan(&plan);
            let mut new = String::new();
            for (index, line) in read.lines.iter().enumerate() {
                let text = &read.text[line.start as usize..(line.start + line.len) as usize];
                let (_, lead, trail) = choices.next().unwrap();
                // A comment alone means where it stands.
                let alone = text.trim_start().starts_with('#');
                for token in tokens(&read, index) {
                    let written = &text[token.span.start as usize..token.span.end as usize];
                    new.push_str(match token.kind {
                        TokenKind::Space if alone => written,
                        TokenKind::Space if token.span.start == 0 => lead,
                        TokenKind::Space => choices.next().unwrap().0,
                        _ => written,
                    });
                }
                new.push_str(trail);
                new.push('\n');
            }
            new.pop();
            (plan, new)
        })
}

fn edge_end() -> impl Strategy<Value = &'static str> {
    proptest::sample::select(&["", "", "  ", "\t"][..])
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(4000))]

    #[test]
    fn garbage_keeps_its_meaning(text in garbage()) {
        holds(&text)?;
    }

    #[test]
    fn any_text_keeps_its_letters(text in "\\PC*|.{0,80}") {
        holds(&text)?;
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(500))]

    /// However a plan is spaced, one text comes of it.
    #[test]
    fn spacing_does_not_matter((tidy, untidy) in untidied()) {
        prop_assert_eq!(formatted(&untidy), formatted(&tidy));
        prop_assert_eq!(says(&untidy), says(&tidy));
    }
}

#[test]
fn runs_make_a_column() {
    let head = "plan A\nmaterials\n  acid: benzoic acid\n";
    becomes(
        &format!("{head}runs\nA:  5.00 mmol\n B-long: 2.50   mmol, acid  is  picric acid\n"),
        &format!("{head}runs\n  A:      5.00 mmol\n  B-long: 2.50 mmol, acid is picric acid\n"),
    );
}
