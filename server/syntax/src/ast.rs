//! What a line says, with the place of every word in it.
//!
//! Spans are bytes from the start of their line; `PlanText::absolute` makes them relative to the plan.
//! Texts are as written, except where a form is normalised (a joined locant, a folded dash): then
//! `text` is the reading and `span` still covers what was written.

use crate::number::{Number, Quantity};
use std::sync::Arc;

/// A stretch of a line, in bytes from the line's start.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Default)]
pub struct Span {
    /// First byte.
    pub start: u32,
    /// One past the last byte.
    pub end: u32,
}

/// Words of the plan and where they stand.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Text {
    /// The reading.
    pub text: Box<str>,
    /// Where it was written.
    pub span: Span,
}

/// The block that a line stands in.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Default)]
pub enum Block {
    /// Before the first header of a plan.
    #[default]
    None,
    /// `materials`
    Materials,
    /// `products`
    Products,
    /// `equipment`
    Equipment,
    /// `steps`
    Steps,
    /// `runs`
    Runs,
}

/// One line, read.
#[derive(Clone, Debug, PartialEq)]
pub enum Statement {
    /// Nothing, or a comment alone.
    Blank,
    /// `plan TITLE`
    Plan(Option<Text>),
    /// `materials` and its like.
    Header(Block),
    /// `scale QUANTITY KEY`
    Scale(Scale),
    /// `room 21 °C, 45 % RH`: the quantities given.
    Room(Vec<Quantity>),
    /// `reaction a + b -> c`
    Reaction(Reaction),
    /// `start 9:00`, minutes after midnight.
    Start(Option<(u16, Span)>),
    /// `author`, `date`, `source`, `note`: a word of the language and free text.
    Remark(RemarkKind, Option<Text>),
    /// A line of `materials` or `products`.
    /// Shared, so that who keeps it sees whether its line was read again.
    Entry(Arc<Entry>),
    /// A line of `equipment`.
    Equipment(Equipment),
    /// A line of `runs`.
    Run(Box<Run>),
    /// `in vial`, `meanwhile in flaskB`, `the day before`, alone on a line.
    Place(Place),
    /// A step.
    Step(Step),
    /// Kept as text: what could not be read, with its problem reported.
    Unread(Text),
}

/// What kind of free text a line is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum RemarkKind {
    /// `author`
    Author,
    /// `date`
    Date,
    /// `source`: the procedure that the plan follows.
    Source,
    /// `note`
    Note,
    /// A line of the steps that begins with `if`, or with no verb that is known.
    Remark,
}

/// `scale 5.00 mmol ketone`; what is missing was reported.
#[derive(Clone, Debug, PartialEq)]
pub struct Scale {
    /// The amount, mass or volume that is 1.00 eq.
    pub quantity: Option<Quantity>,
    /// Whose.
    pub key: Option<Text>,
}

/// `reaction 2 a + b -> c`
#[derive(Clone, Debug, PartialEq)]
pub struct Reaction {
    /// Before the arrow.
    pub left: Vec<Term>,
    /// After it.
    pub right: Vec<Term>,
    /// The whole equation.
    pub span: Span,
    /// The arrow, where there is one.
    pub arrow: Option<Span>,
}

/// A term of the equation: the coefficient as a fraction of whole numbers.
#[derive(Clone, Debug, PartialEq)]
pub struct Term {
    /// Numerator and denominator (1/1 where none is written).
    pub coefficient: (u32, u32),
    /// Where the coefficient stands, if it does.
    pub coefficient_span: Option<Span>,
    /// The words of the term.
    pub name: Text,
    /// Key or formula.
    pub referent: TermReferent,
}

/// What a term of the equation means.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum TermReferent {
    /// A line of the plan.
    Key(KeyId),
    /// Not a key: a library name or a formula, to be looked up.
    Other,
}

/// A line of `materials` or `products`.
#[derive(Clone, Debug, PartialEq)]
pub struct Entry {
    /// Its key.
    pub key: Text,
    /// True in `products`.
    pub product: bool,
    /// Its fields in the order written.
    pub fields: Vec<Field>,
}

