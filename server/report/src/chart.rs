//! The exchange chart: litres across, new fluid inside up, drawn as lines and areas.
//!
//! A grey band under a grid, one curve in the accent, looks as open circles, those that only say 'at most' as a bar with a tick down, the last value at its end, the
//! axis words inside the frame, no legend. It computes nothing but places. Called by the exchange section.

use crate::error::ReportError;
use crate::font::Faces;
use crate::paragraph::{Ink, Span, Style, single_line};
use crate::strip::{Mark, Spot, Strip, line_marks};

/// Room for the numbers left of the frame.
const LEFT: f64 = 24.0;
/// Room for the last value right of the frame.
const RIGHT: f64 = 22.0;
/// Room above the frame for the upper half of its highest number.
const TOP: f64 = 6.0;
/// Room below the frame for the numbers of the litres.
const BOTTOM: f64 = 14.0;
/// Half of the bar of a look that only says 'at most'.
const AT_MOST_HALF: f64 = 2.6;
/// The tick that points down from it.
const AT_MOST_TICK: f64 = 5.0;
const AT_MOST_THICKNESS: f64 = 0.7;

/// One place on the curve: litres pushed, new fluid inside in parts of 100 and its range.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct CurvePoint {
    /// Litres pushed.
    pub(crate) litres: f64,
    /// New fluid inside, 0 to 100.
    pub(crate) parts: f64,
    /// Lower end of the band.
    pub(crate) low: f64,
    /// Upper end of the band.
    pub(crate) high: f64,
}

/// What the chart shows.
#[derive(Debug, Clone, Default, PartialEq)]
pub(crate) struct Chart {
    /// The curve by ascending litres; may be empty if no share could be computed.
    pub(crate) curve: Vec<CurvePoint>,
    /// Looks: litres and what the comparison showed, 0 to 100.
    pub(crate) looks: Vec<(f64, f64)>,
    /// Looks that only say 'at most': litres and the most that can have been new, 0 to 100.
    pub(crate) at_most: Vec<(f64, f64)>,
    /// The last value in words, at the curve's end.
    pub(crate) last_value: String,
    /// Words of the axis across.
    pub(crate) across: String,
    /// Words of the axis up.
    pub(crate) up: String,
}

/// From litres and parts to places.
struct Frame {
    left: f64,
    right: f64,
    top: f64,
    bottom: f64,
    litres_end: f64,
}

impl Frame {
    fn spot(&self, litres: f64, parts: f64) -> Spot {
        let x = self.left + (self.right - self.left) * (litres / self.litres_end).clamp(0.0, 1.0);
        let y = self.bottom - (self.bottom - self.top) * (parts / 100.0).clamp(0.0, 1.0);
        Spot { x, y }
    }
}

impl Chart {
    /// The chart as one strip of `width` by `height` points.
    ///
    /// # Errors
    /// [`ReportError::MissingGlyph`] if one of its words cannot be drawn.
    pub(crate) fn strip(&self, faces: &Faces, width: f64, height: f64) -> Result<Strip, ReportError> {
        let looks = self.looks.iter().chain(&self.at_most).map(|look| look.0);
        let litres = self.curve.iter().map(|p| p.litres).chain(looks);
        let ticks = litre_ticks(litres.fold(0.0, f64::max));
        let frame = Frame {
            left: LEFT,
            right: width - RIGHT,
            top: TOP,
            bottom: height - BOTTOM,
            litres_end: ticks.last().copied().unwrap_or(1.0),
        };
        let mut marks = Vec::new();
        self.band(&frame, &mut marks);
        grid(faces, &frame, &ticks, &mut marks)?;
        self.axis_words(faces, &frame, &mut marks)?;
        if self.curve.len() > 1 {
            let through = self.curve.iter().map(|p| frame.spot(p.litres, p.parts)).collect();
            marks.push(Mark::Stroke { through, thickness: 1.4, ink: Ink::Accent });
        }
        for (litres, parts) in &self.looks {
            marks.push(Mark::Circle { centre: frame.spot(*litres, *parts), radius: 2.3, ink: Ink::Black });
        }
        for (litres, parts) in &self.at_most {
            let Spot { x, y } = frame.spot(*litres, *parts);
            let tick = vec![Spot { x, y }, Spot { x, y: y + AT_MOST_TICK }];
            marks.push(Mark::rule(x - AT_MOST_HALF, x + AT_MOST_HALF, y, AT_MOST_THICKNESS, Ink::Black));
            marks.push(Mark::Stroke { through: tick, thickness: AT_MOST_THICKNESS, ink: Ink::Black });
        }
        if let Some(last) = self.curve.last() {
            let end = frame.spot(last.litres, last.parts);
            let style = Style { size: 8.6, ink: Ink::Accent, ..Style::STRONG };
            let line = single_line(faces, &[Span::new(self.last_value.as_str(), style)])?;
            marks.extend(line_marks(&line, Spot { x: end.x + 4.5, y: end.y + 3.0 }));
        }
        Ok(Strip { height, marks, ..Strip::default() })
    }

