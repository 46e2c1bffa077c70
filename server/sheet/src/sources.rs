//! Where the numbers of the sheet come from.

use plan::{Determined, Origin, Plan};
use std::collections::BTreeMap;

/// Every source of densities and molar masses, with the materials that it is for.
pub(crate) fn sources(plan: &Plan) -> Vec<(String, String)> {
    let mut found: BTreeMap<String, BTreeMap<&str, Vec<&str>>> = BTreeMap::new();
    for material in &plan.materials {
        let mut note = |field: &'static str, origin: &Origin| {
            let mut roots = Vec::new();
            collect(origin, &mut roots);
            for root in roots {
                let keys = found.entry(root).or_default().entry(field).or_default();
                if !keys.contains(&&*material.key.text) {
                    keys.push(&material.key.text);
                }
            }
        };
        if let Some(origin) = origin(&material.molar_mass) {
            note("molar mass", origin);
        }
        if let Some(origin) = origin(&material.density) {
            note("density", origin);
        }
    }
    let fields = |fields: BTreeMap<&str, Vec<&str>>| {
        let fields = fields
            .iter()
            .map(|(field, keys)| format!("{field} of {}", keys.join(", ")));
        fields.collect::<Vec<_>>().join("; ")
    };
    let sources = found.into_iter();
    sources.map(|(source, of)| (source, fields(of))).collect()
}

fn origin<Q>(value: &Determined<Q>) -> Option<&Origin> {
    value.as_ref().ok().map(|known| &known.origin)
}

/// What a value rests on, without what the plan itself says.
fn collect(origin: &Origin, into: &mut Vec<String>) {
    match origin {
        Origin::Computed(computed) => {
            for origin in &computed.from {
                collect(origin, into);
            }
        }
        Origin::Written(_) => {}
        Origin::Convention(what) => into.push((*what).to_owned()),
        Origin::Library { source, .. } => into.push(source.citation.to_owned()),
        Origin::Bottle { name, .. } => into.push(format!("bottle {name}, by the inventory")),
        Origin::AtomicWeights(_) => into.push("standard atomic weights (CIAAW 2021)".to_owned()),
    }
}
