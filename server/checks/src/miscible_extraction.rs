//! An extraction of water with a solvent that mixes with it.

use crate::Survey;
use crate::edit;
use crate::sensitive;
use crate::{Check, Finding, Severity};
use chemistry::{Miscibility, ReagentClass, Substance, Tag};
use plan::takes::{self, Slot};
use plan::vessel::{Addition, Moment, VesselState};
use plan::{At, Plan, convert};
use syntax::{Block, Clause, PortionKind, Referent, RemarkKind, Standing, Statement, Thing, Verb};
use uom::si::f64::Volume;
use uom::si::volume::milliliter;

pub(crate) const CHECK: Check = Check {
    name: "miscible-extraction",
    severity: Severity::Error,
    from: crate::Profile::Normal,
    doc: DOC,
    run,
};

const DOC: &str = "\
# Extraction without layers

**Finds** the extraction of an aqueous layer, or of a vessel with water in it, with a solvent that
mixes with water in every proportion: an error, a warning for what a salt can drive out of water
(tetrahydrofuran, acetonitrile, acetone, isopropanol, dioxane). An information, one a plan, where the
vessel still holds more than a third of such a solvent and the extraction brings less of another. A
warning for the separation or extraction of ethers, hydrocarbons, esters and chlorinated solvents
with no water among them.

Silent for solids and residues; after a step that is kept as a remark, and a quench with nothing or with what the
library does not know; where the plan salts the water out (sodium chloride or brine, a
carbonate, a sulfate), and for the second group after anything saturated; where another solvent of the
step does not mix with water; where a hydrocarbon is in the vessel, which is then what is extracted; for
tetrahydrofuran from the reaction, which salts keep out of the water; where volumes are not known.

**Why it matters.** No layers form, and nothing can be drawn off. With much alcohol or
dimethylformamide in it, water keeps the product, and a little of another solvent dissolves in both.

**Example**

    steps
      add thf 20 mL, ketone
      quench with water 20 mL
      extract with acetone, 3 x 20 mL

**Write instead**

    steps
      add thf 20 mL, ketone
      quench with water 20 mL
      extract with tert-butyl methyl ether, 3 x 20 mL

Ethyl acetate and dichloromethane also make layers. Concentrate an alcohol or acetonitrile off before the extraction,
and wash dimethylformamide out with much water.

**Sources.** Miscibility with water: the library's rows (common practice; some from encyclopaedia
articles). The share of a third and the amounts are common practice.
";

fn run(plan: &Survey<'_>, findings: &mut Vec<Finding>) {
    let mut informed = false;
    for (index, moment) in plan.moments.iter().enumerate() {
        let Some(clause) = sensitive::clause(plan, moment)
            .filter(|clause| matches!(clause.verb, Verb::Extract | Verb::Separate))
        else {
            continue;
        };
        if let Some(finding) = without_water(plan, index, moment, clause) {
            findings.push(finding);
            continue;
        }
        if clause.verb != Verb::Extract {
            continue;
        }
        if let Some(finding) = of_the_solvent(plan, index, moment, clause) {
            findings.push(finding);
        } else if !informed && let Some(finding) = of_the_vessel(plan, index, moment, clause) {
            informed = true;
            findings.push(finding);
        }
    }
}

