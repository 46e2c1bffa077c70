//! Water and oxygen on their way to a reagent: a bar for every source, each beginning where the one above it ends.

use crate::bench::Bench;
use crate::pictures::{Picture, WIDTH, at, float, letters};
use checks::{Exposure, amount_text, share_text};
use maud::{Markup, html};
use plan::budget::Source;
use plan::show;

/// Of so many reagents a picture is drawn: those that lose most.
const REAGENTS: usize = 3;
/// So many sources have a bar of their own.
const BARS: usize = 5;
/// What brings less than this part of all is drawn together.
const LITTLE: f64 = 0.03;

/// Height of a row, and of its bar.
const ROW: f64 = 21.0;
const BAR: f64 = 13.0;

/// What a row of the picture shows: parts of the reagent.
struct Row {
    name: String,
    brings: String,
    water: f64,
    oxygen: f64,
}

impl Row {
    fn part(&self) -> f64 {
        self.water + self.oxygen
    }
}

/// One picture a reagent, in the order of the steps.
pub(crate) fn pictures(bench: &Bench<'_>) -> Vec<Picture> {
    let mut exposures: Vec<Exposure> = checks::exposures(bench.plan)
        .into_iter()
        .filter(|exposure| exposure.lost().typical > 0.0 && exposure.lost().high.is_finite())
        .collect();
    exposures.sort_by(|a, b| b.lost().typical.total_cmp(&a.lost().typical));
    exposures.truncate(REAGENTS);
    exposures.sort_by_key(|exposure| exposure.line);
    let pictures = exposures.iter().enumerate();
    pictures
        .map(|(index, exposure)| picture(index, exposure))
        .collect()
}

fn rows(exposure: &Exposure) -> Vec<Row> {
    let all = exposure.lost().typical;
    let parts = exposure.by_water.iter().zip(&exposure.by_oxygen);
    let mut rows: Vec<Row> = exposure
        .sources
        .iter()
        .zip(parts)
        .map(|(source, (water, oxygen))| Row {
            name: source.name.to_string(),
            brings: brings(source, water.typical, oxygen.typical),
            water: water.typical,
            oxygen: oxygen.typical,
        })
        .filter(|row| row.part() > 0.0)
        .collect();
    // The same thing may bring some at several steps.
    rows.sort_by(|a, b| b.part().total_cmp(&a.part()));
    let large = rows.iter().filter(|row| row.part() >= all * LITTLE).count();
    let rest = rows.split_off(large.clamp(1, BARS).min(rows.len()));
    if let Some(last) = (!rest.is_empty()).then(|| Row {
        name: match rest.len() {
            1 => "one more source".to_owned(),
            more => format!("{more} more sources"),
        },
        brings: String::new(),
        water: rest.iter().map(|row| row.water).sum(),
        oxygen: rest.iter().map(|row| row.oxygen).sum(),
    }) {
        rows.push(last);
    }
    rows
}

/// `12 µmol water, 40 µmol O₂`, of which each takes a noticeable part.
fn brings(source: &Source, by_water: f64, by_oxygen: f64) -> String {
    let all = by_water + by_oxygen;
    let water = (by_water > all / 20.0).then(|| amount_text(source.water.typical, 2) + " water");
    let oxygen = (by_oxygen > all / 20.0).then(|| amount_text(source.oxygen.typical, 2) + " O₂");
    let both: Vec<String> = water.into_iter().chain(oxygen).collect();
    both.join(", ")
}

