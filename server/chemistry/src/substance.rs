//! The substance table: identity, physical constants, classes and hazards, each with its source.

use std::fmt;
use std::sync::LazyLock;

use crate::class::{ReagentClass, Sensitivity, Tag};
use crate::quantity::{
    MassDensity, MolarConcentration, TemperatureInterval, ThermodynamicTemperature, mass_density,
    molar_concentration, temperature_interval, thermodynamic_temperature,
};

const SUBSTANCES: &str = include_str!(concat!(env!("OUT_DIR"), "/substances.tsv"));
const ROWS: &[u8] = include_bytes!(concat!(env!("OUT_DIR"), "/rows.bin"));
const SOURCES: &str = include_str!(concat!(env!("OUT_DIR"), "/sources.tsv"));

/// By key, read once: every value comes with its source.
static ALL_SOURCES: LazyLock<Vec<Source>> = LazyLock::new(|| {
    let source = |line: &'static str| {
        let mut cells = line.split('\t');
        Source {
            key: cells.next().unwrap_or_default(),
            citation: cells.next().unwrap_or_default(),
            seen: cells.next().unwrap_or_default(),
        }
    };
    let mut sources: Vec<Source> = SOURCES.lines().map(source).collect();
    sources.sort_unstable_by_key(|source| source.key);
    sources
});

/// A row of the substance table.
///
/// The table is the hand-checked list and, for what that does not hold, the import from handbooks;
/// it lies in the program as text and is read where it lies.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Substance(u32);

/// State of matter at 20 °C and atmospheric pressure.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum State {
    /// Solid.
    Solid,
    /// Liquid.
    Liquid,
    /// Gas.
    Gas,
}

/// Where a value comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Source {
    /// The short name that the tables use.
    pub key: &'static str,
    /// The publication.
    pub citation: &'static str,
    /// How the publication was seen: in print, in a package, or only remembered.
    pub seen: &'static str,
}

/// A quantity and the type in which its half-width is measured.
pub trait Measured {
    /// Type of a difference of two such values.
    type HalfWidth;
}

impl Measured for MassDensity {
    type HalfWidth = MassDensity;
}

impl Measured for MolarConcentration {
    type HalfWidth = MolarConcentration;
}

impl Measured for ThermodynamicTemperature {
    type HalfWidth = TemperatureInterval;
}

/// A tabulated value with what its digits claim and its source.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sourced<T: Measured> {
    /// The value.
    pub value: T,
    /// The temperature at which it holds, where the source says.
    pub at: Option<ThermodynamicTemperature>,
    /// Half a unit of the last digit that the table prints (JCGM 100:2008, 4.3.7).
    pub half_width: T::HalfWidth,
    /// Where it comes from.
    pub source: Source,
    /// A second source that agrees.
    pub agrees: Option<Source>,
}

/// Order of the columns in the written table, as the build script has it.
#[derive(Clone, Copy)]
enum Column {
    Name,
    Synonyms,
    Cas,
    Formula,
    Smiles,
    Density = 6,
    DensityAt,
    Melting,
    Boiling,
    WaterEquivalents = 12,
    OxygenEquivalents,
    Strengths,
    Hazards,
    Sources,
}

/// Bytes of a row in the index of cells: where the row begins, its class, its state, its tags, and where each of its
/// cells ends, from its beginning.
const ROW_BYTES: usize = ENDS + 2 * (Column::Sources as usize + 1);
const CLASS: usize = 4;
const STATE: usize = CLASS + 1;
const TAGS: usize = STATE + 1;
const ENDS: usize = TAGS + 2;

impl Substance {
    /// From the number of its row, as the indexes hold it.
    pub(crate) fn at(number: &str) -> Option<Substance> {
        number.parse().ok().map(Substance)
    }

    /// The number of its row, the key of the tables on it.
    pub(crate) fn number(self) -> u32 {
        self.0
    }

    /// Every substance, the hand-checked ones first.
    pub fn all() -> impl Iterator<Item = Substance> {
        // The table is far below 2³² rows.
        (0..(ROWS.len() / ROW_BYTES) as u32).map(Substance)
    }