/// Layers are to be drawn off of organic liquids that mix with each other.
fn without_water(plan: &Plan, index: usize, moment: &Moment, clause: &Clause) -> Option<Finding> {
    let materials = &plan.materials;
    let state = moment.before.get(moment.vessel)?;
    use ReagentClass as C;
    // Amides, sulfoxides and nitriles make a layer of their own under a hydrocarbon.
    let hydrocarbon = |substance: Substance| substance.class() == Some(C::Hydrocarbon);
    let polar = |substance: Substance| {
        matches!(
            substance.class(),
            Some(C::AmideSolvent | C::Sulfoxide | C::Nitrile)
        )
    };
    let organic = |substance: Substance| {
        let class = substance.class();
        let plain = matches!(
            class,
            Some(C::Ether | C::HalogenatedSolvent | C::Ester | C::Ketone | C::Amine)
        );
        plain || hydrocarbon(substance) || polar(substance)
    };
    let (mut liquids, mut oily, mut watery) = (0, false, false);
    for content in &state.contents {
        // A solid that is sold wet makes no layer.
        let names_water = content.is_aqueous(materials)
            && (content.volume.is_some() || content.is_liquid(materials));
        let solvent = sensitive::is_solvent(plan, content);
        if names_water
            || !solvent && content.is_liquid(materials) && content.substance(materials).is_none()
        {
            return None;
        }
        if solvent {
            let own = content.substance(materials);
            let parts = content.parts(materials).map(|(part, _)| part);
            for part in parts.chain([own]).flatten() {
                if !organic(part) {
                    return None;
                }
                oily |= hydrocarbon(part);
                watery |= polar(part);
            }
            liquids += 1;
        }
        // What it is dissolved in.
        if let Some(material) = sensitive::material(plan, content)
            && material.diluted
            && content.is_liquid(materials)
        {
            let carrier = material.carrier.as_deref().map(chemistry::find_name);
            let carrier = carrier.and_then(plan::one).filter(|part| organic(*part));
            oily |= carrier.is_none_or(hydrocarbon);
            watery |= carrier.is_some_and(polar);
            liquids += 1;
        }
    }
    let others = matches!(clause.objects.as_slice(), [thing] if matches!(thing.referent, Referent::Standing(Standing::Aqueous, _)));
    let mut brings_water = false;
    for thing in with(clause) {
        let parts = parts(plan, thing)?;
        brings_water |= !parts.iter().all(|part| organic(*part));
        oily |= parts.iter().any(|part| hydrocarbon(*part));
        watery |= parts.iter().any(|part| polar(*part));
    }
    // What was washed or extracted before has met water that is no longer followed.
    let worked_up = || {
        plan.moments.iter().take(index).any(|earlier| {
            sensitive::clause(plan, earlier).is_some_and(|clause| {
                let layer = |thing: &Thing| matches!(thing.referent, Referent::Standing(..));
                matches!(clause.verb, Verb::Extract | Verb::Separate)
                    || is_poured_onto(plan, clause)
                    || may_bring_water(plan, earlier, clause)
                    || clause.verb == Verb::Wash && clause.objects.iter().any(layer)
            })
        }) || is_untold(plan, moment.line)
    };
    if state.unclear
        || oily && watery
        || liquids == 0
        || brings_water
        || !(clause.objects.is_empty() || others)
        || worked_up()
    {
        return None;
    }
    let at = At {
        line: moment.line,
        span: clause.verb_span,
    };
    let message = format!(
        "Nothing in {} has water in it, so that no layers form: was the quench or a wash forgotten?",
        sensitive::name(plan, moment.vessel)
    );
    Some(Finding::new(&CHECK, at, message).severity(Severity::Warning))
}

/// An acid or base to a pH, a quench that does not say with what, or with something that the library does not know.
fn may_bring_water(plan: &Plan, moment: &Moment, clause: &Clause) -> bool {
    let unknown = |addition: &Addition| addition.content.substance(&plan.materials).is_none();
    match clause.verb {
        Verb::Acidify | Verb::Basify => true,
        Verb::Quench => moment.additions.is_empty() || moment.additions.iter().any(unknown),
        _ => false,
    }
}

/// A step above this line has a verb that is not known, or no reading: it may have brought water.
fn is_untold(plan: &Plan, line: u32) -> bool {
    let mut above = plan.text.lines.iter().take(line as usize);
    above.any(|line| match &line.statement {
        Statement::Remark(RemarkKind::Remark, _) => !line.problems.is_empty(),
        Statement::Unread(_) => line.block == Block::Steps,
        _ => false,
    })
}

/// `pour onto ice 50 g`: the vessel goes to something that is no vessel.
fn is_poured_onto(plan: &Plan, clause: &Clause) -> bool {
    let is_vessel = |thing: &Thing| match thing.referent {
        Referent::Key(id) => plan.apparatus.iter().any(|item| item.id == Some(id)),
        _ => false,
    };
    matches!(clause.verb, Verb::Pour | Verb::Transfer)
        && takes::things(clause).any(|(slot, thing)| slot == Slot::To && !is_vessel(thing))
}

