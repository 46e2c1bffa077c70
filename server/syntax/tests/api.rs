//! Keys, numbers, mends and tokens as the crates above this one use them.

#![allow(
    clippy::unwrap_used,
    clippy::panic,
    reason = "a test that cannot go on has failed"
)]

use rust_decimal::Decimal;
use syntax::{
    Dimension, FieldKind, KeyKind, PlanText, Referent, Severity, Statement, TokenKind, read_plan,
    read_quantity,
};

fn codes(plan: &PlanText, line: usize) -> Vec<&'static str> {
    plan.lines[line]
        .problems
        .iter()
        .map(|problem| problem.code)
        .collect()
}

fn decimal(text: &str) -> Decimal {
    text.parse().unwrap()
}

#[test]
fn numbers_keep_their_digits() {
    for (text, value, last_digit) in [
        ("5.00 mL", "5.00", -2),
        ("1250 mL", "1250", 0),
        ("1e-3 mL", "0.001", -3),
        ("1.50e1 mL", "15.0", -1),
        ("2e3 mL", "2000", 3),
        ("-78 °C", "-78", 0),
        (".5 mL", "0.5", -1),
    ] {
        let number = read_quantity(text).unwrap().number;
        assert_eq!(number.value, decimal(value), "{text}");
        assert_eq!(number.value.scale(), decimal(value).scale(), "{text}");
        assert_eq!(number.last_digit, last_digit, "{text}");
    }
    assert_eq!(
        read_quantity("0.0000000000000000000000000001 g")
            .unwrap()
            .number
            .last_digit,
        -28
    );
    assert_eq!(read_quantity("0.00000000000000000000000000001 g"), None);
    assert_eq!(read_quantity("79228162514264337593543950336 g"), None);
}

/// Factors as published: SI Brochure, 9th edition (prefixes, min, h, d, L), NIST SP 811 (2008), appendix B.8
/// (atm 101 325 Pa, bar 100 000 Pa, mmHg 133.3224 Pa, Torr 133.3224 Pa, psi 6894.757 Pa, °F 5/9 K).
#[test]
fn units_have_their_published_factors() {
    for (text, dimension, factor) in [
        ("1 mmol", Dimension::Amount, "0.001"),
        ("1 kg", Dimension::Mass, "1000"),
        ("1 µL", Dimension::Volume, "0.000001"),
        ("1 h", Dimension::Time, "3600"),
        ("1 d", Dimension::Time, "86400"),
        ("1 atm", Dimension::Pressure, "101325"),
        ("1 mbar", Dimension::Pressure, "100"),
        ("1 mmHg", Dimension::Pressure, "133.3224"),
        ("1 Torr", Dimension::Pressure, "133.3224"),
        ("1 psi", Dimension::Pressure, "6894.757"),
        ("1 °F", Dimension::Temperature, "0.5555556"),
        ("1 Å", Dimension::Length, "0.0000000001"),
        ("1 mM", Dimension::Molarity, "0.001"),
        ("1 mol/L", Dimension::Molarity, "1"),
        ("1 mg/mL", Dimension::MassConcentration, "1"),
        ("1 mL/mmol", Dimension::VolumePerAmount, "1"),
        ("1 g/mmol", Dimension::MassPerAmount, "1000"),
        ("1 mmol/g", Dimension::AmountPerMass, "0.001"),
        ("1 mol/kg", Dimension::Molality, "1"),
        ("3.6 mL/h", Dimension::VolumeRate, "0.0000002777778"),
        ("1 mol%", Dimension::MolPercent, "0.01"),
        ("1 % w/w", Dimension::MassPercent, "0.01"),
        ("1 % RH", Dimension::Humidity, "0.01"),
        ("1 ppm", Dimension::Ppm, "0.000001"),
    ] {
        let unit = read_quantity(text).unwrap_or_else(|| panic!("{text}")).unit;
        assert_eq!(unit.dimension, dimension, "{text}");
        let off = (unit.factor / decimal(factor) - Decimal::ONE).abs();
        assert!(
            off < decimal("0.000001"),
            "{text}: {} is not {factor}",
            unit.factor
        );
    }
}

