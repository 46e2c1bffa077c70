//! Pictures, as SVG within the page: in black, white and hatching, so that any printer will do.

use crate::bench::{Bench, Heat, degrees, ranges};
use maud::{Markup, html};
use plan::show;
use plan::time::{Lasts, StepTime};
use std::f64::consts::PI;
use uom::si::f64::{Time, Volume};
use uom::si::time::minute;

/// A picture is as wide as the page: 180 mm at four units a millimetre.
pub(crate) const WIDTH: f64 = 720.0;
/// Left of this stand the words for what is drawn.
const LEFT: f64 = 64.0;
const RIGHT: f64 = WIDTH - 10.0;
/// Of a letter at the size of the labels; words are no wider than this says.
const LETTER: f64 = 6.6;

/// What a picture shows, drawn and in words.
pub(crate) struct Picture {
    /// Which of the plan's parts it is of.
    pub(crate) part: usize,
    pub(crate) svg: Markup,
    pub(crate) words: String,
}

/// A coordinate, to a tenth of a unit.
pub(crate) fn at(x: f64) -> String {
    format!("{x:.1}")
}

#[allow(clippy::cast_precision_loss)] // Numbers of steps and letters.
pub(crate) fn float(number: usize) -> f64 {
    number as f64
}

pub(crate) fn letters(words: &str) -> f64 {
    float(words.chars().count()) * LETTER
}

/// From an hour on, twice the time is wider by so many minutes.
const DOUBLING: f64 = 25.0;
/// A step that states no time is as wide as so many minutes.
const INSTANT: f64 = 9.0;

/// Minutes on paper.
fn width(minutes: f64) -> f64 {
    if minutes <= 60.0 {
        minutes
    } else {
        60.0 + DOUBLING * (minutes / 60.0).log2()
    }
}

fn near(a: f64, b: f64) -> bool {
    (a - b).abs() < 1e-6
}

/// A step on the timeline.
struct Bar {
    number: usize,
    /// In minutes after the beginning.
    from: f64,
    to: f64,
    /// Of its length, from its beginning: with hands on it.
    hands: f64,
    /// Steps beside each other are drawn below each other.
    lane: usize,
    lasts: String,
    /// In the flask after it, where it holds something.
    heat: Option<Heat>,
    /// Where it begins and ends on paper.
    left: f64,
    right: f64,
}

/// The day: hands-on against waiting, and the temperature of the flask along it. One picture for each part of a plan
/// that states times.
pub(crate) fn timelines(bench: &Bench<'_>) -> Vec<Picture> {
    let parts = 0..bench.times.parts.len();
    parts.filter_map(|part| timeline(bench, part)).collect()
}

fn timeline(bench: &Bench<'_>, part: usize) -> Option<Picture> {
    let total = bench.times.parts.get(part)?.total;
    if total.is_none() {
        return None;
    }
    let mut bars = bars(bench, part)?;
    place(&mut bars);
    let lanes = bars.iter().map(|bar| bar.lane).max().unwrap_or(0) + 1;
    let (top, lane) = (4.0, 34.0);
    let graph = top + lane * float(lanes) + 12.0;
    // Nothing is in the flask yet, and so it has no temperature.
    let empty = bars.iter().all(|bar| bar.heat.is_none());
    let clock = if empty { graph } else { graph + 84.0 };
    let words = in_words(bench, part);
    let hatch = format!("waiting{part}");
    let svg = html! {
        svg viewBox={ "0 0 " (at(WIDTH)) " " (at(clock + 22.0)) } role="img" aria-label=(words) {
            defs {
                pattern id=(hatch) width="5" height="5" patternUnits="userSpaceOnUse" patternTransform="rotate(45)" {
                    rect width="5" height="5" fill="#fff" {}
                    line x1="0" y1="0" x2="0" y2="5" stroke="#000" stroke-width="1.4" {}
                }
            }
            text x="0" y=(at(top + 12.0)) { "steps" }
            @for bar in &bars {
                (draw(bar, top + lane * float(bar.lane), &hatch))
            }
            @for (x, label) in numbers(&bars) {
                text x=(at(x)) y=(at(top + lane * label.1 + 28.0)) text-anchor="middle" class="small" { (label.0) }
            }
            (temperature(bench, &bars, graph, 70.0))
            line x1=(at(LEFT)) x2=(at(RIGHT)) y1=(at(clock)) y2=(at(clock)) stroke="#000" stroke-width="1" {}
            text x="0" y=(at(clock + 16.0)) { (if bench.times.start.is_some() && part + 1 == bench.times.parts.len() { "clock" } else { "after" }) }
            @for (x, label) in hours(bench, part, &bars) {
                line x1=(at(x)) x2=(at(x)) y1=(at(clock)) y2=(at(clock + 5.0)) stroke="#000" stroke-width="1" {}
                text x=(at(x)) y=(at(clock + 17.0)) text-anchor="middle" class="small" { (label) }
            }
        }
    };
    Some(Picture { part, svg, words })
}

