//! The examples for git and for services that run on every push, as somebody uses them.

use crate::PLAN;
use serde_json::Value;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

fn example(name: &str) -> PathBuf {
    let here = Path::new(env!("CARGO_MANIFEST_DIR"));
    here.join("../../examples/git").join(name)
}

/// Runs git in a repository, with no settings but these.
fn git(folder: &Path, meniscus: &Path, arguments: &[&str]) -> Output {
    let mut git = Command::new("git");
    git.current_dir(folder)
        .args(["-c", "user.name=A", "-c", "user.email=a@b.example"])
        .args(arguments)
        .env("GIT_CONFIG_GLOBAL", "/dev/null")
        .env("GIT_CONFIG_NOSYSTEM", "1")
        .env("MENISCUS", meniscus);
    for inherited in [
        "GIT_DIR",
        "GIT_INDEX_FILE",
        "GIT_WORK_TREE",
        "MENISCUS_CHECK",
    ] {
        git.env_remove(inherited);
    }
    git.output().expect("git")
}

fn said(output: &Output) -> String {
    String::from_utf8_lossy(&output.stderr).into_owned()
}

/// The same without its slip, and in columns.
fn good() -> String {
    PLAN.replace("2,5", "2.5")
        .replace("  base: ", "  base:    ")
        .replace("  thf: ", "  thf:     ")
}

/// A repository with the hook.
fn repository() -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    let made = git(folder.path(), Path::new("meniscus"), &["init", "-q"]);
    assert!(made.status.success(), "{}", said(&made));
    let hooks = folder.path().join(".git/hooks");
    fs::create_dir_all(&hooks).unwrap();
    // A copy keeps the permission to run it.
    fs::copy(example("pre-commit"), hooks.join("pre-commit")).unwrap();
    folder
}

#[test]
fn a_commit_with_a_slip_is_refused() {
    let repository = repository();
    let folder = repository.path();
    let meniscus = e2e::meniscus();
    let commit = |name: &str, text: &str| {
        fs::create_dir_all(folder.join("plans")).unwrap();
        fs::write(folder.join("plans").join(name), text).unwrap();
        git(folder, &meniscus, &["add", "-A"]);
        git(folder, &meniscus, &["commit", "-q", "-m", "A plan"])
    };
    let good = good();

    let slip = commit("a.prep", PLAN);
    assert!(!slip.status.success());
    assert!(
        said(&slip).contains("error[decimal-comma]"),
        "{}",
        said(&slip)
    );
    assert!(said(&slip).contains("nothing was committed"));
    let log = git(folder, &meniscus, &["rev-parse", "--verify", "-q", "HEAD"]);
    assert!(!log.status.success(), "there is no commit");

    // What is mended in the folder only is not what would be committed.
    fs::write(folder.join("plans/a.prep"), &good).unwrap();
    let still = git(folder, &meniscus, &["commit", "-q", "-m", "A plan"]);
    assert!(!still.status.success());

    let mended = commit("a.prep", &good);
    assert!(mended.status.success(), "{}", said(&mended));

    let untidy = commit("a.prep", &good.replace("  base: ", "base: "));
    assert!(!untidy.status.success());
    assert!(said(&untidy).contains("not formatted"), "{}", said(&untidy));
}

#[test]
fn a_commit_without_plans_is_not_looked_at_and_one_without_meniscus_says_so() {
    let repository = repository();
    let folder = repository.path();
    let meniscus = e2e::meniscus();
    fs::write(folder.join("list.txt"), "2,5 mL").unwrap();
    git(folder, &meniscus, &["add", "-A"]);
    let lost = Path::new("no-such-program");
    let without = git(folder, lost, &["commit", "-q", "-m", "A list"]);
    assert!(!without.status.success());
    assert!(
        said(&without).contains("not installed"),
        "{}",
        said(&without)
    );
    let list = git(folder, &meniscus, &["commit", "-q", "-m", "A list"]);
    assert!(list.status.success(), "{}", said(&list));
}

#[test]
fn the_script_for_services_fails_on_a_slip_and_writes_its_report() {
    let folder = tempfile::tempdir().unwrap();
    let check = || {
        let mut script = Command::new("sh");
        script
            .arg(example("check-plans.sh"))
            .current_dir(folder.path())
            .env("MENISCUS", e2e::meniscus());
        script.output().expect("a shell")
    };
    let results = || {
        let report = fs::read(folder.path().join("meniscus.sarif")).expect("a report");
        let report: Value = serde_json::from_slice(&report).expect("JSON");
        report["runs"][0]["results"]
            .as_array()
            .expect("results")
            .len()
    };
    let plan = folder.path().join("a.prep");
    fs::write(&plan, PLAN).unwrap();
    assert_eq!(check().status.code(), Some(1));
    assert!(results() > 0);
    fs::write(&plan, good()).unwrap();
    let good = check();
    assert_eq!(good.status.code(), Some(0), "{}", said(&good));
    assert_eq!(results(), 0);
}