#[test]
fn units_are_told_by_case_only_where_they_must() {
    for text in [
        "1 ML", "1 ml", "1 EQ", "1 mmol", "1 MMOL", "20mL", "1 ca", "1 uL", "1 equiv.", "5 mol %",
    ] {
        assert_eq!(read_quantity(text).is_some(), text != "1 ca", "{text}");
    }
    for text in ["1 Mg", "1 MM", "1 m", "1 n", "1 H", "1 Mmol", "1 mpa"] {
        assert_eq!(read_quantity(text), None, "{text}");
    }
    assert_eq!(
        read_quantity("1 M").unwrap().unit.dimension,
        Dimension::Molarity
    );
    assert_eq!(
        read_quantity("1 mm").unwrap().unit.dimension,
        Dimension::Length
    );
}

#[test]
fn quantities_are_found_in_free_text() {
    let text = "then 2 drops, about 20 mL (0.5 g) of 1,4-dioxane; −78 °C for 10-15 min. 5";
    let found: Vec<&str> = syntax::find_quantities(text)
        .iter()
        .map(|quantity| &text[quantity.span.start as usize..quantity.span.end as usize])
        .collect();
    assert_eq!(found, ["about 20 mL", "0.5 g", "−78 °C", "10-15 min"]);
}

const PLAN: &str = "plan keys
materials
thf: tetrahydrofuran, 25 mL
thf: tetrahydrofuran
Thf: tetrahydrofuran
salt: sodium chloride, 1.0 mL/g of sald
equipment
needles: steel needles
pump: 1 syringe pump
flask: 100 mL flask
steps
filter, keep filtrate as liquor
concentrate liquor
add slat
add thf 5 mL via needle
add THF 5 mL via syringe pump
keep solid as thf
";

#[test]
fn keys_are_unique_and_found() {
    let plan = read_plan(PLAN);
    let names: Vec<(&str, KeyKind)> = plan
        .keys
        .iter()
        .map(|key| (&*key.name.text, key.kind))
        .collect();
    let wanted = [
        ("thf", KeyKind::Material),
        ("Thf", KeyKind::Material),
        ("salt", KeyKind::Material),
        ("needles", KeyKind::Tool),
        ("pump", KeyKind::Tool),
        ("flask", KeyKind::Vessel),
        ("liquor", KeyKind::Kept),
    ];
    assert_eq!(names, wanted);
    assert_eq!(codes(&plan, 3), ["duplicate-key"]);
    assert_eq!(codes(&plan, 4), ["key-differs-by-case"]);
    assert_eq!(codes(&plan, 5), ["unknown-key"]);
    assert_eq!(codes(&plan, 12), [""; 0]);
    assert_eq!(codes(&plan, 14), [""; 0]);
    // Two keys fit when case is ignored, so neither is meant.
    let Statement::Step(step) = &plan.lines[15].statement else {
        panic!()
    };
    assert!(matches!(
        step.clauses[0].objects[0].referent,
        Referent::Substance(None)
    ));
    assert_eq!(codes(&plan, 16), ["duplicate-key"]);
}

#[test]
fn misspelt_keys_are_mended() {
    let plan = read_plan(PLAN);
    let problem = &plan.lines[13].problems[0];
    assert_eq!(
        (problem.code, problem.severity),
        ("unknown-key", Severity::Error)
    );
    assert!(problem.message.contains("`salt`"), "{}", problem.message);
    let (span, text) = &problem.fixes[0].edits[0];
    assert_eq!((span.start, span.end, text.as_str()), (4, 8, "salt"));
}

/// Applying a mend to its line leaves a line without that problem.
#[test]
fn mends_mend() {
    for (head, line) in [
        ("materials", "thf: tetrahydrofuran, 2,5 mL"),
        ("materials", "thf: tetrahydrofuran, 1,000 mL"),
        ("materials", "diox: 1, 4-dioxane, 20 mL"),
        ("materials", "nah: sodium hydride 60% in oil, 1.2 eq"),
        ("materials", "thf:tetrahydrofuran"),
        ("materials", "thf tetrahydrofuran, 3 mL"),
        ("materials", "sodium hydride: sodium hydride"),
        ("materials", "thf: tetrahydrofuran, 3 mL, "),
        ("steps", "cool to - 78 °C"),
        ("steps", "stir for 1 000 min"),
        ("steps", "  stir for 10 min; cool to 0 °C"),
        ("steps", "  stir for 10 min; cool to 0 °C"),
        ("steps", "in glovebox, stir for 5 min"),
        ("steps", "stirr for 5 min"),
        ("steps", "wash screw-cap vial"),
        ("", "PLAN: x"),
        ("", "materails"),
        ("", "reaction vial = vial"),
    ] {
        let around =
            |line: &str| format!("plan x\nequipment\nvial: 5 mL screw-cap vial\n{head}\n{line}\n");
        let text = around(line);
        let plan = read_plan(&text);
        let problems = &plan.lines[4].problems;
        assert!(
            problems.iter().any(|problem| !problem.fixes.is_empty()),
            "{line}: {problems:?}"
        );
        for problem in problems {
            for mend in &problem.fixes {
                let mut mended = line.to_owned();
                for (span, text) in mend.edits.iter().rev() {
                    mended.replace_range(span.start as usize..span.end as usize, text);
                }
                let again = read_plan(&around(&mended));
                assert!(
                    !codes(&again, 4).contains(&problem.code),
                    "{line} -> {mended}"
                );
            }
        }
    }
}

