//! What is said of what was found: the profile, and what `[checks]` in `meniscus.toml` says of single checks.

use crate::{ALL, Finding, Profile, Severity, decimal_comma, reading, unit, unknown_key};
use plan::Problem;
use plan::settings::Settings;

/// The key of `[checks]` that is no check.
pub const PROFILE: &str = "profile";

/// Severities that a check can be set to.
const SEVERITIES: [Severity; 3] = [Severity::Information, Severity::Warning, Severity::Error];

/// What is to be said.
#[derive(Default)]
pub(crate) struct Policy {
    profile: Profile,
    /// Checks by name with the severity that they are set to; none is off.
    set: Vec<(&'static str, Option<Severity>)>,
}

/// What is wrong with `[checks]`, each at its place in the settings.
#[must_use]
pub fn problems(settings: &Settings) -> Vec<Problem> {
    Policy::of(settings).1
}

/// Whether it says that text has no reading: what is not read is not reckoned with, so nobody can wish it away.
pub(crate) fn is_unread(finding: &Finding) -> bool {
    finding.severity == Severity::Error && reads(finding.check)
}

/// Whether the check is of those that say what cannot be read.
fn reads(check: &str) -> bool {
    [
        decimal_comma::CHECK.name,
        unit::CHECK.name,
        unknown_key::CHECK.name,
        reading::CHECK.name,
    ]
    .contains(&check)
}

impl Policy {
    /// A mistake costs the value with the mistake and nothing else.
    pub(crate) fn of(settings: &Settings) -> (Policy, Vec<Problem>) {
        let mut policy = Policy::default();
        let mut problems = Vec::new();
        for written in &settings.checks {
            let value = &*written.value;
            if written.key == PROFILE {
                match Profile::ALL.into_iter().find(|p| p.word() == value) {
                    Some(profile) => policy.profile = profile,
                    None => problems.push(Problem {
                        range: written.range.clone(),
                        message: format!(
                            "`{value}` is no profile: write \"quiet\", \"normal\" or \"strict\"."
                        ),
                    }),
                }
                continue;
            }
            let Some(check) = crate::find(&written.key) else {
                problems.push(Problem {
                    range: written.key_range.clone(),
                    message: unknown(&written.key),
                });
                continue;
            };
            let severity = SEVERITIES.into_iter().find(|s| s.word() == value);
            let problem = match severity {
                None if value != "off" => format!(
                    "`{value}` is no severity: write \"off\", \"information\", \"warning\" or \"error\"."
                ),
                severity if reads(check.name) && severity != Some(Severity::Error) => format!(
                    "`{}` tells of text that has no value, so it stays as it is: mend the text that it is about.",
                    check.name
                ),
                severity => {
                    policy.set.push((check.name, severity));
                    continue;
                }
            };
            problems.push(Problem {
                range: written.range.clone(),
                message: problem,
            });
        }
        (policy, problems)
    }

    /// The finding as it is to be said, if it is.
    fn judge(&self, mut finding: Finding) -> Option<Finding> {
        if let Some((_, severity)) = self.set.iter().find(|(name, _)| *name == finding.check) {
            finding.severity = (*severity)?;
            return Some(finding);
        }
        let from = ALL
            .iter()
            .find(|check| check.name == finding.check)
            .map_or(Profile::Quiet, |check| check.from);
        let said = match finding.severity {
            Severity::Error => true,
            Severity::Warning => self.profile >= from,
            Severity::Information | Severity::Hint => {
                self.profile > Profile::Quiet && self.profile >= from
            }
        };
        said.then_some(finding)
    }

