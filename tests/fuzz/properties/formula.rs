//! A formula that reads reads the same from its own text, and weighs something; an identifier that reads is a formula.

use chemistry::{Formula, inchi_formula};

pub fn holds(bytes: &[u8]) {
    let Ok(text) = std::str::from_utf8(bytes) else {
        return;
    };
    match Formula::parse(text) {
        Ok(formula) => {
            let again = Formula::parse(formula.text()).expect("its own text");
            assert!(formula.same_composition(&again), "{text:?}");
            if let Ok(mass) = formula.molar_mass() {
                let mass = format!("{mass:?}");
                assert!(!mass.contains("NaN") && !mass.contains("inf"), "{text:?}");
            }
            let _ = (formula.charge(), formula.crystal_water());
        }
        Err(error) => assert!(!error.to_string().is_empty()),
    }
    if let Ok(formula) = inchi_formula(text) {
        assert!(formula.counts().count() > 0, "{text:?}");
    }
    let _ = (
        chemistry::find_name(text),
        chemistry::nearest_names(text, 3),
        chemistry::find_cas(text),
    );
    let _ = chemistry::find_solution_name(text);
}
