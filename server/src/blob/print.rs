//! A photo as the record prints it: upright, no larger than paper shows, always JPEG.
//!
//! What was sent stays as it is beside the journal; this makes a copy for the page, so that a record with photos of a
//! telephone stays a file that can be sent by mail. The same bytes give the same copy. Called by [`crate::record`].

use image::codecs::jpeg::JpegEncoder;
use image::metadata::Orientation;
use image::{DynamicImage, ImageDecoder, ImageFormat, ImageReader, Limits, Rgba, RgbaImage, imageops};
use std::io::Cursor;

/// Longest edge of a copy in pixels: 300 to an inch at the size of the record's photos.
const EDGE_MAX: u32 = 640;
/// A JPEG of at most so many bytes that is upright and small enough is printed as it is.
const UNCHANGED_BYTES_MAX: usize = 150_000;
/// Most bytes that decoding may take: 40 million pixels of four bytes, and some.
const DECODED_BYTES_MAX: u64 = 192 * 1024 * 1024;
/// Quality of the copy; at this one the steps of a JPEG cannot be seen on paper (common practice, no source).
const QUALITY: u8 = 82;

/// The copy for the page, or in words why there is none.
pub(crate) fn copy(bytes: &[u8]) -> Result<Vec<u8>, String> {
    let told = |error: image::ImageError| error.to_string();
    let mut reader =
        ImageReader::new(Cursor::new(bytes)).with_guessed_format().map_err(|error| error.to_string())?;
    let format = reader.format().filter(|format| matches!(format, ImageFormat::Jpeg | ImageFormat::Png));
    let format = format.ok_or("it is neither JPEG nor PNG")?;
    let mut limits = Limits::default();
    limits.max_alloc = Some(DECODED_BYTES_MAX);
    reader.limits(limits);
    let mut decoder = reader.into_decoder().map_err(told)?;
    let orientation = decoder.orientation().unwrap_or(Orientation::NoTransforms);
    let (width, height) = decoder.dimensions();
    let upright = orientation == Orientation::NoTransforms;
    let small = width.max(height) <= EDGE_MAX && bytes.len() <= UNCHANGED_BYTES_MAX;
    let decoded = DynamicImage::from_decoder(decoder).map_err(told)?;
    if format == ImageFormat::Jpeg && upright && small {
        return Ok(bytes.to_vec());
    }
    let shrunk = if width.max(height) > EDGE_MAX { decoded.thumbnail(EDGE_MAX, EDGE_MAX) } else { decoded };
    let mut shown = on_white(shrunk);
    shown.apply_orientation(orientation);
    let mut copy = Vec::new();
    shown.write_with_encoder(JpegEncoder::new_with_quality(&mut copy, QUALITY)).map_err(told)?;
    Ok(copy)
}

/// Paper shows through where a picture is transparent; grey stays grey.
fn on_white(picture: DynamicImage) -> DynamicImage {
    if !picture.color().has_alpha() {
        let grey = !picture.color().has_color();
        return if grey { picture.to_luma8().into() } else { picture.to_rgb8().into() };
    }
    let picture = picture.to_rgba8();
    let mut paper = RgbaImage::from_pixel(picture.width(), picture.height(), Rgba([255; 4]));
    imageops::overlay(&mut paper, &picture, 0, 0);
    DynamicImage::from(paper).to_rgb8().into()
}

#[cfg(test)]
mod tests {
    use super::*;
    use image::{ImageEncoder as _, Luma, Rgb, RgbImage};

    /// A picture whose left half is dark and whose right half is bright.
    fn halves(width: u32, height: u32) -> RgbImage {
        RgbImage::from_fn(width, height, |x, _| Rgb(if x < width / 2 { [20; 3] } else { [230, 220, 210] }))
    }

    fn jpeg(picture: &RgbImage) -> Vec<u8> {
        let mut bytes = Vec::new();
        picture.write_with_encoder(JpegEncoder::new_with_quality(&mut bytes, 95)).unwrap();
        bytes
    }

