//! The reference sheet for photos of fluid: a page for bottles, a page for comparison tubes.
//!
//! Where everything stands comes from the engine, which measures by it; only greys, no colour anywhere. Called by
//! [`crate::photo_sheet`]. Never here: a place or a grey of its own.

use standpipe_engine::photo::sheet::{Area, Layout, Place, Stand, steps};
use standpipe_engine::text::{Sentence, sentence};

use crate::compose::Composer;
use crate::error::ReportError;
use crate::page::{Format, Page};
use crate::paragraph::{Ink, Span, Style, lines, single_line};
use crate::strip::{Mark, Spot, line_marks};

/// Points of a millimetre.
const MM: f64 = 72.0 / 25.4;
/// Left edge and width of the words, in millimetres: between the rows of greys.
const WORDS_LEFT: f64 = 46.0;
const WORDS_WIDTH: f64 = 205.0;
/// Base line of the title, in millimetres.
const TITLE_AT: f64 = 19.0;
/// Line pitch of the words, in points.
const PITCH: f64 = 12.5;
/// Base line of the words above the places, in millimetres: above what stands there.
const STANDS_AT: f64 = 103.0;
/// Where the marks at the foot of a place begin and end, in millimetres.
const FOOT: (f64, f64) = (201.0, 205.0);

/// Both pages.
///
/// # Errors
/// As [`Composer::say`].
pub(crate) fn pages(composer: &mut Composer<'_>) -> Result<Vec<Page>, ReportError> {
    Layout::ALL.into_iter().map(|layout| page(layout, composer)).collect()
}

fn page(layout: Layout, composer: &mut Composer<'_>) -> Result<Page, ReportError> {
    let mut marks = Vec::new();
    for mark in layout.marks() {
        marks.push(filled(mark.square(), Ink::Black));
        marks.extend(mark.hole().map(|hole| filled(hole, Ink::White)));
    }
    for step in steps() {
        marks.push(filled(step.area, Ink::Step(coded(step.reflectance))));
        let left = step.area.left < step.white.left;
        marks.extend(step_words(step.area, step.reflectance, left, composer)?);
    }
    marks.extend(steps_words(composer)?);
    for place in layout.places() {
        marks.extend(place_marks(&place, composer)?);
    }
    marks.extend(words(layout, composer)?);
    Ok(Page { format: Format::Across, marks })
}

/// The grey that sends back such a part of the light: IEC 61966-2-1, the other way round.
fn coded(reflectance: f64) -> u8 {
    let value = if reflectance <= 0.003_130_8 {
        12.92 * reflectance
    } else {
        1.055 * reflectance.powf(1.0 / 2.4) - 0.055
    };
    (value * 255.0).round() as u8
}

fn filled(area: Area, ink: Ink) -> Mark {
    let (right, bottom) = (area.left + area.width, area.top + area.height);
    let corners = [(area.left, area.top), (right, area.top), (right, bottom), (area.left, bottom)];
    Mark::Area { corners: corners.into_iter().map(|(x, y)| Spot { x: x * MM, y: y * MM }).collect(), ink }
}

/// The printed value beside a grey, on its outer side.
fn step_words(
    area: Area,
    reflectance: f64,
    left: bool,
    composer: &mut Composer<'_>,
) -> Result<Vec<Mark>, ReportError> {
    let percent = format!("{:.0}", reflectance * 100.0);
    let words = composer.say(&sentence::photo_sheet_step(percent))?;
    let line = single_line(composer.faces(), &[Span::new(words, Style { size: 7.0, ..Style::TEXT })])?;
    let x = if left { area.left * MM - 2.0 - line.width } else { (area.left + area.width) * MM + 2.0 };
    Ok(line_marks(&line, Spot { x, y: (area.top + area.height / 2.0) * MM + 2.5 }))
}

/// What the printed values are, above the left row.
fn steps_words(composer: &mut Composer<'_>) -> Result<Vec<Mark>, ReportError> {
    let Some(first) = steps().into_iter().next() else { return Ok(Vec::new()) };
    let words = composer.say(&sentence::photo_sheet_steps())?;
    let line = single_line(composer.faces(), &[Span::new(words, Style { size: 7.0, ..Style::TEXT })])?;
    let at = Spot { x: first.area.left * MM, y: (first.area.top - 1.5) * MM };
    Ok(line_marks(&line, at))
}

