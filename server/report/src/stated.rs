//! What people wrote, made drawable: names, remarks, codes, words of a driver.
//!
//! A sign that the font lacks, or that would steer the reading of the line (bidirectional and other
//! invisible marks), is spelled out as `[U+XXXX]` and counted, so that nothing of what was stated
//! disappears. It never refuses and never shortens. Called for every argument of a sentence and every
//! other free text before it is laid out.

use crate::font::Faces;

/// Makes people's text drawable and remembers what had to be spelled out.
pub(crate) struct StatedText<'a> {
    faces: &'a Faces,
    warnings: Vec<String>,
}

impl<'a> StatedText<'a> {
    /// Starts with no warning.
    pub(crate) fn new(faces: &'a Faces) -> StatedText<'a> {
        StatedText { faces, warnings: Vec::new() }
    }

    /// `text` with line breaks and tabs as spaces, soft hyphens dropped, and every sign that cannot be
    /// drawn spelled out.
    pub(crate) fn drawable(&mut self, text: &str) -> String {
        let mut drawable = String::with_capacity(text.len());
        let mut spelled_out: Vec<String> = Vec::new();
        for character in text.chars() {
            match character {
                _ if is_line_break(character) => drawable.push(' '),
                // The font draws a soft hyphen, which would then stand in the middle of a word.
                '\u{ad}' => {}
                _ if can_be_drawn(self.faces, character) => drawable.push(character),
                _ => {
                    let spelled = format!("[U+{:04X}]", u32::from(character));
                    drawable.push_str(&spelled);
                    if !spelled_out.contains(&spelled) {
                        spelled_out.push(spelled);
                    }
                }
            }
        }
        if !spelled_out.is_empty() {
            let start: String = drawable.chars().take(40).collect();
            let warning = format!("'{start}' holds signs that the font has not; printed as {}", {
                spelled_out.join(", ")
            });
            if !self.warnings.contains(&warning) {
                self.warnings.push(warning);
            }
        }
        drawable
    }

    /// One sentence a text that could not be drawn as written.
    pub(crate) fn into_warnings(self) -> Vec<String> {
        self.warnings
    }
}

/// The sign that is drawn for a character once lines are broken: no-break forms are needed for breaking
/// only, and the font's narrow no-break space is as wide as a word space.
pub(crate) fn drawn_form(character: char) -> Option<char> {
    match character {
        '\u{ad}' => None,
        '\u{a0}' => Some(' '),
        '\u{202f}' => Some('\u{2009}'),
        '\u{2010}' | '\u{2011}' => Some('-'),
        other => Some(other),
    }
}

/// True if a character can stand in the record: it has a form in every face, or is a break or a soft hyphen.
pub(crate) fn can_be_drawn(faces: &Faces, character: char) -> bool {
    if is_line_break(character) {
        return true;
    }
    match drawn_form(character) {
        Some(form) => !steers(character) && faces.can_draw(form),
        None => true,
    }
}

fn is_line_break(character: char) -> bool {
    matches!(character, '\t'..='\r' | '\u{85}' | '\u{2028}' | '\u{2029}')
}

/// True for marks without ink that change the order or the joining of their neighbours.
fn steers(character: char) -> bool {
    matches!(character, '\u{200b}'..='\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2060}'..='\u{206f}' | '\u{feff}')
}

#[cfg(test)]
mod tests {
    use super::*;

    fn drawable(text: &str) -> (String, Vec<String>) {
        let mut stated = StatedText::new(Faces::shipped().unwrap());
        let drawable = stated.drawable(text);
        (drawable, stated.into_warnings())
    }

    #[test]
    fn ordinary_words_pass_unchanged_and_without_a_warning() {
        let words = "O’Neill, Łódź: “no bang into 2nd” (−3.4 °C) \\ ) Tj /JS <script> 100 %";
        assert_eq!(drawable(words), (words.to_owned(), Vec::new()));
    }

    #[test]
    fn signs_without_a_glyph_are_spelled_out_with_one_warning() {
        let (text, warnings) = drawable("ok ✓✓ 漢");
        assert_eq!(text, "ok [U+2713][U+2713] [U+6F22]");
        assert_eq!(warnings.len(), 1);
        assert!(warnings[0].contains("[U+2713], [U+6F22]"), "{warnings:?}");
    }

    #[test]
    fn marks_that_steer_the_line_become_visible() {
        assert_eq!(drawable("a\u{202e}b\u{200b}c").0, "a[U+202E]b[U+200B]c");
    }

    #[test]
    fn line_breaks_become_spaces_and_soft_hyphens_go() {
        assert_eq!(drawable("one\ntwo\tfill\u{ad}ing\u{7}"), {
            let warning = "'one two filling[U+0007]' holds signs that the font has not; printed as [U+0007]";
            ("one two filling[U+0007]".to_owned(), vec![warning.to_owned()])
        });
    }
}
