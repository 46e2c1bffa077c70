"""Write protons.tsv: the acidic hydrogens of the substances, counted on their structures.

    python3 -m venv venv && venv/bin/pip install chemicals==1.5.2 rdkit==2026.9.1
    venv/bin/python protons.py

Reads curated.tsv and imported.tsv. A group is an atom that bears hydrogen; its first hydrogen is the acidic one.

acid       groups on oxygen, sulfur, halogen, ammonium or phosphonium, and those of HCN and HN3
weak       groups on uncharged nitrogen or phosphorus, and terminal alkynes
hydrogens  all hydrogens of these groups: the most that a strong base in excess can take
base       equivalents of an amine (or anything stronger) that the substance takes up: carboxylic, sulfonic, sulfuric,
           phosphoric, hydrohalic and nitric acids, their acidic salts, and salts of amines and phosphines; not
           phenols, alcohols, boric acids, nor salts of amidines and guanidines
amide      of the weak ones those on nitrogen that sodium hydride takes: beside a carbonyl, thiocarbonyl or sulfonyl
           group, or in an aromatic ring, as of pyrrole and indole; not those of amines, anilines and amidines

Hydrogen on carbon (but for alkynes and HCN), boron, aluminium and silicon is none of these.
"""

import sys
from pathlib import Path

from rdkit import Chem, RDLogger

sys.dont_write_bytecode = True
RDLogger.DisableLog("rdApp.*")
HERE = Path(__file__).resolve().parent
# Structures that SMILES does not hold, that the table leaves blank, or that no rule fits: acid, weak, hydrogens, base, amide.
BY_HAND = {
    "cerium(III) chloride heptahydrate": (7, 0, 14, 0, 0),
    "copper(II) sulfate pentahydrate": (5, 0, 10, 0, 0),
    "nickel(II) chloride hexahydrate": (6, 0, 12, 0, 0),
    "iron(II) sulfate heptahydrate": (7, 0, 14, 0, 0),
    "tris(2,2'-bipyridyl)ruthenium(II) chloride hexahydrate": (6, 0, 12, 0, 0),
    "sodium sulfide nonahydrate": (9, 0, 18, 0, 0),
    "sodium thiosulfate pentahydrate": (5, 0, 10, 0, 0),
    "potassium sodium tartrate tetrahydrate": (6, 0, 10, 0, 0),
    "cerium(IV) ammonium nitrate": (2, 0, 8, 2, 0),
    "palladium hydroxide on carbon": (2, 0, 2, 0, 0),
    "potassium peroxymonosulfate": (3, 0, 3, 1, 0),
    "pyridinium chlorochromate": (1, 0, 1, 1, 0),
    "pyridinium dichromate": (2, 0, 2, 2, 0),
    "2-iodoxybenzoic acid": (1, 0, 1, 1, 0),
    # A nitrogen acid as strong as sulfuric acid.
    "bis(trifluoromethanesulfonyl)imide": (1, 0, 1, 1, 0),
}
BASE = [
    ("[CX3](=O)([#1,#6])[OX2H,SX2H]", 1),  # carboxylic and thiocarboxylic acids
    ("[CX3;H1](=O)[OX2H]", 1),  # formic acid
    ("[SX4](=O)(=O)[OX2H]", 1),  # sulfonic and sulfuric acids, hydrogen sulfate
    ("[SX3](=O)([OX1-])[OX2H]", 1),  # hydrogen sulfite
    ("[SX3](=O)([#6])[OX2H]", 1),  # sulfinic acids
    ("[N+](=O)([O-])[OX2H]", 1),  # nitric acid
    ("[OX2H]Cl(~O)(~O)~O", 1),  # perchloric acid
    ("[F,Cl,Br,I;H1]", 1),
    ("[NX3;H1]([SX4](=O)(=O))[SX4](=O)(=O)", 1),  # disulfonimides
    ("[NH]=[N+]=[N-]", 1),
    ("[PX4+;!H0]", 1),
    ("[H+]", 1),
    ("[nX3+;H1]", 1),
]
BASE = [(Chem.MolFromSmarts(text), count) for text, count in BASE]
AMIDE = [
    Chem.MolFromSmarts(text)
    for text in ("[NX3;!H0;+0][CX3]=[O,S]", "[NX3;!H0;+0][SX4](=O)=O", "[nX3;!H0;+0]", "[#7X3;!H0;+0]c=[O,S]")
]
AMIDINIUM = Chem.MolFromSmarts("[N+;!H0]=C[#7]")
AMMONIUM = Chem.MolFromSmarts("[N+;!H0]")
PHOSPHORIC = Chem.MolFromSmarts("[PX4](=O)")