/// One field of an entry.
#[derive(Clone, Debug, PartialEq)]
pub struct Field {
    /// What it is.
    pub kind: FieldKind,
    /// Its place, without the comma.
    pub span: Span,
}

/// The forms a field can have.
#[derive(Clone, Debug, PartialEq)]
pub enum FieldKind {
    /// Name, synonym or formula.
    Name(Text),
    /// `1,4-dioxane/water 4:1`: the parts and their shares by volume.
    Mixture(Vec<(Text, Number)>),
    /// `98-53-3`, `CAS 98-53-3`
    Cas(Text),
    /// `SMILES CC#N`; the text may be missing.
    Smiles(Option<Text>),
    /// `InChI=…`, with the prefix.
    Inchi(Text),
    /// `formula C5H11NO`
    Formula(Text),
    /// `MW 101.15`, g/mol.
    MolarMass(Number),
    /// `d 0.905`, g/mL where no unit is written.
    Density(Number, Option<Quantity>),
    /// `bp 116 °C`
    Boiling(Quantity),
    /// `mp -66 °C`
    Melting(Quantity),
    /// Any amount.
    Amount(Amount),
    /// `2.5 M in hexanes`, `60 wt% in mineral oil`, `sat. aq.`
    Strength(Strength),
    /// `found 2.41 M`
    Found(Quantity),
    /// `98 %`
    Assay(Quantity),
    /// `4.0 bar`: of a gas in a volume, absolute.
    Pressure(Quantity),
    /// `wet with 50 wt% water`
    Wet(Quantity, Text),
    /// `catalyst`
    Role(Role),
    /// `moisture-sensitive`, `not hygroscopic`
    Nature {
        /// Which.
        nature: Nature,
        /// `not …`
        denied: bool,
    },
    /// `dry`, `10 ppm water`, `over 3 Å sieves`, `degassed`
    Condition(Condition),
    /// `powder`, `turnings`: kept and shown.
    Form(Text),
    /// `bottle acid #3`
    Bottle(Text),
    /// `expect 85 %`
    Expect(Quantity),
    /// `obtained 5.62 g`
    Obtained(Quantity),
    /// `took 768 mg`
    Took(Quantity),
    /// Words kept beside the identity: a grade, how it was purified, and text that no form fits.
    Other(Text),
}

/// The role a line gives its substance.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Role {
    /// `reactant`
    Reactant,
    /// `reagent`
    Reagent,
    /// `catalyst`
    Catalyst,
    /// `additive`
    Additive,
    /// `ligand`
    Ligand,
    /// `scavenger`
    Scavenger,
    /// `solvent`
    Solvent,
    /// `by-product`
    ByProduct,
}

/// What a line says of how its substance behaves.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Nature {
    /// `moisture-sensitive`
    MoistureSensitive,
    /// `air-sensitive`
    AirSensitive,
    /// `pyrophoric`
    Pyrophoric,
    /// `light-sensitive`
    LightSensitive,
    /// `hygroscopic`
    Hygroscopic,
    /// `volatile`
    Volatile,
}

/// What state a line says its substance is in.
#[derive(Clone, Debug, PartialEq)]
pub enum Condition {
    /// `dry`, `anhydrous`, `absolute`
    Dry,
    /// `10 ppm water`, by mass.
    Water(Quantity),
    /// `over 3 Å sieves`
    Over(Text),
    /// `degassed`, `sparged`
    Degassed,
    /// `unstabilised`
    Unstabilised,
    /// `distilled`, `freshly distilled`, `distilled from CaH2`
    Distilled,
    /// `activated`
    Activated,
    /// `used as received`
    AsReceived,
}

/// An amount of a material or product.
#[derive(Clone, Debug, PartialEq)]
pub struct Amount {
    /// How it is meant.
    pub kind: AmountKind,
    /// The number and unit; none for `excess`.
    pub quantity: Option<Quantity>,
    /// `of lah` in `1.0 mL/g of lah`.
    pub of: Option<(Text, Option<KeyId>)>,
    /// Its place.
    pub span: Span,
}

