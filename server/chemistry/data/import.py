"""Write imported.tsv, the large substance table, from the tables of the Python package `chemicals`.

    python3 -m venv venv && venv/bin/pip install chemicals==1.5.2
    venv/bin/python import.py

Needs Python 3.11 or later and nothing but the standard library and that package.
Reads curated.tsv beside it (whose substances are left out here) and writes imported.tsv
in the same columns, sorted by name; the same input gives the same bytes.
NOTICE.md says where the tables come from, on what terms, and which of them are left out.
"""

import csv
import gzip
import importlib.util
import math
import re
import sys
import unicodedata
import xml.etree.ElementTree as ElementTree
from collections import Counter, defaultdict
from decimal import Decimal, InvalidOperation
from pathlib import Path

HERE = Path(__file__).resolve().parent
VERSION = "1.5.2"
COLUMNS = (
    "name synonyms cas formula smiles state density density_at melting boiling class tags "
    "water_eq oxygen_eq strengths hazards sources"
).split()
ROOM = 20.0
POINT_SLACK = 3.0  # K; two sources have to agree within this before a point is shipped
DENSITY_SLACK = 0.015  # of the value; a correlation has to agree within this


def package_dir():
    """Folder of the package, found without running its code (which would load numpy)."""
    spec = importlib.util.find_spec("chemicals")
    if spec is None or not spec.submodule_search_locations:
        sys.exit("import.py: the package `chemicals` is not installed; see the head of this file")
    return Path(next(iter(spec.submodule_search_locations)))


def rows_of(path, delimiter="\t"):
    opener = gzip.open if path.suffix == ".gz" else open
    with opener(path, "rt", encoding="utf-8", newline="") as lines:
        yield from csv.DictReader(lines, delimiter=delimiter, quoting=csv.QUOTE_NONE)


def number(text):
    try:
        value = float(text)
    except (TypeError, ValueError):
        return None
    return value if math.isfinite(value) else None


def cas_ok(cas):
    """Check digit of a CAS registry number."""
    match = re.fullmatch(r"(\d{2,7})-(\d\d)-(\d)", cas)
    if not match:
        return False
    digits = (match[1] + match[2])[::-1]
    return sum(int(d) * (i + 1) for i, d in enumerate(digits)) % 10 == int(match[3])


def dashed(cas):
    """Registry number from the bare digits that some tables print."""
    return cas if "-" in cas else f"{cas[:-3]}-{cas[-3:-1]}-{cas[-1]}"


def fold(name):
    """Key under which two spellings of a name are the same."""
    return re.sub(r"[\s\-‐‑–—]", "", unicodedata.normalize("NFC", name).lower())


def decode_organic_density(text, melting, index_at):
    """Value in g/mL (as text), its temperature in °C or None, and a grade.

    The handbook prints the temperature as a superscript; in the package's table it has run into
    the digits and trailing zeros are lost, so that 1326.62 is 1.3266 g/mL at 20 °C and 784.525 is
    0.7845 at 25 °C.  How many digits follow the point tells most cases apart.
    """
    whole, _, digits = format(Decimal(text) / 1000, "f").partition(".")
    digits = digits.rstrip("0")
    count = len(digits)
    melt = melting is not None and melting > 35

    def value(places):
        return f"{whole}.{digits[:places].ljust(places, '0')}"

    tail = int(digits[-2:]) if count >= 2 else None
    printed_in_full = tail is not None and 11 <= tail <= 29 and tail not in (12, 20, 22)
    if count >= 7:
        return value(4), int(digits[4:]), "sure"
    if count == 6:
        if not melt:
            return value(4), tail, "sure" if 11 <= tail <= 30 else "likely"
        if index_at and index_at >= 100 and abs(int(digits[3:]) - index_at) < 1:
            return value(3), int(digits[3:]), "likely"
        if index_at and abs(tail * 10 - index_at) < 1 and tail < 26:
            return value(4), tail * 10, "likely"
        return value(4), tail, "likely" if melting - 5 <= tail else "unsure"
    if count == 5:
        last = int(digits[4])
        if last == 2:
            if digits[3:] in ("12", "22") and index_at and abs(index_at - tail) < 0.6:
                return value(3), tail, "likely"
            return value(4), 20, "likely" if digits[3:] in ("12", "22") else "sure"
        if printed_in_full:
            return value(3), tail, "likely" if melt else "sure"
        if not melt:
            unsure = digits[3] != "0" and last >= 5
            return value(4), 10 * last, "unsure" if unsure else "likely"
        return value(4), 100 if last == 1 and melting > 40 else 10 * last, "unsure"
    if count == 4:
        if digits[3] == "2":
            return value(3), 20, "likely"
        if printed_in_full:
            return value(2), tail, "likely" if tail in (15, 18, 25) and not melt else "unsure"
        return value(4), None, "unsure"
    if count == 3:
        return (value(2), 20, "likely") if digits[2] == "2" else (value(3), None, "likely")
    return value(max(count, 1)), None, "unsure"


