//! Reader for chemical formulae. The build script uses it too, so it knows elements only through
//! the function that it is given.

use std::collections::BTreeMap;

use num_rational::Ratio;

/// Longest formula that is read, in bytes.
pub(crate) const MAX_LENGTH: usize = 1_000;
/// Deepest nesting of brackets.
pub(crate) const MAX_DEPTH: usize = 32;
/// Largest number of one kind of atom, in a part and in all.
pub(crate) const MAX_COUNT: i64 = 999_999_999;
/// Largest multiplier of a part.
const MAX_MULTIPLIER: i64 = 9_999;
/// Largest charge, either way.
const MAX_CHARGE: i64 = 9_999;

/// Why a text is no formula that can be read, and where.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct FormulaError {
    /// Byte at which the trouble begins.
    pub at: usize,
    /// Its length in bytes; 0 where something is missing.
    pub len: usize,
    /// What is wrong and what to do, as a sentence.
    pub message: String,
}

impl std::fmt::Display for FormulaError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(&self.message)
    }
}

impl std::error::Error for FormulaError {}

/// Atomic number and mass number of a kind of atom; mass number 0 is the natural mixture.
pub(crate) type Kind = (u8, u16);

/// What stands between two adduct dots.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Part {
    pub(crate) multiplier: Ratio<i64>,
    pub(crate) counts: BTreeMap<Kind, i64>,
    pub(crate) charge: i64,
}

/// Reads a formula into its adduct parts; `element` gives the atomic number of a symbol.
pub(crate) fn parse(
    text: &str,
    element: &dyn Fn(&str) -> Option<u8>,
) -> Result<Vec<Part>, FormulaError> {
    if text.len() > MAX_LENGTH {
        return Err(FormulaError {
            at: 0,
            len: text.len(),
            message: format!(
                "This formula is longer than {MAX_LENGTH} characters; write the composition \
                 (C6H12O6) or the molar mass instead."
            ),
        });
    }
    let mut reader = Reader {
        text,
        symbols: text.char_indices().map(|(at, c)| (at, symbol(c))).collect(),
        at: 0,
        element,
    };
    reader.formula()
}

/// Amount of every kind of atom in all parts together.
pub(crate) fn totals(parts: &[Part]) -> BTreeMap<Kind, Ratio<i64>> {
    let mut totals = BTreeMap::new();
    for part in parts {
        add_part(&mut totals, part);
    }
    totals
}

/// Adds a part and gives the largest number of atoms that it led to.
fn add_part(totals: &mut BTreeMap<Kind, Ratio<i64>>, part: &Part) -> Ratio<i64> {
    let mut largest = Ratio::from_integer(0);
    for (kind, count) in &part.counts {
        let total = totals
            .entry(*kind)
            .or_insert_with(|| Ratio::from_integer(0));
        *total += part.multiplier * *count;
        largest = largest.max(*total);
    }
    largest
}

/// Charge of all parts together.
pub(crate) fn charge(parts: &[Part]) -> Ratio<i64> {
    parts
        .iter()
        .map(|part| part.multiplier * part.charge)
        .fold(Ratio::from_integer(0), |sum, next| sum + next)
}

/// One text for all formulae of the same composition and charge: the key of the index.
pub(crate) fn composition_key(parts: &[Part]) -> String {
    let mut key = String::new();
    for ((number, mass), count) in totals(parts) {
        let separator = if key.is_empty() { "" } else { " " };
        key.push_str(&format!("{separator}{number}"));
        if mass != 0 {
            key.push_str(&format!("^{mass}"));
        }
        key.push_str(&format!("*{count}"));
    }
    let charge = charge(parts);
    if charge != Ratio::from_integer(0) {
        key.push_str(&format!(" e*{charge}"));
    }
    key
}

#[derive(Clone, Copy, PartialEq)]
enum Symbol {
    Upper(char),
    Lower(char),
    Digit(u8),
    /// A superscript digit: part of a charge, or a mass number.
    Raised(u8),
    Plus,
    Minus,
    Caret,
    Open(char),
    Close(char),
    Dot,
    /// `·` or `*` and look-alikes, which can be nothing but the sign of an adduct.
    Adduct,
    Slash,
    Vulgar(i64, i64),
    Space,
    Other,
}

