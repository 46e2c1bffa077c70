//! Checks the tables in `data/` and writes them as sorted text that the library searches in place.
//!
//! A fault in a table ends the build with the file, the line and what is wrong.

#[path = "src/cas.rs"]
#[allow(unreachable_pub)]
mod cas;
#[path = "src/class.rs"]
#[allow(dead_code, unreachable_pub)]
mod class;
#[path = "src/fold.rs"]
#[allow(dead_code, unreachable_pub)]
mod fold;
#[path = "src/formula/parse.rs"]
#[allow(dead_code, unreachable_pub)]
mod parse;

use std::collections::{BTreeMap, BTreeSet, HashMap};
use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::{env, fs};

const SUBSTANCE_COLUMNS: &[&str] = &[
    "name",
    "synonyms",
    "cas",
    "formula",
    "smiles",
    "state",
    "density",
    "density_at",
    "melting",
    "boiling",
    "class",
    "tags",
    "water_eq",
    "oxygen_eq",
    "strengths",
    "hazards",
    "sources",
];
const SOLUTION_COLUMNS: &[&str] = &[
    "solute", "carrier", "strength", "molarity", "density", "at", "names", "source",
];
const ELEMENT_COLUMNS: &[&str] = &[
    "symbol",
    "name",
    "atomic_number",
    "atomic_weight",
    "uncertainty",
    "interval_low",
    "interval_high",
];
const PROTON_COLUMNS: &[&str] = &[
    "substance",
    "acid",
    "weak",
    "hydrogens",
    "base",
    "amide",
    "source",
];
const GAS_COLUMNS: &[&str] = &["substance", "agent", "gases", "equation", "source"];
const LIMIT_COLUMNS: &[&str] = &["substance", "when", "with", "celsius", "effect", "source"];
const STABILISER_COLUMNS: &[&str] = &["substance", "stabiliser", "ppm", "source"];
const REACTIVITY_COLUMNS: &[&str] = &["substance", "property", "value", "source"];
const SOURCE_COLUMNS: &[&str] = &["key", "citation", "seen"];

fn main() -> ExitCode {
    match run() {
        Ok(()) => ExitCode::SUCCESS,
        Err(fault) => {
            eprintln!("{fault}");
            ExitCode::FAILURE
        }
    }
}

type Outcome<T> = Result<T, String>;

fn run() -> Outcome<()> {
    let manifest = env::var("CARGO_MANIFEST_DIR").map_err(|e| e.to_string())?;
    let data = Path::new(&manifest).join("data");
    let out = PathBuf::from(env::var("OUT_DIR").map_err(|e| e.to_string())?);
    println!("cargo:rerun-if-changed=build.rs");
    println!("cargo:rerun-if-changed={}", data.display());
    for shared in ["cas.rs", "class.rs", "fold.rs", "formula/parse.rs"] {
        println!("cargo:rerun-if-changed=src/{shared}");
    }

    let elements = Table::read(&data, "elements.tsv", ELEMENT_COLUMNS)?;
    let symbols = write_elements(&elements, &out)?;
    let element = |symbol: &str| symbols.get(symbol).copied();

    let sources = Table::read(&data, "sources.tsv", SOURCE_COLUMNS)?;
    let keys: BTreeSet<&str> = sources.rows.iter().map(|row| row.get(0)).collect();
    let mut lines: Vec<String> = sources.rows.iter().map(Row::line).collect();
    lines.sort();
    write(&out, "sources.tsv", lines.concat())?;

    let curated = Table::read(&data, "curated.tsv", SUBSTANCE_COLUMNS)?;
    let imported = Table::read(&data, "imported.tsv", SUBSTANCE_COLUMNS)?;
    for table in [&curated, &imported] {
        for row in &table.rows {
            check_substance(row, &element, &keys).map_err(|what| table.fault(row, &what))?;
        }
    }
    let numbers = write_substances(&curated, &imported, &element, &out)?;

    let solutions = Table::read(&data, "solutions.tsv", SOLUTION_COLUMNS)?;
    write_solutions(&solutions, &numbers, &keys, &out)?;

    let facts = Facts {
        data: &data,
        out: &out,
        numbers: &numbers,
        keys: &keys,
    };
    facts.write("protons.tsv", PROTON_COLUMNS, |cells| {
        for count in cells.iter().take(5) {
            count.parse::<u8>().map_err(|e| format!("`{count}`: {e}"))?;
        }
        Ok(())
    })?;
    facts.write("gases.tsv", GAS_COLUMNS, |cells| {
        known(class::GasAgent::from_tag, cells, 0)?;
        let mut written = Vec::new();
        for made in cells.get(1).map_or("", String::as_str).split(" | ") {
            let (gas, per_mole) = made.rsplit_once(' ').ok_or("a gas has no number")?;
            number_within("gas", per_mole, 0.01, 20.0)?;
            written.push(format!("{}:{per_mole}", facts.number(gas)?));
        }
        set(cells, 1, written.join("|"))
    })?;
    facts.write("limits.tsv", LIMIT_COLUMNS, |cells| {
        known(class::LimitWhen::from_tag, cells, 0)?;
        number_within(
            "limit",
            cells.get(2).map_or("", String::as_str),
            -80.0,
            400.0,
        )?;
        match cells.get(1).filter(|with| !with.is_empty()) {
            None => Ok(()),
            Some(with) => {
                let number = facts.number(with)?;
                set(cells, 1, number)
            }
        }
    })?;
    facts.write("stabilisers.tsv", STABILISER_COLUMNS, |cells| {
        number_within(
            "ppm",
            cells.get(1).map_or("", String::as_str),
            1.0,
            50_000.0,
        )?;
        let number = facts.number(cells.first().map_or("", String::as_str))?;
        set(cells, 0, number)
    })?;
    facts.write("reactivity.tsv", REACTIVITY_COLUMNS, |cells| {
        match cells.first().map(String::as_str) {
            Some("water") => known(class::Miscibility::from_tag, cells, 1),
            Some("peroxides") => known(class::PeroxideHazard::from_tag, cells, 1),
            Some("nitrogen") => Ok(()),
            other => Err(format!("{other:?} is no property")),
        }
    })
}

