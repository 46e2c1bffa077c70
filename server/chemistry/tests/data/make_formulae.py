"""Write formulae.tsv and special_formulae.tsv: molar masses by two independent libraries.

    python3 -m venv venv && venv/bin/pip install chemicals==1.5.2 periodictable==2.1.0 molmass==2026.1.8
    venv/bin/python make_formulae.py

formulae.tsv: distinct formulae of real substances, from the two PubChem identifier files of
`chemicals`.  Columns: formula; `ciaaw2021`, g/mol, from `periodictable`, whose table of natural
masses is the CIAAW table of 2021 with the abridged single value for the elements that CIAAW gives
as an interval (nothing has to be switched: the interval is only a comment beside the value; this
script stops if that ever changes); `isotopes`, g/mol, from `molmass`, which averages isotope
masses over abundances and shares no table with the first.

special_formulae.tsv: hydrates, adducts, charges and isotopes in several spellings.  `reading` is
the same substance in the notation of `periodictable`, so that the column `ciaaw2021` does not
depend on how a spelling is parsed.  An ion's mass is given without and with the electrons: CODATA
2018, electron 5.485 799 090 65e-4 u.
"""

import importlib.util
import re
from pathlib import Path

import molmass
import periodictable
from periodictable.core import isisotope
from periodictable.mass import element_mass

HERE = Path(__file__).resolve().parent
WANTED = 12_000
ELECTRON = 5.48579909065e-4  # u, CODATA 2018

SPECIAL = [
    # formula, reading, charge, what it is
    ("CuSO4·5H2O", "CuSO4(H2O)5", 0, "hydrate, middle dot"),
    ("CuSO4.5H2O", "CuSO4(H2O)5", 0, "hydrate, full stop"),
    ("CuSO4*5H2O", "CuSO4(H2O)5", 0, "hydrate, asterisk"),
    ("CuSO4 x 5 H2O", "CuSO4(H2O)5", 0, "hydrate, x and spaces"),
    ("CeCl3·7H2O", "CeCl3(H2O)7", 0, "hydrate"),
    ("Na2S2O3·5H2O", "Na2S2O3(H2O)5", 0, "hydrate"),
    ("C4H4KNaO6·4H2O", "C4H4KNaO6(H2O)4", 0, "hydrate, Rochelle salt"),
    ("LiOH·H2O", "LiOH(H2O)", 0, "hydrate, one water"),
    ("NiCl2·6H2O", "NiCl2(H2O)6", 0, "hydrate"),
    ("Na2HPO4·12H2O", "Na2HPO4(H2O)12", 0, "hydrate, two-digit count"),
    ("CaSO4·½H2O", "Ca2S2O8H2O", 0, "hemihydrate; reading is the double"),
    ("CaSO4·0.5H2O", "Ca2S2O8H2O", 0, "hemihydrate; reading is the double"),
    ("BF3·OEt2", "BF3(C4H10O)", 0, "adduct with an abbreviated group"),
    ("BF3·C4H10O", "BF3(C4H10O)", 0, "adduct"),
    ("BH3·C4H8O", "BH3(C4H8O)", 0, "adduct"),
    ("BH3·C2H6S", "BH3(C2H6S)", 0, "adduct"),
    ("C8H17N3·HCl", "C8H17N3HCl", 0, "hydrochloride"),
    ("C3H7MgCl·LiCl", "C3H7MgClLiCl", 0, "double salt"),
    ("MgBr2·C4H10O", "MgBr2(C4H10O)", 0, "etherate"),
    ("Ca(OH)2", "Ca(OH)2", 0, "group"),
    ("(CH3)2CO", "(CH3)2CO", 0, "leading group"),
    ("(NH4)2Fe(SO4)2·6H2O", "(NH4)2Fe(SO4)2(H2O)6", 0, "groups and hydrate"),
    ("Fe4[Fe(CN)6]3", "Fe4(Fe(CN)6)3", 0, "nested groups"),
    ("K3[Fe(CN)6]", "K3(Fe(CN)6)", 0, "square brackets"),
    ("[Cu(NH3)4]SO4·H2O", "(Cu(NH3)4)SO4(H2O)", 0, "leading bracket and hydrate"),
    ("KAl(SO4)2·12H2O", "KAl(SO4)2(H2O)12", 0, "alum"),
    ("Na+", "Na", 1, "cation"),
    ("Cl-", "Cl", -1, "anion"),
    ("NH4+", "NH4", 1, "cation"),
    ("SO4 2-", "SO4", -2, "anion, spaced charge"),
    ("SO4^2-", "SO4", -2, "anion, caret"),
    ("Ca2+", "Ca", 2, "cation; not two calcium"),
    ("C16H36N+", "C16H36N", 1, "cation"),
    ("PF6-", "PF6", -1, "anion"),
    ("D2O", "D2O", 0, "deuterium"),
    ("T2O", "T2O", 0, "tritium"),
    ("HDO", "HDO", 0, "deuterium and protium"),
    ("CDCl3", "CDCl3", 0, "deuterium"),
    ("C6D6", "C6D6", 0, "deuterium"),
    ("CD3OD", "CD3OD", 0, "deuterium"),
    ("C2D6OS", "C2D6OS", 0, "deuterium"),
    ("LiAlD4", "LiAlD4", 0, "deuterium"),
    ("NaBD4", "NaBD4", 0, "deuterium"),
    ("[2H]2O", "D2O", 0, "mass number in brackets"),
    ("[13C]H4", "C[13]H4", 0, "carbon-13"),
    ("13CH4", "C[13]H4", 0, "carbon-13, leading mass number"),
    ("[13C]6H12O6", "C[13]6H12O6", 0, "carbon-13, six of them"),
    ("K[13C]N", "KC[13]N", 0, "carbon-13"),
    ("[13C]O2", "C[13]O2", 0, "carbon-13"),
    ("H2[18O]", "H2O[18]", 0, "oxygen-18"),
    ("[15N]H4Cl", "N[15]H4Cl", 0, "nitrogen-15"),
]


