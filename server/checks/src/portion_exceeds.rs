//! Portions that add up to more than the materials list.

use crate::Survey;
use crate::edit::{self, Edit};
use crate::sensitive;
use crate::{Check, Finding, Severity};
use chemistry::Tag;
use plan::takes::{self, Slot, Take};
use plan::vessel::{Addition, Apparatus, Moment};
use plan::{Amounts, At, Bottle, Material, Plan, convert, show};
use syntax::{
    Amount, AmountKind, Bound, ModifierKind, Portion, PortionKind, Problem, Referent, Role, Verb,
};

pub(crate) const CHECK: Check = Check {
    name: "portion-exceeds",
    severity: Severity::Error,
    from: crate::Profile::Normal,
    doc: DOC,
    run,
};

const DOC: &str = "\
# More than is there

**Finds** the step from which on the portions of a material are more than its line lists, and a volume that is taken out
of a vessel with less than two thirds of it in there.

It counts written portions only, those of steps that are repeated as often as `repeat` says, and within what their digits claim. A step without a portion takes what the portions of
all other steps leave, earlier and later, and is found where they leave nothing, or where an earlier step without one
took or dissolved it all. It is silent where no amount is listed, and about
what `make up` prepares in excess; beside a concentration to fill up to, below half as much again.

**Why it matters.** Either the list is short, and the bottle runs dry in the middle of a step, or a portion is wrong,
and the amounts that the plan shows are not what goes into the flask.

**Example**

    materials
      thf: tetrahydrofuran, 20 mL
    steps
      add thf 20 mL
      rinse vial with thf 2 mL into flask

**Write instead** what the steps take, or take what is left

    materials
      thf: tetrahydrofuran, 22 mL

**Sources.** Half a unit of the last digit as the interval that a number claims, JCGM 100:2008, 4.3.7, and the root of
the sum of squares for portions that are measured one by one, 5.1.2.
";

fn run(plan: &Survey<'_>, findings: &mut Vec<Finding>) {
    for moment in &plan.moments {
        findings.extend(more_than_there_is(plan, moment));
    }
    let repeats = repeats(plan);
    for (material, listed) in plan.materials.iter().zip(&plan.ledger.amounts) {
        let ruling = material
            .stated_by_rank()
            .into_iter()
            .find(|amount| amount.quantity.is_some());
        let Some(ruling) = ruling.filter(|_| !material.product) else {
            continue;
        };
        if ruling
            .quantity
            .is_some_and(|quantity| quantity.bound != Bound::Exact)
        {
            continue;
        }
        // An amount that could not be read is a finding already.
        let line = plan.text.lines.get(material.line as usize);
        let is_error = |problem: &Problem| problem.severity == syntax::Severity::Error;
        if line.is_some_and(|line| line.problems.iter().any(is_error)) {
            continue;
        }
        let is_filled = ruling.kind == AmountKind::FillTo;
        findings.extend(exceeding(plan, material, listed, is_filled, &repeats));
        findings.extend(taken_again(plan, material));
    }
}

/// So much more, over what is listed, is no matter where a line says `to 0.10 M` (an assumption).
const FILLED: f64 = 0.5;

/// What solids add to a volume is not known, so that a little more may well be there.
const MORE: f64 = 1.5;

/// `transfer vial 62.5 mL to flask`, of 10 mL.
fn more_than_there_is(plan: &Plan, moment: &Moment) -> Option<Finding> {
    let clause = sensitive::clause(plan, moment)
        .filter(|clause| matches!(clause.verb, Verb::Transfer | Verb::Pour | Verb::Add))?;
    clause.objects.iter().find_map(|thing| {
        let Referent::Key(id) = thing.referent else {
            return None;
        };
        let source = plan
            .apparatus
            .iter()
            .position(|item| item.id == Some(id))
            .filter(|&source| source != moment.vessel)?;
        let state = moment.before.get(source)?;
        let there = state
            .volume(&plan.materials)
            .filter(|_| !state.contents.is_empty())?;
        thing.portions.iter().find_map(|portion| {
            let PortionKind::Amount { times: 1, amount } = &portion.kind else {
                return None;
            };
            let wanted = convert::volume(amount.quantity.as_ref()?, moment.line)?.value;
            let at = At {
                line: moment.line,
                span: portion.span,
            };
            let message = format!(
                "This takes {} from {}, which holds {}: check the portion, or make up more.",
                show::volume(wanted),
                thing.name.text,
                show::volume(there)
            );
            (wanted > there * MORE).then(|| Finding::new(&CHECK, at, message))
        })
    })
}

