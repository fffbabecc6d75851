//! Viscosity of used fluid against fresh fluid at one temperature.
//!
//! Compared is at the temperatures at which both were measured; else the fluid of which two viscosities are known is
//! brought to the other's temperature. The viscosity index stands beside it and judges nothing.

use super::Evidence;
use super::letter::{also, gap, last};
use super::said::value;
use crate::catalogue::FigureUncertainty;
use crate::formula::condition::{Gap, Kind, Observation};
use crate::formula::laboratory::viscosity_change;
use crate::formula::viscosity::{Form, Line};
use crate::formula::viscosity_index::viscosity_index;
use crate::job::Folded;
use crate::kind::words::SampleTime;
use crate::quantity::Celsius;
use crate::text::{Sentence, number, sentence};

/// How far beyond the temperatures at which a fluid was measured its line is continued: house value.
const CONTINUED_KELVIN_MOST: f64 = 10.0;

/// One measured viscosity.
#[derive(Clone, Copy)]
struct Point {
    celsius: f64,
    viscosity: f64,
    seq: u64,
}

/// Used and fresh fluid at one temperature.
struct Pair {
    celsius: f64,
    used: f64,
    fresh: f64,
    seqs: Vec<u64>,
    /// What had to be computed to bring them together.
    brought: Option<Sentence>,
}

/// The comparisons of one side, one line a temperature.
pub(super) fn of(folded: &Folded, time: SampleTime, uncertainty: &FigureUncertainty) -> Vec<Evidence> {
    let (used, fresh) = (points(folded, time), points(folded, SampleTime::Fresh));
    if used.is_empty() {
        return Vec::new();
    }
    let unusable = |why: Gap| {
        let figures = used.iter().map(listed).collect();
        let values = used.iter().map(|point| value("viscosity", point.viscosity, None, "mm²/s")).collect();
        let seqs = used.iter().map(|point| point.seq).collect();
        vec![gap(Kind::Viscosity, why, figures, values, seqs)]
    };
    if !falls(&used) || !falls(&fresh) {
        return unusable(Gap::Contradicting);
    }
    if fresh.is_empty() {
        return unusable(Gap::NoFreshFluid);
    }
    let pairs = pairs(&used, &fresh);
    if pairs.is_empty() {
        return unusable(Gap::UnlikeTemperatures);
    }
    let mut found: Vec<Evidence> = pairs.into_iter().filter_map(|pair| compared(pair, uncertainty)).collect();
    if let (Some(first), Some(used)) = (found.first_mut(), index(&used)) {
        first.values.push(value("viscosity_index", used, None, "1"));
        let fresh = index(&fresh);
        first.values.extend(fresh.map(|fresh| value("viscosity_index_fresh", fresh, None, "1")));
        let remark = match fresh {
            Some(fresh) => sentence::condition_index_both(number::fixed(fresh, 0), number::fixed(used, 0)),
            None => sentence::condition_index(number::fixed(used, 0)),
        };
        first.seen = also(first.seen.clone(), remark);
    }
    found
}

/// The last viscosity stated at each temperature.
fn points(folded: &Folded, time: SampleTime) -> Vec<Point> {
    let at = |place: fn(f64) -> bool| {
        last(folded, time, |sample| {
            sample.letter.viscosities.iter().copied().rfind(|(celsius, _)| place(*celsius))
        })
    };
    let found = [
        at(|celsius| celsius == 40.0),
        at(|celsius| celsius == 100.0),
        at(|celsius| celsius != 40.0 && celsius != 100.0),
    ];
    let point = |(seq, (celsius, viscosity))| Point { celsius, viscosity, seq };
    found.into_iter().flatten().map(point).collect()
}

/// Whether the viscosity falls with the temperature, as that of every oil does.
fn falls(points: &[Point]) -> bool {
    points
        .iter()
        .all(|one| points.iter().all(|other| one.celsius >= other.celsius || one.viscosity > other.viscosity))
}

