//! What a substance does to reagents, with water, acid, heat and air, in numbers.

use std::collections::HashMap;
use std::sync::LazyLock;

use foldhash::fast::RandomState;

use crate::class::{GasAgent, LimitWhen, Miscibility, PeroxideHazard, Tag};
use crate::quantity::{Ratio, ThermodynamicTemperature, ratio};
use crate::substance::{Source, Substance, decimal, degrees};

static PROTONS: Lines =
    LazyLock::new(|| by_substance(include_str!(concat!(env!("OUT_DIR"), "/protons.tsv"))));
static GASES: Lines =
    LazyLock::new(|| by_substance(include_str!(concat!(env!("OUT_DIR"), "/gases.tsv"))));
static LIMITS: Lines =
    LazyLock::new(|| by_substance(include_str!(concat!(env!("OUT_DIR"), "/limits.tsv"))));
static STABILISERS: Lines =
    LazyLock::new(|| by_substance(include_str!(concat!(env!("OUT_DIR"), "/stabilisers.tsv"))));
static REACTIVITY: Lines =
    LazyLock::new(|| by_substance(include_str!(concat!(env!("OUT_DIR"), "/reactivity.tsv"))));

/// Acidic hydrogens of a molecule, or of a formula unit with its crystal water.
///
/// A group is an atom that bears hydrogen: the oxygen of water is one group with two hydrogens.
/// Hydrogen on carbon is counted in terminal alkynes and hydrogen cyanide only, so that ketones
/// and esters have none.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct ProticEquivalents {
    /// Groups on oxygen, sulfur, halogen, ammonium or phosphonium, and those of HCN and HN₃: they
    /// destroy organometallics, hydrides and amide bases.
    pub acid: u8,
    /// Groups on uncharged nitrogen or phosphorus, and terminal alkynes: organolithiums take them
    /// at once, hydrides and Grignard reagents in their time, amide bases some of them.
    pub weak: u8,
    /// All hydrogens of these groups.
    pub hydrogens: u8,
    /// Of the weak groups those on nitrogen beside a carbonyl or sulfonyl group or in an aromatic ring, as of amides,
    /// sulfonamides, pyrroles and indoles: sodium hydride takes them, and those of amines it does not.
    pub amide: u8,
    /// Where the count comes from.
    pub source: Source,
}

impl ProticEquivalents {
    /// Moles of an organolithium that a mole of the substance destroys at once.
    pub fn at_once(self) -> u8 {
        self.acid.saturating_add(self.weak)
    }

    /// Moles of a strong base or hydride that it takes at most, when there is an excess: water
    /// counts 2.
    pub fn at_most(self) -> u8 {
        self.hydrogens
    }
}

/// A number with its source.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Counted {
    /// The number.
    pub value: f64,
    /// Where it comes from.
    pub source: Source,
}

/// A gas that a substance sets free.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct GasMade {
    /// What sets it free.
    pub agent: GasAgent,
    /// The gas. Hydrogen halides, ammonia and sulfur dioxide stay in water as long as there is
    /// enough of it; hydrogen cyanide and hydrazoic acid boil at 26 and 37 °C.
    pub gas: Substance,
    /// Moles of gas from a mole of the substance.
    pub per_mole: f64,
    /// The balanced equation that says so.
    pub equation: &'static str,
    /// Who says that these are the products.
    pub source: Source,
}

/// A temperature above which a substance must not be taken.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ThermalLimit {
    /// The limit.
    pub temperature: ThermodynamicTemperature,
    /// When it holds.
    pub when: LimitWhen,
    /// It holds only with this beside it.
    pub with: Option<Substance>,
    /// What happens above it, in the third person.
    pub effect: &'static str,
    /// Where it comes from; most are `memory`.
    pub source: Source,
}

/// What is added to a substance, as sold, so that it keeps.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stabiliser {
    /// The stabiliser.
    pub stabiliser: Substance,
    /// Its usual share, by mass, as an order of magnitude: the label has the last word.
    pub share: Option<Ratio>,
    /// Where it comes from.
    pub source: Source,
}

/// The lines of a table by the numbers of their substances, read once: every step asks for those of all that it holds.
type Lines = LazyLock<ByNumber>;

type ByNumber = HashMap<u32, Vec<&'static str>, RandomState>;

fn by_substance(table: &'static str) -> ByNumber {
    let mut lines = ByNumber::default();
    for line in table.lines() {
        if let Some((number, rest)) = line.split_once('\t')
            && let Ok(number) = number.parse()
        {
            lines.entry(number).or_default().push(rest);
        }
    }
    lines
}