/// What the timeline says, for those who do not see it.
fn in_words(bench: &Bench<'_>, part: usize) -> String {
    let whole = bench.times.parts.get(part).copied().unwrap_or_default();
    let mut words = format!(
        "Timeline. Stated times add up to {}, of which waiting {}.",
        whole.total, whole.waiting
    );
    if whole.unstated > 0 {
        words.push_str(&format!(
            " Steps that state no time: {}, so it takes longer than that.",
            whole.unstated
        ));
    }
    words
}

fn bars(bench: &Bench<'_>, part: usize) -> Option<Vec<Bar>> {
    let minutes = |time: Time| time.get::<minute>().max(0.0);
    let steps = bench.times.steps.iter().zip(&bench.plan.moments);
    let steps = steps
        .enumerate()
        .map(|(index, (step, moment))| (index, step, moment));
    let mut lanes: Vec<f64> = Vec::new();
    let mut bars = Vec::new();
    for (index, step, moment) in steps.filter(|(_, step, _)| step.part == part) {
        let (from, to) = (minutes(step.begins.least), minutes(step.ends.least));
        if !from.is_finite() || !to.is_finite() {
            return None;
        }
        let free = lanes.iter().position(|free| *free <= from + 1e-6);
        let lane = free.unwrap_or(lanes.len());
        match lanes.get_mut(lane) {
            Some(free) => *free = to,
            None => lanes.push(to),
        }
        let lasts = Lasts {
            least: step.stated.least,
            most: step.stated.least,
        };
        let state = moment.after.get(bench.flask);
        let state = state.filter(|state| state.unclear || !state.contents.is_empty());
        bars.push(Bar {
            number: bench.number(step.line)?,
            from,
            to,
            hands: hands(step),
            lane,
            lasts: lasts.to_string(),
            heat: state.map(|_| bench.heat(index)),
            left: LEFT,
            right: RIGHT,
        });
    }
    Some(bars)
}

/// Part of a step that needs hands.
fn hands(step: &StepTime) -> f64 {
    let stated = step.stated.least;
    if stated <= Time::default() {
        return 1.0;
    }
    (1.0 - (step.waiting.least / stated).value).clamp(0.0, 1.0)
}

