//! Hover: facts as plain data first, markdown last.

use crate::bottle;
use crate::cursor::{self, Target};
use crate::document::{Document, PlanUnit};
use crate::runs;
use crate::state;
use plan::measuring::{CONDENSED, COVERAGE, Way};
use plan::vessel::Content;
use plan::{Amounts, Determined, Gap, Material, Plan, show};
use std::fmt::Write as _;
use std::ops::Range;
use syntax::{AmountKind, KeyId, Role, Span};
use uom::si::f64::{Ratio, Volume};
use uom::si::molar_mass::gram_per_mole;
use uom::si::ratio::ratio;
use uom::si::time::minute;

/// A hover.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Hover {
    /// What it is about.
    pub range: Range<usize>,
    /// What it says.
    pub markdown: String,
}

/// What a line of materials or products comes to.
struct Facts {
    key: String,
    name: String,
    formula: Option<String>,
    molar_mass: Option<String>,
    /// What to take, the most important first.
    measures: Vec<String>,
    /// The other reading of `to 0.20 M`.
    filled_up: Option<String>,
    /// What measuring leaves of it, or how it is measured.
    uncertainty: Option<String>,
    /// Field and reason.
    gaps: Vec<(&'static str, String)>,
    /// Field and origin.
    sources: Vec<(&'static str, String)>,
}

impl Document {
    /// What is to be said of the place at an offset.
    #[must_use]
    pub fn hover(&self, offset: usize) -> Option<Hover> {
        let unit = self.plan_at(offset)?;
        let (index, line, at) = cursor::line_at(&unit, offset)?;
        let first_line = self.rope().byte_to_line(unit.start);
        if let Some((span, markdown)) = bottle::hover(&unit, index, at) {
            return Some(Hover {
                range: range(&unit, line.start, span),
                markdown,
            });
        }
        if let Some((span, markdown)) = runs::hover(&unit, index, line)
            && at <= span.end
        {
            return Some(Hover {
                range: range(&unit, line.start, span),
                markdown,
            });
        }
        let (span, markdown) = match cursor::target(&unit, index, line, at)? {
            Target::Key(id, span) => (span, key(&unit, id, first_line)?),
            Target::Scale(span) => (span, scale(&unit)?),
            Target::Title(span) => (span, summary(&unit)),
            Target::Clause(clause, number) => {
                (clause.span, state::hover(&unit, index, number, first_line)?)
            }
        };
        Some(Hover {
            range: range(&unit, line.start, span),
            markdown,
        })
    }
}

fn range(unit: &PlanUnit<'_>, line_start: u32, span: Span) -> Range<usize> {
    unit.shift((line_start + span.start) as usize..(line_start + span.end) as usize)
}

fn key(unit: &PlanUnit<'_>, id: KeyId, first_line: usize) -> Option<String> {
    if let Some((material, amounts)) = unit.plan.material(id) {
        let mut facts = facts(material, amounts, first_line);
        facts.filled_up = filled_up(unit, material, amounts);
        let mut materials = unit.plan.materials.iter();
        let index = materials.position(|own| own.id == id);
        let record = unit.plan.record();
        let run = record
            .zip(index)
            .and_then(|(run, index)| run.words(unit.plan, index));
        facts.measures.extend(run);
        facts.uncertainty = uncertainty(unit, material, amounts);
        return Some(render(&facts));
    }
    let item = unit
        .plan
        .apparatus
        .iter()
        .find(|item| item.id == Some(id))?;
    Some(format!("**{}** {}", escape(&item.name), escape(&item.text)))
}

/// `to 0.20 M` is per volume of solvent; filled up to that volume, less solvent goes in where other liquids
/// are in the vessel already.
fn filled_up(unit: &PlanUnit<'_>, material: &Material, amounts: &Amounts) -> Option<String> {
    let fills = |amount: &syntax::Amount| amount.kind == AmountKind::FillTo;
    let to = material.stated.iter().find(|amount| fills(amount))?;
    let total = amounts.volume.as_ref().ok()?.value;
    let plan = unit.plan;
    let is_it = |content: &Content| content.name(&plan.materials) == &*material.key.text;
    let moment = plan
        .moments
        .iter()
        .find(|moment| moment.additions.iter().any(|a| is_it(&a.content)))?;
    let state = moment
        .after
        .get(moment.vessel)
        .filter(|state| !state.unclear)?;
    let mut others = Volume::default();
    for content in state.contents.iter().filter(|content| !is_it(content)) {
        match content.volume {
            Some(volume) => others += volume,
            None if content.is_liquid(&plan.materials) => return None,
            None => {}
        }
    }
    let words = plan.slice(material.line, to.span)?;
    (others > total * 0.01 && others < total).then(|| {
        format!(
            "`{words}` is {} of solvent; filled up to {} beside {} of other liquids it is about {}.",
            show::volume(total),
            show::volume(total),
            show::volume(others),
            show::volume(total - others),
        )
    })
}

/// Less than a hundredth of a percent goes without saying.
const NEGLIGIBLE: f64 = 1e-4;

/// Of a gas that is taken as a liquid, how; else `±2.4 % (k = 2): digits 2.0 %, 5 mL glass syringe 0.6 %. So 1.20 ± 0.03 eq.`
fn uncertainty(unit: &PlanUnit<'_>, material: &Material, amounts: &Amounts) -> Option<String> {
    if material.product {
        return None;
    }
    if unit.plan.way(material, amounts) == Way::Condense {
        return Some(CONDENSED.to_owned());
    }
    let left = unit.plan.uncertainty(material, amounts)?;
    let percent = |share: Ratio| format!("{} %", show::number(share.get::<ratio>() * 100.0, 2));
    let mut out = format!("±{} (k = {COVERAGE:.0})", percent(left.of_amount));
    let mut parts = Vec::new();
    if left.digits.get::<ratio>() > NEGLIGIBLE {
        parts.push(format!("digits of the bottle {}", percent(left.digits)));
    }
    let reading = &left.reading;
    let times = match reading.strokes {
        1 => String::new(),
        strokes => format!("{strokes} × "),
    };
    let mut tool = format!(
        "{times}{} {}",
        reading.tool,
        percent(reading.greatest_error)
    );
    if reading.assumed {
        tool.push_str(" (assumed)");
    }
    parts.push(tool);
    let _ = write!(out, ": {}", parts.join(", "));
    if let (Some(of), Ok(equivalents)) = (left.of_equivalents, &amounts.equivalents) {
        let (value, width) =
            show::with_uncertainty(equivalents.value.get::<ratio>(), of.get::<ratio>());
        let _ = write!(out, "; {value} ± {width} eq");
    }
    Some(out)
}

fn facts(material: &Material, amounts: &Amounts, first_line: usize) -> Facts {
    let mut facts = Facts {
        key: material.key.text.to_string(),
        name: material.identity.name.to_string(),
        formula: material
            .identity
            .formula
            .as_ref()
            .map(|formula| formula.to_string())
            .filter(|formula| **formula != *material.identity.name),
        molar_mass: None,
        measures: Vec::new(),
        filled_up: None,
        uncertainty: None,
        gaps: Vec::new(),
        sources: Vec::new(),
    };
    if let Ok(molar) = &material.molar_mass {
        facts.molar_mass = Some(format!("{:.3} g/mol", molar.value.get::<gram_per_mole>()));
        facts
            .sources
            .push(("molar mass", molar.origin.describe(first_line)));
    }
    if let Some(strength) = &material.strength_text {
        let _ = write!(facts.name, ", {strength}");
    }
    if let Some((mass, amount)) = &amounts.expected {
        let both = join([
            text(mass, |v| show::mass(*v)),
            text(amount, |v| show::amount(*v)),
        ]);
        facts
            .measures
            .extend(both.map(|both| format!("{both} expected")));
    }
    let theory = if material.product { " in theory" } else { "" };
    let by_volume = material.measured_by_volume();
    let volume = text(&amounts.volume, |v| show::volume(*v));
    let mass = text(&amounts.mass, |v| show::mass(*v));
    let (first, second) = if by_volume && !material.product {
        (volume, mass)
    } else {
        (mass, volume)
    };
    facts
        .measures
        .extend(first.map(|first| format!("{first}{theory}")));
    if !material.product {
        facts.measures.extend(second);
    }
    facts
        .measures
        .extend(text(&amounts.amount, |v| show::amount(*v)));
    facts.measures.extend(text(&amounts.equivalents, |v| {
        format!("{} eq", show::number(v.get::<ratio>(), 3))
    }));
    if material.diluted {
        facts.measures.extend(text(&amounts.pure_mass, |v| {
            format!("{} of it pure", show::mass(*v))
        }));
    }
    note(&mut facts, "mass", &amounts.mass, first_line);
    if !material.product {
        note(&mut facts, "volume", &amounts.volume, first_line);
    }
    note(&mut facts, "amount", &amounts.amount, first_line);
    facts
}

fn text<Q>(value: &Determined<Q>, show: impl Fn(&Q) -> String) -> Option<String> {
    value.as_ref().ok().map(|known| show(&known.value))
}

fn join(parts: [Option<String>; 2]) -> Option<String> {
    let parts: Vec<String> = parts.into_iter().flatten().collect();
    (!parts.is_empty()).then(|| parts.join(", "))
}

fn note<Q>(facts: &mut Facts, field: &'static str, value: &Determined<Q>, first_line: usize) {
    match value {
        Ok(known) => facts
            .sources
            .push((field, known.origin.describe(first_line))),
        Err(Gap(reason)) => facts.gaps.push((field, reason.to_string())),
    }
}

fn render(facts: &Facts) -> String {
    let mut out = format!("**{}** {}", escape(&facts.key), escape(&facts.name));
    let identity = [&facts.formula, &facts.molar_mass];
    for part in identity.into_iter().flatten() {
        let _ = write!(out, " · {}", escape(part));
    }
    if !facts.measures.is_empty() {
        let mut measures = facts.measures.iter();
        if let Some(first) = measures.next() {
            let _ = write!(out, "\n\n**{}**", escape(first));
        }
        for more in measures {
            let _ = write!(out, " · {}", escape(more));
        }
    }
    for line in [&facts.filled_up, &facts.uncertainty].into_iter().flatten() {
        let _ = write!(out, "\n\n{}", prose(line));
    }
    for (field, reason) in &facts.gaps {
        let _ = write!(out, "\n\nNo {field}: {}.", prose(reason));
    }
    if !facts.sources.is_empty() {
        out.push_str("\n\n---\n");
        for (field, source) in &facts.sources {
            let _ = write!(out, "\n- {field}: {}", escape(source));
        }
    }
    out
}

fn scale(unit: &PlanUnit<'_>) -> Option<String> {
    let scale = unit.plan.ledger.scale.as_ref()?;
    let mut out = match &scale.amount {
        Ok(known) => format!("1.00 eq is **{}**", show::amount(known.value)),
        Err(gap) => return Some(prose(&gap.to_string())),
    };
    if let Some((material, amounts)) = scale.key.and_then(|key| unit.plan.material(key)) {
        let mass = text(&amounts.mass, |v| show::mass(*v));
        let volume = text(&amounts.volume, |v| show::volume(*v));
        if let Some(both) = join([mass, volume]) {
            let _ = write!(out, " of {}: {both}", escape(&material.key.text));
        }
    }
    if let Some(limiting) = &unit.plan.ledger.limiting
        && let Some((material, _)) = unit.plan.material(limiting.key)
    {
        let _ = write!(out, "\n\nRuns out first: {}", escape(&material.key.text));
    }
    Some(out)
}

fn summary(unit: &PlanUnit<'_>) -> String {
    let plan = unit.plan;
    let title = plan
        .title
        .as_ref()
        .map_or("Plan without a title", |title| &title.text);
    let mut out = format!("**{}**", escape(title));
    for (material, amounts) in plan.materials.iter().zip(&plan.ledger.amounts) {
        if material.product
            && let Some((Ok(expected), _)) = &amounts.expected
            && let Ok(theory) = &amounts.pure_mass
        {
            let _ = write!(
                out,
                "\n\n{}: {} expected of {}",
                escape(&material.key.text),
                show::mass(expected.value),
                show::mass(theory.value)
            );
        }
        if material.product
            && material.role != Some(Role::ByProduct)
            && let Some(Ok(economy)) = plan
                .equation
                .as_ref()
                .map(|equation| equation.atom_economy(material.id))
        {
            let _ = write!(
                out,
                "\n\n{}: atom economy {:.0} %",
                escape(&material.key.text),
                economy.value.value * 100.0
            );
        }
    }
    let count = |severity| {
        unit.findings
            .iter()
            .filter(|finding| finding.severity == severity)
            .count()
    };
    let (errors, warnings) = (
        count(checks::Severity::Error),
        count(checks::Severity::Warning),
    );
    if errors + warnings > 0 {
        let of = |number: usize, what: &str| match number {
            1 => format!("1 {what}"),
            _ => format!("{number} {what}s"),
        };
        let (errors, warnings) = (of(errors, "error"), of(warnings, "warning"));
        let _ = write!(out, "\n\n{errors}, {warnings}");
    }
    if let Some(times) = stated_times(plan) {
        let _ = write!(out, "\n\n{times}");
    }
    out
}

/// `Stated times: 4 h 35 min, of which waiting 4 h; 3 steps state none; done at 13:35 or later`
fn stated_times(plan: &Plan) -> Option<String> {
    let times = plan.times();
    let whole = times.whole();
    if whole.total.is_none() {
        return None;
    }
    let mut out = format!("Stated times: {}", whole.total);
    if !whole.waiting.is_none() {
        let _ = write!(out, ", of which waiting {}", whole.waiting);
    }
    let beside = whole.sum.least - whole.total.least;
    if beside.get::<minute>().round() > 0.0 {
        let _ = write!(out, "; {} one after the other", whole.sum);
    }
    match whole.unstated {
        0 => {}
        1 => out.push_str("; 1 step states none"),
        several => {
            let _ = write!(out, "; {several} steps state none");
        }
    }
    let last = times.parts.len().checked_sub(1)?;
    let end = times.parts.get(last)?;
    if let Some(clock) = times.clock(last, end.total.least) {
        let later = if end.unstated > 0 || end.total.least < end.total.most {
            " or later"
        } else {
            ""
        };
        let _ = write!(out, "; done at {clock}{later}");
    }
    Some(out)
}

/// What we say, in which names of the plan may stand: a stretch between two backticks is code, as we meant it, and the
/// rest is text.
pub(crate) fn prose(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    let mut rest = text;
    while let Some((before, after)) = rest.split_once('`') {
        out.push_str(&escape(before));
        let code = after.split_once('`').filter(|(code, behind)| {
            // Two backticks side by side, or a blank at an end, would be read as something else; a client that shows
            // plain text takes a backslash for a mark.
            code.trim() == *code
                && !code.is_empty()
                && !code.contains('\\')
                && !behind.starts_with('`')
        });
        rest = match code {
            Some((code, behind)) => {
                out.push('`');
                out.push_str(code);
                out.push('`');
                behind
            }
            None => {
                out.push_str("\\`");
                after
            }
        };
    }
    out.push_str(&escape(rest));
    out
}

/// What a plan says is text, not markup.
pub(crate) fn escape(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        if matches!(
            c,
            '\\' | '`' | '*' | '_' | '[' | ']' | '<' | '>' | '#' | '|' | '~' | '!' | '&'
        ) {
            out.push('\\');
        }
        out.push(c);
    }
    out
}

#[cfg(test)]
mod tests {
    use super::prose;

