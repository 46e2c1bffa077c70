//! What was really taken and obtained: a plan that says so is a record of a run.
//!
//! Planned amounts stay what they are. Beside them stands what follows from `took` and `obtained`: equivalents over what
//! was taken of the scale's material, the reactant that really ran out first, what it could give, and the yield. What
//! has no `took` counts as it was planned.

use crate::Plan;
use crate::equation::Limiting;
use crate::known::{Determined, Gap, Known};
use crate::ledger::{Amounts, basis_of};
use crate::material::{Basis, Material};
use crate::show;
use syntax::{AmountKind, Quantity};
use uom::si::f64::Ratio;
use uom::si::ratio::{percent, ratio};

/// A run as it was done.
#[derive(Clone, Debug)]
pub struct Record {
    /// One a material or product, in their order.
    pub lines: Vec<Line>,
    /// Who really ran out first, if there is an equation.
    pub limiting: Option<Limiting>,
}

/// A material or product of a run.
#[derive(Clone, Debug)]
pub struct Line {
    /// Of a material what was taken, or was planned where it does not say; of a product what the materials could give.
    pub amounts: Amounts,
    /// Whether its line says what was taken.
    pub taken: bool,
    /// How much more was taken than was planned, over what was planned; negative for less.
    pub deviation: Option<Ratio>,
    /// What was obtained of a product, if its line says so.
    pub obtained: Option<Obtained>,
}

/// What came out.
#[derive(Clone, Debug)]
pub struct Obtained {
    /// How much.
    pub amounts: Amounts,
    /// That over what the materials could give.
    pub part: Determined<Ratio>,
}

impl Plan {
    /// The run, where the plan says what was taken or obtained of anything.
    #[must_use]
    pub fn record(&self) -> Option<Record> {
        let mut materials = self.materials.iter();
        if !materials.any(|material| !material.took.is_empty() || material.obtained.is_some()) {
            return None;
        }
        let mut scale = self.ledger.scale.clone();
        if let Some(scale) = &mut scale
            && let Some((material, planned)) = scale.key.and_then(|key| self.material(key))
            && let Some(taken) = self.really_taken(material)
        {
            let taken = taken.and_then(|taken| taken.amount);
            scale.amount = match (&scale.amount, &planned.amount, taken) {
                (Ok(stated), Ok(planned), Ok(taken)) if planned.value.value > 0.0 => {
                    // The line's own equivalents hold: 1.00 eq unless it says otherwise.
                    let factor = (stated.value / planned.value).get::<ratio>();
                    Ok(Known {
                        value: taken.value * factor,
                        half_width: taken.half_width * factor,
                        origin: taken.origin,
                    })
                }
                (Err(gap), ..) | (_, Err(gap), _) => Err(gap.clone()),
                (.., Err(gap)) => Err(gap),
                _ => Err(Gap::new("nothing of the scale's material was planned")),
            };
        }
        let mut reckoner = self.reckoner().with_scale(scale.as_ref());
        let scale = scale.as_ref().map(|scale| &scale.amount);
        let lines = self.materials.iter().zip(&self.ledger.amounts).enumerate();
        let mut lines: Vec<Line> = lines
            .map(|(index, (material, planned))| {
                if material.product {
                    let amounts = reckoner.amounts(index);
                    return Line::of((*amounts).clone());
                }
                match self.really_taken(material) {
                    Some(Ok(taken)) => {
                        let amounts = over(taken, scale);
                        let deviation = deviation(material, planned, &amounts);
                        Line {
                            taken: true,
                            deviation,
                            ..Line::of(amounts)
                        }
                    }
                    Some(Err(gap)) => Line {
                        taken: true,
                        ..Line::of(Amounts {
                            amount: Err(gap.clone()),
                            ..over(planned.clone(), Some(&Err(gap)))
                        })
                    },
                    None => Line::of(over(planned.clone(), scale)),
                }
            })
            .collect();
        let amounts: Vec<Amounts> = lines.iter().map(|line| line.amounts.clone()).collect();
        let limiting = reckoner.limiting(&amounts);
        for (material, line) in self.materials.iter().zip(&mut lines) {
            if material.product {
                reckoner.product(material, &mut line.amounts, &limiting);
                line.obtained = self.obtained(material, &line.amounts);
            }
        }
        Some(Record {
            lines,
            limiting: limiting.ok().flatten(),
        })
    }

