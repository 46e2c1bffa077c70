//! How wrong a measuring tool may be, and the uncertainty that follows.
//!
//! The limits are maximum permissible errors at 20 °C as standards give them to a nominal size and
//! a class; where the text of a standard was not to be had, there is no claim. They are about the
//! tool: what the hand adds (the meniscus, drops left behind, warm liquid) is not in them.

use std::ops::{Div, Mul};
use std::sync::LazyLock;

use crate::quantity::{Mass, Ratio, Volume, mass, ratio, volume};
use crate::substance::Source;

const TOLERANCES: &str = include_str!("../data/tolerances.tsv");

/// Sizes of round-bottomed flasks in mL, smallest first.
///
/// The sizes up to 2 L and 10 L are also in ISO 24450; 5, 10 and 25 mL, 3, 5 and 20 L are sizes of
/// the trade (common practice).
pub const STANDARD_FLASKS: &[f64] = &[
    5.0, 10.0, 25.0, 50.0, 100.0, 250.0, 500.0, 1000.0, 2000.0, 3000.0, 5000.0, 10_000.0, 20_000.0,
];

/// Two sizes closer than this, relative, are one: room for the rounding of unit conversions.
const SAME_SIZE: f64 = 1e-6;

/// Accuracy class of glass volumetric ware.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Class {
    /// Class A, and AS (swift delivery), which has the same limits.
    A,
    /// Class B: twice the limit of class A.
    B,
}

/// A tool that measures a volume.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Tool {
    /// One-mark volumetric flask.
    VolumetricFlask(Class),
    /// Single-volume (bulb, transfer) pipette.
    BulbPipette(Class),
    /// Graduated pipette.
    GraduatedPipette(Class),
    /// Burette, of the coarsest scale that its size has.
    Burette(Class),
    /// Graduated measuring cylinder, adjusted to contain.
    Cylinder(Class),
    /// Single-channel piston pipette with an air cushion.
    PistonPipette,
    /// Precision glass syringe.
    GlassSyringe,
    /// Single-use plastic syringe.
    DisposableSyringe,
}

/// How firm a tolerance is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Basis {
    /// Maximum permissible error by a standard.
    Limit,
    /// What is usual for such a tool, by a published guide or a maker; no tool need keep it.
    Typical,
}

/// What a tool may be wrong by.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Tolerance<T> {
    /// Greatest systematic error to either side.
    pub half_width: T,
    /// Greatest standard deviation of repeated measurements, where the source gives one.
    pub repeatability: Option<T>,
    /// Whether it is a limit or only usual.
    pub basis: Basis,
    /// Where it comes from.
    pub source: Source,
    /// A second source, which gives the same or less.
    pub second: Option<Source>,
}

impl<T> Tolerance<T>
where
    T: Copy + Div<f64, Output = T> + Mul<f64, Output = T> + Div<T, Output = Ratio>,
{
    /// Standard uncertainty of one measurement, in the unit of the quantity: the half-width as a
    /// rectangular distribution, with the repeatability in quadrature.
    pub fn standard_uncertainty(&self) -> T {
        let systematic = standard_uncertainty(self.half_width);
        self.repeatability.map_or(systematic, |random| {
            systematic * combine(&[1.0, (random / systematic).get::<ratio::ratio>()])
        })
    }
}

/// Tolerance of a tool used at its full nominal size.
///
/// `None` for a size that no source read for the table gives.
pub fn tolerance(tool: Tool, nominal: Volume) -> Option<Tolerance<Volume>> {
    tolerance_at(tool, nominal, nominal)
}

/// Tolerance of a tool of a nominal size that measures a volume.
///
/// The limit of a graduated tool or a piston pipette holds at every point of its scale. A flask or
/// a bulb pipette measures its nominal volume only. For syringes the tolerance depends on the
/// volume; below half the capacity most have none here. `None` also for a volume that is not
/// positive or that the tool cannot hold.
pub fn tolerance_at(tool: Tool, nominal: Volume, measured: Volume) -> Option<Tolerance<Volume>> {
    let capacity = nominal.get::<volume::milliliter>();
    let volume = measured.get::<volume::milliliter>();
    let full = same_size(volume, capacity);
    if !(capacity.is_finite() && volume > 0.0 && (volume <= capacity || full)) {
        return None;
    }
    let fixed = matches!(tool, Tool::VolumetricFlask(_) | Tool::BulbPipette(_));
    if fixed && !full {
        return None;
    }
    let from_half = volume >= capacity / 2.0 || same_size(volume, capacity / 2.0);
    find(tool.kind(from_half), capacity, volume)
        .map(|found| found.map(Volume::new::<volume::milliliter>))
}

