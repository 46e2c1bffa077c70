//! What there is to measure with, and how wrong a measurement with it may be.

use crate::convert;
use crate::measuring::Way;
use chemistry::{Basis, Class, Tolerance, Tool, combine, standard_uncertainty};
use std::fmt;
use syntax::Equipment;
use uom::si::f64::{Mass, Ratio, Volume};
use uom::si::mass::{gram, milligram};
use uom::si::ratio::ratio;
use uom::si::volume::milliliter;

/// Balances and vessels. Until a file states them, good ones are assumed, so that what is said to be too small for
/// them is too small for nearly everybody.
#[derive(Clone, Debug)]
pub struct Tools {
    balances: Vec<Balance>,
    volumetric: Vec<Volumetric>,
    /// Whether balances, and vessels, are stated.
    stated: (bool, bool),
}

/// A balance.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Balance {
    readability: Mass,
    capacity: Option<Mass>,
    error: Tolerance<Mass>,
}

/// A tool that measures a volume.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Volumetric {
    tool: Tool,
    size: Volume,
    /// Its greatest error where that is not the table's.
    error: Option<Volume>,
}

/// A tool that is taken for a measurement, written as in `5 mL glass syringe`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Taken {
    /// A balance.
    Balance(Balance),
    /// A tool for a volume.
    Volumetric(Volumetric),
}

/// A measurement that is to be made.
#[derive(Clone, Debug)]
pub struct Reading {
    /// The tool.
    pub tool: Taken,
    /// How often it is filled; 1 for a balance.
    pub strokes: u32,
    /// The greatest error, over what is measured.
    pub greatest_error: Ratio,
    /// Standard uncertainty over what is measured (JCGM 100:2008, 4.3.7 and 5.1.2).
    pub uncertainty: Ratio,
    /// Whether the error is a limit or only usual.
    pub basis: Basis,
    /// Nobody has said that there is such a tool.
    pub assumed: bool,
    /// What it reads to: of a balance its readability, else the distance of two marks, or the size where there is one.
    pub division: Measure,
}

/// What is read off a tool.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Measure {
    /// Off a balance.
    Mass(Mass),
    /// Off a tool with marks.
    Volume(Volume),
}

/// Marks are 1, 2 or 5 apart, and at most this part of the size. Common practice: good syringes and glass have 50 marks
/// or more, plastic syringes 20, and the dial of a piston pipette goes further than what it delivers.
fn marks(tool: Tool) -> Option<f64> {
    match tool {
        Tool::VolumetricFlask(_) | Tool::BulbPipette(_) => None,
        Tool::GraduatedPipette(_) | Tool::Burette(_) | Tool::Cylinder(_) | Tool::GlassSyringe => {
            Some(50.0)
        }
        Tool::DisposableSyringe => Some(20.0),
        Tool::PistonPipette => Some(500.0),
    }
}

/// The largest of 1, 2 and 5 times a power of ten that is not larger.
fn one_two_five(most: f64) -> f64 {
    let decade = 10_f64.powf(most.log10().floor());
    let fits = |mark: &&f64| *mark * decade <= most * (1.0 + 1e-9);
    // A decade is read low where its logarithm is a hair below a whole number.
    [10.0, 5.0, 2.0].iter().find(fits).unwrap_or(&1.0) * decade
}

/// Nobody takes a tool so many times as large as the smallest that would do; common practice.
const LARGE: f64 = 10.0;

/// A plastic syringe from half of its size on is as good (ISO 7886-1); a tool that errs more is the second choice.
const GOOD_ENOUGH: f64 = 0.05 + 1e-9;

/// More fillings of one tool than these are not counted on; common practice.
const MOST_STROKES: u32 = 5;

/// Rather than fill one over and over, people take a larger one that is good enough; common practice.
const MOST_LIKED: u32 = 2;

