//! Why a record could not be made.
//!
//! Every case here is a mistake of ours (a sentence, the shipped font, the file writer), never of the
//! people whose words are printed: what they wrote is always drawn, with a warning where a sign had to be
//! spelled out. The server turns these into one internal error; nothing here is shown to a customer.

/// Why [`crate::render`] gave no record.
#[derive(Debug, thiserror::Error)]
pub enum ReportError {
    /// One of our own texts holds a character that the record's font cannot draw.
    #[error(
        "the record's own text '{text}' holds U+{code:04X}, which the record's font has no glyph for; \
         write the sentence without it"
    )]
    MissingGlyph {
        /// Unicode code point of the character.
        code: u32,
        /// The text it stands in, shortened.
        text: String,
    },
    /// A shipped font file could not be read or trimmed.
    #[error("the shipped font {name} cannot be used: {reason}; restore the file from the release")]
    Font {
        /// PostScript name of the face.
        name: &'static str,
        /// What the font reader said.
        reason: String,
    },
    /// A sentence of the view could not be put into words.
    #[error("the sentence '{key}' cannot be put into words: {reason}; correct its text or its arguments")]
    Sentence {
        /// Key of the sentence.
        key: String,
        /// What the text machinery said.
        reason: String,
    },
    /// Job number and check value do not fit into a QR code.
    #[error("the check value cannot be drawn as a QR code: {reason}; report it with the job number")]
    Code {
        /// What the encoder said.
        reason: String,
    },
    /// The finished pages could not be written as a PDF file.
    #[error("the record cannot be written as PDF: {reason}; report it with the job number")]
    Pdf {
        /// What the file writer said.
        reason: String,
    },
}