/// The cells of the lines that belong to a substance.
fn rows<const CELLS: usize>(
    lines: &'static Lines,
    substance: Substance,
) -> impl Iterator<Item = [&'static str; CELLS]> {
    let of_it = lines.get(&substance.number());
    of_it.into_iter().flatten().filter_map(|rest| {
        let mut cells = rest.split('\t');
        let mut row = [""; CELLS];
        for cell in &mut row {
            *cell = cells.next()?;
        }
        cells.next().is_none().then_some(row)
    })
}

impl Substance {
    /// Its acidic hydrogens; `None` where the table does not hold its structure.
    pub fn protic_equivalents(self) -> Option<ProticEquivalents> {
        let (source, counts) = self.protons()?;
        let [acid, weak, hydrogens, _, amide] = counts;
        Some(ProticEquivalents {
            acid,
            weak,
            hydrogens,
            amide,
            source,
        })
    }

    /// Moles of base that a mole of it takes up before it lets a reaction have any: acids, acidic
    /// salts and salts of amines. Measured with amines; stronger bases take the
    /// [`protic_equivalents`](Substance::protic_equivalents) too.
    pub fn base_equivalents(self) -> Option<Counted> {
        let (source, [_, _, _, base, _]) = self.protons()?;
        Some(Counted {
            value: f64::from(base),
            source,
        })
    }

    fn protons(self) -> Option<(Source, [u8; 5])> {
        if let Some([acid, weak, hydrogens, base, amide, source]) = rows(&PROTONS, self).next() {
            let mut counts = [0; 5];
            for (count, cell) in counts.iter_mut().zip([acid, weak, hydrogens, base, amide]) {
                *count = cell.parse().ok()?;
            }
            return Some((Source::of_key(source)?, counts));
        }
        self.smiles()
            .and(Source::of_key("structure"))
            .map(|source| (source, [0; 5]))
    }

    /// The gases that it sets free when it is quenched, acidified, heated or meets a catalyst. One
    /// that has none here may make gas all the same.
    pub fn gas_on_quench(self) -> impl Iterator<Item = GasMade> {
        rows(&GASES, self).flat_map(|[agent, gases, equation, source]| {
            gases.split('|').filter_map(move |made| {
                let (gas, per_mole) = made.split_once(':')?;
                Some(GasMade {
                    agent: GasAgent::from_tag(agent)?,
                    gas: Substance::at(gas)?,
                    per_mole: per_mole.parse().ok()?,
                    equation,
                    source: Source::of_key(source)?,
                })
            })
        })
    }

    /// Temperatures above which it must not be taken, alone or beside something.
    pub fn thermal_limits(self) -> impl Iterator<Item = ThermalLimit> {
        rows(&LIMITS, self).filter_map(|[when, with, celsius, effect, source]| {
            Some(ThermalLimit {
                temperature: degrees(decimal(celsius)?.0),
                when: LimitWhen::from_tag(when)?,
                with: Substance::at(with),
                effect,
                source: Source::of_key(source)?,
            })
        })
    }

    /// What it is usually stabilised with, as sold: one of these, not all.
    pub fn stabilisers(self) -> impl Iterator<Item = Stabiliser> {
        rows(&STABILISERS, self).filter_map(|[stabiliser, ppm, source]| {
            Some(Stabiliser {
                stabiliser: Substance::at(stabiliser)?,
                share: decimal(ppm).map(|(ppm, _)| Ratio::new::<ratio::part_per_million>(ppm)),
                source: Source::of_key(source)?,
            })
        })
    }

    /// How it mixes with water at room temperature. `Partly` means that more than some 4 % by mass
    /// of one dissolves in the other.
    pub fn miscibility_with_water(self) -> Option<(Miscibility, Source)> {
        let practice = |miscibility| Some((miscibility, Source::of_key("practice")?));
        match self.property("water") {
            Some((value, source)) => Some((Miscibility::from_tag(value)?, source)),
            None if self.has(Tag::WaterMiscible) => practice(Miscibility::Miscible),
            None if self.has(Tag::WaterImmiscible) => practice(Miscibility::Immiscible),
            None => None,
        }
    }

    /// How the peroxides that it forms in air become dangerous.
    pub fn peroxide_hazard(self) -> Option<(PeroxideHazard, Source)> {
        let (value, source) = self.property("peroxides")?;
        Some((PeroxideHazard::from_tag(value)?, source))
    }

    /// Whether it reacts with nitrogen at room temperature, so that it has to be kept under argon.
    pub fn reacts_with_nitrogen(self) -> Option<Source> {
        self.property("nitrogen").map(|(_, source)| source)
    }

    /// Whether it catches fire in air of itself (H250), and where that comes from.
    pub fn pyrophoric(self) -> Option<Source> {
        self.has(Tag::Pyrophoric)
            .then(|| self.source_of("hazards"))
            .flatten()
    }

    fn property(self, property: &str) -> Option<(&'static str, Source)> {
        rows(&REACTIVITY, self).find_map(|[name, value, source]| {
            (name == property).then_some((value, Source::of_key(source)?))
        })
    }
}