fn symbol(c: char) -> Symbol {
    let digit = |zero: char| (u32::from(c) - u32::from(zero)) as u8;
    match c {
        'A'..='Z' => Symbol::Upper(c),
        'a'..='z' => Symbol::Lower(c),
        '0'..='9' => Symbol::Digit(digit('0')),
        '₀'..='₉' => Symbol::Digit(digit('₀')),
        '⁰' | '⁴'..='⁹' => Symbol::Raised(digit('⁰')),
        '¹' => Symbol::Raised(1),
        '²' => Symbol::Raised(2),
        '³' => Symbol::Raised(3),
        '+' | '⁺' | '\u{ff0b}' => Symbol::Plus,
        '-' | '⁻' | '−' | '–' | '‐' | '‑' | '﹣' | '\u{ff0d}' => Symbol::Minus,
        '^' => Symbol::Caret,
        '(' | '[' | '{' => Symbol::Open(c),
        ')' | ']' | '}' => Symbol::Close(c),
        '.' => Symbol::Dot,
        '·' | '⋅' | '∙' | '•' | '・' | '*' | '×' => Symbol::Adduct,
        '/' | '⁄' => Symbol::Slash,
        '½' => Symbol::Vulgar(1, 2),
        '¼' => Symbol::Vulgar(1, 4),
        '¾' => Symbol::Vulgar(3, 4),
        '⅓' => Symbol::Vulgar(1, 3),
        '⅔' => Symbol::Vulgar(2, 3),
        _ if c.is_whitespace() => Symbol::Space,
        _ => Symbol::Other,
    }
}

#[derive(Default)]
struct Group {
    counts: BTreeMap<Kind, i64>,
    charge: i64,
    /// Whether anything stands here, so that `()` is found out.
    items: usize,
}

struct Reader<'a> {
    text: &'a str,
    symbols: Vec<(usize, Symbol)>,
    at: usize,
    element: &'a dyn Fn(&str) -> Option<u8>,
}