impl Balance {
    /// A balance by its readability. None where its error is neither given nor in the library's table.
    #[must_use]
    pub fn new(readability: Mass, error: Option<Mass>, capacity: Option<Mass>) -> Option<Balance> {
        let known = chemistry::weighing(readability);
        let error = match (error, known) {
            (Some(half_width), Some(known)) => Tolerance {
                half_width,
                ..known
            },
            (Some(half_width), None) => Tolerance {
                half_width,
                ..chemistry::weighing(Mass::new::<milligram>(0.1))?
            },
            (None, known) => known?,
        };
        Some(Balance {
            readability,
            capacity,
            error,
        })
    }

    /// A net mass is the difference of two readings, each with the error of the balance.
    fn weigh(&self, net: Mass) -> Option<(f64, f64)> {
        if net <= Mass::default() || self.capacity.is_some_and(|most| net > most) {
            return None;
        }
        let twice = combine(&[1.0, 1.0]);
        let over = |error: Mass| (error / net).get::<ratio>() * twice;
        Some((
            over(self.error.half_width),
            over(self.error.standard_uncertainty()),
        ))
    }
}

impl Volumetric {
    /// A tool of a size. None where its error is neither given nor in the library's table.
    #[must_use]
    pub fn new(tool: Tool, size: Volume, error: Option<Volume>) -> Option<Volumetric> {
        let known = error.is_some() || chemistry::tolerance(tool, size).is_some();
        known.then_some(Volumetric { tool, size, error })
    }

    fn division(&self) -> Volume {
        let size = self.size.get::<milliliter>();
        marks(self.tool).map_or(self.size, |marks| {
            Volume::new::<milliliter>(one_two_five(size / marks))
        })
    }

    /// Whether it holds its content off the air.
    fn is_syringe(&self) -> bool {
        matches!(self.tool, Tool::GlassSyringe | Tool::DisposableSyringe)
    }

    /// Fillings, the greatest error and the standard uncertainty over the volume. A tool errs to one side each time
    /// that it is filled, so its errors add up.
    fn measure(&self, volume: Volume) -> Option<Measured> {
        let strokes = chemistry::strokes(volume, self.size)?;
        if !(1..=MOST_STROKES).contains(&strokes) {
            return None;
        }
        let once = volume / f64::from(strokes);
        let over = |error: Volume| (error / once).get::<ratio>();
        if let Some(error) = self.error {
            let one_mark = matches!(self.tool, Tool::BulbPipette(_) | Tool::VolumetricFlask(_));
            if one_mark && chemistry::strokes(self.size, once)? != 1 {
                return None;
            }
            let greatest = over(error);
            return Some((
                strokes,
                greatest,
                standard_uncertainty(greatest),
                Basis::Limit,
            ));
        }
        let found = chemistry::tolerance_at(self.tool, self.size, once)?;
        let random = found
            .repeatability
            .map_or(0.0, |random| over(random) / f64::from(strokes).sqrt());
        let greatest = over(found.half_width);
        let uncertainty = combine(&[standard_uncertainty(greatest), random]);
        Some((strokes, greatest, uncertainty, found.basis))
    }
}

impl fmt::Display for Balance {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "balance that reads {}", plain_mass(self.readability))
    }
}

impl fmt::Display for Volumetric {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let name = match self.tool {
            Tool::VolumetricFlask(_) => "volumetric flask",
            Tool::BulbPipette(_) => "pipette",
            Tool::GraduatedPipette(_) => "graduated pipette",
            Tool::Burette(_) => "burette",
            Tool::Cylinder(_) => "cylinder",
            Tool::PistonPipette => "piston pipette",
            Tool::GlassSyringe => "glass syringe",
            Tool::DisposableSyringe => "plastic syringe",
        };
        write!(f, "{} {name}", plain_volume(self.size))
    }
}

impl fmt::Display for Taken {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Taken::Balance(balance) => balance.fmt(f),
            Taken::Volumetric(tool) => tool.fmt(f),
        }
    }
}

