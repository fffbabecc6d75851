//! Codes of the waste that a workshop makes, as its collector and its authority want them.
//!
//! They stand in `workshop.toml` in a table of their own, with their source. Called by the reader of that file; the
//! register of waste asks them.

use super::reader::Fields;
use super::workshop::SOURCE_LENGTH_MAX;
use crate::kind::words::WasteKind;

/// Longest code in characters.
const CODE_LENGTH_MAX: usize = 20;
/// The kinds that may have a code, by their key in the file.
const KINDS: [(WasteKind, &str); 4] = [
    (WasteKind::UsedFluid, "used_fluid"),
    (WasteKind::Filter, "filter"),
    (WasteKind::Cloths, "cloths"),
    (WasteKind::EmptyCans, "empty_cans"),
];

/// Codes by the kind of the waste.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct WasteCodes {
    /// Kind and code, for example 13 02 06*. A kind without a code has no row.
    pub codes: Vec<(WasteKind, String)>,
    /// Where they come from.
    pub source: String,
}

/// Reads the table; without it no code is known. What is wrong is noted in the document.
pub(super) fn read(fields: &mut Fields<'_>) -> Option<WasteCodes> {
    let mut table = fields.table_optional("waste_codes")?;
    let mut codes = Vec::new();
    for (kind, key) in KINDS {
        codes.extend(table.text_optional(key, CODE_LENGTH_MAX).map(|code| (kind, code)));
    }
    let source = table.text("source", SOURCE_LENGTH_MAX);
    table.finish();
    Some(WasteCodes { codes, source: source? })
}

impl WasteCodes {
    /// The code of a kind by its word; absent where none is set.
    #[must_use]
    pub fn code(&self, word: &str) -> Option<&str> {
        self.codes.iter().find(|(kind, _)| kind.word() == word).map(|(_, code)| code.as_str())
    }
}
