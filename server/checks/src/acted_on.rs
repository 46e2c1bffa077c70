//! The equipment that a clause acts on.

use plan::vessel::Moment;
use plan::{At, Plan};
use syntax::{Clause, Referent};

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