/// Puts the bars on paper: the time between two marks by its length, and at each mark the steps that take none.
fn place(bars: &mut [Bar]) {
    let mut times: Vec<f64> = bars.iter().flat_map(|bar| [bar.from, bar.to]).collect();
    times.sort_by(f64::total_cmp);
    times.dedup_by(|a, b| near(*a, *b));
    let mut marks = Vec::new();
    let mut reached = 0.0;
    let mut before: Option<f64> = None;
    for time in times {
        reached += before.map_or(0.0, |before| width(time - before));
        let here = |bar: &&Bar| near(bar.from, bar.to) && near(bar.from, time);
        let left = reached + INSTANT * float(bars.iter().filter(here).count());
        marks.push((time, reached, left));
        reached = left;
        before = Some(time);
    }
    let scale = if reached > 0.0 {
        (RIGHT - LEFT) / reached
    } else {
        1.0
    };
    let mark = |time: f64| {
        let mark = marks.iter().position(|(own, ..)| near(*own, time));
        let mark = mark.and_then(|index| marks.get(index).map(|mark| (index, mark.1, mark.2)));
        mark.unwrap_or((0, 0.0, 0.0))
    };
    let mut used = vec![0.0; marks.len()];
    for bar in bars {
        let (index, reached, left) = mark(bar.from);
        if near(bar.from, bar.to) {
            if let Some(used) = used.get_mut(index) {
                bar.left = LEFT + (reached + *used) * scale;
                *used += INSTANT;
            }
            bar.right = bar.left + INSTANT * scale;
        } else {
            bar.left = LEFT + left * scale;
            bar.right = LEFT + mark(bar.to).1 * scale;
        }
    }
}

fn draw(bar: &Bar, y: f64, hatch: &str) -> Markup {
    let height = 15.0;
    let wide = bar.right - bar.left;
    if near(bar.from, bar.to) {
        let middle = (bar.left + bar.right) / 2.0;
        return html! {
            circle cx=(at(middle)) cy=(at(y + height / 2.0)) r="2.6" fill="#fff" stroke="#000" stroke-width="1.2" {}
        };
    }
    let hands = wide * bar.hands;
    html! {
        rect x=(at(bar.left + 0.6)) y=(at(y)) width=(at((wide - 1.2).max(1.0))) height=(at(height)) fill={ "url(#" (hatch) ")" } stroke="#000" stroke-width="1" {}
        @if bar.hands > 0.0 {
            rect x=(at(bar.left + 0.6)) y=(at(y)) width=(at((hands - 1.2).max(1.0))) height=(at(height)) fill="#000" {}
        }
    }
}

/// The numbers of the steps below their bars, with the lane; neighbours that take no time share a label.
fn numbers(bars: &[Bar]) -> Vec<(f64, (String, f64))> {
    let mut groups: Vec<(f64, f64, usize, bool, Vec<&Bar>)> = Vec::new();
    for bar in bars {
        let instant = near(bar.from, bar.to);
        match groups.last_mut() {
            Some((_, right, lane, true, group))
                if instant && *lane == bar.lane && (*right - bar.left).abs() < 0.5 =>
            {
                *right = bar.right;
                group.push(bar);
            }
            _ => groups.push((bar.left, bar.right, bar.lane, instant, vec![bar])),
        }
    }
    let mut labels: Vec<(f64, (String, f64))> = Vec::new();
    let mut ends: Vec<(usize, f64)> = Vec::new();
    for (left, right, lane, instant, group) in groups {
        let of_group: Vec<usize> = group.iter().map(|bar| bar.number).collect();
        let number = ranges(&of_group);
        let long = match group.as_slice() {
            [bar] if !instant => format!("{number} · {}", bar.lasts),
            _ => number.clone(),
        };
        let middle = (left + right) / 2.0;
        let end = ends.iter().rev().find(|(own, _)| *own == lane);
        let end = end.map_or(f64::NEG_INFINITY, |(_, end)| *end);
        let room = |words: &str, slack: f64| {
            letters(words) <= right - left + slack && middle - letters(words) / 2.0 >= end + 2.0
        };
        let label = if room(&long, 0.0) {
            long
        } else if room(&number, 40.0) {
            number
        } else {
            continue;
        };
        ends.push((lane, middle + letters(&label) / 2.0));
        labels.push((middle, (label, float(lane))));
    }
    labels
}

