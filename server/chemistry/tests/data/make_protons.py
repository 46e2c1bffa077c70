"""Write protons.tsv: hydrogens on other atoms than carbon, counted by a library that the table does not come from.

    python3 -m venv venv && venv/bin/pip install openbabel-wheel==3.1.1.23
    venv/bin/python make_protons.py

Open Babel reads the structures of curated.tsv and of every fourth row of imported.tsv and counts the hydrogens on
oxygen, sulfur, selenium and halogen, on nitrogen and phosphorus that bear no negative charge, and on the carbon of
terminal alkynes and hydrogen cyanide. Columns: cas; name; `hydrogens`.
"""

from pathlib import Path

from openbabel import openbabel

HERE = Path(__file__).resolve().parent
DATA = HERE.parent.parent / "data"
openbabel.obErrorLog.SetOutputLevel(0)
READER = openbabel.OBConversion()
READER.SetInFormat("smi")
ALWAYS = {8, 9, 16, 17, 34, 35, 53}


def hydrogens(smiles):
    molecule = openbabel.OBMol()
    if not READER.ReadString(molecule, smiles):
        return None
    total = 0
    for atom in openbabel.OBMolAtomIter(molecule):
        on = atom.GetImplicitHCount() + sum(n.GetAtomicNum() == 1 for n in openbabel.OBAtomAtomIter(atom))
        number = atom.GetAtomicNum()
        alkyne = number == 6 and atom.GetFormalCharge() == 0 and any(
            bond.GetBondOrder() == 3 for bond in openbabel.OBAtomBondIter(atom)
        )
        if number in ALWAYS or number in (7, 15) and atom.GetFormalCharge() >= 0 or alkyne:
            total += on
        elif number == 1 and atom.GetFormalCharge() == 1:
            total += 1
    return total


def main():
    rows = []
    for table, step in (("curated.tsv", 1), ("imported.tsv", 4)):
        lines = (DATA / table).read_text(encoding="utf-8").splitlines()
        header = lines[0].split("\t")
        for line in lines[1::step]:
            row = dict(zip(header, line.split("\t")))
            count = hydrogens(row["smiles"]) if row["smiles"] and row["cas"] else None
            if count is not None:
                rows.append((row["cas"], row["name"], str(count)))
    rows.sort()
    with open(HERE / "protons.tsv", "w", encoding="utf-8", newline="\n") as out:
        out.write("cas\tname\thydrogens\n")
        for row in rows:
            out.write("\t".join(row) + "\n")
    print(len(rows), "rows")


if __name__ == "__main__":
    main()