/// The ways to state an amount.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum AmountKind {
    /// `1.20 eq`
    Equivalents,
    /// `10 mol%`, of the scale material or of another line.
    MolPercent,
    /// `6.00 mmol`
    Amount,
    /// `2.14 g`
    Mass,
    /// `2.30 mL`
    Volume,
    /// `5 mL/mmol`, `10 mL/g`, `1.0 g/mmol`, `0.5 g/g`, `1.0 mL/g of lah`
    Relative,
    /// `to 0.20 M`
    FillTo,
    /// `excess`
    Excess,
    /// `2 drops`: the count and what is counted. No quantity, never scaled.
    Uncounted(u32, Box<str>),
}

/// How strong a material is as it stands in its bottle.
#[derive(Clone, Debug, PartialEq)]
pub struct Strength {
    /// Which form.
    pub form: StrengthForm,
    /// The number; none for `sat. aq.`, `conc.`, `aq.`, `glacial`.
    pub quantity: Option<Quantity>,
    /// `hexanes` in `2.5 M in hexanes`, `carbon` in `10 wt% on carbon`, with the key if it is one.
    pub carrier: Option<(Text, Option<KeyId>)>,
    /// Its place.
    pub span: Span,
}

/// Forms of strength.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum StrengthForm {
    /// mol/L (`M`, `mM`, `mol/L`)
    Molar,
    /// `N`: mol of acid or base per litre.
    Normal,
    /// mol/kg of solvent (`m` is not accepted; `mol/kg`)
    Molal,
    /// `wt%`, `% w/w`, `g/g`
    MassFraction,
    /// `vol%`, `% v/v`
    VolumeFraction,
    /// `% w/v`: g per 100 mL
    MassPerVolumePercent,
    /// `g/L`, `mg/mL`
    MassConcentration,
    /// `mmol/g`, as of a supported reagent.
    Loading,
    /// `% in X`: by mass or by volume? Reported; read as by mass.
    UnclearPercent,
    /// `sat. aq.`
    SaturatedAqueous,
    /// `conc.`
    Concentrated,
    /// `aq.`
    Aqueous,
    /// `glacial`
    Glacial,
}

/// A line of `equipment`.
#[derive(Clone, Debug, PartialEq)]
pub struct Equipment {
    /// Its key.
    pub key: Text,
    /// The description, whole.
    pub text: Text,
    /// Capacities: `2 mL, 5 mL and 20 mL glass syringes` has three.
    pub sizes: Vec<Quantity>,
    /// `3 steel needles`, `2 x 50 mL tubes`
    pub number: Option<u32>,
    /// What it can do.
    pub kind: EquipmentKind,
    /// The last word of the head: `flask`, `vial`, `syringes`, `bar`.
    pub head: Box<str>,
}

/// A line of `runs`: the plan once more, with another amount or other substances.
#[derive(Clone, Debug, PartialEq)]
pub struct Run {
    /// What it is called.
    pub label: Text,
    /// Of the scale's material; the plan's own scale where none is written.
    pub amount: Option<Quantity>,
    /// What is other in it, each line at most once.
    pub changes: Vec<Change>,
}

/// `ketone is cyclohexanone, 99 %`: what the line `ketone` says instead.
#[derive(Clone, Debug, PartialEq)]
pub struct Change {
    /// The line's key.
    pub key: Text,
    /// The same, where the plan has it.
    pub id: Option<KeyId>,
    /// What is said of it; none where the key is not known.
    pub said: Option<Said>,
    /// From the key to the end.
    pub span: Span,
    /// Behind `is`.
    pub said_span: Span,
}

/// What a line says in a run.
#[derive(Clone, Debug, PartialEq)]
pub enum Said {
    /// Of a material or product.
    Entry(Entry),
    /// Of equipment.
    Equipment(Equipment),
}