/// Sizes as the trade writes them: `10 µL`, `2.5 mL`, `2 L`.
fn plain_volume(volume: Volume) -> String {
    let ml = volume.get::<milliliter>();
    let (value, unit) = match ml {
        ml if ml < 0.999 => (ml * 1000.0, "µL"),
        ml if ml > 999.0 => (ml / 1000.0, "L"),
        ml => (ml, "mL"),
    };
    format!("{} {unit}", crate::show::shortest(value))
}

fn plain_mass(mass: Mass) -> String {
    let mg = mass.get::<milligram>();
    format!("{} mg", crate::show::shortest(mg))
}

impl Default for Tools {
    fn default() -> Self {
        let mass = |mg| Mass::new::<milligram>(mg);
        let most = Some(Mass::new::<gram>(200.0));
        let balances = [
            Balance::new(mass(0.1), None, most),
            Balance::new(mass(10.0), None, None),
        ];
        let glass = [
            0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1.0, 2.5, 5.0, 10.0, 25.0, 50.0,
        ];
        let plastic = [1.0, 2.0, 5.0, 10.0, 20.0, 50.0];
        let cylinders = [10.0, 25.0, 50.0, 100.0, 250.0, 500.0, 1000.0];
        let of = |tool, sizes: &[f64]| {
            let size = |ml: &f64| Volumetric::new(tool, Volume::new::<milliliter>(*ml), None);
            sizes.iter().filter_map(size).collect::<Vec<_>>()
        };
        Tools {
            balances: balances.into_iter().flatten().collect(),
            volumetric: [
                of(Tool::GlassSyringe, &glass),
                of(Tool::DisposableSyringe, &plastic),
                of(Tool::Cylinder(Class::B), &cylinders),
            ]
            .concat(),
            stated: (false, false),
        }
    }
}

impl Tools {
    /// Takes stated tools instead of the assumed ones, where any are stated.
    pub(crate) fn take(&mut self, balances: Vec<Balance>, volumetric: Vec<Volumetric>) {
        if !balances.is_empty() {
            self.balances = balances;
            self.stated.0 = true;
        }
        if !volumetric.is_empty() {
            self.volumetric = volumetric;
            self.stated.1 = true;
        }
    }

    /// Whether a file names balances or tools for volumes.
    #[must_use]
    pub fn are_stated(&self) -> bool {
        self.stated.0 || self.stated.1
    }

    /// The tools for volumes.
    #[must_use]
    pub fn volumetric(&self) -> &[Volumetric] {
        &self.volumetric
    }