    /// What the line says that was taken.
    fn really_taken(&self, material: &Material) -> Option<Result<Amounts, Gap>> {
        let mut parts = material.took.iter();
        let first = basis(parts.next()?, material);
        let sum = parts.try_fold(first?, |sum, part| {
            let rule = "sum of what was taken";
            Some(match (sum, basis(part, material)?) {
                (Basis::Amount(a), Basis::Amount(b)) => Basis::Amount(a.plus(&b, rule)),
                (Basis::Mass(a), Basis::Mass(b)) => Basis::Mass(a.plus(&b, rule)),
                (Basis::Volume(a), Basis::Volume(b)) => Basis::Volume(a.plus(&b, rule)),
                _ => return None,
            })
        });
        Some(match sum {
            Some(basis) => Ok(self.amounts_from(material, basis)),
            None => Err(Gap::new(
                "it was taken by mass and by volume: write one of them",
            )),
        })
    }

    fn obtained(&self, product: &Material, theory: &Amounts) -> Option<Obtained> {
        let basis = basis(product.obtained.as_ref()?, product)?;
        let amounts = self.amounts_from(product, basis);
        let part = match (&amounts.amount, &theory.amount) {
            (Ok(obtained), Ok(theory)) if theory.value.value > 0.0 => {
                Ok(obtained.over(theory, "obtained over theory"))
            }
            (Err(gap), _) | (_, Err(gap)) => Err(gap.clone()),
            _ => Err(Gap::new("nothing of it was to be expected")),
        };
        Some(Obtained { amounts, part })
    }
}

impl Line {
    fn of(amounts: Amounts) -> Line {
        Line {
            amounts,
            taken: false,
            deviation: None,
            obtained: None,
        }
    }
}

impl Record {
    /// `took 768 mg, 0.4 % less than planned: 4.98 mmol, 1.00 eq`, or `562 mg obtained: 74 % of 758 mg`, of the material
    /// or product at this place. None where its line says nothing of the kind.
    #[must_use]
    pub fn words(&self, plan: &Plan, index: usize) -> Option<String> {
        let (line, material) = (self.lines.get(index)?, plan.materials.get(index)?);
        if let (Some(obtained), Some(quantity)) = (&line.obtained, &material.obtained) {
            let written = plan.slice(material.line, quantity.span)?;
            let share = |part: &Known<Ratio>| show::number(part.value.get::<percent>(), 3);
            return Some(match (&obtained.part, &line.amounts.pure_mass) {
                (Ok(part), Ok(theory)) => format!(
                    "obtained {written}: {} % of {}",
                    share(part),
                    show::mass(theory.value)
                ),
                (Ok(part), Err(_)) => format!("obtained {written}: {} %", share(part)),
                (Err(gap), _) => format!("obtained {written}; the yield is not known: {gap}"),
            });
        }
        if !line.taken {
            return None;
        }
        let written = material.took.iter();
        let written = written.filter_map(|quantity| plan.slice(material.line, quantity.span));
        let mut words = format!("took {}", written.collect::<Vec<_>>().join(" and "));
        if let Some(deviation) = line.deviation {
            words.push_str(", ");
            words.push_str(&deviation_text(deviation));
        }
        if !counts(plan, material) {
            return Some(words);
        }
        let amount = line.amounts.amount.as_ref();
        match amount {
            Ok(amount) => words.push_str(&format!(": {}", show::amount(amount.value))),
            Err(gap) => words.push_str(&format!("; how much that is is not known: {gap}")),
        }
        if let (Ok(_), Ok(equivalents)) = (amount, &line.amounts.equivalents) {
            words.push_str(&format!(", {}", show::equivalents(equivalents.value)));
        }
        Some(words)
    }
}

