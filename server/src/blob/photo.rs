//! Whether bytes are a photo of a size we take, from the header alone: no pixel is ever decoded here.
//!
//! Sources: ITU-T T.81 (JPEG), annex B.2; W3C PNG, third edition, sections 5.2 and 11.2.1 (both from memory).

/// Most pixels of a photo.
const PIXELS_MAX: u64 = 40_000_000;
const PNG_MAGIC: &[u8] = b"\x89PNG\r\n\x1a\n";

/// Refuses what is no JPEG or PNG, or has too many pixels, in words.
pub(crate) fn check(bytes: &[u8]) -> Result<(), String> {
    let (width, height) =
        dimensions(bytes).ok_or("it is neither a JPEG or PNG file with a readable header nor a remark")?;
    let pixels = u64::from(width) * u64::from(height);
    if (1..=PIXELS_MAX).contains(&pixels) {
        return Ok(());
    }
    Err(format!("the photo has {width} times {height} pixels; 1 to {PIXELS_MAX} are allowed"))
}

/// Width and height in pixels; nothing if the header is that of no photo.
fn dimensions(bytes: &[u8]) -> Option<(u32, u32)> {
    if bytes.starts_with(PNG_MAGIC) { png(bytes) } else { jpeg(bytes) }
}

fn png(bytes: &[u8]) -> Option<(u32, u32)> {
    let header = bytes.get(PNG_MAGIC.len()..)?;
    if !header.starts_with(b"\0\0\0\x0dIHDR") {
        return None;
    }
    let number = |at: usize| Some(u32::from_be_bytes(*header.get(at..)?.first_chunk()?));
    Some((number(8)?, number(12)?))
}

/// Walks the marker segments up to the frame header, which is the first of SOF0 to SOF15.
fn jpeg(bytes: &[u8]) -> Option<(u32, u32)> {
    let mut rest = bytes.strip_prefix(b"\xff\xd8")?;
    loop {
        rest = rest.strip_prefix(b"\xff")?;
        // Fill bytes may stand before any marker.
        while let Some(after) = rest.strip_prefix(b"\xff") {
            rest = after;
        }
        let (&marker, after) = rest.split_first()?;
        rest = after;
        match marker {
            // Markers without a segment, and the beginning of the picture itself: no frame header came.
            0x00 | 0x01 | 0xd0..=0xda => return None,
            _ => {}
        }
        let length = usize::from(u16::from_be_bytes(*rest.first_chunk()?));
        let segment = rest.get(2..length)?;
        // DHT, JPG and DAC share the range of the frame headers.
        if matches!(marker, 0xc0..=0xcf) && !matches!(marker, 0xc4 | 0xc8 | 0xcc) {
            let number = |at: usize| Some(u32::from(u16::from_be_bytes(*segment.get(at..)?.first_chunk()?)));
            return Some((number(3)?, number(1)?));
        }
        rest = rest.get(length..)?;
    }
}

#[cfg(test)]
pub(crate) mod tests {
    use super::*;

    /// The header of a JPEG file with an application segment before the frame header.
    pub(crate) fn jpeg_of(width: u16, height: u16) -> Vec<u8> {
        let mut bytes = b"\xff\xd8\xff\xe0\x00\x06JFIF\xff\xc0\x00\x0b\x08".to_vec();
        bytes.extend(height.to_be_bytes());
        bytes.extend(width.to_be_bytes());
        bytes.extend(b"\x01\x01\x11\x00\xff\xda");
        bytes
    }

    fn png_of(width: u32, height: u32) -> Vec<u8> {
        let mut bytes = [PNG_MAGIC, b"\0\0\0\x0dIHDR"].concat();
        bytes.extend(width.to_be_bytes());
        bytes.extend(height.to_be_bytes());
        bytes
    }

    #[test]
    fn width_and_height_are_read_from_the_header() {
        assert_eq!(dimensions(&jpeg_of(4_000, 3_000)), Some((4_000, 3_000)));
        assert_eq!(dimensions(&png_of(640, 480)), Some((640, 480)));
        let filled = [b"\xff\xd8\xff\xff\xff".as_slice(), &jpeg_of(7, 5)[3..]].concat();
        assert_eq!(dimensions(&filled), Some((7, 5)));
    }

    #[test]
    fn forty_million_pixels_are_the_most() {
        assert!(check(&jpeg_of(8_000, 5_000)).is_ok());
        assert!(check(&jpeg_of(8_001, 5_000)).is_err());
        assert!(check(&png_of(u32::MAX, u32::MAX)).is_err());
        assert!(check(&jpeg_of(0, 5_000)).is_err());
    }

    #[test]
    fn a_header_cut_anywhere_is_refused_and_never_panics() {
        let (jpeg, png) = (jpeg_of(40, 30), png_of(40, 30));
        for length in 0..jpeg.len() - 8 {
            assert_eq!(dimensions(&jpeg[..length]), None, "{length}");
        }
        for length in 0..png.len() {
            assert_eq!(dimensions(&png[..length]), None, "{length}");
        }
        assert_eq!(dimensions(b"\xff\xd8\xff\xe0\x00\x00"), None);
    }
}
