//! What is wrong, missing or dangerous in a plan: one file a check.
//!
//! A check is a pure function from a [`Plan`] to findings. It never panics, and it says nothing about what it
//! could not determine. Its documentation is the text that `meniscus explain` prints.

mod acted_on;
mod after_the_quench;
mod alive;
mod allow;
mod allow_not_needed;
mod ambiguous_substance;
mod amount_slip;
mod amounts_disagree;
mod atmosphere_missing;
mod azide_and_halogenated;
#[cfg(test)]
mod bench_plans;
mod boils_without_condenser;
mod bottle_density;
mod bottle_differs;
mod bottle_expired;
mod bottle_not_enough;
mod bottle_unknown;
mod bottles;
mod bottles_fit;
mod cas_number;
mod catalyst_loading_slip;
mod closed_and_heated;
mod decimal_comma;
mod diazotisation_warm;
mod dry_catalyst_order;
mod drying_agent_reacts;
mod edit;
mod energetic_product;
mod equation;
mod evacuated_with_solvent;
mod exothermic_at_once;
mod exposure;
mod flame_near_vapour;
mod freeze_degas_condenses;
mod gas_without_vent;
mod glass_not_said_dry;
mod hot_limit;
mod hydrogen_fluoride_in_glass;
mod impossible_value;
mod inert_gas_without_outlet;
mod initiation_not_confirmed;
mod liquefied_gas_too_warm;
mod lithium_under_nitrogen;
mod margin;
mod miscible_extraction;
mod never_used;
mod opened_hot;
mod organolithium_too_warm;
mod overfilled;
mod oxidant_before_concentrate;
mod ozonides_left;
mod policy;
mod portion_exceeds;
mod pressure_in_glass;
mod problem;
#[cfg(test)]
mod published_plans;
mod pyrophoric_by_syringe;
mod quench_missing;
mod quench_too_hot;
mod quench_too_little;
mod quench_wrong_agent;
mod reading;
mod reagent_eats_solvent;
mod reagent_into_protic;
mod runs;
mod salt_eats_base;
mod same;
mod scale_missing;
mod scale_not_limiting;
mod sensitive;
mod solvent_dryness;
mod solvent_wet_into_heat;
mod stabiliser_reacts;
mod step_not_cold;
mod strength_missing;
mod structure;
mod survey;
#[cfg(test)]
mod testing;
mod titre_old;
mod too_small;
mod toxic_gas;
mod unit;
mod unknown_key;
mod unknown_substance;
mod used_before_made;
mod waste_meets;
mod water_and_oxygen;
mod wet_glass;
mod which_vessel;

pub use alive::reactive;
pub use allow::allow_here;
pub use exposure::{Exposure, amount_text, exposures, share_text};
pub use policy::{PROFILE, problems};
pub use same::is_same;
pub use survey::Survey;

use plan::{At, Plan};
use policy::Policy;
use std::ops::Range;
use std::sync::atomic::{AtomicUsize, Ordering};

/// How bad a finding is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Severity {
    /// The plan cannot be right, or someone is likely to be hurt.
    Error,
    /// Likely to fail or to hurt.
    Warning,
    /// Worth a thought.
    Information,
    /// A remark on the text.
    Hint,
}

impl Severity {
    /// The word for it.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Severity::Error => "error",
            Severity::Warning => "warning",
            Severity::Information => "information",
            Severity::Hint => "hint",
        }
    }
}

/// How much is to be said.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Profile {
    /// Errors, and warnings of what may hurt someone.
    Quiet,
    /// What makes a reaction fail, too.
    #[default]
    Normal,
    /// What only the careful ask for, too.
    Strict,
}

impl Profile {
    /// All of them, from the one that says least.
    pub const ALL: [Profile; 3] = [Profile::Quiet, Profile::Normal, Profile::Strict];

    /// The word for it.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Profile::Quiet => "quiet",
            Profile::Normal => "normal",
            Profile::Strict => "strict",
        }
    }
}

/// A check: its name, its documentation and what it does.
pub struct Check {
    /// Its name, as in `amounts-disagree`.
    pub name: &'static str,
    /// The worst that it reports.
    pub severity: Severity,
    /// The profile from which on it says all that it finds.
    pub from: Profile,
    /// What it finds, why it matters, an example, what to write instead, and its sources, in markdown.
    pub doc: &'static str,
    /// Looks at a plan, and adds to what the checks before it found.
    pub run: fn(&Survey<'_>, &mut Vec<Finding>),
}

impl Check {
    /// What it is about, in a few words: the heading of its documentation.
    #[must_use]
    pub fn title(&self) -> &'static str {
        let first = self.doc.lines().next().unwrap_or_default();
        first.trim_start_matches('#').trim()
    }
}

