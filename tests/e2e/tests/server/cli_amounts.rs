//! The command line: amounts, rescaling, explanations.

use crate::cli::{err, out, run};
use serde_json::Value;
use std::fs;

/// Line ends, comments and odd spacing that a rescaling must leave as they are.
const METHYLENATION: &str = "\
plan Methylenation of 4-tert-butylcyclohexanone\r
scale 5.00 mmol ketone  # what is left in the bottle\r
materials\r
  ketone:  4-tert-butylcyclohexanone, formula C10H18O, 1.00 eq\r
  salt:\tmethyltriphenylphosphonium bromide, formula C19H18BrP, 1.20 eq\r
  base:    n-butyllithium, 2.5 M in hexanes, 1.15 eq\r
  thf:     tetrahydrofuran, 25 mL\r
products\r
  alkene: C11H20, 1.00 eq, expect 85 %\r
steps\r
  add salt\r
  add thf 20 mL   # in one go; 20 mL is half of the flask\r
  add base dropwise over 10 min\r
  dissolve ketone in thf 4 mL\r
";

fn line<'a>(lines: &'a Value, key: &str) -> &'a Value {
    lines
        .as_array()
        .unwrap()
        .iter()
        .find(|line| line["key"] == key)
        .unwrap()
}

fn assert_close(found: &Value, expected: f64) {
    let found = found
        .as_f64()
        .unwrap_or_else(|| panic!("{found} for {expected}"));
    assert!(
        (found / expected - 1.0).abs() < 1e-4,
        "{found} for {expected}"
    );
}

/// Expected values by hand from the abridged standard atomic weights of CIAAW (2021), in g/mol: H 1.008,
/// C 12.011, O 15.999, P 30.974, Br 79.904.
#[test]
fn amounts_are_those_worked_by_hand() {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("a.prep"), METHYLENATION).unwrap();
    let output = run(folder.path(), &["amounts", "--format", "json", "a.prep"]);
    assert_eq!(output.status.code(), Some(0), "{}", err(&output));
    let report: Value = serde_json::from_slice(&output.stdout).unwrap();
    assert_eq!(report["schema"], 1);
    let plan = &report["plans"][0];
    assert_eq!(plan["title"], "Methylenation of 4-tert-butylcyclohexanone");

    let ketone = line(&plan["materials"], "ketone");
    assert_eq!(ketone["formula"], "C10H18O");
    assert_close(&ketone["molar_mass_g_per_mol"], 154.253);
    assert_close(&ketone["amount_mmol"], 5.0);
    assert_close(&ketone["equivalents"], 1.0);
    assert_close(&ketone["mass_mg"], 771.265);
    assert!(
        ketone["sources"]["mass_mg"]
            .as_str()
            .is_some_and(|source| source.contains("line 2")),
        "{ketone}"
    );

    assert_close(
        &line(&plan["materials"], "salt")["mass_mg"],
        1.2 * 5.0 * 357.231,
    );
    let base = line(&plan["materials"], "base");
    assert_close(&base["amount_mmol"], 5.75);
    assert_close(&base["volume_mL"], 2.30);
    let alkene = line(&plan["products"], "alkene");
    assert_close(&alkene["theory_mass_mg"], 5.0 * 152.281);
    assert_close(&alkene["expected_mass_mg"], 0.85 * 5.0 * 152.281);
    assert_close(&alkene["expected_mmol"], 4.25);

    let table = out(&run(folder.path(), &["amounts", "a.prep"]));
    for words in [
        "ketone",
        "771 mg",
        "2.14 g",
        "2.30 mL",
        "647 mg",
        "85 % of 761 mg",
    ] {
        assert!(table.contains(words), "{words} in\n{table}");
    }
}

