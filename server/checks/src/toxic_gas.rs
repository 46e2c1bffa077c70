//! Acid comes to what frees a toxic gas with it.

use crate::Survey;
use crate::acted_on::substance_of;
use crate::alive;
use crate::edit;
use crate::gas_without_vent::{acyl_chloride, swern};
use crate::sensitive;
use crate::{Check, Finding, Severity};
use chemistry::quantity::pressure;
use chemistry::{ReagentClass, Substance};
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

**Finds** an acid that goes to a cyanide (hydrogen cyanide), to sodium or lithium azide or azidotrimethylsilane
(hydrazoic acid), to sodium sulfide or hydrosulfide (hydrogen sulfide), or to hypochlorite (chlorine), one of these that
goes to an acid, and a mixture that is washed with an acid before water has taken them out, where more than
0.5 mmol of it is left after everything else there but bases and salts has taken one equivalent, and the acid is
enough to free it. Cyanoborohydride counts with strong acids only. Also 1 mmol or more of triphosgene or diphosgene that
meets an amine, an alcohol or water (phosgene); and, as an information, oxalyl chloride that gives 50 mmol or more of
carbon monoxide with dimethyl sulfoxide, or with a carboxylic acid and dimethylformamide.

Silent where the plan scrubs the gas (`scrubber`, `scrub`, `through bleach` anywhere in it);
where a base is there in excess of the acid; where enough of what destroys the salt came before (hypochlorite on
cyanide or sulfide, nitrite on azide, sulfite or thiosulfate on hypochlorite); for ammonium chloride and
buffers; where amounts are not known.

**Why it matters.** Hydrogen cyanide boils at 26 °C and hydrazoic acid, which also explodes, at
37 °C: both leave the flask as they form. A breath of either, or of hydrogen sulfide, can kill. Phosgene (bp 8 °C) kills a
day after it was breathed, without a warning.

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
the 1 mmol and the 50 mmol are assumptions; each triphosgene counts as three of phosgene, each diphosgene as two.
";

