//! The two faces of the record, and what one document takes from them.
//!
//! The full fonts are read once a process; a document embeds only the glyphs it draws, under a subset tag
//! that depends on nothing but these glyphs. A character without a glyph is reported to the caller, never
//! skipped. Called by `paragraph` (widths) and `pdf` (embedding); reads no file at run time.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::LazyLock;

use allsorts::binary::read::ReadScope;
use allsorts::font_data::FontData;
use allsorts::subset::{CmapTarget, SubsetProfile, subset};
use printpdf::ParsedFont;

use crate::error::ReportError;

/// Which of the two faces.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Weight {
    /// Lato Regular.
    Regular,
    /// Lato Bold.
    Bold,
}

/// One glyph of a face.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Glyph {
    /// Glyph index in the full font.
    id: u16,
    /// Advance in em.
    pub(crate) advance_em: f64,
    /// The lowest printable code point that draws this glyph. Drawing that one keeps the mapping from
    /// glyph to text unique, so a search finds an ordinary space where a no-break space was written.
    pub(crate) canonical: char,
}

/// One full face, parsed.
pub(crate) struct Face {
    name: &'static str,
    bytes: &'static [u8],
    parsed: ParsedFont,
    glyphs: BTreeMap<char, Glyph>,
}

/// Both faces.
pub(crate) struct Faces {
    regular: Face,
    bold: Face,
}

impl Faces {
    /// The shipped faces, parsed at the first call of the process.
    ///
    /// # Errors
    /// [`ReportError::Font`] if a shipped file is not the font it should be.
    pub(crate) fn shipped() -> Result<&'static Faces, ReportError> {
        static FACES: LazyLock<Result<Faces, (&'static str, String)>> = LazyLock::new(|| {
            Ok(Faces {
                regular: Face::parse("Lato-Regular", include_bytes!("../fonts/Lato-Regular.ttf"))?,
                bold: Face::parse("Lato-Bold", include_bytes!("../fonts/Lato-Bold.ttf"))?,
            })
        });
        FACES.as_ref().map_err(|(name, reason)| ReportError::Font { name, reason: reason.clone() })
    }

    /// The face of a weight.
    pub(crate) fn face(&self, weight: Weight) -> &Face {
        match weight {
            Weight::Regular => &self.regular,
            Weight::Bold => &self.bold,
        }
    }

    /// True if every face has a glyph for the character as it would be drawn.
    pub(crate) fn can_draw(&self, character: char) -> bool {
        [&self.regular, &self.bold].iter().all(|face| face.glyph(character).is_some())
    }
}

impl Face {
    fn parse(name: &'static str, bytes: &'static [u8]) -> Result<Face, (&'static str, String)> {
        let parsed = ParsedFont::from_bytes(bytes, 0, &mut Vec::new())
            .ok_or_else(|| (name, "it is not a readable TrueType file".to_owned()))?;
        let mut canonical = BTreeMap::new();
        let mapped = parsed.codepoint_to_glyph.iter().filter(|(_, id)| **id != 0);
        let printable: Vec<(char, u16)> = mapped
            .filter_map(|(code, id)| Some((char::from_u32(*code)?, *id)))
            .filter(|(character, _)| !character.is_control())
            .collect();
        for (character, id) in &printable {
            canonical.entry(*id).or_insert(*character);
        }
        let per_em = f64::from(parsed.units_per_em);
        let glyphs = printable
            .iter()
            .filter_map(|(character, id)| {
                let advance_em = f64::from(*parsed.glyph_widths.get(id)?) / per_em;
                let canonical = *canonical.get(id)?;
                Some((*character, Glyph { id: *id, advance_em, canonical }))
            })
            .collect();
        Ok(Face { name, bytes, parsed, glyphs })
    }

    /// The glyph of a character, or `None` if the face has none.
    pub(crate) fn glyph(&self, character: char) -> Option<Glyph> {
        self.glyphs.get(&character).copied()
    }