/// A portion of a step: where, how often, and how much in all.
struct Taken<'a> {
    at: At,
    times: u32,
    amount: &'a Amount,
    portion: &'a Portion,
    total: Measure,
}

/// More other portions nobody reads.
const MOST_TOLD: usize = 8;

fn exceeding(
    plan: &Plan,
    material: &Material,
    listed: &Amounts,
    is_filled: bool,
    repeats: &[(u32, u32, u32)],
) -> Option<Finding> {
    let mut taken = Vec::new();
    for take in plan.takes_of(material.id).filter(Take::draws) {
        let Some((times, amount, portion)) = take.quantity() else {
            continue;
        };
        let again = repeats
            .iter()
            .filter(|(first, last, _)| (*first..=*last).contains(&take.line))
            .map(|(.., again)| *again);
        let times = times.saturating_mul(again.fold(1, u32::saturating_add));
        let Ok(amounts) = plan.portion(material, take.line, times, amount) else {
            continue;
        };
        let at = At {
            line: take.line,
            span: portion.span,
        };
        taken.push((at, times, amount, portion, amounts));
    }
    // One way of measuring for the list and for every portion, or nothing can be said.
    let mut ways = [Measure::volume, Measure::mass, Measure::amount];
    if taken
        .iter()
        .any(|(_, _, amount, ..)| amount.kind == AmountKind::Amount)
    {
        ways.reverse();
    }
    let (listed, taken) = ways.iter().find_map(|measure| {
        let total = |amounts: &Amounts| measure(amounts);
        let all = taken.iter().map(|(at, times, amount, portion, amounts)| {
            Some(Taken {
                at: *at,
                times: *times,
                amount,
                portion,
                total: total(amounts)?,
            })
        });
        Some((measure(listed)?, all.collect::<Option<Vec<_>>>()?))
    })?;
    let mut sum = Measure {
        value: 0.0,
        half_width: 0.0,
        ..listed
    };
    let mut over = None;
    for (index, taken) in taken.iter().enumerate() {
        sum = sum.plus(&taken.total);
        let mut slack = sum.half_width.hypot(listed.half_width) * 1.000_001;
        // What a solution is filled up to is not what of the solvent goes in.
        if is_filled {
            slack += listed.value * FILLED;
        }
        if over.is_none() && sum.value - listed.value > slack {
            over = Some(index);
        }
    }
    let bare = plan.takes_of(material.id).find(takes_the_rest);
    let Some(index) = over else {
        return bare.and_then(|bare| nothing_left(plan, material, &sum, &listed, &bare));
    };
    let there = taken.get(index)?;
    // What all the others leave.
    let left = Measure {
        value: listed.value - (sum.value - there.total.value),
        ..listed
    };
    let key = &material.key.text;
    let listed_text = listed
        .written(plan, material)
        .unwrap_or_else(|| listed.show());
    let this = part(plan, there, &left).filter(|_| bare.is_none());
    // Who took it without a portion first meant all that is listed.
    let came_first = bare
        .as_ref()
        .is_some_and(|bare| taken.iter().all(|taken| bare.at().line < taken.at.line));
    let needed = Measure {
        value: sum.value + if came_first { listed.value } else { 0.0 },
        ..sum
    };
    // Another amount of what the scale counts on is another scale.
    let scale = plan.ledger.scale.as_ref().and_then(|scale| scale.key);
    let is_scale = scale == Some(material.id);
    let what_next = match (&this, &bare) {
        (Some((_, words)), _) if is_scale => {
            format!(
                "rescale the plan to {}, or make this portion {words}",
                sum.show()
            )
        }
        (_, None) if is_scale => format!("rescale the plan to {}", sum.show()),
        (Some((_, words)), _) => format!("list {}, or make this portion {words}", sum.show()),
        (None, Some(_)) if came_first => {
            format!("list {}, and write each portion", needed.show())
        }
        (None, Some(_)) => "write each portion, and list their sum".to_owned(),
        (None, None) => format!("list {}", sum.show()),
    };
    let besides = if bare.is_some() {
        ", besides what is taken without a portion"
    } else {
        ""
    };
    let message = format!(
        "The steps use {} of {key}{besides}, but only {} is listed: {what_next}.",
        sum.show(),
        listed_text
    );
    let mut finding = Finding::new(&CHECK, there.at, message).related(
        At {
            line: material.line,
            span: material.key.span,
        },
        format!("{listed_text} listed here"),
    );
    for (other, taken) in taken
        .iter()
        .enumerate()
        .filter(|(other, _)| *other != index)
        .take(MOST_TOLD)
    {
        let word = if other < index {
            "taken before"
        } else {
            "taken after"
        };
        finding = finding.related(taken.at, format!("{} {word}", taken.total.show()));
    }
    if let Some(bare) = &bare {
        finding = finding.related(bare.at(), "taken without a portion");
    }
    if (bare.is_none() || came_first)
        && !is_scale
        && let Some(edits) = list_more(plan, material, needed.value / listed.value)
    {
        finding = finding.fix(format!("List {} of {key}", needed.show()), edits);
    }
    if let Some((edits, words)) = this {
        finding = finding.fix(format!("Take {words} here"), edits);
    }
    Some(finding.undecided())
}