    fn band(&self, frame: &Frame, marks: &mut Vec<Mark>) {
        if self.curve.len() < 2 {
            return;
        }
        let upper = self.curve.iter().map(|p| frame.spot(p.litres, p.high));
        let lower = self.curve.iter().rev().map(|p| frame.spot(p.litres, p.low));
        marks.push(Mark::Area { corners: upper.chain(lower).collect(), ink: Ink::Band });
    }

    /// The words stand where the curve is not: it begins low at the left, and usually ends high.
    fn axis_words(&self, faces: &Faces, frame: &Frame, marks: &mut Vec<Mark>) -> Result<(), ReportError> {
        let up = single_line(faces, &[Span::new(self.up.as_str(), Style::CHART)])?;
        marks.extend(line_marks(&up, Spot { x: frame.left + 4.0, y: frame.top + 9.5 }));
        let across = single_line(faces, &[Span::new(self.across.as_str(), Style::CHART)])?;
        let from = frame.litres_end / 2.0;
        let right_half = self.curve.iter().filter(|p| p.litres >= from).map(|p| p.low);
        let looks = self.looks.iter().chain(&self.at_most).filter(|look| look.0 >= from).map(|look| look.1);
        let lowest = right_half.chain(looks).fold(100.0, f64::min);
        let y = if lowest > 15.0 { frame.bottom - 4.5 } else { frame.top + 9.5 };
        marks.extend(line_marks(&across, Spot { x: frame.right - 4.0 - across.width, y }));
        Ok(())
    }
}

fn grid(faces: &Faces, frame: &Frame, ticks: &[f64], marks: &mut Vec<Mark>) -> Result<(), ReportError> {
    for parts in [0.0, 25.0, 50.0, 75.0, 100.0] {
        let y = frame.spot(0.0, parts).y;
        let thickness = if parts == 0.0 { 0.7 } else { 0.35 };
        marks.push(Mark::rule(frame.left, frame.right, y, thickness, Ink::Rule));
        let line = single_line(faces, &[Span::new(format!("{parts:.0}"), Style::CHART)])?;
        marks.extend(line_marks(&line, Spot { x: frame.left - 5.0 - line.width, y: y + 2.7 }));
    }
    let whole = ticks.iter().all(|tick| (tick - tick.round()).abs() < 1e-6);
    for litres in ticks {
        let x = frame.spot(*litres, 0.0).x;
        let through = vec![Spot { x, y: frame.bottom }, Spot { x, y: frame.bottom + 2.5 }];
        marks.push(Mark::Stroke { through, thickness: 0.5, ink: Ink::Rule });
        let words = if whole { format!("{litres:.0}") } else { format!("{litres:.1}") };
        let line = single_line(faces, &[Span::new(words, Style::CHART)])?;
        marks.extend(line_marks(&line, Spot { x: x - line.width / 2.0, y: frame.bottom + 11.0 }));
    }
    Ok(())
}

