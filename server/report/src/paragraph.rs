//! Words into lines: measuring, breaking by UAX #14, runs of several styles in one paragraph.
//!
//! Lines are ragged right. A word wider than its column is broken at the column's edge, so nothing is ever
//! clipped. Whatever is measured here has a glyph: a character without one is an error. Draws nothing;
//! called by `strip`, `table` and `chart`.

use unicode_linebreak::{BreakOpportunity, linebreaks};

use crate::error::ReportError;
use crate::font::{Faces, Weight};
use crate::stated::drawn_form;

/// The inks of the record. None of them carries a meaning that the words do not.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Ink {
    /// Text.
    Black,
    /// Labels and notes.
    Grey,
    /// Hairlines and the grid.
    Rule,
    /// The band of an estimate.
    Band,
    /// Measured and estimated curves.
    Accent,
    /// The inside of a circle.
    White,
    /// A grey of the reference sheet, 0 to 255.
    Step(u8),
}

/// How a run of words looks.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Style {
    /// Face.
    pub(crate) weight: Weight,
    /// Colour.
    pub(crate) ink: Ink,
    /// Type size in points.
    pub(crate) size: f64,
    /// A line through the words: an old value.
    pub(crate) struck: bool,
}

impl Style {
    /// Running text, 10 pt.
    pub(crate) const TEXT: Style =
        Style { weight: Weight::Regular, ink: Ink::Black, size: 10.0, struck: false };
    /// Emphasis within running text.
    pub(crate) const STRONG: Style = Style { weight: Weight::Bold, ..Style::TEXT };
    /// Labels.
    pub(crate) const LABEL: Style = Style { ink: Ink::Grey, ..Style::TEXT };
    /// A value that was corrected later.
    pub(crate) const STRUCK: Style = Style { struck: true, ..Style::LABEL };
    /// Section headings.
    pub(crate) const HEADING: Style = Style { size: 10.6, ..Style::STRONG };
    /// The title of the record.
    pub(crate) const TITLE: Style = Style { size: 15.0, ..Style::STRONG };
    /// Text beside a chart.
    pub(crate) const SIDE: Style = Style { size: 8.4, ..Style::TEXT };
    /// Notes that stand on every record.
    pub(crate) const NOTE: Style = Style { size: 8.0, ..Style::TEXT };
    /// Labels of the size of text beside a chart.
    pub(crate) const SIDE_LABEL: Style = Style { ink: Ink::Grey, ..Style::SIDE };
    /// Words inside a chart.
    pub(crate) const CHART: Style = Style { size: 8.0, ..Style::LABEL };
    /// The foot of each page: the smallest size of the record.
    pub(crate) const FOOT: Style = Style { size: 7.2, ..Style::LABEL };
}

/// Words in one style.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Span {
    /// The words.
    pub(crate) text: String,
    /// Their look.
    pub(crate) style: Style,
}

impl Span {
    /// Words in a style.
    pub(crate) fn new(text: impl Into<String>, style: Style) -> Span {
        Span { text: text.into(), style }
    }

    /// Running text.
    pub(crate) fn text(text: impl Into<String>) -> Span {
        Span::new(text, Style::TEXT)
    }
}

/// A piece of a line in one style, with the characters as they are drawn.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Segment {
    /// Distance from the line's left end in points.
    pub(crate) x: f64,
    /// Width in points.
    pub(crate) width: f64,
    /// Characters, each with a glyph in the style's face.
    pub(crate) text: String,
    /// Look.
    pub(crate) style: Style,
}

/// One line of a paragraph.
#[derive(Debug, Clone, PartialEq, Default)]
pub(crate) struct Line {
    /// Pieces from left to right.
    pub(crate) segments: Vec<Segment>,
    /// Width in points, without spaces at the end.
    pub(crate) width: f64,
}

/// One character with its measure; no form means that it is not drawn.
#[derive(Clone, Copy)]
struct Measured {
    byte: usize,
    form: Option<char>,
    width: f64,
    style: Style,
}

impl Measured {
    fn is_space(&self) -> bool {
        self.form.is_none_or(|form| form == ' ' || form == '\u{2009}')
    }
}

/// Breaks `spans` into lines at most `width` points wide; no words, no line.
///
/// # Errors
/// [`ReportError::MissingGlyph`] for a character that the style's face cannot draw.
pub(crate) fn lines(faces: &Faces, spans: &[Span], width: f64) -> Result<Vec<Line>, ReportError> {
    let joined: String = spans.iter().map(|span| span.text.as_str()).collect();
    if joined.trim().is_empty() {
        return Ok(Vec::new());
    }
    let measured = measure(faces, spans)?;
    let mut lines = Vec::new();
    let mut current: Vec<Measured> = Vec::new();
    let mut rest = measured.as_slice();
    for (byte, opportunity) in linebreaks(&joined) {
        let (word, after) = rest.split_at(rest.partition_point(|m| m.byte < byte));
        rest = after;
        if !current.is_empty() && inked_width(&current) + trailing_width(&current) + inked_width(word) > width
        {
            lines.push(line_of(&current));
            current.clear();
        }
        if inked_width(word) > width {
            for character in word {
                if !character.is_space() && total_width(&current) + character.width > width {
                    lines.push(line_of(&current));
                    current.clear();
                }
                current.push(*character);
            }
        } else {
            current.extend_from_slice(word);
        }
        if opportunity == BreakOpportunity::Mandatory {
            lines.push(line_of(&current));
            current.clear();
        }
    }
    Ok(lines)
}

