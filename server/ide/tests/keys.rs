//! Keys: where they stand, and other names for them.

#![allow(clippy::unwrap_used, reason = "a test that cannot go on has failed")]

use ide::{Document, TextEdit};

const PLAN: &str = "\
plan Ketone: one mole of ketone
scale 5.00 mmol ketone
reaction ketone + base -> alkene
materials
  ketone: cyclohexanone, 1.00 eq   # our ketone
  base: n-butyllithium, 2.5 M in thf, 1.15 eq
  thf: tetrahydrofuran, 3 mL/g of ketone
products
  alkene: C7H12, 1.00 eq
equipment
  flask: 100 mL flask
  syringes: 5 mL and 10 mL syringes
  pump: syringe pump
steps
  add ketone, thf 20 mL to flask via syringe pump
  add base via syringe
  in flask
  stir until no ketone by TLC, not the ketone-adduct
  filter, keep filtrate as liquor
  wash liquor with pentane 5 mL
";

/// The text with each key at the mark between brackets, and where it is declared between double ones.
fn marked(before_mark: &str) -> String {
    let at = PLAN.find(before_mark).unwrap() + before_mark.len();
    let mut text = PLAN.to_owned();
    for mention in Document::new(PLAN).references(at).iter().rev() {
        let (open, close) = if mention.declaration {
            ("[[", "]]")
        } else {
            ("[", "]")
        };
        text.insert_str(mention.range.end, close);
        text.insert_str(mention.range.start, open);
    }
    text
}

fn lines_with(text: &str, what: &str) -> Vec<String> {
    text.lines()
        .filter(|line| line.contains(what))
        .map(|line| line.trim().to_owned())
        .collect()
}

#[test]
fn a_key_is_found_in_equation_scale_materials_and_steps() {
    for at in ["mmol ke", "  ketone", "reaction ", "g of k", "add ketone"] {
        assert_eq!(
            lines_with(&marked(at), "["),
            [
                "scale 5.00 mmol [ketone]",
                "reaction [ketone] + base -> alkene",
                "[[ketone]]: cyclohexanone, 1.00 eq   # our ketone",
                "thf: tetrahydrofuran, 3 mL/g of [ketone]",
                "add [ketone], thf 20 mL to flask via syringe pump",
            ],
            "{at}"
        );
    }
    assert_eq!(
        lines_with(&marked("M in "), "["),
        [
            "base: n-butyllithium, 2.5 M in [thf], 1.15 eq",
            "[[thf]]: tetrahydrofuran, 3 mL/g of ketone",
            "add ketone, [thf] 20 mL to flask via syringe pump",
        ]
    );
    assert_eq!(
        lines_with(&marked("wash liq"), "["),
        [
            "filter, keep filtrate as [[liquor]]",
            "wash [liquor] with pentane 5 mL"
        ]
    );
    assert_eq!(lines_with(&marked("in fl"), "[")[2], "in [flask]");
}

#[test]
fn where_no_key_stands_there_is_nothing() {
    for at in ["plan K", "cyclohex", "5.0", "pent", "by T", "our ke"] {
        let offset = PLAN.find(at).unwrap() + at.len();
        let document = Document::new(PLAN);
        assert_eq!(document.references(offset), [], "{at}");
        assert_eq!(document.renameable(offset), None, "{at}");
        assert_eq!(
            document.rename(offset, "x").unwrap_err(),
            "There is no key here to rename."
        );
    }
}

fn made(text: &str, edits: &[TextEdit]) -> String {
    let mut text = text.to_owned();
    for edit in edits.iter().rev() {
        text.replace_range(edit.range.clone(), &edit.new_text);
    }
    text
}

fn renamed(key: &str, name: &str) -> Result<(String, String), String> {
    let at = PLAN
        .find(&format!("  {key}:"))
        .unwrap_or_else(|| PLAN.find(key).unwrap())
        + 2;
    let renaming = Document::new(PLAN).rename(at, name)?;
    Ok((made(PLAN, &renaming.edits), made(PLAN, &renaming.optional)))
}