/// The temperature of the flask as a line, with a label at every level.
fn temperature(bench: &Bench<'_>, bars: &[Bar], top: f64, height: f64) -> Markup {
    let known = || {
        let heats = bars.iter().filter_map(|bar| bar.heat);
        heats.filter_map(|heat| match heat {
            Heat::At(t) => Some(t),
            Heat::Reflux => None,
        })
    };
    let boils = bars.iter().any(|bar| bar.heat == Some(Heat::Reflux));
    let low = known().fold(f64::INFINITY, f64::min);
    let high = known().fold(f64::NEG_INFINITY, f64::max);
    if !(low.is_finite() && high.is_finite()) {
        return html! {};
    }
    let span = (high - low).max(20.0);
    // Above all temperatures there is room for what boils at one that the plan does not say.
    let above = if boils { 14.0 } else { 0.0 };
    let y = |heat: Heat| match heat {
        Heat::At(t) => top + 16.0 + above + (high - t) / span * (height - 20.0 - above),
        Heat::Reflux => top + 12.0,
    };
    let words = |heat: Heat| match heat {
        Heat::At(t) => degrees(t),
        Heat::Reflux => "reflux".to_owned(),
    };
    let mut runs: Vec<Vec<(f64, f64)>> = Vec::new();
    // Where a level begins and ends.
    let mut levels: Vec<(f64, f64, Heat)> = Vec::new();
    let mut now: Option<Heat> = None;
    for bar in bars {
        match (now, bar.heat, runs.last_mut()) {
            (Some(before), Some(heat), Some(run)) => {
                // Beside a step that was drawn already the line goes on from where it is.
                let reached = run.last().map_or(bar.left, |(x, _)| *x);
                let begin = bar.left.max(reached);
                run.extend([(begin, y(before)), (bar.right.max(begin), y(heat))]);
            }
            (_, Some(heat), _) => runs.push(vec![(bar.left, y(heat)), (bar.right, y(heat))]),
            (_, None, _) => {}
        }
        match (bar.heat, levels.last_mut()) {
            (Some(heat), Some((_, right, level))) if now == Some(*level) && heat == *level => {
                *right = bar.right;
            }
            (Some(heat), _) => {
                let left = if now.is_none() { bar.left } else { bar.right };
                levels.push((left, bar.right, heat));
            }
            (None, _) => {}
        }
        now = bar.heat;
    }
    // The longest level is labelled first, and none over another's label.
    levels.sort_by(|a, b| (b.1 - b.0).total_cmp(&(a.1 - a.0)));
    let mut labels: Vec<(f64, f64, String)> = Vec::new();
    for (left, _, heat) in levels {
        let (x, y, label) = (left + 3.0, y(heat) - 5.0, words(heat));
        let x = x.min(RIGHT - letters(&label));
        let meets = |(other, height, words): &(f64, f64, String)| {
            x < other + letters(words) && *other < x + letters(&label) && (height - y).abs() < 13.0
        };
        if !labels.iter().any(meets) {
            labels.push((x, y, label));
        }
    }
    let line = |run: &[(f64, f64)]| {
        let points = run.iter().map(|(x, y)| format!("{},{}", at(*x), at(*y)));
        points.collect::<Vec<_>>().join(" ")
    };
    html! {
        text x="0" y=(at(top + height / 2.0)) { (bench.name(bench.flask)) }
        @for run in &runs { polyline points=(line(run)) fill="none" stroke="#000" stroke-width="2" stroke-linejoin="round" {} }
        @for (x, y, words) in labels {
            text x=(at(x)) y=(at(y)) class="small halo" { (words) }
        }
    }
}

