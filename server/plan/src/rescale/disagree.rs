//! Stated amounts that contradict the line that they stand on.

use super::target::pair;
use crate::Plan;
use crate::ledger::basis_of;
use crate::material::{Basis, Material};

/// The stated amounts of a line that disagree with what rules it, as places in `Material::stated`.
#[must_use]
pub fn disagreeing(plan: &Plan, index: usize) -> Vec<usize> {
    let (Some(material), Some(amounts)) =
        (plan.materials.get(index), plan.ledger.amounts.get(index))
    else {
        return Vec::new();
    };
    (0..material.stated.len())
        .filter(|&stated| disagrees(material, amounts, stated))
        .collect()
}

fn disagrees(material: &Material, amounts: &crate::Amounts, stated: usize) -> bool {
    /// Further apart than both claim together.
    fn apart(written: (f64, f64), computed: (f64, f64)) -> bool {
        (written.0 - computed.0).abs() > (written.1 + computed.1) * 1.000_001
    }
    let Some(quantity) = material
        .stated
        .get(stated)
        .and_then(|amount| amount.quantity.as_ref())
    else {
        return false;
    };
    match basis_of(quantity, material.line) {
        Some(Basis::Amount(known)) => amounts
            .amount
            .as_ref()
            .is_ok_and(|computed| apart(pair(&known), pair(computed))),
        Some(Basis::Mass(known)) => amounts
            .mass
            .as_ref()
            .is_ok_and(|computed| apart(pair(&known), pair(computed))),
        Some(Basis::Volume(known)) => amounts
            .volume
            .as_ref()
            .is_ok_and(|computed| apart(pair(&known), pair(computed))),
        None => false,
    }
}
