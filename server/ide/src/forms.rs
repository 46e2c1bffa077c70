//! What steps may say behind their verb: one table for completion and for the help beside the cursor. The tests hold
//! every form against the reader.

use syntax::Verb;

/// A part of a step.
#[derive(Debug, PartialEq, Eq)]
pub(crate) struct Form {
    /// As it is shown, what is to be filled in in capitals.
    pub(crate) shown: &'static str,
    /// What it says.
    pub(crate) about: &'static str,
    /// What completion offers to begin it.
    pub(crate) begins: &'static [&'static str],
    /// How it may read.
    pub(crate) example: &'static str,
}

macro_rules! forms {
    ($($name:ident = $shown:literal, $about:literal, $begins:expr, $example:literal;)*) => {
        $(pub(crate) const $name: Form = Form {
            shown: $shown, about: $about, begins: &$begins, example: $example,
        };)*
    };
}

forms! {
    // What the verb acts on.
    THING = "THING AMOUNT", "what, and how much of it: all of it where nothing is said", [], "salt 5 mL";
    THINGS = "THINGS", "what it is done to", [], "flask, bar";
    VESSEL = "VESSEL", "which one; the one at hand where nothing is said", [], "flask";
    PRODUCT = "LIQUID OR SOLID", "`organics`, `aqueous`, `filtrate`, `solid`, `residue`, or a key", [], "organics";
    STEPS = "last NUMBER steps", "how many steps again", ["last "], "last 2 steps";
    // Where.
    TO_VESSEL = "to VESSEL", "where it goes", ["to ", "into "], "to flask";
    IN_PLACE = "in VESSEL", "where it is done", ["in "], "in vial";
    FROM = "from VESSEL", "where it comes from", ["from "], "from vial";
    THROUGH = "through FILTER", "what holds the solid back, or lets the gas out", ["through "], "through Celite";
    ON = "on ADSORBENT AMOUNT", "the column", ["on silica "], "on silica 40 g";
    VIA = "via TOOL", "with which tool", ["via syringe", "via cannula"], "via syringe";
    UNDER = "under GAS", "what is above it", ["under argon", "under nitrogen", "under vacuum"], "under argon";
    WITH_GAS = "with GAS", "which gas", ["with argon", "with nitrogen"], "with argon";
    // With what.
    IN_LIQUID = "in LIQUID AMOUNT", "dissolved in what", ["in "], "in thf 5 mL";
    WITH = "with LIQUID AMOUNT", "with what, and how much each time", ["with "], "with pentane, 3 x 20 mL";
    FROM_LIQUID = "from LIQUID AMOUNT", "from which solvent", ["from "], "from ethanol 20 mL";
    OVER_AGENT = "over AGENT", "which drying agent", ["over "], "over magnesium sulfate";
    // How.
    HOW = "dropwise", "how fast", ["dropwise", "slowly"], "dropwise";
    PORTIONS = "in NUMBER portions", "how often", ["in "], "in 3 portions";
    CYCLES = "NUMBER cycles", "how often", [], "3 cycles";
    TIMES = "NUMBER times", "how often", [], "2 times";
    OVER = "over TIME", "in how much time", ["over "], "over 10 min";
    FOR = "for TIME", "how long", ["for ", "overnight"], "for 2 h";
    UNTIL = "until OBSERVATION", "what ends it", ["until "], "until no ketone by TLC";
    AT = "at TEMPERATURE", "how warm or cold", ["at "], "at 0 °C";
    TO_TEMPERATURE = "to TEMPERATURE", "how warm or cold it becomes", ["to "], "to 0 °C";
    BELOW = "below TEMPERATURE", "not warmer than", ["below "], "below 5 °C";
    AT_STIRRING = "at SPEED", "how fast it is stirred", [], "at 300 rpm";
    PRESSURE = "PRESSURE", "which pressure", [], "1 mbar";
    TO_END = "to END", "`dryness`, `constant mass`, or a volume", ["to "], "to dryness";
    TO_PH = "to pH NUMBER", "the acidity that it comes to", ["to pH "], "to pH 7";
    TO_STRENGTH = "to STRENGTH", "the concentration that it comes to", ["to "], "to 0.20 M";
    FOUND = "found STRENGTH", "the titre", ["found "], "found 0.78 M";
    AS = "as NAME", "a name of your choice for it", ["as "], "as liquor";
}