/// What is extracted with mixes with water.
fn of_the_solvent(plan: &Plan, index: usize, moment: &Moment, clause: &Clause) -> Option<Finding> {
    let state = moment.before.get(moment.vessel)?;
    if !is_water(plan, state, clause) || salted(plan, index) {
        return None;
    }
    let solvents: Vec<(&Thing, Vec<Substance>)> = with(clause)
        .map(|thing| Some((thing, parts(plan, thing)?)))
        .collect::<Option<_>>()?;
    let (thing, _) = solvents.first()?;
    let all = || solvents.iter().flat_map(|(_, parts)| parts.iter().copied());
    let mixes = |substance: Substance| {
        substance.has(Tag::Solvent)
            && substance.class() != Some(ReagentClass::Water)
            && is(substance, Miscibility::Miscible)
    };
    if !all().all(mixes) {
        return None;
    }
    let driven_out = all().any(|substance| {
        matches!(
            substance.name(),
            "tetrahydrofuran" | "acetonitrile" | "acetone" | "propan-2-ol" | "1,4-dioxane"
        )
    });
    if driven_out && saturated(plan, index) {
        return None;
    }
    let name = &thing.name.text;
    let message = format!(
        "{name} mixes with water, so that no layers form: extract with ethyl acetate, tert-butyl methyl ether or dichloromethane."
    );
    let at = At {
        line: moment.line,
        span: thing.name.span,
    };
    let mut finding = Finding::new(&CHECK, at, message);
    if driven_out {
        finding = finding.severity(Severity::Warning);
    }
    if solvents.len() == 1 && matches!(thing.referent, Referent::Substance(None)) {
        finding = finding.fix(
            "Extract with ethyl acetate",
            vec![edit::replace(plan, at, "ethyl acetate")],
        );
    }
    Some(finding)
}

/// What is in the vessel already keeps water and solvent together.
fn of_the_vessel(plan: &Plan, index: usize, moment: &Moment, clause: &Clause) -> Option<Finding> {
    let state = moment.before.get(moment.vessel)?;
    if !clause.objects.is_empty() || !is_water(plan, state, clause) || salted(plan, index) {
        return None;
    }
    let whole = state.volume(&plan.materials)?;
    let (mut mixing, mut apart) = (Volume::default(), Volume::default());
    let mut largest: Option<(&str, Volume)> = None;
    for content in &state.contents {
        let (Some(volume), Some(substance)) = (content.volume, content.substance(&plan.materials))
        else {
            continue;
        };
        if content.is_aqueous(&plan.materials) || substance.name() == "tetrahydrofuran" {
            continue;
        }
        if is(substance, Miscibility::Miscible) && substance.has(Tag::Solvent) {
            mixing += volume;
            if largest.is_none_or(|(_, most)| volume > most) {
                largest = Some((content.name(&plan.materials), volume));
            }
        } else {
            apart += volume;
        }
    }
    let (name, _) = largest?;
    let mut brought = Volume::default();
    for thing in with(clause) {
        for substance in parts(plan, thing)? {
            if is(substance, Miscibility::Miscible) {
                return None;
            }
        }
        brought += volume(moment.line, thing)?;
    }
    if mixing <= whole / 3.0 || apart + brought >= mixing {
        return None;
    }
    let at = At {
        line: moment.line,
        span: clause.verb_span,
    };
    let text = |volume: Volume| {
        let millilitres = volume.get::<milliliter>();
        format!("{} mL", sensitive::figures(millilitres, 2))
    };
    let message = format!(
        "{} of {name} mixes water and the {} that it is extracted with: concentrate most of {name} off first if it boils low enough, or use more water and solvent.",
        text(mixing),
        text(brought)
    );
    Some(Finding::new(&CHECK, at, message).severity(Severity::Information))
}

fn with(clause: &Clause) -> impl Iterator<Item = &Thing> {
    takes::things(clause)
        .filter(|(slot, _)| *slot == Slot::With)
        .map(|(_, thing)| thing)
}

