//! The page itself.

use crate::bench::{self, Bench};
use crate::hazards::{self, Harm};
use crate::measuring::Draw;
use crate::steps::{self, Row, StateRow, StepRow};
use crate::waste::{self, Stream};
use crate::{before, content_hash, exposure, fitting, gas, pictures, sources};
use checks::{Finding, Severity};
use maud::{DOCTYPE, Markup, PreEscaped, html};
use plan::{Date, Material, show};
use syntax::RemarkKind;
use uom::si::ratio::percent;

const STYLE: &str = include_str!("style.css");

/// Digits of the hash that are printed.
const SHORT: usize = 12;

pub(crate) fn document(bench: &Bench<'_>, printed: Option<Date>) -> Markup {
    let plan = bench.plan;
    let title = plan.title.as_ref();
    let title = title.map_or("Plan without a title", |title| &title.text);
    let hash = content_hash(plan);
    let short = hash.get(..SHORT).unwrap_or_default();
    let day = printed.map(|date| date.to_string()).unwrap_or_default();
    // Hexadecimal digits and a date: nothing of the plan's text gets into the style sheet.
    let foot = format!(
        "@page {{ @bottom-left {{ content: \"plan {short}{}{day}\" }} }}",
        if day.is_empty() { "" } else { " · printed " }
    );
    let path = gas::path(bench);
    let rows = steps::rows(bench);
    html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                title { (title) " – bench sheet" }
                style { (PreEscaped(STYLE)) (PreEscaped(foot)) }
            }
            body {
                (head(bench, title, short, &day))
                main {
                    (findings(bench))
                    (day_picture(bench))
                    (measure(bench))
                    @if let Some(path) = &path { (gas_line(path)) }
                    (prepare(bench))
                    (procedure(bench, &rows))
                    (danger(bench, path.is_some()))
                    (waste_streams(bench))
                    (signatures(rows.iter().any(is_for_two)))
                }
                (foot_of_page(bench, &hash, &day))
            }
        }
    }
}

/// What is not of the plan says so.
fn practice() -> Markup {
    html! { " " small.practice { "common practice" } }
}

fn head(bench: &Bench<'_>, title: &str, short: &str, day: &str) -> Markup {
    let plan = bench.plan;
    let scale = plan.scale_quantity();
    let scale = scale.and_then(|(line, quantity)| plan.slice(line, quantity.span));
    let key = plan.ledger.scale.as_ref().and_then(|scale| scale.key);
    let of = key.and_then(|key| plan.material(key));
    let or_line = |words: Vec<&str>| {
        html! { @if words.is_empty() { span.blank {} } @else { (words.join("; ")) } }
    };
    html! {
        header {
            p.kind { "Bench sheet" span.version { "plan " code { (short) } } }
            h1 { (title) }
            dl {
                div { dt { "Scale" } dd.strong {
                    @match scale {
                        Some(scale) => { (scale) @if let Some((material, _)) = of { " " (material.key.text) } }
                        None => "none is stated",
                    }
                } }
                div { dt { "Author" } dd { (or_line(bench.remark(RemarkKind::Author))) } }
                div { dt { "Date of the plan" } dd { (or_line(bench.remark(RemarkKind::Date))) } }
                div { dt { "Printed" } dd { (or_line(if day.is_empty() { Vec::new() } else { vec![day] })) } }
                div.wide { dt { "Procedure followed" } dd { (or_line(bench.remark(RemarkKind::Source))) } }
            }
        }
    }
}

fn findings(bench: &Bench<'_>) -> Markup {
    let graves = bench
        .findings
        .iter()
        .filter(|finding| finding.severity <= Severity::Warning || may_explode(finding));
    let mut graves: Vec<_> = graves.collect();
    graves.sort_by_key(|finding| finding.severity);
    if graves.is_empty() {
        return html! {
            p.clear { "The checks of the plan leave no errors and no warnings." }
        };
    }
    html! {
        section.findings aria-labelledby="findings" {
            h2 #findings { "Not settled in the plan" }
            ul {
                @for finding in graves {
                    li {
                        strong { (word(finding.severity)) }
                        " · "
                        (match bench.number(finding.at.line) {
                            Some(number) => format!("step {number}"),
                            None => format!("line {} of the plan", finding.at.line + 1),
                        })
                        ": " (marked(&finding.message)) " " small { "(" (finding.check) ")" }
                    }
                }
            }
        }
    }
}