/// Whether a thing can hold a reaction.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum EquipmentKind {
    /// Flask, tube, reactor: a reaction can stand in it.
    Vessel,
    /// Vial, funnel, syringe, trap, balloon: holds things.
    Holder,
    /// Anything else.
    Tool,
}

/// A line that says where the following steps happen.
#[derive(Clone, Debug, PartialEq)]
pub struct Place {
    /// Which form.
    pub kind: PlaceKind,
    /// The place named, if one is.
    pub thing: Option<Box<Thing>>,
    /// The whole.
    pub span: Span,
}

/// Forms of a place line.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum PlaceKind {
    /// `in vial`
    In,
    /// `meanwhile in flaskB`
    Meanwhile,
    /// `out of glovebox`
    OutOf,
    /// `the day before`
    DayBefore,
    /// `on the day`
    OnTheDay,
}

/// A step: one or more clauses.
#[derive(Clone, Debug, PartialEq)]
pub struct Step {
    /// Never empty, but for a lone step number (reported).
    pub clauses: Vec<Clause>,
}

/// A verb with what belongs to it.
#[derive(Clone, Debug, PartialEq)]
pub struct Clause {
    /// The verb.
    pub verb: Verb,
    /// Where it stands.
    pub verb_span: Span,
    /// From the verb to the clause's last word.
    pub span: Span,
    /// What `dry`, `wash` and `purge` mean here, from their objects, and whether `add` is written as `weigh into`.
    pub senses: Vec<Sense>,
    /// What it acts on.
    pub objects: Vec<Thing>,
    /// With what, where, how long.
    pub modifiers: Vec<Modifier>,
    /// The free text of `note`, `expect`, `check`.
    pub text: Option<Text>,
}

/// What a verb means, where its objects decide.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Sense {
    /// Dry or wash glass and tools.
    Glass,
    /// A solid or a reagent.
    Solid,
    /// A liquid, such as the organics.
    Liquid,
    /// What the vessel holds.
    Contents,
    /// Purge by a flow of gas.
    Flow,
    /// Purge by evacuating and refilling.
    Cycles,
    /// Add by weighing into the vessel.
    Weighed,
}

/// A key of the plan, by its position in [`crate::PlanText::keys`].
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct KeyId(pub u32);

/// A thing that a step names.
#[derive(Clone, Debug, PartialEq)]
pub struct Thing {
    /// Its words, without portion, article and adjective.
    pub name: Text,
    /// What they mean.
    pub referent: Referent,
    /// `cold`, `dry`, `boiling`, `combined`, before a key or standing name; `solution` of `the ketone solution`.
    pub adjective: Option<Text>,
    /// How much of it. `base (2.30 mL, 5.75 mmol)` has two.
    pub portions: Vec<Portion>,
}

impl Thing {
    /// Whether it is a solution of what it names: `the ketone solution`, `a solution of ketone`.
    #[must_use]
    pub fn is_solution(&self) -> bool {
        let word = self.adjective.as_ref().map(|text| &*text.text);
        word.is_some_and(|word| crate::words::is_one_of(word, crate::words::SOLUTIONS))
    }
}

/// What the words of a thing mean.
#[derive(Clone, Debug, PartialEq)]
pub enum Referent {
    /// A key of the plan.
    Key(KeyId),
    /// `organics`, `filtrate` …, and in which vessel, if said.
    Standing(Standing, Option<KeyId>),
    /// A name that `keep … as NAME` gave.
    Kept(KeyId),
    /// A gas by name, as an atmosphere; `flowing` for `a flow of argon`.
    Gas {
        /// `under a flow of`, `a stream of`.
        flowing: bool,
    },
    /// A substance by name, with a strength where one is written. The library may not have it.
    Substance(Option<Box<Strength>>),
    /// `hexanes/ethyl acetate 4:1`, `a 4:1 mixture of …`: parts with shares by volume.
    Mixture(Vec<(Text, Number)>),
    /// A place by its word: `air`, `dark`, `oven`, `ice bath`, `halogenated waste`.
    Place,
    /// `vacuum`, `rt`, `reflux`, `dryness`: a word of the language.
    Value,
    /// Words that are kept and not resolved (after `via`, `through`, `by`).
    Words,
    /// Should be a key and is none (reported).
    Unknown,
}

