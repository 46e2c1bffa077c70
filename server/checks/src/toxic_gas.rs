//! Acid comes to what frees a toxic gas with it.

use crate::Survey;
use crate::acted_on::substance_of;
use crate::alive;
use crate::edit;
use crate::sensitive;
use crate::{Check, Finding, Severity};
use chemistry::Substance;
use chemistry::quantity::pressure;
use plan::takes::{self, Slot};
use plan::vessel::{Addition, Content, Moment, VesselState};
use plan::{At, Plan};
use syntax::{Sense, Verb};
use uom::si::amount_of_substance::millimole;
use uom::si::f64::{AmountOfSubstance, Pressure};

pub(crate) const CHECK: Check = Check {
    name: "toxic-gas",
    severity: Severity::Warning,
    from: crate::Profile::Quiet,
    doc: DOC,
    run,
};

const DOC: &str = "\
# Acid frees a toxic gas

**Finds** an acid that goes to a cyanide (hydrogen cyanide), to sodium azide or azidotrimethylsilane
(hydrazoic acid), or to hypochlorite (chlorine), one of these that goes to an acid, and a mixture that is
washed with an acid before water has taken them out, where more than 0.5 mmol of it is left after everything
else there has taken one equivalent. Cyanoborohydride counts with strong acids only.

Silent where the plan scrubs the gas (`scrubber`, `scrub`, `through bleach` anywhere in it);
where a base is there in excess of the acid; where the salt was destroyed before (hypochlorite on
cyanide, nitrite on azide, sulfite or thiosulfate on hypochlorite); for ammonium chloride and
buffers; where amounts are not known.

**Why it matters.** Hydrogen cyanide boils at 26 °C and hydrazoic acid, which also explodes, at
37 °C: both leave the flask as they form. A breath of either can kill.

**Example**

    materials
      bromide: benzyl bromide, 1.00 eq
      cyanide: sodium cyanide, 1.50 eq
      dmso:    dimethyl sulfoxide, 20 mL
    steps
      add cyanide, bromide, dmso
      stir overnight
      quench with 1 M HCl 40 mL

**Write instead** a work-up that stays above pH 10, or destroy the salt first

    steps
      add cyanide, bromide, dmso
      stir overnight
      note in the hood, two people
      dilute with 1 M NaOH 60 mL

If acid has to come to it, scrub what comes off (`note off-gas through a scrubber of bleach at pH above 10`).
The safety data sheet, the rules of your laboratory and a trained supervisor decide; some laboratories demand a gas
detector and an antidote at hand.