/// What holds for a plan that is settled, and still has to be read at the bench.
fn may_explode(finding: &Finding) -> bool {
    finding.check == "energetic-product"
}

fn word(severity: Severity) -> &'static str {
    match severity {
        Severity::Error => "Error",
        Severity::Warning => "Warning",
        Severity::Information | Severity::Hint => "Remark",
    }
}

/// A message, with what it quotes of the plan set apart.
fn marked(message: &str) -> Markup {
    html! {
        @for (index, words) in message.split('`').enumerate() {
            @if index % 2 == 1 { code { (words) } } @else { (words) }
        }
    }
}

fn day_picture(bench: &Bench<'_>) -> Markup {
    let timelines = pictures::timelines(bench);
    if timelines.is_empty() {
        return html! {};
    }
    html! {
        section.day aria-labelledby="day" {
            h2 #day { "The day" }
            @for (index, picture) in timelines.iter().enumerate() {
                figure {
                    @if let Some(name) = part_name(picture.part, bench.times.parts.len()) { h3 { (name) } }
                    (picture.svg)
                    figcaption {
                        @if index == 0 {
                            span.legend { span.key.hands {} "hands-on" }
                            span.legend { span.key.wait {} "waiting" }
                            span.legend { span.key.instant {} "states no time" }
                            "Line: temperature in " (bench.name(bench.flask)) ". Beyond an hour the scale is shortened. "
                        }
                        (picture.words.trim_start_matches("Timeline. "))
                    }
                }
            }
        }
    }
}

/// What a part of a plan with several is called.
fn part_name(part: usize, parts: usize) -> Option<String> {
    match (part, parts) {
        (_, 0 | 1) => None,
        (0, 2) => Some("The day before".to_owned()),
        (1, 2) => Some("On the day".to_owned()),
        _ => Some(format!("Part {} of {parts}", part + 1)),
    }
}

fn measure(bench: &Bench<'_>) -> Markup {
    let turn = bench.work_up();
    let is_early = |draw: &&Draw| draw.line.is_none_or(|line| line < turn);
    let (early, late): (Vec<&Draw>, Vec<&Draw>) = bench.draws.iter().partition(is_early);
    let tools = || bench.draws.iter().filter_map(|draw| draw.tool.as_ref());
    let any = tools().any(|tool| tool.error.is_some());
    let assumed = tools().any(|tool| tool.assumed);
    html! {
        section.measure aria-labelledby="measure" {
            h2 #measure { "Measure, in this order" }
            @for (heading, draws) in [("For the reaction", early), ("From the quench on", late)] {
                @if !draws.is_empty() {
                    table {
                        caption { (if bench.quench.is_none() && heading != "For the reaction" { "For the work-up" } else { heading }) }
                        thead { tr {
                            th scope="col" { "For step" }
                            th scope="col" { "Take" }
                            th scope="col" { "Of, and with what" }
                            th scope="col" { "Taken" }
                        } }
                        tbody { @for draw in draws { (draw_row(bench, draw)) } }
                    }
                }
            }
            @if any {
                p.note {
                    "± is the greatest error that the tool may have"
                    @if assumed { "; the tools are assumed, for meniscus.toml names none" }
                    "."
                }
            }
        }
    }
}

