//! Colours as entries write them: `#rrggbb`. Called by the kinds that hold a photo's colours.

/// An sRGB colour: red, green and blue, 0 to 255.
pub type Rgb = [u8; 3];

/// A colour written as `#rrggbb`; nothing if it is written in another way.
pub(super) fn rgb(text: &str) -> Option<Rgb> {
    let digits = text.strip_prefix('#')?;
    // The number's own reader would take a sign too.
    let digits = Some(digits).filter(|it| it.len() == 6 && it.bytes().all(|b| b.is_ascii_hexdigit()))?;
    let whole = u32::from_str_radix(digits, 16).ok()?;
    let [_, red, green, blue] = whole.to_be_bytes();
    Some([red, green, blue])
}

/// A colour as entries write it.
pub(super) fn written([red, green, blue]: Rgb) -> String {
    format!("#{red:02x}{green:02x}{blue:02x}")
}

#[cfg(test)]
mod tests {
    use super::{rgb, written};

    #[test]
    fn only_six_hexadecimal_digits_are_a_colour() {
        assert_eq!(rgb("#A01020").map(written).as_deref(), Some("#a01020"));
        for wrong in ["", "a01020", "#a0102", "#a010200", "#+a+1+2", "#-10203", "#a010é", "red"] {
            assert_eq!(rgb(wrong), None, "{wrong}");
        }
    }
}
