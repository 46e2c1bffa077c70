//! What ozone has made is concentrated or heated before anything has reduced it.

use crate::Survey;
use crate::acted_on::substance_of;
use crate::alive;
use crate::closed_and_heated::hottest;
use crate::edit;
use crate::sensitive;
use crate::{Check, Finding};
use chemistry::{ReagentClass, Substance, Tag};
use plan::takes::{self, Slot};
use plan::vessel::{Content, Moment, VesselState, celsius};
use plan::{At, Plan};
use syntax::{Clause, Statement, TemperatureKind, Thing, Verb};
use uom::si::amount_of_substance::millimole;

pub(crate) const CHECK: Check = Check {
    name: "ozonides-left",
    severity: crate::Severity::Warning,
    from: crate::Profile::Quiet,
    doc: DOC,
    run,
};

const DOC: &str = "\
# Ozonides left

**Finds** a mixture through which ozone went and that is concentrated, distilled, purified, boiled or heated to 30 °C or
more, when nothing but solvents, water and brine came to it after the ozone.

Silent where anything else came after it (dimethyl sulfide, a phosphine, zinc, thiourea, a borohydride, an oxidant or a
base that works it up otherwise); where water, pyridine or an amine oxide stood there, which take ozonides apart as they
form; where a step in between could not be read; where nothing that is there can be an alkene or alkyne.

**Why it matters.** Ozonides, and the peroxides that alcohols make of them, stay when the solvent goes, and explode dry
and warm.

**Example**

    materials
      alkene: cyclohexene, 1.00 eq
      dcm:    dichloromethane, 40 mL
    steps
      add alkene, dcm
      cool to -78 °C
      bubble ozone through flask
      warm to rt
      concentrate at 30 °C

**Write instead**

    steps
      add alkene, dcm
      cool to -78 °C
      bubble ozone through flask
      sparge flask with nitrogen for 10 min
      add dimethyl sulfide 3.7 mL
      warm to rt
      stir overnight
      check for peroxides with a test strip
      concentrate at 30 °C

Blow the ozone out before the reductant comes in. The safety data sheet, the rules of your laboratory and a trained
supervisor decide.

**Sources.** Common practice; five of dimethyl sulfide for each alkene are common practice, too.
";

/// Degrees Celsius from which it speaks of heating (an assumption).
const WARM: f64 = 30.0;

fn run(plan: &Survey<'_>, findings: &mut Vec<Finding>) {
    if !plan.says("ozone") && !plan.has("ozone") {
        return;
    }
    // The line of the ozone, for each vessel in which nothing has met what it made.
    let mut ozonised: Vec<Option<u32>> = vec![None; plan.apparatus.len()];
    for moment in &plan.moments {
        let Some(clause) = sensitive::clause(plan, moment) else {
            continue;
        };
        let vessel = moment.vessel;
        let moved = moment
            .additions
            .iter()
            .filter_map(|addition| ozonised.get(addition.from?).copied().flatten())
            .next();
        let Some(slot) = ozonised.get_mut(vessel) else {
            continue;
        };
        if brings_ozone(plan, moment, clause) {
            let may_form = moment
                .after
                .get(vessel)
                .is_some_and(|state| may_form(plan, state));
            *slot = may_form.then_some(moment.line);
            continue;
        }
        *slot = moved.or(*slot);
        let Some(line) = *slot else { continue };
        let treated = moment
            .additions
            .iter()
            .any(|addition| addition.from.is_none() && !stands_by(plan, &addition.content))
            || is_treatment(plan, clause);
        if treated || unread(plan, line, moment.line) {
            *slot = None;
            continue;
        }
        if !takes_apart(clause) {
            continue;
        }
        *slot = None;
        findings.push(finding(plan, moment, clause, line));
    }
}

fn finding(plan: &Plan, moment: &Moment, clause: &Clause, ozone: u32) -> Finding {
    let at = At {
        line: moment.line,
        span: clause.verb_span,
    };
    let flask = sensitive::name(plan, moment.vessel);
    let message = format!(
        "Ozone has made ozonides and peroxides in {flask}, and nothing has reduced them: dry or warm they can explode. Add dimethyl sulfide or triphenylphosphine in the cold, stir, and test for peroxides first."
    );
    let mut finding =
        Finding::new(&CHECK, at, message).related(sensitive::line_at(plan, ozone), "ozone");
    let alkene = moment.before.get(moment.vessel).and_then(|state| {
        let mut alkenes = state.contents.iter().filter(|c| is_alkene(plan, c));
        alkenes.next()?.amount
    });
    if let Some(alkene) = alkene
        && let Some(item) = sensitive::listed(plan, moment.vessel)
    {
        // 62.13 g/mol and 0.848 g/mL.
        let millilitres = 5.0 * alkene.get::<millimole>() * 62.13 / 848.0;
        let steps = [
            format!(
                "add dimethyl sulfide {} mL to {}",
                sensitive::plain(millilitres, 2),
                item.name
            ),
            "stir overnight".to_owned(),
            "check for peroxides with a test strip".to_owned(),
        ];
        if let Some(edit) = edit::insert_before(plan, moment.line, &steps) {
            finding = finding.fix("Reduce it with dimethyl sulfide first", vec![edit]);
        }
    }
    finding
}