/// Whether anybody asks how many moles it is: not of a solvent that is stated by volume.
fn counts(plan: &Plan, material: &Material) -> bool {
    let in_equation = || {
        let equation = plan.equation.as_ref();
        equation.is_some_and(|equation| equation.term(material.id).is_some())
    };
    let scale = plan.ledger.scale.as_ref();
    material.stated.iter().any(|amount| {
        matches!(
            amount.kind,
            AmountKind::Equivalents
                | AmountKind::MolPercent
                | AmountKind::Amount
                | AmountKind::Mass
        )
    }) || scale.is_some_and(|scale| scale.key == Some(material.id))
        || in_equation()
        || material.stated.is_empty()
}

/// `0.4 % less than planned`
#[must_use]
pub fn deviation_text(deviation: Ratio) -> String {
    let more = deviation.get::<percent>();
    let size = show::number(more.abs(), if more.abs() < 1.0 { 1 } else { 2 });
    match more {
        small if small.abs() < 0.05 => "as planned".to_owned(),
        less if less < 0.0 => format!("{size} % less than planned"),
        _ => format!("{size} % more than planned"),
    }
}

fn basis(quantity: &Quantity, material: &Material) -> Option<Basis> {
    basis_of(quantity, material.line)
}

/// With equivalents over what the scale came to.
fn over(
    mut amounts: Amounts,
    scale: Option<&Determined<uom::si::f64::AmountOfSubstance>>,
) -> Amounts {
    amounts.equivalents = match (&amounts.amount, scale) {
        (Ok(amount), Some(Ok(scale))) if scale.value.value > 0.0 => {
            Ok(amount.over(scale, "amount over what was taken of the scale's material"))
        }
        (Err(gap), _) | (_, Some(Err(gap))) => Err(gap.clone()),
        _ => Err(Gap::new("the plan has no scale")),
    };
    amounts
}