/// That a cell is a word of a vocabulary.
fn known<T>(vocabulary: fn(&str) -> Option<T>, cells: &[String], cell: usize) -> Outcome<()> {
    let word = cells.get(cell).map_or("", String::as_str);
    match vocabulary(word) {
        Some(_) => Ok(()),
        None => Err(format!("`{word}` is no word of src/class.rs")),
    }
}

fn set(cells: &mut [String], cell: usize, text: String) -> Outcome<()> {
    *cells.get_mut(cell).ok_or("a cell is missing")? = text;
    Ok(())
}

/// Tables whose first column names a substance and whose last one a source.
struct Facts<'a> {
    data: &'a Path,
    out: &'a Path,
    numbers: &'a Numbers,
    keys: &'a BTreeSet<&'a str>,
}

impl Facts<'_> {
    fn number(&self, name: &str) -> Outcome<String> {
        let number = self.numbers.get(name);
        number
            .map(usize::to_string)
            .ok_or_else(|| format!("`{name}` is in no substance table"))
    }

    /// Writes a table sorted by the numbers of its substances, with the cells after the first as
    /// `check` leaves them.
    fn write(
        &self,
        file: &str,
        columns: &[&str],
        check: impl Fn(&mut Vec<String>) -> Outcome<()>,
    ) -> Outcome<()> {
        let table = Table::read(self.data, file, columns)?;
        let mut lines = Vec::new();
        for row in &table.rows {
            let fault = |what: String| table.fault(row, &what);
            let number = self.number(row.get(0)).map_err(fault)?;
            let source = row.get(columns.len() - 1);
            if !self.keys.contains(source) {
                return Err(fault(format!("source `{source}` is not in sources.tsv")));
            }
            let mut cells: Vec<String> = row.cells.iter().skip(1).cloned().collect();
            check(&mut cells).map_err(fault)?;
            lines.push((number, cells.join("\t")));
        }
        lines.sort_by(|a, b| a.0.cmp(&b.0));
        let mut text = String::new();
        for (number, rest) in lines {
            let _ = writeln!(text, "{number}\t{rest}");
        }
        write(self.out, file, &text)
    }
}

struct Row {
    number: usize,
    cells: Vec<String>,
}

impl Row {
    fn get(&self, column: usize) -> &str {
        self.cells.get(column).map_or("", String::as_str)
    }