# Superscript temperatures in the inorganic table, found by comparing the two tables; the other
# fractions there are plain four-decimal densities.
GLUED_INORGANIC = {
    "74-90-8", "75-15-0", "109-63-7", "506-77-4", "506-80-9", "7697-37-2", "7732-18-5",
    "7789-20-0", "14940-65-9", "13463-39-3",
}  # fmt: skip


def molar_density(kind, t, c):
    """DIPPR equations 100 and 105, the ones met; None for another or outside its domain."""
    a, b, third, d, e = (c + [0.0] * 5)[:5]
    try:
        if kind == 100:
            value = a + b * t + third * t**2 + d * t**3 + e * t**4
        elif kind == 105:
            value = a / b ** (1 + (1 - t / third) ** d)
        else:
            return None
    except (ValueError, ZeroDivisionError, OverflowError):
        return None
    return value if isinstance(value, float) else None


class Handbook:
    """What the tables say about a registry number; every getter returns (value, source key)."""

    def __init__(self, root):
        self.root = root
        misc, phase, dens = root / "Misc", root / "Phase Change", root / "Density"
        self.melting, self.boiling = defaultdict(dict), defaultdict(dict)
        self.organic, self.inorganic, self.names = {}, {}, {}
        for row in rows_of(misc / "Physical Constants of Organic Compounds.csv"):
            self.organic[row["CAS"]] = row
            self.names.setdefault(row["CAS"], row["Name"].strip())
            self._points("CRC", row["CAS"], row["Tm"], row["Tb"])
        for row in rows_of(misc / "Physical Constants of Inorganic Compounds.csv"):
            self.inorganic[row["CAS"]] = row
            self.names.setdefault(row["CAS"], row["Chemical"].strip())
            self._points("CRCI", row["CAS"], row["Tm"], row["Tb"])
        for row in rows_of(misc / "wikidata_properties.tsv"):
            self._points("WD", dashed(row["CAS"]), row["Tm"], row["Tb"])
        for row in rows_of(phase / "OpenNotebook Melting Points.tsv"):
            self._points("ON", row["CAS"], row["Tm"], None)
        for row in rows_of(phase / "Yaws Boiling Points.tsv"):
            self._points("YAWS", row["CAS"], None, row["Tb"])
        # A second opinion only: nothing from this table is ever written out.
        self.unshipped = {"WB"}
        for row in rows_of(misc / "webbook_constants.tsv"):
            self._points("WB", dashed(row["CAS"]), row["Tm"], row["Tb"])
        self.index_at = {}
        for row in rows_of(misc / "CRC Handbook Organic RI.csv"):
            kelvin = number(row["RIT"])
            if kelvin:
                self.index_at[row["CAS"]] = kelvin - 273.15
        self.curves = defaultdict(list)
        for row in rows_of(dens / "VDI PPDS Density of Saturated Liquids.tsv"):
            self.curves[row["CAS"]].append(("VDI", self._vdi(row)))
        for row in rows_of(dens / "Perry Parameters 105.tsv"):
            self.curves[row["CAS"]].append(("PERRY", self._perry(row)))
        self._chemsep(misc / "ChemSep8.32.xml")

    def _points(self, source, cas, melting, boiling):
        for table, text in ((self.melting, melting), (self.boiling, boiling)):
            kelvin = number(text)
            if kelvin:
                table[cas][source] = kelvin - 273.15

    @staticmethod
    def _vdi(row):
        tc, rho_c, a, b, c, d = (float(row[k]) for k in ("Tc", "rhoc", "A", "B", "C", "D"))

        def curve(t, _mass):
            tau = 1 - t / tc
            if tau <= 0:
                return None
            return (rho_c + a * tau**0.35 + b * tau ** (2 / 3) + c * tau + d * tau ** (4 / 3)) / 1000

        return curve

    @staticmethod
    def _perry(row):
        c = [float(row[f"C{i}"]) for i in (1, 2, 3, 4)]
        low, high = float(row["Tmin"]), float(row["Tmax"])

        def curve(t, mass):
            # A little below the melting point the curve still serves as a check.
            molar = molar_density(105, t, c) if low - 10 <= t <= high else None
            return molar * mass / 1e6 if molar else None

        return curve

    def _chemsep(self, path):
        for compound in ElementTree.parse(path).getroot().iter("compound"):
            def value(tag, compound=compound):
                node = compound.find(tag)
                return None if node is None else node.get("value")

            cas = value("CAS")
            if not cas:
                continue
            self._points("CS", cas, value("NormalMeltingPointTemperature"),
                         value("NormalBoilingPointTemperature"))
            node = compound.find("LiquidDensity")
            if node is None:
                continue
            parts = {child.tag: number(child.get("value")) for child in node}
            c = [parts[x] or 0.0 for x in "ABCDE" if x in parts]
            kind, low = int(parts.get("eqno") or 0), parts.get("Tmin") or 0.0

            def curve(t, mass, kind=kind, c=c, low=low):
                molar = molar_density(kind, t, c) if t >= low - 10 else None
                return molar * mass / 1000 if molar else None

            self.curves[cas].append(("CS", curve))

    def correlations(self, cas, celsius, molar_mass):
        """What the liquid-density curves of this substance give at a temperature, in g/mL."""
        values = [(key, curve(celsius + 273.15, molar_mass)) for key, curve in self.curves.get(cas, ())]
        return [(key, value) for key, value in values if value and 0.2 < value < 6]

    def point(self, table, cas):
        """A melting or boiling point in °C that two sources agree on, else None."""
        values = table.get(cas, {})
        for key in ("CRC", "CRCI", "CS", "WD", "YAWS", "ON"):
            if key not in values:
                continue
            for other, value in values.items():
                same_book = {key, other} <= {"CRC", "CRCI"}
                if other != key and not same_book and abs(value - values[key]) <= POINT_SLACK:
                    return values[key], f"{key}+{other}"
        return None

    def points(self, cas):
        melting, boiling = self.point(self.melting, cas), self.point(self.boiling, cas)
        if melting and boiling and melting[0] >= boiling[0]:
            return None, None
        return melting, boiling

    def density(self, cas, molar_mass):
        """(text, °C text, source key) of a density that stands every check, else None."""
        row = self.organic.get(cas)
        if row and row["rho"]:
            known = self.melting.get(cas, {}).get("CRC")
            try:
                text, at, grade = decode_organic_density(row["rho"], known, self.index_at.get(cas))
            except InvalidOperation:
                return None
            if grade == "unsure" or not 0.3 < float(text) < 6:
                return None
            key = "CRC"
        else:
            row = self.inorganic.get(cas)
            if not row or not row["rho"]:
                return None
            raw = Decimal(row["rho"])
            if raw < 20:  # gas, g/L
                return None
            if cas in GLUED_INORGANIC:
                text, at, _ = decode_organic_density(row["rho"], None, None)
            else:
                text, at = format((raw / 1000).normalize(), "f"), None
            key = "CRCI"
        found = self.correlations(cas, ROOM if at is None else at, molar_mass)
        if found:
            nearest = min(found, key=lambda kv: abs(kv[1] / float(text) - 1))
            if abs(nearest[1] / float(text) - 1) > DENSITY_SLACK:
                return None
            key += "+" + nearest[0]
        return text, "" if at is None else str(at), key


