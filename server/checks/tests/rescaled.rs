//! A plan at another scale is found fault with for the same things, but for those that are about its size.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test may fail")]

use plan::Plan;
use plan::rescale::{self, Target};
use std::path::Path;

/// In which direction a change of scale may bring a finding; the other one takes it.
#[derive(Clone, Copy, PartialEq)]
enum Grows {
    Up,
    Down,
    Either,
}

/// Checks that a change of scale may bring or take, each with the reason.
const ABOUT_SIZE: &[(&str, Grows, &str)] = &[
    ("overfilled", Grows::Either, "a flask goes up in steps"),
    (
        "bottle-not-enough",
        Grows::Up,
        "what is left in a bottle stays",
    ),
    (
        "too-small-to-measure",
        Grows::Down,
        "a tool errs by more of less",
    ),
    (
        "margin-unmeasurable",
        Grows::Down,
        "a tool errs by more of less",
    ),
    (
        "pyrophoric-by-syringe",
        Grows::Either,
        "syringes go in steps, and may be fuller than before",
    ),
    ("quench-missing", Grows::Up, "silent for half a millimole"),
    (
        "quench-wrong-agent",
        Grows::Up,
        "silent for a millimole, milder for five",
    ),
    ("quench-too-hot", Grows::Up, "silent for ten millimoles"),
    (
        "exothermic-at-once",
        Grows::Either,
        "silent below five millimoles, and portions are rounded",
    ),
    ("azide-and-halogenated", Grows::Up, "silent for a millimole"),
];

/// A place and a check.
type Found = (u32, &'static str);

fn is_about_size(check: &str, up: bool) -> bool {
    let entry = ABOUT_SIZE.iter().find(|(name, ..)| *name == check);
    entry.is_some_and(|(_, grows, _)| match grows {
        Grows::Up => up,
        Grows::Down => !up,
        Grows::Either => true,
    })
}

/// SplitMix64 (Steele, Lea and Flood, OOPSLA 2014).
struct Random(u64);

impl Random {
    fn below(&mut self, n: usize) -> usize {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        usize::try_from((z ^ (z >> 31)) % n as u64).unwrap()
    }

    fn one_of<'a>(&mut self, of: &[&'a str]) -> &'a str {
        of[self.below(of.len())]
    }

    /// From a twentieth to five, with up to three digits.
    fn factor(&mut self) -> String {
        let number = self.below(495) + 5;
        format!("{}.{:02}", number / 100, number % 100)
    }
}

/// A plan with whatever its author forgot or mixed up.
fn generated(random: &mut Random) -> String {
    let mut text = String::from("plan A\n");
    text += random.one_of(&[
        "scale 5.00 mmol ketone\n",
        "scale 5 mmol ketone\n",
        "scale 2.07 mmol ketone\n",
        "scale 0.771 g ketone\n",
    ]);
    text += "materials\n";
    text += random.one_of(&[
        "  ketone: 4-tert-butylcyclohexanone, 1.00 eq\n",
        "  ketone: 4-tert-butylcyclohexanone, 1.00 eq, 771 mg\n",
        "  ketone: acetophenone, 1.00 eq, 771 mg\n",
        "  ketone: unobtainium, MW 154.25, 1.00 eq\n",
    ]);
    text += random.one_of(&[
        "  base: n-butyllithium, 2.5 M in hexanes, 1.15 eq\n",
        "  base: n-butyllithium, 2.5 M in hexanes, 1.15 eq, 2.30 mL\n",
        "  base: n-butyllithium, 1.15 eq\n",
        "  base: sodium hydride, 60 wt% in mineral oil, 1.20 eq, 240 mg\n",
        "  base: lithium aluminium hydride, 0.90 eq, 3 g\n",
        "  base: tert-butyllithium, 1.7 M in pentane, 2.20 eq\n",
    ]);
    text += random.one_of(&[
        "  solvent: tetrahydrofuran, dry, 12 mL\n",
        "  solvent: tetrahydrofuran, 12.5 mL\n",
        "  solvent: methanol, 20 mL\n",
        "  solvent: dichloromethane, dry, 8 mL/mmol\n",
        "  solvent: diethyl ether, dry, 20 ppm water, 25.0 mL\n",
    ]);
    text += random.one_of(&[
        "",
        "  salt: sodium azide, 1.5 eq, 0.488 g\n",
        "  salt: triphenylphosphine, 0.05 eq\n",
        "  water: water, 10 mL\n  extra: ethanol, 5 mL\n",
    ]);
    text += "products\n  alkene: C11H20, 1.00 eq, expect 85 %\nequipment\n";
    text += random.one_of(&[
        "  flask: 50 mL round-bottom flask, oven-dried\n",
        "  flask: 100-mL flask\n",
        "  flask: 25 mL Schlenk flask\n  syringe: 5 mL syringe\n",
        "  vial: 20 mL vial\n",
    ]);
    text += "steps\n";
    for of in [
        &[
            "  evacuate and refill with argon, 3 cycles\n",
            "  flame-dry the flask\n",
            "",
        ][..],
        &[
            "  add ketone, solvent\n",
            "  add solvent 10 mL\n  add ketone\n",
            "  add salt, solvent\n",
            "  dissolve ketone in solvent\n",
        ],
        &["  cool to -78 °C\n", "  cool to 0 °C\n", ""],
        &[
            "  add base dropwise over 10 min\n",
            "  add base 2.30 mL via syringe\n",
            "  add base 2.0 mL\n",
            "  add base, water\n",
            "",
        ],
        &[
            "  stir for 2 h\n",
            "  reflux for 2 h\n",
            "  heat to 120 °C\n",
            "  warm to 22\n",
            "",
        ],
        &[
            "  quench with water 10 mL\n",
            "  quench with acetone 2 mL\n",
            "  add water 5.0 mL\n",
            "",
        ],
        &[
            "  extract with diethyl ether, 3 x 20 mL\n",
            "  extract with methanol, 2 x 10 mL\n  dry over magnesium sulfate\n",
            "",
        ],
        &["  concentrate\n", "  concentrate to 5 mL\n", ""],
    ] {
        text += random.one_of(of);
    }
    text
}