/// Names that the work-up makes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Standing {
    /// `organics`
    Organics,
    /// `aqueous`
    Aqueous,
    /// `filtrate`
    Filtrate,
    /// `solid`
    Solid,
    /// `liquid`
    Liquid,
    /// `residue`
    Residue,
}

/// How much of a thing.
#[derive(Clone, Debug, PartialEq)]
pub struct Portion {
    /// The share or quantity.
    pub kind: PortionKind,
    /// Its place.
    pub span: Span,
}

/// Forms of a portion.
#[derive(Clone, Debug, PartialEq)]
pub enum PortionKind {
    /// `20 mL`, `3 x 20 mL` (times 3), `1.0 mL/g of lah`, `10 mol% of ketone`, `about 15 mL`, `2 drops`.
    Amount {
        /// How often.
        times: u32,
        /// How much each time.
        amount: Amount,
    },
    /// `half`, `tenth`, `1/3`, `50 %`: numerator and denominator.
    Fraction(u32, u32),
    /// `rest`, `remaining`, `all`
    Rest,
}

/// A modifier of a clause.
#[derive(Clone, Debug, PartialEq)]
pub struct Modifier {
    /// Which.
    pub kind: ModifierKind,
    /// From its preposition to its last word.
    pub span: Span,
}

/// Modifiers, by what they mean.
#[derive(Clone, Debug, PartialEq)]
pub enum ModifierKind {
    /// `in thf 5 mL`: dissolved in.
    DissolvedIn(Vec<Thing>),
    /// `in vial`, `in air`: where.
    Place(Box<Thing>),
    /// `to flask`, `into flask`, `onto …`
    To(Vec<Thing>),
    /// `from balloon`
    From(Vec<Thing>),
    /// `with pentane 3 x 5 mL`, `with argon`, `with two people`
    With(Vec<Thing>),
    /// `without stirring`
    Without(Vec<Thing>),
    /// `over magnesium sulfate`
    OverAgent(Vec<Thing>),
    /// `on silica 40 g`
    On(Vec<Thing>),
    /// `through Celite`
    Through(Vec<Thing>),
    /// `under argon`, `under vacuum`
    Under(Vec<Thing>),
    /// `via syringe`; the tool's size where written.
    Via(Vec<Thing>),
    /// Another preposition with things: `by`, `as`, `during`.
    Other(Text, Vec<Thing>),
    /// `keep filtrate as liquor`
    As(Text),
    /// `for 2 h`, `over 10 min`, `overnight`, a bare time.
    Time(TimeKind, Option<Quantity>),
    /// `at 0 °C`, `to rt`, `below -70 °C`, `bath 95 °C`, a bare temperature.
    Temperature(TemperatureKind, TemperatureValue),
    /// `1 mbar`
    Pressure(PressureKind, Quantity),
    /// `at 5.0 mL/h`
    Rate(Quantity),
    /// `at 300 rpm`
    Stirring(Quantity),
    /// `to pH 7`
    Ph(Number),
    /// `to 0.20 M`, `to 5 mL`: what the step brings the contents to.
    Until(Quantity),
    /// `to dryness`, `to constant mass`
    End(Text),
    /// `3 cycles`, `2 times`, `in 3 portions`, `3x`
    Count(CountKind, u32),
    /// `last 2 steps`: how many.
    LastSteps(u32),
    /// `dropwise`, `quickly`, `at once`
    Adverb(Text),
    /// `until no ketone by TLC`
    UntilText(Option<Text>),
    /// `found 0.78 M`
    Found(Quantity),
    /// `to 20:1` in `pentane/ethyl acetate 40:1 to 20:1`: the ratio that the mixture is changed to.
    Gradient(Vec<Number>),
    /// `(ice bath)`, `if it boils stop adding`
    Remark(Text),
}