def point_text(value):
    text = f"{value:.1f}"
    return "0.0" if text == "-0.0" else text


# --- structures -----------------------------------------------------------------------------

ATOM = re.compile(r"\[(\d*)([A-Za-z][a-z]?)(@*)(H\d*)?([+-]+\d*|[+-]\d+)?\]|(Cl|Br|[BCNOPSFI])")
BONDS = {"-": 1, "=": 2, "#": 3, "$": 4, "/": 1, "\\": 1, ":": 1}
VALENCE = {"H": (1,), "C": (4,), "N": (3, 5), "O": (2,), "F": (1,), "Cl": (1,), "Br": (1,), "I": (1,),
           "B": (3,), "P": (3, 5), "S": (2, 4, 6)}  # fmt: skip
FULL = {"B": 3, "Al": 3, "Ga": 3, "In": 3, "Si": 4, "Ge": 4, "Sn": 4, "Pb": 4, "As": 3, "Sb": 3}


class Atom:
    def __init__(self, symbol, hydrogens, charge):
        self.symbol, self.hydrogens, self.charge = symbol, hydrogens, charge
        self.bonds = []  # (neighbour, order)

    def total(self):
        return sum(order for _, order in self.bonds)

    def near(self, symbol, order):
        return [a for a, o in self.bonds if a.symbol == symbol and o == order]


