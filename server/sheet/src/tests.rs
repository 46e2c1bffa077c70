//! The page as a browser reads it: by html5ever, which reports what the HTML standard calls a parse error.

use crate::bench::Bench;
use crate::{content_hash, hazards, page};
use html5ever::tendril::TendrilSink;
use html5ever::{ParseOpts, parse_document};
use markup5ever_rcdom::{Handle, NodeData, RcDom};
use plan::measuring::Way;
use plan::{Date, Plan, show};
use std::collections::HashSet;
use std::fs;
use std::path::{Path, PathBuf};
use uom::si::volume::milliliter;

/// The files of the plans that stand in this repository.
fn files() -> Vec<PathBuf> {
    let here = Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut files = Vec::new();
    for folder in ["../../examples", "../syntax/tests/plans"] {
        for entry in fs::read_dir(here.join(folder)).expect("a folder") {
            files.push(entry.expect("a file").path());
        }
    }
    files.retain(|path| path.extension().is_some_and(|end| end == "prep"));
    assert!(files.len() > 10);
    files
}

fn read(path: &Path) -> Plan {
    Plan::read(&fs::read_to_string(path).expect("a plan"))
}

fn plans() -> Vec<(String, Plan)> {
    let files = files();
    let plan = |path: &PathBuf| (path.display().to_string(), read(path));
    files.iter().map(plan).collect()
}

fn plan(name: &str) -> Plan {
    let files = files();
    read(
        files
            .iter()
            .find(|path| path.ends_with(name))
            .expect("such a plan"),
    )
}

fn sheet(plan: &Plan) -> Page {
    let html = page(plan, &checks::findings(plan), Date::new(2026, 11, 25));
    Page::read(&html)
}

/// A page, read.
struct Page {
    /// A tree takes its elements apart when it goes, so it stays.
    dom: &'static RcDom,
    html: String,
}

/// An element of it.
#[derive(Clone)]
struct Element(Handle);

impl Page {
    fn read(html: &str) -> Page {
        let mut options = ParseOpts::default();
        options.tokenizer.exact_errors = true;
        options.tree_builder.exact_errors = true;
        Page {
            dom: Box::leak(Box::new(
                parse_document(RcDom::default(), options).one(html),
            )),
            html: html.to_owned(),
        }
    }

    fn all(&self, name: &str) -> Vec<Element> {
        Element(self.dom.document.clone()).all(name)
    }

    fn one(&self, name: &str) -> Element {
        let [one] = &self.all(name)[..] else {
            panic!("one {name}");
        };
        one.clone()
    }

    fn section(&self, class: &str) -> Option<Element> {
        let mut sections = self.all("section").into_iter();
        sections.find(|section| section.attribute("class").as_deref() == Some(class))
    }

    /// What stands in the list of what to measure: how much, and the key or name.
    fn measured(&self) -> Vec<(String, String)> {
        let section = self.section("measure").expect("what to measure");
        let rows = section.all("tr").into_iter();
        rows.filter_map(|row| {
            let [_, take, what, _] = &row.all("td")[..] else {
                return None;
            };
            Some((take.text(), what.all("b").first()?.text()))
        })
        .collect()
    }
}

impl Element {
    fn all(&self, name: &str) -> Vec<Element> {
        let mut found = Vec::new();
        for child in self.0.children.borrow().iter() {
            let child = Element(child.clone());
            if child.name().as_deref() == Some(name) {
                found.push(child.clone());
            }
            found.extend(child.all(name));
        }
        found
    }

    fn every(&self) -> Vec<Element> {
        let children = self.0.children.borrow();
        let children = children.iter().map(|child| Element(child.clone()));
        children
            .flat_map(|child| {
                let below = child.every();
                std::iter::once(child).chain(below)
            })
            .collect()
    }

    fn name(&self) -> Option<String> {
        match &self.0.data {
            NodeData::Element { name, .. } => Some(name.local.to_string()),
            _ => None,
        }
    }

    fn attributes(&self) -> Vec<(String, String)> {
        match &self.0.data {
            NodeData::Element { attrs, .. } => {
                let attributes = attrs.borrow();
                let pair =
                    |a: &html5ever::Attribute| (a.name.local.to_string(), a.value.to_string());
                attributes.iter().map(pair).collect()
            }
            _ => Vec::new(),
        }
    }

    fn attribute(&self, name: &str) -> Option<String> {
        let mut attributes = self.attributes().into_iter();
        attributes.find_map(|(own, value)| (own == name).then_some(value))
    }

    fn text(&self) -> String {
        let mut text = String::new();
        for child in self.0.children.borrow().iter() {
            match &child.data {
                NodeData::Text { contents } => text.push_str(&contents.borrow()),
                _ => text.push_str(&Element(child.clone()).text()),
            }
        }
        text
    }
}