#[test]
fn a_plan_without_entries_says_so_once() {
    let plan = read_plan("plan x\nsteps\nadd thf\nadd salt\n");
    assert_eq!(codes(&plan, 2), ["no-entries"]);
    assert_eq!(codes(&plan, 3), [""; 0]);
    let plan = read_plan("\nscale 1 g thf\nmaterials\nthf: tetrahydrofuran\n");
    assert_eq!(codes(&plan, 1), ["no-plan-line"]);
}

#[test]
fn lines_in_the_wrong_block_are_reported_once_a_run() {
    let plan =
        read_plan("plan x\nmaterials\nadd base slowly\n\nstir for 5 min\nthf: x\nstir for 5 min\n");
    let found: Vec<Vec<&str>> = (2..7).map(|line| codes(&plan, line)).collect();
    assert_eq!(found[0][0], "step-outside-steps");
    assert_eq!(found[2], [""; 0]);
    assert_eq!(found[4], ["step-outside-steps"]);
}

#[test]
fn folded_words_keep_the_place_where_they_were_written() {
    let text = "plan x\nmaterials\nbipy:\u{a0}2,2\u{2032}-bipyridine, −5 mL\n";
    let plan = read_plan(text);
    let line = &plan.lines[2];
    let Statement::Entry(entry) = &line.statement else {
        panic!()
    };
    let FieldKind::Name(name) = &entry.fields[0].kind else {
        panic!()
    };
    assert_eq!(&*name.text, "2,2'-bipyridine");
    let start = line.start as usize;
    let written = &text[start + name.span.start as usize..start + name.span.end as usize];
    assert_eq!(written, "2,2\u{2032}-bipyridine");
}

#[test]
fn tokens_name_what_they_are() {
    let plan = read_plan(
        "plan x\nmaterials\nthf: tetrahydrofuran\nsteps\nadd thf 3 x 20 mL slowly  # now\n",
    );
    let line = &plan.lines[4];
    let text = &plan.text[line.start as usize..(line.start + line.len) as usize];
    let tokens: Vec<(TokenKind, &str)> = syntax::tokens(&plan, 4)
        .into_iter()
        .filter(|token| token.kind != TokenKind::Space)
        .map(|token| {
            (
                token.kind,
                &text[token.span.start as usize..token.span.end as usize],
            )
        })
        .collect();
    let wanted = [
        (TokenKind::Verb, "add"),
        (TokenKind::Key(syntax::KeyId(0)), "thf"),
        (TokenKind::Number, "3 x "),
        (TokenKind::Number, "20"),
        (TokenKind::Number, " "),
        (TokenKind::Unit, "mL"),
        (TokenKind::Value, "slowly"),
        (TokenKind::Comment, "# now"),
    ];
    assert_eq!(tokens, wanted);
}

/// A suggestion is made for a slip of the finger or by meaning; another word is left alone.
#[test]
fn verbs_are_suggested_only_when_sure() {
    for (step, mended) in [
        ("fliter through Celite", Some("filter through Celite")),
        ("ad base", Some("add base")),
        ("concentrat to 5 mL", Some("concentrate to 5 mL")),
        (
            "evacuate/backfill with argon",
            Some("evacuate and refill with argon"),
        ),
        ("allow the odd mixture to warm to rt", Some("warm to rt")),
        (
            "allow the whole flask to cool to rt",
            Some("cool flask to rt"),
        ),
        ("let us go", None),
        ("set bath to 80 °C", None),
        ("oven at 80 °C", None),
        ("flash through silica", None),
        ("pool fractions", None),
        ("brine 20 mL", None),
        ("work up", None),
        ("blow down", Some("concentrate down")),
    ] {
        let text = format!("plan A\nequipment\nflask: 50 mL flask\nsteps\n{step}");
        let plan = read_plan(&text);
        let line = &plan.lines[4];
        let [problem] = line.problems.as_slice() else {
            panic!("{step}: {:?}", line.problems)
        };
        let codes = ["unknown-verb", "misspelt-verb", "unread-step"];
        assert!(codes.contains(&problem.code), "{step}");
        let mend = problem.fixes.first().map(|mend| {
            let (span, text) = &mend.edits[0];
            let (start, end) = (span.start as usize, span.end as usize);
            format!("{}{text}{}", &step[..start], &step[end..])
        });
        assert_eq!(mend.as_deref(), mended, "{step}");
    }
}

