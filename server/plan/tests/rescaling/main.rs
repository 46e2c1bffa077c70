//! Rescaling keeps its promise on plans made of awkward numbers: only numbers that scale change, everything
//! intensive stays to the letter, and there and back is the old value to its last written digit.

#![allow(
    clippy::expect_used,
    clippy::panic,
    clippy::unwrap_used,
    reason = "a test may fail"
)]

mod generated;
mod promise;
mod published;
mod targets;
mod tools;

use plan::Plan;
use plan::rescale::{self, Rescaling, Target};

fn apply(text: &str, plan: &Plan, edits: &[(plan::At, String)]) -> String {
    let mut edits: Vec<_> = edits.to_vec();
    edits.sort_by_key(|(at, _)| *at);
    let mut text = text.to_owned();
    for (at, new) in edits.iter().rev() {
        text.replace_range(plan.range(*at), new);
    }
    text
}

fn quantity(text: &str) -> syntax::Quantity {
    syntax::read_quantity(text).expect(text)
}

fn rescaled_to(text: &str, target: &Target) -> (String, Rescaling) {
    let plan = Plan::read(text);
    let rescaling = rescale::rescale(&plan, target).expect(text);
    (apply(text, &plan, &rescaling.edits), rescaling)
}

fn rescaled(text: &str, to: &str) -> String {
    rescaled_to(text, &Target::To(quantity(to))).0
}
