"""Check curated.tsv, imported.tsv, solutions.tsv, elements.tsv, protons.tsv and sources.tsv for slips.

The build checks the other tables.

    python3 -m venv venv && venv/bin/pip install chemicals==1.5.2 periodictable==2.1.0 rdkit
    venv/bin/python check.py

Prints one line for each slip and ends with status 1 if there was any.
"""

import csv
import gzip
import importlib.util
import re
import sys
from collections import Counter, defaultdict
from pathlib import Path

import periodictable
from rdkit import Chem, RDLogger

sys.dont_write_bytecode = True
HERE = Path(__file__).resolve().parent


def script(name):
    spec = importlib.util.spec_from_file_location(name + "_", HERE / f"{name}.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


TOOLS = script("import")
RDLogger.DisableLog("rdApp.*")

CLASSES = """organolithium grignard amide-base metal-hydride aluminium-hydride borohydride borane
organozinc organoaluminium alkali-metal alkaline-earth-metal alkoxide silyl-chloride silyl-triflate
acyl-chloride sulfonyl-chloride chloroformate anhydride isocyanate strong-lewis-acid
tolerant-lewis-acid phosphorus-halide thionyl-halide ylide pd0 pd-phosphine pd-robust ni0
trialkylphosphine triarylphosphine copper-i low-valent-metal thiol azide cyanide oxidant peroxide
acid base amine alcohol water carbodiimide uronium ketone aldehyde ester ether nitrile
amide-solvent sulfoxide hydrocarbon halogenated-solvent alkyl-halide aryl-halide drying-agent
hydrogenation-catalyst inert-gas hydrogen salt adsorbent""".split()
TAGS = """sold-diluted moisture-sensitive air-sensitive pyrophoric light-sensitive hygroscopic-mild
hygroscopic-strong volatile peroxide-former halogenated water-miscible water-immiscible solvent
protic stabilised""".split()
HAZARD = re.compile(r"H(2[0-9]{2}|3[0-7][0-9]|4[0-2][0-9])|EUH(0[0-9]{2})")
# What the checks of the program lean on: name -> class.
DECISIVE = {
    "n-butyllithium": "organolithium", "tert-butyllithium": "organolithium", "LDA": "amide-base",
    "iPrMgCl": "grignard", "iPrMgCl·LiCl": "grignard", "NaH": "metal-hydride", "LAH": "aluminium-hydride",
    "DIBAL-H": "aluminium-hydride", "NaBH4": "borohydride", "BH3·THF": "borane", "Et2Zn": "organozinc",
    "Me3Al": "organoaluminium", "TMSOTf": "silyl-triflate", "TMSCl": "silyl-chloride",
    "TiCl4": "strong-lewis-acid", "oxalyl chloride": "acyl-chloride", "thionyl chloride": "thionyl-halide",
    "POCl3": "phosphorus-halide", "MsCl": "sulfonyl-chloride", "Pd2(dba)3": "pd0", "Pd(PPh3)4": "pd0",
    "Pd(OAc)2": "pd-robust", "PdCl2(dppf)": "pd-robust", "Ni(cod)2": "ni0", "P(tBu)3": "trialkylphosphine",
    "PPh3": "triarylphosphine", "CuI": "copper-i", "SmI2": "low-valent-metal", "Na": "alkali-metal",
    "Mg": "alkaline-earth-metal", "KOtBu": "alkoxide", "Ac2O": "anhydride", "Sc(OTf)3": "tolerant-lewis-acid",
}  # fmt: skip

# What the trade uses for more than one substance: the writer has to choose.
AMBIGUOUS = set("btc dea dma dmp dms ea eda ptsa ptsoh tea tmsa tsoh".split())

slips = 0


def slip(*words):
    global slips
    slips += 1
    print(*words)


def table(name, columns):
    lines = (HERE / name).read_text(encoding="utf-8").split("\n")
    if lines.pop() != "":
        slip(name, "does not end with a line feed")
    header = lines[0].split("\t")
    if columns and header != columns:
        slip(name, "header", header)
    rows = []
    for number, line in enumerate(lines[1:], 2):
        cells = line.split("\t")
        if len(cells) != len(header):
            slip(name, number, "has", len(cells), "cells")
        elif any(cell != cell.strip() for cell in cells):
            slip(name, number, "has blanks around a cell")
        else:
            rows.append(dict(zip(header, cells)))
    return rows


def atoms_of_formula(formula):
    reading = re.sub(r"·(\d*)([^·]+)", lambda m: f"({m[2]}){m[1] or 1}", formula)
    reading = reading.replace("[", "(").replace("]", ")")
    return Counter({str(a.symbol): int(n) for a, n in periodictable.formula(reading).atoms.items()})


def atoms_of_smiles(smiles):
    molecule = Chem.MolFromSmiles(smiles)
    if molecule is None:
        return None
    return Counter(
        {2: "D", 3: "T"}.get(a.GetIsotope(), "H") if a.GetSymbol() == "H" else a.GetSymbol()
        for a in Chem.AddHs(molecule).GetAtoms()
    )


def check_substances(name, keys):
    rows = table(name, TOOLS.COLUMNS)
    names, numbers = defaultdict(set), {}
    for row in rows:
        where = f"{name}: {row['name']}:"
        if not row["name"]:
            slip(where, "no name")
        if row["cas"] and not TOOLS.cas_ok(row["cas"]):
            slip(where, "check digit of", row["cas"])
        if row["cas"] and numbers.setdefault(row["cas"], row["name"]) != row["name"]:
            slip(where, row["cas"], "also on", numbers[row["cas"]])
        for word in [row["name"], *filter(None, row["synonyms"].split(" | "))]:
            names[TOOLS.fold(word)].add(row["name"])
        if row["formula"]:
            try:
                atoms = atoms_of_formula(row["formula"])
            except ValueError as error:
                slip(where, row["formula"], error)
            else:
                if row["smiles"] and atoms_of_smiles(row["smiles"]) != atoms:
                    slip(where, row["formula"], "is not", row["smiles"])
        if row["state"] not in ("", "s", "l", "g"):
            slip(where, "state", row["state"])
        for cell in "density density_at melting boiling water_eq oxygen_eq".split():
            if row[cell] and not re.fullmatch(r"-?\d+(\.\d+)?", row[cell]):
                slip(where, cell, row[cell])
        melting, boiling = (float(row[k]) if row[k] else None for k in ("melting", "boiling"))
        if melting is not None and boiling is not None and melting >= boiling:
            slip(where, "melts above its boiling point")
        if row["state"] == "s" and melting is not None and melting < 18:
            slip(where, "solid, melts at", melting)
        if row["state"] == "l" and (melting or 0) > 40 or row["state"] == "l" and (boiling or 99) < 19:
            slip(where, "liquid, melts at", melting, "boils at", boiling)
        if row["state"] == "g" and boiling is not None and boiling > 25:
            slip(where, "gas, boils at", boiling)
        if row["density"] and not 0.3 < float(row["density"]) < 25:
            slip(where, "density", row["density"])
        if row["class"] and row["class"] not in CLASSES:
            slip(where, "class", row["class"])
        for tag in set(row["tags"].split()) - set(TAGS):
            slip(where, "tag", tag)
        for code in row["hazards"].split():
            if not HAZARD.fullmatch(code):
                slip(where, "hazard", code)
        sources = dict(word.split("=", 1) for word in row["sources"].split())
        for cell in "density melting boiling hazards class".split():
            if row[cell] and cell not in sources:
                slip(where, cell, "has no source")
            if cell in sources and not row[cell] and cell != "class":
                slip(where, cell, "has a source and no value")
        for key in {k for v in sources.values() for k in v.split("+")} - keys:
            slip(where, "unknown source", key)
    return rows, names


def pubchem_formulas():
    formulas = {}
    for size in ("large", "small"):
        path = TOOLS.package_dir() / f"Identifiers/chemical identifiers pubchem {size}.tsv"
        path = path if path.exists() else path.with_name(path.name + ".gz")
        with (gzip.open if path.suffix == ".gz" else open)(path, "rt", encoding="utf-8") as lines:
            for line in lines:
                cells = line.split("\t")
                formulas[TOOLS.dashed(cells[1])] = cells[2]
    return formulas


def main():
    sources = table("sources.tsv", ["key", "citation", "seen"])
    keys = {row["key"] for row in sources}
    curated, names = check_substances("curated.tsv", keys)
    for word, owners in names.items():
        if (len(owners) > 1) != (word in AMBIGUOUS):
            slip("curated.tsv: name", word, "on", sorted(owners))
    for word in AMBIGUOUS - names.keys():
        slip("curated.tsv: name", word, "on no row")
    known = pubchem_formulas()
    for row in curated:
        # The file leaves out hydrogen on metals and boron, and writes deuterium as hydrogen.
        if row["formula"] and not row["smiles"] and "-" not in known.get(row["cas"], "-"):
            own, other = atoms_of_formula(row["formula"]), atoms_of_formula(known[row["cas"]])
            own.pop("H", None), other.pop("H", None)
            if own != other:
                slip("curated.tsv:", row["name"], row["formula"], "is", known[row["cas"]], "in PubChem")
    class_of = {}
    for row in curated:
        for word in [row["name"], *row["synonyms"].split(" | ")]:
            class_of[TOOLS.fold(word)] = row["class"]
    for word, wanted in DECISIVE.items():
        if class_of.get(TOOLS.fold(word)) != wanted:
            slip("curated.tsv:", word, "is", class_of.get(TOOLS.fold(word)), "not", wanted)
    if len(curated) < 300:
        slip("curated.tsv: only", len(curated), "rows")
    for row in table("elements.tsv", None):
        value = row["atomic_weight"]
        if value and abs(float(value) - getattr(periodictable, row["symbol"]).mass) > 1e-9:
            slip("elements.tsv:", row["symbol"], value)
    if (HERE / "imported.tsv").exists():
        imported, imported_names = check_substances("imported.tsv", keys)
        both = {r["cas"] for r in imported} & {r["cas"] for r in curated if r["cas"]}
        for cas in sorted(both):
            slip("imported.tsv:", cas, "is in curated.tsv")
        main_names = {TOOLS.fold(r["name"]) for r in imported}
        for word, owners in imported_names.items():
            if len(owners) > 1 and word not in main_names:
                slip("imported.tsv: synonym", word, "on", sorted(owners))
            elif word in names and word not in main_names:
                slip("imported.tsv: synonym", word, "is in curated.tsv")
        print(len(imported), "imported rows")
    if (HERE / "solutions.tsv").exists():
        columns = "solute carrier strength molarity density at names source".split()
        for row in table("solutions.tsv", columns):
            where = f"solutions.tsv: {row['solute']}, {row['strength']}:"
            if TOOLS.fold(row["solute"]) not in class_of:
                slip(where, "solute is not in curated.tsv")
            for key in set(re.split(r"[ +]", row["source"])) - keys - {""}:
                slip(where, "unknown source", key)
            match = re.match(r"([\d.]+) wt%", row["strength"])
            solute = next((r for r in curated if TOOLS.fold(row["solute"]) in
                           map(TOOLS.fold, [r["name"], *r["synonyms"].split(" | ")])), None)
            if match and row["density"] and row["molarity"] and solute and solute["formula"]:
                mass = sum(getattr(periodictable, s).mass * n for s, n in atoms_of_formula(solute["formula"]).items())
                c = float(match[1]) * 10 * float(row["density"]) / mass
                if abs(c / float(row["molarity"]) - 1) > 0.005:
                    slip(where, "molarity", row["molarity"], "is not", round(c, 3))
    if (HERE / "protons.tsv").read_text(encoding="utf-8") != script("protons").text():
        slip("protons.tsv is out of date: run protons.py")
    print(len(curated), "curated rows,", slips, "slips")
    return 1 if slips else 0


sys.exit(main())
