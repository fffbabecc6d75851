//! The exchange over litres as a picture of lines (SVG 1.1): band, curve, looks, the last value at its end.
//!
//! It is drawn twice, flat for a tablet that lies and higher for one that stands; the style shows one of them. What stands
//! behind the last look is a group of its own, so that it can stay hidden while the next look is asked: who
//! knows the estimate sees it in the glass. It computes nothing but places. Called by [`super::page`].

use crate::office::language::say;
use maud::{Markup, html};
use standpipe_engine::text::number;
use standpipe_engine::view::{CurvePoint, ExchangeView, Look, LookMeans};
use std::fmt::Write as _;

const LEFT: f64 = 44.0;
/// Room right of the frame for the last value.
const RIGHT: f64 = 56.0;
const TOP: f64 = 14.0;
const BOTTOM: f64 = 30.0;
/// Fewest litres across, so that the first look does not fill the frame.
const LITRES_LEAST: f64 = 4.0;
/// Numbers of litres stand at least so far apart.
const APART: f64 = 46.0;
/// Litres between two numbers at the foot.
const STEPS_LITRES: [f64; 6] = [1.0, 2.0, 5.0, 10.0, 20.0, 50.0];
/// Most dots of what an instrument fed; each stands in the middle of the readings that it is for.
const DOTS_MOST: usize = 12;

/// How large a picture is, in its own units.
#[derive(Clone, Copy)]
struct Size {
    class: &'static str,
    width: f64,
    height: f64,
}

/// For a page that is wider than high.
const FLAT: Size = Size { class: "flat", width: 790.0, height: 178.0 };
/// For one that is higher than wide.
const HIGH: Size = Size { class: "high", width: 560.0, height: 300.0 };

/// Words of the picture.
pub(super) struct Words<'a> {
    /// Axis across.
    pub(super) across: &'a str,
    /// Axis up.
    pub(super) up: &'a str,
    /// What it is, for who does not see it. The numbers stand in the words below it, which hide what a look would be talked into.
    pub(super) named: &'a str,
}

/// The picture of an exchange, in both sizes.
pub(super) fn drawn(exchange: &ExchangeView, words: &Words<'_>) -> Markup {
    html! { (picture(exchange, words, FLAT)) (picture(exchange, words, HIGH)) }
}