/// Steps that are done again: the lines of the first and the last of them, and how often. What is repeated until something
/// is seen is not told.
fn repeats(plan: &Plan) -> Vec<(u32, u32, u32)> {
    let mut lines: Vec<u32> = Vec::new();
    let mut repeats = Vec::new();
    for (index, step) in takes::steps(&plan.text) {
        if let [clause] = step.clauses.as_slice()
            && clause.verb == Verb::Repeat
        {
            let (mut last, mut again) = (1, 1);
            for modifier in &clause.modifiers {
                match &modifier.kind {
                    ModifierKind::LastSteps(count) => last = *count,
                    ModifierKind::Count(_, count) => again = *count,
                    ModifierKind::UntilText(_) => again = 0,
                    _ => {}
                }
            }
            let from = usize::try_from(last).map_or(0, |last| lines.len().saturating_sub(last));
            if let Some((first, last)) = lines.get(from).zip(lines.last()) {
                repeats.push((*first, *last, again));
            }
        }
        lines.push(index);
    }
    repeats
}

/// A step that brings it in without a portion, and does not only handle what is there.
fn takes_the_rest(take: &Take<'_>) -> bool {
    let handles =
        take.slot == Slot::Object && matches!(take.clause.verb, Verb::Dissolve | Verb::Suspend);
    let brings = matches!(take.slot, Slot::Object | Slot::DissolvedIn | Slot::With);
    let bare = match take.thing.portions.as_slice() {
        [] => true,
        [portion] => matches!(portion.kind, PortionKind::Rest),
        _ => false,
    };
    take.draws() && brings && bare && !handles && takes::fills_up_to(take.clause).is_none()
}

