//! Runs of a plan, as texts and in amounts.

#![allow(
    clippy::unwrap_used,
    clippy::panic,
    reason = "a test that cannot go on has failed"
)]

use plan::Plan;
use plan::runs::{Drawn, Total};
use plan::tools::Measure;
use proptest::prelude::*;
use uom::si::mass::milligram;
use uom::si::volume::milliliter;

/// g/mol, by standard atomic weights as abridged to four digits and more by IUPAC (Pure Appl. Chem. 2022, 94, 573): C 12.011,
/// H 1.008, O 15.999, N 14.007, Cl 35.45.
const C: f64 = 12.011;
const H: f64 = 1.008;
const O: f64 = 15.999;
const N: f64 = 14.007;

const PLAN: &str = "\
plan Esters
scale 2.00 mmol acid

materials
  acid:    benzoic acid, 244 mg, 1.00 eq      # recrystallised
  alcohol: benzyl alcohol, 1.10 eq
  dmap:    4-dimethylaminopyridine, 10 mol%
  dcm:     dichloromethane, solvent, 10 mL
products
  ester: benzyl benzoate, 1.00 eq, expect 85 %
equipment
  flask: 50 mL flask
steps
  add acid 244 mg
  add dmap in dcm 2.0 mL
  add alcohol, dcm 8.0 mL
  stir for 16 h
";

const RUNS: &str = "\
runs
  A: 2.00 mmol
  B: 0.500 mmol, acid is 4-methoxybenzoic acid, 98 %, ester is C15H14O3
  # in the small flask
  C: 4.00 mmol, flask is 100 mL flask, septum
";

fn series(text: &str) -> Vec<Total> {
    Plan::read(text).series().totals()
}

fn text(plan: &str, label: &str) -> String {
    let plan = Plan::read(plan);
    let run = plan.run(label).unwrap();
    let text = run
        .text
        .clone()
        .unwrap_or_else(|why| panic!("{label}: {why}"));
    text.text
}

#[test]
fn a_run_is_the_plan_with_its_amount_and_what_is_other() {
    let plan = format!("{PLAN}{RUNS}");
    // 152.149 g/mol: 0.500 mmol are 76.1 mg, 77.6 mg at 98 %.
    let b = "\
plan Esters (run B)
scale 0.500 mmol acid

materials
  acid:    4-methoxybenzoic acid, 98 %, 1.00 eq      # recrystallised
  alcohol: benzyl alcohol, 1.10 eq
  dmap:    4-dimethylaminopyridine, 10 mol%
  dcm:     dichloromethane, solvent, 2.5 mL
products
  ester: C15H14O3, 1.00 eq, expect 85 %
equipment
  flask: 50 mL flask
steps
  add acid 77.6 mg
  add dmap in dcm 0.50 mL
  add alcohol, dcm 2.0 mL
  stir for 16 h
";
    assert_eq!(text(&plan, "B"), b);
    let c = text(&plan, "c");
    assert!(c.contains("\n  flask: 100 mL flask, septum\n"), "{c}");
    assert!(
        c.contains("\n  acid:    benzoic acid, 488 mg, 1.00 eq"),
        "{c}"
    );
}

#[test]
fn lines_of_a_run_lead_back_to_the_plan() {
    let (head, rest) = PLAN.split_once("\nmaterials").unwrap();
    let plan = Plan::read(&format!("{head}{RUNS}\nmaterials{rest}"));
    let run = plan.run("A").unwrap();
    let own = run.text.as_ref().unwrap();
    let lines: Vec<&str> = plan.text.text.lines().collect();
    for (line, index) in own.text.lines().zip(0u32..).skip(1) {
        let there = own.line_of_plan(index).unwrap();
        assert_eq!(lines[there as usize], line);
    }
}