/// Width of words on one line, in points.
///
/// # Errors
/// [`ReportError::MissingGlyph`] for a character that the style's face cannot draw.
pub(crate) fn width_of(faces: &Faces, text: &str, style: Style) -> Result<f64, ReportError> {
    Ok(single_line(faces, &[Span::new(text, style)])?.width)
}

/// Words on one line without looking at any column width.
///
/// # Errors
/// [`ReportError::MissingGlyph`] for a character that the style's face cannot draw.
pub(crate) fn single_line(faces: &Faces, spans: &[Span]) -> Result<Line, ReportError> {
    Ok(line_of(&measure(faces, spans)?))
}

fn measure(faces: &Faces, spans: &[Span]) -> Result<Vec<Measured>, ReportError> {
    let mut measured = Vec::new();
    let mut start = 0;
    for span in spans {
        let face = faces.face(span.style.weight);
        for (offset, character) in span.text.char_indices() {
            let byte = start + offset;
            let form = if character == '\n' { None } else { drawn_form(character) };
            let Some(wanted) = form else {
                measured.push(Measured { byte, form: None, width: 0.0, style: span.style });
                continue;
            };
            let glyph = face.glyph(wanted).ok_or_else(|| missing(character, &span.text))?;
            let width = glyph.advance_em * span.style.size;
            measured.push(Measured { byte, form: Some(glyph.canonical), width, style: span.style });
        }
        start += span.text.len();
    }
    Ok(measured)
}

fn missing(character: char, text: &str) -> ReportError {
    ReportError::MissingGlyph { code: u32::from(character), text: text.chars().take(80).collect() }
}

fn total_width(measured: &[Measured]) -> f64 {
    measured.iter().map(|m| m.width).sum()
}

fn trailing_width(measured: &[Measured]) -> f64 {
    measured.iter().rev().take_while(|m| m.is_space()).map(|m| m.width).sum()
}

fn inked_width(measured: &[Measured]) -> f64 {
    total_width(measured) - trailing_width(measured)
}

fn line_of(measured: &[Measured]) -> Line {
    let trailing = measured.iter().rev().take_while(|m| m.is_space()).count();
    let mut line = Line::default();
    for character in measured.iter().take(measured.len() - trailing) {
        let Some(form) = character.form else { continue };
        match line.segments.last_mut().filter(|segment| segment.style == character.style) {
            Some(segment) => {
                segment.text.push(form);
                segment.width += character.width;
            }
            None => line.segments.push(Segment {
                x: line.width,
                width: character.width,
                text: form.to_string(),
                style: character.style,
            }),
        }
        line.width += character.width;
    }
    line
}

#[cfg(test)]
mod tests {
    use super::*;

    fn faces() -> &'static Faces {
        Faces::shipped().unwrap()
    }

    fn words(line: &Line) -> String {
        line.segments.iter().map(|segment| segment.text.as_str()).collect()
    }

    #[test]
    fn lines_stay_within_their_width_and_lose_no_word() {
        let text = "The level was set at 43\u{a0}°C; allowed are 40 to 50\u{a0}°C, read with the scan tool.";
        for width in [60.0, 90.0, 143.0, 480.0] {
            let lines = lines(faces(), &[Span::text(text)], width).unwrap();
            assert!(lines.iter().all(|line| line.width <= width), "{width}");
            let joined = lines.iter().map(words).collect::<Vec<_>>().join(" ");
            assert_eq!(joined, text.replace('\u{a0}', " "));
        }
    }

    #[test]
    fn a_number_is_never_parted_from_its_unit() {
        let text = Span::text("about 118\u{202f}240\u{a0}km");
        let broken = lines(faces(), &[text], 60.0).unwrap();
        assert_eq!(broken.iter().map(words).collect::<Vec<_>>(), ["about", "118\u{2009}240 km"]);
    }

    #[test]
    fn a_word_wider_than_the_column_is_broken_at_its_edge() {
        let long = "x".repeat(10_000);
        let broken = lines(faces(), &[Span::text(format!("a {long}"))], 200.0).unwrap();
        assert!(broken.iter().all(|line| line.width <= 200.0));
        let drawn: String = broken.iter().map(words).collect();
        assert_eq!(drawn, format!("a{long}"));
    }

    #[test]
    fn runs_of_several_styles_share_a_line_without_a_gap() {
        let spans = [Span::new("3.30 kg", Style::STRUCK), Span::text(" 3.05 kg drained")];
        let line = single_line(faces(), &spans).unwrap();
        assert_eq!(line.segments.len(), 2);
        assert_eq!(line.segments[1].x, line.segments[0].width);
        assert!(line.segments[0].style.struck && !line.segments[1].style.struck);
    }

    #[test]
    fn our_own_text_with_a_sign_the_font_lacks_is_refused() {
        let refused = lines(faces(), &[Span::text("done \u{2713}")], 200.0).unwrap_err();
        assert_eq!(
            refused.to_string(),
            "the record's own text 'done \u{2713}' holds U+2713, which the record's font has no glyph for; \
             write the sentence without it"
        );
        let isolated = lines(faces(), &[Span::text("\u{2068}x\u{2069}")], 200.0);
        assert!(matches!(isolated, Err(ReportError::MissingGlyph { code: 0x2068, .. })));
    }

    #[test]
    fn blank_words_give_no_line() {
        assert!(lines(faces(), &[Span::text("  ")], 100.0).unwrap().is_empty());
        assert!(lines(faces(), &[], 100.0).unwrap().is_empty());
    }
}