/// Clock or elapsed time at the marks that have room for it.
fn hours(bench: &Bench<'_>, part: usize, bars: &[Bar]) -> Vec<(f64, String)> {
    let mut marks: Vec<(f64, f64)> = Vec::new();
    for bar in bars.iter().filter(|bar| !near(bar.from, bar.to)) {
        marks.extend([(bar.left, bar.from), (bar.right, bar.to)]);
    }
    marks.sort_by(|a, b| a.0.total_cmp(&b.0));
    let label = |minutes: f64| {
        let time = Time::new::<minute>(minutes);
        match bench.times.clock(part, time) {
            Some(clock) => clock.to_string(),
            None => Lasts {
                least: time,
                most: time,
            }
            .to_string(),
        }
    };
    let mut labels: Vec<(f64, String)> = Vec::new();
    // The end is said whatever else is.
    let last = marks.pop().map(|(x, minutes)| (x, label(minutes)));
    let from = last.as_ref().map_or(RIGHT, |(x, words)| {
        x.min(RIGHT - letters(words) / 2.0) - letters(words) / 2.0
    });
    let mut free = LEFT - 10.0;
    for (x, minutes) in marks {
        let words = label(minutes);
        if labels.last().is_some_and(|(_, last)| *last == words) {
            continue;
        }
        let half = letters(&words) / 2.0;
        if x - half >= free && x + half + 6.0 <= from {
            free = x + half + 6.0;
            labels.push((x, words));
        }
    }
    labels.extend(last.map(|(x, words)| (x.min(RIGHT - letters(&words) / 2.0), words)));
    labels
}

/// The fill of the flask over the steps. None where no step puts a known volume in.
pub(crate) fn fill(bench: &Bench<'_>) -> Option<Picture> {
    let plan = bench.plan;
    let mut volumes: Vec<(usize, Option<Volume>)> = Vec::new();
    let mut fullest: Option<(usize, Volume)> = None;
    let mut followed = true;
    for moment in &plan.moments {
        let number = bench.number(moment.line)?;
        let state = moment.after.get(bench.flask)?;
        let volume = state.volume(&plan.materials);
        let peak = moment.peak.filter(|_| moment.vessel == bench.flask);
        let least = state.least_volume().filter(|_| volume.is_none());
        followed &= volume.is_some() || state.unclear;
        for volume in [peak, volume, least].into_iter().flatten() {
            if fullest.is_none_or(|(_, most)| volume > most) {
                fullest = Some((number, volume));
            }
        }
        match volumes.last_mut() {
            Some((own, last)) if *own == number => *last = volume,
            _ => volumes.push((number, volume)),
        }
    }
    let (fullest_at, fullest) = fullest.filter(|(_, volume)| volume.value > 0.0)?;
    let last = volumes.iter().rposition(|(number, volume)| {
        *number == fullest_at || volume.is_some_and(|volume| volume.value > 0.0)
    })?;
    volumes.truncate(last + 2);
    let capacity = bench.capacity(bench.flask);
    let name = bench.name(bench.flask);
    let of = capacity.map_or(String::new(), |capacity| {
        format!(" of {}", show::volume(capacity))
    });
    let at_least = if followed { "" } else { "at least " };
    let words = format!(
        "Fill of {name} over the steps. Fullest at step {fullest_at}: {at_least}{}{of}.",
        show::volume(fullest)
    );
    let most = capacity.map_or(fullest, |capacity| capacity.max(fullest));
    let (top, bottom) = (16.0, 112.0);
    let y = |volume: Volume| bottom - (volume / most).value * (bottom - top);
    let wide = (RIGHT - LEFT) / float(volumes.len());
    let x = |index: usize| LEFT + wide * float(index);
    let columns = volumes.iter().enumerate();
    let every = (16.0 / wide).ceil().max(1.0);
    let peak_column = volumes.iter().position(|(number, _)| *number == fullest_at);
    let svg = html! {
        svg viewBox={ "0 0 " (at(WIDTH)) " 140" } role="img" aria-label=(words) {
            @if let Some(capacity) = capacity {
                text x="0" y=(at(y(capacity) + 4.0)) { (show::volume(capacity)) }
                line x1=(at(LEFT)) x2=(at(RIGHT)) y1=(at(y(capacity))) y2=(at(y(capacity))) stroke="#000" stroke-width="1.2" {}
                @let two_thirds = capacity * (2.0 / 3.0);
                text x="0" y=(at(y(two_thirds) + 4.0)) { "⅔" }
                line x1=(at(LEFT)) x2=(at(RIGHT)) y1=(at(y(two_thirds))) y2=(at(y(two_thirds))) stroke="#000" stroke-width="1" stroke-dasharray="5 4" {}
            }
            @for (index, (number, volume)) in columns {
                @if let Some(volume) = volume.filter(|volume| volume.value > 0.0) {
                    rect x=(at(x(index) + 1.0)) y=(at(y(volume))) width=(at(wide - 2.0)) height=(at(bottom - y(volume))) fill="#b9b9b9" {}
                    line x1=(at(x(index))) x2=(at(x(index) + wide)) y1=(at(y(volume))) y2=(at(y(volume))) stroke="#000" stroke-width="2.4" {}
                }
                @if volume.is_none() {
                    text x=(at(x(index) + wide / 2.0)) y=(at(bottom - 6.0)) text-anchor="middle" class="small" { "?" }
                }
                @if (float(index) % every).abs() < 0.5 {
                    text x=(at(x(index) + wide / 2.0)) y=(at(bottom + 16.0)) text-anchor="middle" class="small" { (number) }
                }
            }
            line x1=(at(LEFT)) x2=(at(RIGHT)) y1=(at(bottom)) y2=(at(bottom)) stroke="#000" stroke-width="1" {}
            text x="0" y=(at(bottom + 16.0)) { "step" }
            @if let Some(column) = peak_column {
                @let middle = x(column) + wide / 2.0;
                @let label = if followed { show::volume(fullest) } else { format!("≥ {}", show::volume(fullest)) };
                // Below its top where the line of the capacity is too near.
                @let above = y(fullest) - y(most) > 16.0;
                @let middle = middle.clamp(LEFT + letters(&label) / 2.0, RIGHT - letters(&label) / 2.0);
                text x=(at(middle)) y=(at(y(fullest) + if above { -5.0 } else { 15.0 })) text-anchor="middle" class="strong halo" { (label) }
            }
        }
    };
    Some(Picture {
        part: 0,
        svg,
        words,
    })
}

