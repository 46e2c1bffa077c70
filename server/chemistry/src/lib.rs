//! Chemistry for reaction plans: elements, formulae, substances, solutions and gases.
//!
//! Nothing here knows the plan language. Physical quantities are [`quantity`] types; a bare `f64`
//! is a dimensionless number. The tables lie in the program as sorted text and are searched in
//! place, so that start-up costs nothing.

mod balance;
mod cas;
mod class;
mod element;
mod find;
mod fold;
mod formula;
mod gas;
mod inchi;
mod isotope;
mod normality;
pub mod quantity;
mod reactivity;
mod slip;
mod smiles;
mod solution;
mod substance;
mod table;
mod tolerance;

pub use balance::{Balancing, Conserved, Side, balance};
pub use cas::cas_is_valid;
pub use class::{GasAgent, LimitWhen, Miscibility, PeroxideHazard, ReagentClass, Sensitivity, Tag};
pub use element::{Atom, Element, Weight};
pub use find::{Found, find_cas, find_formula, find_name, names_starting_with, nearest_names};
pub use formula::{Formula, FormulaError, MolarMassValue, NoStandardWeight};
pub use gas::{GAS_CONSTANT, molar_volume, water_vapour_pressure};
pub use inchi::{InchiError, inchi_formula};
/// Exact number of atoms, charges or formula units.
pub use num_rational::Ratio;
pub use reactivity::{Counted, GasMade, ProticEquivalents, Stabiliser, ThermalLimit};
pub use smiles::{SmilesError, smiles_formula};
pub use solution::{Solution, SolutionForm, find_solution, find_solution_name};
pub use substance::{Measured, Source, Sourced, State, Substance};
pub use tolerance::{
    Basis, Class, STANDARD_FLASKS, Tolerance, Tool, combine, next_size, standard_uncertainty,
    strokes, tolerance, tolerance_at, weighing,
};
