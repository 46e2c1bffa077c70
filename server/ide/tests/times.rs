//! What hover says of the times that a plan states.

use ide::Document;

const PLAN: &str = "\
plan Addition
start 9:00
materials
  base: n-butyllithium, 2.5 M in hexanes, 2.30 mL
equipment
  flask: 100 mL flask
  vial: 20 mL vial
steps
  add base dropwise over 10-15 min
  stir for 2 h
  meanwhile in vial
  stir for 30 min
";

fn hover(text: &str, words: &str) -> String {
    let document = Document::new(text);
    let hover = text.find(words).and_then(|at| document.hover(at + 1));
    hover.map_or_else(String::new, |hover| hover.markdown)
}

#[test]
fn the_title_has_what_is_stated_and_when_it_is_done() {
    let title = hover(PLAN, "Addition");
    let says = "Stated times: 2 h 10 min to 2 h 15 min, of which waiting 2 h; \
                2 h 40 min to 2 h 45 min one after the other; done at 11:10 or later";
    assert!(title.contains(says), "{title}");
    let unsaid = hover(&PLAN.replace(" over 10-15 min", ""), "Addition");
    let says = "Stated times: 2 h, of which waiting 2 h; 2 h 30 min one after the other; \
                1 step states none; done at 11:00 or later";
    assert!(unsaid.contains(says), "{unsaid}");
}

#[test]
fn a_step_is_done_at_a_time_of_day_where_the_plan_has_a_start() {
    let exact = PLAN.replace("10-15 min", "10 min");
    let step = hover(&exact, "stir for 2 h");
    assert!(step.contains("Done at 11:10, by"), "{step}");
    let step = hover(&PLAN.replace("start 9:00\n", ""), "stir for 2 h");
    assert!(!step.contains("Done at"), "{step}");
}

#[test]
fn a_plan_that_states_no_time_says_none() {
    let plan = "plan Addition\nsteps\n  stir\n";
    assert!(!hover(plan, "Addition").contains("times"));
}
