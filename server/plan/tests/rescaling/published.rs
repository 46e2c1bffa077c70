//! Scalings that others have worked out and printed, read in November 2026.

use super::{quantity, rescaled_to};
use plan::rescale::Target;

/// S. M. Bächer, "Scaling of reactions" (www.chem.ucla.edu/~bacher/Specialtopics/Scaling.html, 2003): 5 g of A, 3 g of
/// B and 1 g of C in 50 mL; from 3 g of A it takes 1.8 g of B, 0.6 g of C and about 30 mL.
#[test]
fn down_to_three_grams() {
    let plan = "plan A\nscale 5 g a\nmaterials\n  a: alpha, MW 100, 5 g\n  b: beta, MW 100, 3 g\n  c: gamma, MW 100, 1 g\n  s: water, 50 mL\n";
    let (there, rescaling) = rescaled_to(plan, &Target::To(quantity("3 g")));
    assert_eq!(
        there,
        "plan A\nscale 3 g a\nmaterials\n  a: alpha, MW 100, 3 g\n  b: beta, MW 100, 1.8 g\n  c: gamma, MW 100, 0.6 g\n  s: water, 30 mL\n"
    );
    assert_eq!(rescaling.factor.normalize().to_string(), "0.6");
}

/// jiskha.com, question 366693: a procedure for 5.0 g of product (53 %) is brought down to 0.120 g, by 0.024: 10.0 g of a
/// reagent become 0.24 g.
#[test]
fn down_to_a_hundred_milligrams_of_product() {
    let plan = "plan A\nscale 5.0 g p\nmaterials\n  a: alpha, MW 100, 10.0 g\nproducts\n  p: pi, MW 200, 1.00 eq, expect 53 %\n";
    let (there, rescaling) = rescaled_to(plan, &Target::To(quantity("0.120 g")));
    assert_eq!(rescaling.factor.normalize().to_string(), "0.024");
    assert!(there.contains("a: alpha, MW 100, 0.240 g"), "{there}");
}