    fn row(self) -> Option<&'static [u8; ROW_BYTES]> {
        ROWS.get(self.0 as usize * ROW_BYTES..)?.first_chunk()
    }

    fn cell(self, column: Column) -> &'static str {
        let found = || {
            let row = self.row()?;
            let start = u32::from_le_bytes(*row.first_chunk()?) as usize;
            let end_of = |column: usize| {
                let end = row.get(ENDS + 2 * column..)?.first_chunk()?;
                Some(start + usize::from(u16::from_le_bytes(*end)))
            };
            let begin = match (column as usize).checked_sub(1) {
                Some(before) => end_of(before)? + 1,
                None => start,
            };
            SUBSTANCES.get(begin..end_of(column as usize)?)
        };
        found().unwrap_or_default()
    }

    fn filled(self, column: Column) -> Option<&'static str> {
        Some(self.cell(column)).filter(|cell| !cell.is_empty())
    }

    /// Name, as a chemist would write it.
    pub fn name(self) -> &'static str {
        self.cell(Column::Name)
    }

    /// Other names and abbreviations.
    pub fn synonyms(self) -> impl Iterator<Item = &'static str> {
        list(self.cell(Column::Synonyms))
    }

    /// CAS registry number.
    pub fn cas(self) -> Option<&'static str> {
        self.filled(Column::Cas)
    }

    /// Formula, as [`Formula::parse`](crate::Formula::parse) reads it; `None` for mixtures and
    /// polymers.
    pub fn formula(self) -> Option<&'static str> {
        self.filled(Column::Formula)
    }

    /// Structure as SMILES.
    pub fn smiles(self) -> Option<&'static str> {
        self.filled(Column::Smiles)
    }

    /// State at 20 °C.
    pub fn state(self) -> Option<State> {
        match ROWS.get(self.0 as usize * ROW_BYTES + STATE)? {
            b's' => Some(State::Solid),
            b'l' => Some(State::Liquid),
            b'g' => Some(State::Gas),
            _ => None,
        }
    }

    /// Density of the pure substance. For a liquid near room temperature it falls by about 0.1 %
    /// per kelvin.
    pub fn density(self) -> Option<Sourced<MassDensity>> {
        let (value, half_width) = decimal(self.cell(Column::Density))?;
        let (source, agrees) = self.two_sources("density")?;
        Some(Sourced {
            value: MassDensity::new::<mass_density::gram_per_cubic_centimeter>(value),
            at: decimal(self.cell(Column::DensityAt)).map(|(celsius, _)| degrees(celsius)),
            half_width: MassDensity::new::<mass_density::gram_per_cubic_centimeter>(half_width),
            source,
            agrees,
        })
    }

    /// Melting point.
    pub fn melting(self) -> Option<Sourced<ThermodynamicTemperature>> {
        self.point(Column::Melting, "melting")
    }

    /// Boiling point at atmospheric pressure.
    pub fn boiling(self) -> Option<Sourced<ThermodynamicTemperature>> {
        self.point(Column::Boiling, "boiling")
    }

    /// The value of [`boiling`](Substance::boiling), where its source is not asked for.
    pub fn boils_at(self) -> Option<ThermodynamicTemperature> {
        decimal(self.cell(Column::Boiling)).map(|(celsius, _)| degrees(celsius))
    }

    fn point(self, column: Column, field: &str) -> Option<Sourced<ThermodynamicTemperature>> {
        let (celsius, half_width) = decimal(self.cell(column))?;
        let (source, agrees) = self.two_sources(field)?;
        Some(Sourced {
            value: degrees(celsius),
            at: None,
            half_width: TemperatureInterval::new::<temperature_interval::kelvin>(half_width),
            source,
            agrees,
        })
    }

    /// Reagent class.
    pub fn class(self) -> Option<ReagentClass> {
        let number = *ROWS.get(self.0 as usize * ROW_BYTES + CLASS)?;
        ReagentClass::ALL
            .get(usize::from(number).checked_sub(1)?)
            .copied()
    }

    /// Whether the table gives it this property; silence is no denial.
    pub fn has(self, tag: Tag) -> bool {
        let own = self
            .row()
            .map_or(0, |row| u16::from_le_bytes([row[TAGS], row[TAGS + 1]]));
        own & tag.bit() != 0
    }

    /// The properties that the table gives it.
    pub fn tags(self) -> impl Iterator<Item = Tag> {
        let all = Tag::ALL.iter().copied();
        all.filter(move |tag| self.has(*tag))
    }

    /// Moles of the reagent that one mole of water destroys.
    pub fn water_equivalents(self) -> Option<f64> {
        self.cell(Column::WaterEquivalents).parse().ok()
    }

    /// Moles of the reagent that one mole of O₂ destroys.
    pub fn oxygen_equivalents(self) -> Option<f64> {
        self.cell(Column::OxygenEquivalents).parse().ok()
    }

    /// What water does to it in a dry aprotic medium: by its class, unless its own row says
    /// otherwise (a stabilised ylide, a trialkylborohydride).
    pub fn destroyed_by_water(self) -> Sensitivity {
        refined(
            self.class().map(ReagentClass::destroyed_by_water),
            self.water_equivalents(),
        )
    }

    /// What the oxygen of air does to it, read in the same way.
    pub fn destroyed_by_oxygen(self) -> Sensitivity {
        refined(
            self.class().map(ReagentClass::destroyed_by_oxygen),
            self.oxygen_equivalents(),
        )
    }

    /// Whether it works in the presence of water or alcohol.
    pub fn protic_tolerant(self) -> bool {
        self.destroyed_by_water() == Sensitivity::No
            && self.class().is_some_and(ReagentClass::protic_tolerant)
    }

    /// Strengths in which it is sold or kept, such as `2.5 M in hexanes`.
    pub fn strengths(self) -> impl Iterator<Item = &'static str> {
        list(self.cell(Column::Strengths))
    }

    /// Codes of hazard statements (GHS H, European Union EUH).
    pub fn hazards(self) -> impl Iterator<Item = &'static str> {
        self.cell(Column::Hazards).split_whitespace()
    }

    /// The sources of a column (`density`, `melting`, `boiling`, `formula`, `hazards`, `class`),
    /// the one whose value is shown first.
    pub fn sources_of(self, field: &str) -> impl Iterator<Item = Source> {
        self.cell(Column::Sources)
            .split(' ')
            .find_map(|entry| entry.strip_prefix(field)?.strip_prefix('='))
            .unwrap_or_default()
            .split('+')
            .filter_map(Source::of_key)
    }

    /// The first of [`sources_of`](Substance::sources_of).
    pub fn source_of(self, field: &str) -> Option<Source> {
        self.sources_of(field).next()
    }

    fn two_sources(self, field: &str) -> Option<(Source, Option<Source>)> {
        let mut sources = self.sources_of(field);
        Some((sources.next()?, sources.next()))
    }
}