/// A field is read to a bounded depth, however many parts it has.
#[test]
fn a_field_of_very_many_parts_ends() {
    for part in [" 1 g", " (1 g)", " dry", " sat."] {
        let text = format!("materials\nsalt: salt{}", part.repeat(20_000));
        assert!(!read_plan(&text).lines[1].problems.is_empty() || part == " (1 g)");
    }
    let text = format!("materials\nsalt: {}salt", "dry ".repeat(20_000));
    assert_eq!(read_plan(&text).lines.len(), 2);
}

/// What every hood has is no slip; what differs from a key by a letter, or says what a line says, is one.
#[test]
fn equipment_and_names_of_work_up_need_no_line() {
    let problems = |equipment: &str, steps: &str| -> Vec<String> {
        let text = format!(
            "plan A\nmaterials\n  ketone: acetophenone\n  thf: tetrahydrofuran\nequipment\n  flask: 100 mL flask\n{equipment}\nsteps\n{steps}\n"
        );
        let plan = syntax::read_plan(&text);
        let lines = plan.lines.into_iter().flat_map(|line| line.problems);
        lines.map(|problem| problem.message).collect()
    };
    let known = "add stir bar
add a magnetic stir bar
add bar, ketone, thf 5 mL
dry flask, stir bar, dropping funnel, needles, syringes at 125 °C overnight
wash cake with thf 5 mL
wash filter cake with thf 5 mL
rinse frit with thf 5 mL
wash pad with thf 5 mL
wash celite with thf 5 mL
rinse condenser with thf 2 mL into flask
transfer thf 5 mL via dropping funnel
add thf 5 mL to addition funnel
transfer ketone to dropping funnel
transfer flask to separatory funnel
add dropping funnel dropwise over 10 min
assemble flask, reflux condenser, bubbler
dry crystals under vacuum
wash precipitate with thf 5 mL
combine filtrates
discard cake
add thf 5 mL to a vial
transfer vial to flask";
    assert_eq!(problems("", known), Vec::<String>::new());
    let [hint] = problems(
        "",
        "in a vial\ndissolve ketone in thf 5 mL\ntransfer vial to flask",
    )
    .try_into()
    .unwrap();
    assert!(hint.contains("`vial: 20 mL vial`"), "{hint}");
    for (equipment, step) in [
        ("", "add ktone"),
        ("", "add br"),
        ("", "add stir baar"),
        ("", "wash cak with thf 5 mL"),
        ("", "add thf 5 mL to flsk"),
        ("  schlenk: 20 mL Schlenk tube", "transfer ketone to tube"),
        ("  a1: 20 mL vial", "in a second vial"),
        ("", "add celite"),
        ("", "purge needle with argon"),
        ("  bars: two stir bars", "add bar"),
        ("  cage: glass cage", "dry cake"),
        (
            "  left: 50 mL dropping funnel\n  right: 50 mL dropping funnel",
            "transfer ketone to addition funnel",
        ),
        ("  egg: PTFE stir bar\n  rod: stir bar", "add stir bar"),
    ] {
        assert!(!problems(equipment, step).is_empty(), "{equipment} {step}");
    }
}