/// `add base` after `add base`: the first took all of it. Solvents have a hint of their own, and what a work-up names
/// again is poured from the bottle.
fn taken_again(plan: &Plan, material: &Material) -> Option<Finding> {
    let poured = material.role == Some(Role::Solvent)
        || material.has(Tag::Solvent)
        || matches!(material.bottle, Bottle::Gas)
        || plan.is_taken_about(material);
    let dissolves = |take: &Take<'_>| {
        take.slot == Slot::Object
            && matches!(take.clause.verb, Verb::Dissolve | Verb::Suspend)
            && take.thing.portions.is_empty()
    };
    // What nothing has brought in before, dissolving brings in.
    let first = plan.takes_of(material.id).next()?;
    let first = Some(first).filter(dissolves);
    let mut takes = first
        .into_iter()
        .chain(plan.takes_of(material.id).filter(takes_the_rest));
    let (first, again, more) = (takes.next()?, takes.next()?, takes.next());
    let adds = |take: &Take<'_>| {
        take.slot == Slot::Object && matches!(take.clause.verb, Verb::Add | Verb::Charge)
    };
    // What is rinsed or titrated stays for the most part.
    let moves = dissolves(&first)
        || first.slot == Slot::Object
            && matches!(
                first.clause.verb,
                Verb::Add | Verb::Charge | Verb::Transfer | Verb::Pour
            );
    if poured || first.line == again.line || !moves || !adds(&again) {
        return None;
    }
    let went = |take: &Take<'_>| {
        let moment = plan.moments.iter().find(|moment| {
            let mut additions = moment.additions.iter();
            additions.any(|addition| addition.at == take.at())
        });
        moment.and_then(|moment| plan.apparatus.get(moment.vessel))
    };
    // `add the ketone solution`, and what was weighed in, is followed from the vessel that it is in.
    let followed = |addition: &Addition| addition.from.is_some() && addition.at == again.at();
    if plan
        .moments
        .iter()
        .any(|moment| moment.additions.iter().any(followed))
    {
        return None;
    }
    let key = &material.key.text;
    let (from, to) = (went(&first)?, went(&again)?);
    // What stands there alone may be meant; a reaction mixture is hardly.
    let elsewhere = from
        .id
        .filter(|_| from.id != to.id && stands_alone(plan, material, &again, from));
    let advice = match elsewhere {
        Some(_) => format!("write {} if what is in it is meant", from.name),
        None if dissolves(&first) => {
            format!("say in which vessel {key} is dissolved, and add that vessel")
        }
        None => "write the portion of each step".to_owned(),
    };
    let message = format!(
        "An earlier step took all of {key}, so that nothing is left for this one: {advice}."
    );
    let finding = Finding::new(&CHECK, again.at(), message)
        .severity(Severity::Warning)
        .related(first.at(), "taken without a portion");
    let half = format!("half of {key}");
    Some(match elsewhere {
        Some(_) => finding.fix(
            format!("Write {}", from.name),
            vec![edit::replace(plan, again.at(), &*from.name)],
        ),
        None if more.is_none()
            && !dissolves(&first)
            && first.thing.portions.is_empty()
            && again.thing.portions.is_empty()
            && first.thing.adjective.is_none()
            && plan.takes_of(material.id).filter(Take::draws).count() == 2 =>
        {
            let edits = [&first, &again].map(|take| edit::replace(plan, take.at(), &*half));
            finding.fix("Take half in each step", edits.into())
        }
        None => finding,
    })
}

/// Before a step, nothing is in a vessel but a material and solvents.
fn stands_alone(plan: &Plan, material: &Material, again: &Take<'_>, vessel: &Apparatus) -> bool {
    let moment = plan.moments.iter().find(|moment| {
        let mut additions = moment.additions.iter();
        additions.any(|addition| addition.at == again.at())
    });
    let index = plan.apparatus.iter().position(|item| item.id == vessel.id);
    let state = moment
        .zip(index)
        .and_then(|(moment, index)| moment.before.get(index));
    state.is_some_and(|state| {
        state.contents.iter().all(|content| {
            content.name(&plan.materials) == &*material.key.text
                || sensitive::is_solvent(plan, content)
        })
    })
}

/// The portions of the other steps are all that is listed.
fn nothing_left(
    plan: &Plan,
    material: &Material,
    sum: &Measure,
    listed: &Measure,
    bare: &Take<'_>,
) -> Option<Finding> {
    if sum.value <= 0.0 || listed.value - sum.value > listed.value * 1e-6 {
        return None;
    }
    let key = &material.key.text;
    let message = format!(
        "The portions of other steps are all {} of {key} that is listed, so that nothing is left for this one: list more, and write its portion.",
        listed
            .written(plan, material)
            .unwrap_or_else(|| listed.show())
    );
    let line = At {
        line: material.line,
        span: material.key.span,
    };
    Some(
        Finding::new(&CHECK, bare.at(), message)
            .related(line, "listed here")
            .undecided(),
    )
}