#[test]
fn a_key_gets_another_name_wherever_it_stands() {
    let (new, prose) = renamed("ketone", "sm").unwrap();
    assert_eq!(
        lines_with(&new, "sm"),
        [
            "scale 5.00 mmol sm",
            "reaction sm + base -> alkene",
            "sm: cyclohexanone, 1.00 eq   # our ketone",
            "thf: tetrahydrofuran, 3 mL/g of sm",
            "add sm, thf 20 mL to flask via syringe pump",
        ]
    );
    // Whole words of free text are offered apart.
    assert_eq!(
        lines_with(&prose, "sm"),
        [
            "plan Ketone: one mole of sm",
            "ketone: cyclohexanone, 1.00 eq   # our sm",
            "stir until no sm by TLC, not the ketone-adduct",
        ]
    );
    let (new, _) = renamed("liquor", "mother-liquor").unwrap();
    assert_eq!(
        lines_with(&new, "mother"),
        [
            "filter, keep filtrate as mother-liquor",
            "wash mother-liquor with pentane 5 mL"
        ]
    );
    // In another case it is the same key.
    assert_eq!(
        lines_with(&renamed("thf", "THF").unwrap().0, "THF").len(),
        3
    );
}

#[test]
fn a_singular_follows_its_key_and_a_description_stays() {
    let (new, _) = renamed("syringes", "glass").unwrap();
    assert_eq!(
        lines_with(&new, "glass"),
        ["glass: 5 mL and 10 mL syringes", "add base via glass"]
    );
    let (new, _) = renamed("pump", "motor").unwrap();
    assert_eq!(lines_with(&new, "motor"), ["motor: syringe pump"]);
    assert!(new.contains("via syringe pump"));
}

#[test]
fn what_cannot_be_a_key_or_means_something_else_is_refused() {
    for (key, name, why) in [
        (
            "ketone",
            "base",
            "Line 6 would be wrong: The key `base` is declared already",
        ),
        (
            "ketone",
            "Base",
            "Line 6 would be wrong: The key `base` differs from `Base` only by capital letters",
        ),
        (
            "ketone",
            "add",
            "`add` is a verb of the language and cannot be a key",
        ),
        ("ketone", "steps", "`steps` begins a line of its own"),
        ("ketone", "with", "`with` is"),
        ("ketone", "organics", "`organics` is"),
        ("ketone", "mL", "`mL` is a unit: choose another word"),
        ("ketone", "20mL", "The key `20mL` reads as a quantity"),
        ("ketone", "42", "The key `42` needs a letter"),
        ("ketone", "the ketone", "A key is one word"),
        ("ketone", "a:b", "A key is one word"),
        ("ketone", "#x", "A key is one word"),
        ("ketone", "", "A key is one word"),
        (
            "liquor",
            "thf",
            "Line 19 would be wrong: The key `thf` is declared already",
        ),
        // A name that the plan uses for a substance.
        (
            "thf",
            "pentane",
            "Line 20 would be read otherwise with `pentane` as this key",
        ),
    ] {
        let refused = renamed(key, name).unwrap_err();
        assert!(refused.starts_with(why), "{name}: {refused}");
    }
}

#[test]
fn a_rename_stays_within_its_plan() {
    let text =
        "plan A\nmaterials\n  a: water\nplan B\nmaterials\n  a: water\nsteps\n  add a\n  add b\n";
    let document = Document::new(text);
    let renaming = document.rename(text.rfind("a\n").unwrap(), "w").unwrap();
    assert_eq!(
        made(text, &renaming.edits),
        text.replacen(
            "  a: water\nsteps\n  add a",
            "  w: water\nsteps\n  add w",
            1
        )
    );
    // Lines are counted from the start of the document.
    assert!(
        document
            .rename(text.rfind("a\n").unwrap(), "b")
            .unwrap_err()
            .starts_with("Line 9 would")
    );
}

/// Whichever key of a careful plan is renamed, it comes to the same amounts and findings.
#[test]
fn a_renamed_plan_comes_to_the_same() {
    let folder = format!("{}/../../examples", env!("CARGO_MANIFEST_DIR"));
    let comes_to = |text: &str| {
        let document = Document::new(text);
        let hints = document.inlay_hints(0..text.len()).into_iter();
        let findings = document.findings().into_iter();
        (
            hints.map(|hint| hint.label).collect::<Vec<_>>(),
            findings.map(|finding| finding.check).collect::<Vec<_>>(),
        )
    };
    let mut renamed = 0;
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.extension().is_none_or(|end| end != "prep") {
            continue;
        }
        let text = std::fs::read_to_string(&path).unwrap();
        let before = comes_to(&text);
        for key in syntax::read_plan(&text).keys {
            let at = text.find(&format!("\n  {}:", key.name.text)).unwrap() + 3;
            let renaming = Document::new(&text).rename(at, "qqq").unwrap();
            let (hints, findings) = comes_to(&made(&text, &renaming.edits));
            let back = |hint: String| hint.replace("qqq", &key.name.text);
            let hints: Vec<String> = hints.into_iter().map(back).collect();
            assert_eq!((hints, findings), before, "{}", key.name.text);
            renamed += 1;
        }
    }
    assert!(renamed > 50, "{renamed}");
}