impl Reader<'_> {
    fn peek_at(&self, index: usize) -> Option<Symbol> {
        self.symbols.get(index).map(|(_, symbol)| *symbol)
    }

    fn peek(&self) -> Option<Symbol> {
        self.peek_at(self.at)
    }

    fn byte(&self, index: usize) -> usize {
        self.symbols
            .get(index)
            .map_or(self.text.len(), |(byte, _)| *byte)
    }

    fn written(&self, from: usize, to: usize) -> &str {
        self.text
            .get(self.byte(from)..self.byte(to))
            .unwrap_or_default()
    }

    fn error<T>(&self, from: usize, to: usize, message: String) -> Result<T, FormulaError> {
        let at = self.byte(from);
        Err(FormulaError {
            at,
            len: self.byte(to).saturating_sub(at),
            message,
        })
    }

    fn skip_spaces(&mut self) {
        while self.peek() == Some(Symbol::Space) {
            self.at += 1;
        }
    }

    fn formula(&mut self) -> Result<Vec<Part>, FormulaError> {
        let mut parts = Vec::new();
        let mut totals = BTreeMap::new();
        let mut after_dot = false;
        loop {
            self.skip_spaces();
            let number_at = self.at;
            let multiplier = self.multiplier(after_dot)?;
            if parts.is_empty() && self.at > number_at && self.may_be_label(multiplier.to_integer())
            {
                return self.error(
                    number_at,
                    self.at + 1,
                    format!(
                        "`{0}` has two readings; write a labelled atom as [{0}], a multiple with \
                         a space.",
                        self.written(number_at, self.at + 1)
                    ),
                );
            }
            self.skip_spaces();
            let group = self.group(None, 0)?;
            if group.items == 0 {
                return self.nothing_here(parts.is_empty());
            }
            let part = Part {
                multiplier,
                counts: group.counts,
                charge: group.charge,
            };
            // Checked part by part: within these bounds no sum of fractions can overflow, since
            // multipliers stay below 10⁴ and the least common denominator below 10⁶.
            if add_part(&mut totals, &part) > Ratio::from_integer(MAX_COUNT) {
                return self.too_many(number_at);
            }
            parts.push(part);
            let charge = charge(&parts);
            if charge > Ratio::from_integer(MAX_CHARGE) || -charge > Ratio::from_integer(MAX_CHARGE)
            {
                return self.error(
                    number_at,
                    self.at,
                    format!("A charge beyond {MAX_CHARGE} is not read; check the numbers."),
                );
            }
            self.skip_spaces();
            match self.peek() {
                None => return Ok(parts),
                Some(Symbol::Dot) => after_dot = true,
                Some(Symbol::Adduct) | Some(Symbol::Lower('x')) => after_dot = false,
                Some(left_over) => return self.left_over(left_over),
            }
            self.at += 1;
        }
    }

    fn nothing_here<T>(&self, first: bool) -> Result<T, FormulaError> {
        let end = (self.at + 1).min(self.symbols.len());
        let message = match self.peek() {
            None if first && self.text.trim().is_empty() => {
                "The formula is missing; write one, such as C4H8O.".to_owned()
            }
            None => "The formula stops here; an element such as H2O must follow. Numbers of atoms \
                     are whole."
                .to_owned(),
            Some(Symbol::Lower(_)) => {
                "The number is missing; write how many, such as 2 H2O.".to_owned()
            }
            Some(_) => format!(
                "An element must stand here, not `{}`.",
                self.written(self.at, end)
            ),
        };
        self.error(self.at, end, message)
    }

    fn left_over<T>(&self, symbol: Symbol) -> Result<T, FormulaError> {
        if let Symbol::Close(c) = symbol {
            let message = format!("`{c}` closes nothing; remove it or open a bracket before it.");
            return self.error(self.at, self.at + 1, message);
        }
        let end = self.word_end();
        self.error(
            self.at,
            end,
            format!(
                "`{}` does not belong in a formula; write hydrates as CuSO4·5H2O.",
                self.written(self.at, end)
            ),
        )
    }

    fn too_many<T>(&self, from: usize) -> Result<T, FormulaError> {
        self.error(
            from,
            self.at,
            "This comes to more atoms than a formula may hold; write the molar mass instead."
                .to_owned(),
        )
    }

    fn word_end(&self) -> usize {
        let mut end = self.at + 1;
        while matches!(self.peek_at(end), Some(symbol) if symbol != Symbol::Space) {
            end += 1;
        }
        end
    }

    /// A run of digits as a number; more than nine digits are an error.
    fn digits(&mut self) -> Result<Option<i64>, FormulaError> {
        let from = self.at;
        let mut value = 0_i64;
        while let Some(Symbol::Digit(digit)) = self.peek() {
            if self.at - from < 9 {
                value = value * 10 + i64::from(digit);
            }
            self.at += 1;
        }
        if self.at - from > 9 {
            return self.error(
                from,
                self.at,
                "This number is too large for a formula; at most nine digits are read.".to_owned(),
            );
        }
        Ok((self.at > from).then_some(value))
    }

    /// `5`, `0.5`, `.5` (not after a dot), `1/2`, `½`, `1½`; 1 where nothing is written.
    fn multiplier(&mut self, after_dot: bool) -> Result<Ratio<i64>, FormulaError> {
        let from = self.at;
        let whole = self.digits()?;
        let mut value = Ratio::from_integer(whole.unwrap_or(0));
        match self.peek() {
            Some(Symbol::Vulgar(numer, denom)) => {
                self.at += 1;
                value += Ratio::new(numer, denom);
            }
            Some(Symbol::Dot)
                if (whole.is_some() || !after_dot)
                    && matches!(self.peek_at(self.at + 1), Some(Symbol::Digit(_))) =>
            {
                self.at += 1;
                let start = self.at;
                let decimals = self.digits()?.unwrap_or(0);
                let places = self.at - start;
                if places > 4 {
                    return self.error(
                        start,
                        self.at,
                        "At most four decimals are read here; shorten the number.".to_owned(),
                    );
                }
                value += Ratio::new(decimals, 10_i64.pow(places as u32));
            }
            Some(Symbol::Slash) if whole.is_some() => {
                self.at += 1;
                match self.digits()? {
                    Some(denom @ 1..=10) => value /= denom,
                    _ => {
                        return self.error(
                            from,
                            self.at,
                            "A fraction in a formula runs from 1/2 to 1/10; write a decimal."
                                .to_owned(),
                        );
                    }
                }
            }
            _ if whole.is_none() => return Ok(Ratio::from_integer(1)),
            _ => {}
        }
        if value > Ratio::from_integer(MAX_MULTIPLIER) {
            return self.error(
                from,
                self.at,
                format!("A part cannot be there more than {MAX_MULTIPLIER} times."),
            );
        }
        if value == Ratio::from_integer(0) {
            return self.error(
                from,
                self.at,
                "A part that is there 0 times says nothing; remove it or correct the number."
                    .to_owned(),
            );
        }
        Ok(value)
    }

    /// Whether nothing but a closing bracket, a space or an adduct may follow here.
    fn scope_ends(&self, index: usize) -> bool {
        matches!(
            self.peek_at(index),
            None | Some(Symbol::Close(_) | Symbol::Space | Symbol::Adduct | Symbol::Dot)
        )
    }

    fn group(&mut self, open: Option<char>, depth: usize) -> Result<Group, FormulaError> {
        let mut group = Group::default();
        loop {
            let from = self.at;
            match self.peek() {
                Some(Symbol::Upper(_)) => {
                    if let Some(residue) = self.residue() {
                        self.at += 2;
                        self.counted_group(&mut group, residue, None, from)?;
                    } else {
                        let kind = self.atom(0)?;
                        self.counted_atom(&mut group, kind, from)?;
                    }
                }
                Some(Symbol::Digit(_)) if open == Some('[') && group.items == 0 => {
                    let mass = self.digits()?.unwrap_or(0);
                    self.nuclide(&mut group, mass, from)?;
                }
                Some(Symbol::Raised(_)) if self.raised_run_ends_in_letter() => {
                    let mut mass = 0_i64;
                    while let Some(Symbol::Raised(digit)) = self.peek() {
                        mass = (mass * 10 + i64::from(digit)).min(1000);
                        self.at += 1;
                    }
                    self.nuclide(&mut group, mass, from)?;
                }
                Some(Symbol::Open(bracket)) => {
                    if depth + 1 > MAX_DEPTH {
                        return self.error(
                            from,
                            from + 1,
                            format!(
                                "Brackets are nested more than {MAX_DEPTH} deep; write the \
                                 composition instead."
                            ),
                        );
                    }
                    self.at += 1;
                    let inner = self.group(Some(bracket), depth + 1)?;
                    let closer = match bracket {
                        '(' => ')',
                        '[' => ']',
                        _ => '}',
                    };
                    if self.peek() != Some(Symbol::Close(closer)) {
                        return self.error(
                            from,
                            from + 1,
                            format!("This `{bracket}` is never closed; add `{closer}`."),
                        );
                    }
                    if inner.items == 0 {
                        return self.error(
                            from,
                            self.at + 1,
                            "Nothing stands between these brackets; remove them or fill them."
                                .to_owned(),
                        );
                    }
                    self.at += 1;
                    self.counted_group(&mut group, inner, Some(closer), from)?;
                }
                Some(Symbol::Space) if group.items > 0 && self.spaced_charge().is_some() => {
                    self.at += 1;
                    group.charge = self.add(group.charge, self.charge_value(self.at)?, from)?;
                    self.at = self.charge_end(self.at);
                    return Ok(group);
                }
                Some(Symbol::Plus | Symbol::Minus | Symbol::Caret | Symbol::Raised(_))
                    if group.items > 0 =>
                {
                    group.charge = self.add(group.charge, self.charge_value(from)?, from)?;
                    self.at = self.charge_end(from);
                    if !self.scope_ends(self.at) {
                        return self.error(
                            from,
                            self.at,
                            "A charge stands at the end; write the rest before it, or set the \
                             ion in brackets."
                                .to_owned(),
                        );
                    }
                    return Ok(group);
                }
                Some(Symbol::Digit(_)) if group.items > 0 => {
                    let end = self.word_end();
                    return self.error(
                        from,
                        end,
                        "A number counts the element before it, and only once; use brackets or ·."
                            .to_owned(),
                    );
                }
                Some(Symbol::Lower(c)) if !self.is_adduct_word(c, group.items, depth) => {
                    let mut end = self.at;
                    while matches!(self.peek_at(end), Some(Symbol::Lower(_))) {
                        end += 1;
                    }
                    return self.error(
                        from,
                        end,
                        format!(
                            "`{}` is no element symbol; symbols begin with a capital letter.",
                            self.written(from, end)
                        ),
                    );
                }
                _ => return Ok(group),
            }
        }
    }

    /// `x` between parts, or `x` and `n` for a number of waters that nobody counted.
    fn is_adduct_word(&self, c: char, items: usize, depth: usize) -> bool {
        depth == 0
            && (c == 'x' || c == 'n' && items == 0)
            && !matches!(self.peek_at(self.at + 1), Some(Symbol::Lower(_)))
    }

    /// The composition of an abbreviated residue that begins here. Those that share their letters
    /// with an element (Ac, Pr, Ts) are the element.
    fn residue(&self) -> Option<Group> {
        let (carbon, hydrogen, oxygen) = match self.written(self.at, self.at + 2) {
            "Me" => (1, 3, 0),
            "Et" => (2, 5, 0),
            "Bu" => (4, 9, 0),
            "Cp" => (5, 5, 0),
            "Ph" => (6, 5, 0),
            "Cy" => (6, 11, 0),
            "Bn" => (7, 7, 0),
            "Bz" => (7, 5, 1),
            _ => return None,
        };
        let counts = [((6, 0), carbon), ((1, 0), hydrogen), ((8, 0), oxygen)];
        Some(Group {
            counts: counts.into_iter().filter(|(_, count)| *count > 0).collect(),
            ..Group::default()
        })
    }

    /// Whether the number before the formula could be a mass number: `13CH4`.
    fn may_be_label(&self, number: i64) -> bool {
        let single = !matches!(self.peek_at(self.at + 1), Some(Symbol::Lower(_)));
        single
            && matches!(
                (self.written(self.at, self.at + 1), number),
                ("H", 2 | 3) | ("C", 11 | 13 | 14) | ("N", 13 | 15) | ("O", 15 | 17 | 18)
            )
    }

    /// Where a charge ends that stands apart, as in `SO4 2-`.
    fn spaced_charge(&self) -> Option<usize> {
        let end = self.charge_end(self.at + 1);
        let signs = (self.at + 1..end)
            .filter(|index| matches!(self.peek_at(*index), Some(Symbol::Plus | Symbol::Minus)))
            .count();
        (signs > 0 && self.scope_ends(end)).then_some(end)
    }

    fn raised_run_ends_in_letter(&self) -> bool {
        let mut end = self.at;
        while matches!(self.peek_at(end), Some(Symbol::Raised(_))) {
            end += 1;
        }
        matches!(self.peek_at(end), Some(Symbol::Upper(_)))
    }

    fn nuclide(&mut self, group: &mut Group, mass: i64, from: usize) -> Result<(), FormulaError> {
        if !matches!(self.peek(), Some(Symbol::Upper(_))) {
            return self.error(
                from,
                self.at,
                "A mass number stands before its element, as in [13C]; a multiplier stands \
                 outside the bracket."
                    .to_owned(),
            );
        }
        let mass = u16::try_from(mass).unwrap_or(u16::MAX);
        let kind = self.atom(mass)?;
        // No nuclide is known outside these bounds: hydrogen goes up to 7, the heavy end to 2.6 Z.
        if mass < u16::from(kind.0) || mass > 3 * u16::from(kind.0) + 4 {
            return self.error(
                from,
                self.at,
                format!(
                    "There is no nuclide `{}`; check the mass number.",
                    self.written(from, self.at)
                ),
            );
        }
        self.counted_atom(group, kind, from)
    }

    /// An element symbol; the longest one that exists.
    fn atom(&mut self, mass: u16) -> Result<Kind, FormulaError> {
        let from = self.at;
        let two = matches!(self.peek_at(from + 1), Some(Symbol::Lower(_)));
        if two && let Some(number) = (self.element)(self.written(from, from + 2)) {
            self.at = from + 2;
            return Ok((number, mass));
        }
        let adduct_follows = self.peek_at(from + 1) == Some(Symbol::Lower('x'))
            && !matches!(self.peek_at(from + 2), Some(Symbol::Lower(_)));
        if !two || adduct_follows {
            let letter = self.written(from, from + 1);
            let kind = match ((self.element)(letter), letter) {
                (Some(number), _) => Some((number, mass)),
                (None, "D") if mass == 0 => Some((1, 2)),
                (None, "T") if mass == 0 => Some((1, 3)),
                _ => None,
            };
            if let Some(kind) = kind {
                self.at = from + 1;
                return Ok(kind);
            }
        }
        let mut end = from + 1;
        while matches!(self.peek_at(end), Some(Symbol::Lower(_))) {
            end += 1;
        }
        self.error(
            from,
            end,
            format!(
                "`{}` is no element symbol; check its letters and their case.",
                self.written(from, end)
            ),
        )
    }

    /// The number after an atom or a bracket; 1 where there is none.
    fn count(&mut self) -> Result<i64, FormulaError> {
        let from = self.at;
        let zero_first = self.peek() == Some(Symbol::Digit(0));
        let count = self.digits()?;
        if zero_first {
            return self.error(
                from,
                self.at,
                "A number of atoms does not begin with 0; for oxygen write the letter O."
                    .to_owned(),
            );
        }
        Ok(count.unwrap_or(1))
    }

    fn counted_atom(
        &mut self,
        group: &mut Group,
        kind: Kind,
        from: usize,
    ) -> Result<(), FormulaError> {
        let number_at = self.at;
        let count = self.count()?;
        let digits = self.at - number_at;
        let signed = digits > 0
            && matches!(self.peek(), Some(Symbol::Plus | Symbol::Minus))
            && self.scope_ends(self.charge_end(self.at));
        let lone = signed && group.items == 0 && digits == 1;
        let plus = self.peek() == Some(Symbol::Plus);
        group.items += 1;
        if lone && is_metal(kind.0) {
            // Ca2+: a metal's ion, by custom written without a caret.
            self.at += 1;
            group.charge = if plus { count } else { -count };
            return self.put(group, kind, 1, from);
        }
        let lone_ion = lone
            && if plus {
                matches!(kind.0, 5 | 14 | 32 | 33 | 51 | 52)
            } else {
                matches!(
                    (kind.0, count),
                    (8 | 16 | 34 | 52, 2) | (7 | 15 | 33, 3) | (6, 4)
                )
            };
        let last = count % 10;
        let two_readings = digits > 1 && count / 10 > 1 && (2..=4).contains(&last);
        if lone_ion || (signed && two_readings) {
            let end = self.charge_end(self.at);
            return self.ambiguous(number_at, end, from);
        }
        self.put(group, kind, count, from)
    }

    fn ambiguous<T>(&self, number_at: usize, end: usize, from: usize) -> Result<T, FormulaError> {
        self.error(
            number_at,
            end,
            format!(
                "`{}` has two readings; set the charge off with ^, as in SO4^2- or O2^-.",
                self.written(from, end)
            ),
        )
    }

    fn counted_group(
        &mut self,
        group: &mut Group,
        inner: Group,
        closer: Option<char>,
        from: usize,
    ) -> Result<(), FormulaError> {
        let number_at = self.at;
        let count = self.count()?;
        let signed = self.at > number_at
            && matches!(self.peek(), Some(Symbol::Plus | Symbol::Minus))
            && self.scope_ends(self.charge_end(self.at));
        if signed && matches!(closer, Some(')' | '}')) {
            return self.ambiguous(number_at, self.charge_end(self.at), from);
        }
        // By custom the number between ] and a sign is the charge of the ion.
        let (times, own) = if signed && closer.is_some() {
            let sign = if self.peek() == Some(Symbol::Plus) {
                1
            } else {
                -1
            };
            self.at += 1;
            (1, sign * count)
        } else {
            (count, 0)
        };
        group.items += 1;
        for (kind, inside) in inner.counts {
            let inside = self.multiply(inside, times, from)?;
            self.put(group, kind, inside, from)?;
        }
        let charge = self.multiply(inner.charge, times, from)?;
        group.charge = self.add(group.charge, charge, from)?;
        group.charge = self.add(group.charge, own, from)?;
        Ok(())
    }

    fn put(
        &self,
        group: &mut Group,
        kind: Kind,
        count: i64,
        from: usize,
    ) -> Result<(), FormulaError> {
        let entry = group.counts.entry(kind).or_insert(0);
        *entry = self.add(*entry, count, from)?;
        Ok(())
    }

    fn add(&self, a: i64, b: i64, from: usize) -> Result<i64, FormulaError> {
        self.bounded(a.checked_add(b), from)
    }

    fn multiply(&self, a: i64, b: i64, from: usize) -> Result<i64, FormulaError> {
        self.bounded(a.checked_mul(b), from)
    }

    fn bounded(&self, value: Option<i64>, from: usize) -> Result<i64, FormulaError> {
        match value {
            Some(value) if value.abs() <= MAX_COUNT => Ok(value),
            _ => self.too_many(from),
        }
    }

    /// Where the charge that begins at `from` ends.
    fn charge_end(&self, from: usize) -> usize {
        let mut end = from;
        while matches!(
            self.peek_at(end),
            Some(
                Symbol::Caret | Symbol::Plus | Symbol::Minus | Symbol::Digit(_) | Symbol::Raised(_)
            )
        ) {
            end += 1;
        }
        end
    }

    /// `+`, `--`, `2+`, `+2`, `^2-`, `²⁻`; `-2` from the older literature.
    fn charge_value(&self, from: usize) -> Result<i64, FormulaError> {
        let end = self.charge_end(from);
        let mut signs = (0_i64, 0_i64);
        let mut number = String::new();
        let mut runs = 0;
        let mut in_number = false;
        for index in from..end {
            let digit = match self.peek_at(index) {
                Some(Symbol::Plus) => {
                    signs.0 += 1;
                    None
                }
                Some(Symbol::Minus) => {
                    signs.1 += 1;
                    None
                }
                Some(Symbol::Digit(digit) | Symbol::Raised(digit)) => Some(digit),
                _ => None,
            };
            if let Some(digit) = digit {
                runs += i32::from(!in_number);
                number.push(char::from(b'0' + digit));
            }
            in_number = digit.is_some();
        }
        let sign = match signs {
            (plus @ 1.., 0) => plus,
            (0, minus @ 1..) => -minus,
            _ => 0,
        };
        let size = match number.as_str() {
            "" => Some(1),
            text if text.len() <= 4 && runs == 1 && sign.abs() == 1 => text.parse::<i64>().ok(),
            _ => None,
        };
        match size {
            Some(size @ 1..) if sign != 0 && sign.abs() <= 9 => Ok(sign * size),
            _ => self.error(
                from,
                end,
                format!(
                    "`{}` is no charge; write it as +, 2-, ^2- or ²⁻.",
                    self.written(from, end)
                ),
            ),
        }
    }
}

/// Metals by atomic number; what is left are the elements that form molecular ions of their own.
fn is_metal(number: u8) -> bool {
    !matches!(
        number,
        1 | 2 | 5..=10 | 14..=18 | 32..=36 | 51..=54 | 84..=86 | 117 | 118
    )
}