fn draw_row(bench: &Bench<'_>, draw: &Draw) -> Markup {
    let step = draw.line.and_then(|line| bench.number(line));
    // `about 15 mL`: the word stands back.
    let (about, number) = draw
        .take
        .find(|c: char| c.is_ascii_digit())
        .and_then(|at| draw.take.split_at_checked(at))
        .unwrap_or(("", &draw.take));
    let unit = draw.take.rsplit_once(' ').map_or("", |(_, unit)| unit);
    let measured =
        draw.tool.is_some() || matches!(unit, "g" | "mg" | "kg" | "µg" | "L" | "mL" | "µL");
    html! {
        tr {
            td.step { @match step { Some(step) => (step), None => "–" } }
            td.take .words[!measured] {
                @if draw.times > 1 { span.times { (draw.times) " ×" } " " }
                @if !about.is_empty() && measured { span.times { (about) } (number) } @else { (draw.take) }
            }
            td {
                b { (draw.key) }
                @if !draw.what.is_empty() && draw.what != draw.key { " " (draw.what) }
                @if !draw.beside.is_empty() { " " span.beside { @for (index, words) in draw.beside.iter().enumerate() { @if index > 0 { " · " } span { (words) } } } }
                @if let Some(run) = &draw.run { div.run { (run) } }
                @if let Some(gap) = &draw.gap { div.gap { (gap) } }
                @if let Some(tool) = &draw.tool {
                    div.tool { (tool.name) @if let Some(reads) = &tool.reads { " · " span { "reads to " (reads) } } @if let Some(error) = &tool.error { " · " span { "± " (error) } } }
                }
            }
            td.taken {
                @if let Some(taken) = &draw.taken {
                    span.box .filled { (taken) }
                } @else if measured {
                    @for _ in 0..draw.times.min(4) { span.box { (unit) } }
                    @if draw.times > 4 { span.more { "…" } }
                }
            }
        }
    }
}

fn products(bench: &Bench<'_>) -> Markup {
    let plan = bench.plan;
    let lines = plan.materials.iter().zip(&plan.ledger.amounts);
    let products: Vec<_> = lines
        .filter(|(material, _)| material.product && material.role != Some(syntax::Role::ByProduct))
        .collect();
    if products.is_empty() {
        return html! {};
    }
    html! {
        table {
            caption { "At the end" }
            thead { tr {
                th scope="col" { "Expect" }
                th scope="col" { "Of" }
                th scope="col" { "Obtained" }
            } }
            tbody {
                @for (material, amounts) in products {
                    (product_row(bench.plan, material, amounts))
                }
            }
        }
    }
}

fn product_row(plan: &plan::Plan, material: &Material, amounts: &plan::Amounts) -> Markup {
    let obtained = material.obtained.as_ref();
    let obtained = obtained.and_then(|quantity| plan.slice(material.line, quantity.span));
    let mut places = plan.materials.iter();
    let index = places.position(|own| own.id == material.id);
    let run = plan.record().zip(index);
    let run = run.and_then(|(run, index)| run.words(plan, index));
    let theory = amounts.pure_mass.as_ref();
    let theory = theory.map(|known| show::mass(known.value));
    let expected = match &amounts.expected {
        Some((Ok(mass), _)) => Some(show::mass(mass.value)),
        _ => None,
    };
    // In the unit of what is expected.
    let shown = expected.as_ref().or(theory.as_ref().ok());
    let unit = shown.and_then(|shown| shown.rsplit(' ').next());
    let unit = unit.unwrap_or("g").to_owned();
    let share = material.expected_yield.as_ref();
    let share = share.map(|share| show::number(share.value.get::<percent>(), 2));
    html! {
        tr {
            td.take { @match (&expected, &theory) {
                (Some(expected), _) => (expected),
                (None, Ok(theory)) => (theory),
                (None, Err(_)) => "not known",
            } }
            td {
                b { (material.key.text) }
                @if *material.identity.name != *material.key.text { " " (material.identity.name) }
                " "
                span.beside { @match (expected.is_some(), share, &theory) {
                    (true, Some(share), Ok(theory)) => { (share) " % of " (theory) },
                    (_, _, Ok(_)) => "in theory",
                    (_, _, Err(gap)) => (gap),
                } }
                @if let Some(run) = &run { div.run { (run) } }
            }
            td.taken { @match obtained {
                Some(obtained) => span.box .filled { (obtained) },
                None => span.box { (unit) },
            } }
        }
    }
}

