//! One line of a careful plan taken out, or one number or word of it changed, is found: by the right check, as bad as it
//! is, at the right line.
//!
//! The plans of the language, the examples and the published procedures, each of which has none of these findings as it
//! stands. Then every fix that is offered for what is found in a changed or shortened plan is applied: the plan reads as
//! well as before, and the finding is gone.

#![allow(clippy::panic, clippy::unwrap_used, reason = "a test may fail")]

mod careful;

use careful::{Careful, careful};
use checks::{Finding, Fix};
use plan::{Context, Plan};
use std::sync::Arc;

/// What a draft of the checks wanted and is not here, since no check looks for it: a bath colder than its solvent freezes,
/// sieves too wide for their solvent, and heat that comes all at once, which want freezing points of mixtures, sizes of
/// pores and heats of reaction that the library does not hold; a carbonate on acid in a closed funnel, of whose contents
/// nothing is known after the first layer was drawn off (`gas-without-vent` has it in its own tests).
///
/// The plan, what stands in it once, what stands there instead, how bad and which check, and what the line of the
/// finding says.
type Mutation = (
    &'static str,
    &'static str,
    &'static str,
    &'static str,
    &'static str,
);

#[rustfmt::skip]
const MUTATIONS: &[Mutation] = &[
    ("00", "  dry flask, bar, vial, needles, syringes at 125 °C overnight\n", "", "warning glassware-dryness", "add base dropwise"),
    ("00", "dry flask, bar, vial, needles, syringes at 125 °C overnight", "wash flask, bar with acetone", "warning glassware-dryness", "add base dropwise"),
    ("00", "100 mL two-neck flask", "25 mL two-neck flask", "error overfilled", "quench with nh4cl"),
    ("00", "thf:     tetrahydrofuran,", "thf:     N,N-dimethylformamide,", "warning reagent-eats-solvent", "add base dropwise"),
    ("00", "thf:     tetrahydrofuran,", "thf:     dichloromethane,", "error reagent-eats-solvent", "add base dropwise"),
    ("00", "thf:     tetrahydrofuran,", "thf:     acetone,", "warning reagent-eats-solvent", "add base dropwise"),
    ("00", "thf:     tetrahydrofuran,", "thf:     ethyl acetate,", "warning reagent-eats-solvent", "add base dropwise"),
    ("00", "thf:     tetrahydrofuran,", "thf:     acetonitrile,", "warning reagent-eats-solvent", "add base dropwise"),
    ("00", "thf:     tetrahydrofuran,", "thf:     methanol,", "error reagent-into-protic", "add base dropwise"),
    ("00", ", 2.5 M in hexanes", "", "warning strength-missing", "base:"),
    ("00", "thf 20 mL, via", "thf 200 mL, via", "error portion-exceeds", "add thf 200 mL"),
    ("00", "water, 25 mL", "water, 20 mL", "error portion-exceeds", "dissolve ketone"),
    ("00", "pentane, 90 mL", "pentane, 60 mL", "error portion-exceeds", "filter through silica"),
    ("00", "mmol ketone", "mmol keton", "error unknown-key", "scale"),
    ("00", "add base dropwise", "add bass dropwise", "error unknown-key", "add bass"),
    ("00", " + LiBr + C4H10", " + LiBr", "warning equation", "reaction"),
    ("00", "10 ppm water", "900 ppm water", "warning water-and-oxygen", "thf:"),
    ("00", ", over 3 Å sieves, 10 ppm water", "", "information solvent-dryness", "thf:"),
    ("00", "4-tert-butylcyclohexanone, 1.00", "4-tert-butylcyclohexanon, 1.00", "warning unknown-substance", "ketone:"),
    ("00", "10 mL vial", "2 mL vial", "error overfilled", "dissolve ketone"),
    ("00", "vent through bubbler", "quench with nh4cl 5 mL", "error after-the-quench", "add base dropwise"),
    ("00", "  add base dropwise over 10 min, via syringe\n", "", "information never-used", "base:"),
    ("00", "  dissolve ketone in thf 4 mL\n", "", "warning used-before-made", "transfer vial to flask"),
    ("00", "1.20 eq", "1,20 eq", "error decimal-comma", "salt:"),
    ("00", "5.00 mmol", "5.00 mmoll", "error unit", "scale"),
    ("00", "250 mL separating funnel", "50 mL separating funnel", "warning overfilled", "transfer flask to sepfunnel"),
    ("00", "5 mL, 10 mL and 20 mL glass syringes", "2 mL glass syringe", "information pyrophoric-by-syringe", "add base dropwise"),
    ("00", "1.00 eq, expect", "0.50 eq, expect", "information equation", "alkene:"),
    ("00", "  transfer vial to flask dropwise over 5 min, via syringe\n", "", "warning used-before-made", "rinse vial with thf"),
    ("00", "  transfer flask to sepfunnel\n", "", "warning used-before-made", "extract with pentane"),
    ("01", "  dry flask, funnel, vial, bar, needles, syringe, magnesium at 125 °C overnight\n", "", "warning glassware-dryness", "transfer tenth of funnel"),
    ("01", "dry flask, funnel, vial, bar, needles, syringe, magnesium at 125 °C overnight", "wash flask with acetone", "warning wet-glass", "transfer tenth of funnel"),
    ("01", "transfer tenth", "transfer half", "warning initiation-not-confirmed", "transfer half"),
    ("01", "  in funnel\n", "", "warning initiation-not-confirmed", "dissolve bromide"),
    ("01", "250 mL three-neck", "50 mL three-neck", "error overfilled", "quench with nh4cl"),
    ("01", "reflux condenser, ", "", "information boils-without-condenser", "transfer rest of funnel"),
    ("01", "diethyl ether, over", "acetone, over", "warning reagent-eats-solvent", "transfer tenth"),
    ("01", "bromobenzene, 1.20 eq", "bromobenzene, 0.80 eq", "warning scale-not-limiting", "scale"),
    ("01", "extract aqueous with tert-butyl methyl ether", "extract aqueous with methanol", "error miscible-extraction", "extract aqueous with methanol"),
    ("01", "alcohol: triphenylmethanol", "alcohol: triphenylmethane", "warning equation", "reaction"),
    ("01", "50 mL pressure-equalising", "10 mL pressure-equalising", "error overfilled", "dissolve bromide"),
    ("01", "  in funnel", "  in funnle", "error unknown-key", "in funnle"),
    ("01", "bromobenzene", "bromobenzen", "warning unknown-substance", "bromide:"),
    ("01", "  add iodine quickly under argon\n", "", "information never-used", "iodine:"),
    ("01", "  dissolve bromide in ether 20 mL\n", "", "warning used-before-made", "transfer tenth of funnel"),
    ("01", "  cool to 0 °C\n  quench", "  quench", "warning quench-too-hot", "quench with nh4cl"),
    ("01", "  transfer vial to flask dropwise over 20 min, via syringe, below 10 °C\n", "", "warning used-before-made", "rinse vial with ether"),
    ("01", "  transfer rest of funnel to flask dropwise over 30 min, at gentle reflux\n", "", "warning used-before-made", "rinse funnel"),
    ("02", "  dry flask, vialA, vialB, bar, needles, syringes at 125 °C overnight\n", "", "warning glassware-dryness", "add buli dropwise"),
    ("02", "  evacuate and refill with argon, 3 cycles, 1 mbar\n", "", "information atmosphere-missing", "add buli dropwise"),
    ("02", "thf:   tetrahydrofuran", "thf:   acetonitrile", "warning reagent-eats-solvent", "add buli dropwise"),
    ("02", "vialA:     20 mL", "vialA:     2 mL", "error overfilled", "dissolve ester"),
    ("02", "2 mL, 5 mL, 10 mL and 20 mL glass syringes", "5 mL glass syringe", "information pyrophoric-by-syringe", "add buli dropwise"),
    ("02", ", argon inlet, bubbler", "", "warning inert-gas-without-outlet", "purge with argon"),
    ("02", "  add amine via syringe\n", "", "information never-used", "amine:"),
    ("02", "benzyl bromide, 1.00 eq", "benzyl bromide, 1.30 eq", "warning scale-not-limiting", "bnbr:"),
    ("02", "mmol bnbr", "mmol bnb", "error unknown-key", "scale"),
    ("02", "C12H16O2", "C12H16O3", "warning equation", "reaction"),
    ("02", "  dissolve bnbr in thf 5 mL\n", "", "warning used-before-made", "transfer vialB"),
    ("02", "dry flask, vialA", "dry flask, vialC", "error unknown-key", "dry flask, vialC"),
    ("02", ", 2.5 M in hexanes, found 2.41 M", "", "warning strength-missing", "buli:"),
    ("02", "extract aqueous with tert-butyl methyl ether", "extract aqueous with ethanol", "error miscible-extraction", "extract aqueous with ethanol"),
    ("02", "over 3 Å sieves, 10 ppm", "over 3 Å sieves, 3000 ppm", "warning water-and-oxygen", "thf:"),
    ("02", "  transfer vialA to flask dropwise over 20 min, via syringe, below -70 °C\n", "", "warning used-before-made", "rinse vialA"),
    ("02", "  quench with sat. aq. NH4Cl 20 mL, over 5 min, below 10 °C\n", "", "warning miscible-extraction", "separate"),
    ("02", "warm to 0 °C over 1 h", "warm to rt over 1 h", "warning quench-too-hot", "quench with sat. aq. NH4Cl"),
    ("02", "dry flask, vialA, vialB, bar, needles, syringes at 125 °C overnight", "flame-dry flask", "warning flame-near-vapour", "flame-dry flask"),
    ("02", "  filter into rotflask, keep filtrate\n", "", "warning used-before-made", "concentrate"),
    ("03", "  dry flask, vial, bar at 125 °C overnight\n", "", "warning glassware-dryness", "add lah quickly"),
    ("03", "lah, dropwise over 20 min,", "lah,", "error quench-wrong-agent", "quench with water"),
    ("03", "thf:  tetrahydrofuran", "thf:  ethyl acetate", "warning reagent-eats-solvent", "add thf 20 mL"),
    ("03", "thf:  tetrahydrofuran", "thf:  dichloromethane", "warning reagent-eats-solvent", "add thf 20 mL"),
    ("03", "thf:  tetrahydrofuran", "thf:  ethanol", "error reagent-into-protic", "add thf 20 mL"),
    ("03", "reflux condenser, ", "", "information boils-without-condenser", "reflux for 4 h"),
    ("03", "  in vial\n", "", "warning used-before-made", "transfer vial to flask"),
    ("03", "add lah quickly", "add lahh quickly", "error unknown-key", "add lahh"),
    ("03", "lah:  lithium aluminium hydride", "lah:  lithium aluminum hidride", "warning unknown-substance", "lah:"),
    ("03", "40 mL vial", "5 mL vial", "error overfilled", "dissolve acid"),
    ("03", "  add naoh 1.0 mL/g of lah, dropwise over 10 min\n", "", "information never-used", "naoh:"),
    ("03", "  cool to 0 °C\n  add mtbe", "  add mtbe", "warning quench-too-hot", "quench with water"),
    ("03", "  transfer vial to flask dropwise over 30 min, via syringe, below 15 °C\n", "", "warning used-before-made", "rinse vial with thf"),
    ("04", "3.0 mol%", "3.0 eq", "warning catalyst-loading-slip", "catalyst:"),
    ("04", "3.0 mol%", "0.60 eq", "information catalyst-loading-slip", "catalyst:"),
    ("04", "  evacuate and refill with argon, 3 cycles, 10 mbar\n", "", "information water-and-oxygen", "add catalyst"),
    ("04", "100 mL two-neck", "25 mL two-neck", "warning overfilled", "transfer vial 6.25 mL"),
    ("04", "transfer vial 6.25 mL", "transfer vial 62.5 mL", "error portion-exceeds", "transfer vial 62.5 mL"),
    ("04", "  make up base 10 mL, in vial\n", "", "warning used-before-made", "transfer vial 6.25 mL"),
    ("04", "  add solvent\n", "", "warning used-before-made", "transfer schlenk"),
    ("04", " + KHCO3 + H3BO3", " + KHCO3", "warning equation", "reaction"),
    ("04", "acid, 1.20 eq", "acid, 0.80 eq", "warning scale-not-limiting", "scale"),
    ("04", "transfer schlenk to flask", "transfer schlenck to flask", "error unknown-key", "transfer schlenck"),
    ("04", "  transfer schlenk to flask via cannula\n", "", "warning used-before-made", "add solvent"),
    ("04", "  transfer vial 6.25 mL to flask via syringe\n", "", "warning used-before-made", "make up base"),
    ("05", "  dry flask, vial, bar at 125 °C overnight\n", "", "warning glassware-dryness", "add nah quickly"),
    ("05", "  quench with sat. aq. NH4Cl 20 mL, dropwise over 15 min, below 5 °C\n", "", "error quench-missing", "extract with"),
    ("05", "  in killpot\n", "", "warning overfilled", "quench with sat. aq. NH4Cl"),
    ("05", "thf:     tetrahydrofuran", "thf:     N,N-dimethylformamide", "warning reagent-eats-solvent", "add thf 20 mL"),
    ("05", "thf:     tetrahydrofuran", "thf:     dimethyl sulfoxide", "warning reagent-eats-solvent", "add thf 20 mL"),
    ("05", "thf:     tetrahydrofuran", "thf:     ethyl acetate", "warning reagent-eats-solvent", "add thf 20 mL"),
    ("05", "thf:     tetrahydrofuran", "thf:     acetone", "warning reagent-eats-solvent", "add thf 20 mL"),
    ("05", "vial:      20 mL", "vial:      5 mL", "error overfilled", "dissolve alcohol"),
    ("05", "mineral oil, 1.50 eq", "mineral oil, 0.50 eq", "warning scale-not-limiting", "scale"),
    ("05", "sieves, 15 mL", "sieves, 10 mL", "error portion-exceeds", "wash nah with pentane"),
    ("05", "C16H18O", "C16H18O2", "warning equation", "reaction"),
    ("05", "60 wt% in mineral oil", "60 w% in mineral oil", "error reading", "nah:"),
    ("05", "  add tbai\n", "", "information never-used", "tbai:"),
    ("05", "100 mL three-neck", "25 mL three-neck", "error overfilled", "quench with sat. aq. NH4Cl"),
    ("05", "  cool to 0 °C\n  quench", "  quench", "warning quench-too-hot", "quench with sat. aq. NH4Cl"),
    ("05", "  transfer vial to flask dropwise over 15 min, via syringe, below 10 °C\n", "", "warning used-before-made", "rinse vial with thf"),
    ("05", "  transfer flask to sepfunnel\n", "", "warning used-before-made", "extract with"),
    ("08", "  evacuate and refill with nitrogen, 3 cycles, 60 mbar\n  filter", "  filter", "information dry-catalyst-order", "filter through cake"),
    ("08", "100 mL two-neck", "5 mL two-neck", "error overfilled", "add ethanol"),
    ("08", "ester: ethyl 3-phenylpropanoate", "ester: ethyl cinnamate", "warning equation", "reaction"),
    ("08", "add alkene via", "add alkyne via", "error unknown-key", "add alkyne"),
    ("09", "benzylamine, 1.10 eq", "benzylamine, 0.50 eq", "warning scale-not-limiting", "scale"),
    ("09", "benzylamine, 1.10 eq", "benzylamine hydrochloride, MW 143.61, 2.00 eq", "warning salt-eats-base", "nmm:"),
    ("09", "250 mL separating", "50 mL separating", "error overfilled", "rinse flask"),
    ("09", "100 mL round-bottom flask, stopper", "10 mL round-bottom flask, stopper", "error overfilled", "add bar, acid"),
    ("09", "C21H26N2O3", "C21H26N2O2", "warning equation", "reaction"),
    ("09", "formula C14H19NO4", "formula C14H19NO5", "warning equation", "reaction"),
    ("09", "add nmm dropwise", "add nnm dropwise", "error unknown-key", "add nnm"),
    ("09", "  add water 40 mL\n", "", "warning miscible-extraction", "separate"),
    ("11", ", nitrogen inlet, bubbler", "", "warning inert-gas-without-outlet", "purge with nitrogen"),
    ("11", "morpholine, 1.20 eq", "morpholine, 0.20 eq", "warning scale-not-limiting", "scale"),
    ("11", "100 mL two-neck", "50 mL two-neck", "warning overfilled", "heat to reflux"),
    ("11", "20 mL vial", "5 mL vial", "error overfilled", "dissolve aldehyde"),
    ("11", "C12H15NO", "C12H13NO", "warning equation", "reaction"),
    ("11", "  dissolve aldehyde in toluene 8.0 mL\n", "", "warning used-before-made", "transfer vial to flask"),
    ("11", "  trap:    10 mL Dean-Stark trap, reflux condenser\n", "", "information boils-without-condenser", "heat to reflux"),
    ("11", "  transfer vial to flask via syringe pump at 5.0 mL/h", "  note the pump runs over lunch", "warning used-before-made", "rinse vial with toluene"),
    ("ethyl", "  dry flask, vial, bar, needles, syringes at 125 °C overnight\n", "", "warning glassware-dryness", "add reagent"),
    ("ethyl", "  evacuate and refill with argon, 3 cycles, 1 mbar\n", "", "information atmosphere-missing", "add reagent"),
    ("ethyl", "2-methyltetrahydrofuran, bottle", "tetrahydrofuran, bottle", "error bottle-differs", "methf:"),
    ("ethyl", "bottle etmgbr-2", "bottle etmgbr-9", "error bottle-unknown", "reagent:"),
    ("ethyl", "scale 20.0 mmol", "scale 500 mmol", "error bottle-not-enough", "reagent:"),
    ("ethyl", "extract aqueous with tert-butyl methyl ether", "extract aqueous with methanol", "error miscible-extraction", "extract aqueous with methanol"),
    ("ethyl", "40 mL vial", "5 mL vial", "error overfilled", "dissolve aldehyde"),
    ("ethyl", "formula C9H12O,", "formula C9H12O2,", "warning equation", "reaction"),
    ("ethyl", "0 °C, until no aldehyde", "30 °C, until no aldehyde", "warning quench-too-hot", "quench with nh4cl"),
    ("ethyl", "  transfer vial to flask dropwise over 20 min, via syringe, below 5 °C\n", "", "warning used-before-made", "rinse vial with methf"),
    ("silyl", "  dry flask, bar at 125 °C overnight\n", "", "warning glassware-dryness", "add silyl"),
    ("silyl", "1.15 eq", "0.50 eq", "warning scale-not-limiting", "scale"),
    ("silyl", "50 mL two-neck", "10 mL two-neck", "error overfilled", "quench with water"),
    ("silyl", "C16H32OSi", "C16H32OS", "warning equation", "reaction"),
    ("silyl", "C16H32OSi", "C16H32OSj", "warning unknown-substance", "ether:"),
    ("silyl", "  transfer flask to sepfunnel\n", "", "warning used-before-made", "rinse flask with pentane"),
    ("swern", "  dry flask, vialA, vialB, bar, syringes at 125 °C overnight\n", "", "warning glassware-dryness", "add oxalyl"),
    ("swern", "oxalyl chloride, 1.20 eq", "oxalyl chloride, 0.20 eq", "warning scale-not-limiting", "scale"),
    ("swern", "250 mL three-neck", "50 mL three-neck", "error overfilled", "rinse vialB"),
    ("swern", "2 amine ->", "amine ->", "warning equation", "reaction"),
    ("swern", "vialB:     20 mL", "vialB:     2 mL", "error overfilled", "dissolve alcohol"),
    ("swern", "  dissolve dmso in dcm 8 mL\n", "", "warning used-before-made", "transfer vialA"),
    ("swern", "  quench with water 40 mL, over 5 min, below 10 °C\n", "", "warning miscible-extraction", "separate"),
    ("swern", "warm to 0 °C over 1 h", "warm to rt over 1 h", "warning quench-too-hot", "quench with water"),
    ("swern", "  transfer vialB to flask dropwise over 15 min, via syringe, below -65 °C\n", "", "warning used-before-made", "rinse vialB"),
    ("alkyl-azide", "extract with tert-butyl methyl ether", "extract with dichloromethane", "error azide-and-halogenated", "extract with dichloromethane"),
    ("alkyl-azide", "azide, dmf", "azide, dichloromethane 15 mL", "error azide-and-halogenated", "add bromide, azide, dichloromethane"),
    ("alkyl-azide", "add water 60 mL", "add 1 M HCl 60 mL", "warning toxic-gas", "add 1 M HCl"),
    ("alkyl-azide", "scale 5.00 mmol", "scale 150 mmol", "error energetic-product", "product:"),
    ("alkyl-azide", "extract with tert-butyl methyl ether", "extract with acetone", "warning miscible-extraction", "extract with acetone"),
    ("epoxide", "  wash organics with 10 wt% sodium thiosulfate 30 mL\n", "", "warning oxidant-before-concentrate", "concentrate"),
    ("epoxide", "dcm:    dichloromethane", "dcm:    acetone", "error reagent-eats-solvent", "add mcpba"),
    ("epoxide", "  transfer flask to sepfunnel\n", "", "warning used-before-made", "wash organics with 10 wt%"),
    ("amine-salt", "triethylamine, 2.30 eq", "triethylamine, 1.10 eq", "warning salt-eats-base", "base:"),
    ("amine-salt", "  dry flask at 125 °C overnight\n", "", "warning glassware-dryness", "add chloride"),
    ("amine-salt", "100 mL two-neck", "25 mL two-neck", "warning overfilled", "add amine"),
    ("tert-butyllithium", "via cannula", "via syringe", "warning pyrophoric-by-syringe", "add tbuli"),
    ("tert-butyllithium", "  dry flask, funnel at 125 °C overnight\n", "", "warning glassware-dryness", "add tbuli"),
    ("tert-butyllithium", "  evacuate and refill with argon, 3 cycles\n", "", "information atmosphere-missing", "add tbuli"),
    ("tert-butyllithium", "thf:     tetrahydrofuran", "thf:     acetonitrile", "warning reagent-eats-solvent", "add tbuli"),
    ("tert-butyllithium", "  transfer funnel to flask over 20 min\n", "", "warning used-before-made", "dissolve ketone"),
    ("tert-butyllithium", "transfer flask to beaker", "transfer flask to baker", "error unknown-key", "transfer flask"),
    ("phenyl-furyl", "  dry flask at 125 °C overnight\n", "", "warning glassware-dryness", "add grignard"),
    ("phenyl-furyl", "  purge with nitrogen for 10 min\n", "", "information atmosphere-missing", "add grignard"),
    ("phenyl-furyl", "  quench with nh4cl slowly\n", "", "warning miscible-extraction", "extract with ethyl acetate"),
    ("phenyl-furyl", "extract with ethyl acetate", "extract with ethanol", "error miscible-extraction", "extract with ethanol"),
    ("phenyl-furyl", "  transfer flask to sepfunnel\n", "", "warning used-before-made", "extract with"),
    ("benzyl-tosyl", "  quench with acid\n", "", "warning miscible-extraction", "separate"),
    ("benzyl-tosyl", "1 L three-neck", "250 mL three-neck", "error overfilled", "transfer funnel to flask"),
    ("benzyl-tosyl", "sepfunnel: 2 L", "sepfunnel: 500 mL", "error overfilled", "quench with acid"),
    ("benzyl-tosyl", "  dissolve tscl in dcm 100 mL\n", "", "warning used-before-made", "transfer funnel to flask"),
    ("pivaloyl", "dcm:           dichloromethane", "dcm:           dimethyl sulfoxide", "error reagent-eats-solvent", "add pivcl"),
    ("pivaloyl", "dichloromethane, 250 mL", "chloroform, 250 mL", "information stabiliser-reacts", "add pivcl"),
    ("pivaloyl", "  add sat. aq. NH4Cl 50 mL\n", "", "warning miscible-extraction", "separate"),
    ("pivaloyl", "septum, nitrogen inlet, bubbler", "septum", "warning inert-gas-without-outlet", "purge with nitrogen"),
    ("ester-series", "B: 0.500 mmol", "B: 20.0 mmol", "error wrong-in-a-run", "B:"),
    ("ester-series", "4-methoxybenzyl benzoate, formula C15H14O3", "4-methoxybenzyl benzoate, formula C15H14O4", "warning wrong-in-a-run", "B:"),
    ("ester-series", "acid is 4-methoxybenzoic acid,", "acid is 4-methoxybenzoic acids,", "warning wrong-in-a-run", "C:"),
    ("ester-series", "acid is 4-methoxybenzoic", "acyd is 4-methoxybenzoic", "error unknown-key", "C:"),
    ("ester-series", "B: 0.500 mmol", "A: 0.500 mmol", "error wrong-in-a-run", "A: 0.500"),
    ("ester-series", "B: 0.500 mmol", "B: 0.500 mmoll", "error unit", "B:"),
    ("silyl-hydroxylamine", "  add water 250 mL\n", "", "warning miscible-extraction", "separate"),
    ("silyl-hydroxylamine", "dissolve silyl", "dissolve silyk", "error unknown-key", "dissolve silyk"),
    ("borohydride", "flask:     500 mL", "flask:     250 mL", "error overfilled", "add water 170 mL"),
    ("borohydride", "extract aqueous with ethyl acetate", "extract aqueous with methanol", "error miscible-extraction", "extract aqueous"),
    ("trimethylsilyl-azide", "  dry vial at 125 °C overnight\n", "", "warning glassware-dryness", "add ether"),
];