fn pairs(used: &[Point], fresh: &[Point]) -> Vec<Pair> {
    let measured = used.iter().filter_map(|used| {
        let fresh = fresh.iter().find(|fresh| fresh.celsius == used.celsius)?;
        let seqs = vec![used.seq, fresh.seq];
        Some(Pair {
            celsius: used.celsius,
            used: used.viscosity,
            fresh: fresh.viscosity,
            seqs,
            brought: None,
        })
    });
    let measured: Vec<Pair> = measured.collect();
    if !measured.is_empty() {
        return measured;
    }
    let seqs = |at: &Point, line: &[Point]| {
        let line = line.iter().map(|point| point.seq);
        std::iter::once(at.seq).chain(line).collect::<Vec<_>>()
    };
    let to_used = used.iter().filter_map(|at| {
        let (brought, viscosity) = bring(fresh, at.celsius, "fresh")?;
        let seqs = seqs(at, fresh);
        Some(Pair { celsius: at.celsius, used: at.viscosity, fresh: viscosity, seqs, brought: Some(brought) })
    });
    let to_fresh = fresh.iter().filter_map(|at| {
        let (brought, viscosity) = bring(used, at.celsius, "used")?;
        let seqs = seqs(at, used);
        Some(Pair { celsius: at.celsius, used: viscosity, fresh: at.viscosity, seqs, brought: Some(brought) })
    });
    to_used.chain(to_fresh).take(1).collect()
}

/// The viscosity of a fluid at another temperature, along the line through its coldest and its warmest point, and how
/// that was done; nothing far beyond the two. It is taken to be as uncertain as a measured one.
fn bring(points: &[Point], celsius: f64, whose: &'static str) -> Option<(Sentence, f64)> {
    let by_temperature = |one: &&Point, other: &&Point| one.celsius.total_cmp(&other.celsius);
    let (cold, warm) = (points.iter().min_by(by_temperature)?, points.iter().max_by(by_temperature)?);
    let at = |point: &Point| Some((Celsius::new(point.celsius).ok()?, point.viscosity));
    let reach = cold.celsius - CONTINUED_KELVIN_MOST..=warm.celsius + CONTINUED_KELVIN_MOST;
    if !reach.contains(&celsius) {
        return None;
    }
    let computed = Line::through(Form::Simple, at(cold)?, at(warm)?)?.at(Celsius::new(celsius).ok()?)?;
    let brought = if computed.continued {
        sentence::condition_continued(whose)
    } else {
        sentence::condition_brought(whose)
    };
    Some((brought, computed.viscosity))
}

fn compared(pair: Pair, uncertainty: &FigureUncertainty) -> Option<Evidence> {
    let Pair { celsius, used, fresh, seqs, brought } = pair;
    let change = viscosity_change(uncertainty.estimate(used), uncertainty.estimate(fresh))?;
    let in_percent = change.estimate.scaled(100.0);
    let shown = number::estimate(&in_percent, (-100.0, f64::MAX));
    let percent = |number: String| number::with_unit(&number, "%");
    // A computed viscosity has as many digits as a measured one usually has.
    let viscosity = |value: f64| number::with_unit(&number::plain((value * 1e3).round() / 1e3), "mm²/s");
    let at = number::with_unit(&number::plain(celsius), "°C");
    let mut seen = sentence::condition_seen_viscosity(
        at,
        percent(shown.value),
        viscosity(fresh),
        percent(shown.greatest),
        percent(shown.least),
        viscosity(used),
    );
    for remark in brought.into_iter().chain((!change.clear).then(sentence::condition_not_clear)) {
        seen = also(seen, remark);
    }
    let of = |name, figure: f64| {
        value(name, figure, Some(uncertainty.estimate(figure).standard_uncertainty), "mm²/s")
    };
    let relative =
        value("viscosity_change", change.estimate.value, Some(change.estimate.standard_uncertainty), "1");
    Some(Evidence {
        observation: Observation::Viscosity(change),
        seen,
        sign: sentence::condition_figure("viscosity"),
        values: vec![
            value("temperature", celsius, None, "°C"),
            of("viscosity", used),
            of("viscosity_fresh", fresh),
            relative,
        ],
        seqs,
        measured: true,
    })
}

/// The index as the standard reports it; nothing unless both usual temperatures were measured.
fn index(points: &[Point]) -> Option<f64> {
    let at = |celsius: f64| points.iter().find(|point| point.celsius == celsius).map(|point| point.viscosity);
    viscosity_index(at(40.0)?, at(100.0)?).map(|index| index.rounded())
}

fn listed(point: &Point) -> Sentence {
    let at = number::with_unit(&number::plain(point.celsius), "°C");
    sentence::letter_viscosity(at, number::with_unit(&number::plain(point.viscosity), "mm²/s"))
}
