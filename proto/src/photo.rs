//! Takes place, camera and all other notes out of a photo without touching the picture itself.
//!
//! JPEG (ITU-T T.81, annex B): application and comment segments go, and whatever follows the end of the image; only
//! the marker APP14 that tells how colours are coded stays, and which way is up is written anew on its own, so that
//! a photo of a telephone held upright is shown upright (CIPA DC-008, tag 0x0112). PNG (W3C, third edition): the chunks needed to draw the
//! picture stay, all others go. Never here: decoding a picture.

/// Why a file is not taken.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum PhotoError {
    /// It begins like neither.
    #[error("it is neither JPEG nor PNG")]
    OtherForm,
    /// It ends too early or is put together in a wrong way.
    #[error("it is not whole")]
    NotWhole,
}

const PNG_SIGNATURE: &[u8] = b"\x89PNG\r\n\x1a\n";
/// Chunks that are needed to draw a PNG as it was meant.
const PNG_KEPT: [&[u8; 4]; 9] =
    [b"IHDR", b"PLTE", b"IDAT", b"IEND", b"tRNS", b"gAMA", b"cHRM", b"sRGB", b"pHYs"];

const START_OF_IMAGE: u8 = 0xD8;
const END_OF_IMAGE: u8 = 0xD9;
const START_OF_SCAN: u8 = 0xDA;
const COMMENT: u8 = 0xFE;

/// The photo without notes.
///
/// # Errors
/// When the file is neither JPEG nor PNG, or not whole.
pub fn stripped(file: &[u8]) -> Result<Vec<u8>, PhotoError> {
    if file.starts_with(&[0xFF, START_OF_IMAGE]) {
        stripped_jpeg(file)
    } else if let Some(chunks) = file.strip_prefix(PNG_SIGNATURE) {
        stripped_png(chunks)
    } else {
        Err(PhotoError::OtherForm)
    }
}

fn stripped_jpeg(file: &[u8]) -> Result<Vec<u8>, PhotoError> {
    let mut kept = vec![0xFF, START_OF_IMAGE];
    kept.extend(turn(file).into_iter().flat_map(turn_segment));
    let mut at = 2;
    loop {
        // A marker may be preceded by any number of fill bytes.
        if file.get(at) != Some(&0xFF) {
            return Err(PhotoError::NotWhole);
        }
        while file.get(at) == Some(&0xFF) {
            at += 1;
        }
        let marker = *file.get(at).ok_or(PhotoError::NotWhole)?;
        at += 1;
        match marker {
            END_OF_IMAGE => {
                kept.extend_from_slice(&[0xFF, marker]);
                return Ok(kept);
            }
            // Markers without a segment do not stand here, except between scans.
            0x01 | 0xD0..=0xD7 => kept.extend_from_slice(&[0xFF, marker]),
            0x00 | START_OF_IMAGE => return Err(PhotoError::NotWhole),
            _ => {
                let length = file.get(at..at + 2).ok_or(PhotoError::NotWhole)?;
                let length = length.iter().fold(0, |sum, byte| sum * 256 + usize::from(*byte));
                let segment = file.get(at..at + length).ok_or(PhotoError::NotWhole)?;
                let body = segment.get(2..).ok_or(PhotoError::NotWhole)?;
                at += length;
                let colours = marker == 0xEE && body.len() == 12 && body.starts_with(b"Adobe");
                if colours || !(marker == COMMENT || (0xE0..=0xEF).contains(&marker)) {
                    kept.extend_from_slice(&[0xFF, marker]);
                    kept.extend_from_slice(segment);
                }
                if marker == START_OF_SCAN {
                    let data = coded_length(file.get(at..).unwrap_or_default())?;
                    kept.extend_from_slice(file.get(at..at + data).unwrap_or_default());
                    at += data;
                }
            }
        }
    }
}

/// How the picture is to be turned to stand upright, 2 to 8; nothing if it does, or if nobody can read it.
fn turn(file: &[u8]) -> Option<u8> {
    let notes = exif::Reader::new().read_from_container(&mut std::io::Cursor::new(file)).ok()?;
    let turn = notes.get_field(exif::Tag::Orientation, exif::In::PRIMARY)?.value.get_uint(0)?;
    u8::try_from(turn).ok().filter(|turn| (2..=8).contains(turn))
}

/// The segment APP1 with the turn and nothing else: one directory of one entry, a short number.
fn turn_segment(turn: u8) -> Vec<u8> {
    let mut segment = b"\xFF\xE1\0\x22Exif\0\0MM\0*\0\0\0\x08\0\x01\x01\x12\0\x03\0\0\0\x01\0".to_vec();
    segment.extend([turn, 0, 0, 0, 0, 0, 0]);
    segment
}

/// Length of the coded data up to the next marker that is no restart.
fn coded_length(rest: &[u8]) -> Result<usize, PhotoError> {
    let ends = |pair: &[u8]| matches!(pair, [0xFF, next] if !matches!(next, 0x00 | 0xD0..=0xD7 | 0xFF));
    rest.windows(2).position(ends).ok_or(PhotoError::NotWhole)
}

fn stripped_png(mut rest: &[u8]) -> Result<Vec<u8>, PhotoError> {
    let mut kept = PNG_SIGNATURE.to_vec();
    loop {
        // Length of the data, type, data, check sum (4 + 4 + length + 4 bytes).
        let (length, _) = rest.split_first_chunk::<4>().ok_or(PhotoError::NotWhole)?;
        let length = usize::try_from(u32::from_be_bytes(*length)).map_err(|_| PhotoError::NotWhole)?;
        let end = length.checked_add(12).ok_or(PhotoError::NotWhole)?;
        let (chunk, after) = rest.split_at_checked(end).ok_or(PhotoError::NotWhole)?;
        let name = chunk.get(4..8).unwrap_or_default();
        if PNG_KEPT.iter().any(|kept| kept.as_slice() == name) {
            kept.extend_from_slice(chunk);
        } else if name.first().is_some_and(u8::is_ascii_uppercase) {
            return Err(PhotoError::NotWhole);
        }
        if name == b"IEND" {
            return Ok(kept);
        }
        rest = after;
    }
}

#[cfg(test)]
mod tests;