/// A round flask that is filled to a part of what it holds.
pub(crate) fn flask(part: f64) -> Markup {
    let (radius, x, y) = (19.0, 22.0, 37.0);
    let level = y + radius - 2.0 * radius * height_of(part);
    html! {
        svg viewBox="0 0 44 60" width="44" height="60" aria-hidden="true" class="flask" {
            // The liquid is what of the sphere lies below the level.
            @let half = (radius * radius - (level - y) * (level - y)).max(0.0).sqrt();
            @if part > 0.0 {
                @let large = if level < y { "1" } else { "0" };
                path d={ "M " (at(x - half)) " " (at(level)) " A " (at(radius)) " " (at(radius)) " 0 " (large) " 0 " (at(x + half)) " " (at(level)) " Z" } fill="#9a9a9a" stroke="#000" stroke-width="1.2" {}
            }
            path d={ "M 17 3 L 17 " (at(y - 18.3)) " A 19 19 0 1 0 27 " (at(y - 18.3)) " L 27 3 M 14.5 3 L 29.5 3" } fill="none" stroke="#000" stroke-width="1.8" stroke-linecap="round" {}
        }
    }
}

/// How high a sphere is filled, over its diameter, where a part of its volume is full.
fn height_of(part: f64) -> f64 {
    let part = part.clamp(0.0, 1.0);
    let (mut low, mut high) = (0.0_f64, 1.0_f64);
    for _ in 0..40 {
        let h = f64::midpoint(low, high);
        // A cap of height h of a sphere of diameter 1, over the sphere.
        let cap = PI * h * h * (1.5 - h) / 3.0 / (PI / 6.0);
        if cap < part { low = h } else { high = h }
    }
    low
}