#[test]
fn what_is_not_known_is_null_with_its_reason() {
    let folder = tempfile::tempdir().unwrap();
    let text = "plan A\nscale 1.00 mmol a\nmaterials\n  a: zorblaxine, 1.00 eq\nproducts\n  b: C6H6, 1.00 eq\n";
    fs::write(folder.path().join("a.prep"), text).unwrap();
    let output = run(folder.path(), &["amounts", "--format", "json", "a.prep"]);
    let report: Value = serde_json::from_slice(&output.stdout).unwrap();
    let a = line(&report["plans"][0]["materials"], "a");
    assert_close(&a["amount_mmol"], 1.0);
    for field in ["molar_mass_g_per_mol", "mass_mg", "volume_mL"] {
        assert_eq!(a[field], Value::Null);
        assert!(a["undetermined"][field].is_string(), "{a}");
    }
    let b = line(&report["plans"][0]["products"], "b");
    assert_eq!(b["expected_mass_mg"], Value::Null);
    assert!(b["undetermined"]["expected_mass_mg"].is_string(), "{b}");
}

/// Everything but the digits.
fn frame(text: &str) -> String {
    text.chars()
        .filter(|c| !c.is_ascii_digit() && *c != '.')
        .collect()
}

#[test]
fn rescaling_changes_amounts_and_nothing_else() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("a.prep");
    fs::write(&file, METHYLENATION).unwrap();
    let output = run(folder.path(), &["rescale", "a.prep", "--to", "10 mmol"]);
    assert_eq!(output.status.code(), Some(0), "{}", err(&output));
    let new = out(&output);
    assert_eq!(frame(&new), frame(METHYLENATION));
    let number = |start: &str| -> f64 {
        let line = new
            .lines()
            .map(str::trim)
            .find(|line| line.starts_with(start))
            .unwrap();
        line[start.len()..]
            .split_whitespace()
            .next()
            .unwrap()
            .parse()
            .unwrap()
    };
    assert_eq!(number("scale "), 10.0);
    assert_eq!(number("thf:     tetrahydrofuran, "), 50.0);
    assert_eq!(number("add thf "), 40.0);
    assert_eq!(number("dissolve ketone in thf "), 8.0);
    assert!(new.contains("20 mL is half of the flask"), "comments stay");
    assert!(
        err(&output).contains("left alone on line 12: 20 mL"),
        "{}",
        err(&output)
    );
    assert_eq!(
        fs::read_to_string(&file).unwrap(),
        METHYLENATION,
        "the file itself stays without --write"
    );

    // The same by a factor and by the mass that the amount is: 771 mg are 5.00 mmol.
    assert_eq!(
        out(&run(folder.path(), &["rescale", "a.prep", "--by", "2"])),
        new
    );
    let output = run(folder.path(), &["rescale", "a.prep", "--to", "1.54 g"]);
    assert_eq!(output.status.code(), Some(0), "{}", err(&output));
}

#[test]
fn rescaling_writes_the_file_in_place() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("a.prep");
    fs::write(&file, METHYLENATION).unwrap();
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        fs::set_permissions(&file, fs::Permissions::from_mode(0o640)).unwrap();
        std::os::unix::fs::symlink(&file, folder.path().join("link.prep")).unwrap();
        let output = run(
            folder.path(),
            &["rescale", "link.prep", "--by", "3", "--write"],
        );
        assert_eq!(output.status.code(), Some(0), "{}", err(&output));
        assert_eq!(out(&output), "");
        assert!(
            fs::symlink_metadata(folder.path().join("link.prep"))
                .unwrap()
                .is_symlink()
        );
        assert_eq!(
            fs::metadata(&file).unwrap().permissions().mode() & 0o777,
            0o640
        );
    }
    #[cfg(not(unix))]
    run(
        folder.path(),
        &["rescale", "a.prep", "--by", "3", "--write"],
    );
    assert!(fs::read_to_string(&file).unwrap().contains("scale 15.0"));
    let names: Vec<_> = fs::read_dir(folder.path())
        .unwrap()
        .map(|entry| entry.unwrap().file_name())
        .collect();
    assert!(
        names
            .iter()
            .all(|name| name == "a.prep" || name == "link.prep"),
        "{names:?}"
    );
}