    fn line(&self) -> String {
        let mut line = self.cells.join("\t");
        line.push('\n');
        line
    }
}

struct Table {
    path: PathBuf,
    rows: Vec<Row>,
}

impl Table {
    fn read(data: &Path, file: &str, columns: &[&str]) -> Outcome<Table> {
        let path = data.join(file);
        let mut table = Table {
            path,
            rows: Vec::new(),
        };
        let text = fs::read_to_string(&table.path)
            .map_err(|error| format!("{}: {error}", table.path.display()))?;
        for (index, line) in text.lines().enumerate() {
            let row = Row {
                number: index + 1,
                cells: line
                    .split('\t')
                    .map(|cell| cell.trim().to_owned())
                    .collect(),
            };
            if row.cells.len() != columns.len() {
                let what = format!("{} cells, not {}", row.cells.len(), columns.len());
                return Err(table.fault(&row, &what));
            }
            if index > 0 {
                table.rows.push(row);
            } else if row.cells != columns {
                return Err(table.fault(&row, &format!("the columns are not {columns:?}")));
            }
        }
        Ok(table)
    }

    fn fault(&self, row: &Row, what: &str) -> String {
        format!("{}:{}: {what}", self.path.display(), row.number)
    }
}

fn write(out: &Path, file: &str, content: impl AsRef<[u8]>) -> Outcome<()> {
    fs::write(out.join(file), content).map_err(|error| format!("{file}: {error}"))
}

fn number(text: &str) -> Outcome<f64> {
    match text.parse::<f64>() {
        Ok(value) if value.is_finite() => Ok(value),
        _ => Err(format!("`{text}` is no number")),
    }
}

fn number_within(name: &str, text: &str, low: f64, high: f64) -> Outcome<()> {
    if text.is_empty() {
        return Ok(());
    }
    let value = number(text)?;
    if (low..=high).contains(&value) {
        Ok(())
    } else {
        Err(format!("{name} {value} is not within {low} to {high}"))
    }
}

fn write_elements(table: &Table, out: &Path) -> Outcome<HashMap<String, u8>> {
    let mut code = String::from("pub(crate) const ELEMENTS: &[ElementRow] = &[\n");
    let mut symbols = BTreeMap::new();
    for (index, row) in table.rows.iter().enumerate() {
        let fault = |what: &str| table.fault(row, what);
        let (symbol, name, weight) = (row.get(0), row.get(1), row.get(3));
        if row.get(2) != (index + 1).to_string() {
            return Err(fault(
                "the elements do not follow one another by atomic number",
            ));
        }
        let weight = if weight.is_empty() {
            "None".to_owned()
        } else {
            let value = number(weight).map_err(|what| fault(&what))?;
            let uncertainty = number(row.get(4)).map_err(|what| fault(&what))?;
            format!("Some(Weight {{ value: {value:?}, uncertainty: {uncertainty:?} }})")
        };
        let _ = writeln!(
            code,
            "ElementRow {{ symbol: {symbol:?}, name: {name:?}, weight: {weight} }},"
        );
        let number = u8::try_from(index + 1).map_err(|error| fault(&error.to_string()))?;
        symbols.insert(symbol.to_owned(), number);
    }
    if symbols.len() != 118 {
        return Err(format!(
            "{}: {} elements, not 118",
            table.path.display(),
            symbols.len()
        ));
    }
    code.push_str(
        "];\n/// Atomic numbers by the first letter, and by the second, `a` as 1; 0 for none.\n",
    );
    code.push_str("pub(crate) const NUMBERS: [[u8; 27]; 26] = [\n");
    for first in b'A'..=b'Z' {
        let of_symbol = |symbol: &[u8]| symbols.get(std::str::from_utf8(symbol).unwrap_or(""));
        let seconds = (b'a'..=b'z').map(|second| of_symbol(&[first, second]));
        let row = [of_symbol(&[first])].into_iter().chain(seconds);
        let row: Vec<u8> = row.map(|number| number.copied().unwrap_or(0)).collect();
        let _ = writeln!(code, "{row:?},");
    }
    code.push_str("];\n");
    write(out, "elements.rs", &code)?;
    Ok(symbols.into_iter().collect())
}