def read_smiles(text):
    """Atoms of a SMILES without aromatic letters, which is how the identifier files write them."""
    atoms, stack, rings = [], [], {}
    last, order, i = None, 1, 0

    def bond(a, b, k):
        a.bonds.append((b, k))
        b.bonds.append((a, k))

    while i < len(text):
        c = text[i]
        if c in BONDS:
            order, i = BONDS[c], i + 1
        elif c == "(":
            stack.append(last)
            i += 1
        elif c == ")":
            last, i = stack.pop(), i + 1
        elif c == ".":
            last, order, i = None, 1, i + 1
        elif c.isdigit() or c == "%":
            label, i = (text[i + 1 : i + 3], i + 3) if c == "%" else (c, i + 1)
            if label in rings:
                other, opened = rings.pop(label)
                bond(other, last, max(order, opened))
            else:
                rings[label] = (last, order)
            order = 1
        else:
            match = ATOM.match(text, i)
            if not match:
                return None
            if match[6]:
                atom = Atom(match[6], None, 0)
            else:
                h = int(match[4][1:] or 1) if match[4] else 0
                sign = match[5] or ""
                size = int(sign.strip("+-") or len(sign) or 0) if sign else 0
                atom = Atom(match[2], h, -size if sign.startswith("-") else size)
            atoms.append(atom)
            if last is not None:
                bond(last, atom, order)
            last, order, i = atom, 1, match.end()
    if rings or stack:
        return None
    for atom in atoms:
        if atom.hydrogens is None:
            room = [v for v in VALENCE[atom.symbol] if v >= atom.total()]
            atom.hydrogens = (room[0] if room else atom.total()) - atom.total()
    return atoms


def atom_counts(formula):
    counts = Counter()
    for symbol, n in re.findall(r"([A-Z][a-z]?)(\d*)", formula):
        counts[symbol] += int(n or 1)
    return counts


def sound(atoms, formula):
    """False where the identifier file has lost hydrogens.

    It writes hydrides of boron, silicon, tin and their like as bare radicals, so that its formula
    of triethylsilane is one hydrogen short: every such atom has to have its full valence.
    """
    counts = Counter(a.symbol for a in atoms)
    counts["H"] += sum(a.hydrogens for a in atoms)
    wanted = atom_counts(formula)
    wanted["H"] += wanted.pop("D", 0) + wanted.pop("T", 0)
    if +counts != +wanted:
        return False
    for atom in atoms:
        if atom.symbol in FULL and atom.charge == 0 and atom.bonds:
            if atom.total() + atom.hydrogens < FULL[atom.symbol]:
                return False
        if atom.symbol in FULL and not atom.bonds and atom.charge == 0 and len(atoms) > 1:
            return False
        # A bare carbon, nitrogen or oxygen in brackets is a radical, drawn where a bond to a metal is meant.
        if atom.symbol in ("C", "N", "O") and atom.charge == 0:
            if atom.total() + atom.hydrogens not in VALENCE[atom.symbol]:
                return False
    return True


