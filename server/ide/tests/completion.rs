//! What is offered at the cursor: `|` in the texts below.

#![allow(clippy::unwrap_used)]

use ide::{CompletionKind, Document};
use plan::inventory::Inventory;
use plan::{Context, Kept};
use std::sync::Arc;

const BOTTLES: &str = r#"[[bottle]]
name = "etmgbr-2"
substance = "ethylmagnesium bromide"
strength = "3.0 M in diethyl ether"
left = "85 mL"
[[bottle]]
name = "benzald-1"
substance = "benzaldehyde"
"#;

const PLAN: &str = "\
plan A
scale 5.00 mmol ketone
materials
  ketone: cyclohexanone, 1.00 eq
  base: n-butyllithium, 2.5 M in hexanes, 1.20 eq
equipment
  flask: 100 mL two-neck flask
steps
";

/// What is offered at the mark of a last line, as text and kind, and what the line becomes with the first.
fn offered(line: &str) -> (Vec<(String, CompletionKind)>, Option<String>) {
    let context = Context {
        inventory: Some(Arc::new(Inventory::read(BOTTLES))),
        ..Context::default()
    };
    let at = line.find('|').unwrap();
    let line = line.replace('|', "");
    let (before, after) = match line.contains(':') {
        true => PLAN.split_at(PLAN.find("equipment").unwrap()),
        false => (PLAN, ""),
    };
    let text = format!("{before}{line}\n{after}");
    let document = Document::with_context(&text, context);
    let Some(found) = document.completions(before.len() + at) else {
        return (Vec::new(), None);
    };
    let items: Vec<_> = found
        .items
        .iter()
        .map(|item| (item.text.clone(), item.kind))
        .collect();
    let mut done = text.clone();
    done.replace_range(found.range, &items[0].0);
    let done = done[before.len()..].lines().next().map(str::to_owned);
    (items, done)
}

fn first(line: &str) -> String {
    offered(line).1.unwrap_or_default()
}

#[test]
fn what_fits_the_place_comes_first() {
    for (line, done) in [
        ("  cool|", "  cool"),
        ("  evac|", "  evacuate"),
        ("  add ket|", "  add ketone"),
        ("  add ketone in fl|", "  add ketone in flask"),
        ("  stir under nit|", "  stir under nitrogen"),
        ("  add base 2.0 m|", "  add base 2.0 mL"),
        ("  add base via sy|", "  add base via syringe"),
        ("  add base drop|", "  add base dropwise"),
        ("  acid: benzoic ac|", "  acid: benzoic acid"),
        ("  acid: nbuli|", "  acid: nBuLi"),
        ("  acid: nBuLi, 2.|", "  acid: nBuLi, 2.5 M in hexanes"),
        ("  acid: nBuLi, 1.2 e|", "  acid: nBuLi, 1.2 eq"),
        ("  acid: nBuLi, pyr|", "  acid: nBuLi, pyrophoric"),
        (
            "  acid: EtMgBr, bottle |",
            "  acid: EtMgBr, bottle etmgbr-2",
        ),
        ("  acid: EtMgBr, bo|", "  acid: EtMgBr, bottle etmgbr-2"),
    ] {
        assert_eq!(first(line), done, "{line}");
    }
}

#[test]
fn bottles_of_the_substance_and_keys_say_what_they_are() {
    let (items, _) = offered("  acid: EtMgBr, bottle |");
    assert_eq!(items, [("etmgbr-2".to_owned(), CompletionKind::Bottle)]);
    // Nobody has a bottle of it, so all are offered.
    assert_eq!(offered("  acid: benzoic acid, bottle |").0.len(), 2);

    let text = format!("{PLAN}  add ");
    let document = Document::new(&text);
    let found = document.completions(text.len()).unwrap();
    let base = found.items.iter().find(|item| item.text == "base").unwrap();
    // 6.00 mmol over 2.5 mol/L.
    assert!(
        base.detail.starts_with("n-butyllithium, 2.40 mL"),
        "{}",
        base.detail
    );
}

fn texts(line: &str) -> Vec<String> {
    offered(line).0.into_iter().map(|(text, _)| text).collect()
}