fn picture(exchange: &ExchangeView, words: &Words<'_>, size: Size) -> Markup {
    let frame = Frame::of(exchange, size);
    let look = exchange.looks.iter().map(|look| look.litres).fold(0.0, f64::max);
    let (known, ahead) = divided(&exchange.curve, look);
    let (fed, looked): (Vec<&Look>, Vec<&Look>) =
        exchange.looks.iter().partition(|look| look.means == LookMeans::Instrument);
    let foot = (n(size.width - RIGHT - 6.0), n(size.height - BOTTOM - 8.0));
    html! {
        svg class=(size.class) viewBox={ "0 0 " (size.width) " " (size.height) } role="img" aria-label=(words.named) {
            (frame.grid())
            @if known.len() > 1 { g { (frame.band(known)) (frame.curve(known)) } }
            g.estimate {
                @if ahead.len() > 1 { (frame.band(ahead)) (frame.curve(ahead)) }
                @if let Some(last) = exchange.curve.last().filter(|last| last.litres > 0.0) { (frame.value(last)) }
            }
            (frame.litres())
            text.axis x=(n(LEFT + 6.0)) y=(n(TOP + 18.0)) { (words.up) }
            text.axis.end x=(foot.0) y=(foot.1) { (words.across) }
            @if !fed.is_empty() {
                (frame.fed(&fed))
                text.axis.end x=(foot.0) y=(n(size.height - BOTTOM - 30.0)) {
                    (say!(bay_chart_marks, fed.len().to_string(), u64::try_from(looked.len()).unwrap_or_default()))
                }
            }
            @for look in looked { (frame.look(look)) }
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
    size: Size,
    end_litres: f64,
}

impl Frame {
    /// As many litres as were pushed, and as many as are left for pushing where that is known.
    fn of(exchange: &ExchangeView, size: Size) -> Self {
        let left = exchange.progress.left_litres.unwrap_or_default().max(0.0);
        let looks = exchange.looks.iter().map(|look| look.litres);
        let curve = exchange.curve.iter().map(|point| point.litres);
        let most = looks.chain(curve).fold(exchange.litres_in + left, f64::max);
        Self { size, end_litres: most.max(LITRES_LEAST) }
    }

    fn across(&self) -> f64 {
        self.size.width - LEFT - RIGHT
    }

    fn x(&self, litres: f64) -> f64 {
        LEFT + self.across() * (litres / self.end_litres).clamp(0.0, 1.0)
    }

    fn y(&self, share: f64) -> f64 {
        self.base() - (self.base() - TOP) * share.clamp(0.0, 1.0)
    }

    /// Where nothing is new.
    fn base(&self) -> f64 {
        self.size.height - BOTTOM
    }

    fn grid(&self) -> Markup {
        let ends = (n(LEFT), n(LEFT + self.across()));
        html! {
            @for parts in [25_u8, 50, 75, 100, 0] {
                @let y = self.y(f64::from(parts) / 100.0);
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
            let _ = write!(line, "{:.1},{:.1} ", self.x(litres), self.y(share));
            line
        })
    }

    fn value(&self, last: &CurvePoint) -> Markup {
        let (x, y) = (self.x(last.litres) + 10.0, self.y(last.share) + 10.0);
        html! { text.last x=(n(x)) y=(n(y)) { (number::fixed(last.share * 100.0, 0)) } }
    }

    /// Round litres along the foot, as close as their numbers stand free.
    fn litres(&self) -> Markup {
        let free = |step: &&f64| self.across() * **step / self.end_litres >= APART;
        let step = STEPS_LITRES.iter().find(free).copied().unwrap_or(self.end_litres);
        let ticks = std::iter::successors(Some(0.0), |litres| Some(litres + step));
        let ends = (n(self.base()), n(self.base() + 6.0));
        html! {
            @for litres in ticks.take_while(|litres| *litres <= self.end_litres + 1e-9) {
                @let x = n(self.x(litres));
                line.base x1=(x) x2=(x) y1=(ends.0) y2=(ends.1) {}
                text.axis.middle x=(x) y=(n(self.size.height - 8.0)) { (label(litres)) }
            }
        }
    }

    /// A look by eye or photo.
    fn look(&self, look: &Look) -> Markup {
        let (x, y) = (self.x(look.litres), self.y(look.glass_new_share));
        html! {
            @if look.at_most {
                path.look d={ "M" (n(x - 8.0)) " " (n(y)) "h16M" (n(x)) " " (n(y)) "v14" } {}
            } @else {
                circle.look cx=(n(x)) cy=(n(y)) r="7" {}
            }
        }
    }

    /// What an instrument fed: few dots, however many readings there are.
    fn fed(&self, looks: &[&Look]) -> Markup {
        let together = looks.len().div_ceil(DOTS_MOST).max(1);
        html! {
            @for looks in looks.chunks(together) {
                @let (litres, share) = middle(looks);
                circle.fed cx=(n(self.x(litres))) cy=(n(self.y(share))) r="3.5" {}
            }
        }
    }
}

/// The middle of some readings.
fn middle(looks: &[&Look]) -> (f64, f64) {
    let sum = |of: fn(&Look) -> f64| looks.iter().map(|look| of(look)).sum::<f64>() / looks.len() as f64;
    (sum(|look| look.litres), sum(|look| look.glass_new_share))
}

/// Litres in short; the unit stands at the first number.
fn label(litres: f64) -> String {
    if litres == 0.0 { number::litres(0.0, 0) } else { number::fixed(litres, 0) }
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
        let picture = picture(&exchange(8.0, &[3.0, 6.0]), &WORDS, FLAT).into_string();
        let (before, behind) = picture.split_once("<g class=\"estimate\">").unwrap();
        let behind = behind.split_once("</g>").unwrap().0;
        assert!(before.contains("polyline") && behind.contains("polyline"), "the curve is in two parts");
        assert!(behind.contains(">53<") && !before.contains(">53<"), "the value stands at the hidden end");
        let end = format!("{:.1},", Frame { size: FLAT, end_litres: 12.0 }.x(8.0));
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

    /// Numbers at the foot with their places.
    fn ticks(picture: &str) -> Vec<(f64, String)> {
        let ticks = picture.split("axis middle").skip(1).map(|text| {
            let place = text.split("x=\"").nth(1).unwrap().split('"').next().unwrap().parse().unwrap();
            (place, text.split('>').nth(1).unwrap().split('<').next().unwrap().replace('\u{a0}', " "))
        });
        ticks.collect()
    }

    #[test]
    fn every_look_is_an_open_circle_and_round_litres_stand_free_of_each_other() {
        for (litres, size, numbers) in [
            (12.0, FLAT, "0 L,2,4,6,8,10,12,14,16"),
            (12.0, HIGH, "0 L,2,4,6,8,10,12,14,16"),
            (5.3, FLAT, "0 L,1,2,3,4,5,6,7,8,9"),
            (30.0, HIGH, "0 L,5,10,15,20,25,30"),
        ] {
            let picture = picture(&exchange(litres, &[3.0, 3.2, 5.1]), &WORDS, size).into_string();
            assert_eq!(picture.matches("<circle class=\"look\"").count(), 3);
            let ticks = ticks(&picture);
            let said: Vec<&str> = ticks.iter().map(|(_, number)| number.as_str()).collect();
            assert_eq!(said.join(","), numbers);
            assert!(ticks.windows(2).all(|pair| pair[1].0 - pair[0].0 >= APART), "{ticks:?}");
        }
    }

    #[test]
    fn what_an_instrument_fed_is_few_dots_with_their_number_in_words_and_a_look_by_eye_stands_out() {
        let at: Vec<f64> = (1..=62).map(|at| f64::from(at) / 10.0).collect();
        let mut exchange = exchange(6.2, &at);
        for (place, look) in exchange.looks.iter_mut().enumerate() {
            look.means = if place == 30 { LookMeans::Tube } else { LookMeans::Instrument };
        }
        let picture = drawn(&exchange, &WORDS).into_string();
        let of = |class: &str| picture.matches(&format!("<circle class=\"{class}\"")).count();
        assert_eq!(of("look"), 2, "one in each size");
        assert!((2..=2 * DOTS_MOST).contains(&of("fed")), "{}", of("fed"));
        assert!(picture.contains("• 61") && picture.contains("○ 1"), "{picture}");
    }

    #[test]
    fn both_sizes_fill_their_width_and_say_the_same() {
        let exchange = exchange(8.0, &[3.0, 6.0]);
        for size in [FLAT, HIGH] {
            let frame = Frame::of(&exchange, size);
            assert!((frame.x(frame.end_litres) - (size.width - RIGHT)).abs() < 1e-9);
            assert!(picture(&exchange, &WORDS, size).into_string().contains(">53<"));
        }
        assert_eq!(drawn(&exchange, &WORDS).into_string().matches("<svg").count(), 2);
    }

    #[test]
    fn an_exchange_without_a_share_shows_its_looks_alone() {
        let mut exchange = exchange(3.0, &[3.0]);
        exchange.curve.clear();
        let picture = picture(&exchange, &WORDS, FLAT).into_string();
        assert!(
            picture.contains("<circle")
                && !picture.contains("polyline")
                && !picture.contains("class=\"last\"")
        );
    }
}