def hydrogens_on(atom):
    return atom.GetTotalNumHs(includeNeighbors=True)


def groups(molecule):
    acid = weak = hydrogens = 0
    for atom in molecule.GetAtoms():
        count, charge, symbol = hydrogens_on(atom), atom.GetFormalCharge(), atom.GetSymbol()
        if symbol == "H" and charge == 1:
            acid, hydrogens = acid + 1, hydrogens + 1
        if not count or symbol == "H":
            continue
        triple = [b.GetOtherAtom(atom).GetSymbol() for b in atom.GetBonds() if b.GetBondTypeAsDouble() == 3]
        beside = [n for n in atom.GetNeighbors() if n.GetSymbol() == "N" and n.GetFormalCharge() == 1]
        if symbol in ("O", "S", "Se", "F", "Cl", "Br", "I") or symbol in ("N", "P") and charge > 0:
            acid += 1
        elif symbol == "C" and triple == ["N"] and atom.GetDegree() == 1 or symbol == "N" and charge == 0 and beside:
            acid += 1
        elif symbol in ("N", "P") and charge == 0 or symbol == "C" and charge == 0 and triple == ["C"]:
            weak += 1
        else:
            continue
        hydrogens += count
    return acid, weak, hydrogens


def base(molecule):
    plain = Chem.RemoveHs(molecule)
    total = sum(count * len(plain.GetSubstructMatches(pattern)) for pattern, count in BASE)
    amidinium = {match[0] for match in plain.GetSubstructMatches(AMIDINIUM)}
    total += len({match[0] for match in plain.GetSubstructMatches(AMMONIUM)} - amidinium)
    for phosphorus, _ in plain.GetSubstructMatches(PHOSPHORIC):
        oxygens = [n for n in plain.GetAtomWithIdx(phosphorus).GetNeighbors() if n.GetSymbol() == "O"]
        acidic = sum(hydrogens_on(o) > 0 for o in oxygens)
        ends = acidic + sum(o.GetFormalCharge() < 0 for o in oxygens)
        total += acidic - (ends == 3 and acidic > 0)
    return total


def amide(molecule):
    plain = Chem.RemoveHs(molecule)
    return len({match[0] for pattern in AMIDE for match in plain.GetSubstructMatches(pattern)})


def text():
    rows = []
    for table in ("curated.tsv", "imported.tsv"):
        lines = (HERE / table).read_text(encoding="utf-8").splitlines()
        header = lines[0].split("\t")
        for line in lines[1:]:
            row = dict(zip(header, line.split("\t")))
            counts = BY_HAND.get(row["name"])
            if counts is None and row["smiles"]:
                molecule = Chem.MolFromSmiles(row["smiles"])
                counts = (*groups(molecule), base(molecule), amide(molecule))
            if counts and any(counts):
                rows.append((row["name"], *map(str, counts), "structure"))
    rows.sort(key=lambda r: (r[0].lower(), r[0]))
    header = ("substance", "acid", "weak", "hydrogens", "base", "amide", "source")
    return "".join("\t".join(row) + "\n" for row in [header, *rows])


if __name__ == "__main__":
    (HERE / "protons.tsv").write_text(text(), encoding="utf-8", newline="\n")