**Sources.** EUH031 and EUH032, contact with acids liberates a toxic or very toxic gas: Regulation
(EC) 1272/2008, Annexes II and VI (the table's rows from memory). Azide and acid: *J. Org. Chem.*
2022, 87, 11293. Boiling points: *CRC Handbook*, from memory. Volume: ideal gas law. The 0.5 mmol
are an assumption.
";

fn run(plan: &Survey<'_>, findings: &mut Vec<Finding>) {
    let mut found = Vec::new();
    let mut said = vec![false; plan.apparatus.len()];
    for moment in &plan.moments {
        if let Some(said) = said.get_mut(moment.vessel)
            && !*said
            && let Some(finding) = finding(plan, moment)
        {
            *said = true;
            found.push(finding);
        }
    }
    if !found.is_empty() && !scrubs(plan) {
        findings.append(&mut found);
    }
}

#[derive(Clone, Copy, PartialEq)]
enum Gas {
    HydrogenCyanide,
    HydrazoicAcid,
    Chlorine,
}

fn finding(plan: &Plan, moment: &Moment) -> Option<Finding> {
    let clause = sensitive::clause(plan, moment)?;
    let before = moment.before.get(moment.vessel)?;
    let after = moment.after.get(moment.vessel)?;
    if before.unclear {
        return None;
    }
    let (source, gas) = after
        .contents
        .iter()
        .find_map(|content| Some((content, gas_of(plan, content)?)))?;
    // Either comes to the other; `acidify` brings an acid whatever its name.
    let acid_added = moment
        .additions
        .iter()
        .filter(|addition| !had_met(plan, moment, addition))
        .find_map(|addition| Some((addition, acid(plan, &addition.content)?)));
    let meets = match clause.verb {
        Verb::Wash | Verb::Extract if !clause.senses.contains(&Sense::Glass) => Some(Slot::With),
        Verb::Pour | Verb::Transfer => Some(Slot::To),
        _ => None,
    };
    let washed_with = takes::things(clause)
        .filter(|(slot, _)| Some(*slot) == meets)
        .find_map(|(_, thing)| Some((thing.name.span, acidity(substance_of(plan, thing)?)?)));
    // What is washed or poured out is what was there.
    let after = if washed_with.is_some() { before } else { after };
    let (at, strength) = match (acid_added, washed_with) {
        (Some((addition, strength)), _) => (addition.at, strength),
        (None, Some((span, strength))) => (
            At {
                line: moment.line,
                span,
            },
            strength,
        ),
        (None, None) if clause.verb == Verb::Acidify => (
            At {
                line: moment.line,
                span: clause.verb_span,
            },
            Acidity::Strong,
        ),
        (None, None) => {
            let strength = before
                .contents
                .iter()
                .find_map(|content| acid(plan, content))?;
            let came = moment
                .additions
                .iter()
                .filter(|addition| !had_met(plan, moment, addition))
                .find(|addition| gas_of(plan, &addition.content).is_some())?;
            (came.at, strength)
        }
    };
    let mild = alive::is_named(plan, source, "sodium cyanoborohydride");
    if mild && strength == Acidity::Weak || is_destroyed(plan, after, gas) || is_basic(plan, after)
    {
        return None;
    }
    let left = left(plan, after, source)?;
    if left.get::<millimole>() <= 0.5 {
        return None;
    }
    let room = Pressure::new::<pressure::atmosphere>(1.0);
    let volume = chemistry::molar_volume(plan.room.temperature, room) * left;
    let (what, through) = match gas {
        Gas::HydrogenCyanide => ("hydrogen cyanide", "bleach at pH above 10"),
        Gas::HydrazoicAcid => (
            "hydrazoic acid, which also explodes,",
            "2 M sodium hydroxide",
        ),
        Gas::Chlorine => ("chlorine", "2 M sodium hydroxide"),
    };
    let name = source.name(&plan.materials);
    let message = format!(
        "Acid frees up to {} of {what} from what is left of {name}: destroy it first, or keep it basic; work in the hood and scrub the gas with {through}.",
        sensitive::volume_text(volume)
    );
    let mut finding = Finding::new(&CHECK, at, message);
    if source.line != moment.line {
        finding = finding.related(
            sensitive::line_at(plan, source.line),
            format!("{name} came in here"),
        );
    }
    let note = format!("note off-gas through a scrubber of {through}");
    if let Some(edit) = edit::insert_before(plan, moment.line, &[note]) {
        finding = finding.fix("Write that the gas is scrubbed", vec![edit]);
    }
    Some(finding)
}

/// It comes from a vessel in which acid and salt were together: the gas was spoken of there.
fn had_met(plan: &Plan, moment: &Moment, addition: &Addition) -> bool {
    let source = addition.from.and_then(|from| moment.before.get(from));
    source.is_some_and(|source| {
        let contents = || source.contents.iter();
        contents().any(|content| acid(plan, content).is_some())
            && contents().any(|content| gas_of(plan, content).is_some())
    })
}

fn gas_of(plan: &Plan, content: &Content) -> Option<Gas> {
    match content.substance(&plan.materials)?.name() {
        "sodium cyanide"
        | "potassium cyanide"
        | "zinc cyanide"
        | "copper(I) cyanide"
        | "trimethylsilyl cyanide"
        | "sodium cyanoborohydride" => Some(Gas::HydrogenCyanide),
        "sodium azide" | "azidotrimethylsilane" => Some(Gas::HydrazoicAcid),
        "sodium hypochlorite" => Some(Gas::Chlorine),
        _ => None,
    }
}

#[derive(Clone, Copy, PartialEq)]
enum Acidity {
    Weak,
    Strong,
}

fn acid(plan: &Plan, content: &Content) -> Option<Acidity> {
    acidity(content.substance(&plan.materials)?)
}

/// Acids that are stronger than hydrocyanic and hydrazoic acid are in water.
fn acidity(substance: Substance) -> Option<Acidity> {
    match substance.name() {
        "hydrogen chloride"
        | "hydrogen bromide"
        | "hydrogen iodide"
        | "sulfuric acid"
        | "nitric acid"
        | "phosphoric acid"
        | "trifluoroacetic acid"
        | "methanesulfonic acid"
        | "trifluoromethanesulfonic acid"
        | "p-toluenesulfonic acid monohydrate"
        | "potassium hydrogen sulfate"
        | "sodium hydrogen sulfate" => Some(Acidity::Strong),
        "acetic acid"
        | "formic acid"
        | "citric acid"
        | "citric acid monohydrate"
        | "propionic acid"
        | "oxalic acid" => Some(Acidity::Weak),
        _ => None,
    }
}

/// What destroys the salt is there.
fn is_destroyed(plan: &Plan, state: &VesselState, gas: Gas) -> bool {
    let by: &[&str] = match gas {
        Gas::HydrogenCyanide => &["sodium hypochlorite"],
        Gas::HydrazoicAcid => &["sodium nitrite"],
        Gas::Chlorine => &[
            "sodium sulfite",
            "sodium hydrogen sulfite",
            "sodium thiosulfate",
            "sodium thiosulfate pentahydrate",
        ],
    };
    state.contents.iter().any(|content| {
        content
            .substance(&plan.materials)
            .is_some_and(|substance| by.contains(&substance.name()))
    })
}

/// More hydroxide or carbonate than acid, as far as amounts are known.
fn is_basic(plan: &Plan, state: &VesselState) -> bool {
    let sum = |which: &dyn Fn(&Content) -> bool| -> Option<AmountOfSubstance> {
        let mut sum = AmountOfSubstance::default();
        for content in state.contents.iter().filter(|content| which(content)) {
            sum += content.amount?;
        }
        Some(sum)
    };
    let base = sum(&|content| {
        content.substance(&plan.materials).is_some_and(|substance| {
            ["hydroxide", "carbonate"]
                .iter()
                .any(|word| substance.name().contains(word))
        })
    });
    let acid = sum(&|content| acid(plan, content).is_some());
    matches!((base, acid), (Some(base), Some(acid)) if base > acid && acid.value > 0.0)
}

/// What is left of the salt when everything else that is no solvent has taken one equivalent of it.
fn left(plan: &Plan, state: &VesselState, source: &Content) -> Option<AmountOfSubstance> {
    let mut left = source.amount?;
    for content in &state.contents {
        let reactant = gas_of(plan, content).is_none()
            && acid(plan, content).is_none()
            && !sensitive::is_solvent(plan, content)
            && !content.is_aqueous(&plan.materials);
        if reactant {
            left -= content.amount?;
        }
    }
    Some(left)
}

/// Somewhere in its words the plan speaks of a scrubber.
fn scrubs(plan: &Survey<'_>) -> bool {
    let text = plan.lower();
    [
        "scrub",
        "through bleach",
        "bleach trap",
        "through naoh",
        "through sodium hydroxide",
    ]
    .iter()
    .any(|words| text.contains(words))
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
scale 10.0 mmol bromide
materials
  bromide: benzyl bromide, 1.00 eq
  cyanide: sodium cyanide, 1.50 eq
  azide: sodium azide, 1.50 eq
  bleach: sodium hypochlorite, 1.0 M in water, 15 mL
  boro: sodium cyanoborohydride, 1.50 eq
  naoh: sodium hydroxide, 2.0 M in water, 50 mL
  hcl: hydrogen chloride, 1.0 M in water, 30 mL
  acoh: acetic acid, 2.00 eq
  dmf: N,N-dimethylformamide, 20 mL
equipment
  flask: 250 mL flask
  sepfunnel: 250 mL separating funnel
steps
{steps}"
        )
    }

    #[test]
    fn finds_an_acid_wash_of_what_was_not_extracted() {
        let reaction = "  add azide, bromide, dmf\n  transfer flask to sepfunnel\n  in sepfunnel\n";
        let washed = format!(
            "{reaction}  wash with 1 M HCl 40 mL\n                ^^^ warning: Acid frees up to 121 mL of hydrazoic acid\n"
        );
        expect(&CHECK, &plan(&washed));
        // The water took the azide with it.
        let extracted = format!(
            "{reaction}  add water 60 mL\n  extract with toluene 40 mL\n  wash organics with 1 M HCl 40 mL\n"
        );
        expect(&CHECK, &plan(&extracted));
        let poured = "  add cyanide, bromide, dmf\n  pour flask into 1 M HCl 60 mL\n                      ^^^ warning: Acid frees up to 121 mL of hydrogen cyanide\n";
        expect(&CHECK, &plan(poured));
        let copper = "  add cyanide, bromide, dmf\n  add 3 M HCl 30 mL\n          ^^^ warning: Acid frees up to 121 mL of hydrogen cyanide\n";
        let text = plan(copper).replace("sodium cyanide", "copper(I) cyanide");
        expect(&CHECK, &text);
    }

    #[test]
    fn finds_acid_on_cyanide_azide_and_bleach() {
        // 5.0 mmol × 24.1 mL/mmol at 21 °C.
        let before = "
  add cyanide, bromide, dmf
  quench with hcl
              ^^^ warning: Acid frees up to 121 mL of hydrogen cyanide from what is left of cyanide
";
        expect(&CHECK, &plan(before));
        expect_fixed(
            &CHECK,
            &plan(before),
            0,
            &plan(
                "  add cyanide, bromide, dmf
  note off-gas through a scrubber of bleach at pH above 10
  quench with hcl
",
            ),
        );
        expect(
            &CHECK,
            &plan(
                "  add azide, bromide, dmf\n  acidify with hcl to pH 2\n               ^^^ warning: Acid frees up to 121 mL of hydrazoic acid\n",
            ),
        );
        expect(
            &CHECK,
            &plan(
                "  add hcl\n  add bleach\n      ^^^^^^ warning: Acid frees up to 362 mL of chlorine\n",
            ),
        );
    }

    #[test]
    fn speaks_once_of_what_is_moved_on() {
        expect(
            &CHECK,
            &plan(
                "  add cyanide, bromide, dmf\n  quench with hcl\n              ^^^ warning: Acid frees up to 121 mL\n  transfer flask to sepfunnel\n",
            ),
        );
    }

    #[test]
    fn is_silent_without_acid_or_without_anything_left() {
        for steps in [
            "add cyanide, bromide, dmf\n  quench with water 20 mL",
            "add cyanide, bromide, dmf\n  quench with sat. aq. NH4Cl 20 mL",
            "add cyanide 10.2 mmol, bromide, dmf\n  quench with hcl",
            "add cyanide, bromide, dmf\n  add bleach\n  add hcl",
            "add cyanide, bromide, dmf, naoh\n  add acoh",
            "add boro, bromide\n  add acoh",
            "add azide, bromide, dmf\n  add sodium nitrite 1 g\n  add hcl",
            "note scrubber with bleach on the outlet\n  add cyanide, bromide, dmf\n  quench with hcl",
            "add cyanide, bromide, dmf\n  extract with pentane 20 mL\n  add hcl",
        ] {
            expect(&CHECK, &plan(&format!("  {steps}\n")));
        }
    }
}