#[test]
fn every_page_is_well_formed_loads_nothing_and_runs_nothing() {
    for (name, plan) in plans() {
        let page = sheet(&plan);
        assert!(
            page.dom.errors.borrow().is_empty(),
            "{name}: {:?}",
            page.dom.errors
        );
        for element in Element(page.dom.document.clone()).every() {
            let tag = element.name().unwrap_or_default();
            let loads = [
                "script", "link", "img", "iframe", "object", "embed", "base", "image", "use",
            ];
            assert!(!loads.contains(&&*tag), "{name}: {tag}");
            for (attribute, value) in element.attributes() {
                let loads = attribute.starts_with("on")
                    || matches!(
                        &*attribute,
                        "src" | "href" | "style" | "http-equiv" | "srcset"
                    );
                assert!(!loads, "{name}: {attribute}");
                // What a picture refers to is within it.
                assert!(
                    !value.contains("url(") || value.starts_with("url(#"),
                    "{name}: {value}"
                );
            }
        }
        let style = page.one("style").text();
        assert!(!style.contains("url(") && !style.contains("@import") && !style.contains("//"));
        assert!(!page.html.contains("http"), "{name}");
    }
}

/// WCAG 2.2: 1.1.1 (text alternatives), 1.3.1 (headers and labels that programs find), 2.4.2 (title), 3.1.1 (language).
#[test]
fn every_page_can_be_read_by_who_does_not_see_it() {
    for (name, plan) in plans() {
        let page = sheet(&plan);
        assert_eq!(page.one("html").attribute("lang").as_deref(), Some("en"));
        assert!(!page.one("title").text().trim().is_empty());
        let all = Element(page.dom.document.clone()).every();
        let ids: Vec<String> = all.iter().filter_map(|e| e.attribute("id")).collect();
        let distinct: HashSet<&String> = ids.iter().collect();
        assert_eq!(ids.len(), distinct.len(), "{name}: an id twice");
        for element in &all {
            if let Some(label) = element.attribute("aria-labelledby") {
                assert!(ids.contains(&label), "{name}: {label}");
            }
            match element.name().as_deref() {
                Some("svg") => {
                    let label = element
                        .attribute("aria-label")
                        .is_some_and(|l| l.len() > 20);
                    let decoration = element.attribute("aria-hidden").as_deref() == Some("true");
                    assert!(label || decoration, "{name}: a picture without words");
                }
                Some("th") => assert!(element.attribute("scope").is_some(), "{name}"),
                Some("table") => {
                    assert_eq!(element.all("caption").len(), 1, "{name}");
                    assert_eq!(element.all("thead").len(), 1, "{name}");
                }
                _ => {}
            }
        }
    }
}

#[test]
fn every_amount_is_the_ledgers() {
    let mut seen = 0;
    for (name, plan) in plans() {
        let page = sheet(&plan);
        let rows = page.measured();
        for (material, amounts) in plan.materials.iter().zip(&plan.ledger.amounts) {
            if material.product {
                continue;
            }
            let key = &*material.key.text;
            let own: Vec<&(String, String)> =
                rows.iter().filter(|(_, what)| *what == key).collect();
            assert!(!own.is_empty(), "{name}: {key} is nowhere");
            let words = match (plan.way(material, amounts), &amounts.mass, &amounts.volume) {
                (Way::Weigh, Ok(mass), _) => show::mass(mass.value),
                (Way::Syringe | Way::Cylinder | Way::Gas, _, Ok(volume)) => {
                    show::volume(volume.value)
                }
                _ => continue,
            };
            let takes = plan::takes::takes(&plan.text);
            let stated = takes
                .filter(|take| take.key() == Some(material.id) && take.draws())
                .any(|take| take.quantity().is_some());
            // Of a solution that is made up what goes in stands beside what it is made of.
            let made_up =
                own[0].0 != words && page.html.contains(&format!("{words} of it goes in"));
            if !stated && !made_up {
                assert_eq!(own.len(), 1, "{name}: {key}");
                assert_eq!(own[0].0, words, "{name}: {key}");
                seen += 1;
            }
        }
    }
    assert!(seen > 40, "{seen}");
}

/// Portions as they are written in server/syntax/tests/plans/05-nah-alkylation.prep and 03-lialh4-fieser.prep; the 0.6 mL
/// and 1.8 mL are 1.0 and 3.0 mL/g of 599 mg, by hand.
#[test]
fn portions_are_measured_one_by_one_in_the_order_of_the_steps() {
    let of = |name: &str, key: &str| -> Vec<String> {
        let rows = sheet(&plan(name)).measured().into_iter();
        rows.filter(|(_, what)| *what == key)
            .map(|(take, _)| take)
            .collect()
    };
    assert_eq!(
        of("05-nah-alkylation.prep", "thf"),
        ["20 mL", "5 mL", "1 mL"]
    );
    assert_eq!(of("05-nah-alkylation.prep", "pentane"), ["3 × 5 mL"]);
    assert_eq!(
        of("03-lialh4-fieser.prep", "water"),
        ["0.599 mL", "1.80 mL"]
    );
}

/// 60 mL of which two steps take 20 mL and the third what is left; half of 2.0 g, and its rest.
#[test]
fn the_rest_of_a_line_is_what_the_steps_before_leave() {
    let plan = Plan::read(
        "plan A\nmaterials\n  thf: tetrahydrofuran, 60 mL\n  salt: sodium chloride, 2.0 g\nequipment\n  flask: 250 mL flask\nsteps\n  add thf 20 mL\n  add half of salt\n  add thf 20 mL\n  add rest of salt\n  add thf",
    );
    let rows = sheet(&plan).measured();
    let takes: Vec<&str> = rows.iter().map(|(take, _)| &**take).collect();
    assert_eq!(takes, ["20 mL", "1.00 g", "20 mL", "1.00 g", "20.0 mL"]);
}