fn picture(index: usize, exposure: &Exposure) -> Picture {
    let lost = exposure.lost();
    let rows = rows(exposure);
    let names = rows.iter().map(|row| letters(&row.name));
    let left = names.fold(letters("low to high"), f64::max).min(220.0) + 10.0;
    let values = rows.iter().map(|row| letters(&row.brings));
    let range = range_text(lost.low, lost.high);
    let right = WIDTH - values.fold(letters(&range), f64::max).min(230.0) - 6.0;
    // As far as the estimates go, unless the typical one would be hard to see.
    let most = (lost.typical * 1.1)
        .max(lost.high.min(lost.typical * 4.0))
        .max(exposure.worry.0 * 1.1);
    let x = |part: f64| left + (part / most).clamp(0.0, 1.0) * (right - left);
    let top = 34.0;
    let row_at = |row: usize| top + ROW * float(row);
    let (range_at, axis) = (row_at(rows.len()), row_at(rows.len()) + ROW + 2.0);
    let hatch = format!("water{index}");
    let heading = heading(exposure);
    let words = in_words(exposure, &rows);
    let mut reached = 0.0;
    let begins: Vec<f64> = rows
        .iter()
        .map(|row| {
            let begins = reached;
            reached += row.part();
            begins
        })
        .collect();
    let marks: Vec<(f64, f64)> = [exposure.worry.0, exposure.worry.1]
        .into_iter()
        .filter(|worry| *worry <= most)
        .map(|worry| (worry, x(worry)))
        .collect();
    let svg = html! {
        svg viewBox={ "0 0 " (at(WIDTH)) " " (at(axis + 22.0)) } role="img" aria-label=(words) {
            defs {
                pattern id=(hatch) width="5" height="5" patternUnits="userSpaceOnUse" patternTransform="rotate(45)" {
                    rect width="5" height="5" fill="#fff" {}
                    line x1="0" y1="0" x2="0" y2="5" stroke="#000" stroke-width="1.4" {}
                }
            }
            text x="0" y="13" class="strong" { (heading) }
            @for (worry, x) in &marks {
                line x1=(at(*x)) x2=(at(*x)) y1=(at(top - 3.0)) y2=(at(axis)) stroke="#000" stroke-width="1" stroke-dasharray="5 3" {}
                text x=(at(*x)) y=(at(top - 5.5)) text-anchor="middle" class="small halo" { (percent(*worry)) }
            }
            @for (row, (source, begins)) in rows.iter().zip(&begins).enumerate() {
                @let y = row_at(row);
                (bar(x(*begins), x(begins + source.water), x(begins + source.part()), y, &hatch))
                // To where the next one begins.
                line x1=(at(x(begins + source.part()))) x2=(at(x(begins + source.part()))) y1=(at(y + BAR)) y2=(at(y + ROW)) stroke="#000" stroke-width="0.8" {}
                text x="0" y=(at(y + 10.5)) { (short(&source.name)) }
                text x=(at(WIDTH)) y=(at(y + 10.5)) text-anchor="end" class="small" { (source.brings) }
            }
            (whisker(x(lost.low), x(lost.typical), x(lost.high), lost.high > most, range_at))
            text x="0" y=(at(range_at + 10.5)) { "low to high" }
            text x=(at(WIDTH)) y=(at(range_at + 10.5)) text-anchor="end" class="small" { (range) }
            line x1=(at(left)) x2=(at(right)) y1=(at(axis)) y2=(at(axis)) stroke="#000" stroke-width="1" {}
            text x="0" y=(at(axis + 16.0)) { "part lost" }
            @for tick in ticks(most) {
                line x1=(at(x(tick))) x2=(at(x(tick))) y1=(at(axis)) y2=(at(axis + 5.0)) stroke="#000" stroke-width="1" {}
                text x=(at(x(tick))) y=(at(axis + 17.0)) text-anchor="middle" class="small" { (percent(tick)) }
            }
        }
    };
    Picture {
        part: 0,
        svg,
        words: basis(exposure, &rows),
    }
}

/// Hatched for water, black for oxygen; what is too narrow to see is a line.
fn bar(from: f64, middle: f64, to: f64, y: f64, hatch: &str) -> Markup {
    html! {
        rect x=(at(from)) y=(at(y)) width=(at((to - from).max(1.2))) height=(at(BAR)) fill={ "url(#" (hatch) ")" } stroke="#000" stroke-width="1" {}
        @if to - middle > 0.3 {
            rect x=(at(middle)) y=(at(y)) width=(at(to - middle)) height=(at(BAR)) fill="#000" stroke="#000" stroke-width="1" {}
        }
    }
}