/// Ozone goes in.
fn brings_ozone(plan: &Plan, moment: &Moment, clause: &Clause) -> bool {
    let feeds = matches!(
        clause.verb,
        Verb::Sparge | Verb::Purge | Verb::Fill | Verb::Add | Verb::Charge | Verb::Stir
    );
    let is_ozone = |substance: Option<Substance>| substance.is_some_and(|s| s.name() == "ozone");
    let added = moment
        .additions
        .iter()
        .any(|addition| is_ozone(addition.content.substance(&plan.materials)));
    let named = || {
        let mut things = clause.objects.iter().chain(
            clause
                .modifiers
                .iter()
                .flat_map(|modifier| modifier.kind.things()),
        );
        things.any(|thing| {
            is_ozone(substance_of(plan, thing)) || sensitive::contains(&thing.name.text, "ozone")
        })
    };
    feeds && (added || named())
}

/// What is dried, boiled or heated.
fn takes_apart(clause: &Clause) -> bool {
    let dried = matches!(
        clause.verb,
        Verb::Concentrate
            | Verb::Coevaporate
            | Verb::Distil
            | Verb::Crystallise
            | Verb::Purify
            | Verb::Reflux
    );
    let heated = || {
        let kinds = [
            TemperatureKind::At,
            TemperatureKind::To,
            TemperatureKind::Bath,
        ];
        hottest(clause, &kinds).is_some_and(|(_, t)| celsius(t) >= WARM)
    };
    let heats = matches!(
        clause.verb,
        Verb::Heat | Verb::Warm | Verb::Stir | Verb::Hold
    );
    dried || heats && (sensitive::boils(clause) || heated())
}

/// Something there may have a double bond that makes ozonides, and nothing takes them apart.
fn may_form(plan: &Plan, state: &VesselState) -> bool {
    let takes_apart = |content: &Content| {
        let name = content
            .substance(&plan.materials)
            .map_or("", Substance::name);
        content.is_aqueous(&plan.materials)
            || matches!(
                alive::class(plan, content),
                Some(
                    ReagentClass::PalladiumPhosphine
                        | ReagentClass::Borohydride
                        | ReagentClass::Amine
                )
            )
            || ["pyridine", "dimethyl sulfide", "N-methylmorpholine N-oxide"].contains(&name)
    };
    state
        .contents
        .iter()
        .any(|content| is_alkene(plan, content))
        && !state.contents.iter().any(takes_apart)
}

/// It has a double or triple bond of two carbons, or its structure is not known.
fn is_alkene(plan: &Plan, content: &Content) -> bool {
    if stands_by(plan, content) {
        return false;
    }
    match content
        .substance(&plan.materials)
        .and_then(Substance::smiles)
    {
        Some(smiles) => ["C=C", "=C(", "(=C", "C#C"]
            .iter()
            .any(|bond| smiles.contains(bond)),
        None => true,
    }
}

/// A wash, an extraction or a quench with anything but water, brine and solvents, which reduce nothing.
fn is_treatment(plan: &Plan, clause: &Clause) -> bool {
    let reduces_nothing = |thing: &Thing| {
        let substance = substance_of(plan, thing);
        thing.name.text.eq_ignore_ascii_case("brine")
            || substance.is_some_and(|substance| {
                matches!(substance.name(), "water" | "sodium chloride")
                    || substance.has(Tag::Solvent)
            })
    };
    let with = takes::things(clause).filter(|(slot, _)| *slot == Slot::With);
    let mut with = with.map(|(_, thing)| thing).peekable();
    matches!(clause.verb, Verb::Wash | Verb::Extract | Verb::Quench)
        && (with.peek().is_none() || !with.all(reduces_nothing))
}

/// Solvents, gases and what only helps.
fn stands_by(plan: &Plan, content: &Content) -> bool {
    let name = content
        .substance(&plan.materials)
        .map_or("", Substance::name);
    sensitive::is_solvent(plan, content)
        || alive::is_aid(plan, content)
        || ["ozone", "oxygen", "sodium hydrogen carbonate"].contains(&name)
}