/// Every stated amount of the line times the same factor.
fn list_more(plan: &Plan, material: &Material, factor: f64) -> Option<Vec<Edit>> {
    let stated = material
        .stated
        .iter()
        .filter_map(|amount| amount.quantity.as_ref());
    edit::multiply(
        plan,
        material.line,
        stated.map(|quantity| (quantity, factor)),
    )
}

/// The portion as what is left, if anything is, and how it would be written.
fn part(plan: &Plan, there: &Taken<'_>, left: &Measure) -> Option<(Vec<Edit>, String)> {
    let quantity = there
        .amount
        .quantity
        .as_ref()
        .filter(|quantity| quantity.to.is_none())?;
    let factor = left.value / there.total.value;
    if !(factor.is_finite() && factor > 1e-6) {
        return None;
    }
    let number = show::scaled(&quantity.number, factor)?;
    let unit = plan.slice(there.at.line, quantity.unit_span)?;
    let words = match (&there.portion.kind, there.times) {
        (PortionKind::Amount { times, .. }, _) if *times > 1 => {
            format!("{times} x {number} {unit}")
        }
        _ => format!("{number} {unit}"),
    };
    Some((
        vec![edit::replace(
            plan,
            At {
                line: there.at.line,
                span: quantity.number.span,
            },
            number,
        )],
        words,
    ))
}

/// An amount in the one unit in which it is compared.
#[derive(Clone, Copy)]
struct Measure {
    value: f64,
    half_width: f64,
    kind: fn(&AmountKind) -> bool,
    show: fn(f64) -> String,
}

impl Measure {
    fn volume(amounts: &Amounts) -> Option<Measure> {
        use chemistry::quantity::{Volume, volume::liter};
        let known = amounts.volume.as_ref().ok()?;
        let show = |litres| show::volume(Volume::new::<liter>(litres));
        Some(Measure {
            value: known.value.get::<liter>(),
            half_width: known.half_width.get::<liter>(),
            kind: |kind| *kind == AmountKind::Volume,
            show,
        })
    }

    fn mass(amounts: &Amounts) -> Option<Measure> {
        use chemistry::quantity::{Mass, mass::gram};
        let known = amounts.mass.as_ref().ok()?;
        let show = |grams| show::mass(Mass::new::<gram>(grams));
        Some(Measure {
            value: known.value.get::<gram>(),
            half_width: known.half_width.get::<gram>(),
            kind: |kind| *kind == AmountKind::Mass,
            show,
        })
    }

    fn amount(amounts: &Amounts) -> Option<Measure> {
        use chemistry::quantity::{AmountOfSubstance, amount_of_substance::mole};
        let known = amounts.amount.as_ref().ok()?;
        let show = |moles| show::amount(AmountOfSubstance::new::<mole>(moles));
        Some(Measure {
            value: known.value.get::<mole>(),
            half_width: known.half_width.get::<mole>(),
            kind: |kind| *kind == AmountKind::Amount,
            show,
        })
    }

    /// Portions are measured one by one, so their uncertainties combine as the root of the sum of squares.
    fn plus(self, other: &Measure) -> Measure {
        Measure {
            value: self.value + other.value,
            half_width: self.half_width.hypot(other.half_width),
            ..self
        }
    }

    /// As the line writes it, where it writes it in this way of measuring.
    fn written(&self, plan: &Plan, material: &Material) -> Option<String> {
        let amount = material
            .stated
            .iter()
            .find(|amount| (self.kind)(&amount.kind))?;
        plan.slice(material.line, amount.span).map(str::to_owned)
    }

    fn show(&self) -> String {
        (self.show)(self.value)
    }
}

#[cfg(test)]
mod tests {
    use super::CHECK;
    use crate::testing::{expect, expect_fixed};

    const SHORT: &str = "
plan A
materials
  thf: tetrahydrofuran, 20 mL
equipment
  flask: 100 mL flask
  vial: 10 mL vial
steps
  add thf 16 mL
  in vial
  add thf 4 mL
  rinse vial with thf 2 mL into flask
                      ^^^^ error: The steps use 22.0 mL of thf, but only 20 mL is listed
";