/// Something found in a plan.
#[derive(Clone, Debug, PartialEq)]
pub struct Finding {
    /// The name of the check.
    pub check: &'static str,
    /// How bad it is.
    pub severity: Severity,
    /// Where.
    pub at: At,
    /// What is wrong and what to do next, in plain words.
    pub message: String,
    /// Other places that belong to it, and why.
    pub related: Vec<(At, String)>,
    /// Ways to mend it, the best first.
    pub fixes: Vec<Fix>,
}

/// A way to mend a finding.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Fix {
    /// What it does.
    pub title: String,
    /// Stretches of the plan's text, in bytes from its start, and what to write there. In order, without overlap.
    pub edits: Vec<(Range<usize>, String)>,
    /// Whether an editor may apply it without asking which.
    pub preferred: bool,
}

impl Finding {
    /// A finding without fixes.
    #[must_use]
    pub fn new(check: &Check, at: At, message: impl Into<String>) -> Finding {
        Finding {
            check: check.name,
            severity: check.severity,
            at,
            message: message.into(),
            related: Vec::new(),
            fixes: Vec::new(),
        }
    }

    /// With another severity than the check's worst.
    #[must_use]
    pub fn severity(mut self, severity: Severity) -> Finding {
        self.severity = severity;
        self
    }

    /// With another place that belongs to it.
    #[must_use]
    pub fn related(mut self, at: At, why: impl Into<String>) -> Finding {
        self.related.push((at, why.into()));
        self
    }

    /// With a way to mend it; the first one is preferred.
    #[must_use]
    pub fn fix(mut self, title: impl Into<String>, edits: Vec<(Range<usize>, String)>) -> Finding {
        let preferred = self.fixes.is_empty();
        self.fixes.push(Fix {
            title: title.into(),
            edits,
            preferred,
        });
        self
    }
}

/// Every check, in the order in which `explain` lists them.
pub static ALL: &[&Check] = &[
    &decimal_comma::CHECK,
    &unit::CHECK,
    &unknown_key::CHECK,
    &reading::CHECK,
    &unknown_substance::CHECK,
    &ambiguous_substance::CHECK,
    &cas_number::CHECK,
    &structure::CHECK,
    &impossible_value::CHECK,
    &strength_missing::CHECK,
    &amounts_disagree::CHECK,
    &catalyst_loading_slip::CHECK,
    &amount_slip::CHECK,
    &salt_eats_base::CHECK,
    &scale_missing::CHECK,
    &scale_not_limiting::CHECK,
    &equation::CHECK,
    &bottle_unknown::CHECK,
    &bottle_differs::CHECK,
    &bottle_density::CHECK,
    &bottle_not_enough::CHECK,
    &bottle_expired::CHECK,
    &titre_old::CHECK,
    &bottles_fit::CHECK,
    &too_small::CHECK,
    &margin::CHECK,
    &portion_exceeds::CHECK,
    &never_used::CHECK,
    &solvent_wet_into_heat::CHECK,
    &hydrogen_fluoride_in_glass::CHECK,
    &flame_near_vapour::CHECK,
    &inert_gas_without_outlet::CHECK,
    &pressure_in_glass::CHECK,
    &liquefied_gas_too_warm::CHECK,
    &reagent_into_protic::CHECK,
    &reagent_eats_solvent::CHECK,
    &organolithium_too_warm::CHECK,
    &step_not_cold::CHECK,
    &exothermic_at_once::CHECK,
    &stabiliser_reacts::CHECK,
    &quench_missing::CHECK,
    &quench_wrong_agent::CHECK,
    &quench_too_hot::CHECK,
    &quench_too_little::CHECK,
    &after_the_quench::CHECK,
    &miscible_extraction::CHECK,
    &closed_and_heated::CHECK,
    &opened_hot::CHECK,
    &hot_limit::CHECK,
    &freeze_degas_condenses::CHECK,
    &pyrophoric_by_syringe::CHECK,
    &initiation_not_confirmed::CHECK,
    &dry_catalyst_order::CHECK,
    &azide_and_halogenated::CHECK,
    &toxic_gas::CHECK,
    &waste_meets::CHECK,
    &lithium_under_nitrogen::CHECK,
    &oxidant_before_concentrate::CHECK,
    &ozonides_left::CHECK,
    &diazotisation_warm::CHECK,
    &drying_agent_reacts::CHECK,
    &energetic_product::CHECK,
    &evacuated_with_solvent::CHECK,
    &used_before_made::CHECK,
    &which_vessel::CHECK,
    &boils_without_condenser::CHECK,
    &gas_without_vent::CHECK,
    &overfilled::CHECK,
    &wet_glass::CHECK,
    &glass_not_said_dry::CHECK,
    &atmosphere_missing::CHECK,
    &allow::CHECK,
    // The last ones look at what those before them found.
    &water_and_oxygen::CHECK,
    &solvent_dryness::CHECK,
    &runs::CHECK,
    &allow_not_needed::CHECK,
];

