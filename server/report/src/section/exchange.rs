//! The exchange: one chart, and beside it how the share was found out and how certain it is.

use standpipe_engine::text::{Sentence, number, sentence};
use standpipe_engine::view::{ExchangeView, JobView};

use crate::chart::{Chart, CurvePoint};
use crate::compose::Composer;
use crate::error::ReportError;
use crate::font::Weight;
use crate::paragraph::{Line, Span, Style, lines};
use crate::strip::{Spot, Strip, baseline, line_marks};

const CHART_WIDTH: f64 = 266.0;
const CHART_HEIGHT: f64 = 124.0;
/// Clear space between the chart and the words beside it.
const SIDE_GUTTER: f64 = 10.0;
const SIDE_LEADING: f64 = 11.2;
const SIDE_PARAGRAPH: f64 = 4.0;

/// The section; nothing if no litre was pushed.
///
/// # Errors
/// As [`Composer::say`].
pub(super) fn strips(view: &JobView, composer: &mut Composer<'_>) -> Result<Vec<Strip>, ReportError> {
    let Some(exchange) = &view.exchange else { return Ok(Vec::new()) };
    let body = if exchange.curve.is_empty() {
        composer.running(&exchange.remarks, states_share)?
    } else {
        beside_chart(exchange, composer)?
    };
    composer.section(&sentence::record_exchange(), body)
}

/// True for the sentences with the figures that are read first.
fn states_share(said: &Sentence) -> bool {
    matches!(
        said.key(),
        "exchange-share"
            | "exchange-share-so-far"
            | "exchange-share-after-pan"
            | "exchange-share-at-the-end"
            | "exchange-share-expected"
    )
}

/// Chart and words beside each other, the figures first; words that do not fit there stand below in the
/// usual size.
fn beside_chart(exchange: &ExchangeView, composer: &mut Composer<'_>) -> Result<Vec<Strip>, ReportError> {
    let mut strip = chart(exchange, composer)?.strip(composer.faces(), CHART_WIDTH, CHART_HEIGHT)?;
    let left = CHART_WIDTH + SIDE_GUTTER;
    let mut y = 2.0;
    let mut below = Vec::new();
    let (figures, others): (Vec<&Sentence>, Vec<&Sentence>) =
        exchange.remarks.iter().partition(|said| states_share(said));
    for said in figures.into_iter().chain(others) {
        let weight = if states_share(said) { Weight::Bold } else { Weight::Regular };
        let span = Span::new(composer.say(said)?, Style { weight, ..Style::SIDE });
        let set = lines(composer.faces(), &[span], composer.column() - left)?;
        let height = set.len() as f64 * SIDE_LEADING;
        if below.is_empty() && y + height <= CHART_HEIGHT {
            place(&set, left, y, &mut strip);
            y += height + SIDE_PARAGRAPH;
        } else {
            below.push(said.clone());
        }
    }
    let mut rest = composer.running(&below, states_share)?;
    if let Some(first) = rest.first_mut() {
        first.space_above = 4.0;
        strip.keeps_next = true;
    }
    let mut strips = vec![strip];
    strips.extend(rest);
    Ok(strips)
}

fn place(set: &[Line], x: f64, top: f64, strip: &mut Strip) {
    for (index, line) in set.iter().enumerate() {
        let y = top + index as f64 * SIDE_LEADING + baseline(Style::SIDE.size, SIDE_LEADING);
        strip.marks.extend(line_marks(line, Spot { x, y }));
    }
}

fn chart(exchange: &ExchangeView, composer: &mut Composer<'_>) -> Result<Chart, ReportError> {
    let last = exchange.curve.last().map_or(0.0, |point| point.share);
    let curve = exchange.curve.iter().map(|point| CurvePoint {
        litres: point.litres,
        parts: 100.0 * point.share,
        low: 100.0 * point.least,
        high: 100.0 * point.greatest,
    });
    let looks = |at_most: bool| {
        let looks = exchange.looks.iter().filter(move |look| look.at_most == at_most);
        looks.map(|look| (look.litres, 100.0 * look.glass_new_share)).collect()
    };
    Ok(Chart {
        curve: curve.collect(),
        looks: looks(false),
        at_most: looks(true),
        last_value: number::fixed(100.0 * last, 0),
        across: composer.say(&sentence::record_chart_across())?,
        up: composer.say(&sentence::record_chart_up())?,
    })
}