    #[test]
    fn more_than_a_vessel_holds_is_found() {
        expect(
            &CHECK,
            "
plan A
materials
  thf: tetrahydrofuran, 20 mL
equipment
  flask: 100 mL flask
  vial: 20 mL vial
steps
  in vial
  add thf 10 mL
  in flask
  transfer vial 62 mL to flask
                ^^^^^ error: This takes 62.0 mL from vial, which holds 10.0 mL
  transfer vial 4 mL to flask
",
        );
    }

    #[test]
    fn the_list_may_follow_the_steps() {
        expect(&CHECK, SHORT);
        expect_fixed(
            &CHECK,
            SHORT,
            0,
            "
plan A
materials
  thf: tetrahydrofuran, 22 mL
equipment
  flask: 100 mL flask
  vial: 10 mL vial
steps
  add thf 16 mL
  in vial
  add thf 4 mL
  rinse vial with thf 2 mL into flask
",
        );
    }

    #[test]
    fn or_the_portion_is_what_is_left() {
        let plan = "
plan A
materials
  pentane: pentane, 80 mL
equipment
  funnel: 250 mL separating funnel
steps
  in funnel
  extract with pentane, 3 x 20 mL
  wash organics with pentane 30 mL
                             ^^^^^ error: The steps use 90.0 mL of pentane, but only 80 mL is listed: list 90.0 mL, or make this portion 20 mL
";
        expect(&CHECK, plan);
        expect_fixed(
            &CHECK,
            plan,
            1,
            "
plan A
materials
  pentane: pentane, 80 mL
equipment
  funnel: 250 mL separating funnel
steps
  in funnel
  extract with pentane, 3 x 20 mL
  wash organics with pentane 20 mL
",
        );
    }

    const BARE: &str = "
plan A
materials
  water: water, 2 mL
equipment
  flask: 100 mL flask
  funnel: 250 mL separating funnel
steps
  add water to flask
  in funnel
  wash organics with water 10 mL
                           ^^^^^ error: The steps use 10.0 mL of water, besides what is taken without a portion, but only 2 mL is listed: list 12.0 mL
";

    #[test]
    fn what_is_taken_without_a_portion_is_counted_in() {
        expect(&CHECK, BARE);
        let listed = BARE.replace("water, 2 mL", "water, 12 mL");
        let listed = listed.lines().filter(|line| !line.contains('^'));
        let listed = format!("{}\n", listed.collect::<Vec<_>>().join("\n"));
        expect_fixed(&CHECK, BARE, 0, &listed);
        expect(&CHECK, &listed);
        let nothing_left = "  add water to flask\n      ^^^^^ error: The portions of other steps are all 10 mL of water";
        expect(
            &CHECK,
            &listed
                .replace("12 mL", "10 mL")
                .replace("  add water to flask", nothing_left),
        );
    }

    #[test]
    fn equivalents_are_held_against_a_volume() {
        // 1.15 eq of 5.00 mmol is 5.75 mmol, 2.30 mL of a 2.5 M solution; 3.0 mL would be 1.50 eq.
        let plan = "
plan A
scale 5.00 mmol ketone
materials
  ketone: acetone, 1.00 eq
  base: n-butyllithium, 2.50 M in hexanes, 1.15 eq
steps
  add base 3.0 mL
           ^^^^^^ error: The steps use 3.00 mL of base, but only 2.30 mL is listed
";
        expect(&CHECK, plan);
        expect_fixed(
            &CHECK,
            plan,
            0,
            "
plan A
scale 5.00 mmol ketone
materials
  ketone: acetone, 1.00 eq
  base: n-butyllithium, 2.50 M in hexanes, 1.50 eq
steps
  add base 3.0 mL
",
        );
    }