fn run(plan: &Survey<'_>, findings: &mut Vec<Finding>) {
    let mut found = Vec::new();
    let mut said = vec![false; plan.apparatus.len()];
    let gives_phosgene = plan.has("triphosgene") || plan.has("diphosgene");
    let gives_monoxide = plan.has("oxalyl chloride");
    for moment in &plan.moments {
        if let Some(said) = said.get_mut(moment.vessel)
            && !*said
            && let Some(finding) = finding(plan, moment)
                .or_else(|| gives_phosgene.then(|| phosgene(plan, moment))?)
                .or_else(|| gives_monoxide.then(|| carbon_monoxide(plan, moment))?)
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
    HydrogenSulfide,
    Chlorine,
}

fn finding(plan: &Plan, moment: &Moment) -> Option<Finding> {
    let clause = sensitive::clause(plan, moment)?;
    let before = moment.before.get(moment.vessel)?;
    let after = moment.after.get(moment.vessel)?;
    if before.unclear {
        return None;
    }
    let mut came = after.contents.iter();
    if !came.any(|content| gas_of(plan, content).is_some()) {
        return None;
    }
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
    let all = washed_with.is_some() || clause.verb == Verb::Acidify;
    let (source, gas, made) = after.contents.iter().find_map(|source| {
        let gas = gas_of(plan, source)?;
        let mild = alive::is_named(plan, source, "sodium cyanoborohydride");
        if mild && strength == Acidity::Weak {
            return None;
        }
        let left = left(plan, after, source, gas)?;
        // Of a sulfide the first proton makes the hydrogen sulfide ion.
        let first = match source.substance(&plan.materials)?.name() {
            "sodium sulfide" | "sodium sulfide nonahydrate" => left,
            _ => AmountOfSubstance::default(),
        };
        let free = protons(plan, after).map(|protons| protons - first);
        let made = match free.filter(|free| !all && *free < left) {
            Some(free) => free,
            None => left,
        };
        let much = made.get::<millimole>() > 0.5;
        (much && !is_destroyed(plan, after, gas) && !is_basic(plan, after))
            .then_some((source, gas, made))
    })?;
    let room = Pressure::new::<pressure::atmosphere>(1.0);
    let volume = chemistry::molar_volume(plan.room.temperature, room) * made;
    let (what, through) = match gas {
        Gas::HydrogenCyanide => ("hydrogen cyanide", "bleach at pH above 10"),
        Gas::HydrazoicAcid => (
            "hydrazoic acid, which also explodes,",
            "2 M sodium hydroxide",
        ),
        Gas::Chlorine => ("chlorine", "2 M sodium hydroxide"),
        Gas::HydrogenSulfide => ("hydrogen sulfide", "bleach at pH above 10"),
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

/// Millimoles of carbon monoxide from which it speaks (an assumption): more than 1 L.
const MUCH_MONOXIDE: f64 = 50.0;

/// Much oxalyl chloride meets what makes carbon monoxide of it.
fn carbon_monoxide(plan: &Plan, moment: &Moment) -> Option<Finding> {
    // Half of the gas is carbon dioxide.
    let made = |state| {
        let gas = swern(plan, state).or_else(|| acyl_chloride(plan, state));
        gas.map(|gas| gas * 0.5)
    };
    let before = moment.before.get(moment.vessel)?;
    let after = moment.after.get(moment.vessel)?;
    if before.unclear || made(before).is_some() {
        return None;
    }
    let amount = made(after).filter(|n| n.get::<millimole>() >= MUCH_MONOXIDE)?;
    let addition = moment.additions.first()?;
    let room = Pressure::new::<pressure::atmosphere>(1.0);
    let volume = chemistry::molar_volume(plan.room.temperature, room) * amount;
    let message = format!(
        "This gives up to {} of carbon monoxide, which no scrubber takes: lead the outlet to the back of the hood, add slowly, and wear a detector.",
        sensitive::volume_text(volume)
    );
    Some(Finding::new(&CHECK, addition.at, message).severity(Severity::Information))
}

/// Triphosgene or diphosgene meets what makes phosgene of it.
fn phosgene(plan: &Plan, moment: &Moment) -> Option<Finding> {
    let each = |content: &Content| match content.substance(&plan.materials)?.name() {
        "triphosgene" => Some(3.0),
        "diphosgene" => Some(2.0),
        _ => None,
    };
    let meets = |content: &Content| {
        content.is_protic(&plan.materials)
            || matches!(
                alive::class(plan, content),
                Some(ReagentClass::Amine | ReagentClass::Alcohol)
            )
            || alive::is_named(plan, content, "pyridine")
    };
    let before = moment.before.get(moment.vessel)?;
    let after = moment.after.get(moment.vessel)?;
    if before.unclear || before.quenched.is_some() {
        return None;
    }
    let source = after
        .contents
        .iter()
        .find(|content| each(content).is_some())?;
    let partner = after.contents.iter().find(|content| meets(content))?;
    let amount = source.amount?;
    // It was spoken of where it came from.
    let addition = moment.additions.iter().find(|addition| {
        let content = &addition.content;
        addition.from.is_none() && (each(content).is_some() || meets(content))
    })?;
    if amount.get::<millimole>() < 1.0 {
        return None;
    }
    let room = Pressure::new::<pressure::atmosphere>(1.0);
    let volume = chemistry::molar_volume(plan.room.temperature, room) * amount * each(source)?;
    let name = source.name(&plan.materials);
    let message = format!(
        "{name} gives up to {} of phosgene with {}, and the plan does not say where it goes: work in the hood with a phosgene badge, and scrub the gas with 2 M sodium hydroxide.",
        sensitive::volume_text(volume),
        partner.name(&plan.materials)
    );
    let finding = Finding::new(&CHECK, addition.at, message);
    let note = "note off-gas through a scrubber of 2 M sodium hydroxide";
    Some(match edit::insert_before(plan, moment.line, &[note]) {
        Some(edit) => finding.fix("Write that the gas is scrubbed", vec![edit]),
        None => finding,
    })
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
        | "tetrabutylammonium cyanide"
        | "trimethylsilyl cyanide"
        | "sodium cyanoborohydride" => Some(Gas::HydrogenCyanide),
        "sodium azide" | "lithium azide" | "azidotrimethylsilane" => Some(Gas::HydrazoicAcid),
        "sodium hydrogen sulfide" | "sodium sulfide" | "sodium sulfide nonahydrate" => {
            Some(Gas::HydrogenSulfide)
        }
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
        | "hydrogen fluoride"
        | "perchloric acid"
        | "chlorosulfonic acid"
        | "trifluoroacetic acid"
        | "trifluoroacetic acid-d"
        | "camphorsulfonic acid"
        | "p-toluenesulfonic acid"
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
        | "pivalic acid"
        | "tartaric acid"
        | "oxalic acid" => Some(Acidity::Weak),
        _ => None,
    }
}

/// How many of the salt a mole of what destroys it takes.
fn destroys(plan: &Plan, content: &Content, gas: Gas) -> Option<f64> {
    let name = content.substance(&plan.materials)?.name();
    match (gas, name) {
        (Gas::HydrogenCyanide | Gas::HydrogenSulfide, "sodium hypochlorite")
        | (Gas::HydrazoicAcid, "sodium nitrite")
        | (Gas::Chlorine, "sodium sulfite" | "sodium hydrogen sulfite") => Some(1.0),
        (Gas::Chlorine, "sodium thiosulfate" | "sodium thiosulfate pentahydrate") => Some(4.0),
        _ => None,
    }
}

/// What destroys the salt is there, nobody knows how much.
fn is_destroyed(plan: &Plan, state: &VesselState, gas: Gas) -> bool {
    state
        .contents
        .iter()
        .any(|content| content.amount.is_none() && destroys(plan, content, gas).is_some())
}

/// More hydroxide, carbonate or strong amine than acid, as far as amounts are known.
fn is_basic(plan: &Plan, state: &VesselState) -> bool {
    let sum = |which: &dyn Fn(&Content) -> bool| -> Option<AmountOfSubstance> {
        let mut sum = AmountOfSubstance::default();
        for content in state.contents.iter().filter(|content| which(content)) {
            sum += content.amount?;
        }
        Some(sum)
    };
    let base = sum(&|content| is_base(plan, content));
    let acid = sum(&|content| acid(plan, content).is_some());
    matches!((base, acid), (Some(base), Some(acid)) if base > acid && acid.value > 0.0)
}

fn is_base(plan: &Plan, content: &Content) -> bool {
    content.substance(&plan.materials).is_some_and(|substance| {
        ["hydroxide", "carbonate"]
            .iter()
            .any(|word| substance.name().contains(word))
            || STRONG.contains(&substance.name())
    })
}

/// Amines that hold hydrocyanic acid, as pyridine and aniline do not.
const STRONG: [&str; 4] = [
    "triethylamine",
    "N,N-diisopropylethylamine",
    "1,8-diazabicyclo[5.4.0]undec-7-ene",
    "1,1,3,3-tetramethylguanidine",
];

/// The acid that is there, in protons; none where an amount is not known.
fn protons(plan: &Plan, state: &VesselState) -> Option<AmountOfSubstance> {
    let mut sum = AmountOfSubstance::default();
    for content in &state.contents {
        if acid(plan, content).is_some() {
            // A hydrate's water is no acid.
            let each = match content.substance(&plan.materials)?.name() {
                "phosphoric acid" | "citric acid" | "citric acid monohydrate" => 3.0,
                "sulfuric acid" | "oxalic acid" | "tartaric acid" => 2.0,
                _ => 1.0,
            };
            sum += content.amount? * each;
        }
    }
    Some(sum)
}

/// What is left of the salt when everything else that may take it has taken one equivalent of it.
fn left(plan: &Plan, state: &VesselState, source: &Content, gas: Gas) -> Option<AmountOfSubstance> {
    let mut left = source.amount?;
    for content in &state.contents {
        if let Some(each) = destroys(plan, content, gas) {
            left -= content.amount.unwrap_or_default() * each;
            continue;
        }
        let other = gas_of(plan, content);
        // Hypochlorite takes the other salts.
        let salt = other.is_some() && (gas != Gas::Chlorine || other == Some(gas));
        let reactant = !salt
            && acid(plan, content).is_none()
            && !stands_by(plan, content, gas)
            && !sensitive::is_solvent(plan, content)
            && !content.is_aqueous(&plan.materials);
        if reactant {
            left -= content.amount?;
        }
    }
    Some(left)
}

/// Bases, amines and salts take no cyanide and no azide; hypochlorite they may.
fn stands_by(plan: &Plan, content: &Content, gas: Gas) -> bool {
    use ReagentClass as C;
    let inert = matches!(
        alive::class(plan, content),
        Some(
            C::Salt
                | C::Amine
                | C::Adsorbent
                | C::DryingAgent
                | C::InertGas
                | C::Hydrocarbon
                | C::Ether
        )
    );
    gas != Gas::Chlorine && (inert || is_base(plan, content))
}

/// Somewhere in its words the plan speaks of a scrubber.
fn scrubs(plan: &Survey<'_>) -> bool {
    // A title may say that there is none.
    let text = plan.lower();
    let text = text.split_once('\n').map_or(text, |(_, below)| below);
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
    fn finds_phosgene_of_triphosgene() {
        let with = |steps: &str| {
            plan(steps)
                .replace("bromide: benzyl bromide", "bromide: benzyl alcohol")
                .replace(
                    "acoh: acetic acid, 2.00 eq",
                    "triphosgene: triphosgene, 0.40 eq\n  py: pyridine, 1.20 eq\n  dcm: dichloromethane, 40 mL",
                )
        };
        // 3 × 4.0 mmol × 24.1 mL/mmol at 21 °C: 290 mL.
        let before = "
  add bromide, triphosgene, dcm
               ^^^^^^^^^^^ warning: triphosgene gives up to 290 mL of phosgene with bromide
  add py
";
        let before = before.replace(
            "               ^^^^^^^^^^^ warning",
            "      ^^^^^^^ warning",
        );
        expect(&CHECK, &with(&before));
        expect_fixed(
            &CHECK,
            &with(&before),
            0,
            &with(
                "  note off-gas through a scrubber of 2 M sodium hydroxide\n  add bromide, triphosgene, dcm\n  add py\n",
            ),
        );
        for steps in [
            "add triphosgene, dcm",
            "add bromide, triphosgene 0.2 mmol, dcm",
            "note scrubber on the outlet\n  add bromide, triphosgene, dcm",
        ] {
            expect(&CHECK, &with(&format!("  {steps}\n")));
        }
    }

    #[test]
    fn tells_of_much_carbon_monoxide() {
        let with = |steps: &str| {
            plan(steps).replace(
                "acoh: acetic acid, 2.00 eq",
                "oxalyl: oxalyl chloride, 6.00 eq\n  dmso: dimethyl sulfoxide, 12.0 eq\n  dcm: dichloromethane, 40 mL",
            )
        };
        // 60 mmol × 24.1 mL/mmol at 21 °C: 1.45 L.
        expect(
            &CHECK,
            &with(
                "  add oxalyl, dcm\n  cool to -78 °C\n  add dmso dropwise\n      ^^^^ information: This gives up to 1.45 L of carbon monoxide\n  add bromide dropwise\n",
            ),
        );
        expect(
            &CHECK,
            &with("  add oxalyl 20 mmol, dcm\n  cool to -78 °C\n  add dmso dropwise\n"),
        );
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
    fn counts_what_may_take_it_and_the_acid_that_is_there() {
        let more = "materials
  k2co3: potassium carbonate, 2.00 eq
  kcn: potassium cyanide, 1.50 eq
  nash: sodium hydrosulfide, 1.00 eq
  sulfide: sodium sulfide nonahydrate, 1.00 eq
  lin3: lithium azide, 1.50 eq
  tbacn: tetrabutylammonium cyanide, 1.50 eq
  nitrite: sodium nitrite, 0.05 eq
  tsoh: p-toluenesulfonic acid monohydrate, 0.10 eq
";
        for steps in [
            // Carbonate takes no azide, and 120 mmol of acid are more than 20 mmol of it.
            "  add azide, bromide, k2co3, dmf\n  quench with 2 M HCl 60 mL\n                  ^^^ warning: Acid frees up to 121 mL of hydrazoic acid\n",
            // 1.0 mmol of acid frees 1.0 mmol.
            "  add azide, bromide, dmf\n  add tsoh\n      ^^^^ warning: Acid frees up to 24.1 mL of hydrazoic acid\n",
            // 0.5 mmol of nitrite is little for 5.0 mmol: 4.5 mmol are left.
            "  add azide, bromide, nitrite, dmf\n  add hcl\n      ^^^ warning: Acid frees up to 109 mL\n",
            // The bromide may have taken all of the one, and not of the other.
            "  add boro, bromide, kcn, dmf\n  add hcl\n      ^^^ warning: Acid frees up to 121 mL of hydrogen cyanide\n",
            "  add nash, dmf\n  add hcl\n      ^^^ warning: Acid frees up to 241 mL of hydrogen sulfide from what is left of nash\n",
            // 30 mmol of acid are two for each of the 10.0 mmol; 12.0 mmol are that less 8.0 mmol.
            "  add sulfide, dmf\n  add hcl\n      ^^^ warning: Acid frees up to 241 mL of hydrogen sulfide from what is left of sulfide\n",
            "  add sulfide, dmf\n  add hcl 12 mL\n      ^^^ warning: Acid frees up to 48.3 mL of hydrogen sulfide\n",
            "  add sulfide, dmf\n  add hcl 10 mL\n",
            "  add lin3, bromide, dmf\n  add hcl\n      ^^^ warning: Acid frees up to 121 mL of hydrazoic acid\n",
            "  add tbacn, bromide, dmf\n  add hcl\n      ^^^ warning: Acid frees up to 121 mL of hydrogen cyanide\n",
            // Of 5.0 mmol, 1.0 mmol of bleach takes one.
            "  add cyanide, bromide, dmf\n  add bleach 1.0 mL\n  add hcl\n      ^^^ warning: Acid frees up to 96.5 mL of hydrogen cyanide\n",
            "  add azide, bromide, k2co3, dmf\n  add acoh 5 mmol\n",
        ] {
            let text = plan(steps).replacen("materials\n", more, 1);
            expect(
                &CHECK,
                &text.replace(
                    "boro: sodium cyanoborohydride, 1.50 eq",
                    "boro: sodium cyanoborohydride, 1.00 eq",
                ),
            );
        }
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
