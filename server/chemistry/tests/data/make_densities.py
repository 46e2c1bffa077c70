"""Write densities.tsv and points.tsv: the substance tables against sources that they were not taken from.

    python3 -m venv venv && venv/bin/pip install chemicals==1.5.2 pandas
    venv/bin/python make_densities.py

densities.tsv: every density of curated.tsv and imported.tsv for which the package has a correlation of the liquid
that reaches to its temperature (20 °C where the table gives none).  Columns: cas; name; `density`, g/mL, and
`celsius`, as in the table; `correlation`, g/mL, by the package's own functions; `source`: VDI (VDI Heat Atlas,
volume_VDI_PPDS), PERRY (Perry's Handbook, DIPPR equation 105) or CS (ChemSep 8.32, DIPPR equations 100, 105 and 116).
A substance has a row for each of them.  A correlation is followed at most 12 K below its range or the melting point.

points.tsv: melting and boiling points of curated.tsv beside those of a source other than the one that the table names
first: ChemSep 8.32 (CS), Wikidata (WD), Open Notebook Science (ON), Yaws (YAWS), the first of these that has it.
Columns: cas; name; property; `celsius` as in the table; `other`, °C; source.
"""

import csv
import xml.etree.ElementTree as ElementTree
from pathlib import Path

import chemicals
from chemicals import dippr, elements, volume

HERE = Path(__file__).resolve().parent
DATA = HERE.parent.parent / "data"
PACKAGE = Path(chemicals.__file__).parent
ZERO = 273.15
SLACK = 12.0  # K below the range of a correlation


def table(path, delimiter="\t"):
    with open(path, encoding="utf-8", newline="") as lines:
        yield from csv.DictReader(lines, delimiter=delimiter, quoting=csv.QUOTE_NONE)


def dashed(cas):
    return cas if "-" in cas else f"{cas[:-3]}-{cas[-3:-1]}-{cas[-1]}"


def number(text):
    try:
        return float(text)
    except (TypeError, ValueError):
        return None


def chemsep():
    for compound in ElementTree.parse(PACKAGE / "Misc/ChemSep8.32.xml").getroot().iter("compound"):
        cas = compound.find("CAS")
        if cas is not None and cas.get("value"):
            yield cas.get("value"), compound


def chemsep_value(compound, tag):
    node = compound.find(tag)
    return None if node is None else number(node.get("value"))


CHEMSEP = dict(chemsep())


def by_vdi(cas, kelvin, _mass):
    data = volume.rho_data_VDI_PPDS_2
    if cas not in data.index:
        return None
    row = data.loc[cas]
    if kelvin >= row["Tc"]:
        return None
    return volume.volume_VDI_PPDS(kelvin, row["Tc"], row["rhoc"], row["A"], row["B"], row["C"], row["D"]) / 1000


def by_perry(cas, kelvin, mass):
    data = volume.rho_data_Perry_8E_105_l
    if cas not in data.index:
        return None
    row = data.loc[cas]
    if not row["Tmin"] - SLACK <= kelvin < min(row["Tmax"], row["C3"]):
        return None
    return dippr.EQ105(kelvin, row["C1"], row["C2"], row["C3"], row["C4"]) * mass / 1e6


def by_chemsep(cas, kelvin, mass):
    node = CHEMSEP[cas].find("LiquidDensity") if cas in CHEMSEP else None
    if node is None:
        return None
    value = {child.tag: number(child.get("value")) for child in node}
    low, high = value.get("Tmin") or 0.0, value.get("Tmax") or 1e9
    if not low - SLACK <= kelvin < high:
        return None
    a, b, c, d, e = (value.get(letter) or 0.0 for letter in "ABCDE")
    kind = int(value.get("eqno") or 0)
    if kind == 105:
        molar = dippr.EQ105(kelvin, a, b, c, d)
    elif kind == 100:
        molar = dippr.EQ100(kelvin, a, b, c, d, e)
    elif kind == 116:
        critical = chemsep_value(CHEMSEP[cas], "CriticalTemperature")
        molar = dippr.EQ116(kelvin, critical, a, b, c, d, e)
    else:
        return None
    return molar * mass / 1000


CORRELATIONS = {"VDI": by_vdi, "PERRY": by_perry, "CS": by_chemsep}


def molar_mass(formula):
    """g/mol; None for deuterium and for what is written in parts."""
    try:
        return elements.molecular_weight(elements.nested_formula_parser(formula))
    except Exception:  # the package raises many kinds
        return None


def densities(rows):
    for row in rows:
        if not row["density"] or not row["cas"] or row["state"] == "g":
            continue
        if row["state"] == "s" and not (row["density_at"] and row["melting"]):
            continue
        celsius = number(row["density_at"]) if row["density_at"] else 20.0
        melting, mass = number(row["melting"]), molar_mass(row["formula"])
        if mass is None or melting is not None and celsius < melting - SLACK:
            continue
        own = dict(entry.split("=", 1) for entry in row["sources"].split())["density"].split("+")[0]
        for source, correlation in CORRELATIONS.items():
            if source == own:
                continue
            value = correlation(row["cas"], celsius + ZERO, mass)
            if value:
                yield row["cas"], row["name"], row["density"], row["density_at"], f"{value:.4f}", source


def other_points():
    """(cas, property) -> [(source, °C)], in the order in which they are preferred."""
    points = {}

    def add(source, cas, **values):
        for name, kelvin in values.items():
            if number(kelvin):
                points.setdefault((cas, name), []).append((source, number(kelvin) - ZERO))

    for cas, compound in CHEMSEP.items():
        add("CS", cas, melting=chemsep_value(compound, "NormalMeltingPointTemperature"),
            boiling=chemsep_value(compound, "NormalBoilingPointTemperature"))  # fmt: skip
    for row in table(PACKAGE / "Misc/wikidata_properties.tsv"):
        add("WD", dashed(row["CAS"]), melting=row["Tm"], boiling=row["Tb"])
    for row in table(PACKAGE / "Phase Change/OpenNotebook Melting Points.tsv"):
        add("ON", row["CAS"], melting=row["Tm"])
    for row in table(PACKAGE / "Phase Change/Yaws Boiling Points.tsv"):
        add("YAWS", row["CAS"], boiling=row["Tb"])
    return points


def points(rows):
    others = other_points()
    for row in rows:
        sources = dict(entry.split("=", 1) for entry in row["sources"].split())
        for name in ("melting", "boiling"):
            first = sources.get(name, "").split("+")[0]
            found = [entry for entry in others.get((row["cas"], name), []) if entry[0] != first]
            if row[name] and found:
                source, value = found[0]
                yield row["cas"], row["name"], name, row[name], f"{value:.1f}", source


def write(name, header, rows):
    with open(HERE / name, "w", encoding="utf-8", newline="") as out:
        for row in [header, *sorted(rows)]:
            out.write("\t".join(row) + "\n")


curated, imported = list(table(DATA / "curated.tsv")), list(table(DATA / "imported.tsv"))
write("densities.tsv", ("cas", "name", "density", "celsius", "correlation", "source"), densities(curated + imported))
write("points.tsv", ("cas", "name", "property", "celsius", "other", "source"), points(curated))