/// What stands at a place, above it, and how wide it may be.
fn place_marks(place: &Place, composer: &mut Composer<'_>) -> Result<Vec<Mark>, ReportError> {
    let words = composer.say(&stands(place.stands))?;
    let narrow = matches!(place.stands, Stand::Tube(_));
    let style = Style { size: if narrow { 10.0 } else { 14.0 }, ..Style::STRONG };
    let line = single_line(composer.faces(), &[Span::new(words, style)])?;
    let middle = place.centre * MM;
    let mut marks = line_marks(&line, Spot { x: middle - line.width / 2.0, y: STANDS_AT * MM });
    let (left, right) = ((place.centre - place.width / 2.0) * MM, (place.centre + place.width / 2.0) * MM);
    marks.push(Mark::rule(left, right, (STANDS_AT + 2.0) * MM, 0.5, Ink::Rule));
    for x in [left, right] {
        let through = vec![Spot { x, y: FOOT.0 * MM }, Spot { x, y: FOOT.1 * MM }];
        marks.push(Mark::Stroke { through, thickness: 0.5, ink: Ink::Rule });
    }
    Ok(marks)
}

fn stands(stand: Stand) -> Sentence {
    match stand {
        Stand::Before => sentence::photo_sheet_stand("before"),
        Stand::Now => sentence::photo_sheet_stand("now"),
        Stand::Fresh => sentence::photo_sheet_stand("fresh"),
        Stand::Tube(percent) => sentence::photo_sheet_share(percent.to_string()),
    }
}

/// Title, how to use it, and the cautions, in plain words.
fn words(layout: Layout, composer: &mut Composer<'_>) -> Result<Vec<Mark>, ReportError> {
    let faces = composer.faces();
    let (which, what) = match layout {
        Layout::Bottles => (sentence::photo_sheet_bottles(), sentence::photo_sheet_how_bottles()),
        Layout::Tubes => (sentence::photo_sheet_tubes(), sentence::photo_sheet_how_tubes()),
    };
    let title = composer.say(&sentence::photo_sheet_title())?;
    let which = composer.say(&which)?;
    let (left, width) = (WORDS_LEFT * MM, WORDS_WIDTH * MM);
    let mut marks = line_marks(
        &single_line(faces, &[Span::new(title, Style::TITLE)])?,
        Spot { x: left, y: TITLE_AT * MM },
    );
    let mut y = TITLE_AT * MM + 19.0;
    let how = [
        (which, Style::HEADING),
        (composer.say(&what)?, Style::TEXT),
        (composer.say(&sentence::photo_sheet_how_place())?, Style::TEXT),
        (composer.say(&sentence::photo_sheet_how_light())?, Style::TEXT),
        (composer.say(&sentence::photo_sheet_how_photo())?, Style::TEXT),
        (composer.say(&sentence::photo_sheet_how_print())?, Style::TEXT),
        (composer.say(&sentence::photo_sheet_caution())?, Style::STRONG),
    ];
    for (words, style) in how {
        for line in lines(faces, &[Span::new(words, style)], width)? {
            marks.extend(line_marks(&line, Spot { x: left, y }));
            y += PITCH;
        }
        y += 3.5;
    }
    Ok(marks)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::font::Faces;
    use standpipe_engine::formula::colour::linear;
    use standpipe_engine::photo::sheet::STEPS;
    use standpipe_engine::text::Language;

    #[test]
    fn the_printed_greys_send_back_what_the_sheet_says() {
        // The way back is that of IEC 61966-2-1, which the table of that formula is held to.
        for reflectance in STEPS {
            assert!((linear(coded(reflectance)) - reflectance).abs() < 0.004, "{reflectance}");
        }
        assert_eq!((coded(0.0), coded(1.0)), (0, 255));
    }

    #[test]
    fn no_words_reach_into_what_is_read_and_nothing_has_a_colour() {
        let mut composer = Composer::new(Faces::shipped().unwrap(), Language::English);
        for (layout, page) in Layout::ALL.into_iter().zip(pages(&mut composer).unwrap()) {
            let read = layout
                .places()
                .into_iter()
                .flat_map(|place| [place.window, place.whites[0], place.whites[1]]);
            let read: Vec<Area> = read.chain(steps().iter().map(|step| step.white)).collect();
            for mark in &page.marks {
                if let Mark::Words { at, segment } = mark {
                    let ends = [at.x, at.x + segment.width].map(|x| (x / MM, at.y / MM));
                    assert!(ends.iter().all(|end| (3.0..294.0).contains(&end.0)), "{layout:?} {segment:?}");
                    assert!(!read.iter().any(|area| ends.iter().any(|end| area.holds(*end))), "{segment:?}");
                    // The words end above what stands at the places.
                    assert!(at.y < 105.0 * MM || at.x < 12.0 * MM || at.x > 284.0 * MM, "{segment:?}");
                }
                if let Mark::Area { ink, .. } | Mark::Stroke { ink, .. } = mark {
                    assert_ne!(*ink, Ink::Accent);
                }
            }
        }
    }
}
