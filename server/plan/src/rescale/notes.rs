//! What a change of scale does not carry over. Common practice; no figure here is a limit.

use crate::material::Material;
use crate::takes::{self, Slot};
use crate::{Plan, convert, show};
use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive;
use syntax::{Clause, Dimension, ModifierKind, TimeKind, Verb};
use uom::si::volume::milliliter;

/// From this factor on, upwards, heat and mixing are another matter.
const LARGE: Decimal = Decimal::TEN;

/// What was measured in a run is not of the run to come.
fn fresh(plan: &Plan) -> Option<String> {
    let of = |is: fn(&Material) -> bool| {
        let materials = plan.materials.iter().filter(|material| is(material));
        let keys: Vec<&str> = materials.map(|material| &*material.key.text).collect();
        (!keys.is_empty()).then(|| keys.join(", "))
    };
    let took = of(|material| !material.took.is_empty());
    let took = took.map(|keys| format!("what was taken of {keys}"));
    let obtained = of(|material| material.obtained.is_some());
    let obtained = obtained.map(|keys| format!("what was obtained of {keys}"));
    let gone: Vec<String> = took.into_iter().chain(obtained).collect();
    (!gone.is_empty()).then(|| {
        format!(
            "This is the plan of a run to come: {} is left out. Keep the record in a file of its own.",
            gone.join(", and ")
        )
    })
}

/// Less than this nobody shakes out, washes or rinses with; common practice.
const LEAST_SHAKEN_ML: f64 = 0.5;

/// What a work-up shakes and rinses with scales to less than can be handled.
fn too_little(plan: &Plan, factor: Decimal) -> Option<String> {
    let factor = factor.to_f64().filter(|factor| *factor < 1.0)?;
    let mut found: Vec<String> = Vec::new();
    for take in takes::takes(&plan.text) {
        let handled = matches!(take.clause.verb, Verb::Extract | Verb::Wash | Verb::Rinse)
            && take.slot == Slot::With;
        let Some((times, amount, _)) = take.quantity().filter(|_| handled) else {
            continue;
        };
        let quantity = amount.quantity.as_ref();
        let Some(was) = quantity.and_then(|quantity| convert::volume(quantity, take.line)) else {
            continue;
        };
        let new = was.value * factor;
        if new.get::<milliliter>() >= LEAST_SHAKEN_ML {
            continue;
        }
        let times = match times {
            1 => String::new(),
            times => format!("{times} × "),
        };
        let words = format!("{} {times}{}", take.thing.name.text, show::volume(new));
        if !found.contains(&words) {
            found.push(words);
        }
    }
    (!found.is_empty()).then(|| {
        format!(
            "{}: too little to shake, to separate or to rinse with. Write what your glass needs, 0.5 mL or more at a time.",
            found.join(", ")
        )
    })
}

pub(super) fn notes(plan: &Plan, factor: Decimal) -> Vec<String> {
    let mut notes = Vec::new();
    notes.extend(fresh(plan));
    notes.extend(too_little(plan, factor));
    if factor != Decimal::ONE && any(plan, is_rate) {
        notes.push(
            "Rates stay as written, so that an addition takes longer or shorter by the factor: set them anew."
                .to_owned(),
        );
    }
    if factor < LARGE {
        return notes;
    }
    notes.push(
        "Heat does not scale: a larger vessel has less wall for its volume, so that cooling, warming and anything exothermic take longer. Have the scale-up assessed for its risks and supervised."
            .to_owned(),
    );
    if any(plan, |clause| {
        has(clause, |kind| {
            matches!(kind, ModifierKind::Time(TimeKind::Over, _))
        })
    }) {
        notes.push(
            "Addition times stay as written: at this scale go by the internal temperature and plan for longer."
                .to_owned(),
        );
    }
    if any(plan, stirs) {
        notes.push(
            "Stirring does not scale: see that the stirrer moves the larger volume, and any solid in it."
                .to_owned(),
        );
    }
    if any(plan, |clause| {
        matches!(
            clause.verb,
            Verb::Degas | Verb::Sparge | Verb::Purge | Verb::EvacuateAndRefill
        )
    }) {
        notes.push(
            "Purging and degassing times stay as written: more headspace and more liquid need longer."
                .to_owned(),
        );
    }
    notes
}

fn any(plan: &Plan, fits: impl Fn(&Clause) -> bool) -> bool {
    crate::takes::steps(&plan.text).any(|(_, step)| step.clauses.iter().any(&fits))
}

fn has(clause: &Clause, fits: impl Fn(&ModifierKind) -> bool) -> bool {
    clause.modifiers.iter().any(|modifier| fits(&modifier.kind))
}

fn is_rate(clause: &Clause) -> bool {
    has(clause, |kind| match kind {
        ModifierKind::Rate(quantity) => matches!(
            quantity.unit.dimension,
            Dimension::VolumeRate | Dimension::MassRate | Dimension::AmountRate
        ),
        _ => false,
    })
}

fn stirs(clause: &Clause) -> bool {
    clause.verb == Verb::Stir || has(clause, |kind| matches!(kind, ModifierKind::Stirring(_)))
}