/// A step between two lines that could not be read may have reduced it.
fn unread(plan: &Plan, from: u32, to: u32) -> bool {
    (from + 1..to).any(|line| {
        let found = plan.text.lines.get(line as usize);
        found.is_some_and(|found| matches!(found.statement, Statement::Unread(_)))
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::{expect, expect_fixed};

    fn plan(steps: &str) -> String {
        let steps = steps.strip_prefix('\n').unwrap_or(steps);
        format!(
            "
plan Test
scale 20.0 mmol alkene
materials
  alkene: cyclohexene, 1.00 eq
  arene: anisole, 1.00 eq
  ozone: ozone, excess
  dms: dimethyl sulfide, 5.00 eq
  zinc: zinc, dust, 2.00 eq
  pyridine: pyridine, 3.00 eq
  dcm: dichloromethane, 100 mL
equipment
  flask: 250 mL three-neck flask, gas inlet tube, bubbler
  rotflask: 250 mL round-bottom flask
steps
{steps}"
        )
    }

    #[test]
    fn finds_ozonides_that_are_concentrated() {
        let before = "
  add alkene, dcm
  cool to -78 °C
  bubble ozone through flask until blue
  warm to rt
  concentrate at 30 °C, 200 mbar
  ^^^^^^^^^^^ warning: Ozone has made ozonides and peroxides in flask, and nothing has reduced them
";
        expect(&CHECK, &plan(before));
        // 5 × 20.0 mmol × 62.13 g/mol ÷ 0.848 g/mL: 7.3 mL.
        expect_fixed(
            &CHECK,
            &plan(before),
            0,
            &plan(
                "  add alkene, dcm\n  cool to -78 °C\n  bubble ozone through flask until blue\n  warm to rt\n  add dimethyl sulfide 7.3 mL to flask\n  stir overnight\n  check for peroxides with a test strip\n  concentrate at 30 °C, 200 mbar\n",
            ),
        );
        expect(
            &CHECK,
            &plan(
                "  add alkene, dcm\n  cool to -78 °C\n  add ozone over 30 min\n  sparge with nitrogen for 10 min\n  transfer flask to rotflask\n  in rotflask\n  heat to 40 °C\n  ^^^^ warning: Ozone has made ozonides and peroxides in rotflask\n  concentrate at 30 °C\n",
            ),
        );
    }

    #[test]
    fn water_and_brine_reduce_nothing() {
        for washed in [
            "wash with brine 20 mL",
            "wash organics with water 20 mL",
            "wash organics with water 20 mL\n  wash organics with brine 20 mL",
            "quench with water 20 mL",
        ] {
            expect(
                &CHECK,
                &plan(&format!(
                    "  add alkene, dcm\n  cool to -78 °C\n  bubble ozone through flask\n  warm to rt\n  {washed}\n  concentrate at 30 °C\n  ^^^^^^^^^^^ warning: Ozone has made ozonides\n"
                )),
            );
        }
    }

    #[test]
    fn is_silent_where_they_are_reduced_or_cannot_form() {
        let fed = "cool to -78 °C\n  bubble ozone through flask";
        for steps in [
            format!("add alkene, dcm\n  {fed}\n  add dms\n  warm to rt\n  concentrate at 30 °C"),
            format!("add alkene, dcm\n  {fed}\n  add zinc\n  concentrate at 30 °C"),
            format!("add alkene, dcm\n  {fed}\n  quench with dms\n  concentrate at 30 °C"),
            format!(
                "add alkene, dcm\n  {fed}\n  add sodium borohydride 1 g\n  concentrate at 30 °C"
            ),
            format!("add alkene, dcm, pyridine\n  {fed}\n  concentrate at 30 °C"),
            format!("add alkene, dcm, water 5 mL\n  {fed}\n  concentrate at 30 °C"),
            format!("add arene, dcm\n  {fed}\n  concentrate at 30 °C"),
            format!("add alkene, dcm\n  {fed}\n  warm to rt"),
            format!(
                "add alkene, dcm\n  {fed}\n  wash with 10 wt% sodium sulfite 20 mL\n  concentrate at 30 °C"
            ),
            format!(
                "add alkene, dcm\n  {fed}\n  wash with sat. aq. NaHCO3 20 mL\n  concentrate at 30 °C"
            ),
            "add alkene, dcm\n  concentrate at 30 °C".to_owned(),
        ] {
            expect(&CHECK, &plan(&format!("  {steps}\n")));
        }
    }
}
