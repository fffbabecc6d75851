//! A photo as the record prints it: upright, no larger than paper shows, always JPEG.
//!
//! What was sent stays as it is beside the journal; this makes a copy for the page, so that a record with photos of a
//! telephone stays a file that can be sent by mail. The same bytes give the same copy. Called by [`crate::record`].

use crate::status::Cause;
use crate::workshop::off_the_network;
use image::codecs::jpeg::JpegEncoder;
use image::metadata::Orientation;
use image::{DynamicImage, ImageDecoder, ImageFormat, ImageReader, Limits, Rgba, RgbaImage, imageops};
use std::io::Cursor;
use tokio::sync::Semaphore;

/// Longest edge of a copy in pixels: 300 to an inch at the size of the record's photos.
const EDGE_MAX: u32 = 640;
/// A JPEG of at most so many bytes that is upright and small enough is printed as it is.
const UNCHANGED_BYTES_MAX: usize = 150_000;
/// Most bytes that decoding may take: 40 million pixels of four bytes, and some.
const DECODED_BYTES_MAX: u64 = 192 * 1024 * 1024;
/// Quality of the copy; at this one the steps of a JPEG cannot be seen on paper (common practice, no source).
const QUALITY: u8 = 82;

/// Held while a picture is decoded: one at a time, since each may take [`DECODED_BYTES_MAX`] and as much again.
static DECODING: Semaphore = Semaphore::const_new(1);

/// The copy for the page, or in words why there is none; worked out off the network, and alone.
pub(crate) async fn copied(bytes: Vec<u8>) -> Result<Result<Vec<u8>, String>, Cause> {
    alone(move || copy(&bytes)).await
}

/// Does what decodes a picture off the network, one at a time.
pub(crate) async fn alone<T: Send + 'static>(
    decode: impl FnOnce() -> T + Send + 'static,
) -> Result<T, Cause> {
    let alone = DECODING.acquire().await.map_err(|error| Cause::internal("decoding a photo", &error))?;
    // The work goes on when nobody waits for it any more; then it holds its place until its end.
    off_the_network(move || {
        let decoded = decode();
        drop(alone);
        decoded
    })
    .await
}

/// The copy for the page, or in words why there is none.
fn copy(bytes: &[u8]) -> Result<Vec<u8>, String> {
    let told = |error: image::ImageError| error.to_string();
    let mut reader =
        ImageReader::new(Cursor::new(bytes)).with_guessed_format().map_err(|error| error.to_string())?;
    let format = reader.format().filter(|format| matches!(format, ImageFormat::Jpeg | ImageFormat::Png));
    let format = format.ok_or("it is neither JPEG nor PNG")?;
    let mut limits = Limits::default();
    limits.max_alloc = Some(DECODED_BYTES_MAX);
    reader.limits(limits);
    let mut decoder = reader.into_decoder().map_err(told)?;
    // The limits hold for what a decoder takes for itself, not for the picture it gives.
    if decoder.total_bytes() > DECODED_BYTES_MAX {
        return Err(format!("its picture takes more than {DECODED_BYTES_MAX} bytes"));
    }
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
    fn a_picture_of_more_bytes_than_allowed_is_told_before_it_is_decoded() {
        // 16 bits a channel and an alpha channel: 8 bytes for each of 36 million pixels, in a file that ends after its
        // header and the beginning of the picture.
        let mut header = b"IHDR".to_vec();
        header.extend(6_000_u32.to_be_bytes());
        header.extend(6_000_u32.to_be_bytes());
        header.extend([16, 6, 0, 0, 0]);
        let chunk = |body: &[u8]| {
            let length = u32::try_from(body.len() - 4).unwrap().to_be_bytes();
            [&length, body, &crc(body).to_be_bytes()].concat()
        };
        let bytes = [b"\x89PNG\r\n\x1a\n".to_vec(), chunk(&header), chunk(b"IDAT\x78\x9c")].concat();
        let refused = copy(&bytes).unwrap_err();
        assert!(refused.contains("takes more than"), "{refused}");
    }

    /// W3C PNG, third edition, annex D (from memory).
    fn crc(bytes: &[u8]) -> u32 {
        let step = |rest: u32| (0..8).fold(rest, |rest, _| (rest >> 1) ^ (0xEDB8_8320 * (rest & 1)));
        !bytes.iter().fold(u32::MAX, |rest, byte| (rest >> 8) ^ step((rest ^ u32::from(*byte)) & 0xFF))
    }

    #[tokio::test]
    async fn one_picture_is_decoded_at_a_time() {
        let small = jpeg(&halves(40, 30));
        let busy = DECODING.acquire().await.unwrap();
        tokio::select! {
            biased;
            _ = copied(small.clone()) => panic!("two at a time"),
            () = tokio::task::yield_now() => {}
        }
        drop(busy);
        assert_eq!(copied(small.clone()).await.unwrap(), Ok(small));
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