#[test]
fn rescaling_says_what_it_cannot_do() {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("one.prep"), METHYLENATION).unwrap();
    fs::write(
        folder.path().join("two.prep"),
        format!("{METHYLENATION}{METHYLENATION}"),
    )
    .unwrap();
    fs::write(
        folder.path().join("none.prep"),
        "plan A\nmaterials\n  a: toluene, 5 mL\n",
    )
    .unwrap();
    fs::write(folder.path().join("empty.prep"), "").unwrap();
    for (arguments, complaint) in [
        (&["one.prep"][..], "--to"),
        (
            &["one.prep", "--to", "10 mmol", "--by", "2"],
            "cannot be used with",
        ),
        (&["one.prep", "--to", "much"], "`much` is no quantity"),
        (
            &["one.prep", "--to", "10 bananas"],
            "`10 bananas` is no quantity",
        ),
        (&["one.prep", "--to", "10 °C"], "cannot rescale one.prep"),
        (&["one.prep", "--by", "x"], "`x` is no factor"),
        (&["one.prep", "--by", "0"], "greater than zero"),
        (&["one.prep", "--by=-1"], "greater than zero"),
        (&["one.prep", "--by", "2", "--plan", "0"], "has no plan 0"),
        (&["two.prep", "--by", "2"], "several plans"),
        (&["none.prep", "--by", "2"], "no scale"),
        (&["empty.prep", "--by", "2"], "holds no plan"),
        (&["gone.prep", "--by", "2"], "there is no such file"),
    ] {
        let output = run(folder.path(), &[&["rescale"], arguments].concat());
        assert_eq!(output.status.code(), Some(2), "{arguments:?}");
        assert!(
            err(&output).contains(complaint),
            "{arguments:?}: {}",
            err(&output)
        );
        assert_eq!(out(&output), "", "{arguments:?}");
    }
    let output = run(
        folder.path(),
        &["rescale", "two.prep", "--by", "2", "--plan", "2"],
    );
    let new = out(&output);
    let second = new
        .strip_prefix(METHYLENATION)
        .expect("the other plan stays");
    assert!(second.contains("scale 10.0"), "{second}");
}

/// Molar masses are written: 5.00 mmol of `a` are 1.00 g, and 12 mL of liquid stand in 25 mL.
const SIMPLE: &str = "\
plan A
scale 5.00 mmol a
materials
  a:   alpha, MW 200.0, 1.00 eq, bottle a-1
  b:   beta, MW 500.0, 1.20 eq, 3.00 g
  thf: tetrahydrofuran, 12 mL   # 12 mL is enough
products
  p: C12H14, MW 250.0, 1.00 eq, expect 80 %
equipment
  flask: 25 mL flask
steps
  add a, b
  add thf 12 mL, at 5 mL/h
";

