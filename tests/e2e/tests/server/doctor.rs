//! `meniscus doctor`.

use crate::PLAN;
use crate::cli::{err, out, run};
use std::fs;

/// What it says behind a word.
fn says<'a>(text: &'a str, what: &str) -> &'a str {
    let line = text.lines().find_map(|line| line.strip_prefix(what));
    line.unwrap_or_default().trim()
}

#[test]
fn says_where_things_are_and_what_is_wrong_with_them() {
    let bench = tempfile::tempdir().unwrap();
    let folder = fs::canonicalize(bench.path()).unwrap();
    fs::create_dir(folder.join("plans")).unwrap();
    fs::write(folder.join("plans/a.prep"), PLAN).unwrap();
    let nothing = run(&folder, &["doctor"]);
    let text = out(&nothing);
    assert_eq!(says(&text, "meniscus "), env!("CARGO_PKG_VERSION"));
    assert_eq!(
        says(&text, "inventory.toml"),
        "none in this folder or above it"
    );
    assert_eq!(says(&text, "problems"), "0");
    assert_eq!(nothing.status.code(), Some(0));

    let good = "[[bottle]]\nname = \"a\"\nsubstance = \"water\"\n";
    fs::write(
        folder.join("inventory.toml"),
        format!("{good}[[bottle]]\nname = \"b\"\nleft = 5\n"),
    )
    .unwrap();
    fs::write(
        folder.join("plans/meniscus.toml"),
        "[checks]\nprofile = \"loud\"\n",
    )
    .unwrap();
    for path in ["plans", "plans/a.prep"] {
        let found = run(&folder, &["doctor", path]);
        let text = out(&found);
        let inventory = folder.join("inventory.toml");
        assert_eq!(
            says(&text, "inventory.toml"),
            format!("{}: 1 bottles read, 1 not", inventory.display())
        );
        assert!(text.contains("problem: line 6:8: "), "{text}");
        assert!(
            text.contains("problem: line 2:11: `loud` is no profile"),
            "{text}"
        );
        assert_eq!(
            says(&text, "looked from"),
            folder.join(path).display().to_string()
        );
        assert_ne!(says(&text, "problems"), "0");
        assert_eq!(found.status.code(), Some(1));
    }

    let missing = run(&folder, &["doctor", "none.prep"]);
    assert_eq!(missing.status.code(), Some(2));
    assert!(
        err(&missing).contains("there is no such file"),
        "{}",
        err(&missing)
    );
    fs::write(folder.join("plans/bad.prep"), b"plan \xff").unwrap();
    let unread = out(&run(&folder, &["doctor", "plans/bad.prep"]));
    assert!(unread.contains("line 1 is not UTF-8"), "{unread}");
}

/// Nearly every substance has a formula, so nearly every one has a molar mass.
#[test]
fn counts_the_library() {
    let text = out(&run(std::path::Path::new("/"), &["doctor"]));
    let library = says(&text, "library");
    let counts: Vec<f64> = library
        .split(|c: char| !c.is_ascii_digit())
        .filter_map(|word| word.parse().ok())
        .collect();
    let [all, masses, densities, ..] = counts[..] else {
        panic!("{library}")
    };
    assert!(masses > 0.9 * all && masses <= all, "{library}");
    assert!(densities > 0.1 * all && densities < masses, "{library}");
}