fn gas_line(path: &gas::GasPath<'_>) -> Markup {
    if let Some(highest) = &path.pressure {
        return pressure(path, highest.as_deref());
    }
    let gas = path.gases.join(", then ");
    let outlet = &path.outlet.words;
    html! {
        section.gas aria-labelledby="gas" {
            h2 #gas { "Gas: " (gas) ", from the cylinder to the hood" (practice()) }
            figure { (pictures::gas_path(path).svg) }
            ol.holds {
                li { span.tick {} div { "Cylinder chained. Regulator at 15–20 psi (about 1.0–1.4 bar), never into closed glass." } }
                li { span.tick {} div { "The way out is open before the tap: " (outlet) " sits on " (path.vessel) " and leads into the hood." } }
                li { span.tick {} div { b { "Go on only when gas leaves through the outlet. " }
                    "No bubbles: a leak (septum, joints, tubing) or a clogged needle. Close the tap, look, change the needle, begin again at 1." } }
            }
            @if !path.steps.is_empty() {
                p.note { "Look at the outlet again at " (bench::steps(&path.steps)) "." }
            }
        }
    }
}

/// A closed vessel has no outlet to look at: what holds the pressure is looked at before, and the gauge while it lasts.
fn pressure(path: &gas::GasPath<'_>, highest: Option<&str>) -> Markup {
    let vessel = path.vessel;
    html! {
        section.gas aria-labelledby="gas" {
            h2 #gas { "Gas under pressure: " (path.gases.join(", then ")) " in " (vessel) (practice()) }
            p.defer { "The manual of the vessel, local rules and a trained supervisor decide." }
            ol.holds {
                li { span.tick {} div { "Cylinder chained. " (vessel) ", its seal, gauge, tubing and relief (valve or bursting disc) are in date and rated for more than "
                    @match highest { Some(highest) => { (highest) ", the highest pressure of the plan" } None => "the highest pressure of the plan" }
                    ". No glass that is not made for pressure." } }
                li { span.tick {} div { "Closed by its manual, behind the shield or in its own bay. Filled with inert gas to the working pressure: " b { "go on only when the gauge stands still. " } "If it falls: vent, find the leak, begin again." } }
                li { span.tick {} div { "Air out with inert gas before any gas that burns goes in; that gas out with inert gas before it is opened. Every vent leads into the exhaust of the hood, slowly." } }
                li { span.tick {} div { "Fill slowly, close the cylinder, write down the pressure. Cold and without pressure before it is opened." } }
            }
            @if !path.steps.is_empty() {
                p.note { "Read the gauge at " (bench::steps(&path.steps)) "." }
            }
        }
    }
}

fn prepare(bench: &Bench<'_>) -> Markup {
    let tasks = before::tasks(bench);
    if tasks.is_empty() {
        return html! {};
    }
    html! {
        section.before aria-labelledby="before" {
            h2 #before { "The day before" }
            ul.ticks {
                @for task in tasks {
                    li { span.tick {} div {
                        (task.what)
                        @if !task.steps.is_empty() { " " span.beside { "(" (bench::steps(&task.steps)) ")" } }
                        @if let Some(how) = &task.practice { span.how { (how) (practice()) } }
                    } }
                }
            }
        }
    }
}

fn procedure(bench: &Bench<'_>, rows: &[Row<'_>]) -> Markup {
    let fill = pictures::fill(bench);
    html! {
        section.steps aria-labelledby="steps" {
            h2 #steps { "Steps" }
            @if let Some(fill) = fill {
                figure {
                    (fill.svg)
                    figcaption { (fill.words) " Dashed: two thirds. ?: not known." }
                }
            }
            (exposed(bench))
            p.note {
                @if rows.iter().any(is_for_two) { span.two { "2" } " two people" (practice()) ". " }
                "Begin: "
                @if bench.times.start.is_some() { "time of day" } @else { "after the start" }
                ", by the times that are stated; later where steps state none."
            }
            table {
                caption.hidden { "Steps, with boxes to tick, times and what to expect" }
                thead { tr {
                    th scope="col" { span.hidden { "Done" } }
                    th scope="col" { span.hidden { "Number" } }
                    th scope="col" { "Do" }
                    th.begin scope="col" { "Begin" }
                    th.lasts scope="col" { "Takes" }
                } }
                tbody { @for row in rows { (step_row(row)) } }
            }
            (products(bench))
        }
    }
}