/// Round litres from 0 to at least `end`, four to eight steps of 1, 2 or 5 times a power of ten.
fn litre_ticks(end: f64) -> Vec<f64> {
    // Tenths of a litre, so that every step is a whole number and no tick is off by rounding.
    const STEPS_TENTHS: [u32; 11] = [1, 2, 5, 10, 20, 50, 100, 200, 500, 1000, 2000];
    let end_tenths = (end * 10.0).clamp(4.0, 16_000.0).ceil() as u32;
    let step = STEPS_TENTHS.into_iter().find(|step| end_tenths.div_ceil(*step) <= 8).unwrap_or(2000);
    (0..=end_tenths.div_ceil(step)).map(|tick| f64::from(tick * step) / 10.0).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn chart(end: f64, last: f64) -> Chart {
        let curve = (0..=20).map(|step| {
            let share = f64::from(step) / 20.0;
            let parts = last * share;
            CurvePoint { litres: end * share, parts, low: parts - 6.0 * share, high: parts + 6.0 * share }
        });
        Chart {
            curve: curve.collect(),
            looks: vec![(end / 2.0, last / 2.0 + 3.0), (end, last)],
            at_most: vec![(end / 4.0, 0.0), (end / 3.0, last / 2.0)],
            last_value: format!("{last:.0}"),
            across: "litres pushed".to_owned(),
            up: "new fluid inside, parts of 100".to_owned(),
        }
    }

    #[test]
    fn ticks_are_round_and_reach_the_last_litre() {
        assert_eq!(litre_ticks(9.4), [0.0, 2.0, 4.0, 6.0, 8.0, 10.0]);
        assert_eq!(litre_ticks(0.5), [0.0, 0.1, 0.2, 0.3, 0.4, 0.5]);
        assert_eq!(litre_ticks(60.0), [0.0, 10.0, 20.0, 30.0, 40.0, 50.0, 60.0]);
        assert_eq!(litre_ticks(0.0).len(), 5);
        for tenths in 1..=600 {
            let ticks = litre_ticks(f64::from(tenths) / 10.0);
            assert!((4..=9).contains(&ticks.len()), "{tenths}: {ticks:?}");
            assert!(*ticks.last().unwrap() >= f64::from(tenths) / 10.0);
        }
    }

    #[test]
    fn everything_stays_inside_the_strip_for_short_and_long_exchanges() {
        let faces = Faces::shipped().unwrap();
        for (end, last) in [(0.5, 3.0), (9.4, 78.0), (12.0, 100.0), (60.0, 99.0), (0.0, 0.0)] {
            let strip = chart(end, last).strip(faces, 290.0, 150.0).unwrap();
            for mark in &strip.marks {
                let spots: Vec<Spot> = match mark {
                    Mark::Words { at, segment } => {
                        vec![*at, Spot { x: at.x + segment.width, y: at.y - segment.style.size * 0.72 }]
                    }
                    Mark::Stroke { through, .. } => through.clone(),
                    Mark::Area { corners, .. } => corners.clone(),
                    Mark::Circle { centre, .. } => vec![*centre],
                    Mark::Photo { .. } => Vec::new(),
                };
                for spot in spots {
                    let inside = (0.0..=290.0).contains(&spot.x) && (0.0..=150.0).contains(&spot.y);
                    assert!(inside, "{end} L, {last}: {mark:?}");
                }
            }
        }
    }

    #[test]
    fn a_look_that_only_says_at_most_is_no_circle_but_a_bar_with_a_tick_down() {
        let strip = chart(10.0, 80.0).strip(Faces::shipped().unwrap(), 290.0, 150.0).unwrap();
        let black = |mark: &&Mark| matches!(mark, Mark::Stroke { ink: Ink::Black, .. });
        let circles = strip.marks.iter().filter(|mark| matches!(mark, Mark::Circle { .. })).count();
        assert_eq!((circles, strip.marks.iter().filter(black).count()), (2, 4));
        let down = strip.marks.iter().filter(|mark| match mark {
            Mark::Stroke { through, ink: Ink::Black, .. } => {
                matches!(through[..], [from, to] if from.x == to.x && to.y > from.y)
            }
            _ => false,
        });
        assert_eq!(down.count(), 2);
    }

    #[test]
    fn the_words_across_leave_a_low_curve_free() {
        let faces = Faces::shipped().unwrap();
        let height = |last: f64| {
            let strip = chart(10.0, last).strip(faces, 290.0, 150.0).unwrap();
            let at = strip.marks.iter().find_map(|mark| match mark {
                Mark::Words { at, segment } if segment.text == "litres pushed" => Some(at.y),
                _ => None,
            });
            at.unwrap()
        };
        assert!(height(80.0) > 120.0);
        assert!(height(8.0) < 30.0);
    }
}
