//! Whole plans made of awkward numbers, from a generator with a fixed seed.

use rust_decimal::{Decimal, RoundingStrategy};

/// SplitMix64 (Steele, Lea and Flood, OOPSLA 2014): small, and the same on every machine.
pub(crate) struct Random(pub(crate) u64);

impl Random {
    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    pub(crate) fn below(&mut self, n: u64) -> u64 {
        self.next() % n
    }

    pub(crate) fn one_of<T: Copy>(&mut self, of: &[T]) -> T {
        of[usize::try_from(self.below(of.len() as u64)).unwrap()]
    }

    /// A number that is easy to get wrong, or any other.
    pub(crate) fn number(&mut self) -> Decimal {
        const AWKWARD: &[&str] = &[
            "5.01", "8", "0.097", "1250", "1000", "9.97", "20", "3", "0.10", "99.5", "1", "0.05",
            "2143", "9.995", "137.0",
        ];
        if self.below(2) == 0 {
            return self.one_of(AWKWARD).parse().unwrap();
        }
        let mantissa = i64::try_from(self.below(50_000) + 1).unwrap();
        Decimal::new(mantissa, u32::try_from(self.below(5)).unwrap())
    }
}

/// A stretch of a plan.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Part {
    /// Stays to the letter, but for runs of spaces.
    Letters(String),
    /// A number and unit that stand by themselves.
    Alone(String, &'static str),
    /// A number and unit that follow from the scale.
    Follows(String, &'static str),
    /// The scale.
    Scale(String, &'static str),
}

/// A plan in parts.
#[derive(Default)]
pub(crate) struct Generated {
    pub(crate) parts: Vec<Part>,
}

impl Generated {
    fn letters(&mut self, text: &str) -> &mut Self {
        if let Some(Part::Letters(last)) = self.parts.last_mut() {
            last.push_str(text);
        } else {
            self.parts.push(Part::Letters(text.to_owned()));
        }
        self
    }

    fn alone(&mut self, number: Decimal, unit: &'static str) -> &mut Self {
        self.parts.push(Part::Alone(number.to_string(), unit));
        self
    }

    fn follows(&mut self, number: Decimal, unit: &'static str) -> &mut Self {
        self.parts.push(Part::Follows(number.to_string(), unit));
        self
    }

    pub(crate) fn text(&self) -> String {
        let part = |part: &Part| match part {
            Part::Letters(text) => text.clone(),
            Part::Alone(number, unit) | Part::Follows(number, unit) | Part::Scale(number, unit) => {
                format!("{number} {unit}")
            }
        };
        self.parts.iter().map(part).collect()
    }

    /// Pads the line that is being written to a column, with at least two spaces.
    fn pad(&mut self, column: usize) -> &mut Self {
        let text = self.text();
        let line = text.rsplit('\n').next().unwrap().chars().count();
        let spaces = column.saturating_sub(line).max(2);
        self.letters(&" ".repeat(spaces))
    }
}

/// To so many significant digits.
fn rounded(value: Decimal, digits: u32) -> Decimal {
    let mut decimals = 0;
    let ten = Decimal::TEN;
    let mut probe = value;
    while probe < ten.powu(digits) / ten && decimals < 20 {
        probe *= ten;
        decimals += 1;
    }
    let mut value = value.round_dp_with_strategy(decimals, RoundingStrategy::MidpointAwayFromZero);
    value.rescale(decimals);
    value
}

trait Power {
    fn powu(self, n: u32) -> Self;
}

impl Power for Decimal {
    fn powu(self, n: u32) -> Decimal {
        (0..n).fold(Decimal::ONE, |product, _| product * self)
    }
}

/// A plan with every kind of number that scales and every kind that does not; or with some of them, for a short one.
pub(crate) fn plan(random: &mut Random, whole: bool) -> Generated {
    let mut plan = Generated::default();
    let scale = random.number();
    let [eq_b, eq_c] =
        [(); 2].map(|()| Decimal::new(i64::try_from(random.below(400) + 5).unwrap(), 2));
    let digits = u32::try_from(random.below(3) + 2).unwrap();
    let comments = usize::try_from(44 + random.below(20)).unwrap();
    // mmol × g/mol is mg; molar masses and strengths are written, so that nothing depends on the library.
    let n = |equivalents: Decimal| scale * equivalents;
    let number = |text: &str| text.parse::<Decimal>().unwrap();
    let half = number("0.50");
    let has = |random: &mut Random| whole || random.below(2) == 0;
    let (with_b, with_base) = (has(random), has(random));
    plan.letters("plan A run of 12 mmol\nscale ");
    plan.parts.push(Part::Scale(scale.to_string(), "mmol"));
    plan.letters(" a\nroom 21 °C, 45 % RH\nmaterials\n");
    plan.letters("  a:    alpha, MW 182.2, 50 wt% in oil, 1.00 eq, ")
        .follows(
            rounded(n(Decimal::ONE) * number("182.2") / half, digits),
            "mg",
        )
        .letters("\n");
    if with_b {
        plan.letters(&format!("  b:    beta, 2.50 mmol/g, {eq_b} eq, "))
            .follows(rounded(n(eq_b) / number("2.50"), digits), "g")
            .letters(", ")
            .follows(rounded(n(eq_b), digits), "mmol")
            .pad(comments)
            .letters("# of 25.0 g in the bottle\n");
    }
    if with_base {
        plan.letters(&format!("  base: gamma, 2.50 M in hexanes, {eq_c} eq, "))
            .follows(rounded(n(eq_c) / number("2.50"), digits), "mL")
            .letters("\n");
    }
    plan.letters("  salt: sodium chloride, 0.50 M in water, ")
        .alone(random.number(), random.one_of(&["mg", "g", "kg"]))
        .pad(comments)
        .letters("# dry\n");
    plan.letters("  thf:  delta, 0.50 M in tetrahydrofuran, ")
        .alone(random.number(), random.one_of(&["mL", "L", "µL"]))
        .letters(", 10 ppm water")
        .pad(comments)
        .letters("# 20 mL to begin with\n");
    if with_b {
        plan.letters("  acid: epsilon, 2 M in water, 8 mol%, 5.01 mL/g of b\n");
    }
    if has(random) {
        plan.letters("products\n  p: zeta, MW 200.0, 90 wt% in oil, 1.00 eq, expect 85 %\n");
    }
    plan.letters("equipment\n  flask: 250 mL flask\n  syringes: 5 mL and 20 mL syringes\nsteps\n");
    plan.letters("  add thf ")
        .alone(random.number(), random.one_of(&["mL", "L"]))
        .letters(" over 10 min, at -78 °C")
        .pad(comments)
        .letters("# 1250 mL is too much\n");
    if has(random) {
        plan.letters("  evacuate and refill with argon, 3 cycles, 1 mbar\n");
    }
    if has(random) {
        plan.letters("  add ")
            .alone(random.number(), "mL")
            .letters(" of thf via syringe pump at 5.0 mL/h\n");
    }
    plan.letters("  dissolve salt ")
        .alone(random.number(), random.one_of(&["mg", "g"]))
        .letters(" in thf ")
        .alone(random.number(), "mL")
        .pad(comments)
        .letters("# 8 °C\n");
    if with_base {
        plan.letters("  add base dropwise\n");
    }
    if has(random) {
        plan.letters("  quench with water ")
            .alone(random.number(), "mL")
            .letters(" dropwise over 5 min, below 0 °C, until 2 mL of foam\n");
    }
    if has(random) {
        plan.letters("  wash organics with water, 3 x ")
            .alone(random.number(), "mL")
            .letters("\n  concentrate to ")
            .alone(random.number(), "mL")
            .letters("\n");
    }
    if has(random) {
        plan.letters("  add 2 drops of salt\n  note keep 5 mL aside for 1000 min\n");
    }
    plan
}

/// A number and its unit as they stand in a text.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Found {
    pub(crate) number: Decimal,
    pub(crate) text: String,
    pub(crate) unit: String,
}

impl Found {
    pub(crate) fn new(number: &str, unit: &str) -> Found {
        Found {
            number: number.parse().expect(number),
            text: number.to_owned(),
            unit: unit.to_owned(),
        }
    }

    /// In mol, g or L.
    pub(crate) fn base(&self) -> Decimal {
        self.number * self.factor()
    }

    fn factor(&self) -> Decimal {
        let prefix = self
            .unit
            .trim_end_matches("mol")
            .trim_end_matches(['g', 'L']);
        match prefix {
            "n" => Decimal::new(1, 9),
            "µ" => Decimal::new(1, 6),
            "m" => Decimal::new(1, 3),
            "" => Decimal::ONE,
            "k" => Decimal::ONE_THOUSAND,
            other => panic!("{other}"),
        }
    }

    /// Half of its last digit, in mol, g or L.
    pub(crate) fn half_digit(&self) -> Decimal {
        Decimal::new(5, self.number.scale() + 1) * self.factor()
    }

    pub(crate) fn significant(&self) -> usize {
        let digits: String = self.text.chars().filter(char::is_ascii_digit).collect();
        digits.trim_start_matches('0').len()
    }
}

/// The numbers of a text that differs from a generated plan in its numbers, their units and runs of spaces only;
/// none if it differs in anything else.
pub(crate) fn dissect(plan: &Generated, text: &str) -> Option<Vec<Found>> {
    let text = collapse(text);
    let mut rest = text.as_str();
    let mut found = Vec::new();
    let mut spaced = false;
    for part in &plan.parts {
        match part {
            Part::Letters(letters) => {
                let mut letters = collapse(letters);
                if spaced && letters.starts_with("  ") {
                    letters = letters.trim_start().to_owned();
                    rest = rest.strip_prefix("  ")?;
                }
                rest = rest.strip_prefix(letters.as_str())?;
            }
            Part::Alone(..) | Part::Follows(..) | Part::Scale(..) => {
                let (number, after) = rest.split_once(' ')?;
                let end = after.find(|c: char| !c.is_alphabetic())?;
                found.push(Found::new(number, &after[..end]));
                rest = &after[end..];
            }
        }
        spaced = !matches!(part, Part::Letters(_));
    }
    rest.is_empty().then_some(found)
}

/// Runs of two spaces and more are two.
fn collapse(text: &str) -> String {
    let mut new = String::with_capacity(text.len());
    let mut spaces = 0;
    for c in text.chars() {
        spaces = if c == ' ' { spaces + 1 } else { 0 };
        if spaces <= 2 {
            new.push(c);
        }
    }
    new
}
