//! What the library costs when the server starts: nothing worth measuring.

use crate::URI;
use e2e::Client;
use serde_json::json;
use std::time::{Duration, Instant};

/// Starts in each way; the median of so many bears a busy machine.
const STARTS: usize = 15;

/// Four times what was measured on a quiet machine (1.10 in a release build), so that only a table that is read at
/// every start, or a search that walks through all of it, is caught.
const MOST: f64 = 1.4;

/// Substances of the library, and the same lines with all that it would be asked for written out.
const LINES: [(&str, &str); 4] = [
    ("benzaldehyde", "a1, formula C7H6O, d 1.044"),
    ("triethylamine", "a2, formula C6H15N, d 0.726"),
    ("chlorotrimethylsilane", "a3, formula C3H9ClSi, d 0.856"),
    ("4-dimethylaminopyridine", "a4, formula C7H10N2"),
];

fn plan(written_out: bool) -> String {
    let lines = LINES.iter().zip(1..).map(|((named, written), number)| {
        let identity = if written_out { written } else { named };
        format!("  m{number}: {identity}, 1.0 eq\n")
    });
    format!(
        "plan A\nscale 5.00 mmol m1\nmaterials\n{}",
        lines.collect::<String>()
    )
}

/// From the start of the process to the first findings, and the most memory that it has held, in kB.
fn start(text: &str) -> (Duration, Option<u64>) {
    let begun = Instant::now();
    let mut client = Client::start();
    client.initialize(&json!({"textDocument": {"publishDiagnostics": {"versionSupport": true}}}));
    client.open(URI, text);
    client.findings(URI, 1);
    let took = begun.elapsed();
    let memory = client.peak_memory();
    assert_eq!(client.finish().code(), Some(0));
    (took, memory)
}

#[test]
#[allow(
    clippy::print_stdout,
    reason = "the measurement is for whoever reads the log"
)]
fn the_library_costs_nothing_at_start() {
    let (named, written) = (plan(false), plan(true));
    // The first start reads the program from the disk.
    start(&named);
    let mut times = (Vec::new(), Vec::new());
    let mut memory = None;
    for _ in 0..STARTS {
        let (took, held) = start(&named);
        times.0.push(took);
        memory = memory.max(held);
        times.1.push(start(&written).0);
    }
    let median = |times: &mut Vec<Duration>| {
        times.sort();
        times[times.len() / 2].as_secs_f64()
    };
    let (with, without) = (median(&mut times.0), median(&mut times.1));
    println!(
        "start to first findings: {:.2} ms with names from the library, {:.2} ms without, ratio {:.2}; {memory:?} kB held",
        with * 1e3,
        without * 1e3,
        with / without
    );
    assert!(with / without < MOST, "{with} s against {without} s");
    // Three quarters of the 40 MiB that a notebook of 10,000 lines may take: the allocator asks for some 5 MB ahead.
    assert!(
        memory.is_none_or(|kilobytes| kilobytes < 30 << 10),
        "{memory:?} kB"
    );
}