    /// Those of the tools for volumes that lines of equipment list. What a line does not say, of glass or of plastic, is
    /// what there is in that size.
    fn listed<'a>(&self, lines: impl Iterator<Item = &'a Equipment>) -> Tools {
        let mut listed = Tools {
            balances: Vec::new(),
            volumetric: Vec::new(),
            stated: self.stated,
        };
        for line in lines {
            let head = line.head.trim_end_matches(['s', 'S']);
            let is = |kind: &str| head.eq_ignore_ascii_case(kind);
            if !is("cylinder") && !is("syringe") {
                continue;
            }
            let words = line.text.text.to_lowercase();
            let says = |any: &[&str]| any.iter().any(|word| words.contains(word));
            let tool = if is("cylinder") {
                if says(&["gas"]) {
                    continue;
                }
                Some(Tool::Cylinder(Class::B))
            } else if says(&["glass", "gastight", "gas-tight"]) {
                Some(Tool::GlassSyringe)
            } else if says(&["plastic", "disposable", "polypropylene", "single-use"]) {
                Some(Tool::DisposableSyringe)
            } else {
                None
            };
            for size in line.sizes.iter().filter(|size| size.to.is_none()) {
                let Some(size) = convert::volume(size, 0).map(|known| known.value) else {
                    continue;
                };
                let same = |own: &&Volumetric| {
                    let fits = match tool {
                        Some(tool) => own.tool == tool,
                        None => own.is_syringe(),
                    };
                    fits && (own.size / size - Ratio::new::<ratio>(1.0))
                        .abs()
                        .get::<ratio>()
                        < 1e-6
                };
                if tool == Some(Tool::GlassSyringe)
                    && !self
                        .volumetric
                        .iter()
                        .any(|own| same(&own) && own.error.is_some())
                {
                    listed.volumetric.extend(below_half(size));
                }
                let known: Vec<_> = self.volumetric.iter().filter(same).copied().collect();
                if known.is_empty() {
                    let new = tool.and_then(|tool| Volumetric::new(tool, size, None));
                    listed.volumetric.extend(new);
                }
                listed.volumetric.extend(known);
            }
        }
        listed
    }

    /// The same as [`Tools::measure`], by a tool that lines of equipment list where one of them fits: it errs by no more
    /// than a good tool, and is not filled over and over.
    pub(crate) fn measure_by<'a>(
        &self,
        lines: impl Iterator<Item = &'a Equipment>,
        volume: Volume,
        way: Way,
        closed: bool,
    ) -> Option<Reading> {
        let most = if way == Way::Cylinder { 1 } else { MOST_LIKED };
        let fits = |reading: &Reading| {
            reading.strokes <= most && reading.greatest_error.get::<ratio>() <= GOOD_ENOUGH
        };
        let listed = self.listed(lines);
        let by_listed = listed.measure(volume, way, closed).filter(fits);
        by_listed.or_else(|| self.measure(volume, way, closed))
    }

    /// The smallest cylinder that holds a volume, of those that lines of equipment list, else of the others.
    pub(crate) fn pour_by<'a>(
        &self,
        lines: impl Iterator<Item = &'a Equipment>,
        volume: Volume,
    ) -> Option<Reading> {
        let listed = self.listed(lines);
        listed.pour(volume).or_else(|| self.pour(volume))
    }

    /// The smallest cylinder that holds a volume.
    #[must_use]
    pub fn pour(&self, volume: Volume) -> Option<Reading> {
        let holds = |tool: &&Volumetric| {
            let cylinder = matches!(tool.tool, Tool::Cylinder(_));
            cylinder && chemistry::strokes(volume, tool.size) == Some(1)
        };
        let cylinders = self.volumetric.iter().filter(holds);
        let smallest = cylinders.min_by(|a, b| a.size.value.total_cmp(&b.size.value))?;
        let how = smallest.measure(volume)?;
        Some(self.read(*smallest, how))
    }

    fn read(&self, tool: Volumetric, how: Measured) -> Reading {
        let (strokes, greatest, uncertainty, basis) = how;
        Reading {
            tool: Taken::Volumetric(tool),
            strokes,
            greatest_error: Ratio::new::<ratio>(greatest),
            uncertainty: Ratio::new::<ratio>(uncertainty),
            basis,
            assumed: !self.stated.1,
            division: Measure::Volume(tool.division()),
        }
    }

    /// The balance that weighs a mass best. None for what no balance carries.
    #[must_use]
    pub fn weigh(&self, net: Mass) -> Option<Reading> {
        let weighed = self.balances.iter().filter_map(|balance| {
            let (greatest, uncertainty) = balance.weigh(net)?;
            Some((balance, (1, greatest, uncertainty, balance.error.basis)))
        });
        let (balance, (strokes, greatest, uncertainty, basis)) = best(weighed)?;
        Some(Reading {
            tool: Taken::Balance(*balance),
            strokes,
            greatest_error: Ratio::new::<ratio>(greatest),
            uncertainty: Ratio::new::<ratio>(uncertainty),
            basis,
            assumed: !self.stated.0,
            division: Measure::Mass(balance.readability),
        })
    }

    /// The tool that measures a volume best, with the fewest fillings that are good enough; `closed` for a liquid that
    /// is kept off the air, and no cylinder for what is too little for one. None for what no tool measures, or where the error of the tool that one would take is not known.
    #[must_use]
    pub fn measure(&self, volume: Volume, way: Way, closed: bool) -> Option<Reading> {
        let fit: Vec<_> = self
            .volumetric
            .iter()
            .filter(|tool| !closed || tool.is_syringe())
            .filter(|tool| way == Way::Cylinder || !matches!(tool.tool, Tool::Cylinder(_)))
            .collect();
        let natural = fit
            .iter()
            .filter(|tool| tool.size >= volume)
            .map(|tool| tool.size)
            .reduce(|a, b| if b < a { b } else { a });
        let measured = fit
            .iter()
            // A large tool is no choice where a small one holds it.
            .filter(|tool| natural.is_none_or(|natural| tool.size <= natural * LARGE))
            .filter_map(|tool| Some((tool, tool.measure(volume)?)));
        let (mut tool, mut how) = best(measured).map(|(tool, how)| (**tool, how))?;
        if how.0 > MOST_LIKED {
            let larger = fit.iter().filter(|tool| {
                tool.tool == Tool::GlassSyringe && tool.error.is_none() && tool.size >= volume
            });
            let larger = larger.min_by(|a, b| a.size.value.total_cmp(&b.size.value));
            let once = larger
                .and_then(|tool| below_half(tool.size))
                .and_then(|tool| Some((tool, tool.measure(volume)?)))
                .filter(|(_, (_, error, ..))| *error <= GOOD_ENOUGH);
            if let Some(once) = once {
                (tool, how) = once;
            }
        }
        Some(self.read(tool, how))
    }
}

