//! What a clause acts on and names.

use chemistry::Substance;
use plan::vessel::Moment;
use plan::{At, Plan};
use syntax::{Clause, Referent, Thing};

/// What the clause names of the equipment, by its place in `Plan::apparatus` and with the words that name it; a
/// clause without objects means its vessel, and the verb stands for it.
pub(crate) fn acted_on(plan: &Plan, moment: &Moment, clause: &Clause) -> Vec<(usize, At)> {
    let at = |span| At {
        line: moment.line,
        span,
    };
    if clause.objects.is_empty() {
        return vec![(moment.vessel, at(clause.verb_span))];
    }
    let named = clause.objects.iter().filter_map(|thing| {
        let Referent::Key(id) = thing.referent else {
            return None;
        };
        let index = plan.apparatus.iter().position(|item| item.id == Some(id))?;
        Some((index, at(thing.name.span)))
    });
    named.collect()
}

/// The library's row for a thing: a line of the plan, or a substance by name.
pub(crate) fn substance_of(plan: &Plan, thing: &Thing) -> Option<Substance> {
    match thing.referent {
        Referent::Key(id) => plan.material(id)?.0.identity.substance,
        _ => chemistry::find_name(&thing.name.text).one(),
    }
}
