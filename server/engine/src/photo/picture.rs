//! A picture from the bytes of a file, made smaller while it is read.
//!
//! Neighbouring pixels are averaged as they were coded; over so few the camera's curve is straight. Never here: what a
//! picture shows.

use std::io::Cursor;
use zune_jpeg::JpegDecoder;
use zune_jpeg::zune_core::bytestream::ZCursor;
use zune_jpeg::zune_core::colorspace::ColorSpace;
use zune_jpeg::zune_core::options::DecoderOptions;

/// Most pixels that are decoded.
const PIXELS_MAX: usize = 40_000_000;
/// Most bytes that a PNG may take while it is decoded.
const PNG_BYTES_MAX: usize = 192 * 1024 * 1024;
/// Longest edge of what is kept.
const EDGE_MAX: usize = 1_600;
/// Turns that mirror the picture: CIPA DC-008, tag 0x0112.
const MIRRORED: [u32; 4] = [2, 4, 5, 7];

/// A picture of red, green and blue, each 0 to 255.
#[derive(Debug, Clone)]
pub(super) struct Picture {
    /// Pixels of a row.
    pub width: usize,
    /// Rows.
    pub height: usize,
    pixels: Vec<[f32; 3]>,
    mirrored: bool,
}

impl Picture {
    /// Decodes JPEG or PNG; nothing if it is neither, not whole or too large.
    pub fn decoded(bytes: &[u8]) -> Option<Self> {
        if bytes.starts_with(b"\xff\xd8") { jpeg(bytes) } else { png(bytes) }
    }

    /// A pixel; the file counts from the left of what the camera saw, also where it says that it was mirrored.
    pub fn at(&self, x: usize, y: usize) -> Option<&[f32; 3]> {
        if x >= self.width {
            return None;
        }
        let x = if self.mirrored { self.width - 1 - x } else { x };
        self.pixels.get(y * self.width + x)
    }
}

fn jpeg(bytes: &[u8]) -> Option<Picture> {
    let options = DecoderOptions::default()
        .jpeg_set_out_colorspace(ColorSpace::RGB)
        .set_max_width(PIXELS_MAX)
        .set_max_height(PIXELS_MAX);
    let mut decoder = JpegDecoder::new_with_options(ZCursor::new(bytes), options);
    decoder.decode_headers().ok()?;
    let (width, height) = decoder.info().map(|info| (usize::from(info.width), usize::from(info.height)))?;
    let mut smaller = Smaller::new(width, height)?;
    let mirrored = decoder.exif().is_some_and(|notes| is_mirrored(notes));
    let decoded = decoder.decode().ok()?;
    for row in decoded.chunks_exact(width * 3) {
        smaller.add(row, 3);
    }
    Some(Picture { mirrored, ..smaller.done()? })
}

/// Whether the notes of a camera say that the picture is a mirror image; how it is turned says the sheet itself.
fn is_mirrored(notes: &[u8]) -> bool {
    let notes = notes.strip_prefix(b"Exif\0\0").unwrap_or(notes);
    let turn = exif::Reader::new()
        .read_raw(notes.to_vec())
        .ok()
        .and_then(|notes| notes.get_field(exif::Tag::Orientation, exif::In::PRIMARY)?.value.get_uint(0));
    turn.is_some_and(|turn| MIRRORED.contains(&turn))
}

fn png(bytes: &[u8]) -> Option<Picture> {
    let limits = png::Limits { bytes: PNG_BYTES_MAX };
    let mut decoder = png::Decoder::new_with_limits(Cursor::new(bytes), limits);
    decoder.set_transformations(png::Transformations::normalize_to_color8());
    let mut reader = decoder.read_info().ok()?;
    let (width, height) =
        (usize::try_from(reader.info().width).ok()?, usize::try_from(reader.info().height).ok()?);
    let mut smaller = Smaller::new(width, height)?;
    if reader.info().interlaced {
        let mut whole = vec![0; reader.output_buffer_size()?];
        let frame = reader.next_frame(&mut whole).ok()?;
        for row in whole.chunks_exact(frame.line_size) {
            smaller.add(row, frame.color_type.samples());
        }
        return smaller.done();
    }
    let samples = reader.output_color_type().0.samples();
    while let Some(row) = reader.next_row().ok()? {
        smaller.add(row.data(), samples);
    }
    smaller.done()
}

/// Averages squares of pixels, row by row.
struct Smaller {
    by: usize,
    width: usize,
    sums: Vec<[u32; 3]>,
    rows: usize,
    pixels: Vec<[f32; 3]>,
    height: usize,
}

impl Smaller {
    fn new(width: usize, height: usize) -> Option<Self> {
        if width == 0 || height == 0 || width.checked_mul(height)? > PIXELS_MAX {
            return None;
        }
        let by = width.max(height).div_ceil(EDGE_MAX);
        // What does not fill a whole square at the edges is left out.
        let (width, height) = (width / by, height / by);
        let pixels = Vec::with_capacity(width * height);
        Some(Self { by, width, sums: vec![[0; 3]; width], rows: 0, pixels, height })
    }

    fn add(&mut self, row: &[u8], samples: usize) {
        let by = self.by;
        for (sum, square) in self.sums.iter_mut().zip(row.chunks_exact(samples * by)) {
            for pixel in square.chunks_exact(samples) {
                let colour = match *pixel {
                    [red, green, blue] | [red, green, blue, _] => [red, green, blue],
                    [grey] | [grey, _] => [grey; 3],
                    _ => [0; 3],
                };
                for (sum, value) in sum.iter_mut().zip(colour) {
                    *sum += u32::from(value);
                }
            }
        }
        self.rows += 1;
        if self.rows.is_multiple_of(by) && self.pixels.len() < self.width * self.height {
            #[allow(clippy::cast_precision_loss)]
            let of = 1.0 / (by * by) as f32;
            #[allow(clippy::cast_precision_loss)]
            let mean = |sum: u32| sum as f32 * of;
            self.pixels.extend(self.sums.iter_mut().map(|sum| std::mem::take(sum).map(mean)));
        }
    }

    fn done(self) -> Option<Picture> {
        let whole = !self.pixels.is_empty() && self.pixels.len() == self.width * self.height;
        whole.then_some(Picture {
            width: self.width,
            height: self.height,
            pixels: self.pixels,
            mirrored: false,
        })
    }
}
