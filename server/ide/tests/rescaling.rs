//! What an editor is offered for rescaling: titles, groups of edits, and what will be newly wrong.

#![allow(
    clippy::expect_used,
    clippy::panic,
    clippy::unwrap_used,
    reason = "a test may fail"
)]

use ide::{ActionKind, Document, Group, TargetKind, TargetText, TextEdit};
use plan::inventory::Inventory;
use plan::settings::Settings;
use plan::{Context, Kept as _};
use std::fs;
use std::path::Path;
use std::sync::Arc;

/// Molar masses are written: 5.00 mmol of `a` are 1.00 g, and 12 mL of liquid stand in 25 mL.
const PLAN: &str = "\
plan A
scale 5.00 mmol a
materials
  a:   4-tert-butylcyclohexanone, MW 200.0, 1.00 eq
  b:   triphenylphosphine, MW 500.0, 1.20 eq, 3.00 g
  thf: tetrahydrofuran, dry, 12 mL   # 12 mL is enough
products
  p: C12H14, MW 250.0, 1.00 eq, 1.00 g, expect 80 %
equipment
  flask: 25 mL flask
steps
  add a, b
  add thf 12 mL
";

fn target(kind: TargetKind, quantity: Option<&str>, key: Option<&str>) -> TargetText {
    TargetText {
        kind,
        quantity: quantity.map(str::to_owned),
        key: key.map(str::to_owned),
    }
}

fn by(factor: &str) -> TargetText {
    target(TargetKind::By, Some(factor), None)
}

fn titles(document: &Document, text: &str, words: &str) -> Vec<String> {
    let at = text.find(words).expect(words);
    let actions = document.actions(at..at).into_iter();
    actions
        .filter(|action| action.kind == ActionKind::Rescale)
        .map(|action| action.title)
        .collect()
}

fn apply(text: &str, edits: &[TextEdit]) -> String {
    let mut text = text.to_owned();
    for edit in edits.iter().rev() {
        text.replace_range(edit.range.clone(), &edit.new_text);
    }
    text
}

#[test]
fn a_title_says_the_result_and_what_it_needs() {
    let titles = titles(&Document::new(PLAN), PLAN, "scale 5.00");
    assert_eq!(
        titles[0],
        "Rescale plan to 10.0 mmol (× 2): a 2.00 g, needs flask 50 mL"
    );
    assert_eq!(
        titles[3],
        "Rescale plan to 2.50 mmol (÷ 2): a 500 mg, needs flask 10 mL"
    );
    assert_eq!(titles.len(), 6, "{titles:?}");
}

#[test]
fn what_will_be_newly_wrong_comes_first() {
    // Beyond the largest flask, so that no edit can mend it.
    let large = PLAN.replace("25 mL flask", "10 L flask");
    let large = large.replace("12 mL", "8 L");
    let document = Document::new(&large);
    let titles = titles(&document, &large, "scale 5.00");
    assert!(
        titles[2].starts_with("New error (overfilled, line 13): rescale plan to 50.0 mmol (× 10)"),
        "{titles:?}"
    );
    let rescaled = document.rescale_target(0, &by("10")).expect("a rescaling");
    let wrong = &rescaled.newly_wrong[0];
    assert_eq!((wrong.check, wrong.line), ("overfilled", 12));
    assert!(!wrong.mended_by_equipment, "{wrong:?}");
    assert!(wrong.message.contains("80.0 L"), "{wrong:?}");
    // A larger flask that there is would mend it.
    let rescaled = Document::new(PLAN).rescale_target(0, &by("2"));
    let wrong = rescaled.expect("a rescaling").newly_wrong;
    let mended = |wrong: &ide::NewlyWrong| wrong.check == "overfilled" && wrong.mended_by_equipment;
    assert!(wrong.iter().any(mended), "{wrong:?}");
    // What is wrong already is not new: 12 mL are more than a 5 mL flask holds to the brim.
    let full = PLAN.replace("25 mL flask", "5 mL flask");
    let rescaled = Document::new(&full).rescale_target(0, &by("2"));
    let wrong = rescaled.expect("a rescaling").newly_wrong;
    assert!(
        wrong.iter().all(|wrong| wrong.check != "overfilled"),
        "{wrong:?}"
    );
}

