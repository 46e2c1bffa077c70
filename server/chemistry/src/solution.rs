//! Solutions of a fixed strength that go by name or by a word: saturated, concentrated, brine.

use std::sync::LazyLock;

use crate::fold::fold;
use crate::quantity::{MassDensity, MolarConcentration, Ratio, mass_density, ratio};
use crate::substance::{Source, Sourced, Substance, decimal, degrees, list, molar};
use crate::table;

const SOLUTIONS: &str = include_str!(concat!(env!("OUT_DIR"), "/solutions.tsv"));
/// The names that solutions go by, folded, each with the number of its line.
const NAMES: &str = include_str!(concat!(env!("OUT_DIR"), "/solution-names.tsv"));

/// A solution as the bench knows it.
#[derive(Clone, Debug, PartialEq)]
pub struct Solution {
    /// What is dissolved.
    pub solute: Substance,
    /// What it is dissolved in, by name.
    pub carrier: &'static str,
    /// Strength as the table writes it, such as `37 wt%`, `2 M` or `sat. aq.`.
    pub strength: &'static str,
    /// Amount of solute in a volume of solution.
    pub molarity: Option<Sourced<MolarConcentration>>,
    /// Density of the solution.
    pub density: Option<Sourced<MassDensity>>,
    /// Mass of solute in a mass of solution.
    pub mass_fraction: Option<Ratio>,
}

/// How a plan says the strength of a solution that the table knows.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum SolutionForm {
    /// Saturated (`sat. aq.`).
    Saturated,
    /// Mass fraction of solute, 0 to 1.
    MassFraction(f64),
    /// Amount of solute in a volume of solution (`2 M`).
    Molarity(MolarConcentration),
    /// Concentrated, as sold: the strength that the trade calls so.
    Concentrated,
    /// Glacial, that is free of water.
    Glacial,
}

/// How far a strength may be from the table's, relative: `37 wt%` and `36.5 wt%` are one bottle,
/// `36 wt%` is another.
const SAME_STRENGTH: f64 = 0.015;

/// Read once: every line with a strength asks for them.
static ALL: LazyLock<Vec<(Solution, &'static str)>> =
    LazyLock::new(|| SOLUTIONS.lines().filter_map(read).collect());

/// A line of the table, with the names that the solution goes by.
fn read(line: &'static str) -> Option<(Solution, &'static str)> {
    let mut cells = line.split('\t');
    let solute = Substance::at(cells.next()?)?;
    let mut next = || cells.next().unwrap_or_default();
    let _name = next();
    let (carrier, strength) = (next(), next());
    let (molarity, density, at) = (decimal(next()), decimal(next()), decimal(next()));
    let (names, keys) = (next(), next());
    let mut sources = keys.split('+').filter_map(Source::of_key);
    let source = sources.next()?;
    let agrees = sources.next();
    let at = at.map(|(celsius, _)| degrees(celsius));
    // A strength that defines the solution is exact; a measured one is as good as its digits.
    let nominal = strength.ends_with(" M");
    let gram_per_ml = MassDensity::new::<mass_density::gram_per_cubic_centimeter>;
    let solution = Solution {
        solute,
        carrier,
        strength,
        molarity: molarity.map(|(value, half_width)| Sourced {
            value: molar(value),
            at,
            half_width: molar(if nominal { 0.0 } else { half_width }),
            source,
            agrees,
        }),
        density: density.map(|(value, half_width)| Sourced {
            value: gram_per_ml(value),
            at,
            half_width: gram_per_ml(half_width),
            source,
            agrees,
        }),
        mass_fraction: strength
            .strip_suffix("wt%")
            .and_then(|percent| percent.trim().parse::<f64>().ok())
            .map(Ratio::new::<ratio::percent>),
    };
    Some((solution, names))
}

/// A solution that goes by a name of its own: `brine`, `conc. HCl`.
pub fn find_solution_name(name: &str) -> Option<Solution> {
    let place: usize = table::lookup(NAMES, &fold(name)).next()?.parse().ok()?;
    ALL.get(place).map(|(solution, _)| solution.clone())
}

/// The solution of a substance in a strength that the table knows: exact in words, within 1.5 % in
/// numbers, and the nearest of those. Without a carrier, the one in water.
pub fn find_solution(
    solute: Substance,
    form: SolutionForm,
    carrier: Option<&str>,
) -> Option<Solution> {
    let carrier = fold(carrier.unwrap_or("water"));
    let mut best: Option<(f64, &Solution)> = None;
    for (solution, names) in ALL.iter().filter(|(solution, _)| solution.solute == solute) {
        // Glacial means that there is no carrier.
        if form != SolutionForm::Glacial && fold(solution.carrier) != carrier {
            continue;
        }
        if let Some(distance) = distance(solution, names, form)
            && distance <= SAME_STRENGTH
            && best.as_ref().is_none_or(|(least, _)| distance < *least)
        {
            best = Some((distance, solution));
        }
    }
    best.map(|(_, solution)| solution.clone())
}

/// How far a solution is from a strength, relative; `None` where the two cannot be compared.
fn distance(solution: &Solution, names: &'static str, form: SolutionForm) -> Option<f64> {
    let exact = |agrees: bool| agrees.then_some(0.0);
    match form {
        SolutionForm::Saturated => exact(solution.strength.starts_with("sat")),
        SolutionForm::Glacial => exact(solution.strength == "glacial"),
        SolutionForm::Concentrated => exact(list(names).any(|name| name.starts_with("conc"))),
        SolutionForm::MassFraction(wanted) => {
            let known = solution.mass_fraction?.get::<ratio::ratio>();
            Some((wanted / known - 1.0).abs())
        }
        SolutionForm::Molarity(wanted) => {
            let known = solution.molarity?.value;
            Some(((wanted / known).get::<ratio::ratio>() - 1.0).abs())
        }
    }
}