/// The step extracts water: the aqueous layer, or a vessel with water and no hydrocarbon in it.
fn is_water(plan: &Plan, state: &VesselState, clause: &Clause) -> bool {
    let vessel = || {
        let hydrocarbon = state.contents.iter().any(|content| {
            let own = content.substance(&plan.materials);
            let parts = content.parts(&plan.materials).map(|(part, _)| part);
            parts
                .chain([own])
                .flatten()
                .any(|substance| substance.class() == Some(ReagentClass::Hydrocarbon))
        });
        !state.unclear
            && !hydrocarbon
            && state
                .contents
                .iter()
                .any(|content| content.is_aqueous(&plan.materials))
    };
    match clause.objects.as_slice() {
        [] => vessel(),
        [thing] => match &thing.referent {
            Referent::Standing(Standing::Aqueous, _) => true,
            Referent::Key(id) => plan.apparatus.iter().any(|item| item.id == Some(*id)) && vessel(),
            _ => false,
        },
        _ => false,
    }
}

/// The substances of a thing without a strength; none where one of them is not known.
fn parts(plan: &Plan, thing: &Thing) -> Option<Vec<Substance>> {
    match &thing.referent {
        Referent::Key(id) => {
            let material = plan.material(*id)?.0;
            if material.strength_text.is_some() {
                return None;
            }
            let mixture = &material.identity.mixture;
            if mixture.is_empty() {
                Some(vec![material.identity.substance?])
            } else {
                mixture.iter().map(|part| part.substance).collect()
            }
        }
        Referent::Substance(None) => Some(vec![chemistry::find_name(&thing.name.text).one()?]),
        Referent::Mixture(parts) => parts
            .iter()
            .map(|(name, _)| chemistry::find_name(&name.text).one())
            .collect(),
        _ => None,
    }
}

fn is(substance: Substance, miscibility: Miscibility) -> bool {
    substance
        .miscibility_with_water()
        .is_some_and(|(found, _)| found == miscibility)
}

fn volume(line: u32, thing: &Thing) -> Option<Volume> {
    thing
        .portions
        .iter()
        .find_map(|portion| match &portion.kind {
            PortionKind::Amount { times, amount } => {
                let one = convert::volume(amount.quantity.as_ref()?, line)?.value;
                Some(one * f64::from(*times))
            }
            _ => None,
        })
}

/// A salt that drives solvents out of water has come in before, or brine.
fn salted(plan: &Plan, index: usize) -> bool {
    let before = plan.moments.iter().take(index);
    before.flat_map(|moment| &moment.additions).any(|addition| {
        let content = &addition.content;
        let name = content
            .substance(&plan.materials)
            .map_or("", Substance::name);
        let brine = content.name(&plan.materials).eq_ignore_ascii_case("brine");
        let carbonate = name.ends_with(" carbonate") || name.contains("phosphate");
        brine || carbonate || name == "sodium chloride" || name.ends_with(" sulfate")
    })
}

