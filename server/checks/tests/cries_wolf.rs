//! Good practice that a careless check would warn of: none of it is warned of. More of it is in the plans that
//! `mutations.rs` reads, and in the unit tests of whole plans.

#![allow(clippy::panic, reason = "a test may fail")]

use checks::Severity;
use plan::Plan;

/// What it is, materials (the scale counts on the first, 5 mmol unless it says its own), equipment, steps.
type Practice = (&'static str, &'static str, &'static str, &'static str);

const FLASK: &str = "flask: 100 mL two-neck flask, reflux condenser, septum, argon inlet, bubbler";

const DRY: &str = "dry flask at 125 °C overnight
cool to rt under argon
evacuate and refill with argon, 3 cycles
";

/// Common practice, written from memory.
const PRACTICES: &[Practice] = &[
    (
        "a Grignard reagent from a fresh can of ether",
        "bromide: bromobenzene, 1.00 eq
magnesium: magnesium, turnings, 1.1 eq
ketone: benzophenone, 0.90 eq
ether: diethyl ether, used as received, 40 mL",
        FLASK,
        "dry flask at 125 °C overnight
cool to rt under argon
add magnesium, ether 20 mL
add tenth of bromide
stir until the ether boils by itself
add rest of bromide dropwise over 30 min, at gentle reflux
cool to 0 °C
add ketone in 3 portions over 10 min
stir for 1 h
quench with sat. aq. NH4Cl 20 mL dropwise",
    ),
    (
        "triacetoxyborohydride made in place",
        "amine: benzylamine, 1.00 eq
aldehyde: benzaldehyde, 1.05 eq
nabh4: sodium borohydride, 1.5 eq
acid: acetic acid, 4.6 eq
dce: 1,2-dichloroethane, 30 mL",
        FLASK,
        "add nabh4, dce
cool to 0 °C
add acid dropwise over 20 min
add amine, aldehyde
warm to rt
stir overnight
quench with sat. aq. NaHCO3 20 mL slowly",
    ),
    (
        "stills of old",
        "thf: tetrahydrofuran, over sodium
dcm: dichloromethane, over calcium hydride
ether: diethyl ether, over sodium",
        FLASK,
        "dry thf over sodium
dry dcm over calcium hydride
dry ether over sodium",
    ),
    (
        "a Sharpless epoxidation with its sieves",
        "alcohol: geraniol, 1.00 eq
ti: titanium(IV) isopropoxide, 10 mol%
tartrate: diethyl tartrate, MW 206.19, 12 mol%
tbhp: tert-butyl hydroperoxide, 5.5 M in decane, 2.0 eq
dcm: dichloromethane, dry, 40 mL
sieves: 4 Å molecular sieves, 1.0 g",
        "flask: 250 mL two-neck flask, septum, argon inlet, bubbler",
        "dry flask at 125 °C overnight
cool to rt under argon
add sieves, dcm, tartrate, ti
cool to -20 °C
add tbhp dropwise over 5 min
stir for 30 min at -20 °C
add alcohol dropwise over 10 min
stir for 2 h at -20 °C
quench with 10 wt% iron(II) sulfate 30 mL
extract with dichloromethane, 2 x 20 mL",
    ),
    (
        "samarium iodide with water",
        "ketone: cyclohexanone, 1.00 eq
smi2: samarium(II) iodide, 0.10 M in THF, 2.5 eq
water: water, 10 eq",
        "flask: 250 mL two-neck flask, septum, argon inlet, bubbler",
        "dry flask at 125 °C overnight
cool to rt under argon
evacuate and refill with argon, 3 cycles
add smi2
add water
add ketone
stir for 1 h",
    ),
    (
        "a Suzuki coupling in toluene, ethanol and water",
        "bromide: 4-bromoanisole, 1.00 eq
boronic: phenylboronic acid, 1.2 eq
catalyst: tetrakis(triphenylphosphine)palladium(0), 3 mol%
base: sodium carbonate, 2.0 M in water, 2.5 eq
toluene: toluene, 20 mL
ethanol: ethanol, 5 mL",
        FLASK,
        "add bromide, boronic, base, toluene, ethanol
sparge with argon for 10 min
add catalyst under argon
heat to 80 °C
stir overnight
cool to rt
extract with ethyl acetate, 2 x 20 mL",
    ),
    (
        "a Sonogashira coupling in triethylamine as it comes",
        "iodide: iodobenzene, 1.00 eq
alkyne: phenylacetylene, 1.2 eq
pd: bis(triphenylphosphine)palladium(II) dichloride, 2 mol%
cu: copper(I) iodide, 4 mol%
amine: triethylamine, 20 mL",
        FLASK,
        "add iodide, pd, cu
evacuate and refill with argon, 3 cycles
add amine, alkyne
stir overnight under argon",
    ),
    (
        "a Wacker oxidation under oxygen",
        "alkene: 1-octene, 1.00 eq
pd: palladium(II) chloride, 10 mol%
cu: copper(I) chloride, 1.0 eq
dmf: N,N-dimethylformamide, 14 mL",
        FLASK,
        "add pd, cu, dmf, water 2 mL
stir for 1 h, under oxygen from balloon
add alkene dropwise over 20 min
stir overnight, under oxygen from balloon",
    ),
    (
        "an acyl chloride made with oxalyl chloride, and used crude",
        "acid: benzoic acid, 1.00 eq
oxalyl: oxalyl chloride, 1.3 eq
dmf: N,N-dimethylformamide, 2 drops
dcm: dichloromethane, dry, 20 mL",
        FLASK,
        "dry flask at 125 °C overnight
cool to rt under argon
add acid, dcm, dmf
add oxalyl dropwise over 10 min
stir for 2 h, until no more gas
concentrate at 30 °C, 100 mbar",
    ),
    (
        "an acetylation in solvent as it comes",
        "alcohol: benzyl alcohol, 1.00 eq
anhydride: acetic anhydride, 1.5 eq
pyridine: pyridine, 2.0 eq
dmap: 4-dimethylaminopyridine, 5 mol%
dcm: dichloromethane, 20 mL",
        FLASK,
        "add alcohol, pyridine, dmap, dcm
cool to 0 °C
add anhydride dropwise over 5 min
warm to rt
stir overnight
quench with sat. aq. NaHCO3 20 mL slowly",
    ),
    (
        "a coupling with HATU in dimethylformamide as it comes",
        "acid: benzoic acid, 1.00 eq
amine: benzylamine, 1.1 eq
hatu: HATU, 1.1 eq
base: N,N-diisopropylethylamine, 2.5 eq
dmf: N,N-dimethylformamide, 15 mL",
        FLASK,
        "add acid, dmf, base
add hatu
stir for 10 min
add amine
stir overnight",
    ),
    (
        "hydrogen chloride in dioxane at 0 °C",
        "boc: N-Boc-benzylamine, MW 207.27, 1.00 eq
hcl: hydrochloric acid, 4.0 M in 1,4-dioxane, 10 mL",
        FLASK,
        "add boc
cool to 0 °C
add hcl
warm to rt
stir for 2 h
concentrate at 30 °C, 50 mbar",
    ),
    (
        "a vial made for pressure, over the boiling point",
        "bromide: 4-bromoanisole, 1.00 mmol
amine: morpholine, 1.2 mmol
thf: tetrahydrofuran, 4 mL",
        "vial: 20 mL microwave vial, crimp cap",
        "in vial
add bromide, amine, thf
seal vial
heat to 100 °C
stir overnight
cool to rt",
    ),
    (
        "a bath above the boiling point, under a condenser",
        "acid: benzoic acid, 1.00 eq
alcohol: benzyl alcohol, 1.1 eq
toluene: toluene, 40 mL",
        FLASK,
        "add acid, alcohol, toluene
heat to reflux, bath 130 °C
stir overnight
cool to rt",
    ),
    (
        "a Friedel-Crafts acylation poured onto ice",
        "chloride: benzoyl chloride, 1.00 eq
alcl3: aluminium chloride, 1.1 eq
anisole: anisole, 1.2 eq
dcm: dichloromethane, dry, 20 mL",
        "flask: 100 mL two-neck flask, septum, argon inlet, bubbler
pot: 250 mL beaker",
        "dry flask at 125 °C overnight
cool to rt under argon
add alcl3, dcm
cool to 0 °C
add chloride dropwise over 10 min
add anisole dropwise over 20 min
warm to rt
stir for 2 h
in pot
add 1 M HCl 50 mL
cool to 0 °C
transfer flask to pot slowly
extract with dichloromethane, 2 x 20 mL",
    ),
    (
        "butyllithium until the colour holds",
        "alkyne: phenylacetylene, 1.00 eq
buli: n-butyllithium, 2.5 M in hexanes
thf: tetrahydrofuran, over 3 Å sieves, 20 mL
mei: iodomethane, 1.2 eq",
        FLASK,
        "DRY
add thf, alkyne
cool to -78 °C
add buli dropwise until the colour holds
stir for 30 min at -78 °C
add mei dropwise over 5 min
warm to rt
quench with sat. aq. NH4Cl 20 mL",
    ),
    (
        "a Birch reduction quenched with solid ammonium chloride",
        "arene: anisole, 1.00 eq
sodium: sodium, 5.0 eq
ammonia: ammonia, 60 mL
ethanol: ethanol, 5.0 eq
salt: ammonium chloride, 3.0 g",
        "flask: 250 mL three-neck flask, dry ice condenser, argon inlet, bubbler",
        "dry flask at 125 °C overnight
cool to rt under argon
cool to -78 °C
add ammonia, arene, ethanol
add sodium in 5 portions over 30 min
stir for 1 h at -78 °C
quench with salt in 6 portions
warm to rt overnight",
    ),
    (
        "DIBAL-H quenched cold with methanol, then with Rochelle salt",
        "ester: methyl benzoate, 1.00 eq
dibal: diisobutylaluminium hydride, 1.0 M in hexanes, 2.2 eq
dcm: dichloromethane, dry, 30 mL
methanol: methanol, 2 mL",
        "flask: 250 mL three-neck flask, septum, argon inlet, bubbler",
        "DRY
add ester, dcm
cool to -78 °C
add dibal dropwise over 15 min, below -70 °C
stir for 1 h at -78 °C
quench with methanol dropwise over 10 min
warm to rt
add sat. aq. potassium sodium tartrate 40 mL
stir for 2 h
extract with ethyl acetate, 3 x 30 mL",
    ),
    (
        "lithium aluminium hydride with sodium sulfate decahydrate",
        "ester: methyl benzoate, 1.00 eq
lah: lithium aluminium hydride, 1.5 eq
thf: tetrahydrofuran, over 3 Å sieves, 30 mL
glauber: sodium sulfate decahydrate, 5 g",
        FLASK,
        "DRY
add lah, thf
cool to 0 °C
add ester dropwise over 15 min
stir for 1 h
cool to 0 °C
quench with glauber in 10 portions, until no more gas
stir for 1 h
filter through Celite, keep filtrate",
    ),
    (
        "an aryllithium that carbon dioxide takes up",
        "bromide: 4-bromoanisole, 1.00 eq
buli: n-butyllithium, 2.5 M in hexanes, 1.05 eq
thf: tetrahydrofuran, over 3 Å sieves, 20 mL
co2: carbon dioxide, excess",
        FLASK,
        "DRY
add thf, bromide
cool to -78 °C
add buli dropwise over 10 min
stir for 30 min at -78 °C
add co2
warm to rt
acidify with 1 M HCl 20 mL
extract with ethyl acetate, 3 x 20 mL",
    ),
    (
        "an aryllithium and dimethylformamide",
        "bromide: 4-bromoanisole, 1.00 eq
buli: n-butyllithium, 2.5 M in hexanes, 1.05 eq
thf: tetrahydrofuran, over 3 Å sieves, 20 mL
dmf: N,N-dimethylformamide, dry, 2.0 eq",
        FLASK,
        "DRY
add thf, bromide
cool to -78 °C
add buli dropwise over 10 min
stir for 30 min at -78 °C
add dmf dropwise over 5 min
warm to rt
quench with sat. aq. NH4Cl 20 mL
extract with ethyl acetate, 3 x 20 mL",
    ),
    (
        "sodium hydride in dimethylformamide, a little and cold",
        "phenol: 4-methoxyphenol, 1.00 eq
nah: sodium hydride, 60 wt% in mineral oil, 1.2 eq
mei: iodomethane, 1.3 eq
dmf: N,N-dimethylformamide, dry, 20 mL",
        FLASK,
        "DRY
add phenol, dmf
cool to 0 °C
add nah in 3 portions over 10 min
stir for 30 min, until no more gas
add mei dropwise over 5 min
warm to rt
stir for 3 h
cool to 0 °C
quench with sat. aq. NH4Cl 20 mL dropwise",
    ),
    (
        "a reductive amination with the salt of the amine",
        "aldehyde: benzaldehyde, 1.00 eq
amine: benzylamine hydrochloride, formula C7H10ClN, 1.2 eq
acetate: sodium acetate, 1.2 eq
borohydride: sodium cyanoborohydride, 1.5 eq
methanol: methanol, 25 mL",
        FLASK,
        "add aldehyde, amine, acetate, methanol
stir for 1 h
add borohydride in 3 portions over 10 min
stir overnight
quench with sat. aq. NaHCO3 20 mL",
    ),
    (
        "a macrocycle at high dilution",
        "acid: 12-hydroxydodecanoic acid, formula C12H24O3, 0.50 mmol
chloride: 2,4,6-trichlorobenzoyl chloride, MW 243.90, 0.60 mmol
base: triethylamine, 1.5 mmol
toluene: toluene, dry, 500 mL",
        "flask: 1 L two-neck flask, reflux condenser, septum, argon inlet, bubbler
vial: 100 mL flask, septum",
        "dry flask, vial at 125 °C overnight
cool to rt under argon
in vial
add acid, base, chloride, toluene 50 mL
stir for 1 h
in flask
add toluene 450 mL
heat to reflux
transfer vial to flask via syringe pump at 5.0 mL/h
reflux for 2 h
cool to rt",
    ),
    (
        "alkylation of an enolate made with hindered base, the electrophile before it",
        "ketone: cyclohexanone, 1.00 eq
tmscl: chlorotrimethylsilane, 5.0 eq
lda: lithium diisopropylamide, 2.0 M in THF, 1.2 eq
thf: tetrahydrofuran, over 3 Å sieves, 20 mL",
        FLASK,
        "DRY
add thf, tmscl
cool to -78 °C
add lda dropwise over 10 min
add ketone dropwise over 10 min
stir for 30 min at -78 °C
quench with sat. aq. NaHCO3 20 mL",
    ),
];

fn indented(lines: &str) -> String {
    let lines = lines.replace("DRY\n", DRY);
    lines.lines().map(|line| format!("  {line}\n")).collect()
}

#[test]
fn good_practice_gives_no_warning() {
    let mut wrong = Vec::new();
    for (name, materials, equipment, steps) in PRACTICES {
        let key = materials.split(':').next().unwrap_or("");
        let first = materials.lines().next().unwrap_or("");
        let scale = match first.contains(" eq") {
            true => format!("scale 5.00 mmol {key}\n"),
            false => String::new(),
        };
        let text = format!(
            "plan Practice\n{scale}materials\n{}equipment\n{}steps\n{}",
            indented(materials),
            indented(equipment),
            indented(steps)
        );
        let findings = checks::findings(&Plan::read(&text));
        for finding in findings {
            if finding.severity != Severity::Information {
                let line = text.lines().nth(finding.at.line as usize).unwrap_or("");
                let severity = finding.severity.word();
                wrong.push(format!(
                    "{name}: {severity} {} in `{}`: {}",
                    finding.check,
                    line.trim(),
                    finding.message
                ));
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}
