//! What the budget of water and oxygen takes for granted, each with where it comes from.
//!
//! Hardly any of these figures is published; most are assumptions that a group can replace in `meniscus.toml`, and the
//! lower of three estimates is what a warning has to be true for.

use super::Estimate;
use chemistry::ReagentClass;

/// Figures that `[budget]` can replace. One that was replaced counts as known: all three estimates are it.
#[derive(Clone, Debug, PartialEq)]
pub struct Defaults {
    /// Share of the air let in while a flow of gas leaves the neck, over what comes in without.
    pub counter_flow: Estimate<f64>,
    /// Water on glass of unknown history that looks dry, nmol/cm².
    pub glass_unknown: Estimate<f64>,
    /// The same after an oven, cooled under dry gas.
    pub glass_oven: Estimate<f64>,
    /// The same after a flame, under vacuum or a flow of gas, or in a glovebox.
    pub glass_flame: Estimate<f64>,
    /// Air that an open neck of 2.0 cm lets in, mL/s, where nitrogen is inside.
    pub opening_nitrogen: Estimate<f64>,
    /// The same where argon is inside.
    pub opening_argon: Estimate<f64>,
    /// Water in the inert gas, ppm by volume.
    pub gas_water: Estimate<f64>,
    /// Oxygen in the inert gas, ppm by volume.
    pub gas_oxygen: Estimate<f64>,
    /// How well a flow of gas mixes with what it drives out: 1 is wholly.
    pub purge_efficiency: Estimate<f64>,
    /// A purging flow whose rate is not written, mL/min. High flows leave little, so the low estimate is the high flow.
    pub line_flow: Estimate<f64>,
    /// How near bubbles come to equilibrium with the liquid: 1 is wholly.
    pub sparge_efficiency: Estimate<f64>,
    /// Worry fractions that replace those of the check: class, information from, warning from.
    pub worry: Vec<(ReagentClass, f64, f64)>,
}

const fn estimate(low: f64, typical: f64, high: f64) -> Estimate<f64> {
    Estimate { low, typical, high }
}

impl Default for Defaults {
    fn default() -> Self {
        Defaults {
            // Assumption: plug flow would keep all of it out, hands and funnels spoil that.
            counter_flow: estimate(0.01, 0.05, 0.2),
            // Low: 4 to 5 layers of water up to 75 % of humidity (A. Verdaguer et al., Langmuir 2007, 23, 9699). High: what
            // a bulb gave off on baking (I. Langmuir, as told by S. Dushman, Scientific Foundations of Vacuum
            // Technique, from memory).
            glass_unknown: estimate(5.0, 20.0, 45.0),
            // Assumptions, as the next.
            glass_oven: estimate(1.0, 5.0, 10.0),
            glass_flame: estimate(0.5, 2.0, 5.0),
            // Nitrogen is lighter than air and is driven out by it: 0.055 √(g Δρ/ρ d⁵) (M. Epstein, J. Heat Transfer
            // 1988, 110, 885, from memory). Above argon air only diffuses. Within a factor of three.
            opening_nitrogen: estimate(0.5, 1.5, 4.5),
            opening_argon: estimate(0.15, 0.5, 1.5),
            // Assumption; gas of grade 5.0 has 3 and 2 ppm at most.
            gas_water: estimate(1.0, 5.0, 10.0),
            gas_oxygen: estimate(1.0, 5.0, 10.0),
            // Assumptions.
            purge_efficiency: estimate(1.0, 0.5, 0.5),
            line_flow: estimate(3000.0, 1000.0, 200.0),
            sparge_efficiency: estimate(0.3, 0.1, 0.05),
            worry: Vec::new(),
        }
    }
}