fn check_substance(
    row: &Row,
    element: &dyn Fn(&str) -> Option<u8>,
    keys: &BTreeSet<&str>,
) -> Outcome<()> {
    let cell = |name: &str| {
        let column = SUBSTANCE_COLUMNS.iter().position(|known| *known == name);
        column.map_or("", |column| row.get(column))
    };
    if cell("name").is_empty() {
        return Err("the name is missing".to_owned());
    }
    if !cell("cas").is_empty() && !cas::cas_is_valid(cell("cas")) {
        return Err(format!(
            "`{}` is no CAS number: its check digit is wrong",
            cell("cas")
        ));
    }
    if !cell("formula").is_empty() {
        parse::parse(cell("formula"), element)
            .map_err(|error| format!("formula `{}`: {error}", cell("formula")))?;
    }
    if !matches!(cell("state"), "" | "s" | "l" | "g") {
        return Err(format!("`{}` is no state", cell("state")));
    }
    number_within("density", cell("density"), 0.05, 25.0)?;
    for temperature in ["density_at", "melting", "boiling"] {
        number_within(temperature, cell(temperature), -273.15, 6000.0)?;
    }
    for equivalents in ["water_eq", "oxygen_eq"] {
        number_within(equivalents, cell(equivalents), 0.0, 20.0)?;
    }
    if !cell("class").is_empty() && class::ReagentClass::from_tag(cell("class")).is_none() {
        return Err(format!("`{}` is no class of src/class.rs", cell("class")));
    }
    if let Some(tag) = cell("tags")
        .split_whitespace()
        .find(|tag| class::Tag::from_tag(tag).is_none())
    {
        return Err(format!("`{tag}` is no tag of src/class.rs"));
    }
    for field in ["density", "melting", "boiling"] {
        let entry = format!("{field}=");
        if !cell(field).is_empty() && !cell("sources").split(' ').any(|s| s.starts_with(&entry)) {
            return Err(format!("{field} has no source"));
        }
    }
    for source in cell("sources").split_whitespace() {
        let Some((field, names)) = source.split_once('=') else {
            return Err(format!("`{source}` is no source (field=key+key)"));
        };
        if !SUBSTANCE_COLUMNS.contains(&field) {
            return Err(format!("`{field}` is no column that could have a source"));
        }
        if let Some(key) = names.split('+').find(|key| !keys.contains(key)) {
            return Err(format!("source `{key}` is not in sources.tsv"));
        }
    }
    Ok(())
}

/// Numbers of the rows in the written table by exact name.
type Numbers = BTreeMap<String, usize>;

#[derive(PartialEq, Eq, PartialOrd, Ord)]
struct NameEntry {
    folded: String,
    /// Hand-checked rows first, then names before synonyms.
    rank: u8,
    number: usize,
    spelling: String,
}

fn write_substances(
    curated: &Table,
    imported: &Table,
    element: &dyn Fn(&str) -> Option<u8>,
    out: &Path,
) -> Outcome<Numbers> {
    let known: BTreeSet<&str> = curated
        .rows
        .iter()
        .map(|row| row.get(2))
        .filter(|cas| !cas.is_empty())
        .collect();
    let curated_names: BTreeSet<&str> = curated.rows.iter().flat_map(names).collect();
    let mut text = String::new();
    let mut rows: Vec<u8> = Vec::new();
    let mut numbers = Numbers::new();
    let mut entries = BTreeSet::new();
    let mut cas_index = BTreeMap::new();
    let mut compositions: BTreeMap<String, Vec<usize>> = BTreeMap::new();
    for (table, imported) in [(curated, false), (imported, true)] {
        for row in &table.rows {
            if imported && (known.contains(row.get(2)) || curated_names.contains(row.get(0))) {
                continue;
            }
            let number = rows.len() / ROW_BYTES;
            push_row(&mut rows, row, text.len())?;
            text.push_str(&row.line());
            let name = row.get(0).to_owned();
            if numbers.insert(name.clone(), number).is_some() && !imported {
                return Err(table.fault(row, &format!("`{name}` is there twice")));
            }
            for (index, spelling) in names(row).enumerate() {
                // The hand-checked list has the last word on what a name means.
                if imported && curated_names.contains(spelling) {
                    continue;
                }
                entries.insert(NameEntry {
                    folded: fold::fold(spelling),
                    rank: 2 * u8::from(imported) + u8::from(index > 0),
                    number,
                    spelling: spelling.to_owned(),
                });
            }
            let cas = row.get(2);
            if !cas.is_empty() && cas_index.insert(cas.to_owned(), number).is_some() {
                return Err(table.fault(row, &format!("CAS number {cas} is there twice")));
            }
            if !row.get(3).is_empty() {
                let parts = parse::parse(row.get(3), element).map_err(|e| e.to_string())?;
                let key = parse::composition_key(&parts);
                compositions.entry(key).or_default().push(number);
            }
        }
    }
    write(out, "substances.tsv", &text)?;
    write(out, "rows.bin", &rows)?;

    let mut index = String::new();
    for entry in &entries {
        let NameEntry {
            folded,
            rank,
            number,
            spelling,
        } = entry;
        let _ = writeln!(index, "{folded}\t{number}\t{rank}\t{spelling}");
    }
    write(out, "names.tsv", &index)?;

    let mut index = String::new();
    for (cas, number) in &cas_index {
        let _ = writeln!(index, "{cas}\t{number}");
    }
    write(out, "cas.tsv", &index)?;

    let mut index = String::new();
    for (key, numbers) in &compositions {
        let numbers: Vec<String> = numbers.iter().map(usize::to_string).collect();
        let _ = writeln!(index, "{key}\t{}", numbers.join("\t"));
    }
    write(out, "compositions.tsv", &index)?;
    Ok(numbers)
}