    #[test]
    fn what_was_taken_whole_is_gone() {
        let plan = |steps: &str| {
            format!(
                "
plan A
scale 5.00 mmol ketone
materials
  ketone: acetone, reactant, 1.00 eq
  base: n-butyllithium, 2.50 M in hexanes, 1.15 eq
  thf: tetrahydrofuran, 25 mL
  brine: brine, 20 mL
  h2: hydrogen, excess
  ms: 4 Å molecular sieves, 1 g
equipment
  flask: 100 mL flask
  vial: 20 mL vial
steps
{steps}"
            )
        };
        let twice = plan(
            "  add base to flask
  stir for 5 min
  add base dropwise
      ^^^^ warning: An earlier step took all of base, so that nothing is left for this one: write the portion of each step.
",
        );
        expect(&CHECK, &twice);
        expect_fixed(
            &CHECK,
            &twice,
            0,
            &plan("  add half of base to flask\n  stir for 5 min\n  add half of base dropwise\n"),
        );
        let elsewhere = plan(
            "  add base, thf 5 mL to vial
  add base to flask dropwise
      ^^^^ warning: An earlier step took all of base, so that nothing is left for this one: write vial if what is in it is meant.
",
        );
        expect(&CHECK, &elsewhere);
        expect_fixed(
            &CHECK,
            &elsewhere,
            0,
            &plan("  add base, thf 5 mL to vial\n  add vial to flask dropwise\n"),
        );
        expect(
            &CHECK,
            &plan(
                "  weigh base into vial
  titrate base
  rinse base with thf 1 mL
  add base to flask
  add thf
  rinse vial with thf
  add thf
  wash organics with brine
  wash organics with brine
  add half of ketone
  add rest of ketone
  add h2
  add h2
  add ms to vial
  add ms to flask
",
            ),
        );
    }

    #[test]
    fn a_repeated_step_takes_again() {
        let plan = |repeat: &str| {
            format!(
                "
plan A
materials
  pentane: pentane, 60 mL
equipment
  funnel: 250 mL separating funnel
steps
  in funnel
  extract with pentane 20 mL
{repeat}"
            )
        };
        let more = "                       ^^^^^ error: The steps use 80.0 mL of pentane, but only 60 mL is listed: list 80.0 mL, or make this portion 15 mL.\n  repeat last step, 3 more times\n";
        expect(&CHECK, &plan(more));
        expect_fixed(
            &CHECK,
            &plan(more),
            1,
            &plan("  repeat last step, 3 more times\n").replace("pentane 20 mL", "pentane 15 mL"),
        );
        for repeat in [
            "  repeat last step, 2 more times\n",
            "  separate\n  repeat last 2 steps, 2 more times\n",
            "  separate\n  repeat last step, 5 more times\n",
        ] {
            expect(&CHECK, &plan(repeat));
        }
    }

    #[test]
    fn a_reaction_mixture_is_not_meant() {
        let plan = |steps: &str| {
            format!(
                "
plan A
materials
  acid: benzoic acid, 5.0 mmol
  base: triethylamine, 15 mmol
  dcm: dichloromethane, 3 x 20 mL
equipment
  flask: 100 mL flask
  vial: 20 mL vial
steps
{steps}"
            )
        };
        let before = plan(
            "  add acid, base to flask
  add base to vial
      ^^^^ warning: An earlier step took all of base, so that nothing is left for this one: write the portion of each step.
",
        );
        expect(&CHECK, &before);
        let after = plan("  add acid, half of base to flask\n  add half of base to vial\n");
        expect_fixed(&CHECK, &before, 0, &after);
        // Its amount could not be read.
        expect(&CHECK, &plan("  extract with dcm, 3 x 20 mL\n"));
    }