#[test]
fn what_follows_a_preposition_fits_the_verb() {
    let temperatures = ["rt", "0 °C", "-78 °C", "reflux"];
    assert_eq!(texts("  cool to |"), temperatures);
    assert_eq!(texts("  add ketone, warm to |"), temperatures);
    assert_eq!(texts("  heat to r|"), ["rt", "reflux"]);
    assert_eq!(texts("  add ketone to |"), ["flask"]);
    assert_eq!(texts("  add ketone at |"), temperatures);
    assert_eq!(texts("  concentrate to |"), ["dryness", "constant mass"]);
    assert_eq!(texts("  acidify with base to |"), ["pH "]);
    assert_eq!(texts("  purge with |")[..2], ["argon", "nitrogen"]);
    assert_eq!(texts("  quench with |"), ["ketone", "base"]);
    assert_eq!(texts("  dry organics over |")[0], "magnesium sulfate");
    assert_eq!(texts("  add base over |"), [""; 0]);
    assert_eq!(texts("  filter through |"), ["Celite", "silica "]);
    // A vessel first where it may be named, and what the verb says most.
    assert_eq!(texts("  cool |")[0], "to ");
    assert!(texts("  cool |").contains(&"flask".to_owned()));
    assert!(!texts("  cool |").contains(&"base".to_owned()));
    assert_eq!(texts("  add |")[..3], ["ketone", "base", "flask"]);
}

#[test]
fn comments_get_nothing() {
    assert_eq!(offered("  add ketone # in fl|").0, []);
}

/// Words that the language does not know would be offered for nothing.
#[test]
fn every_word_that_is_offered_is_read() {
    let unfinished = |word: &str| word.ends_with(' ');
    for (line, kind) in [
        ("  acid: benzoic acid, |", CompletionKind::Word),
        ("  |", CompletionKind::Verb),
        ("  add ketone |", CompletionKind::Word),
    ] {
        let (items, _) = offered(line);
        let items: Vec<_> = items.iter().filter(|(_, found)| *found == kind).collect();
        assert!(items.len() > 10, "{line}: {items:?}");
        for (word, _) in items {
            if unfinished(word) {
                continue;
            }
            let statement = line.replace('|', word);
            let block = if line.contains(':') {
                "materials"
            } else {
                "steps"
            };
            let plan = syntax::read_plan(&format!("{block}\n{statement}\n"));
            let codes: Vec<_> = plan.lines[1].problems.iter().map(|p| p.code).collect();
            let unknown = codes.iter().any(|code| code.starts_with("unknown-"));
            assert!(!unknown, "{statement}: {codes:?}");
        }
    }
}

/// Behind `# allow ` stand the names of the checks, what the line is blamed for first.
#[test]
fn checks_that_a_comment_may_allow() {
    let at = |line: &str| {
        let text = format!("{PLAN}{}\n", line.replace('|', ""));
        let offset = PLAN.len() + line.find('|').unwrap();
        let document = Document::new(&text);
        let texts = document.completions(offset).map(|found| {
            let range = found.range.clone();
            let items: Vec<String> = found.items.iter().map(|item| item.text.clone()).collect();
            (text[range].to_owned(), items)
        });
        texts.unwrap_or_default()
    };
    let (typed, items) = at("  stir for 1 h  # allow hot-|");
    assert_eq!(
        (typed.as_str(), items.as_slice()),
        ("hot-", &["hot-limit: ".to_owned()][..])
    );
    let (_, items) = at("  stir for 1 h  # allow hot-limit, toxic|: why");
    assert_eq!(items, ["toxic-gas"]);
    let (_, items) = at("  add base 100 mL  # allow |");
    assert_eq!(items.len(), checks::ALL.len() - 2);
    assert_eq!(items[0], "portion-exceeds: ");
    assert_eq!(
        at("  # allow |\n  add base 100 mL").1[0],
        "portion-exceeds: "
    );
    for line in [
        "  stir  # allow hot-limit: |",
        "  stir  # al|",
        "  stir  # allow to warm|",
    ] {
        assert!(at(line).1.is_empty(), "{line}");
    }
}
