//! The rows of what a photo on the reference sheet adds to a reading.

use super::{Bound, Form, row, text};

pub(super) const PHOTO: &[Bound] = &[row(
    "ExchangeReading",
    "photo_digest",
    text(0, 64, Form::Hex),
    "SHA-256 of the photo; a reading without one leaves it empty",
)];
