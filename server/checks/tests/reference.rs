//! The page of all checks is what their own documentation says.
//!
//! After a change that is meant, `BLESS=1 cargo test -p checks --test reference` writes it anew.

#![allow(clippy::unwrap_used, reason = "a test that cannot go on has failed")]

const PAGE: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/CHECKS.md");

#[test]
fn the_page_is_generated() {
    let page = checks::reference();
    if std::env::var_os("BLESS").is_some() {
        std::fs::write(PAGE, &page).unwrap();
    }
    let kept = std::fs::read_to_string(PAGE).unwrap();
    assert!(
        kept == page,
        "CHECKS.md is not what the checks say: bless it"
    );
}

#[test]
fn every_check_says_what_it_finds_and_shows_it() {
    for check in checks::ALL {
        let doc = check.doc;
        assert!(doc.len() > 200, "{} says little", check.name);
        let shows = doc.contains('`') || doc.contains("\n    ");
        assert!(shows, "{} shows nothing", check.name);
        let first = doc.trim_start_matches(|c: char| c != '\n').trim();
        let finds = ["Finds", "Asks"].iter().any(|word| doc.contains(word));
        assert!(finds && !first.is_empty(), "{} finds nothing", check.name);
    }
}
