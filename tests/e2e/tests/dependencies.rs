//! The rules of `deny.toml` as far as cargo itself tells: licences, where crates come from, and which come twice. The tool
//! that the file is for takes longer to build than everything else here, so it is run by hand.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a failing test panics")]

use serde_json::Value;
use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;
use std::process::Command;

fn root() -> &'static Path {
    Path::new(concat!(env!("CARGO_MANIFEST_DIR"), "/../.."))
}

fn cargo(arguments: &[&str]) -> String {
    let mut cargo = Command::new(env!("CARGO"));
    let output = cargo
        .args(arguments)
        .arg("--locked")
        .current_dir(root())
        .output()
        .unwrap();
    assert!(
        output.status.success(),
        "{}",
        String::from_utf8_lossy(&output.stderr)
    );
    String::from_utf8(output.stdout).unwrap()
}

fn packages() -> Vec<Value> {
    let metadata = cargo(&["metadata", "--format-version", "1"]);
    let metadata: Value = serde_json::from_str(&metadata).unwrap();
    metadata["packages"].as_array().unwrap().clone()
}

/// What stands in quotes on the lines of `deny.toml` that begin so.
fn quoted(start: &str) -> BTreeSet<String> {
    let rules = std::fs::read_to_string(root().join("deny.toml")).unwrap();
    let lines = rules.lines().filter(|line| line.trim().starts_with(start));
    let quoted = lines.flat_map(|line| line.split('"').skip(1).step_by(2));
    quoted.map(str::to_owned).collect()
}

/// One of the licences that it leaves to choose, of every part, is among the allowed.
fn fits(licence: &str, allowed: &BTreeSet<String>) -> bool {
    let licence = licence.replace('/', " OR ");
    let mut parts = licence.split(" AND ");
    parts.all(|part| {
        let mut choice = part.trim_matches(['(', ')', ' ']).split(" OR ");
        choice.any(|one| allowed.contains(one.trim()))
    })
}

#[test]
fn licences_and_sources() {
    let allowed = quoted("allow = [");
    assert!(!fits("GPL-3.0", &allowed) && !fits("MIT AND GPL-3.0", &allowed));
    let mut sources = BTreeSet::new();
    for package in packages() {
        let licence = package["license"].as_str().unwrap_or("none");
        assert!(fits(licence, &allowed), "{}: {licence}", package["name"]);
        sources.extend(package["source"].as_str().map(str::to_owned));
    }
    assert_eq!(sources.len(), 1, "{sources:?}");
    assert!(sources.iter().all(|source| source.starts_with("registry+")));
}

#[test]
fn crates_that_come_twice() {
    let twice = cargo(&[
        "tree",
        "--workspace",
        "--duplicates",
        "--depth",
        "0",
        "--prefix",
        "none",
        "--target",
        "all",
    ]);
    let mut versions: BTreeMap<&str, BTreeSet<&str>> = BTreeMap::new();
    for (name, version) in twice.lines().filter_map(|line| line.split_once(' ')) {
        versions.entry(name).or_default().insert(version);
    }
    let skipped = quoted("{ crate = ");
    for (name, versions) in versions {
        // All but the newest stand in the list, with the reason.
        let listed = skipped
            .iter()
            .filter(|skip| skip.starts_with(&format!("{name}@")))
            .count();
        assert_eq!(listed, versions.len() - 1, "{name}: {versions:?}");
    }
}

#[test]
fn nothing_that_opens_connections() {
    let refused = quoted("{ crate = ");
    for package in packages() {
        let name = package["name"].as_str().unwrap();
        assert!(!refused.contains(name), "{name}");
    }
}