#[test]
fn what_a_plan_says_is_text() {
    let nasty = "<script>alert('1')</script> & \"quotes\" </style> </title> ]]> <b>x";
    let text = format!(
        "plan {nasty}\nauthor {nasty}\ndate {nasty}\nsource {nasty}\nmaterials\n  a: <img src=x onerror=y>, 5 mL   # {nasty}\nequipment\n  flask: 50 mL <i>flask</i>, argon inlet\nsteps\n  note {nasty}\n  add a   # {nasty}\n  purge with argon for 5 min\n  if {nasty}\n  {nasty}\n  quench with water 5 mL\n  in <u>flask</u>\n"
    );
    let page = sheet(&Plan::read(&text));
    assert!(page.dom.errors.borrow().is_empty(), "{:?}", page.dom.errors);
    for tag in ["script", "img", "i"] {
        assert!(page.all(tag).is_empty(), "{tag}");
    }
    assert_eq!(page.one("h1").text(), nasty);
    assert_eq!(page.one("title").text(), format!("{nasty} – bench sheet"));
    let comments = page.all("span").into_iter().map(|span| span.text());
    assert!(comments.into_iter().any(|text| text == nasty));
    assert_eq!(page.html.matches("<script").count(), 0);
}

/// The first example of FIPS 180-4 and of NIST's examples of SHA-256: the message `abc`.
#[test]
fn the_hash_is_sha_256_of_the_text() {
    assert_eq!(
        content_hash(&Plan::read("abc")),
        "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    );
    let plan = plan("swern.prep");
    let page = sheet(&plan);
    assert!(page.one("footer").text().contains(&content_hash(&plan)));
}

#[test]
fn every_code_of_the_library_has_its_official_words() {
    for substance in chemistry::Substance::all() {
        for code in substance.hazards() {
            assert!(
                hazards::statement(code).is_some_and(|words| words.len() > 8),
                "{code}"
            );
        }
    }
}

/// Regulation (EC) No 1272/2008, Annex III, from memory: a second look at what was taken over.
#[test]
fn hazards_are_said_in_the_official_words_of_those_who_have_them() {
    let page = sheet(&plan("00-methylenation.prep"));
    let hazards = page.section("hazards").expect("hazards").text();
    for words in [
        "Catches fire spontaneously if exposed to air (H250): base",
        "In contact with water releases flammable gases which may ignite spontaneously (H260): base",
        "May form explosive peroxides (EUH019): thf",
        "safety data sheets",
        "flame-resistant coat",
        "heat-resistant gloves",
    ] {
        assert!(hazards.contains(words), "{words}\n{hazards}");
    }
    // Nothing is cooled to where it would apply, and no flame dries anything.
    assert!(!hazards.contains("Dry ice") && !hazards.contains("The flame"));
}

#[test]
fn the_gas_line_is_drawn_where_an_inert_gas_flows() {
    for (name, gas) in [
        ("swern.prep", Some("nitrogen")),
        ("01-grignard.prep", Some("argon")),
        ("08-hydrogenation.prep", Some("nitrogen")),
    ] {
        let page = sheet(&plan(name));
        let text = page.section("gas").map(|section| section.text());
        match gas {
            Some(gas) => {
                let text = text.expect("a gas line");
                assert!(text.contains(gas) && text.contains("15–20 psi (about 1.0–1.4 bar)"));
                assert!(text.contains("Go on only when gas leaves through the outlet"));
                assert!(text.contains("leak") && text.contains("clogged needle"));
            }
            None => assert!(text.is_none(), "{name}"),
        }
    }
    let without =
        Plan::read("plan A\nmaterials\n  a: toluene, 5 mL\nsteps\n  add a\n  stir for 5 min");
    assert!(sheet(&without).section("gas").is_none());
}

/// 15 psi and 20 psi in bar: 1 psi is 6.894 757 kPa (NIST SP 811, Appendix B.8).
#[test]
fn psi_and_bar_agree() {
    for (psi, bar) in [(15.0, "1.0"), (20.0, "1.4")] {
        assert_eq!(format!("{:.1}", psi * 0.068_947_57), bar);
    }
}

/// Sums by hand from the steps of examples/ethyl-addition.prep (methf 20 + 10 + 2, ether 10 + 2 × 20) and of
/// examples/slips.prep (two pieces, rinsed twice).
#[test]
fn waste_is_summed_by_stream_and_rinses_are_counted() {
    let waste = |name: &str| sheet(&plan(name)).section("waste").expect("waste").text();
    let swern = waste("swern.prep");
    assert!(
        swern.contains("dcm 60.0 mL, dichloromethane 40.0 mL"),
        "{swern}"
    );
    let ethyl = waste("ethyl-addition.prep");
    assert!(ethyl.contains("methf 32.0 mL") && ethyl.contains("tert-butyl methyl ether 50.0 mL"));
    assert!(ethyl.contains("Non-halogenated") && !ethyl.contains("goes with the halogenated"));
    assert!(waste("slips.prep").contains("acetone, 4 rinses"));
    let solids = waste("00-methylenation.prep");
    assert!(solids.contains("sodium sulfate, silica") && !solids.contains("bubbler"));
}

const HYDROGENOLYSIS: &str = "\
plan A
scale 2.50 mmol ester
materials
  ester: Boc-glycine benzyl ester, formula C14H19NO4, 1.00 eq
  pdc: palladium on carbon, 10 wt%, wet with 50 wt% water, 5 mol%
  h2: hydrogen, balloon
  tbuoh: tert-butanol, 25 mL
equipment
  flask: 100 mL two-neck flask
  rbf: 250 mL flask
steps
  add pdc under nitrogen
  add tbuoh and ester
  evacuate and refill with hydrogen, 3 times
  stir under a balloon of hydrogen for 4 h
  filter through celite into rbf
";

/// Common practice: spent palladium on carbon catches fire once it is dry.
#[test]
fn a_spent_catalyst_and_a_solvent_that_freezes_are_waste() {
    let page = sheet(&Plan::read(HYDROGENOLYSIS));
    let waste = page.section("waste").expect("waste").text();
    assert!(
        waste.contains("pdc, which may catch fire once dry"),
        "{waste}"
    );
    assert!(waste.contains("tbuoh 25.0 mL"), "{waste}");
    let unfiltered = HYDROGENOLYSIS.replace("  filter through celite into rbf\n", "");
    let page = sheet(&Plan::read(&unfiltered));
    let waste = page.section("waste").expect("waste").text();
    assert!(!waste.contains("pdc"), "{waste}");
}

#[test]
fn a_gas_that_steps_call_by_its_name_is_taken() {
    let measure = |text: &str| {
        sheet(&Plan::read(text))
            .section("measure")
            .expect("measure")
            .text()
    };
    assert!(!measure(HYDROGENOLYSIS).contains("no step takes it"));
    let without = HYDROGENOLYSIS
        .replace("with hydrogen", "with nitrogen")
        .replace(" of hydrogen", " of nitrogen");
    assert!(measure(&without).contains("no step takes it"));
}

#[test]
fn the_reaction_goes_on_where_a_reagent_follows_an_evaporation() {
    let text = "plan A\nscale 5.00 mmol a\nmaterials\n  a: benzoic acid, 1.00 eq\n  b: oxalyl chloride, 1.50 eq\n  c: morpholine, 2.00 eq\n  hexane: hexane, 10 mL\nequipment\n  flask: 100 mL flask\nsteps\n  add a and b\n  concentrate\n  add c\n  concentrate\n  add hexane\n";
    let tables = sheet(&Plan::read(text))
        .section("measure")
        .expect("measure")
        .all("table");
    let keys: Vec<_> = tables.iter().map(Element::text).collect();
    assert!(
        keys[0].contains("morpholine") && !keys[0].contains("hexane"),
        "{keys:?}"
    );
    assert!(keys[1].contains("hexane"), "{keys:?}");
}

#[test]
fn what_may_be_a_liquid_is_not_called_a_solid() {
    let text = |what: &str| {
        let plan = format!(
            "plan A\nscale 5.00 mmol a\nmaterials\n  a: {what}, 1.00 eq\n  thf: THF, 20 mL\nequipment\n  flask: 100 mL flask\nsteps\n  fill flask with argon\n  add thf\n  add a\n  quench with water 5 mL\n"
        );
        sheet(&Plan::read(&plan))
            .section("steps")
            .expect("steps")
            .text()
    };
    assert!(!text("5-methylhept-2-ynal, MW 124.18").contains("two people"));
    assert!(text("sodium borohydride").contains("two people"));
}

/// 7 C for 3 N are 2.3, below three: benzyl azide is C7H7N3.
#[test]
fn what_may_explode_is_on_the_sheet_though_it_is_a_remark() {
    let text = "plan A\nscale 2.00 mmol a\nmaterials\n  a: benzyl azide, 1.00 eq\nequipment\n  flask: 50 mL flask\nsteps\n  add a\n  stir for 1 h\n";
    let page = sheet(&Plan::read(text));
    let list = page.section("findings").expect("findings").all("li");
    assert!(
        list.iter()
            .any(|li| li.text().contains("may explode") && li.text().starts_with("Remark"))
    );
}

#[test]
fn steps_for_two_people_are_those_with_a_reason() {
    let pairs = |name: &str| -> Vec<String> {
        let section = sheet(&plan(name)).section("steps").expect("steps");
        let rows = section.all("tr").into_iter();
        rows.filter(|row| row.text().contains("two people:"))
            .map(|row| row.all("td")[1].text())
            .collect()
    };
    // Sodium hydride and a solid catalyst go in through the open neck; butyllithium catches fire.
    assert_eq!(pairs("05-nah-alkylation.prep"), ["7", "21"]);
    assert_eq!(pairs("02-lda-alkylation.prep"), ["9"]);
    assert_eq!(pairs("09-amide.prep"), [""; 0]);
}

#[test]
fn errors_and_warnings_are_on_the_sheet_and_remarks_are_not() {
    let plan = plan("slips.prep");
    let findings = checks::findings(&plan);
    let grave = findings
        .iter()
        .filter(|f| f.severity <= checks::Severity::Warning);
    let page = sheet(&plan);
    let list = page.section("findings").expect("findings").all("li");
    assert_eq!(list.len(), grave.count());
    assert!(list[0].text().starts_with("Error"));
    assert!(
        sheet(&self::plan("swern.prep"))
            .section("findings")
            .is_none()
    );
}

/// The fill before the quench of examples/ethyl-addition.prep, by hand: 20 + 8.01 + 10 + 2.06 + 2 mL.
#[test]
fn the_state_to_expect_stands_before_the_points_that_matter() {
    let section = sheet(&plan("ethyl-addition.prep"))
        .section("steps")
        .expect("steps");
    let stops = section.all("tr").into_iter().map(|row| row.text());
    let stops: Vec<String> = stops
        .filter(|text| text.contains("Stop and look"))
        .collect();
    assert_eq!(stops.len(), 2);
    assert!(stops[0].contains("before the first sensitive reagent"));
    assert!(
        stops[1].contains("before the quench")
            && stops[1].contains("in 100 mL · 0 °C · under argon")
    );
    let plan = Plan::read(
        "plan A\nequipment\n  flask: 50 mL flask\nsteps\n  heat to reflux\n  quench with water 1 mL",
    );
    let page = sheet(&plan).section("steps").expect("steps").text();
    assert!(
        page.contains("at reflux"),
        "the temperature of a reflux is not known: {page}"
    );
}

/// 1 h and 16 h are drawn beside each other, each in its part; 9:00 and 1 h are 10:00.
#[test]
fn what_the_plan_does_the_day_before_is_not_told_twice() {
    let plan = Plan::read(
        "plan A\nstart 9:00\nequipment\n  flask: 50 mL flask\nsteps\n  the day before\n  wash flask with acetone, 2 times\n  dry flask at 125 °C overnight\n  on the day\n  add water 5 mL\n  stir for 1 h\n  cool to 0 °C",
    );
    let page = sheet(&plan);
    let before = page.section("before").expect("the day before").text();
    assert!(before.contains("Do what the plan puts on the day before (steps 1, 2)"));
    assert!(
        !before.contains("Start: dry") && !before.contains("Wash flask"),
        "{before}"
    );
    let day = page.section("day").expect("the day");
    assert_eq!(day.all("svg").len(), 2);
    let clocks: Vec<String> = day.all("text").iter().map(Element::text).collect();
    assert!(
        clocks.contains(&"10:00".to_owned()) && clocks.contains(&"2 · 16 h".to_owned()),
        "{clocks:?}"
    );
}

#[test]
fn pictures_stay_within_their_frame_and_in_order() {
    for (name, plan) in plans() {
        let page = sheet(&plan);
        for svg in page.all("svg") {
            let frame = svg.attribute("viewBox").expect("a frame");
            let frame: Vec<f64> = frame
                .split(' ')
                .map(|n| n.parse().expect("a number"))
                .collect();
            for rect in svg.all("rect") {
                let number = |name: &str| {
                    rect.attribute(name)
                        .map(|n| n.parse::<f64>().expect("a number"))
                };
                let (Some(x), Some(y)) = (number("x"), number("y")) else {
                    continue;
                };
                let (width, height) = (number("width").expect("w"), number("height").expect("h"));
                assert!(width >= 0.0 && height >= 0.0, "{name}");
                assert!(
                    x >= 0.0 && x + width <= frame[2] && y >= 0.0 && y + height <= frame[3],
                    "{name}"
                );
            }
            assert!(!format!("{:?}", svg.text()).contains("NaN"));
        }
        assert!(
            !page.html.contains("NaN") && !page.html.contains("inf\""),
            "{name}"
        );
    }
}

/// While a plan is written there is a sheet of it, too.
#[test]
fn every_beginning_of_a_plan_has_a_page() {
    for name in ["02-lda-alkylation.prep", "08-hydrogenation.prep"] {
        let text = plan(name).text.text.clone();
        let ends = text.char_indices().filter(|(at, _)| at % 61 == 0);
        for (end, _) in ends {
            let page = sheet(&Plan::read(&text[..end]));
            assert!(
                page.dom.errors.borrow().is_empty(),
                "{end}: {:?}",
                page.dom.errors
            );
        }
    }
}

#[test]
fn the_draws_of_a_line_that_the_steps_sum_up_are_its_sum() {
    for (name, plan) in plans() {
        let bench = Bench::new(&plan, &[]);
        for (material, amounts) in plan.materials.iter().zip(&plan.ledger.amounts) {
            let draws = || {
                bench
                    .draws
                    .iter()
                    .filter(|draw| *draw.key == *material.key.text)
            };
            let (true, Ok(total)) = (material.stated.is_empty(), &amounts.volume) else {
                continue;
            };
            let volumes = draws().map(|draw| Some(draw.volume? * f64::from(draw.times)));
            let Some(volumes) = volumes.collect::<Option<Vec<_>>>() else {
                continue;
            };
            let sum: f64 = volumes
                .iter()
                .map(|volume| volume.get::<milliliter>())
                .sum();
            let total = total.value.get::<milliliter>();
            assert!((sum - total).abs() < 1e-9 * total, "{name}: {sum} {total}");
        }
    }
}

/// 25 mL of tetrahydrofuran × 0.889 g/mL × 10 ppm / 18.015 g/mol: 12 µmol of water, worked by hand.
#[test]
fn what_brings_water_and_oxygen_is_drawn_source_by_source() {
    let page = sheet(&plan("examples/methylenation.prep"));
    let steps = page.section("steps").expect("steps");
    let said = |svg: &Element| svg.attribute("aria-label").unwrap_or_default();
    let pictures = steps.all("svg").into_iter();
    let picture = pictures.filter(|svg| said(svg).starts_with("base, 5.75 mmol"));
    let [picture] = &picture.collect::<Vec<_>>()[..] else {
        panic!("one picture of what reaches the base");
    };
    assert!(
        said(picture).contains("thf") && said(picture).contains("12 µmol water"),
        "{}",
        said(picture)
    );
    // The bars follow each other, and black, white and hatching tell all of it.
    let mut end = None;
    for bar in picture.all("rect") {
        let number = |name: &str| bar.attribute(name)?.parse::<f64>().ok();
        let fill = bar.attribute("fill").unwrap_or_default();
        assert!(
            fill == "#000" || fill == "#fff" || fill.starts_with("url(#water"),
            "{fill}"
        );
        let (Some(x), Some(width), true) =
            (number("x"), number("width"), fill.starts_with("url(#water"))
        else {
            continue;
        };
        assert!(
            end.is_none_or(|end: f64| (end - x).abs() < 1.0),
            "{x} {end:?}"
        );
        end = Some(x + width);
    }
    assert!(end.is_some());
}

#[test]
fn a_plan_without_sensitive_reagents_has_no_picture_of_water() {
    let plan = Plan::read("plan A\nmaterials\n  salt: sodium chloride, 5.0 g\nsteps\n  add salt\n");
    assert!(!sheet(&plan).html.contains("part lost"));
}

/// A gas that fills the flask and that nobody measures.
#[test]
fn an_atmosphere_is_taken_in_excess() {
    let text = plan("plans/08-hydrogenation.prep").text.text.clone();
    let text = text.replace("hydrogen, excess", "hydrogen");
    let page = sheet(&Plan::read(&text));
    let hydrogen = page
        .measured()
        .into_iter()
        .find(|(_, key)| key == "hydrogen");
    assert_eq!(hydrogen.expect("hydrogen").0, "in excess");
}

/// 768 mg over 154.253 g/mol, and 562 mg of that times 152.281 g/mol: worked by hand.
#[test]
fn boxes_show_what_was_really_taken_and_obtained() {
    let text = plan("examples/methylenation.prep").text.text.clone();
    let text = text
        .replace(
            "cyclohexanone, 1.00 eq",
            "cyclohexanone, 1.00 eq, took 768 mg",
        )
        .replace("25 mL\n", "25 mL, took 20 mL, took 4 mL, took 1.1 mL\n")
        .replace("expect 85 %", "expect 85 %, obtained 562 mg");
    let page = sheet(&Plan::read(&text));
    let boxes = |class: &str| -> Vec<String> {
        let section = page.section(class).expect("a section");
        let spans = section.all("span").into_iter();
        let filled = |span: &Element| {
            span.attribute("class")
                .is_some_and(|c| c.contains("filled"))
        };
        spans.filter(filled).map(|span| span.text()).collect()
    };
    assert_eq!(boxes("measure"), ["20 mL", "768 mg", "4 mL", "1.1 mL"]);
    assert_eq!(boxes("steps"), ["562 mg"]);
    let measure = page.section("measure").expect("measure").text();
    assert!(
        measure.contains("took 768 mg, 0.4 % less than planned: 4.98 mmol, 1.00 eq"),
        "{measure}"
    );
    assert!(measure.contains("in all took 20 mL and 4 mL and 1.1 mL"));
    let steps = page.section("steps").expect("steps").text();
    assert!(
        steps.contains("obtained 562 mg: 74.1 % of 758 mg"),
        "{steps}"
    );
}

/// The words of a sheet.
fn printed(text: &str) -> String {
    let plan = Plan::read(text);
    let problems: Vec<_> = plan
        .text
        .lines
        .iter()
        .flat_map(|line| &line.problems)
        .collect();
    assert!(problems.is_empty(), "{problems:?}");
    sheet(&plan).one("body").text()
}

#[test]
fn liquid_ammonia_is_condensed_and_boils_without_a_bath() {
    let words = printed(
        "plan A
scale 50.0 mmol anisole
materials
  anisole: 3-methylanisole, 1.00 eq
  ammonia: ammonia, d 0.68, 150 mL
equipment
  flask: 500 mL three-neck flask, dry ice condenser
steps
  cool flask to -78 °C
  add ammonia
  add anisole
  reflux at -33 °C for 2 h
",
    );
    assert!(words.contains("condensed from the gas"), "{words}");
    assert!(!words.contains("mL cylinder"), "{words}");
    assert!(!words.contains("Bath at −33"), "{words}");
    assert!(
        words.contains("Cold condenser for the reflux at −33 °C"),
        "{words}"
    );
    assert!(words.contains("Bath at −78 °C"), "{words}");
}

const UNDER_ARGON: &str = "plan A
scale 5.00 mmol ketone
materials
  ketone: 4-tert-butylcyclohexanone, 1.00 eq
  tbuli: tert-butyllithium, 1.7 M in pentane, 1.10 eq
  thf: THF, dry, 20 mL
  dcm: dichloromethane, 20 mL
  nh4cl: ammonium chloride, sat. aq., 10 mL
equipment
  flask: 100 mL three-neck flask, bubbler
  syringe: 5 mL gas-tight syringe
steps
  evacuate and refill flask with argon, 3 cycles
";

#[test]
fn a_solution_that_is_dropped_in_needs_no_open_neck() {
    let dropped = format!("{UNDER_ARGON}  add a solution of ketone in thf dropwise over 20 min\n");
    let solid = format!("{UNDER_ARGON}  add ketone\n");
    assert!(!printed(&dropped).contains("open neck"));
    let solid = printed(&solid);
    assert!(solid.contains("lifts the stopper"), "{solid}");
    assert!(!solid.contains("septum and"), "{solid}");
}

#[test]
fn what_held_a_pyrophoric_reagent_takes_no_water() {
    let words = printed(&format!(
        "{UNDER_ARGON}  add tbuli dropwise via syringe\n  quench with nh4cl\n  extract with dcm\n"
    ));
    assert!(!words.contains("filled twice"), "{words}");
    assert!(words.contains("10 mL cylinder"), "{words}");
    assert!(words.contains("a dry syringe for this alone"), "{words}");
    let little = UNDER_ARGON.replace("10 mL\n", "2 mL\n");
    let words = printed(&format!(
        "{little}  add tbuli dropwise via syringe\n  quench with nh4cl\n"
    ));
    assert!(
        words.contains("not with a syringe that held tbuli"),
        "{words}"
    );
}

#[test]
fn what_hydrolyses_takes_glass() {
    let words = printed(
        "plan A
scale 150 mmol acid
materials
  acid: benzoic acid, 1.00 eq
  socl2: thionyl chloride, 1.00 eq
steps
  add socl2 to acid
",
    );
    assert!(words.contains("glass syringe"), "{words}");
    assert!(!words.contains("plastic"), "{words}");
}

#[test]
fn much_of_what_air_destroys_goes_through_a_cannula() {
    let words = printed(
        "plan A
scale 100 mmol acid
materials
  acid: benzoic acid, 1.00 eq
  buli: n-butyllithium, 1.6 M in hexanes, 1.10 eq
steps
  add buli to acid
",
    );
    assert!(
        words.contains("cannula into a dry, graduated dropping funnel"),
        "{words}"
    );
    assert!(!words.contains("syringe"), "{words}");
}

#[test]
fn ice_is_weighed() {
    let words = printed(
        "plan A
scale 5 mmol acid
materials
  acid: benzoic acid, 1.00 eq
  ff: ice, 100 g
steps
  add acid to ff
  add ice 300 g
",
    );
    assert!(
        words.contains("100 g") && words.contains("300 g"),
        "{words}"
    );
    // Molten, it fills the flask to 100 mL all the same.
    let measured = words.split("Steps").next().unwrap_or_default();
    assert!(
        !words.contains("cylinder") && !measured.contains("100 mL"),
        "{words}"
    );
}

#[test]
fn hydrogen_fluoride_never_meets_glass() {
    for hf in [
        "hydrogen fluoride pyridine, 70 wt% in pyridine, 0.3 mL",
        "hydrofluoric acid, 48 wt% in water, 2 mL",
    ] {
        let words = printed(&format!(
            "plan A
scale 0.200 mmol ether
materials
  ether: silyl ether, MW 612.9, 1.00 eq
  hf: {hf}
equipment
  flask: 25 mL round-bottom flask
steps
  add hf to ether
"
        ));
        assert!(!words.contains("glass syringe"), "{words}");
        assert!(words.contains("polyethylene or PTFE"), "{words}");
        assert!(words.contains("Calcium gluconate gel"), "{words}");
        assert!(words.contains("safety data sheet"), "{words}");
    }
}

#[test]
fn a_vessel_under_pressure_has_no_bubbler() {
    let words = printed(
        "plan A
scale 2.00 g ester
materials
  ester: methyl cinnamate, 1.00 eq
  meoh: methanol, 28 mL
  h2: hydrogen, 6 bar
equipment
  autoclave: 100 mL stainless steel autoclave
steps
  charge autoclave with ester and meoh
  seal autoclave
  purge with hydrogen, 3 x 5 bar
  fill with hydrogen to 6 bar
  stir for 2 h
  vent autoclave, purge with nitrogen
",
    );
    let gas = words
        .split("Gas under pressure")
        .nth(1)
        .expect("such a page");
    let gas = gas.split("The day before").next().unwrap_or_default();
    assert!(gas.contains("hydrogen") && gas.contains("6 bar"), "{gas}");
    for wrong in ["bubbler", "closed glass", "outlet", "psi"] {
        assert!(!gas.contains(wrong), "{wrong}: {gas}");
    }
}

#[test]
fn the_gas_leaves_where_the_equipment_says() {
    let words = printed(
        "plan A
scale 20 mmol alkene
materials
  alkene: styrene, 1.00 eq
equipment
  flask: 250 mL three-neck flask, gas inlet tube, outlet to a potassium iodide trap
steps
  charge flask with alkene
  purge with nitrogen for 10 min
",
    );
    assert!(
        words.contains("outlet to a potassium iodide trap sits on flask"),
        "{words}"
    );
    assert!(!words.contains("bubbler"), "{words}");
}

#[test]
fn sodium_is_no_sieve_and_room_temperature_no_bath() {
    let words = printed(
        "plan A
scale 5 mmol acid
materials
  acid: benzoic acid, 1.00 eq
  ether: diethyl ether, over sodium, 42 mL
steps
  dissolve acid in ether
  stir at 25 °C for 1 h
",
    );
    assert!(
        !words.contains("sieves") && !words.contains("Bath at"),
        "{words}"
    );
}

#[test]
fn what_is_weighed_roughly_spares_the_analytical_balance() {
    let words = printed(
        "plan A
scale 5 mmol acid
materials
  acid: benzoic acid, 1.00 eq
  nh4cl: ammonium chloride, 15 g
steps
  add nh4cl to acid
",
    );
    assert!(words.contains("balance that reads 10 mg"), "{words}");
    assert!(words.contains("balance that reads 0.1 mg"), "{words}");
}

#[test]
fn a_solution_that_has_the_name_of_its_gas_is_not_condensed() {
    let words = printed("plan A\nmaterials\n  a: acetone, 5 mL\nsteps\n  add HCl 10 mL to a\n");
    assert!(!words.contains("condensed"), "{words}");
}

/// By hand: 1.75 mol of 48 % acid (8.9 M) are some 198 mL, of which two thirds are 132 mL and the rest 66 mL.
#[test]
fn a_share_is_measured_as_a_share() {
    let plan = Plan::read(
        "plan A
scale 500 mmol toluidine
materials
  toluidine: p-toluidine, 1.00 eq
  hbr: hydrobromic acid, 48 wt% in water, 3.5 eq
equipment
  flask: 1 L flask
  flask2: 1 L flask
steps
  charge flask with toluidine and two thirds of hbr
  in flask2
  add rest of hbr
",
    );
    let measured = sheet(&plan).measured();
    let hbr = measured.iter().filter(|(_, key)| key == "hbr");
    let takes: Vec<&str> = hbr.map(|(take, _)| &**take).collect();
    let [two_thirds, rest] = takes[..] else {
        panic!("{takes:?}");
    };
    assert!(two_thirds.starts_with("132"), "{takes:?}");
    assert!(rest.starts_with("66"), "{takes:?}");
}

#[test]
fn a_reagent_that_could_be_a_solvent_is_no_waste() {
    let plan = Plan::read(
        "plan A
scale 200 mmol anisole
materials
  anisole: anisole, 1.00 eq
  dcm: dichloromethane, 50 mL
steps
  add anisole to dcm
",
    );
    let waste = sheet(&plan).section("waste").expect("waste").text();
    assert!(
        waste.contains("dcm 50.0 mL") && !waste.contains("anisole"),
        "{waste}"
    );
}

#[test]
fn what_acid_sets_free_is_kept_from_it() {
    let words = printed(
        "plan A
scale 40 mmol bromide
materials
  bromide: 1-bromooctane, 1.00 eq
  nan3: sodium azide, 1.50 eq
  dmso: DMSO, 80 mL
steps
  add bromide, nan3 to dmso
",
    );
    assert!(words.contains("nan3: no metal spatula"), "{words}");
    assert!(
        words.contains("What holds nan3 goes apart and stays basic"),
        "{words}"
    );
}

#[test]
fn the_fullest_is_at_least_what_is_known() {
    let text = |tartrate: &str| {
        format!(
            "plan A\nscale 10 mmol k\nmaterials\n  k: cyclohexanone, 1.00 eq\n  tart: {tartrate}, 155 mg\n  dcm: dichloromethane, 100 mL\nequipment\n  flask: 250 mL flask\nsteps\n  add dcm 20 mL\n  add tart\n  add k, dcm 80 mL\n"
        )
    };
    let said = |tartrate: &str| sheet(&Plan::read(&text(tartrate))).html;
    let unknown = said("diisopropyl L-tartrate");
    assert!(unknown.contains("Fullest at step 3: at least 101 mL of 250 mL."));
    assert!(unknown.contains("≥ 101 mL"));
    assert!(said("diethyl L-tartrate").contains("Fullest at step 3: 101 mL of 250 mL."));
}

#[test]
fn a_frit_is_no_waste() {
    let plan = Plan::read(
        "plan A
materials
  water: water, 20 mL
equipment
  flask: 50 mL flask
  frit: sintered glass funnel
steps
  add water
  filter through frit
  filter through a sintered glass frit
  filter through silica 10 g
",
    );
    let waste = sheet(&plan).section("waste").expect("waste").text();
    assert!(
        waste.contains("silica") && !waste.contains("frit"),
        "{waste}"
    );
}

#[test]
fn what_fills_up_to_a_volume_is_drawn_by_itself() {
    let words = printed(
        "plan A
materials
  a: benzoic acid, 1.0 g
  thf: tetrahydrofuran, 100 mL
equipment
  flask: 100 mL flask
  jar: 100 mL jar
steps
  dissolve a in thf 20 mL
  dilute to 50 mL with thf
  in jar
  add thf
",
    );
    assert!(words.contains("up to 50 mL"), "{words}");
    assert!(words.contains("with thf thf 30.0 mL"), "{words}");
    assert!(words.contains("add thf thf 50.0 mL"), "{words}");
    // All of it is waste in the end.
    assert!(words.contains("Non-halogenated100 mL"), "{words}");
}