/// A glass syringe below half of its size, where nobody states its error: twice that at half of it (an assumption).
fn below_half(size: Volume) -> Option<Volumetric> {
    Volumetric::new(Tool::GlassSyringe, size, Some(size * 0.01))
}

/// Fillings, greatest error and standard uncertainty, both over what is measured.
type Measured = (u32, f64, f64, Basis);

fn best<T>(measured: impl Iterator<Item = (T, Measured)>) -> Option<(T, Measured)> {
    measured.min_by(|(_, a), (_, b)| {
        let rank = |of: &Measured| (of.1 > GOOD_ENOUGH, of.0);
        rank(a).cmp(&rank(b)).then_with(|| a.2.total_cmp(&b.2))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn volume(ml: f64) -> Volume {
        Volume::new::<milliliter>(ml)
    }

    #[test]
    fn a_net_mass_carries_the_error_of_two_readings() {
        let balance = Balance::new(Mass::new::<milligram>(0.1), None, None).expect("a balance");
        let (greatest, uncertainty) = balance
            .weigh(Mass::new::<milligram>(20.0))
            .expect("weighed");
        // ± 0.2 mg twice in quadrature over 20 mg; a rectangle's standard deviation is a/√3 (JCGM 100:2008, 4.3.7).
        assert!((greatest - 0.2 * 2_f64.sqrt() / 20.0).abs() < 1e-12);
        assert!((uncertainty - greatest / 3_f64.sqrt()).abs() < 1e-12);
        assert!(balance.weigh(Mass::default()).is_none());
    }

    #[test]
    fn a_volume_goes_into_the_tool_that_errs_least_and_is_filled_the_fewest_times() {
        let tools = Tools::default();
        for (ml, tool, strokes) in [
            (0.008, "10 µL glass syringe", 1),
            (2.3, "2.5 mL glass syringe", 1),
            (60.0, "100 mL cylinder", 1),
        ] {
            let way = if ml > 10.0 {
                Way::Cylinder
            } else {
                Way::Syringe
            };
            let reading = tools.measure(volume(ml), way, false).expect("a tool");
            assert_eq!(
                (&*reading.tool.to_string(), reading.strokes),
                (tool, strokes),
                "{ml} mL"
            );
        }
        let closed = tools
            .measure(volume(60.0), Way::Syringe, true)
            .expect("a syringe");
        assert_eq!(
            (&*closed.tool.to_string(), closed.strokes),
            ("50 mL glass syringe", 2)
        );
        // Nobody says how well 1 µL is measured in 10 µL, and nobody takes a 1 mL syringe for it.
        assert!(tools.measure(volume(0.001), Way::Syringe, false).is_none());
        assert!(tools.measure(volume(0.0), Way::Syringe, false).is_none());
    }

    /// 1 % of 500 µL is 2.3 % of 220 µL.
    #[test]
    fn one_filling_of_the_next_larger_syringe_comes_before_three_of_a_small_one() {
        let glass = |ml| Volumetric::new(Tool::GlassSyringe, volume(ml), None).expect("a syringe");
        let tools = Tools {
            volumetric: vec![glass(0.1), glass(0.5), glass(1.0)],
            ..Tools::default()
        };
        let reading = tools
            .measure(volume(0.22), Way::Syringe, true)
            .expect("a tool");
        assert_eq!(
            (&*reading.tool.to_string(), reading.strokes),
            ("500 µL glass syringe", 1)
        );
        assert!((reading.greatest_error.get::<ratio>() - 5.0 / 220.0).abs() < 1e-9);
        let twice = tools
            .measure(volume(0.18), Way::Syringe, true)
            .expect("a tool");
        assert_eq!(
            (&*twice.tool.to_string(), twice.strokes),
            ("100 µL glass syringe", 2)
        );
    }

    #[test]
    fn marks_are_one_two_or_five_apart() {
        // As they stand on the tools of one laboratory.
        for (tool, ml, division) in [
            (Tool::GlassSyringe, 0.01, 0.0002),
            (Tool::GlassSyringe, 0.25, 0.005),
            (Tool::GlassSyringe, 1.0, 0.02),
            (Tool::GlassSyringe, 2.5, 0.05),
            (Tool::GlassSyringe, 20.0, 0.2),
            (Tool::DisposableSyringe, 1.0, 0.05),
            (Tool::DisposableSyringe, 5.0, 0.2),
            (Tool::DisposableSyringe, 10.0, 0.5),
            (Tool::DisposableSyringe, 20.0, 1.0),
            (Tool::Cylinder(Class::B), 10.0, 0.2),
            (Tool::Cylinder(Class::B), 25.0, 0.5),
            (Tool::Cylinder(Class::B), 50.0, 1.0),
            (Tool::Cylinder(Class::B), 1000.0, 20.0),
            (Tool::PistonPipette, 1.0, 0.002),
            (Tool::BulbPipette(Class::A), 25.0, 25.0),
        ] {
            let tool = Volumetric {
                tool,
                size: volume(ml),
                error: None,
            };
            let found = tool.division().get::<milliliter>();
            assert!((found / division - 1.0).abs() < 1e-9, "{tool}: {found}");
        }
    }

    #[test]
    fn the_errors_of_several_fillings_add_up_and_their_scatter_does_not() {
        let tool = Volumetric::new(Tool::PistonPipette, volume(1.0), None).expect("a pipette");
        let (one, twice) = (tool.measure(volume(1.0)), tool.measure(volume(2.0)));
        let ((_, e1, u1, _), (n, e2, u2, _)) = (one.expect("one"), twice.expect("two"));
        // ISO 8655-2: 0.8 % systematic and 0.3 % random at 1 mL.
        assert!(n == 2 && (e1 - 0.008).abs() < 1e-12 && (e2 - e1).abs() < 1e-12);
        assert!((u1 - combine(&[0.008 / 3_f64.sqrt(), 0.003])).abs() < 1e-12);
        assert!((u2 - combine(&[0.008 / 3_f64.sqrt(), 0.003 / 2_f64.sqrt()])).abs() < 1e-12);
    }
}
