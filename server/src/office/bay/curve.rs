//! The exchange over litres as a picture of lines (SVG 1.1): band, curve, looks, the last value at its end.
//!
//! What stands behind the last look is a group of its own, so that it can stay hidden while the next look is asked: who
//! knows the estimate sees it in the glass. It computes nothing but places. Called by [`super::page`].

use maud::{Markup, PreEscaped, html};
use standpipe_engine::text::number;
use standpipe_engine::view::{CurvePoint, ExchangeView, Look};
use std::fmt::Write as _;

const WIDTH: f64 = 790.0;
const HEIGHT: f64 = 178.0;
const LEFT: f64 = 44.0;
/// Room right of the frame for the last value.
const RIGHT: f64 = 56.0;
const TOP: f64 = 14.0;
const BOTTOM: f64 = 30.0;
/// Fewest litres across, so that the first look does not fill the frame.
const LITRES_LEAST: f64 = 4.0;
/// Numbers of litres stand at least so far apart.
const APART: f64 = 46.0;

/// Words of the picture.
pub(super) struct Words<'a> {
    /// Axis across.
    pub(super) across: &'a str,
    /// Axis up.
    pub(super) up: &'a str,
    /// What it is, for who does not see it. The numbers stand in the words below it, which hide what a look would be talked into.
    pub(super) named: &'a str,
}

/// The picture of an exchange.
pub(super) fn drawn(exchange: &ExchangeView, words: &Words<'_>) -> Markup {
    let frame = Frame::of(exchange);
    let look = exchange.looks.iter().map(|look| look.litres).fold(0.0, f64::max);
    let (known, ahead) = divided(&exchange.curve, look);
    html! {
        svg viewBox={ "0 0 " (WIDTH) " " (HEIGHT) } role="img" aria-label=(words.named) {
            (frame.grid())
            @if known.len() > 1 { g { (frame.band(known)) (frame.curve(known)) } }
            g.estimate {
                @if ahead.len() > 1 { (frame.band(ahead)) (frame.curve(ahead)) }
                @if let Some(last) = exchange.curve.last().filter(|last| last.litres > 0.0) { (frame.value(last)) }
            }
            (frame.litres(exchange, look))
            text.axis x=(n(LEFT + 6.0)) y=(n(TOP + 18.0)) { (words.up) }
            text.axis.end x=(n(WIDTH - RIGHT - 6.0)) y=(n(HEIGHT - BOTTOM - 8.0)) { (words.across) }
            @for look in &exchange.looks { (frame.look(look)) }
        }
    }
}

/// The curve up to the last look, and from there on; both hold the point where they meet.
fn divided(curve: &[CurvePoint], look: f64) -> (&[CurvePoint], &[CurvePoint]) {
    let beyond = curve.iter().position(|point| point.litres > look + 1e-9).unwrap_or(curve.len());
    let meets = beyond.saturating_sub(1);
    (curve.get(..beyond).unwrap_or_default(), curve.get(meets..).unwrap_or_default())
}

/// A place with one decimal.
fn n(place: f64) -> String {
    format!("{place:.1}")
}

/// From litres and shares to places.
struct Frame {
    end_litres: f64,
}

impl Frame {
    /// As many litres as were pushed, and as many as are left for pushing where that is known.
    fn of(exchange: &ExchangeView) -> Self {
        let left = exchange.progress.left_litres.unwrap_or_default().max(0.0);
        let looks = exchange.looks.iter().map(|look| look.litres);
        let curve = exchange.curve.iter().map(|point| point.litres);
        let most = looks.chain(curve).fold(exchange.litres_in + left, f64::max);
        Self { end_litres: most.max(LITRES_LEAST) }
    }

    fn x(&self, litres: f64) -> f64 {
        LEFT + (WIDTH - LEFT - RIGHT) * (litres / self.end_litres).clamp(0.0, 1.0)
    }

    fn y(share: f64) -> f64 {
        HEIGHT - BOTTOM - (HEIGHT - BOTTOM - TOP) * share.clamp(0.0, 1.0)
    }

    fn grid(&self) -> Markup {
        let ends = (n(LEFT), n(WIDTH - RIGHT));
        html! {
            @for parts in [25_u8, 50, 75, 100, 0] {
                @let y = Self::y(f64::from(parts) / 100.0);
                line class=(if parts == 0 { "base" } else { "grid" }) x1=(ends.0) x2=(ends.1) y1=(n(y)) y2=(n(y)) {}
                @if parts % 50 == 0 { text.axis.end x=(n(LEFT - 8.0)) y=(n(y + 6.0)) { (parts) } }
            }
        }
    }

    fn band(&self, points: &[CurvePoint]) -> Markup {
        let upper = points.iter().map(|point| (point.litres, point.greatest));
        let lower = points.iter().rev().map(|point| (point.litres, point.least));
        html! { polygon.band points=(self.through(upper.chain(lower))) {} }
    }

    fn curve(&self, points: &[CurvePoint]) -> Markup {
        let through = points.iter().map(|point| (point.litres, point.share));
        html! { polyline.curve-line points=(self.through(through)) {} }
    }

    fn through(&self, points: impl Iterator<Item = (f64, f64)>) -> String {
        points.fold(String::new(), |mut line, (litres, share)| {
            let _ = write!(line, "{:.1},{:.1} ", self.x(litres), Self::y(share));
            line
        })
    }