fn read(text: &str, context: &Context) -> Plan {
    Plan::with_context(Arc::new(syntax::read_plan(text)), context)
}

fn line(text: &str, finding: &Finding) -> String {
    let line = text.lines().nth(finding.at.line as usize).unwrap_or("");
    line.trim().to_owned()
}

fn named<'a>(plans: &'a [Careful], name: &str) -> &'a Careful {
    plans
        .iter()
        .find(|plan| plan.name.starts_with(name))
        .unwrap_or_else(|| panic!("no plan {name}"))
}

#[test]
fn every_mutation_is_found_where_it_is() {
    let plans = careful();
    let mut missed = Vec::new();
    for (name, from, to, what, place) in MUTATIONS {
        let careful = named(&plans, name);
        if careful.text.matches(from).count() != 1 {
            missed.push(format!("{name} does not say once {from:?}"));
            continue;
        }
        let is_it = |text: &str, finding: &Finding| {
            let said = format!("{} {}", finding.severity.word(), finding.check);
            said == *what && line(text, finding).contains(place)
        };
        let before = checks::findings(&read(&careful.text, &careful.context));
        assert!(
            !before.iter().any(|finding| is_it(&careful.text, finding)),
            "{name} has it as it stands: {what}"
        );
        let text = careful.text.replacen(from, to, 1);
        let found = checks::findings(&read(&text, &careful.context));
        let told: Vec<String> = found
            .iter()
            .filter(|finding| !is_it(&text, finding))
            .map(|f| {
                let severity = f.severity.word();
                format!(
                    "  {severity} {} in `{}`: {}",
                    f.check,
                    line(&text, f),
                    f.message
                )
            })
            .collect();
        if std::env::var_os("TELL").is_some() && !told.is_empty() {
            eprintln!("{name} {from:?} -> {to:?}\n{}", told.join("\n"));
        }
        if !found.iter().any(|finding| is_it(&text, finding)) {
            missed.push(format!(
                "{name}: {from:?} -> {to:?} is not {what} in `{place}`\n{}",
                told.join("\n")
            ));
        }
    }
    assert!(
        missed.is_empty(),
        "{} missed\n{}",
        missed.len(),
        missed.join("\n")
    );
}

