"""Write smiles.tsv and inchi.tsv: structures with their composition and mass by two libraries.

    python3 -m venv venv && venv/bin/pip install chemicals==1.5.2 rdkit==2026.9.1 openbabel-wheel==3.1.1.23
    venv/bin/python make_smiles.py

The structures are those of the two PubChem identifier files of `chemicals`. smiles.tsv holds them in
turn as the file writes them (Kekulé form), as RDKit writes them (aromatic; with every hydrogen as count
or as atom; with every bond; in random order with ring numbers from %10 on) and as Open Babel writes them (its own view
of what is aromatic). inchi.tsv holds the file's InChI, and some that RDKit makes: labelled atoms, and
non-standard ones with a reconnected or fixed-H layer.

A row stands only if RDKit and Open Babel read the written text alike, isotopes and charge included.
Columns: text; composition (Hill order of elements, nuclides in brackets); mass in g/mol by RDKit and by
Open Babel, both without regard for the electrons of a charge. Of an InChI from the file RDKit reads the
text and Open Babel the SMILES of the same row, so that the two ways share no reader; of one that is made
here both read the structure from which it is made, since RDKit's reader loses the tritium of a carbon
that carries deuterium too.
"""

import collections
import importlib.util
import random
import re
from pathlib import Path

from openbabel import openbabel
from rdkit import Chem, RDLogger
from rdkit.Chem import Descriptors

HERE = Path(__file__).resolve().parent
SMILES, INCHI = 6_500, 2_500
RDLogger.DisableLog("rdApp.*")
openbabel.obErrorLog.SetOutputLevel(0)
TO_MOLECULE = openbabel.OBConversion()
TO_MOLECULE.SetInFormat("smi")
TO_TEXT = openbabel.OBConversion()
TO_TEXT.SetInAndOutFormats("smi", "smi")


def rdkit_reads(molecule):
    counts = collections.Counter()
    charge = 0
    for atom in molecule.GetAtoms():
        counts[atom.GetSymbol(), atom.GetIsotope()] += 1
        counts["H", 0] += atom.GetTotalNumHs()
        charge += atom.GetFormalCharge()
    return composition(counts, charge), Descriptors.MolWt(molecule)


def rdkit_smiles(text):
    return Chem.MolFromSmiles(text)


def rdkit_reads_inchi(text):
    molecule = Chem.MolFromInchi(text, sanitize=False, removeHs=False)
    if molecule is None:
        return None
    molecule.UpdatePropertyCache(strict=False)
    return rdkit_reads(molecule)


def open_babel_reads(text):
    molecule = openbabel.OBMol()
    if not TO_MOLECULE.ReadString(molecule, text):
        return None
    counts = collections.Counter()
    for atom in openbabel.OBMolAtomIter(molecule):
        counts[openbabel.GetSymbol(atom.GetAtomicNum()), atom.GetIsotope()] += 1
        counts["H", 0] += atom.GetImplicitHCount()
    return composition(counts, molecule.GetTotalCharge()), molecule.GetMolWt()


def composition(counts, charge):
    counts = {key: count for key, count in counts.items() if count}
    if any(symbol in ("*", "Xx", "") for symbol, _ in counts):
        return None
    organic = any(symbol == "C" for symbol, _ in counts)
    order = {"C": 0, "H": 1} if organic else {}
    text = ""
    for symbol, isotope in sorted(counts, key=lambda key: (order.get(key[0], 2), key)):
        count = counts[symbol, isotope]
        text += (f"[{isotope}{symbol}]" if isotope else symbol) + (str(count) if count > 1 else "")
    if charge:
        text += f"^{abs(charge) if abs(charge) > 1 else ''}{'+' if charge > 0 else '-'}"
    return text


def open_babel_writes(text):
    molecule = openbabel.OBMol()
    TO_TEXT.ReadString(molecule, text)
    return TO_TEXT.WriteString(molecule).split()[0]


def forms(text, molecule, chance):
    yield "file", text
    yield "rdkit", Chem.MolToSmiles(molecule)
    yield "openbabel", open_babel_writes(text)
    yield "hydrogens", Chem.MolToSmiles(molecule, allHsExplicit=True)
    yield "bonds", Chem.MolToSmiles(molecule, allBondsExplicit=True)
    shuffled = list(range(molecule.GetNumAtoms()))
    chance.shuffle(shuffled)
    randomly = Chem.MolToSmiles(Chem.RenumberAtoms(molecule, shuffled), canonical=False)
    # Outside brackets a digit is a ring number.
    yield "percent", re.sub(r"\[[^]]*\]|(\d)", lambda m: f"%1{m[1]}" if m[1] else m[0], randomly) if "%" not in randomly else randomly
    yield "hydrogen atoms", Chem.MolToSmiles(Chem.AddHs(molecule))


