//! What a PDF has to know of a JPEG file to show it unchanged: size and number of colours.
//!
//! Reads the markers up to the frame header and nothing of the picture itself. A file that is no JPEG, or one
//! of a kind that not every reader shows, gives nothing; the record then has an empty frame and a warning.
//! Called by `render`.

/// A photo that can be embedded.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Jpeg<'a> {
    /// SHA-256 of the photo as it is kept, 64 hexadecimal digits.
    pub(crate) digest: &'a str,
    /// The file.
    pub(crate) bytes: &'a [u8],
    /// Width in pixels, not 0.
    pub(crate) width: u32,
    /// Height in pixels, not 0.
    pub(crate) height: u32,
    /// True for shades of grey, false for red, green and blue.
    pub(crate) grey: bool,
}

impl<'a> Jpeg<'a> {
    /// The photo; `None` if it is no JPEG of 8 bits a sample in grey or three colours.
    ///
    /// # Source
    /// ITU-T T.81 (09/92), B.1.1.3 marker assignments, B.2.2 frame header.
    pub(crate) fn read(digest: &'a str, bytes: &'a [u8]) -> Option<Jpeg<'a>> {
        let mut rest = bytes.strip_prefix(&[0xff, 0xd8])?;
        loop {
            // A marker may be preceded by any number of fill bytes.
            let (marker, after) = match rest {
                [0xff, 0xff, ..] => {
                    rest = rest.get(1..)?;
                    continue;
                }
                [0xff, marker, after @ ..] => (*marker, after),
                _ => return None,
            };
            let length = usize::from(u16::from_be_bytes([*after.first()?, *after.get(1)?]));
            let segment = after.get(2..length)?;
            match marker {
                // Baseline, extended sequential and progressive; the others are not for DCTDecode.
                0xc0..=0xc2 => return Self::of_frame(digest, bytes, segment),
                // Start of scan or end of image: there was no frame before it.
                0xd8..=0xda => return None,
                _ => rest = after.get(length..)?,
            }
        }
    }

    fn of_frame(digest: &'a str, bytes: &'a [u8], segment: &[u8]) -> Option<Jpeg<'a>> {
        let [8, high, low, wide, narrow, components, ..] = segment else { return None };
        let height = u32::from(u16::from_be_bytes([*high, *low]));
        let width = u32::from(u16::from_be_bytes([*wide, *narrow]));
        let grey = match components {
            1 => true,
            3 => false,
            _ => return None,
        };
        (width > 0 && height > 0).then_some(Jpeg { digest, bytes, width, height, grey })
    }

    /// Width and height in points of the photo in a box of `width` by `height`, its sides in proportion.
    pub(crate) fn within(&self, width: f64, height: f64) -> (f64, f64) {
        let scale = f64::min(width / f64::from(self.width), height / f64::from(self.height));
        (f64::from(self.width) * scale, f64::from(self.height) * scale)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Start of an image, a comment, fill bytes, a frame of 640 by 480 with so many components.
    fn file(components: u8, precision: u8) -> Vec<u8> {
        let mut bytes = vec![0xff, 0xd8, 0xff, 0xfe, 0x00, 0x04, b'h', b'i', 0xff, 0xff];
        bytes.extend([0xff, 0xc0, 0x00, 0x11, precision, 0x01, 0xe0, 0x02, 0x80, components]);
        bytes.extend([1, 0x22, 0, 2, 0x11, 1, 3, 0x11, 1]);
        bytes
    }

    #[test]
    fn size_and_colours_are_read_from_the_frame_header() {
        let bytes = file(3, 8);
        let jpeg = Jpeg::read("d", &bytes).unwrap();
        assert_eq!((jpeg.width, jpeg.height, jpeg.grey), (640, 480, false));
        assert!(Jpeg::read("d", &file(1, 8)).unwrap().grey);
    }

    #[test]
    fn what_cannot_be_shown_everywhere_is_refused() {
        for refused in [file(4, 8), file(3, 12), b"\x89PNG\r\n".to_vec(), Vec::new(), vec![0xff, 0xd8]] {
            assert_eq!(Jpeg::read("d", &refused), None);
        }
    }

    #[test]
    fn a_file_that_ends_anywhere_is_refused_and_never_read_past_its_end() {
        let bytes = file(3, 8);
        for end in 0..bytes.len() {
            assert_eq!(Jpeg::read("d", &bytes[..end]), None, "{end}");
        }
    }

    #[test]
    fn a_photo_keeps_its_proportions() {
        let bytes = file(3, 8);
        let jpeg = Jpeg::read("d", &bytes).unwrap();
        assert_eq!(jpeg.within(120.0, 60.0), (80.0, 60.0));
        assert_eq!(jpeg.within(40.0, 60.0), (40.0, 30.0));
    }
}