def formulae():
    folder = Path(next(iter(importlib.util.find_spec("chemicals").submodule_search_locations)))
    found = []
    for name in ("chemical identifiers pubchem small.tsv", "chemical identifiers pubchem large.tsv"):
        seen = set(found)
        new = []
        for line in open(folder / "Identifiers" / name, encoding="utf-8"):
            formula = line.split("\t", 3)[2]
            if re.fullmatch(r"(?:[A-Z][a-z]?\d*)+", formula) and formula not in seen:
                seen.add(formula)
                new.append(formula)
        # An even spread over the file, so that every kind of substance in it is met.
        room = WANTED - len(found)
        step = max(1, len(new) // room) if room > 0 else 0
        found += new[:: step][:room] if step else []
    return sorted(found)


def natural(formula):
    """Mass by `periodictable`, None where an element has no standard atomic weight."""
    weighed = periodictable.formula(formula)
    for atom in weighed.atoms:
        if not isisotope(atom) and f"\t{atom.symbol}\t" not in element_mass:
            return None
    return weighed.mass


def main():
    for symbol, abridged in (("H", 1.0080), ("C", 12.011), ("S", 32.06), ("Pb", 207.2)):
        assert getattr(periodictable, symbol).mass == abridged, symbol
    lines = []
    for formula in formulae():
        try:
            first, second = natural(formula), molmass.Formula(formula).mass
        except (ValueError, molmass.FormulaError):
            continue
        # Elements with no stable isotope differ by choice of isotope: not a test of arithmetic.
        if first is not None and abs(second / first - 1) < 2e-3:
            lines.append(f"{formula}\t{first:.7f}\t{second:.6f}\n")
    with open(HERE / "formulae.tsv", "w", encoding="utf-8") as out:
        out.write("formula\tciaaw2021\tisotopes\n")
        out.writelines(lines)
    with open(HERE / "special_formulae.tsv", "w", encoding="utf-8") as out:
        out.write("formula\treading\tcharge\tciaaw2021\tciaaw2021_ion\tkind\n")
        for formula, reading, charge, kind in SPECIAL:
            mass = natural(reading) / (2 if "hemihydrate" in kind else 1)
            out.write(f"{formula}\t{reading}\t{charge}\t{mass:.7f}\t{mass - charge * ELECTRON:.7f}\t{kind}\n")
    print(len(lines), "formulae,", len(SPECIAL), "special")


main()