#[test]
fn rescaling_goes_by_what_is_asked_for() {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("a.prep"), SIMPLE).unwrap();
    let shelf = "[[bottle]]\nname = \"a-1\"\nsubstance = \"alpha\"\nleft = \"2.5 g\"\n";
    fs::write(folder.path().join("inventory.toml"), shelf).unwrap();
    let rescale = |arguments: &[&str]| {
        let arguments = [&["rescale", "a.prep"], arguments].concat();
        run(folder.path(), &arguments)
    };
    for (arguments, scale) in [
        (&["--to", "6.0 g", "--of", "b"][..], "10.0 mmol"),
        (&["--product", "2.0 g"], "10.0 mmol"),
        (&["--product", "2.0 g", "--of", "p"], "10.0 mmol"),
        (&["--bottle-of", "a"], "12.5 mmol"),
        (&["--bottles"], "12.5 mmol"),
        (&["--flask", "180 mL"], "50.0 mmol"),
        (&["--flask", "--of", "flask"], "6.94 mmol"),
    ] {
        let output = rescale(arguments);
        let (new, said) = (out(&output), err(&output));
        assert_eq!(output.status.code(), Some(0), "{arguments:?}: {said}");
        assert!(new.contains(&format!("scale {scale} a")), "{new}");
        assert!(said.contains(&format!("rescaled to {scale}")), "{said}");
    }
    let smallest = err(&rescale(&["--smallest", "5 %"]));
    assert!(
        smallest.contains("measured to more than 5.0 %"),
        "{smallest}"
    );

    // 8.00 mmol of a are 1.60 g, and 9.60 mmol of b 4.80 g. The balance reads 0.5 g, and never less of b: 1.5 g, and 4.5 g
    // for 7.50 mmol.
    let tools = "[tools]\nbalances = [\"500 mg ± 500 mg\"]\n";
    fs::write(folder.path().join("meniscus.toml"), tools).unwrap();
    let output = rescale(&["--to", "8.00 mmol", "--to-tools"]);
    let (new, said) = (out(&output), err(&output));
    assert!(new.contains("scale 7.50 mmol a"), "{new}{said}");
    assert!(new.contains("1.20 eq, 4.5 g"), "{new}{said}");
    assert!(
        said.contains("note: b 4.5 g (balance that reads 500 mg): 1.200 eq"),
        "{said}"
    );
    fs::remove_file(folder.path().join("meniscus.toml")).unwrap();

    // First what will be wrong, then what was done, then what was not.
    let output = rescale(&["--by", "2"]);
    let said = err(&output);
    let places: Vec<usize> = [
        "newly wrong on line 13 (--equipment mends it): ",
        "rescaled to 10.0 mmol",
        "50 mL on line 10, not made (--equipment makes it)",
        "left alone on line 6: 12 mL, in a comment (--mentions rescales it)",
        "left alone on line 13: 5 mL/h, a rate",
        "note: Rates stay",
    ]
    .iter()
    .map(|words| {
        said.find(words)
            .unwrap_or_else(|| panic!("{words}: {said}"))
    })
    .collect();
    assert!(places.is_sorted(), "{said}");
    assert!(out(&output).contains("25 mL flask"), "{}", out(&output));

    let output = rescale(&["--by", "2", "--equipment", "--mentions"]);
    let (new, said) = (out(&output), err(&output));
    assert!(new.contains("50 mL flask"), "{new}");
    assert!(new.contains("# 24 mL"), "{new}");
    assert!(!said.contains("overfilled"), "{said}");

    for (arguments, complaint) in [
        (&["--to", "2 g", "--of", "c"][..], "which are a, b, thf, p"),
        (&["--by", "2", "--of", "b"], "leave out the key"),
        (&["--bottle-of", "a", "--of", "b"], "leave out --of"),
        (&["--bottle-of", "b"], "names no bottle"),
        (&["--product", "2 g", "--of", "b"], "b is no product"),
        (&["--flask", "2 g"], "is a volume"),
        (&["--product", "2 g", "--to", "2 g"], "cannot be used with"),
    ] {
        let output = rescale(arguments);
        assert_eq!(output.status.code(), Some(2), "{arguments:?}");
        let said = err(&output);
        assert!(said.contains(complaint), "{arguments:?}: {said}");
        assert_eq!(out(&output), "", "{arguments:?}");
    }
}

#[test]
fn every_check_explains_itself() {
    let folder = tempfile::tempdir().unwrap();
    let list = out(&run(folder.path(), &["explain"]));
    let names: Vec<&str> = list
        .lines()
        .filter_map(|line| line.split_whitespace().next())
        .collect();
    assert!(names.contains(&"decimal-comma"), "{list}");
    for name in names {
        let output = run(folder.path(), &["explain", name]);
        assert_eq!(output.status.code(), Some(0));
        assert!(out(&output).len() > 100, "{name}: {}", out(&output));
    }
    let output = run(folder.path(), &["explain", "decimal-coma"]);
    assert_eq!(output.status.code(), Some(2));
    assert!(
        err(&output).contains("did you mean decimal-comma?"),
        "{}",
        err(&output)
    );
    assert!(err(&run(folder.path(), &["explain", "qqq"])).contains("lists them"));
}

