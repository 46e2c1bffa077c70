//! A value with what it claims and where it came from.

use chemistry::Source;
use smallvec::SmallVec;
use std::fmt;
use std::ops::{Add, Div, Mul};
use std::sync::Arc;
use syntax::Span;
use uom::si::f64::Ratio;

/// A place in a plan: a line, and bytes from that line's start.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct At {
    /// Index of the line.
    pub line: u32,
    /// Where in it.
    pub span: Span,
}

/// A quantity that was determined.
#[derive(Clone, Debug)]
pub struct Known<Q> {
    /// The value.
    pub value: Q,
    /// Half the width of the interval that is claimed around the value, in the value's unit: half of the
    /// last written digit for a number of the text, and what follows from it for a computed one (the
    /// relative half-widths add, which is the widest that they allow).
    pub half_width: Q,
    /// Where it came from.
    pub origin: Origin,
}

/// A quantity, or why there is none.
pub type Determined<Q> = Result<Known<Q>, Gap>;

/// Why a quantity could not be determined, in plain words that say what to add.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Gap(pub Arc<str>);

impl Gap {
    /// A gap with this reason.
    #[must_use]
    pub fn new(reason: impl Into<Arc<str>>) -> Self {
        Gap(reason.into())
    }
}

impl fmt::Display for Gap {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

/// Where a value came from.
#[derive(Clone, Debug)]
pub enum Origin {
    /// Written in the plan.
    Written(At),
    /// A convention, named.
    Convention(&'static str),
    /// The library.
    Library {
        /// The substance's name and the field.
        what: Arc<str>,
        /// The source of the value.
        source: Source,
    },
    /// A bottle of the inventory.
    Bottle {
        /// Its name.
        name: Arc<str>,
        /// Which of its fields.
        field: &'static str,
    },
    /// Standard atomic weights over this formula.
    AtomicWeights(Arc<str>),
    /// Computed from other values.
    Computed(Arc<Computed>),
}

/// How a value was computed.
#[derive(Debug)]
pub struct Computed {
    /// The rule, in words: `amount × molar mass`.
    pub rule: &'static str,
    /// What went in.
    pub from: SmallVec<[Origin; 2]>,
}

impl Origin {
    /// Computed by a rule from others.
    #[must_use]
    pub fn computed(rule: &'static str, from: &[&Origin]) -> Self {
        let from = match *from {
            [a, b] => SmallVec::from_buf([a.clone(), b.clone()]),
            _ => from.iter().map(|&origin| origin.clone()).collect(),
        };
        Origin::Computed(Arc::new(Computed { rule, from }))
    }

    /// The chain in one line: `amount × molar mass (written on line 8; standard atomic weights, CIAAW 2021)`.
    /// Lines are counted from 1 within the plan; `first_line` is added to them.
    #[must_use]
    pub fn describe(&self, first_line: usize) -> String {
        match self {
            Origin::Written(at) => format!("written on line {}", at.line as usize + first_line + 1),
            Origin::Convention(what) => (*what).to_owned(),
            Origin::Library { what, source } => format!("{what}: {}", source.citation),
            Origin::Bottle { name, field } => format!("{field} of bottle {name}, by the inventory"),
            Origin::AtomicWeights(formula) => {
                format!("standard atomic weights (CIAAW 2021) over {formula}")
            }
            Origin::Computed(computed) => {
                let mut roots = Vec::new();
                self.roots(first_line, &mut roots);
                format!("{} ({})", computed.rule, roots.join("; "))
            }
        }
    }

    fn roots(&self, first_line: usize, into: &mut Vec<String>) {
        match self {
            Origin::Computed(computed) => {
                for origin in &computed.from {
                    origin.roots(first_line, into);
                }
            }
            root => {
                let text = root.describe(first_line);
                if !into.contains(&text) {
                    into.push(text);
                }
            }
        }
    }
}

impl<Q: Copy> Known<Q> {
    /// A value from the text, with half of its last digit on either side.
    pub fn new(value: Q, half_width: Q, origin: Origin) -> Self {
        Known {
            value,
            half_width,
            origin,
        }
    }

    /// This times that; relative half-widths add.
    pub fn times<B, C>(&self, other: &Known<B>, rule: &'static str) -> Known<C>
    where
        Q: Mul<B, Output = C>,
        B: Copy,
        C: Add<Output = C>,
    {
        Known {
            value: self.value * other.value,
            half_width: self.half_width * other.value + self.value * other.half_width,
            origin: Origin::computed(rule, &[&self.origin, &other.origin]),
        }
    }

    /// This over that; relative half-widths add. The caller has seen that the divisor is not zero.
    pub fn over<B, C>(&self, other: &Known<B>, rule: &'static str) -> Known<C>
    where
        Q: Div<B, Output = C>,
        B: Copy + Div<B, Output = Ratio>,
        C: Copy + Add<Output = C> + Mul<Ratio, Output = C>,
    {
        let value = self.value / other.value;
        Known {
            value,
            half_width: self.half_width / other.value + value * (other.half_width / other.value),
            origin: Origin::computed(rule, &[&self.origin, &other.origin]),
        }
    }

    /// The same value from somewhere else, where that is given.
    #[must_use]
    pub(crate) fn from(mut self, origin: Option<&Origin>) -> Self {
        if let Some(origin) = origin {
            self.origin = origin.clone();
        }
        self
    }

    /// The same value under a rule of its own.
    #[must_use]
    pub fn by(mut self, rule: &'static str) -> Self {
        self.origin = Origin::computed(rule, &[&self.origin]);
        self
    }
}

impl<Q: Copy + Add<Output = Q>> Known<Q> {
    /// The sum; half-widths add.
    pub fn plus(&self, other: &Known<Q>, rule: &'static str) -> Known<Q> {
        Known {
            value: self.value + other.value,
            half_width: self.half_width + other.half_width,
            origin: Origin::computed(rule, &[&self.origin, &other.origin]),
        }
    }
}

/// A share that is 1 by convention.
#[must_use]
pub fn unity(why: &'static str) -> Known<Ratio> {
    use uom::si::ratio::ratio;
    Known::new(
        Ratio::new::<ratio>(1.0),
        Ratio::new::<ratio>(0.0),
        Origin::Convention(why),
    )
}