    fn value(&self, last: &CurvePoint) -> Markup {
        let (x, y) = (self.x(last.litres) + 10.0, Self::y(last.share) + 10.0);
        html! { text.last x=(n(x)) y=(n(y)) { (number::fixed(last.share * 100.0, 0)) } }
    }

    /// Litres along the foot: begin, looks, end of the curve, end of the frame; none that would run into another.
    fn litres(&self, exchange: &ExchangeView, look: f64) -> Markup {
        let looks = exchange.looks.iter().map(|look| (look.litres, false));
        let pushed = (exchange.litres_in > look).then_some((exchange.litres_in, true));
        let wanted = [(self.end_litres, false), (0.0, false)].into_iter().chain(pushed).chain(looks);
        let mut placed: Vec<f64> = Vec::new();
        let kept: Vec<(f64, bool)> = wanted
            .filter(|(litres, _)| {
                let x = self.x(*litres);
                let free = placed.iter().all(|other| (other - x).abs() >= APART);
                if free {
                    placed.push(x);
                }
                free
            })
            .collect();
        html! {
            @for (litres, estimate) in kept {
                text.axis.middle x=(n(self.x(litres))) y=(n(HEIGHT - 8.0)) class=[estimate.then_some("estimate")] {
                    (PreEscaped(label(litres)))
                }
            }
        }
    }

    fn look(&self, look: &Look) -> Markup {
        let (x, y) = (self.x(look.litres), Self::y(look.glass_new_share));
        html! {
            @if look.at_most {
                path.look d={ "M" (n(x - 8.0)) " " (n(y)) "h16M" (n(x)) " " (n(y)) "v14" } {}
            } @else {
                circle.look cx=(n(x)) cy=(n(y)) r="7" {}
            }
        }
    }
}

/// Litres in short: a whole number without its decimal.
fn label(litres: f64) -> String {
    if litres == 0.0 {
        return "0 L".to_owned();
    }
    let whole = (litres - litres.round()).abs() < 0.05;
    number::fixed(litres, usize::from(!whole))
}

#[cfg(test)]
mod tests {
    use super::*;
    use standpipe_engine::view::{LookMeans, Progress};

    fn point(litres: f64) -> CurvePoint {
        CurvePoint { litres, least: litres / 20.0, share: litres / 15.0, greatest: litres / 12.0 }
    }

    fn exchange(litres_in: f64, looks: &[f64]) -> ExchangeView {
        let look = |litres: &f64| Look {
            litres: *litres,
            glass_new_share: litres / 10.0,
            standard_uncertainty: 0.07,
            means: LookMeans::Tube,
            at_most: false,
        };
        ExchangeView {
            litres_in,
            looks: looks.iter().map(look).collect(),
            curve: (0..=40).map(|at| point(f64::from(at) * litres_in / 40.0)).collect(),
            share_after_exchange: None,
            share_after_pan: None,
            remarks: Vec::new(),
            advice: Vec::new(),
            progress: Progress { left_litres: Some(4.0), ..Progress::default() },
        }
    }

    const WORDS: Words<'_> = Words { across: "litres pushed", up: "parts new of 100", named: "named" };

    #[test]
    fn behind_the_last_look_everything_stands_in_the_group_that_can_be_hidden() {
        let picture = drawn(&exchange(8.0, &[3.0, 6.0]), &WORDS).into_string();
        let (before, behind) = picture.split_once("<g class=\"estimate\">").unwrap();
        let behind = behind.split_once("</g>").unwrap().0;
        assert!(before.contains("polyline") && behind.contains("polyline"), "the curve is in two parts");
        assert!(behind.contains(">53<") && !before.contains(">53<"), "the value stands at the hidden end");
        let end = format!("{:.1},", Frame { end_litres: 12.0 }.x(8.0));
        assert!(behind.contains(&end) && !before.contains(&end));
    }

    #[test]
    fn the_two_parts_meet_at_the_last_look() {
        let exchange = exchange(8.0, &[4.0]);
        let (known, ahead) = divided(&exchange.curve, 4.0);
        assert_eq!(known.last().unwrap().litres, 4.0);
        assert_eq!(ahead.first().unwrap().litres, 4.0);
        let (none, all) = divided(&exchange.curve, 0.0);
        assert_eq!((none.len(), all.len()), (1, 41));
    }

    #[test]
    fn every_look_is_an_open_circle_and_numbers_do_not_run_into_each_other() {
        let picture = drawn(&exchange(12.0, &[3.0, 3.2, 6.0, 11.8]), &WORDS).into_string();
        assert_eq!(picture.matches("<circle").count(), 4);
        let places: Vec<f64> = picture
            .split("axis middle")
            .skip(1)
            .map(|text| text.split("x=\"").nth(1).unwrap().split('"').next().unwrap().parse().unwrap())
            .collect();
        for (at, place) in places.iter().enumerate() {
            let apart = |other: &f64| (place - other).abs() >= APART;
            assert!(places.iter().take(at).all(apart), "{places:?}");
        }
    }

    #[test]
    fn an_exchange_without_a_share_shows_its_looks_alone() {
        let mut exchange = exchange(3.0, &[3.0]);
        exchange.curve.clear();
        let picture = drawn(&exchange, &WORDS).into_string();
        assert!(
            picture.contains("<circle")
                && !picture.contains("polyline")
                && !picture.contains("class=\"last\"")
        );
    }
}