/// How many checks look at what the others found, one after the other.
const LATE: usize = 4;

/// The check with this name.
#[must_use]
pub fn find(name: &str) -> Option<&'static Check> {
    ALL.iter().copied().find(|check| check.name == name)
}

/// The documentation of all checks as one page of markdown, each under its name.
#[must_use]
pub fn reference() -> String {
    let mut out = String::from(
        "# What is checked\n\nGenerated from the checks' own documentation: `BLESS=1 cargo test -p checks --test reference`.\n\n| check | at most | from |\n| --- | --- | --- |\n",
    );
    for check in ALL {
        let (name, severity, from) = (check.name, check.severity.word(), check.from.word());
        out.push_str(&format!("| [`{name}`](#{name}) | {severity} | {from} |\n"));
    }
    out.push_str("\n*At most* is the worst that a check reports; *from* is the profile in which it says all that it finds. Errors are said in every profile.\n\nEvery example is read by a test: it has its finding, and what is written instead has it not. What an example\nspeaks of and does not list is of no matter to it: 10.0 mmol of a ketone, solvents over sieves, common glass.\n");
    for check in ALL {
        let body = check.doc.trim();
        let body = match body.split_once('\n') {
            Some((heading, rest)) if heading.starts_with("# ") => rest.trim(),
            _ => body,
        };
        out.push_str(&format!("\n## {}\n\n{body}\n", check.name));
    }
    out
}

/// Whether a finding is of text that could as well be gone.
#[must_use]
pub fn is_unnecessary(check: &str) -> bool {
    [never_used::CHECK.name, allow_not_needed::CHECK.name].contains(&check)
}

/// Below this likeness a name is no slip of the other.
const ALIKE: f64 = 0.6;

/// The check whose name is most like this one, if it may be meant.
#[must_use]
pub fn nearest(name: &str) -> Option<&'static Check> {
    let likeness = |check: &Check| strsim::normalized_damerau_levenshtein(name, check.name);
    let checks = ALL.iter().copied();
    let nearest = checks.max_by(|a, b| likeness(a).total_cmp(&likeness(b)));
    nearest.filter(|check| likeness(check) >= ALIKE)
}

/// Everything found in a plan that is to be said of it, in the order of its text: by its comments `# allow …`, the
/// profile, and what the settings say of single checks. A check has at most one [`Severity::Information`].
#[must_use]
pub fn findings(plan: &Plan) -> Vec<Finding> {
    let (others, late) = ALL.split_at(ALL.len().saturating_sub(LATE));
    let survey = Survey::new(plan);
    let next = AtomicUsize::new(0);
    let work = || {
        let mut findings = Vec::new();
        while let Some(check) = others.get(next.fetch_add(1, Ordering::Relaxed)) {
            (check.run)(&survey, &mut findings);
        }
        findings
    };
    let mut findings = if plan.moments.len() < LONG {
        work()
    } else {
        std::thread::scope(|scope| {
            let beside = scope.spawn(work);
            let mut findings = work();
            match beside.join() {
                Ok(found) => findings.extend(found),
                Err(panic) => std::panic::resume_unwind(panic),
            }
            findings
        })
    };
    for check in late {
        (check.run)(&survey, &mut findings);
    }
    let (policy, _) = Policy::of(&plan.context.settings);
    policy.apply(findings)
}

/// From so many moments on, a second thread is worth its start.
const LONG: usize = 300;

#[cfg(test)]
mod tests {
    use super::*;

    /// Two threads share the checks of a long plan.
    #[test]
    fn a_long_plan_is_told_the_same_as_check_by_check() {
        let steps = "  add base 1.0 mL\n  stir for 5 min\n".repeat(LONG);
        let plan = Plan::read(&format!(
            "plan Long\nscale 5.00 mmol base\nmaterials\n  base: n-butyllithium, 2.5 M in hexanes, 1.00 eq\n  thf: tetrahydrofuran, 200 ppm water, 40 mL\nequipment\n  flask: 100 mL flask\nsteps\n  add thf\n{steps}"
        ));
        assert!(plan.moments.len() >= LONG);
        let mut one_by_one = Vec::new();
        for check in ALL {
            (check.run)(&Survey::new(&plan), &mut one_by_one);
        }
        let one_by_one = Policy::of(&plan.context.settings).0.apply(one_by_one);
        assert!(one_by_one.len() > 2);
        for _ in 0..20 {
            assert_eq!(findings(&plan), one_by_one);
        }
    }
}