/// What brings water and oxygen to the reagents that they destroy.
fn exposed(bench: &Bench<'_>) -> Markup {
    let pictures = exposure::pictures(bench);
    if pictures.is_empty() {
        return html! {};
    }
    html! {
        div.exposed {
            h3 { "Water and oxygen that reach what they destroy" }
            p.note {
                span.legend { span.key.wait {} "water" }
                span.legend { span.key.hands {} "oxygen" }
                "Each bar begins where the one above it ends. Dashed: from this part on it is worth a thought (an assumption for each kind of reagent). From low to high estimate, for most figures are known within a factor of two or three only."
            }
            @for picture in pictures {
                figure {
                    (picture.svg)
                    figcaption { (picture.words) }
                }
            }
        }
    }
}

fn is_for_two(row: &Row<'_>) -> bool {
    matches!(row, Row::Step(step) if step.two.is_some())
}

fn step_row(row: &Row<'_>) -> Markup {
    match row {
        Row::Place(words) => {
            html! { tr.place { td {} td {} th colspan="3" scope="rowgroup" { (words) } } }
        }
        Row::Remark(words) => html! { tr.remark { td {} td {} td colspan="3" { (words) } } },
        Row::State(state) => state_row(state),
        Row::Step(step) => one_step(step),
    }
}

fn state_row(state: &StateRow<'_>) -> Markup {
    html! {
        tr.state { td colspan="5" { div {
            @if let Some(fill) = state.fill { (pictures::flask(fill)) }
            p {
                b { "Stop and look, " (state.before) ". " }
                (state.vessel) ": " @for (index, words) in state.words.iter().enumerate() { @if index > 0 { " · " } span.whole { (words) } }
                span.seen { span.tick {} "as expected" span.tick {} "not so: " span.blank {} }
            }
        } } }
    }
}

fn one_step(step: &StepRow<'_>) -> Markup {
    html! {
        tr class=[(!step.done).then_some("said")] {
            td.done { @if step.done { span.tick {} } }
            td.number { (step.number) }
            td.do {
                (step.words)
                @for (key, amount) in &step.takes { " " span.amount { (key) " " (amount) } }
                @if let Some(comment) = step.comment { span.comment { (comment) } }
                @if let Some(why) = step.two { span.pair { span.two { "2" } "two people: " (why) } }
            }
            td.time { @if let Some(begins) = &step.begins { (begins) } }
            td.time { @if let Some(lasts) = &step.lasts { (lasts) } }
        }
    }
}

fn danger(bench: &Bench<'_>, inert_gas: bool) -> Markup {
    let hazards = hazards::hazards(bench);
    let rules = hazards::protection(bench, &hazards, inert_gas);
    html! {
        section.hazards aria-labelledby="hazards" {
            h2 #hazards { "Hazards" }
            p.defer { "The safety data sheets of these very bottles, local rules and a trained supervisor decide. This list is what the library knows of the pure substances; what is dissolved may be milder, and what forms is not in it." }
            div.harms { @for harm in Harm::ALL {
                @let of_harm: Vec<_> = hazards.all.iter().filter(|hazard| hazard.harm == harm).collect();
                @if !of_harm.is_empty() {
                    div.harm {
                        h3 { (harm.name()) }
                        ul { @for hazard in of_harm {
                            li { (hazard.words) " " small { "(" (hazard.code) ")" } ": " b { (hazard.of.join(", ")) } }
                        } }
                    }
                }
            } }
            @if !hazards.silent.is_empty() {
                p { "The library has no statements for " b { (hazards.silent.join(", ")) } ": that does not make them harmless." }
            }
            h3 { "Protection" (practice()) }
            ul.ticks { @for rule in rules { li { span.tick {} div { (rule) } } } }
        }
    }
}