/// What a laboratory balance is usually wrong by, from its readability: 0.1 mg, 1 mg or 10 mg.
///
/// The half-width is the linearity of one reading; a net mass is the difference of two readings
/// and has it twice, in quadrature. Always [`Basis::Typical`]: the data sheet of the balance rules.
pub fn weighing(readability: Mass) -> Option<Tolerance<Mass>> {
    let gram = readability.get::<mass::gram>();
    find(BALANCE, gram, gram).map(|found| found.map(Mass::new::<mass::gram>))
}

/// Standard uncertainty of a quantity known to lie within ± a half-width, all of it equally
/// likely: a/√3 (JCGM 100:2008, 4.3.7), in the unit of the half-width.
pub fn standard_uncertainty<T: Div<f64, Output = T>>(half_width: T) -> T {
    half_width / 3_f64.sqrt()
}

/// Combined standard uncertainty of independent contributions: the root of the sum of squares.
///
/// For sums and differences the contributions are absolute, in one unit; for products and
/// quotients they are relative (JCGM 100:2008, 5.1.2 and 5.1.6).
pub fn combine(contributions: &[f64]) -> f64 {
    contributions.iter().map(|u| u * u).sum::<f64>().sqrt()
}

/// How many fillings of a tool a volume takes; none for no volume.
///
/// `None` for a capacity that is not positive, a negative volume, or one beyond counting.
pub fn strokes(volume: Volume, capacity: Volume) -> Option<u32> {
    let (volume, capacity) = (
        volume.get::<volume::milliliter>(),
        capacity.get::<volume::milliliter>(),
    );
    let fillings = volume / capacity;
    if !(capacity > 0.0 && (0.0..f64::from(u32::MAX)).contains(&fillings)) {
        return None;
    }
    Some((fillings * (1.0 - SAME_SIZE)).ceil() as u32)
}

/// Smallest standard flask that holds a volume to the brim.
///
/// `None` for a negative volume and beyond the largest flask.
pub fn next_size(volume: Volume) -> Option<Volume> {
    let needed = volume.get::<volume::milliliter>();
    STANDARD_FLASKS
        .iter()
        .find(|size| needed >= 0.0 && (needed <= **size || same_size(needed, **size)))
        .map(|size| Volume::new::<volume::milliliter>(*size))
}

impl Tool {
    /// Its place among [`KINDS`]; for a syringe, that of the part of it that is used.
    fn kind(self, from_half: bool) -> usize {
        let class = |a, class| match class {
            Class::A => a,
            Class::B => a + 1,
        };
        match self {
            Tool::VolumetricFlask(of) => class(1, of),
            Tool::BulbPipette(of) => class(3, of),
            Tool::GraduatedPipette(of) => class(5, of),
            Tool::Burette(of) => class(7, of),
            Tool::Cylinder(of) => class(9, of),
            Tool::PistonPipette => 11,
            Tool::GlassSyringe => 12 + usize::from(!from_half),
            Tool::DisposableSyringe => 14 + usize::from(!from_half),
        }
    }
}

/// How the table calls each tool and its class, or the part of a syringe.
const KINDS: [(&str, &str); 16] = [
    ("balance", ""),
    ("volumetric flask", "A"),
    ("volumetric flask", "B"),
    ("bulb pipette", "A"),
    ("bulb pipette", "B"),
    ("graduated pipette", "A"),
    ("graduated pipette", "B"),
    ("burette", "A"),
    ("burette", "B"),
    ("cylinder", "A"),
    ("cylinder", "B"),
    ("piston pipette", ""),
    ("glass syringe", "from half"),
    ("glass syringe", "below half"),
    ("disposable syringe", "from half"),
    ("disposable syringe", "below half"),
];

/// The place of the balance.
const BALANCE: usize = 0;

impl Tolerance<f64> {
    fn map<T>(self, unit: impl Fn(f64) -> T) -> Tolerance<T> {
        Tolerance {
            half_width: unit(self.half_width),
            repeatability: self.repeatability.map(unit),
            basis: self.basis,
            source: self.source,
            second: self.second,
        }
    }
}