    #[test]
    fn what_was_dissolved_whole_is_there() {
        let plan = |steps: &str| {
            format!(
                "
plan A
scale 5.00 mmol ketone
materials
  ketone: 4-tert-butylcyclohexanone, 1.00 eq
  thf: tetrahydrofuran, 25 mL
equipment
  flask: 100 mL flask
  vial: 20 mL vial
steps
{steps}"
            )
        };
        let before = plan(
            "  in vial
  dissolve ketone in thf 5 mL
  in flask
  add ketone dropwise
      ^^^^^^ warning: An earlier step took all of ketone, so that nothing is left for this one: write vial if what is in it is meant.
",
        );
        expect(&CHECK, &before);
        let after =
            plan("  in vial\n  dissolve ketone in thf 5 mL\n  in flask\n  add vial dropwise\n");
        expect_fixed(&CHECK, &before, 0, &after);
        expect(&CHECK, &after);
        expect(
            &CHECK,
            &plan(
                "  dissolve ketone in thf 5 mL
  add ketone dropwise
      ^^^^^^ warning: An earlier step took all of ketone, so that nothing is left for this one: say in which vessel ketone is dissolved, and add that vessel.
",
            ),
        );
        for steps in [
            "  add ketone\n  dissolve ketone in thf 5 mL\n",
            "  weigh ketone into vial\n  dissolve ketone in thf 5 mL\n",
            "  dissolve half of ketone in thf 5 mL in vial\n  add rest of ketone to flask\n",
            "  dissolve ketone in thf 5 mL in vial\n  add the ketone solution dropwise\n",
            "  dissolve ketone in thf 5 mL in vial\n  add the solution of ketone in thf to flask\n",
            "  dissolve ketone in thf 20 mL\n  to the solution of ketone in thf add thf 5 mL\n",
            "  dissolve ketone in thf 20 mL\n  add thf 5 mL to a solution of ketone in thf 20 mL\n",
            "  dissolve ketone 2 mmol in thf 5 mL in vial\n  add ketone to flask\n",
        ] {
            expect(&CHECK, &plan(steps));
        }
    }

    /// Another amount on its line would not agree with the scale.
    #[test]
    fn what_the_scale_counts_on_is_rescaled() {
        let plan = "
plan A
scale 5.00 mmol ketone
materials
  ketone: acetone, 1.00 eq
steps
  add ketone 6.00 mmol
             ^^^^^^^^^ error: The steps use 6.00 mmol of ketone, but only 5.00 mmol is listed: rescale the plan to 6.00 mmol, or make this portion 5.00 mmol.
";
        expect(&CHECK, plan);
        let after = "\nplan A\nscale 5.00 mmol ketone\nmaterials\n  ketone: acetone, 1.00 eq\nsteps\n  add ketone 5.00 mmol\n";
        expect_fixed(&CHECK, plan, 0, after);
    }

    #[test]
    fn far_more_than_it_is_filled_up_to_is_found() {
        // 5.00 mmol at 0.20 mol/L are 25 mL.
        let plan = "
plan A
scale 5.00 mmol ketone
materials
  ketone: acetone, 1.00 eq
  dmf: N,N-dimethylformamide, to 0.20 M
steps
  add dmf 100 mL
          ^^^^^^ error: The steps use 100 mL of dmf
";
        expect(&CHECK, plan);
    }

    #[test]
    fn within_the_digits_and_without_a_list_it_is_silent() {
        expect(
            &CHECK,
            "
plan A
scale 5.00 mmol ketone
materials
  ketone: acetone, 1.00 eq
  base: n-butyllithium, 2.50 M in hexanes, 1.15 eq
  thf: tetrahydrofuran, 25 mL
  ether: diethyl ether
  dmf: N,N-dimethylformamide, to 0.20 M
  salt: sodium chloride, about 5 g
  zinc: zinc, 5.00 g
  hexane: hexane, 10 mL
equipment
  vial: 20 mL vial
steps
  add base (2.3 mL, 5.75 mmol)
  make up thf 50 mL, in vial
  add thf 25.4 mL
  add ether 400 mL
  add dmf 30 mL
  add salt 6 g
  add zinc 1.67 g
  add zinc 1.67 g
  add zinc 1.67 g
  add hexane 6 mL
  add hexane
",
        );
    }

    #[test]
    fn what_comes_from_its_funnel_was_taken_once() {
        let plan = |from: &str, marks: &str| {
            format!(
                "
plan A
scale 5.00 mmol base
materials
  base: n-butyllithium, 2.50 M in hexanes, 1.00 eq
equipment
  flask: 100 mL flask
  funnel: 20 mL dropping funnel
steps
  transfer base to funnel
  add base{from} dropwise
{marks}"
            )
        };
        expect(&CHECK, &plan(" from funnel", ""));
        expect(
            &CHECK,
            &plan("", "      ^^^^ warning: An earlier step took all of base\n"),
        );
    }
}