/// From the low to the high estimate, with a dot at the typical one, and an arrow where it goes on beyond the paper.
fn whisker(low: f64, typical: f64, high: f64, beyond: bool, y: f64) -> Markup {
    let middle = y + BAR / 2.0;
    let cap = |x: f64| {
        html! { line x1=(at(x)) x2=(at(x)) y1=(at(middle - 4.0)) y2=(at(middle + 4.0)) stroke="#000" stroke-width="1.4" {} }
    };
    html! {
        line x1=(at(low)) x2=(at(high)) y1=(at(middle)) y2=(at(middle)) stroke="#000" stroke-width="1.4" {}
        (cap(low))
        @if beyond {
            path d={ "M " (at(high - 7.0)) " " (at(middle - 4.5)) " l 8 4.5 l -8 4.5 z" } fill="#000" {}
        } @else { (cap(high)) }
        circle cx=(at(typical)) cy=(at(middle)) r="3.6" fill="#000" {}
    }
}

/// `base, 5.75 mmol, 1.15 eq: about 2.3 % is lost, 1.12 eq are left`
fn heading(exposure: &Exposure) -> String {
    let lost = exposure.lost().typical;
    let mut words = format!("{}, {}", exposure.name, amount_text(exposure.amount, 3));
    let eq = |eq: f64| show::number(eq, 3);
    if let Some(equivalents) = exposure.equivalents {
        words.push_str(&format!(", {} eq", eq(equivalents)));
    }
    if lost >= 1.0 {
        words.push_str(": nothing is left");
        return words;
    }
    words.push_str(&format!(": about {} is lost", share_text(lost)));
    if let Some(equivalents) = exposure.equivalents {
        words.push_str(&format!(", {} eq are left", eq(equivalents * (1.0 - lost))));
    }
    words
}

/// What the picture says, for those who do not see it.
fn in_words(exposure: &Exposure, rows: &[Row]) -> String {
    let lost = exposure.lost();
    let sources = rows.iter().map(|row| {
        let part = share_text(row.part());
        match row.brings.is_empty() {
            true => format!("{} {part}", row.name),
            false => format!("{} {part} by {}", row.name, row.brings),
        }
    });
    format!(
        "{}. By source: {}. In all {}.",
        heading(exposure),
        sources.collect::<Vec<_>>().join("; "),
        range_text(lost.low, lost.high),
    )
}

/// How what the drawn sources bring is known.
fn basis(exposure: &Exposure, rows: &[Row]) -> String {
    let mut said: Vec<String> = Vec::new();
    for row in rows {
        let mut sources = exposure.sources.iter();
        if let Some(source) = sources.find(|source| *source.name == *row.name) {
            said.push(format!("{}: {}", source.name, source.basis));
        }
    }
    said.dedup();
    match said.is_empty() {
        true => String::new(),
        false => said.join("; ") + ".",
    }
}

/// `0.3 to 13 %`
fn range_text(low: f64, high: f64) -> String {
    let (low, high) = (share_text(low), share_text(high));
    if low == high {
        return high;
    }
    format!("{} to {high}", low.trim_end_matches(" %"))
}

fn percent(part: f64) -> String {
    format!("{} %", show::shortest(part * 100.0))
}

/// No longer than what stands left of the bars.
fn short(name: &str) -> String {
    let most = 32;
    if name.chars().count() <= most {
        return name.to_owned();
    }
    name.chars().take(most - 1).chain(['…']).collect()
}

/// Between three and six round parts up to the most.
fn ticks(most: f64) -> Vec<f64> {
    let power = 10f64.powf((most / 4.0).log10().floor());
    let steps = [1.0, 2.0, 5.0, 10.0].map(|step| step * power);
    let step = steps.into_iter().find(|step| most / step <= 6.0);
    let step = step.unwrap_or(most);
    (0..7)
        .map(|tick| float(tick) * step)
        .take_while(|tick| *tick <= most * 1.0001)
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_axis_has_round_marks() {
        for (most, wanted) in [
            (0.05, vec![0.0, 0.01, 0.02, 0.03, 0.04, 0.05]),
            (1.0, vec![0.0, 0.2, 0.4, 0.6, 0.8, 1.0]),
            (0.023, vec![0.0, 0.005, 0.01, 0.015, 0.02]),
        ] {
            let found = ticks(most);
            assert_eq!(found.len(), wanted.len(), "{found:?}");
            for (a, b) in found.iter().zip(&wanted) {
                assert!((a - b).abs() < 1e-9, "{found:?}");
            }
        }
    }

    #[test]
    fn a_range_says_its_unit_once() {
        assert_eq!(range_text(0.003, 0.13), "0.3 to 15 %");
        assert_eq!(range_text(0.02, 0.02), "2 %");
    }
}