/// What a step with this verb may say, what it acts on first; nothing for verbs with free text.
pub(crate) fn forms(verb: Verb) -> &'static [&'static Form] {
    match verb {
        Verb::Add | Verb::Charge => &[
            &THING, &TO_VESSEL, &HOW, &PORTIONS, &OVER, &VIA, &AT, &BELOW, &UNDER,
        ],
        Verb::Transfer => &[&VESSEL, &TO_VESSEL, &HOW, &OVER, &VIA, &AT, &BELOW, &UNDER],
        Verb::Pour => &[&VESSEL, &TO_VESSEL, &HOW, &OVER, &BELOW],
        Verb::Decant => &[&VESSEL, &TO_VESSEL, &VIA],
        Verb::Dissolve | Verb::Suspend => &[&THING, &IN_LIQUID],
        Verb::MakeUp => &[&THING, &IN_PLACE],
        Verb::Dilute => &[&VESSEL, &WITH, &TO_STRENGTH],
        Verb::Quench => &[&WITH, &HOW, &OVER, &BELOW],
        Verb::Acidify | Verb::Basify => &[&WITH, &TO_PH, &HOW, &BELOW],
        Verb::Titrate => &[&THING, &WITH, &FOUND],
        Verb::Weigh => &[&THING, &UNDER],
        Verb::Grind => &[&THING],
        Verb::Seed => &[&WITH],
        Verb::Cool | Verb::Warm => &[&VESSEL, &TO_TEMPERATURE, &OVER, &UNDER],
        Verb::Heat => &[&VESSEL, &TO_TEMPERATURE, &OVER, &FOR, &UNDER],
        Verb::Reflux => &[&VESSEL, &FOR, &UNTIL, &UNDER],
        Verb::Hold => &[&AT, &FOR, &UNTIL],
        Verb::Stir => &[&VESSEL, &FOR, &AT, &AT_STIRRING, &UNDER, &UNTIL],
        Verb::Wait | Verb::Settle => &[&FOR, &UNTIL],
        Verb::Evacuate => &[&VESSEL, &PRESSURE, &FOR],
        Verb::EvacuateAndRefill => &[&VESSEL, &WITH_GAS, &CYCLES, &PRESSURE],
        Verb::Purge | Verb::Sparge => &[&VESSEL, &WITH_GAS, &FOR],
        Verb::Fill => &[&VESSEL, &WITH_GAS],
        Verb::Degas => &[&VESSEL, &CYCLES],
        Verb::Vent => &[&VESSEL, &THROUGH],
        Verb::Open | Verb::Seal | Verb::Drain => &[&VESSEL],
        Verb::Wash => &[&THINGS, &WITH, &TIMES],
        Verb::Rinse => &[&VESSEL, &WITH, &TO_VESSEL],
        Verb::Dry => &[&THINGS, &AT, &FOR, &UNDER, &PRESSURE, &OVER_AGENT],
        Verb::Bake => &[&THINGS, &AT, &FOR],
        Verb::FlameDry => &[&THINGS, &UNDER],
        Verb::AirDry => &[&THINGS, &FOR],
        Verb::Wet => &[&PRODUCT, &WITH],
        Verb::Assemble => &[&THINGS, &UNDER],
        Verb::Attach => &[&THINGS, &TO_VESSEL],
        Verb::Place => &[&THINGS, &IN_PLACE],
        Verb::Remove => &[&THINGS, &FROM],
        Verb::Extract => &[&PRODUCT, &WITH],
        Verb::Separate => &[&PRODUCT],
        Verb::Combine => &[&PRODUCT],
        Verb::Filter => &[&VESSEL, &THROUGH, &TO_VESSEL, &UNDER],
        Verb::Concentrate => &[&PRODUCT, &AT, &PRESSURE, &TO_END],
        Verb::Coevaporate => &[&WITH, &TIMES],
        Verb::Distil => &[&PRODUCT, &AT, &PRESSURE, &TO_VESSEL],
        Verb::Crystallise => &[&PRODUCT, &FROM_LIQUID],
        Verb::Purify => &[&PRODUCT, &ON, &WITH],
        Verb::Keep => &[&PRODUCT, &AS],
        Verb::Discard => &[&PRODUCT, &IN_PLACE],
        Verb::Repeat => &[&STEPS],
        Verb::Check | Verb::Expect | Verb::Note => &[],
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use syntax::{ModifierKind, Statement};

    /// Every form of every verb reads without a problem, and behind the verb as a modifier that is understood.
    #[test]
    fn every_form_is_read() {
        let plan = "materials\n  salt: sodium chloride\n  thf: tetrahydrofuran\n  pentane: pentane\n  ketone: cyclohexanone\n\
                    equipment\n  flask: 100 mL flask\n  vial: 10 mL vial\n  bar: stir bar\nsteps\n";
        for &(_, verb) in Verb::SPELLINGS
            .iter()
            .filter(|(word, verb)| verb.word() == *word)
        {
            for form in forms(verb) {
                let step = format!("  {} {}", verb.word(), form.example);
                let text = syntax::read_plan(&format!("{plan}{step}\n"));
                let line = text
                    .lines
                    .iter()
                    .rev()
                    .nth(1)
                    .map(|line| (&line.statement, &line.problems));
                let Some((Statement::Step(found), problems)) = line else {
                    unreachable!("{step} is no step");
                };
                // The form is tried alone, without what is added.
                let unread = problems
                    .iter()
                    .find(|problem| problem.code != "missing-object");
                assert_eq!(unread, None, "{step}");
                let [clause] = found.clauses.as_slice() else {
                    unreachable!("{step} has several clauses");
                };
                let modifiers = clause.modifiers.iter();
                let understood =
                    modifiers.filter(|modifier| !matches!(modifier.kind, ModifierKind::Other(..)));
                let read = clause.objects.len() + understood.count();
                assert!(read > 0, "{step}");
            }
        }
    }

    #[test]
    fn what_begins_a_form_is_how_it_reads() {
        for &(_, verb) in Verb::SPELLINGS {
            for form in forms(verb) {
                let first = |text: &str| text.split(' ').next().map(str::to_owned);
                for begins in form.begins {
                    let same = first(begins) == first(form.example);
                    // `into` is `to`, and `overnight` a time.
                    assert!(
                        same || matches!(*begins, "into " | "overnight" | "slowly"),
                        "{form:?}"
                    );
                }
            }
        }
    }
}