def classify(atoms, counts):
    """Class, tags and equivalents lost per water, only where the structure leaves no doubt."""
    tags = set()
    if any(a.symbol in ("F", "Cl", "Br", "I") and a.charge == 0 and a.near("C", 1) for a in atoms):
        tags.add("halogenated")
    if any(a.symbol in ("O", "S") and a.charge == 0 and a.hydrogens for a in atoms):
        tags.add("protic")
    if any(a.charge for a in atoms if not (a.symbol in ("N", "O") and a.bonds)):
        return "", tags, ""
    metals = set(counts) - set("H D C N O F P S Cl Br I Si B".split())
    if metals or any(a.symbol == "C" and not a.bonds and a.hydrogens < 4 for a in atoms):
        return "", tags, ""

    def carbonyl(atom):
        return atom.symbol == "C" and len(atom.near("O", 2)) == 1 and len(atom.bonds) + atom.hydrogens == 3

    kinds = set()
    for a in atoms:
        if carbonyl(a):
            chlorine, oxygen = a.near("Cl", 1), a.near("O", 1)
            if chlorine and (a.near("C", 1) or a.hydrogens):
                kinds.add("acyl-chloride")
            elif chlorine and oxygen:
                kinds.add("chloroformate")
            elif len(oxygen) == 1 and (a.near("C", 1) or a.hydrogens):
                o = oxygen[0]
                others = [b for b, _ in o.bonds if b is not a]
                if o.charge == 0 and o.hydrogens:
                    kinds.add("acid")
                elif len(others) == 1 and carbonyl(others[0]) and others[0].near("C", 1):
                    kinds.add("anhydride")
                elif len(others) == 1 and others[0].symbol == "C" and not others[0].near("O", 2):
                    kinds.add("ester")
                else:
                    kinds.add("?")
            elif len(a.near("C", 1)) == 2 and not oxygen:
                kinds.add("ketone")
            elif a.hydrogens and len(a.near("C", 1)) + a.hydrogens == 2:
                kinds.add("aldehyde")
            else:
                kinds.add("?")
        elif a.symbol == "C" and a.near("O", 2):
            if len(a.near("O", 2)) == 1 and len(a.near("N", 2)) == 1 and a.near("N", 2)[0].near("C", 1):
                kinds.add("isocyanate")
            else:
                kinds.add("?")
        elif a.symbol == "C" and a.near("N", 3):
            kinds.add("nitrile" if a.near("C", 1) else "?")
        elif a.symbol == "O":
            if a.charge:
                kinds.add("?")
            elif a.near("O", 1):
                kinds.add("peroxide")
            elif a.near("Si", 1) or len(a.near("C", 1)) + a.hydrogens + len(a.near("C", 2)) * 2 != 2:
                kinds.add("?" if not a.near("S", 2) else "S=O")
            elif a.near("C", 2) or any(carbonyl(b) for b in a.near("C", 1)):
                pass
            elif a.hydrogens:
                carbon = a.near("C", 1)
                saturated = carbon and carbon[0].total() == len(carbon[0].bonds)
                kinds.add("alcohol" if saturated else "enol")
            else:
                kinds.add("ether")
        elif a.symbol == "N":
            carbons = a.near("C", 1)
            if a.charge == 0 and len(carbons) == len(a.bonds) and a.total() + a.hydrogens == 3 and carbons:
                # Beside one benzene ring it is an aniline; other unsaturation makes an amide, enamine or pyrrole.
                flat = [b for b in carbons if b.total() > len(b.bonds)]
                kinds.add("amine" if not flat or len(flat) == 1 and ring_of_benzene(flat[0]) else "?")
            elif a.near("C", 3) or a.near("C", 2) and a.near("C", 2)[0].near("O", 2):
                pass
            else:
                kinds.add("?")
        elif a.symbol == "S":
            if len(a.near("O", 2)) == 2 and a.near("Cl", 1) and a.near("C", 1):
                kinds.add("sulfonyl-chloride")
            elif a.hydrogens == 1 and a.near("C", 1) and a.charge == 0:
                kinds.add("thiol")
            else:
                kinds.add("?")
        elif a.symbol == "Si":
            kinds.add("silyl-chloride" if a.near("Cl", 1) and a.near("C", 1) else "?")
        elif a.symbol in ("P", "B"):
            kinds.add("?")
        elif a.symbol in ("F", "Cl", "Br", "I") and a.near("C", 1) and not carbonyl(a.near("C", 1)[0]):
            carbon = a.near("C", 1)[0]
            if a.symbol == "F":
                kinds.add("fluoro")
            elif carbon.total() == len(carbon.bonds):
                kinds.add("alkyl-halide")
            elif carbon.near("C", 2) and ring_of_benzene(carbon):
                kinds.add("aryl-halide")
            else:
                kinds.add("?")
    water = {"acyl-chloride", "chloroformate", "sulfonyl-chloride", "isocyanate", "anhydride", "silyl-chloride"}
    for kind in ("acyl-chloride", "sulfonyl-chloride", "chloroformate", "isocyanate", "silyl-chloride"):
        if kind in kinds:
            return kind, tags | {"moisture-sensitive"}, "1"
    if "peroxide" in kinds:
        return "peroxide", tags, ""
    if kinds == {"anhydride"}:
        return "anhydride", tags | {"moisture-sensitive"}, "1"
    if "thiol" in kinds and kinds <= {"thiol", "ether", "alcohol", "fluoro"}:
        return "thiol", tags, ""
    if not kinds and set(counts) <= {"C", "H", "D"} and counts["C"]:
        return "hydrocarbon", tags, ""
    if kinds == {"acid"}:
        return "acid", tags, ""
    if len(kinds) == 1 and (kind := kinds.pop()) in CERTAIN:
        return kind, tags, "1" if kind in water else ""
    return "", tags, ""