/// Sums by hand, from formulae; volumes from the densities of the CRC Handbook (benzyl alcohol 1.042 g/mL at 20 °C).
#[test]
fn the_totals_are_the_sums_over_the_runs() {
    let totals = series(&format!("{PLAN}{RUNS}"));
    let mass = |key: &str, name: &str| {
        let total = totals
            .iter()
            .find(|total| *total.keys[0] == *key && *total.name == *name);
        match total.unwrap_or_else(|| panic!("{key} {name}")).sum {
            Some(Measure::Mass(mass)) => mass.get::<milligram>(),
            other => panic!("{key}: {other:?}"),
        }
    };
    let near = |found: f64, expected: f64, within: f64| {
        assert!(
            (found / expected - 1.0).abs() < within,
            "{found} {expected}"
        );
    };
    let benzoic = 7.0 * C + 6.0 * H + 2.0 * O;
    let methoxybenzoic = 8.0 * C + 8.0 * H + 3.0 * O;
    let dmap = 7.0 * C + 10.0 * H + 2.0 * N;
    // A and C take benzoic acid, B the other; a mass that is written has three digits.
    near(mass("acid", "benzoic acid"), (2.00 + 4.00) * benzoic, 1e-4);
    near(
        mass("acid", "4-methoxybenzoic acid"),
        0.500 * methoxybenzoic / 0.98,
        1e-4,
    );
    near(
        mass("dmap", "4-dimethylaminopyridine"),
        (0.200 + 0.0500 + 0.400) * dmap,
        1e-4,
    );
    let volume = |key: &str| {
        let total = totals.iter().find(|total| *total.keys[0] == *key).unwrap();
        match total.sum {
            Some(Measure::Volume(volume)) => volume.get::<milliliter>(),
            other => panic!("{key}: {other:?}"),
        }
    };
    near(volume("dcm"), 10.0 + 2.5 + 20.0, 1e-9);
    let benzyl = 7.0 * C + 8.0 * H + O;
    near(
        volume("alcohol"),
        1.10 * 6.50 * benzyl / 1.042 / 1000.0,
        5e-3,
    );
    let b = totals
        .iter()
        .find(|total| *total.name == *"4-methoxybenzoic acid")
        .unwrap();
    assert_eq!(
        (&b.drawn[0], &b.drawn[2]),
        (&Drawn::Nothing, &Drawn::Nothing)
    );
}

#[test]
fn a_scale_by_mass_is_of_the_substance_of_the_run() {
    let plan = PLAN
        .replace("scale 2.00 mmol", "scale 500 mg")
        .replace(", 244 mg", "")
        .replace(" 244 mg", "");
    let plan = format!(
        "{plan}runs\n  A: acid is 4-methoxybenzoic acid\n  B: 1.00 g, acid is 4-methoxybenzoic acid\n"
    );
    let acid = 8.0 * C + 8.0 * H + 3.0 * O;
    let was = 7.0 * C + 6.0 * H + 2.0 * O;
    let alcohol = 7.0 * C + 8.0 * H + O;
    for (label, mass) in [("A", 500.0), ("B", 1000.0)] {
        let run = Plan::read(&text(&plan, label));
        let of = |key: &str| {
            let (_, amounts) = run
                .material(plan::find_key(&run.text, key).unwrap())
                .unwrap();
            amounts.clone()
        };
        let found = of("alcohol").mass.unwrap().value.get::<milligram>();
        let expected = 1.10 * mass / acid * alcohol;
        assert!(
            (found / expected - 1.0).abs() < 1e-4,
            "{label}: {found} {expected}"
        );
        // What is stated by itself follows the amount of the acid.
        let dcm = of("dcm").volume.unwrap().value.get::<milliliter>();
        let expected = 10.0 * (mass / acid) / (500.0 / was);
        assert!(
            (dcm / expected - 1.0).abs() < 0.02,
            "{label}: {dcm} {expected}"
        );
    }
}

#[test]
fn a_record_becomes_the_plan_of_a_run_to_come() {
    let plan = PLAN
        .replace("expect 85 %", "expect 85 %, obtained 360 mg")
        .replace("1.10 eq", "1.10 eq, took 240 mg");
    for run in ["A: 2.00 mmol", "A: 1.00 mmol", "A: dmap is imidazole"] {
        let text = text(&format!("{plan}runs\n  {run}\n"), "A");
        assert!(
            !text.contains("took") && !text.contains("obtained"),
            "{text}"
        );
    }
}