/// What is said to the reader asks for nothing, and an internal temperature is a limit like any other.
#[test]
fn remarks_and_internal_temperatures_are_read_as_they_are_said() {
    let read = |steps: &str| {
        let text = format!(
            "plan A\nmaterials\n  ketone: acetophenone\n  thf: tetrahydrofuran\nequipment\n  flask: 100 mL flask\nsteps\n{steps}\n"
        );
        syntax::read_plan(&text)
    };
    let plan = read(
        "careful: hydrogen
careful: gas
gas evolves (bubbler fast)
add ketone to flask, careful: hydrogen, stir for 5 min
add ketone dropwise, gas evolves (bubbler fast)
add ketone dropwise over 10 min, internal temperature below -65 °C
add ketone dropwise, keep the internal temperature below -65 °C
keep internal temperature below -65 °C
add ketone dropwise at internal temperature below -65 °C",
    );
    let problems: Vec<_> = plan.lines.iter().flat_map(|line| &line.problems).collect();
    assert!(problems.is_empty(), "{problems:?}");
    let clauses = |line: usize| match &plan.lines[line].statement {
        Statement::Step(step) => step.clauses.as_slice(),
        _ => &[],
    };
    for line in 7..10 {
        assert!(
            matches!(plan.lines[line].statement, Statement::Remark(..)),
            "{line}"
        );
    }
    assert_eq!(clauses(10).len(), 2);
    let limits = |line: usize| {
        let modifiers = clauses(line).iter().flat_map(|clause| &clause.modifiers);
        let below = |modifier: &&syntax::Modifier| {
            matches!(
                modifier.kind,
                syntax::ModifierKind::Temperature(syntax::TemperatureKind::Below, _)
            )
        };
        modifiers.filter(below).count()
    };
    for line in 12..16 {
        assert_eq!(limits(line), 1, "{:?}", clauses(line));
    }
    // A key of that name is the key, and what asks for something is a step.
    assert!(!read("careful ketone").lines[7].problems.is_empty());
    assert!(!read("add ketone, temperature").lines[7].problems.is_empty());
}

fn run(line: &str) -> (PlanText, syntax::Run) {
    let head = "plan A\nscale 5.00 mmol ketone\nmaterials\n  ketone: cyclohexanone\n  base: LDA, 1.0 M in thf\n  thf: THF\nproducts\n  alkene: C7H12\nequipment\n  flask: 100 mL flask\nruns\n";
    let plan = read_plan(&format!("{head}  {line}\n"));
    match &plan.lines[11].statement {
        Statement::Run(run) => {
            let run = (**run).clone();
            (plan, run)
        }
        other => panic!("{line}: {other:?}"),
    }
}

#[test]
fn a_run_has_a_label_an_amount_and_what_is_other() {
    let line = "B-2: 2.50 mmol, ketone is 4-tert-butylcyclohexanone, 99 %, dry, alkene is C11H20, flask is 250 mL flask, septum";
    let (plan, run) = run(line);
    assert_eq!(codes(&plan, 11), [""; 0]);
    assert_eq!(&*run.label.text, "B-2");
    let amount = run.amount.unwrap();
    assert_eq!(
        (amount.number.value, amount.unit.symbol),
        (decimal("2.50"), "mmol")
    );
    let said: Vec<(&str, &str)> = run
        .changes
        .iter()
        .map(|change| {
            let start = plan.lines[11].start as usize;
            let span = change.said_span;
            let said = &plan.text[start + span.start as usize..start + span.end as usize];
            (&*change.key.text, said)
        })
        .collect();
    assert_eq!(
        said,
        [
            ("ketone", "4-tert-butylcyclohexanone, 99 %, dry"),
            ("alkene", "C11H20"),
            ("flask", "250 mL flask, septum"),
        ]
    );
    // A label is no key, and a run declares none.
    assert_eq!(plan.keys.len(), 5);
    // The key is a use of the key wherever it stands.
    let keys = syntax::tokens(&plan, 11).into_iter();
    let keys = keys.filter(|token| matches!(token.kind, TokenKind::Key(_)));
    assert_eq!(keys.count(), 3);
}

#[test]
fn what_a_run_cannot_say_is_told_where_it_stands() {
    for (line, code) in [
        ("A:", "bad-run"),
        ("A/b: 5 mmol", "bad-run"),
        ("two words: 5 mmol", "key-of-several-words"),
        ("A 5 mmol", "missing-colon"),
        ("A: 5", "bare-number"),
        ("A: 5 °C", "unit-does-not-fit"),
        ("A: 5 mmol, 2 g", "bad-run"),
        ("A: cyclohexanone", "bad-run"),
        ("A: keton is acetone", "unknown-key"),
        ("A: ketone is", "missing-identity"),
        ("A: ketone is 99 %", "missing-identity"),
        ("A: ketone is acetone, 5.00 mmol", "bad-run"),
        ("A: ketone is acetone, took 2 g", "bad-run"),
        ("A: ketone is acetone, ketone is butanone", "bad-run"),
        ("A: 5 mmol,", "trailing-comma"),
    ] {
        let (plan, _) = run(line);
        assert_eq!(codes(&plan, 11), [code], "{line}");
    }
    let plan = read_plan("plan A\nmaterials\n  a: water\nruns\n  5.00 mmol, a is D2O\n");
    assert_eq!(codes(&plan, 4), ["missing-key"]);
}