/// What a summary leaves out, the plans of published procedures say; of the rest nothing is found fault with.
#[test]
fn nothing_is_wrong_with_a_careful_plan() {
    let plans = careful();
    let published = plans.iter().filter(|plan| plan.text.contains("\nsource "));
    assert!(published.count() >= 5);
    for careful in plans {
        let found = checks::findings(&read(&careful.text, &careful.context));
        let bad: Vec<&Finding> = found
            .iter()
            .filter(|finding| finding.severity != checks::Severity::Information)
            .collect();
        assert!(bad.is_empty(), "{}: {bad:#?}", careful.name);
    }
}

#[test]
fn there_are_many_mutations_of_every_plan() {
    assert!(MUTATIONS.len() >= 100, "{}", MUTATIONS.len());
    for plan in careful() {
        let of_it = MUTATIONS
            .iter()
            .filter(|(name, ..)| plan.name.starts_with(name));
        assert!(of_it.count() > 0, "none of {}", plan.name);
    }
}

fn applied(text: &str, fix: &Fix) -> String {
    let mut text = text.to_owned();
    for (range, new) in fix.edits.iter().rev() {
        text.replace_range(range.clone(), new);
    }
    text
}

/// What the reading of a plan finds fault with.
fn unread(plan: &Plan) -> usize {
    plan.text.lines.iter().map(|line| line.problems.len()).sum()
}