def rows():
    folder = Path(next(iter(importlib.util.find_spec("chemicals").submodule_search_locations)))
    for name in ("chemical identifiers pubchem small.tsv", "chemical identifiers pubchem large.tsv"):
        for line in open(folder / "Identifiers" / name, encoding="utf-8"):
            cells = line.rstrip("\n").split("\t")
            if len(cells) > 5 and cells[4] and len(cells[4]) < 300:
                yield cells[4], cells[5]


KINDS = (
    (r"\[\d", 400),
    (r"\[(?![CNOHFIBPS]?[+@\]H-])[A-Z][a-z]?", 1200),
    (r"\.", 500),
    (r"[+-]", 800),
    (r"[@/\\]", 800),
    (r"%", 10),
    (r"[BPS]|\[(Se|As|Te|Si)", 600),
    (r"", 3500),
)


def pick(all_rows):
    """An even spread over the rows of each kind, the rare kinds first."""
    kinds = collections.defaultdict(list)
    for row in dict.fromkeys(all_rows):
        kinds[next(i for i, (pattern, _) in enumerate(KINDS) if re.search(pattern, row[0]))].append(row)
    for index, (_, room) in enumerate(KINDS):
        found = kinds[index]
        yield from found[:: max(1, len(found) // room)][:room]


def write(name, lines):
    with open(HERE / name, "w", encoding="utf-8") as out:
        out.write("text\tcomposition\trdkit\topenbabel\n")
        out.writelines("\t".join(line) + "\n" for line in lines)


def smiles_lines(picked, log):
    chance = random.Random(1)
    for index, (text, _) in enumerate(picked):
        molecule = rdkit_smiles(text)
        if molecule is None:
            log["rdkit refuses"] += 1
            continue
        written = list(forms(text, molecule, chance))
        kind, written = written[index % len(written)]
        again = rdkit_smiles(written)
        one = rdkit_reads(again) if again is not None else None
        two = open_babel_reads(written)
        if not one or not two or not one[0]:
            log[f"{kind}: not read"] += 1
        elif one[0] != two[0]:
            log[f"{kind}: disagree"] += 1
            print("disagree", kind, written, one[0], two[0])
        else:
            yield written, one[0], f"{one[1]:.4f}", f"{two[1]:.4f}"


def inchi_lines(picked, log):
    def line(inchi, smiles, kind, one):
        two = open_babel_reads(smiles)
        if not one or not two or not one[0]:
            log[f"{kind}: not read"] += 1
        elif one[0] != two[0]:
            log[f"{kind}: disagree"] += 1
            print("disagree", kind, inchi, smiles, one[0], two[0])
        else:
            yield inchi, one[0], f"{one[1]:.4f}", f"{two[1]:.4f}"

    for index, (smiles, inchi) in enumerate(picked):
        if not inchi:
            continue
        yield from line("InChI=1S/" + inchi, smiles, "inchi", rdkit_reads_inchi("InChI=1S/" + inchi))
        molecule = rdkit_smiles(smiles)
        if molecule is None:
            continue
        if index % 12 == 0:
            for atom in molecule.GetAtoms():
                label = {"C": 13, "N": 15, "O": 18, "Cl": 37, "Br": 79, "S": 34, "Sn": 120}.get(atom.GetSymbol())
                if label and atom.GetIdx() % 2 == 0:
                    atom.SetIsotope(label)
            yield from made(molecule, "", "labelled", line)
        elif index % 12 == 1:
            molecule = Chem.AddHs(molecule)
            for atom in molecule.GetAtoms():
                if atom.GetSymbol() == "H" and not atom.GetIsotope() and atom.GetIdx() % 3:
                    atom.SetIsotope(2 + atom.GetIdx() % 2)
            yield from made(molecule, "", "deuterated", line)
        elif index % 12 == 2:
            yield from made(molecule, "-FixedH", "fixed", line)
        elif re.search(r"\[(?![CNOHFIBPS]?[+@\]H-])[A-Z][a-z]?", smiles):
            yield from made(molecule, "-RecMet", "reconnected", line)


def made(molecule, options, kind, line):
    inchi = Chem.MolToInchi(molecule, options=options)
    if inchi and (kind not in ("reconnected", "fixed") or "/r" in inchi or "/f" in inchi):
        yield from line(inchi, Chem.MolToSmiles(molecule), kind, rdkit_reads(molecule))


def main():
    log = collections.Counter()
    picked = list(pick(rows()))
    lines = list(dict.fromkeys(smiles_lines(picked, log)))
    write("smiles.tsv", lines[:SMILES])
    # Every third of the same rows, and all that carry a label.
    some = [row for i, row in enumerate(picked) if i % 3 == 0 or "/i" in row[1]]
    more = list(dict.fromkeys(inchi_lines(some, log)))
    write("inchi.tsv", more[:INCHI])
    print(len(lines), "SMILES,", len(more), "InChI; left out:", dict(log))


main()