    fn png(picture: &DynamicImage) -> Vec<u8> {
        let mut bytes = Cursor::new(Vec::new());
        picture.write_to(&mut bytes, ImageFormat::Png).unwrap();
        bytes.into_inner()
    }

    /// The segment that a station leaves: nothing but which way is up (CIPA DC-008, tag 0x0112).
    fn turned(jpeg: &[u8], orientation: u8) -> Vec<u8> {
        let mut bytes =
            b"\xff\xd8\xff\xe1\x00\x22Exif\0\0MM\0*\0\0\0\x08\0\x01\x01\x12\0\x03\0\0\0\x01\0".to_vec();
        bytes.extend([orientation, 0, 0, 0, 0, 0, 0]);
        bytes.extend(&jpeg[2..]);
        bytes
    }

    fn read(bytes: &[u8]) -> DynamicImage {
        image::load_from_memory_with_format(bytes, ImageFormat::Jpeg).unwrap()
    }

    #[test]
    fn a_photo_of_a_telephone_becomes_small_and_the_same_at_every_time() {
        let large = jpeg(&halves(2_000, 1_500));
        let copied = copy(&large).unwrap();
        assert_eq!(copied, copy(&large).unwrap());
        let picture = read(&copied);
        assert_eq!((picture.width(), picture.height()), (640, 480));
        assert!(copied.len() < 60_000, "{} bytes", copied.len());
        let pixels = picture.to_rgb8();
        assert!(pixels.get_pixel(100, 240)[0] < 40 && pixels.get_pixel(540, 240)[0] > 210);
    }

    #[test]
    fn a_photo_held_upright_is_printed_upright() {
        // Orientation 6: the picture is to be turned a quarter to the right, so its left half becomes the upper one.
        let picture = read(&copy(&turned(&jpeg(&halves(1_200, 800)), 6)).unwrap()).to_rgb8();
        assert_eq!((picture.width(), picture.height()), (427, 640));
        assert!(picture.get_pixel(200, 100)[0] < 40 && picture.get_pixel(200, 540)[0] > 210);
        // A small one is turned too.
        let small = read(&copy(&turned(&jpeg(&halves(120, 80)), 6)).unwrap());
        assert_eq!((small.width(), small.height()), (80, 120));
    }

    #[test]
    fn a_small_upright_jpeg_is_printed_byte_for_byte_and_a_png_becomes_one() {
        let small = jpeg(&halves(320, 240));
        assert_eq!(copy(&small).unwrap(), small);
        let shot = png(&halves(320, 240).into());
        assert!(copy(&shot).unwrap().starts_with(b"\xff\xd8"));
        let clear = RgbaImage::from_pixel(40, 30, Rgba([0, 0, 0, 0]));
        assert!(read(&copy(&png(&clear.into())).unwrap()).to_rgb8().get_pixel(20, 15)[0] > 250);
        let mut grey = Vec::new();
        let picture = image::ImageBuffer::from_pixel(900, 30, Luma([90_u8]));
        JpegEncoder::new(&mut grey).write_image(&picture, 900, 30, image::ExtendedColorType::L8).unwrap();
        assert!(!read(&copy(&grey).unwrap()).color().has_color());
    }

    #[test]
    fn what_is_no_whole_picture_is_told_and_never_panics() {
        let whole = jpeg(&halves(320, 240));
        for end in [0, 1, 2, 20, 200] {
            assert!(copy(&whole[..end]).is_err(), "{end}");
        }
        assert!(copy(b"GIF89a").is_err());
        let shot = png(&halves(320, 240).into());
        assert!(copy(&shot[..shot.len() / 2]).is_err());
        // A header that promises forty thousand by forty thousand pixels is not believed with memory.
        let mut lying = shot.clone();
        lying[16..24].copy_from_slice(&[0, 0, 0x9c, 0x40, 0, 0, 0x9c, 0x40]);
        assert!(copy(&lying).is_err());
    }
}