fn found(plan: &Plan) -> Vec<Found> {
    let findings = checks::findings(plan).into_iter();
    let mut found: Vec<_> = findings
        .map(|finding| (finding.at.line, finding.check))
        .collect();
    found.sort_unstable();
    found
}

/// The plan at another scale, with the sizes of equipment that it needs.
fn rescaled(plan: &Plan, factor: &str) -> Option<String> {
    let rescaling = rescale::rescale(plan, &Target::By(factor.parse().ok()?)).ok()?;
    let sizes = rescaling.equipment.into_iter();
    let sizes = sizes.map(|edit| (edit.at, edit.text));
    let mut edits: Vec<_> = rescaling.edits.into_iter().chain(sizes).collect();
    edits.sort_by_key(|(at, _)| *at);
    let mut text = plan.text.text.to_string();
    for (at, new) in edits.iter().rev() {
        text.replace_range(plan.range(*at), new);
    }
    Some(text)
}

fn there_is_more(factor: &str) -> bool {
    factor.parse().is_ok_and(|factor: f64| factor > 1.0)
}

/// How many were compared; what differed is put down in words.
fn compare(text: &str, factors: &[String], wrong: &mut Vec<String>) -> usize {
    let plan = Plan::read(text);
    let before = found(&plan);
    let mut cases = 0;
    for factor in factors {
        let Some(there) = rescaled(&plan, factor) else {
            continue;
        };
        cases += 1;
        let after = found(&Plan::read(&there));
        let up = there_is_more(factor);
        let without = |these: &[Found], those: &[Found], up: bool| -> Vec<Found> {
            let missing = these.iter().filter(|found| !those.contains(found));
            let missing = missing.filter(|(_, check)| !is_about_size(check, up));
            missing.copied().collect()
        };
        let (gone, new) = (without(&before, &after, !up), without(&after, &before, up));
        if !gone.is_empty() || !new.is_empty() {
            wrong.push(format!(
                "times {factor}: gone {gone:?}, new {new:?}\n{text}\n{there}"
            ));
        }
    }
    cases
}

fn generated_plans(seed: u64) {
    let mut random = Random(seed);
    let (mut wrong, mut cases, mut checks) = (Vec::new(), 0, std::collections::BTreeSet::new());
    for _ in 0..350 {
        let text = generated(&mut random);
        checks.extend(
            found(&Plan::read(&text))
                .into_iter()
                .map(|(_, check)| check),
        );
        let factors: Vec<String> = (0..3).map(|_| random.factor()).collect();
        cases += compare(&text, &factors, &mut wrong);
    }
    assert!(
        wrong.is_empty(),
        "{} of {cases}\n{}",
        wrong.len(),
        wrong.join("\n----\n")
    );
    assert!(cases >= 1000 && checks.len() >= 12, "{cases} {checks:?}");
}

#[test]
fn generated_plans_are_found_fault_with_alike() {
    generated_plans(1);
}

#[test]
fn other_generated_plans_are_found_fault_with_alike() {
    generated_plans(2);
}

#[test]
fn plans_that_are_shown_are_found_fault_with_alike() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let (mut random, mut wrong, mut cases) = (Random(3), Vec::new(), 0);
    for folder in ["../../examples", "../syntax/tests/plans"] {
        for entry in std::fs::read_dir(root.join(folder)).unwrap() {
            let path = entry.unwrap().path();
            if path.extension().is_some_and(|end| end == "prep") {
                let text = std::fs::read_to_string(path).unwrap();
                let factors: Vec<String> = (0..10).map(|_| random.factor()).collect();
                cases += compare(&text, &factors, &mut wrong);
            }
        }
    }
    assert!(
        wrong.is_empty(),
        "{} of {cases}\n{}",
        wrong.len(),
        wrong.join("\n----\n")
    );
    assert!(cases >= 100, "{cases}");
}

#[test]
fn the_exceptions_are_checks() {
    for (name, _, reason) in ABOUT_SIZE {
        assert!(checks::find(name).is_some() && !reason.is_empty(), "{name}");
    }
}