impl Defaults {
    /// The figures by their keys in `[budget]`.
    pub(crate) fn named(&mut self) -> [(&'static str, &mut Estimate<f64>); 11] {
        [
            ("counter-flow", &mut self.counter_flow),
            ("glass-unknown", &mut self.glass_unknown),
            ("glass-oven", &mut self.glass_oven),
            ("glass-flame", &mut self.glass_flame),
            ("opening-nitrogen", &mut self.opening_nitrogen),
            ("opening-argon", &mut self.opening_argon),
            ("gas-water", &mut self.gas_water),
            ("gas-oxygen", &mut self.gas_oxygen),
            ("purge-efficiency", &mut self.purge_efficiency),
            ("line-flow", &mut self.line_flow),
            ("sparge-efficiency", &mut self.sparge_efficiency),
        ]
    }
}

/// A solvent as it comes.
pub(super) struct Solvent {
    /// Its name in the library.
    pub(super) name: &'static str,
    /// Water as bought, ppm by mass. Assumptions but for tetrahydrofuran.
    pub(super) as_bought: Estimate<f64>,
    /// Water in a sealed bottle that is sold dry, ppm by mass: what labels say (common practice).
    pub(super) dry: f64,
    /// Water after two days over 20 % of 3 Å sieves, ppm by mass. Assumptions but for tetrahydrofuran.
    pub(super) over_sieves: f64,
    /// Oxygen in equilibrium with air at 20 to 25 °C, mmol/L.
    pub(super) oxygen: f64,
}

const fn solvent(
    name: &'static str,
    as_bought: (f64, f64, f64),
    dry: f64,
    over_sieves: f64,
    oxygen: f64,
) -> Solvent {
    let (low, typical, high) = as_bought;
    Solvent {
        name,
        as_bought: estimate(low, typical, high),
        dry,
        over_sieves,
        oxygen,
    }
}

/// Solvents with their water and oxygen.
///
/// Tetrahydrofuran: 107 ppm as received, 43 from sodium and benzophenone, 6 and 4 over sieves (D. B. G. Williams, M.
/// Lawton, J. Org. Chem. 2010, 75, 8351, by its abstract). Oxygen in acetone, acetonitrile, ethanol and dimethyl
/// sulfoxide: C. Franco, J. Olmsted, Talanta 1990, 37, 905; the other solubilities are from memory, and 0 where none was
/// at hand. All other water is an assumption.
pub(super) const SOLVENTS: [Solvent; 30] = [
    solvent("tetrahydrofuran", (50.0, 107.0, 300.0), 30.0, 6.0, 2.1),
    solvent("diethyl ether", (50.0, 200.0, 400.0), 30.0, 10.0, 1.5),
    solvent("dichloromethane", (50.0, 225.0, 300.0), 30.0, 5.0, 2.2),
    solvent("toluene", (50.0, 225.0, 300.0), 20.0, 1.0, 1.8),
    solvent("hexane", (10.0, 40.0, 100.0), 10.0, 1.0, 3.1),
    solvent("hexanes", (10.0, 40.0, 100.0), 10.0, 1.0, 3.1),
    solvent("pentane", (10.0, 40.0, 100.0), 10.0, 1.0, 0.0),
    solvent("heptane", (10.0, 40.0, 100.0), 10.0, 1.0, 0.0),
    solvent("acetonitrile", (100.0, 140.0, 1000.0), 20.0, 10.0, 2.42),
    solvent(
        "N,N-dimethylformamide",
        (100.0, 300.0, 1500.0),
        50.0,
        20.0,
        1.0,
    ),
    solvent(
        "dimethyl sulfoxide",
        (150.0, 500.0, 1000.0),
        50.0,
        30.0,
        0.33,
    ),
    solvent(
        "N-methyl-2-pyrrolidone",
        (100.0, 300.0, 1000.0),
        50.0,
        30.0,
        0.0,
    ),
    solvent(
        "N,N-dimethylacetamide",
        (100.0, 300.0, 1000.0),
        50.0,
        30.0,
        0.0,
    ),
    solvent("1,4-dioxane", (50.0, 200.0, 500.0), 40.0, 10.0, 1.5),
    solvent("1,2-dimethoxyethane", (50.0, 200.0, 500.0), 40.0, 10.0, 0.0),
    solvent(
        "2-methyltetrahydrofuran",
        (50.0, 200.0, 1000.0),
        40.0,
        10.0,
        0.0,
    ),
    solvent(
        "tert-butyl methyl ether",
        (50.0, 250.0, 500.0),
        30.0,
        10.0,
        0.0,
    ),
    solvent("ethyl acetate", (100.0, 400.0, 2000.0), 50.0, 20.0, 0.0),
    solvent("acetone", (1000.0, 3000.0, 5000.0), 100.0, 3000.0, 2.37),
    solvent("chloroform", (50.0, 150.0, 500.0), 30.0, 5.0, 0.0),
    solvent("methanol", (100.0, 300.0, 1000.0), 50.0, 10.0, 2.1),
    solvent("ethanol", (500.0, 1500.0, 2000.0), 100.0, 8.0, 1.94),
    solvent("propan-2-ol", (200.0, 800.0, 2000.0), 50.0, 20.0, 0.0),
    solvent("pyridine", (100.0, 300.0, 1000.0), 50.0, 20.0, 0.0),
    solvent("triethylamine", (100.0, 500.0, 1000.0), 100.0, 30.0, 0.0),
    solvent(
        "N,N-diisopropylethylamine",
        (100.0, 500.0, 1000.0),
        100.0,
        30.0,
        0.0,
    ),
    solvent("1,2-dichloroethane", (50.0, 150.0, 300.0), 30.0, 3.0, 0.0),
    solvent("chloroform-d", (20.0, 100.0, 200.0), 30.0, 5.0, 0.0),
    solvent("benzene", (50.0, 225.0, 300.0), 20.0, 1.0, 0.0),
    solvent("water", (1e6, 1e6, 1e6), 1e6, 1e6, 0.27),
];

/// Water in tetrahydrofuran from sodium and benzophenone, ppm by mass; of other solvents an assumption.
pub(super) const DISTILLED: f64 = 43.0;

/// Share of the dissolved oxygen that is left in a solvent that is said to be dry or over sieves, for it stands under
/// gas (assumption), and in one that is said to be degassed.
pub(super) const OXYGEN_IF_DRY: Estimate<f64> = estimate(0.0, 0.1, 1.0);
pub(super) const OXYGEN_IF_DEGASSED: Estimate<f64> = estimate(0.0, 0.01, 0.1);

/// Air in a needle that was not flushed, mL at each stroke (assumption).
pub(super) const NEEDLE_AIR: Estimate<f64> = estimate(0.0, 0.1, 0.2);

/// Share of the room's humidity that the gas in a balloon of latex has taken up, and oxygen by volume that it takes up in
/// an hour. Natural rubber lets about 2,000 barrer of water and 23 of oxygen through (from memory); a balloon of 1 L, 480
/// cm² and 0.1 mm thick (an assumption), fills with 0.6 % of oxygen in an hour, and with water faster. Within a factor of
/// two; rubber may be thicker or double, so that the low estimate is nothing.
pub(super) const BALLOON_HUMIDITY: Estimate<f64> = estimate(0.0, 0.5, 1.0);
pub(super) const BALLOON_OXYGEN: Estimate<f64> = estimate(0.0, 0.005, 0.01);

/// What diffuses through the needle of a balloon at rest, mL an hour, at most: 0.2 cm²/s over a bore of 1 mm and 40 mm.
pub(super) const NEEDLE_EXCHANGE: Estimate<f64> = estimate(0.0, 0.0, 1.4);

/// Water in solids by mass that were not dried, as a share (assumptions; hydrates are counted exactly).
pub(super) const STRONGLY_HYGROSCOPIC: Estimate<f64> = estimate(0.0, 0.005, 0.03);
pub(super) const MILDLY_HYGROSCOPIC: Estimate<f64> = estimate(0.0, 0.001, 0.005);

/// Share of water in what is not the solute of a solution in it: the alcohol that a peroxide is made from, and other
/// peroxides, are in there, too (an assumption).
pub(super) const WATER_OF_THE_REST: Estimate<f64> = estimate(0.8, 1.0, 1.0);

/// What drying a solid under vacuum for an hour at 40 °C or more leaves of that (assumption).
pub(super) const DRIED: f64 = 0.1;

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_solvent_is_in_the_library() {
        for solvent in &SOLVENTS {
            let found = chemistry::find_name(solvent.name);
            let found = crate::one(found).map(chemistry::Substance::name);
            assert_eq!(found, Some(solvent.name));
            let Estimate { low, typical, high } = solvent.as_bought;
            assert!(low <= typical && typical <= high, "{}", solvent.name);
            assert!(solvent.over_sieves <= typical, "{}", solvent.name);
        }
    }
}