impl ModifierKind {
    /// What it names; empty for those that hold no things.
    #[must_use]
    pub fn things(&self) -> &[Thing] {
        match self {
            ModifierKind::Place(thing) => std::slice::from_ref(thing),
            ModifierKind::DissolvedIn(things)
            | ModifierKind::To(things)
            | ModifierKind::From(things)
            | ModifierKind::With(things)
            | ModifierKind::Without(things)
            | ModifierKind::OverAgent(things)
            | ModifierKind::On(things)
            | ModifierKind::Through(things)
            | ModifierKind::Under(things)
            | ModifierKind::Via(things)
            | ModifierKind::Other(_, things) => things,
            ModifierKind::As(_)
            | ModifierKind::Time(..)
            | ModifierKind::Temperature(..)
            | ModifierKind::Pressure(..)
            | ModifierKind::Rate(_)
            | ModifierKind::Stirring(_)
            | ModifierKind::Ph(_)
            | ModifierKind::Until(_)
            | ModifierKind::End(_)
            | ModifierKind::Count(..)
            | ModifierKind::LastSteps(_)
            | ModifierKind::Adverb(_)
            | ModifierKind::UntilText(_)
            | ModifierKind::Found(_)
            | ModifierKind::Gradient(_)
            | ModifierKind::Remark(_) => &[],
        }
    }
}

/// Which time a modifier gives.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum TimeKind {
    /// `for`
    For,
    /// `over`: the time of an addition or a change.
    Over,
    /// `overnight`: 16 h.
    Overnight,
}

/// Which temperature a modifier gives.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum TemperatureKind {
    /// `at`
    At,
    /// `to`
    To,
    /// `from`
    From,
    /// `below`
    Below,
    /// `above`
    Above,
    /// `bath`
    Bath,
}

/// A temperature, or a word for one.
#[derive(Clone, Debug, PartialEq)]
pub enum TemperatureValue {
    /// With its unit.
    Quantity(Quantity),
    /// `rt`, `room temperature`
    Room(Span),
    /// `reflux`
    Reflux(Span),
}

/// Which pressure a modifier gives.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum PressureKind {
    /// `at`, or bare.
    At,
    /// `to`
    To,
}

/// What a count counts.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum CountKind {
    /// `3 cycles`
    Cycles,
    /// `2 times`, `twice`, `3x`
    Times,
    /// `2 more times`
    MoreTimes,
    /// `3 portions`
    Portions,
}

macro_rules! verbs {
    ($($variant:ident = $first:literal $(| $other:literal)*;)*) => {
        /// The verbs of the language.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
        pub enum Verb {
            $(#[doc = $first] $variant,)*
        }
        impl Verb {
            /// Every spelling, with its verb.
            pub const SPELLINGS: &'static [(&'static str, Verb)] =
                &[$(($first, Verb::$variant) $(, ($other, Verb::$variant))*),*];
            /// The word as the language writes it.
            #[must_use]
            pub fn word(self) -> &'static str {
                match self { $(Verb::$variant => $first,)* }
            }
        }
    };
}