/// The list of a plan with one material.
fn listed(material: &str) -> std::process::Output {
    let folder = tempfile::tempdir().expect("a folder");
    let file = folder.path().join("one.prep");
    let text = format!("plan A\nscale 20.0 mmol a\nmaterials\n  a: {material}\n");
    std::fs::write(&file, text).expect("a file");
    std::process::Command::new(e2e::meniscus())
        .arg("amounts")
        .arg(&file)
        .output()
        .expect("it runs")
}

#[test]
fn what_air_destroys_is_not_measured_in_an_open_cylinder() {
    let output = listed("methyllithium, 1.6 M in diethyl ether, 1.00 eq");
    let text = String::from_utf8_lossy(&output.stdout);
    assert!(
        text.contains("12.5 mL") && !text.contains("By cylinder"),
        "{text}"
    );
    let text = listed("toluene, 12.5 mL");
    assert!(String::from_utf8_lossy(&text.stdout).contains("By cylinder"));
}

#[test]
fn a_very_long_name_is_listed() {
    let output = listed(&format!("{}, 5 mL", "x".repeat(200_000)));
    assert_eq!(output.status.code(), Some(0));
}

/// 768 mg over 154.253 g/mol, and 562 mg over that times 152.281 g/mol: by hand, from the weights above.
#[test]
fn a_run_is_told_beside_the_plan() {
    let folder = tempfile::tempdir().unwrap();
    let text = METHYLENATION
        .replace("C10H18O, 1.00 eq", "C10H18O, 1.00 eq, took 768 mg")
        .replace("85 %", "85 %, obtained 562 mg");
    fs::write(folder.path().join("a.prep"), text).unwrap();
    let listed = run(folder.path(), &["amounts", "a.prep"]);
    let listed = out(&listed);
    assert!(listed.contains("771 mg  ketone"), "{listed}");
    assert!(
        listed.contains("took 768 mg, 0.4 % less than planned: 4.98 mmol, 1.00 eq"),
        "{listed}"
    );
    let output = run(folder.path(), &["amounts", "--format", "json", "a.prep"]);
    let report: Value = serde_json::from_slice(&output.stdout).unwrap();
    let plan = &report["plans"][0];
    let ketone = line(&plan["materials"], "ketone");
    assert_close(&ketone["amount_mmol"], 5.0);
    assert_close(&ketone["taken"]["amount_mmol"], 768.0 / 154.253);
    assert_eq!(line(&plan["materials"], "salt").get("taken"), None);
    let scaled = run(folder.path(), &["rescale", "a.prep", "--by", "2"]);
    assert!(!out(&scaled).contains("took") && !out(&scaled).contains("obtained"));
    assert!(
        err(&scaled).contains("what was taken of ketone"),
        "{}",
        err(&scaled)
    );
}

/// 25 mL of which 15 and 4 are taken by portions; half and the rest of 3.0 mL are measured at once.
#[test]
fn what_is_taken_without_a_portion_is_told_beside_the_portions() {
    let folder = tempfile::tempdir().unwrap();
    let plan = "plan A\nscale 10.0 mmol a\nmaterials\n  a: benzaldehyde, 1.00 eq\n  thf: tetrahydrofuran, 25 mL\n  base: pyridine, 3.0 mL\nequipment\n  flask: 100 mL flask\nsteps\n  add thf 15 mL\n  add half of base\n  add thf 4 mL\n  add rest of base\n  add thf\n";
    fs::write(folder.path().join("a.prep"), plan).unwrap();
    let output = run(folder.path(), &["amounts", "a.prep"]);
    let told = out(&output);
    assert!(
        told.contains("in portions: 15 mL, 4 mL, 6.00 mL (the rest)\n"),
        "{told}"
    );
    assert_eq!(told.matches("in portions").count(), 1, "{told}");
}