#[test]
fn a_scale_is_offered_that_the_tools_read() {
    // A cylinder of 25 mL has a mark every 0.5 mL, and 12 mL are on one.
    let tools = "[tools]\nbalances = [\"0.1 mg\"]\ncylinders = [\"25 mL\"]\n";
    let context = Context {
        settings: Arc::new(Settings::read(tools)),
        ..Context::default()
    };
    // 500.4 g/mol × 6.00 mmol = 3.0024 g, up to the last digit that is written: 3.01 g, 1.203 eq.
    let text = PLAN.replace("MW 500.0", "MW 500.4");
    let document = Document::with_context(&text, context);
    let at = text.find("scale 5.00").expect("the scale");
    let actions = document.actions(at..at).into_iter();
    let rounds: Vec<_> = actions
        .filter(|action| action.title.contains("measured amounts to the tools"))
        .collect();
    let [action] = rounds.as_slice() else {
        panic!("{rounds:?}");
    };
    assert_eq!(action.kind, ActionKind::Rescale);
    let there = apply(&text, &action.edits);
    assert!(there.contains("scale 5.00 mmol a"), "{there}");
    assert!(there.contains("1.20 eq, 3.01 g"), "{there}");
    assert!(there.contains("dry, 12 mL"), "{there}");
    let rescaled = document.rescale_target_to_tools(0, &by("1"));
    let notes = rescaled.expect("a rescaling").rescaling.notes.join("\n");
    assert!(
        notes.contains("b 3.01 g (balance that reads 0.1 mg): 1.203 eq"),
        "{notes}"
    );
}

#[test]
fn groups_are_apart_and_only_the_certain_one_is_made_unasked() {
    let rescaled = Document::new(PLAN).rescale_target(0, &by("2"));
    let rescaled = rescaled.expect("a rescaling");
    let groups = rescaled.groups.iter();
    let groups: Vec<_> = groups
        .map(|group| (group.group.id(), group.optional))
        .collect();
    assert_eq!(
        groups,
        [("scales", false), ("equipment", true), ("mentions", true)]
    );
    for (sizes, mentions) in [(false, false), (true, false), (false, true), (true, true)] {
        let edits = rescaled.edits_with(|group| match group {
            Group::Scales => true,
            Group::Equipment => sizes,
            Group::Mentions => mentions,
        });
        let there = apply(PLAN, &edits);
        assert!(there.contains("add thf 24 mL"), "{there}");
        assert_eq!(there.contains("50 mL flask"), sizes, "{there}");
        assert_eq!(there.contains("# 24 mL"), mentions, "{there}");
    }
}

#[test]
fn actions_stand_on_the_line_that_they_are_about() {
    let shelf =
        "[[bottle]]\nname = \"b-1\"\nsubstance = \"triphenylphosphine\"\nleft = \"6.3 g\"\n";
    let context = Context {
        inventory: Some(Arc::new(Inventory::read(shelf))),
        ..Context::default()
    };
    let text = PLAN
        .replace("3.00 g", "4.50 g, bottle b-1")
        .replace("1.00 eq, 1.00 g", "1.00 eq, 4.00 g");
    let document = Document::with_context(&text, context);
    // 4.50 g of b are 9.00 mmol, for a scale of 7.50 mmol; 6.3 g are 12.6 mmol, for 10.5 mmol.
    let b = titles(&document, &text, "b:   triphenyl");
    assert!(
        b[0].contains("et the plan follow 4.50 g: scale 7.50 mmol (× 1.5)"),
        "{b:?}"
    );
    assert!(
        b[1].contains("escale plan to use all of bottle b-1: scale 10.5 mmol (× 2.1)"),
        "{b:?}"
    );
    // The check on the amount offers the same edits, and nothing is offered twice.
    let at = text.find("4.50 g").expect("the amount");
    let actions = document.actions(at..at).into_iter();
    let edits: Vec<_> = actions.map(|action| action.edits).collect();
    let twice = |one: &Vec<TextEdit>| edits.iter().filter(|other| *other == one).count() > 1;
    assert!(edits.len() > 2 && !edits.iter().any(twice), "{edits:?}");
    let scale = titles(&document, &text, "scale 5.00");
    let bottles = |title: &String| title.contains("as far as the bottles go");
    assert!(scale.iter().any(bottles), "{scale:?}");
    // Two thirds of 25 mL are 16.67 mL, and 12 mL stand for 5.00 mmol.
    let flask = titles(&document, &text, "flask: 25");
    assert!(
        flask[0].contains("escale plan to fill flask two thirds: scale 6.94 mmol (× 1.388)"),
        "{flask:?}"
    );
    // 5.00 mmol × 250 g/mol × 80 % are 1.00 g, so that 4.00 g take 20.0 mmol.
    let p = titles(&document, &text, "p: C12");
    assert!(
        p[0].contains("escale plan to expect 4.00 g: scale 20.0 mmol"),
        "{p:?}"
    );
    assert!(titles(&document, &text, "add thf").is_empty());
}