verbs! {
    Wash = "wash"; Rinse = "rinse" | "flush"; Drain = "drain"; AirDry = "air-dry" | "air dry";
    Dry = "dry" | "vacuum-dry" | "vacuum dry"; FlameDry = "flame-dry" | "flame dry";
    Bake = "bake" | "oven-dry" | "oven dry"; Wet = "wet"; Assemble = "assemble" | "set up";
    Attach = "attach" | "connect" | "equip" | "fit";
    Place = "place" | "put" | "lower" | "immerse"; Remove = "remove" | "take" | "withdraw";
    Cool = "cool" | "lower the temperature" | "chill" | "recool" | "cool down" | "let cool" | "allow to cool" | "let it cool"
        | "allow it to cool" | "freeze";
    Warm = "warm" | "warm up" | "let warm" | "allow to warm" | "let come" | "allow to come" | "let it warm"
        | "allow it to warm" | "bring" | "bring up" | "thaw" | "let thaw" | "allow to thaw";
    Heat = "heat" | "heat up" | "reheat" | "raise the temperature" | "increase the temperature";
    Reflux = "reflux" | "heat under reflux" | "bring to reflux" | "bring to a boil" | "bring to the boil" | "allow to reflux" | "let reflux"; Hold = "hold" | "maintain" | "age" | "incubate" | "store";
    Evacuate = "evacuate" | "pump down";
    EvacuateAndRefill = "evacuate and refill" | "evacuate and backfill" | "evacuate and fill";
    Purge = "purge"; Sparge = "sparge" | "bubble"; Fill = "fill" | "backfill" | "refill" | "pressurise" | "pressurize";
    Vent = "vent" | "vented" | "depressurise" | "depressurize" | "release pressure" | "release the pressure";
    Open = "open"; Seal = "seal" | "cap" | "stopper" | "close" | "reseal"; Weigh = "weigh" | "weigh out";
    Grind = "grind" | "crush" | "pulverise" | "pulverize"; Add = "add" | "inject" | "introduce" | "condense" | "pipette" | "drip" | "dose" | "feed";
    Charge = "charge" | "treat" | "layer"; Dissolve = "dissolve" | "redissolve" | "take up"; MakeUp = "make up";
    Transfer = "transfer" | "cannulate" | "cannula transfer" | "cannula-transfer"; Titrate = "titrate";
    Stir = "stir" | "swirl" | "shake" | "agitate" | "sonicate" | "let stir" | "allow to stir" | "leave to stir"
        | "keep stirring" | "continue stirring" | "begin stirring" | "irradiate" | "hydrogenate" | "let react"
        | "allow to react";
    Settle = "settle" | "allow the phases to separate" | "allow the layers to separate" | "let the phases separate"
        | "let the layers separate" | "let settle" | "allow to settle" | "centrifuge" | "spin down";
    Decant = "decant" | "decant off" | "pour off" | "siphon" | "siphon off" | "draw off" | "pipette off";
    Wait = "wait" | "leave" | "let stand" | "allow to stand" | "leave to stand" | "let sit"
        | "allow to sit";
    Quench = "quench" | "neutralise" | "neutralize"; Acidify = "acidify" | "adjust"; Basify = "basify";
    Extract = "extract" | "back-extract" | "re-extract"; Separate = "separate" | "collect" | "isolate";
    Combine = "combine" | "mix"; Filter = "filter" | "filter off";
    Concentrate = "concentrate" | "evaporate" | "rotovap" | "rotavap" | "rotary-evaporate" | "rotary evaporate"
        | "concentrate down" | "evaporate solvent" | "evaporate the solvent" | "remove solvent"
        | "remove the solvent" | "remove solvents" | "remove the solvents" | "remove volatiles"
        | "remove the volatiles" | "strip" | "strip solvent" | "strip the solvent" | "let evaporate" | "allow to evaporate"
        | "let solvent evaporate" | "let the solvent evaporate" | "allow the solvent to evaporate" | "evaporate off"
        | "distil off" | "distill off" | "boil off";
    Coevaporate = "coevaporate" | "co-evaporate" | "azeotrope"; Distil = "distil" | "distill" | "steam distil" | "steam distill" | "steam-distil" | "steam-distill" | "sublime";
    Crystallise = "crystallise" | "crystallize" | "recrystallise" | "recrystallize"; Seed = "seed";
    Purify = "purify" | "chromatograph" | "column" | "flash column" | "flash-column" | "flash chromatograph"
        | "chromatography" | "column chromatography" | "flash chromatography"
        | "flash column chromatography" | "elute";
    Dilute = "dilute" | "top up" | "partition"; Pour = "pour" | "tip"; Suspend = "suspend" | "triturate" | "resuspend";
    Degas = "degas" | "freeze-pump-thaw" | "freeze pump thaw"; Keep = "keep"; Discard = "discard";
    Check = "check" | "TLC" | "run TLC" | "take TLC" | "monitor" | "confirm" | "verify" | "ensure"; Repeat = "repeat"; Expect = "expect";
    Note = "note";
}