/// A row in `rows.bin`: where it begins in the written table, the number of its class from 1 on, the letter of its
/// state or a blank, its tags as bits, and where each of its cells ends, from its beginning.
const ROW_BYTES: usize = 4 + 1 + 1 + 2 + 2 * SUBSTANCE_COLUMNS.len();

fn push_row(rows: &mut Vec<u8>, row: &Row, start: usize) -> Outcome<()> {
    let start = u32::try_from(start).map_err(|e| e.to_string())?;
    rows.extend(start.to_le_bytes());
    let is_own = |own: &class::ReagentClass| own.tag() == row.get(10);
    let class = class::ReagentClass::ALL.iter().position(is_own);
    rows.push(u8::try_from(class.map_or(0, |class| class + 1)).map_err(|e| e.to_string())?);
    rows.push(row.get(5).bytes().next().unwrap_or(b' '));
    let own = row.get(11).split_whitespace();
    let tags = own
        .filter_map(class::Tag::from_tag)
        .fold(0, |tags, tag| tags | tag.bit());
    rows.extend(tags.to_le_bytes());
    let mut end = 0;
    for cell in &row.cells {
        end += cell.len();
        rows.extend(u16::try_from(end).map_err(|e| e.to_string())?.to_le_bytes());
        end += 1;
    }
    Ok(())
}

fn names(row: &Row) -> impl Iterator<Item = &str> {
    std::iter::once(row.get(0)).chain(row.get(1).split(" | ").filter(|name| !name.is_empty()))
}

fn write_solutions(
    table: &Table,
    numbers: &Numbers,
    keys: &BTreeSet<&str>,
    out: &Path,
) -> Outcome<()> {
    let mut text = String::new();
    let mut by_name = BTreeMap::new();
    for (index, row) in table.rows.iter().enumerate() {
        let fault = |what: String| table.fault(row, &what);
        let solute = row.get(0);
        let number = numbers
            .get(solute)
            .ok_or_else(|| fault(format!("solute `{solute}` is in no substance table")))?;
        number_within("molarity", row.get(3), 0.0, 60.0).map_err(fault)?;
        number_within("density", row.get(4), 0.3, 5.0).map_err(fault)?;
        number_within("temperature", row.get(5), -80.0, 150.0).map_err(fault)?;
        if let Some(key) = row.get(7).split('+').find(|key| !keys.contains(key)) {
            return Err(fault(format!("source `{key}` is not in sources.tsv")));
        }
        let _ = write!(text, "{number}\t{}", row.line());
        for name in row.get(6).split(" | ").filter(|name| !name.is_empty()) {
            // The first line of a name counts.
            by_name.entry(fold::fold(name)).or_insert(index);
        }
    }
    let mut names = String::new();
    for (name, index) in &by_name {
        let _ = writeln!(names, "{name}\t{index}");
    }
    write(out, "solution-names.tsv", &names)?;
    write(out, "solutions.tsv", &text)
}
