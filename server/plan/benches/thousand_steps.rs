//! How long a plan of a thousand steps takes to be read and worked out: `cargo bench -p plan`. No test: times are not
//! the same on two machines.

#![allow(clippy::print_stdout)]

use plan::Plan;
use std::fmt::Write as _;
use std::hint::black_box;
use std::sync::Arc;
use std::time::{Duration, Instant};

/// As in the server.
#[global_allocator]
static ALLOCATOR: mimalloc::MiMalloc = mimalloc::MiMalloc;

/// A day's work, again and again: it fills, cools, adds and empties.
const ROUND: [&str; 10] = [
    "add thf 5 mL, via syringe",
    "cool flask to -78 °C",
    "add base 0.10 mL dropwise over 10 min, below -65 °C",
    "stir for 30 min",
    "add ketone in thf 1 mL, via cannula",
    "rinse vial with thf 0.5 mL into flask",
    "warm to 0 °C over 1 h",
    "stir 15 min under argon",
    "transfer flask to vial",
    "evacuate and refill with argon, 3 cycles",
];

fn plan(steps: usize) -> String {
    let mut text = "\
plan A long day
scale 5.00 mmol ketone
materials
  ketone: cyclohexanone, 1.00 eq
  base: n-butyllithium, 2.5 M in hexanes, 1.10 eq
  thf: tetrahydrofuran, dry, 10 ppm water
equipment
  flask: 250 mL three-neck flask, septum, argon inlet, bubbler
  vial: 2 L flask
steps
"
    .to_owned();
    for step in ROUND.iter().cycle().take(steps) {
        let _ = writeln!(text, "  {step}");
    }
    text
}

fn main() {
    const TURNS: usize = 300;
    let text = plan(1000);
    let mut times: Vec<(Duration, Duration)> = (0..TURNS)
        .map(|_| {
            let begin = Instant::now();
            let read = black_box(syntax::read_plan(black_box(&text)));
            let after_reading = begin.elapsed();
            let plan = Plan::new(Arc::new(read));
            let both = begin.elapsed();
            drop(black_box(plan));
            (both, after_reading)
        })
        .collect();
    times.sort_unstable();
    let at = |share: usize| times[(TURNS - 1) * share / 100];
    println!("1,000 steps read and worked out, of {TURNS} turns (of it, the reading):");
    for (name, share) in [("least", 0), ("median", 50), ("99 of 100", 99)] {
        let (both, reading) = at(share);
        println!("  {name:10} {both:8.2?} ({reading:.2?})");
    }
}