#[test]
fn a_portion_of_what_is_other_keeps_its_share() {
    let plan = "\
plan A
scale 5.00 mmol ketone
materials
  ketone: cyclohexanone, 1.00 eq
  base: n-butyllithium, 2.5 M in hexanes, 1.00 eq
  salt: potassium tert-butoxide, 1.00 eq
steps
  add base 1.0 mL, then base 1.0 mL
  add 561 mg of salt dropwise
  add ketone
runs
  A: base is methyllithium, 1.0 M in diethyl ether, salt is LDA, 1.0 M in THF
";
    let text = text(plan, "A");
    // 5.00 mmol are 2.00 mL at 2.5 M and 5.00 mL at 1.0 M; what was weighed and is a solution now is all of it.
    assert!(
        text.contains("\n  add base 2.5 mL, then base 2.5 mL\n  add salt dropwise\n"),
        "{text}"
    );
}

#[test]
fn amounts_and_roles_stay_unless_the_run_says_others() {
    let plan = PLAN.replace("10 mol%", "catalyst, 10 mol%");
    let plan = format!(
        "{plan}runs\n  A: dmap is imidazole\n  B: dmap is imidazole, 1.20 eq, reagent, alcohol is methanol, excess, ester is C8H8O2, expect 90 %\n"
    );
    let a = text(&plan, "A");
    assert!(
        a.contains("\n  dmap:    imidazole, catalyst, 10 mol%\n"),
        "{a}"
    );
    let b = text(&plan, "B");
    assert!(
        b.contains("\n  dmap:    imidazole, 1.20 eq, reagent\n"),
        "{b}"
    );
    assert!(b.contains("\n  alcohol: methanol, excess\n"), "{b}");
    assert!(
        b.contains("\n  ester: C8H8O2, expect 90 %, 1.00 eq\n"),
        "{b}"
    );
}

/// By hand: 2.00 mmol of C7H6O2 are 244 mg, of C8H8O3 304 mg.
#[test]
fn what_goes_by_the_mass_of_another_line_follows_it() {
    let plan = PLAN
        .replace("10 mL\nproducts", "20 mL/g of acid\nproducts")
        .replace("dcm 2.0 mL", "dcm 0.98 mL")
        .replace("dcm 8.0 mL", "dcm 3.9 mL");
    let plan = format!("{plan}runs\n  A: acid is 4-methoxybenzoic acid\n");
    let text = text(&plan, "A");
    assert!(
        text.contains("\n  add dmap in dcm 1.22 mL\n  add alcohol, dcm 4.9 mL\n"),
        "{text}"
    );
}

#[test]
fn labels_and_scales_that_cannot_be_are_told() {
    let why = |runs: &str, label: &str| {
        let plan = Plan::read(&format!("{PLAN}runs\n{runs}"));
        let runs = plan.runs();
        let run = runs.iter().rfind(|run| *run.label.text == *label).unwrap();
        run.text.as_ref().unwrap_err().to_string()
    };
    assert!(why("  A: 1 mmol\n  A: 2 mmol\n", "A").contains("already"));
    assert!(why("  A: 0 mmol\n", "A").contains("greater than zero"));
    assert!(why("  A: 1-2 mmol\n", "A").contains("range"));
    assert!(why("  A: 1 mmol, xyz is water\n", "A").contains("mend it first"));
    let many: String = (0..200)
        .map(|n| format!("  r{n}: {}.0 mmol\n", n + 1))
        .collect();
    assert!(why(&many, "r199").contains("at most"));
    let unscaled = Plan::read("plan A\nmaterials\n  a: water, 1 g\nruns\n  A: 1 mmol\n");
    assert!(unscaled.runs()[0].text.is_err());
}