    /// Code spans and escapes as CommonMark 0.31, sections 2.4 and 6.1, reads them.
    #[test]
    fn our_code_is_code_and_a_name_is_text() {
        for (said, shown) in [
            ("add `d …` (g/mL)", "add `d …` (g/mL)"),
            ("write `scale 5 mmol a_b`", "write `scale 5 mmol a_b`"),
            ("the density of a*b", "the density of a\\*b"),
            ("of a`b: nothing", "of a\\`b: nothing"),
            ("of ``: nothing", "of \\`\\`: nothing"),
            ("of `a``: nothing", "of \\`a\\`\\`: nothing"),
            ("of `a\\b`", "of \\`a\\\\b\\`"),
        ] {
            assert_eq!(prose(said), shown);
        }
    }

    /// 768 mg over 154.253 g/mol is 4.98 mmol, by hand.
    #[test]
    fn what_was_taken_stands_beside_what_is_planned() {
        let text = "plan A\nscale 5.00 mmol ketone\nmaterials\n  ketone: 4-tert-butylcyclohexanone, 1.00 eq, took 768 mg\n";
        let document = crate::Document::new(text);
        let hover = document.hover(text.find("ketone:").expect("a key"));
        let words = hover.expect("a hover").markdown;
        assert!(words.contains("771 mg"), "{words}");
        assert!(
            words.contains("took 768 mg, 0.4 % less than planned: 4.98 mmol, 1.00 eq"),
            "{words}"
        );
    }
}
