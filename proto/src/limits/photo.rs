//! The rows of photos, and of what one on the reference sheet adds to a reading.

use super::{Bound, DIGEST, Form, WHY_CHOICE, choice, row, text};

pub(super) const PHOTO: &[Bound] = &[
    row("Photo", "blob_digest", DIGEST, "SHA-256"),
    row("Photo", "subject", choice(true), WHY_CHOICE),
    row(
        "ExchangeReading",
        "photo_digest",
        text(0, 64, Form::Hex),
        "SHA-256 of the photo; a reading without one leaves it empty",
    ),
];