/// A row of the table: mL, or g for a balance, whose nominal size is its readability.
struct Row {
    what: &'static str,
    /// `None` for every size.
    nominal: Option<f64>,
    error: Error,
    source: Source,
    second: Option<Source>,
}

/// A sum: `0.03`, or `1.5 % capacity + 2 % volume`.
#[derive(Default)]
struct Error {
    constant: f64,
    of_capacity: f64,
    of_volume: f64,
}

impl Error {
    fn read(text: &str) -> Option<Error> {
        let mut error = Error::default();
        if let Ok(constant) = text.parse() {
            return Some(Error { constant, ..error });
        }
        for term in text.split(" + ") {
            match term.split_once(" % ") {
                Some((percent, "capacity")) => {
                    error.of_capacity += percent.parse::<f64>().ok()? / 100.0
                }
                Some((percent, "volume")) => {
                    error.of_volume += percent.parse::<f64>().ok()? / 100.0
                }
                Some(_) => return None,
                None => error.constant += term.parse::<f64>().ok()?,
            }
        }
        Some(error)
    }

    fn of(&self, nominal: f64, measured: f64) -> f64 {
        self.constant + self.of_capacity * nominal + self.of_volume * measured
    }
}

/// By the place of tool and class among [`KINDS`], read once: every amount that is measured asks for several.
static ROWS: LazyLock<[Vec<Row>; KINDS.len()]> = LazyLock::new(|| {
    let mut rows = [const { Vec::new() }; KINDS.len()];
    for (of, row) in TOLERANCES.lines().filter_map(Row::read) {
        let kind = KINDS.iter().position(|kind| *kind == of);
        if let Some(rows) = kind.and_then(|kind| rows.get_mut(kind)) {
            rows.push(row);
        }
    }
    rows
});

impl Row {
    fn read(line: &'static str) -> Option<((&'static str, &'static str), Row)> {
        let mut cells = line.split('\t');
        let of = (cells.next()?, cells.next()?);
        let what = cells.next()?;
        let nominal = match cells.next()? {
            "any" => None,
            size => Some(size.parse().ok()?),
        };
        let error = Error::read(cells.next()?)?;
        let mut sources = cells.next()?.split('+').map(Source::of_key);
        let row = Row {
            what,
            nominal,
            error,
            source: sources.next()??,
            second: sources.next().flatten(),
        };
        Some((of, row))
    }
}

fn find(kind: usize, nominal: f64, measured: f64) -> Option<Tolerance<f64>> {
    let rows = ROWS.get(kind)?;
    let of_size = |row: &&Row| row.nominal.is_some_and(|size| same_size(size, nominal));
    let systematic = |row: &&Row| row.what != "repeatability";
    let row = rows
        .iter()
        .find(|row| systematic(row) && of_size(row))
        .or_else(|| {
            let of_any = |row: &&Row| systematic(row) && row.nominal.is_none();
            rows.iter().find(of_any)
        })?;
    Some(Tolerance {
        half_width: row.error.of(nominal, measured),
        repeatability: rows
            .iter()
            .find(|row| !systematic(row) && of_size(row))
            .map(|row| row.error.of(nominal, measured)),
        basis: match row.what {
            "limit" => Basis::Limit,
            _ => Basis::Typical,
        },
        source: row.source,
        second: row.second,
    })
}

fn same_size(a: f64, b: f64) -> bool {
    (a - b).abs() <= SAME_SIZE * b.abs()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_row_is_read_and_has_its_sources() {
        let mut lines = TOLERANCES.lines();
        let header = "tool\tclass\twhat\tnominal\ttolerance\tsources";
        assert_eq!(lines.next(), Some(header));
        for line in lines {
            let Some((of, row)) = Row::read(line) else {
                panic!("{line}");
            };
            assert!(KINDS.contains(&of), "{line}");
            assert!(
                ["limit", "typical", "repeatability"].contains(&row.what),
                "{line}"
            );
            assert!(row.nominal.is_none_or(|size| size > 0.0), "{line}");
            assert!(row.error.of(1.0, 1.0) > 0.0, "{line}");
            let sources = line.rsplit('\t').next().unwrap_or_default();
            assert!(
                sources.split('+').all(|key| Source::of_key(key).is_some()),
                "{line}"
            );
            assert_eq!(line.split('\t').count(), 6, "{line}");
        }
    }
}