    /// The face cut down to `characters` (each with a glyph), ready to be embedded.
    ///
    /// # Errors
    /// [`ReportError::Font`] if the font cannot be trimmed.
    pub(crate) fn trimmed(&self, characters: &BTreeSet<char>) -> Result<ParsedFont, ReportError> {
        let fault = |reason: String| ReportError::Font { name: self.name, reason };
        let used: BTreeSet<u16> = characters.iter().filter_map(|c| self.glyph(*c)).map(|g| g.id).collect();
        // Glyph 0 is the mark for a missing glyph and has to stand first in every subset.
        let kept: Vec<u16> = std::iter::once(0).chain(used.iter().copied().filter(|id| *id != 0)).collect();
        let file = ReadScope::new(self.bytes).read::<FontData<'_>>().map_err(|e| fault(e.to_string()))?;
        let provider = file.table_provider(0).map_err(|e| fault(e.to_string()))?;
        // The Pdf profile keeps the tables that the outlines' instructions call; Minimal would drop them.
        let bytes = subset(&provider, &kept, &SubsetProfile::Pdf, CmapTarget::Unicode)
            .map_err(|e| fault(e.to_string()))?;
        // A subset numbers its glyphs in the order they were asked for.
        let position: BTreeMap<u16, u16> = kept.iter().copied().zip(0_u16..).collect();
        let mut trimmed = ParsedFont::with_glyph_data(
            bytes,
            0,
            Some(format!("{}+{}", subset_tag(&kept), self.name)),
            BTreeMap::new(),
            BTreeMap::from([(0, self.parsed.glyph_widths.get(&0).copied().unwrap_or(0))]),
            self.parsed.units_per_em,
            self.parsed.font_metrics.clone(),
        );
        trimmed.pdf_font_metrics = self.parsed.pdf_font_metrics.clone();
        for character in characters {
            let Some(glyph) = self.glyph(*character) else { continue };
            let (Some(new_id), Some(width)) =
                (position.get(&glyph.id), self.parsed.glyph_widths.get(&glyph.id))
            else {
                continue;
            };
            trimmed.codepoint_to_glyph.insert(u32::from(*character), *new_id);
            trimmed.glyph_widths.insert(*new_id, *width);
        }
        Ok(trimmed)
    }
}

/// Six capital letters that name a set of glyphs (ISO 32000-1, 9.6.4), the same for the same set.
fn subset_tag(glyph_ids: &[u16]) -> String {
    let bytes: Vec<u8> = glyph_ids.iter().flat_map(|id| id.to_be_bytes()).collect();
    let mut rest = fingerprint(&bytes);
    (0..6)
        .map(|_| {
            let letter = (rest % 26) as u8;
            rest /= 26;
            char::from(b'A' + letter)
        })
        .collect()
}

/// FNV-1a with 128 bits: tells files and subsets apart, guards nothing.
///
/// # Source
/// Fowler, Noll and Vo, FNV-1a; offset basis and prime for 128 bits from memory.
pub(crate) fn fingerprint(bytes: &[u8]) -> u128 {
    const OFFSET_BASIS: u128 = 0x6c62_272e_07bb_0142_62b8_2175_6295_c58d;
    const PRIME: u128 = 0x0000_0000_0100_0000_0000_0000_0000_013b;
    bytes.iter().fold(OFFSET_BASIS, |hash, byte| (hash ^ u128::from(*byte)).wrapping_mul(PRIME))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn all_figures_and_signs_of_calculation_have_one_width() {
        let faces = Faces::shipped().unwrap();
        for weight in [Weight::Regular, Weight::Bold] {
            let width = faces.face(weight).glyph('0').unwrap().advance_em;
            for sign in "123456789−±×".chars() {
                assert_eq!(faces.face(weight).glyph(sign).unwrap().advance_em, width, "{sign}");
            }
        }
    }

    #[test]
    fn a_no_break_space_is_drawn_as_an_ordinary_space() {
        let faces = Faces::shipped().unwrap();
        assert_eq!(faces.face(Weight::Regular).glyph('\u{a0}').unwrap().canonical, ' ');
    }

    #[test]
    fn signs_the_font_lacks_are_told_apart_from_those_it_has() {
        let faces = Faces::shipped().unwrap();
        for missing in ['✓', '\u{2011}', '漢', '🙂', '\u{2068}', '\u{7}'] {
            assert!(!faces.can_draw(missing), "{missing:?}");
        }
        for present in "−°±·²³€“”„’–—…≤≥≈→½Δ\u{2009}äßéŁ".chars() {
            assert!(faces.can_draw(present), "{present:?}");
        }
    }

    #[test]
    fn a_trimmed_face_maps_each_character_to_its_own_glyph_and_width() {
        let face = Faces::shipped().unwrap().face(Weight::Regular);
        let characters: BTreeSet<char> = "Äa 12".chars().collect();
        let trimmed = face.trimmed(&characters).unwrap();
        // The subset's own character map is the outside witness of our numbering.
        let reread = ParsedFont::from_bytes(&trimmed.original_bytes, 0, &mut Vec::new()).unwrap();
        for character in characters {
            let id = trimmed.lookup_glyph_index(u32::from(character)).unwrap();
            assert_eq!(reread.lookup_glyph_index(u32::from(character)), Some(id), "{character:?}");
            assert_eq!(reread.get_glyph_width(id), trimmed.get_glyph_width(id), "{character:?}");
        }
        assert!(trimmed.original_bytes.len() < face.bytes.len() / 10);
        let name = trimmed.font_name.unwrap();
        assert!(name.ends_with("+Lato-Regular") && name.len() == "ABCDEF+Lato-Regular".len(), "{name}");
    }
}