#[test]
fn every_fix_mends_what_it_is_offered_for() {
    const OF_WORDS: [&str; 2] = ["unknown-key", "reading"];
    let plans = careful();
    let mut changed: Vec<(String, &Context)> = MUTATIONS
        .iter()
        .map(|(name, from, to, ..)| {
            let careful = named(&plans, name);
            (careful.text.replacen(from, to, 1), &careful.context)
        })
        .collect();
    for careful in &plans {
        let lines: Vec<&str> = careful.text.lines().collect();
        for gone in careful::steps_and_entries(&careful.text) {
            let rest = lines.iter().enumerate().filter(|(at, _)| *at != gone);
            let rest = rest.map(|(_, line)| format!("{line}\n")).collect();
            changed.push((rest, &careful.context));
        }
    }
    let (mut fixes, mut wrong) = (0, Vec::new());
    for (text, context) in changed {
        let plan = read(&text, context);
        let found = checks::findings(&plan);
        for finding in &found {
            let words = line(&text, finding);
            for fix in &finding.fixes {
                fixes += 1;
                let mended = applied(&text, fix);
                let after = read(&mended, context);
                let left = checks::findings(&after);
                // Of an information there is one a check, and the next may come to light.
                let alike = |of: &[Finding]| {
                    let like = |f: &&Finding| {
                        let next = f.severity == checks::Severity::Information
                            && f.message != finding.message;
                        f.check == finding.check && f.severity == finding.severity && !next
                    };
                    of.iter().filter(like).count()
                };
                let still = alike(&left) >= alike(&found);
                let errors = |of: &[Finding]| {
                    let bad = |f: &&Finding| {
                        f.severity == checks::Severity::Error || OF_WORDS.contains(&f.check)
                    };
                    of.iter().filter(bad).count()
                };
                if still || unread(&after) > unread(&plan) || errors(&left) > errors(&found) {
                    let why: Vec<String> = left
                        .iter()
                        .map(|f| {
                            format!(
                                "    {} {} in `{}`: {}",
                                f.severity.word(),
                                f.check,
                                line(&mended, f),
                                f.message
                            )
                        })
                        .collect();
                    wrong.push(format!(
                        "{}: {} in `{words}`: {}\n  {:?}\n{}",
                        finding.check,
                        finding.message,
                        fix.title,
                        fix.edits.iter().map(|(_, new)| new).collect::<Vec<_>>(),
                        why.join("\n")
                    ));
                }
            }
        }
    }
    wrong.sort();
    wrong.dedup();
    assert!(
        wrong.is_empty(),
        "{} of {fixes}\n{}",
        wrong.len(),
        wrong.join("\n")
    );
    assert!(fixes > 150, "{fixes} fixes");
}