/// The way of the gas, from the cylinder to where it leaves, with the numbers of its hold points.
pub(crate) fn gas_path(path: &crate::gas::GasPath<'_>) -> Picture {
    let gas = path.gases.join(", then ");
    let outlet = path.outlet.short;
    let words = format!(
        "The way of the gas: cylinder of {gas}, regulator, flow meter, {}, {outlet}, hood. Hold point 1 is at the regulator, 2 at the inlet of {0}, 3 at the {outlet}.",
        path.vessel
    );
    let y = 46.0;
    let stations = [
        (62.0, "cylinder", &*gas),
        (200.0, "regulator", "15–20 psi"),
        (338.0, "flow meter", "a slow stream"),
        (476.0, path.vessel, "outlet open first"),
        (614.0, outlet, "gas is seen"),
    ];
    let svg = html! {
        svg viewBox="0 0 720 112" role="img" aria-label=(words) {
            line x1="80" x2="662" y1=(at(y)) y2=(at(y)) stroke="#000" stroke-width="2" {}
            path d={ "M 662 " (at(y - 5.0)) " l 11 5 l -11 5 z" } fill="#000" {}
            text x="679" y=(at(y + 4.0)) { "hood" }
            // Cylinder, with the chain around it.
            path d="M 50 72 L 50 34 Q 50 24 58 22 L 58 15 L 66 15 L 66 22 Q 74 24 74 34 L 74 72 Z" fill="#fff" stroke="#000" stroke-width="1.8" {}
            line x1="44" x2="80" y1="57" y2="57" stroke="#000" stroke-width="1.8" stroke-dasharray="3 2" {}
            // Regulator, with its hand.
            circle cx="200" cy=(at(y)) r="17" fill="#fff" stroke="#000" stroke-width="1.8" {}
            line x1="200" y1=(at(y)) x2="209" y2=(at(y - 10.0)) stroke="#000" stroke-width="1.8" {}
            // Flow meter, with its float.
            path d="M 329 26 L 347 26 L 344 66 L 332 66 Z" fill="#fff" stroke="#000" stroke-width="1.8" {}
            circle cx="338" cy="48" r="4" fill="#000" {}
            // Flask.
            path d="M 470 18 L 470 30 A 19 19 0 1 0 482 30 L 482 18 M 467 18 L 485 18" fill="#fff" stroke="#000" stroke-width="1.8" {}
            // Bubbler, with bubbles in its oil.
            path d="M 602 22 L 602 64 Q 602 70 608 70 L 620 70 Q 626 70 626 64 L 626 22" fill="#fff" stroke="#000" stroke-width="1.8" {}
            line x1="602" x2="626" y1="52" y2="52" stroke="#000" stroke-width="1.2" {}
            circle cx="611" cy="60" r="2.2" fill="none" stroke="#000" {}
            circle cx="617" cy="56" r="2.2" fill="none" stroke="#000" {}
            @for (x, name, below) in stations {
                text x=(at(x)) y="88" text-anchor="middle" class="strong" { (name) }
                text x=(at(x)) y="104" text-anchor="middle" class="small" { (below) }
            }
            @for (x, number) in [(200.0, "1"), (430.0, "2"), (570.0, "3")] {
                circle cx=(at(x + if number == "1" { 26.0 } else { 0.0 })) cy=(at(if number == "1" { 22.0 } else { y })) r="11" fill="#000" {}
                text x=(at(x + if number == "1" { 26.0 } else { 0.0 })) y=(at(if number == "1" { 26.5 } else { y + 4.5 })) text-anchor="middle" class="stop" { (number) }
            }
        }
    };
    Picture {
        part: 0,
        svg,
        words,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn half_a_sphere_is_filled_to_half_its_height() {
        for (part, height) in [(0.0, 0.0), (0.5, 0.5), (1.0, 1.0), (5.0 / 32.0, 0.25)] {
            assert!((height_of(part) - height).abs() < 1e-6, "{part}");
        }
    }
}
