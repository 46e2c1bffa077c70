//! The bench sheet: one page of a plan, to be printed, taped to the hood and signed.
//!
//! [`page`] gives a whole HTML document that loads nothing and runs nothing. All that a plan says goes through the
//! escaping of the template library. Every amount is the ledger's; what is common practice, and not of the plan, is
//! marked so.

mod before;
mod bench;
mod document;
mod exposure;
mod fitting;
mod gas;
mod hazards;
mod measuring;
mod pictures;
mod sources;
mod steps;
#[cfg(test)]
mod tests;
mod waste;

use checks::Finding;
use plan::{Date, Plan};

/// The sheet of a plan, with what its checks found and the day on which it is printed.
#[must_use]
pub fn page(plan: &Plan, findings: &[Finding], printed: Option<Date>) -> String {
    let bench = bench::Bench::new(plan, findings);
    document::document(&bench, printed).into_string()
}

/// SHA-256 of a plan's text (FIPS 180-4), in hexadecimal digits: what `sha256sum` says of a file with this one plan.
#[must_use]
pub fn content_hash(plan: &Plan) -> String {
    use sha2::{Digest, Sha256};
    let digest = Sha256::digest(plan.text.text.as_bytes());
    digest.iter().map(|byte| format!("{byte:02x}")).collect()
}