CERTAIN = {"alcohol", "ketone", "aldehyde", "ester", "ether", "amine", "nitrile", "alkyl-halide", "aryl-halide"}


def ring_of_benzene(start):
    """True if this carbon is in a six-ring of carbons with three alternating double bonds."""

    def walk(path, doubles):
        if len(path) == 6:
            return any(a is start for a, _ in path[-1].bonds) and doubles in (2, 3)
        for atom, order in path[-1].bonds:
            if atom.symbol == "C" and order in (1, 2) and atom not in path and atom.total() > len(atom.bonds):
                if walk(path + [atom], doubles + (order == 2)):
                    return True
        return False

    return walk([start], 0)


# --- names ------------------------------------------------------------------------------------

REGISTER = re.compile(
    r"agn-?pc.*|to_.*|[a-z]{1,3}\d[a-z0-9]{2,}|\d{2,7}-\d\d-\d|[a-z]{1,8}[-_ .]?\d{3,}.*|.*\b(unii|nsc|einecs|hsdb|mfcd|chebi|chembl|ccris|ai3|brn|ec|un|caswell|epa)\b.*"
    r"|.*(\$|%|;|\||\?|=|_|\bci\b|\(\dci\)|\[|:|>|<|\^|~|\d{5,}).*|.*(acid|ester|salt|compd|compound|usp|inn|grade|reagent|solution|ban|jan|anhydrous|pure|tech|standard|mixture|isomer|min\.).*\)$"
)
CLUMSY = re.compile(r"(chlor|brom|fluor|iod)anyl|azanyl|oxidanyl|sulfanylidene|oxidanylidene|sulfanyl\b.*anyl|lambda")


MULTIPLIER = {"di": 2, "tri": 3, "tetra": 4, "penta": 5, "hexa": 6}


def damaged(name):
    """True for a name that has lost locants, as 2,6-trichlorophenol, or signs, as ()-menthol."""
    for locants, multiplier in re.findall(r"(\d+(?:,\d+)+)-(di|tri|tetra|penta|hexa)", name):
        if locants.count(",") + 1 != MULTIPLIER[multiplier]:
            return True
    return "()" in name or bool(re.search(r"(di|tri)\d", name))