/// Something saturated has come in before.
fn saturated(plan: &Plan, index: usize) -> bool {
    let before = plan.moments.iter().take(index);
    before
        .filter(|moment| !moment.additions.is_empty())
        .any(|moment| {
            let at = sensitive::line_at(plan, moment.line);
            let written = plan
                .slice(at.line, at.span)
                .is_some_and(|text| text.contains("sat"));
            written
                || moment.additions.iter().any(|addition| {
                    sensitive::material(plan, &addition.content)
                        .and_then(|material| material.strength_text.as_deref())
                        .is_some_and(|text| text.contains("sat"))
                })
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
materials
  ketone: cyclohexanone, 1.0 g
  meoh: methanol, 30 mL
  thf: tetrahydrofuran, 30 mL
  salt: sodium chloride, 5 g
  buffer: phosphate buffer pH 7, 20 mL
equipment
  flask: 250 mL flask
steps
{steps}"
        )
    }

    #[test]
    fn finds_a_solvent_that_mixes_with_water() {
        let before = "
  add ketone, water 20 mL
  extract with methanol, 3 x 20 mL
               ^^^^^^^^ error: methanol mixes with water, so that no layers form
";
        expect(&CHECK, &plan(before));
        expect_fixed(
            &CHECK,
            &plan(before),
            0,
            &plan("  add ketone, water 20 mL\n  extract with ethyl acetate, 3 x 20 mL\n"),
        );
        expect(
            &CHECK,
            &plan(
                "
  add ketone, thf 20 mL
  quench with 1 M HCl 20 mL
  separate
  extract aqueous with acetone, 2 x 20 mL
                       ^^^^^^^ warning: acetone mixes with water
  extract aqueous with meoh
                       ^^^^ error: meoh mixes with water
",
            ),
        );
    }

    #[test]
    fn finds_layers_without_water() {
        expect(
            &CHECK,
            &plan(
                "
  add ketone, thf, tert-butyl methyl ether 20 mL
  separate
  ^^^^^^^^ warning: Nothing in flask has water in it, so that no layers form
",
            ),
        );
        expect(
            &CHECK,
            &plan(
                "
  add ketone, thf
  extract with pentane, 3 x 20 mL
  ^^^^^^^ warning: Nothing in flask has water in it
",
            ),
        );
        for steps in [
            "add ketone, thf\n  quench with sat. aq. NH4Cl 10 mL\n  separate",
            "add ketone, N,N-dimethylformamide 20 mL, hexane 20 mL\n  separate",
            "add ketone, N,N-dimethylformamide 20 mL\n  extract with pentane, 3 x 20 mL",
            "add ketone, thf\n  extract with 1 M HCl, 2 x 20 mL",
            "add ketone, thf\n  add something 20 mL\n  separate",
            "add ketone, thf\n  wash organics with water 20 mL\n  separate",
            "add ketone, thf\n  quench\n  extract with ethyl acetate, 3 x 20 mL",
            "add ketone, thf\n  quench with buffer\n  extract with ethyl acetate, 3 x 20 mL",
            "add ketone, thf\n  acidify with 1 M HCl to pH 2\n  extract with ethyl acetate, 3 x 20 mL",
            "add ketone, thf\n  partition between ethyl acetate 30 mL and water 30 mL\n  separate",
            "separate",
        ] {
            expect(&CHECK, &plan(&format!("  {steps}\n")));
        }
    }

    #[test]
    fn mentions_once_what_is_left_in_the_vessel() {
        expect(
            &CHECK,
            &plan(
                "
  add ketone, meoh
  add water 20 mL
  extract with ethyl acetate 20 mL
  ^^^^^^^ information: 30 mL of meoh mixes water and the 20 mL
",
            ),
        );
    }

    #[test]
    fn is_silent_where_layers_form_or_no_water_is_there() {
        for steps in [
            "add ketone, water 20 mL\n  extract with ethyl acetate, 3 x 20 mL",
            "add ketone, water 20 mL\n  extract with chloroform/isopropanol 3:1, 3 x 20 mL",
            "add ketone, water 20 mL\n  add salt\n  extract with acetonitrile, 3 x 20 mL",
            "add ketone, sat. aq. NH4Cl 20 mL\n  extract with tetrahydrofuran, 3 x 20 mL",
            "add ketone, water 20 mL\n  concentrate\n  extract with acetone, 3 x 20 mL",
            "add ketone, water 20 mL\n  filter, keep solid\n  extract solid with methanol, 3 x 20 mL",
            "add ketone, hexane 20 mL\n  extract with acetonitrile, 3 x 20 mL",
            "add ketone, hexane 20 mL, water 1 mL\n  extract with acetonitrile, 3 x 20 mL",
            "add ketone, dichloromethane 20 mL\n  extract with 1 M HCl, 2 x 20 mL",
            "add ketone, dichloromethane 20 mL, water 20 mL\n  extract organics with water, 2 x 20 mL",
            "add ketone, thf\n  pour into ice water 50 mL\n  extract with ethyl acetate, 3 x 20 mL",
            "add ketone, thf\n  pour flask onto ice 50 g\n  extract with ethyl acetate, 3 x 20 mL",
            "add ketone, thf\n  transfer flask to 1 M HCl 50 mL\n  extract with ethyl acetate, 3 x 20 mL",
            "add ketone, meoh\n  add water 20 mL\n  extract with ethyl acetate, 3 x 20 mL",
            "add ketone, thf\n  add water 20 mL\n  extract with ethyl acetate 10 mL",
        ] {
            expect(&CHECK, &plan(&format!("  {steps}\n")));
        }
    }
}