#[test]
fn goals_in_words_are_read_or_refused_in_words() {
    let document = Document::new(PLAN);
    let scale = |goal: &TargetText| document.rescale_target(0, goal).map(|r| r.rescaling.scale);
    let kind = |name: &str| TargetKind::find(name).expect(name);
    assert_eq!(TargetKind::find("bottel"), None);
    for (name, quantity, key, expected) in [
        ("by", Some("0.5"), None, "2.50 mmol"),
        ("to", Some("10 mmol"), None, "10.0 mmol"),
        ("to", Some("6.0 g"), Some("b"), "10.0 mmol"),
        ("product", Some("2.0 g"), None, "10.0 mmol"),
        ("product", Some("2.0 g"), Some("p"), "10.0 mmol"),
        ("flask", Some("18 mL"), None, "5.00 mmol"),
        ("flask", Some("18 mL"), Some("flask"), "5.00 mmol"),
    ] {
        let goal = target(kind(name), quantity, key);
        assert_eq!(scale(&goal).as_deref(), Ok(expected), "{goal:?}");
    }
    for (name, quantity, key, words) in [
        ("by", Some("twice"), None, "`twice` is no factor"),
        ("by", None, None, "say how much"),
        ("by", Some("2"), Some("b"), "leave out the key"),
        ("to", Some("much"), None, "`much` is no quantity"),
        ("to", Some("2 g"), Some("c"), "which are a, b, thf, p"),
        ("product", Some("2 g"), Some("b"), "b is no product"),
        ("bottle", None, None, "say which line's bottle"),
        ("bottle", None, Some("b"), "names no bottle"),
        ("bottles", None, None, "no line names a bottle"),
        ("smallest", Some("5 mL"), None, "`5 mL` is no error"),
        ("smallest", Some("0 %"), None, "greater than zero"),
        ("smallest", None, Some("b"), "leave out the key"),
        ("flask", Some("2 g"), None, "is a volume"),
        ("flask", None, Some("b"), "b is no line of the equipment"),
    ] {
        let goal = target(kind(name), quantity, key);
        let why = scale(&goal).expect_err("a refusal");
        assert!(why.contains(words), "{goal:?}: {why}");
    }
    assert!(Document::new("").rescale_target(0, &by("2")).is_err());
}

/// The plans that the project shows and those that the language is held to.
fn careful_plans() -> Vec<(String, String)> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let folders = ["../../examples", "../syntax/tests/plans"];
    let entries = folders
        .iter()
        .flat_map(|folder| fs::read_dir(root.join(folder)).expect(folder));
    let paths = entries.map(|entry| entry.expect("an entry").path());
    let plans: Vec<_> = paths
        .filter(|path| path.extension().is_some_and(|end| end == "prep"))
        .map(|path| {
            (
                path.display().to_string(),
                fs::read_to_string(path).expect("a plan"),
            )
        })
        .collect();
    assert!(plans.len() > 10, "{plans:?}");
    plans
}

/// Checks of how much there is of something, how much room, and how well it can be measured.
const ABOUT_SIZE: &[&str] = &[
    "overfilled",
    "bottle-not-enough",
    "solvent-dryness",
    "water-and-oxygen",
    "too-small-to-measure",
    "wrong-in-a-run",
    "pyrophoric-by-syringe",
];

#[test]
fn careful_plans_find_nothing_new_but_sizes_and_come_back() {
    for (path, text) in careful_plans() {
        for factor in ["2", "10", "0.25", "1.37"] {
            let rescaled = Document::new(&text).rescale_target(text.len(), &by(factor));
            let Ok(rescaled) = rescaled else { continue };
            for wrong in &rescaled.newly_wrong {
                let about_size = ABOUT_SIZE.contains(&wrong.check);
                assert!(about_size, "{path} times {factor}: {wrong:?}");
            }
            let there = apply(&text, &rescaled.edits_with(|_| true));
            let plan = plan::Plan::read(&text);
            let (line, quantity) = plan.scale_quantity().expect("a scale");
            let scale = plan.slice(line, quantity.span).expect("words");
            let goal = target(TargetKind::To, Some(scale), None);
            let back = Document::new(&there).rescale_target(there.len(), &goal);
            let back = back.unwrap_or_else(|why| panic!("{path}: {why}"));
            assert_eq!(back.rescaling.scale, scale, "{path}");
            let again = apply(&there, &back.edits());
            assert_eq!(again.lines().count(), text.lines().count());
        }
    }
}