/// By what was measured, or else by the amount.
fn deviation(material: &Material, planned: &Amounts, taken: &Amounts) -> Option<Ratio> {
    let more = |planned: f64, taken: f64| {
        (planned > 0.0 && taken.is_finite()).then(|| Ratio::new::<ratio>(taken / planned - 1.0))
    };
    let by_mass = || Some((planned.mass.as_ref().ok()?, taken.mass.as_ref().ok()?));
    let by_volume = || Some((planned.volume.as_ref().ok()?, taken.volume.as_ref().ok()?));
    let amount = || Some((planned.amount.as_ref().ok()?, taken.amount.as_ref().ok()?));
    let volume = || by_volume().and_then(|(a, b)| more(a.value.value, b.value.value));
    let mass = || by_mass().and_then(|(a, b)| more(a.value.value, b.value.value));
    let measured = match material.measured_by_volume() {
        true => volume().or_else(mass),
        false => mass().or_else(volume),
    };
    measured.or_else(|| amount().and_then(|(a, b)| more(a.value.value, b.value.value)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use uom::si::amount_of_substance::millimole;
    use uom::si::mass::milligram;

    /// Worked by hand with molar masses over CIAAW's abridged atomic weights of 2021: ketone 154.253, salt 357.231,
    /// alkene 152.281 g/mol.
    const PLAN: &str = "\
plan A
scale 5.00 mmol ketone
reaction ketone + salt + base -> alkene + C18H15OP + LiBr + C4H10
materials
  ketone: 4-tert-butylcyclohexanone, 1.00 eq, took 768 mg
  salt: methyltriphenylphosphonium bromide, 1.20 eq, took 2.13 g
  base: n-butyllithium, 2.5 M in hexanes, 1.15 eq, took 2.3 mL
  thf: tetrahydrofuran, 25 mL, took 26 mL
products
  alkene: C11H20, 1.00 eq, expect 85 %, obtained 562 mg
";

    fn close(value: f64, wanted: f64) {
        assert!(
            (value / wanted - 1.0).abs() < 1e-3,
            "{value} is not {wanted}"
        );
    }

    fn equivalents(record: &Record, index: usize) -> f64 {
        let known = record.lines[index].amounts.equivalents.as_ref();
        known.expect("equivalents").value.get::<ratio>()
    }

    #[test]
    fn everything_follows_from_what_was_taken() {
        let plan = Plan::read(PLAN);
        let record = plan.record().expect("a record");
        let ketone = record.lines[0].amounts.amount.as_ref().expect("an amount");
        close(ketone.value.get::<millimole>(), 768.0 / 154.253);
        close(equivalents(&record, 0), 1.0);
        close(
            equivalents(&record, 1),
            2130.0 / 357.231 / (768.0 / 154.253),
        );
        close(equivalents(&record, 2), 5.75 / (768.0 / 154.253));
        let alkene = &record.lines[4];
        let theory = alkene.amounts.pure_mass.as_ref().expect("theory");
        close(theory.value.get::<milligram>(), 768.0 / 154.253 * 152.281);
        let part = &alkene.obtained.as_ref().expect("obtained").part;
        let part = part.as_ref().expect("a yield").value.get::<ratio>();
        close(part, 562.0 / (768.0 / 154.253 * 152.281));
    }

    #[test]
    fn the_planned_amounts_stay() {
        let plan = Plan::read(PLAN);
        let bare = PLAN
            .replace(", took 768 mg", "")
            .replace(", took 2.13 g", "");
        let bare = Plan::read(
            &bare
                .replace(", took 2.3 mL", "")
                .replace(", took 26 mL", ""),
        );
        for (with, without) in plan.ledger.amounts.iter().zip(&bare.ledger.amounts) {
            let value = |amounts: &Amounts| amounts.amount.as_ref().ok().map(|a| a.value);
            assert_eq!(value(with), value(without));
        }
        assert!(bare.record().is_some(), "it still says what was obtained");
        let none = Plan::read(&bare.text.text.replace(", obtained 562 mg", ""));
        assert!(none.record().is_none());
    }

    #[test]
    fn another_reactant_may_run_out_first() {
        let plan = Plan::read(&PLAN.replace("took 2.13 g", "took 1.60 g"));
        let record = plan.record().expect("a record");
        let limiting = record.limiting.expect("a limiting reactant");
        assert_eq!(limiting.key, plan.materials[1].id);
        let theory = record.lines[4].amounts.amount.as_ref().expect("theory");
        close(theory.value.get::<millimole>(), 1600.0 / 357.231);
    }

    #[test]
    fn it_is_said_in_a_line() {
        let plan = Plan::read(PLAN);
        let record = plan.record().expect("a record");
        let words: Vec<_> = (0..5).map(|index| record.words(&plan, index)).collect();
        assert_eq!(
            words,
            [
                Some("took 768 mg, 0.4 % less than planned: 4.98 mmol, 1.00 eq".to_owned()),
                Some("took 2.13 g, 0.6 % less than planned: 5.96 mmol, 1.20 eq".to_owned()),
                Some("took 2.3 mL, as planned: 5.75 mmol, 1.15 eq".to_owned()),
                Some("took 26 mL, 4.0 % more than planned".to_owned()),
                Some("obtained 562 mg: 74.1 % of 758 mg".to_owned()),
            ]
        );
    }

    #[test]
    fn portions_add_up_and_unlike_ones_do_not() {
        let took = |words: &str| {
            let text = PLAN.replace("took 2.3 mL", words);
            let plan = Plan::read(&text);
            plan.record().expect("a record").words(&plan, 2)
        };
        assert_eq!(
            took("took 1.3 mL, took 1.0 mL").as_deref(),
            Some("took 1.3 mL and 1.0 mL, as planned: 5.75 mmol, 1.15 eq")
        );
        let unlike = took("took 1.3 mL, took 0.8 g").expect("words");
        assert!(unlike.contains("by mass and by volume"), "{unlike}");
    }

    #[test]
    fn what_the_line_lacks_is_said() {
        let plan = Plan::read("plan A\nmaterials\n  a: frobnitzine, took 5.0 mg\n");
        let words = plan.record().expect("a record").words(&plan, 0);
        assert!(words.expect("words").contains("add `formula …` or `MW …`"));
    }
}