/// A class says what is usual; a row that gives no equivalents denies what is only slow, and one
/// that gives some denies that nothing happens.
fn refined(class: Option<Sensitivity>, equivalents: Option<f64>) -> Sensitivity {
    match (class.unwrap_or(Sensitivity::No), equivalents) {
        (Sensitivity::No, Some(lost)) if lost > 0.0 => Sensitivity::Slowly,
        (Sensitivity::Slowly, None) => Sensitivity::No,
        (by_class, _) => by_class,
    }
}

impl fmt::Debug for Substance {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "Substance({})", self.name())
    }
}

impl Source {
    /// The source that the tables call so.
    pub fn of_key(key: &str) -> Option<Source> {
        let found = ALL_SOURCES.binary_search_by(|source| source.key.cmp(key));
        ALL_SOURCES.get(found.ok()?).copied()
    }
}

pub(crate) fn list(cell: &'static str) -> impl Iterator<Item = &'static str> {
    cell.split(" | ").filter(|item| !item.is_empty())
}

pub(crate) fn degrees(celsius: f64) -> ThermodynamicTemperature {
    ThermodynamicTemperature::new::<thermodynamic_temperature::degree_celsius>(celsius)
}

/// A printed decimal and half a unit of its last digit.
pub(crate) fn decimal(text: &str) -> Option<(f64, f64)> {
    let value = text.parse::<f64>().ok().filter(|value| value.is_finite())?;
    let places = text.split_once('.').map_or(0, |(_, digits)| digits.len());
    Some((value, 0.5 * 10_f64.powi(-i32::try_from(places).ok()?)))
}

pub(crate) fn molar(value: f64) -> MolarConcentration {
    MolarConcentration::new::<molar_concentration::mole_per_liter>(value)
}