def usable(name):
    folded = fold(name)
    return (
        5 <= len(folded) <= 48
        and bool(re.search(r"[a-z]{3}", folded))
        and not REGISTER.fullmatch(name)
        and not CLUMSY.search(name)
        and not damaged(name)
        and ", " not in name
        and name.isprintable()
        and name.isascii()
        and name.count("(") == name.count(")")
        and "  " not in name
        and name[-1] not in "-,.'"
        and name[0] not in "-,.'"
        and not re.search(r" \([^)]*\)$|,\d[^,]*-$|[a-z]{14}-[a-z]{10}|[a-z]{3},\d|[.\\]", name)
    )


def written(name):
    """The lower-case name of the file with the capitals that chemistry demands."""
    # A lone n- may be normal, o- ortho and s- secondary: only a run of n's is surely nitrogen.
    name = re.sub(r"(?<![a-z])n'*(,n'*)+(?=-)", lambda m: m[0].upper(), name)
    name = re.sub(r"(?<![a-z0-9])(\d+[a-z]?)h(?=[-,)])", r"\1H", name)
    name = re.sub(r"\((\d*[a-z]?[rsez](,\d*[a-z]?[rsez])*)\)", lambda m: "(" + re.sub(r"[rsez](?=,|$)", lambda k: k[0].upper(), m[1]) + ")", name)
    return re.sub(r"(?<![a-z0-9])(dl?|l)-(?=[a-z])", lambda m: m[1].upper() + "-", name)


def plain_case(name):
    """Handbook names start with a capital; inside a line of text they do not."""
    return re.sub(r"(?<![A-Za-z])([A-Z])(?=[a-z])", lambda m: m[1].lower(), name)


# --- the table --------------------------------------------------------------------------------


def weights():
    with open(HERE / "elements.tsv", encoding="utf-8") as lines:
        found = {r["symbol"]: number(r["atomic_weight"]) for r in csv.DictReader(lines, delimiter="\t")}
    found.update(D=2.0141017779, T=3.0160492820)
    return {symbol: value for symbol, value in found.items() if value}


def curated():
    numbers, names = set(), set()
    with open(HERE / "curated.tsv", encoding="utf-8") as lines:
        for row in csv.DictReader(lines, delimiter="\t", quoting=csv.QUOTE_NONE):
            numbers.add(row["cas"])
            names.update(fold(word) for word in [row["name"], *row["synonyms"].split(" | ")])
    return numbers, names - {""}


def identifiers(root):
    """(cas, formula, smiles, names, common) by registry number, the computed name last."""
    seen = set()
    for part in ("small", "large"):
        path = root / "Identifiers" / f"chemical identifiers pubchem {part}.tsv"
        with open(path, encoding="utf-8") as lines:
            for line in lines:
                cells = line.rstrip("\n").split("\t")
                if cells[1] not in seen:
                    seen.add(cells[1])
                    yield cells[1], cells[2], cells[4], cells[8:] + cells[7:8], part == "small"


# Relative atomic volumes of an additive estimate of liquid density, M/5V in g/mL (G. S. Girolami,
# J. Chem. Educ. 1994, 71, 962; quoted from memory).  Of 409 organic liquids whose density a
# correlation confirms all but 16, the smallest molecules and the polyols, have between 0.88 and
# 1.27 of it, so that a handbook value outside which nothing confirms is taken for a slip there.
VOLUME = {1: "H D T", 2: "He Li Be B C N O F Ne", 4: "Na Mg Al Si P S Cl Ar",
          5: "K Ca Sc Ti V Cr Mn Fe Co Ni Cu Zn Ga Ge As Se Br Kr",
          7.5: "Rb Sr Y Zr Nb Mo Ru Rh Pd Ag Cd In Sn Sb Te I Xe"}  # fmt: skip
VOLUME_OF = {symbol: volume for volume, symbols in VOLUME.items() for symbol in symbols.split()}


def plausible(density, counts, molar_mass):
    estimate = molar_mass / 5 / sum(VOLUME_OF.get(symbol, 9) * n for symbol, n in counts.items())
    return 0.88 <= density / estimate <= 1.27


