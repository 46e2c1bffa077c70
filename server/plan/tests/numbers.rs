//! The tables of NUMBERS.md say what the program says. Their values are also worked here by hand, where the page is not
//! to be trusted alone.

use plan::{Plan, show};

const PAGE: &str = include_str!("../NUMBERS.md");

/// Line and value of every row that gives one.
fn rows() -> Vec<(&'static str, &'static str)> {
    let mut rows = Vec::new();
    let mut gives = false;
    for line in PAGE.lines() {
        gives = line == "| line | gives |" || gives && line.starts_with('|');
        let mut cells = line.trim_matches('|').split(" | ");
        if let (true, Some(first), Some(value)) = (gives, cells.next(), cells.next())
            && let Some(entry) = first.trim().strip_prefix('`')
        {
            rows.push((entry.trim_end_matches('`'), value.trim()));
        }
    }
    rows
}

#[test]
fn the_page_says_what_the_program_says() {
    let rows = rows();
    assert!(rows.len() >= 12, "{rows:?}");
    for (entry, value) in rows {
        let own = entry.starts_with("ketone:");
        let ketone = "  ketone: 4-tert-butylcyclohexanone, 1.00 eq\n";
        let text = format!(
            "plan A\nscale 5.00 mmol ketone\nmaterials\n{}  {entry}\n",
            if own { "" } else { ketone }
        );
        let plan = Plan::read(&text);
        let amounts = plan.ledger.amounts.last().expect("a line");
        let shown = [
            amounts.mass.as_ref().map(|mass| show::mass(mass.value)),
            amounts
                .volume
                .as_ref()
                .map(|volume| show::volume(volume.value)),
            amounts
                .amount
                .as_ref()
                .map(|amount| show::amount(amount.value)),
        ];
        let shown: Vec<String> = shown.into_iter().flatten().collect();
        assert!(
            shown.iter().any(|shown| shown == value),
            "{entry}: {value} is none of {shown:?}"
        );
    }
}

/// By hand: weights of CIAAW 2021 (C 12.011, H 1.008, O 15.999, Na 22.990, Ce 140.116, Cl 35.45), R of CODATA 2018,
/// benzaldehyde at 1.0401 g/mL (CRC Handbook, 25 °C).
#[test]
fn the_page_says_what_a_hand_reckons() {
    let ketone = 10.0 * 12.011 + 18.0 * 1.008 + 15.999;
    let cerium = 140.116 + 3.0 * 35.45 + 7.0 * (2.0 * 1.008 + 15.999);
    let aldehyde = 7.0 * 12.011 + 6.0 * 1.008 + 15.999;
    for (words, value) in [
        (
            "tert-butylcyclohexanone, 1.00 eq",
            format!("{:.0} mg", 5.0 * ketone),
        ),
        ("heptahydrate", format!("{:.2} g", 5.0 * cerium / 1e3)),
        ("2.41 M", format!("{:.2} mL", 5.0 * 1.15 / 2.41)),
        ("60 wt%", format!("{:.0} mg", 5.5 * (22.990 + 1.008) / 0.6)),
        (
            "benzaldehyde, 1.00",
            format!("{:.3} mL", 5.0 * aldehyde / 1040.1),
        ),
        (
            "hydrogen",
            format!("{:.0} mL", 5.0 * 8.314_462_6 * 294.15 / 101.325),
        ),
    ] {
        let row = rows().into_iter().find(|(entry, _)| entry.contains(words));
        let (entry, said) = row.unwrap_or_else(|| panic!("{words}"));
        assert_eq!(said, value, "{entry}");
    }
}
