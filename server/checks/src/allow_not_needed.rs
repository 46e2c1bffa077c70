//! Takes away what comments allow, and finds those that allow nothing.

use crate::Survey;
use crate::allow::{self, allows};
use crate::policy::is_unread;
use crate::{Check, Finding, Profile, Severity};
use plan::{At, Plan};

pub(crate) const CHECK: Check = Check {
    name: "allow-not-needed",
    severity: Severity::Hint,
    from: Profile::Normal,
    doc: DOC,
    run,
};

const DOC: &str = "\
# Comment that is not needed

**Finds** an `# allow CHECK: why` where the check has nothing to say of the line, or where it says what cannot be
allowed. A profile or a setting that keeps a check silent does not count: the comment stays needed.

**Why it matters.** Such a comment was needed once, and stands there as if the danger were still known and accepted;
when the finding comes back for another reason, it would be taken away unseen.

**Example**

    steps
      stir for 1 h at 20 °C   # allow hot-limit: as agreed with the safety officer

**Write instead** nothing

    steps
      stir for 1 h at 20 °C

Such a comment belongs at the end of the line that the finding is about, or alone above it without an empty
line between.

**Sources.** Common practice.
";

/// Runs after all other checks: what they found is in `findings`.
fn run(plan: &Survey<'_>, findings: &mut Vec<Finding>) {
    let mut allows = allows(plan);
    allows.retain(|allow| allow.has_reason);
    let mut more = Vec::new();
    for allow in &allows {
        for &(name, span) in &allow.names {
            let meant = |finding: &Finding| {
                finding.check == name
                    && allow.about == Some(finding.at.line)
                    && ![CHECK.name, allow::CHECK.name].contains(&name)
            };
            if crate::find(name).is_none() {
                continue;
            }
            let found = findings.iter().filter(|finding| meant(finding));
            let (unread, others): (Vec<_>, Vec<_>) = found.partition(|finding| is_unread(finding));
            let message = match (unread.is_empty(), others.is_empty()) {
                (_, false) => continue,
                (false, true) => format!(
                    "What `{name}` finds here cannot be allowed, for text that is not read has no value: mend it."
                ),
                (true, true) if allow.about.is_none() => format!(
                    "Nothing stands below for which `{name}` could be allowed: move this to its line, or delete it."
                ),
                (true, true) => {
                    format!("`{name}` finds nothing on this line: delete it from this comment.")
                }
            };
            let at = At {
                line: allow.line,
                span,
            };
            let mut finding = Finding::new(&CHECK, at, message);
            if allow.names.len() == 1 && unread.is_empty() {
                let edits = vec![without(plan, allow)];
                finding = finding.fix("Delete this comment", edits);
            }
            more.push(finding);
        }
    }
    let allowed = |finding: &Finding| {
        !is_unread(finding)
            && allows.iter().any(|allow| {
                allow.about == Some(finding.at.line)
                    && allow.names.iter().any(|(name, _)| *name == finding.check)
            })
    };
    findings.retain(|finding| !allowed(finding));
    findings.append(&mut more);
}

/// The comment with the white space before it; with the whole line where it stands alone.
fn without(plan: &Plan, allow: &allow::Allow<'_>) -> crate::edit::Edit {
    let range = plan.range(At {
        line: allow.line,
        span: allow.span,
    });
    let before = plan.text.text.get(..range.start).unwrap_or_default();
    if allow.about == Some(allow.line) {
        return (before.trim_end().len()..range.end, String::new());
    }
    let line = plan.text.lines.get(allow.line as usize);
    let (start, end) = line.map_or((range.start, range.end), |line| {
        let end = line.start + line.len + line.eol;
        (line.start as usize, end as usize)
    });
    (start..end, String::new())
}

#[cfg(test)]
mod tests {
    use crate::allow_here;
    use plan::Plan;

    const HEAD: &str =
        "plan A\nscale 0.200 mmol ketone\nmaterials\n  ketone: acetophenone, 1.00 eq\n";
    const DMAP: &str = "  dmap: 4-dimethylaminopyridine, 10 mol%";
    const STEPS: &str = "steps\n  add ketone, dmap\n";

    fn found(text: &str) -> Vec<(u32, &'static str)> {
        let findings = crate::findings(&Plan::read(text));
        findings.iter().map(|f| (f.at.line, f.check)).collect()
    }

    #[test]
    fn a_comment_with_a_reason_takes_the_finding_of_its_line() {
        let small = (4, "too-small-to-measure");
        let plan = |line: &str| format!("{HEAD}{line}\n{STEPS}");
        assert_eq!(found(&plan(DMAP)), [small]);
        let end = format!("{DMAP}   # allow too-small-to-measure: a few mg more do no harm");
        assert_eq!(found(&plan(&end)), []);
        let above = format!("  # allow too-small-to-measure: no harm\n  # so they say\n{DMAP}");
        assert_eq!(found(&plan(&above)), []);
        let bare = format!("{DMAP}   # allow too-small-to-measure");
        assert_eq!(found(&plan(&bare)), [small, (4, "allow-unclear")]);
    }

    #[test]
    fn what_allows_nothing_is_found() {
        let why = "allow too-small-to-measure: no harm";
        let gap = format!("{HEAD}  # {why}\n\n{DMAP}\n{STEPS}");
        assert_eq!(
            found(&gap),
            [(4, "allow-not-needed"), (6, "too-small-to-measure")]
        );
        let elsewhere = format!("{HEAD}{DMAP}\n{STEPS}  stir for 1 h  # {why}\n");
        let findings = crate::findings(&Plan::read(&elsewhere));
        let last = findings.last().expect("a finding");
        assert_eq!((last.at.line, last.check), (7, "allow-not-needed"));
        let (range, new) = &last.fixes[0].edits[0];
        let mut mended = elsewhere.clone();
        mended.replace_range(range.clone(), new);
        assert_eq!(mended, format!("{HEAD}{DMAP}\n{STEPS}  stir for 1 h\n"));
    }

    #[test]
    fn what_cannot_be_read_cannot_be_allowed() {
        let text = "plan A\nsteps\n  stir at -78  # allow unit: everybody knows\n";
        let findings = crate::findings(&Plan::read(text));
        let checks: Vec<_> = findings.iter().map(|f| f.check).collect();
        assert_eq!(checks, ["unit", "allow-not-needed"], "{findings:#?}");
        assert!(findings[1].message.contains("cannot be allowed"));
        assert_eq!(allow_here(&Plan::read(text), &findings[0]), None);
    }

    #[test]
    fn a_finding_offers_the_comment_that_allows_it() {
        let offered = |text: &str| {
            let plan = Plan::read(text);
            let findings = crate::findings(&plan);
            let fix = allow_here(&plan, findings.first()?)?;
            let (range, new) = fix.edits.first()?.clone();
            let mut text = text.to_owned();
            text.replace_range(range, &new);
            Some(text)
        };
        assert_eq!(
            offered(&format!("{HEAD}{DMAP}\r\n{STEPS}")),
            Some(format!(
                "{HEAD}{DMAP}  # allow too-small-to-measure: \r\n{STEPS}"
            ))
        );
        // A comment that is there stays, and one that is begun is not begun again.
        let above = format!("{HEAD}  # allow too-small-to-measure: \n{DMAP}  # from TCI\n{STEPS}");
        let text = format!("{HEAD}{DMAP}  # from TCI\n{STEPS}");
        assert_eq!(offered(&text), Some(above.clone()));
        assert_eq!(offered(&above.replace("from TCI", "new")), None);
    }
}