def state_of(melting, boiling):
    if boiling and boiling[0] <= 15:
        return "g"
    if melting and melting[0] >= 25:
        return "s"
    if melting and boiling and melting[0] <= 15 and boiling[0] >= 25:
        return "l"
    return ""


def substance(book, known_weights, cas, formula, smiles, words):
    """One row without its synonyms settled, or None if something about it cannot be trusted."""
    if not cas_ok(cas) or not re.fullmatch(r"([A-Z][a-z]?\d*)+", formula):
        return None
    counts = atom_counts(formula)
    if not set(counts) <= set(known_weights) or sum(counts.values()) > 90:
        return None
    atoms = read_smiles(smiles) if smiles else None
    if atoms is None or not sound(atoms, formula):
        return None
    molar_mass = sum(known_weights[s] * n for s, n in counts.items())
    melting, boiling = book.points(cas)
    state = state_of(melting, boiling)
    density = None if state in ("s", "g") else book.density(cas, molar_mass)
    maybe_solid = state != "l" and any(value > 25 for value in book.melting.get(cas, {}).values())
    if density and (maybe_solid or (density[1] and not 0 <= int(density[1]) <= 40)):
        density = None
    if density and state != "l" and (cas not in book.organic or not book.boiling.get(cas)):
        density = None  # nothing says that it is a liquid
    if density and "+" not in density[2] and not plausible(float(density[0]), counts, molar_mass):
        density = None
    if density and len(density[0].replace(".", "").lstrip("0")) < 3:  # too coarse to measure out by
        density = None
    if not (melting or boiling or density):
        return None
    sources = {"formula": "PUBCHEM"}
    kind, tags, water = classify(atoms, counts)
    row = dict.fromkeys(COLUMNS, "")
    usual = all(a.total() == 1 for a in atoms if a.symbol in ("F", "Cl", "Br", "I") and a.bonds)
    row.update(cas=cas, formula=formula, smiles=smiles if usual and len(smiles) <= 70 else "", state=state)
    if density:
        row["density"], row["density_at"], sources["density"] = density
    for cell, found in (("melting", melting), ("boiling", boiling)):
        if found:
            row[cell], sources[cell] = point_text(found[0]), found[1]
    row["class"], row["water_eq"], row["tags"] = kind, water, " ".join(sorted(tags))
    if kind:
        sources["class"] = "structure"
    row["sources"] = " ".join(f"{cell}={key}" for cell, key in sources.items())
    good = list(dict.fromkeys(word for word in words if usable(word)))
    handbook = book.names.get(cas, "")
    folded = {fold(word) for word in words}
    if handbook and fold(handbook) in folded and "," + " " not in handbook:
        name = plain_case(handbook)
    elif good:
        name = written(good[0])
    elif handbook:
        name = plain_case(handbook)
    else:
        return None
    row["name"] = name
    row["synonyms"] = [w for w in map(written, good) if fold(w) != fold(name)]
    return row


def main():
    root = package_dir()
    book, known_weights = Handbook(root), weights()
    taken_numbers, taken_names = curated()
    rows = []
    for cas, formula, smiles, words, common in identifiers(root):
        if cas in taken_numbers:
            continue
        if not (common or cas in book.organic or cas in book.inorganic):
            continue
        row = substance(book, known_weights, cas, formula, smiles, words)
        if row and fold(row["name"]) not in taken_names:
            rows.append(row)
    rows.sort(key=lambda r: (r["name"].lower(), r["name"], r["cas"]))
    names = Counter(fold(row["name"]) for row in rows)
    owners = Counter(fold(word) for row in rows for word in row["synonyms"])
    for row in rows:
        kept = []
        for word in row["synonyms"]:
            key = fold(word)
            if owners[key] == 1 and key not in names and key not in taken_names:
                kept.append(word)
        row["synonyms"] = " | ".join(kept[:3])
    with open(HERE / "imported.tsv", "w", encoding="utf-8", newline="\n") as out:
        out.write("\t".join(COLUMNS) + "\n")
        for row in rows:
            out.write("\t".join(row[c] for c in COLUMNS) + "\n")
    print(len(rows), "rows")


if __name__ == "__main__":
    main()