fn waste_streams(bench: &Bench<'_>) -> Markup {
    let (wastes, discards) = waste::wastes(bench);
    if wastes.is_empty() && discards.is_empty() {
        return html! {};
    }
    let mixed = [Stream::Halogenated, Stream::NonHalogenated];
    let mixed = mixed
        .iter()
        .all(|stream| wastes.iter().any(|waste| waste.stream == *stream));
    let substances = bench::substances(bench.plan);
    let with_acid = substances.iter().filter(|named| {
        let mut codes = named.substance.hazards();
        codes.any(|code| matches!(code, "EUH031" | "EUH032"))
    });
    let with_acid: Vec<&str> = with_acid.map(|named| &*named.name).collect();
    let azide = hazards::azides(&substances).next().is_some();
    let mut substances = substances.iter();
    let fluoride = substances.any(|named| fitting::dissolves_glass(named.substance));
    html! {
        section.waste aria-labelledby="waste" {
            h2 #waste { "Waste" }
            table {
                caption.hidden { "Solvents, washings and solids that the steps use, by stream" }
                thead { tr {
                    th scope="col" { "Stream" }
                    th scope="col" { "At most" }
                    th scope="col" { "From" }
                } }
                tbody {
                    @for waste in &wastes { tr {
                        th scope="row" { (waste.stream.name()) }
                        td.take { @if waste.volume.value > 0.0 { (show::volume(waste.volume)) } }
                        td { (waste.parts.iter().map(waste::Part::words).collect::<Vec<_>>().join(", ")) }
                    } }
                }
            }
            @for (number, words) in discards { p { "Step " (number) ": " (words) } }
            p {
                @if !with_acid.is_empty() { "What holds " (with_acid.join(", ")) " goes apart and stays basic: acid sets a toxic gas free of it. " }
                @if azide { "Azide goes into no bottle with a halogenated solvent or with metal salts. " }
                @if fluoride { "What holds fluoride goes apart, into polyethylene and never into glass. " }
                @if mixed { "What is mixed with a halogenated solvent goes with the halogenated. " }
                "Nothing goes into a bottle before the quench is over and it is cold. Acetone and hexane from washing glass, before and after: non-halogenated. Acidic and basic water apart, unless they were made neutral." (practice())
            }
        }
    }
}

fn signatures(two_people: bool) -> Markup {
    let mut roles = vec![
        "Written and read again",
        "Checked by a supervisor",
        "Carried out",
    ];
    if two_people {
        roles.push("Second person");
    }
    html! {
        section.sign aria-labelledby="sign" {
            h2 #sign { "Signatures" }
            table {
                caption.hidden { "Who has checked what" }
                thead { tr {
                    th scope="col" {} th scope="col" { "Name" } th scope="col" { "Date" } th scope="col" { "Signature" }
                } }
                tbody {
                    @for what in roles {
                        tr { th scope="row" { (what) } td {} td {} td {} }
                    }
                }
            }
        }
    }
}

fn foot_of_page(bench: &Bench<'_>, hash: &str, day: &str) -> Markup {
    let hazards = hazards::hazards(bench);
    html! {
        footer {
            h2 { "Where this comes from" }
            p {
                "Plan: SHA-256 of its text " code { (hash) } "."
                @if !day.is_empty() { " Printed " (day) "." }
                " Meniscus " (env!("CARGO_PKG_VERSION")) ". Amounts that are computed have three digits."
            }
            ul {
                @for (source, of) in sources::sources(bench.plan) {
                    li { (source) ": " (of) }
                }
                @for source in &hazards.sources { li { (source) ": hazard codes" } }
                @if !hazards.from_memory.is_empty() {
                    li { "Not held against a source yet, so look them up: hazard codes of " (hazards.from_memory.join(", ")) }
                }
                li { "Words of the hazard statements: Regulation (EC) No 1272/2008, Annex III" }
            }
            p { small.practice { "common practice" } " marks what is not of the plan and has no source." }
        }
    }
}
