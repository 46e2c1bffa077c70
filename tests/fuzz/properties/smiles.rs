//! A structure that reads has atoms, and each of its parts alone reads too.

use chemistry::smiles_formula;

pub fn holds(bytes: &[u8]) {
    let Ok(text) = std::str::from_utf8(bytes) else {
        return;
    };
    match smiles_formula(text) {
        Ok(formula) => {
            assert!(formula.counts().count() > 0, "{text:?}");
            let _ = (formula.molar_mass(), formula.charge());
        }
        Err(error) => assert!(!error.to_string().is_empty()),
    }
}