/// Half of the runs take too little of the catalyst for a balance; 0.200 + 0.0500 + 0.0500 mmol of it are
/// 36.65 mg, and 0.05 M × 10 mL are 61.1 mg.
#[test]
fn one_stock_is_made_where_each_alone_is_too_little() {
    let plan = format!("{PLAN}runs\n  A: 2.00 mmol\n  B: 0.500 mmol\n  C: 0.500 mmol\n");
    let plan = Plan::read(&plan);
    let stocks = plan.series().stocks();
    assert_eq!(stocks.len(), 1, "{stocks:?}");
    let stock = &stocks[0];
    assert_eq!((&*stock.key, &*stock.solvent), ("dmap", "dcm"));
    let dmap = 7.0 * C + 10.0 * H + 2.0 * N;
    let flask = stock.flask.get::<milliliter>();
    let mass = stock.mass.get::<milligram>();
    assert!(
        (mass / (stock.strength * flask * dmap) - 1.0).abs() < 1e-4,
        "{stock}"
    );
    let mut sum = 0.0;
    for ((_, part), mmol) in stock.parts.iter().zip([0.200, 0.0500, 0.0500]) {
        let part = part.get::<milliliter>();
        assert!((part * stock.strength - mmol).abs() < 1e-9, "{stock}");
        sum += part;
    }
    assert!(sum <= flask, "{stock}");
    // At a larger scale each is weighed by itself.
    let large = format!("{PLAN}runs\n  A: 20.0 mmol\n  B: 10.0 mmol\n");
    assert!(Plan::read(&large).series().stocks().is_empty());
    // Without a solvent that is its own there is none to make it in.
    let dry = plan
        .text
        .text
        .replace("dichloromethane, solvent", "dichloromethane")
        .replace("dmap in dcm 2.0 mL", "dmap");
    assert!(Plan::read(&dry).series().stocks().is_empty());
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(300))]

    /// A run at the plan's own scale in which nothing is other is the plan but for title and block, wherever that stands.
    #[test]
    fn a_run_like_the_plan_is_the_plan(
        at in 1usize..18,
        crlf in any::<bool>(),
        title in "[a-z]{1,8}( [a-z,]{1,8})?",
    ) {
        let end = if crlf { "\r\n" } else { "\n" };
        let head = format!("plan {title}");
        let plan = PLAN.replace("plan Esters", &head).replace('\n', end);
        let mut lines: Vec<&str> = plan.split_inclusive(end).collect();
        let at = at.min(lines.len());
        // A header ends the block, so what follows stands in the block that it stood in.
        let opens = |line: &&str| !line.starts_with(' ') && !line.trim().is_empty();
        let at = lines.iter().skip(at).position(opens).map_or(lines.len(), |n| at + n);
        let run = format!("runs{end}  A: 2.00 mmol{end}");
        lines.insert(at, &run);
        let found = text(&lines.concat(), "A");
        prop_assert_eq!(found, plan.replacen(&head, &format!("{head} (run A)"), 1));
    }

    /// Amounts scale: twice the amount takes twice of everything.
    #[test]
    fn twice_the_amount_is_twice_of_everything(tenths in 10u32..500) {
        let amount = f64::from(tenths) / 10.0;
        let runs = format!("{PLAN}runs\n  A: {amount:.1} mmol\n  B: {:.1} mmol\n", amount * 2.0);
        for total in series(&runs) {
            let size = |drawn: &Drawn| match drawn {
                Drawn::Measured(Measure::Mass(mass)) => mass.get::<milligram>(),
                Drawn::Measured(Measure::Volume(volume)) => volume.get::<milliliter>(),
                other => panic!("{other:?}"),
            };
            let (a, b) = (size(&total.drawn[0]), size(&total.drawn[1]));
            // Portions are written with two digits.
            prop_assert!((b / a - 2.0).abs() < 0.1, "{:?} {a} {b}", total.keys);
        }
    }

    /// Whatever stands in the block, there is a text or a reason.
    #[test]
    fn any_block_has_texts_or_reasons(lines in proptest::collection::vec(line(), 0..6)) {
        let plan = Plan::read(&format!("{PLAN}runs\n{}", lines.concat()));
        let series = plan.series();
        for (run, own) in &series.runs {
            prop_assert_eq!(run.text.is_ok(), own.is_ok());
        }
        let _ = (series.totals(), series.stocks());
    }
}

fn line() -> impl Strategy<Value = String> {
    const PIECES: [&str; 22] = [
        "A",
        "B",
        "é",
        ":",
        ": ",
        " is ",
        ", ",
        "acid",
        "ester",
        "flask",
        "dcm",
        "0 mmol",
        "1e27 mol",
        "5 mL",
        "0.5 mmol",
        "98 %",
        "(",
        "water",
        "#",
        "plan",
        "steps\n",
        "scale 1 g dcm\n",
    ];
    let piece = proptest::sample::select(PIECES.to_vec());
    proptest::collection::vec(piece, 0..8).prop_map(|pieces| pieces.concat() + "\n")
}