    /// The findings of a plan as they are to be said, in the order of its text.
    pub(crate) fn apply(&self, found: Vec<Finding>) -> Vec<Finding> {
        let mut said: Vec<Finding> = found.into_iter().filter_map(|f| self.judge(f)).collect();
        said.sort_by(|a, b| (a.at, a.severity, a.check).cmp(&(b.at, b.severity, b.check)));
        once(said)
    }
}

/// What is worth a thought is said once by each check; the first has the others' places.
fn once(findings: Vec<Finding>) -> Vec<Finding> {
    let mut said: Vec<Finding> = Vec::new();
    for finding in findings {
        let same = |first: &&mut Finding| {
            (first.check, first.severity) == (finding.check, finding.severity)
        };
        match said.iter_mut().find(same) {
            Some(first) if finding.severity == Severity::Information => {
                first.related.push((finding.at, finding.message));
            }
            _ => said.push(finding),
        }
    }
    said
}

pub(crate) fn unknown(name: &str) -> String {
    match crate::nearest(name) {
        Some(check) => format!("There is no check `{name}`: did you mean `{}`?", check.name),
        None => format!("There is no check `{name}`: `meniscus explain` lists them."),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use plan::{Context, Kept, Plan};
    use std::sync::Arc;

    fn said(settings: &str, plan: &str) -> Vec<(&'static str, Severity)> {
        let settings = Settings::read(settings);
        assert_eq!(settings.problems(), []);
        assert_eq!(problems(&settings), []);
        let context = Context {
            settings: Arc::new(settings),
            ..Context::default()
        };
        let text = Arc::new(syntax::read_plan(plan));
        let findings = crate::findings(&Plan::with_context(text, &context));
        findings.iter().map(|f| (f.check, f.severity)).collect()
    }

    /// 2.4 mg is little for a balance, and a litre too much for the flask; the evacuation is under solvent.
    const PLAN: &str = "plan A
scale 0.200 mmol ketone
materials
  ketone: acetophenone, 1.00 eq
  dmap: 4-dimethylaminopyridine, 10 mol%
  thf: tetrahydrofuran, 20 mL
equipment
  flask: 100 mL flask
steps
  add ketone, dmap, thf
  evacuate flask for 5 min
";

    #[test]
    fn a_profile_says_what_it_is_for() {
        let (small, vacuum) = (
            ("too-small-to-measure", Severity::Information),
            ("evacuated-with-solvent", Severity::Warning),
        );
        for (profile, wanted) in [
            ("quiet", &[][..]),
            ("normal", &[small]),
            ("strict", &[small, vacuum]),
        ] {
            let settings = format!("[checks]\nprofile = \"{profile}\"\n");
            assert_eq!(said(&settings, PLAN), wanted, "{profile}");
        }
        assert_eq!(said("", PLAN), [small]);
    }

    #[test]
    fn errors_are_said_in_every_profile() {
        let plan = "plan A\nsteps\n  add 5 mL\n";
        for profile in Profile::ALL {
            let settings = format!("[checks]\nprofile = \"{}\"\n", profile.word());
            let errors = said(&settings, plan);
            assert!(errors.contains(&("reading", Severity::Error)), "{errors:?}");
        }
    }

    #[test]
    fn a_single_check_is_set_over_the_profile() {
        let quiet = "[checks]\nprofile = \"quiet\"\nevacuated-with-solvent = \"error\"\n";
        let vacuum = ("evacuated-with-solvent", Severity::Error);
        assert_eq!(said(quiet, PLAN), [vacuum]);
        assert_eq!(said("[checks]\ntoo-small-to-measure = \"off\"\n", PLAN), []);
    }

    #[test]
    fn a_thought_is_said_once_with_the_other_places() {
        let plan = "plan A
scale 1.00 mmol ketone
materials
  ketone: acetophenone, 1.00 eq
  one: xyzzyl ketone, 1.0 eq
  two: xyzzyl ether, 1.0 eq
";
        let settings = "[checks]\nunknown-substance = \"information\"\nnever-used = \"off\"\n";
        let context = crate::testing::settings(settings);
        let text = Arc::new(syntax::read_plan(plan));
        let findings = crate::findings(&Plan::with_context(text, &context));
        let unknown: Vec<_> = findings
            .iter()
            .filter(|finding| finding.check == "unknown-substance")
            .collect();
        assert!(
            matches!(&unknown[..], [one] if one.at.line == 4 && one.related.iter().any(|(at, _)| at.line == 5)),
            "{findings:#?}"
        );
    }

    #[test]
    fn a_mistake_costs_its_own_value_and_is_told_there() {
        for (line, at, says) in [
            (
                "hot-limmit = \"off\"",
                "hot-limmit",
                "did you mean `hot-limit`",
            ),
            ("abcdef = \"off\"", "abcdef", "meniscus explain"),
            (
                "hot-limit = \"loud\"",
                "\"loud\"",
                "\"off\", \"information\"",
            ),
            ("profile = \"loud\"", "\"loud\"", "\"quiet\", \"normal\""),
            ("unit = \"off\"", "\"off\"", "stays as it is"),
            ("reading = \"warning\"", "\"warning\"", "stays as it is"),
        ] {
            let text = format!("[checks]\n{line}\ntitre-old = \"off\"\n");
            let settings = Settings::read(&text);
            let found = problems(&settings);
            assert!(
                matches!(&found[..], [one] if &text[one.range.clone()] == at && one.message.contains(says)),
                "{line}: {found:?}"
            );
            let (policy, _) = Policy::of(&settings);
            assert_eq!(policy.set, [("titre-old", None)], "{line}");
        }
    }
}
