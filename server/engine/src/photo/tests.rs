//! Scenes whose absorbances are known, read like any photo: coverage, bias, and that each fault is told.

use super::share::{NoShare, PhotoShare, share};
use super::sheet::Layout;
use super::{Extract, Fault, Outcome, extract};

#[path = "../../../../tests/support/scene.rs"]
pub(crate) mod scene;

use scene::{Scene, Trouble};

fn read(scene: &Scene) -> Result<Extract, Fault> {
    match extract(&scene.jpeg()) {
        Outcome::Read(extract) => Ok(extract),
        Outcome::NotRead(fault) => Err(fault),
    }
}

/// What became of many good scenes.
#[derive(Debug, Default)]
struct Tally {
    read: f64,
    covered: f64,
    bias: f64,
    squares: f64,
    stated: f64,
    refused: Vec<String>,
}

impl Tally {
    fn of(layout: Layout, seeds: std::ops::Range<u64>) -> Self {
        let mut tally = Self::default();
        for seed in seeds {
            let scene = Scene::drawn(layout, seed);
            let found = read(&scene).map_err(|fault| format!("{fault:?}"));
            let found = found.and_then(|extract| share(&extract).map_err(|why| format!("{why:?}")));
            match found {
                Ok(found) => tally.add(found, scene.new_share),
                Err(why) => tally.refused.push(format!("{seed}: {why}")),
            }
        }
        tally.bias /= tally.read;
        tally.stated = (tally.stated / tally.read).sqrt();
        tally.squares = (tally.squares / tally.read).sqrt();
        tally.covered /= tally.read;
        tally
    }

    fn add(&mut self, found: PhotoShare, truth: f64) {
        let off = found.new_share - truth;
        self.read += 1.0;
        self.bias += off;
        self.squares += off * off;
        self.stated += found.standard_uncertainty.powi(2);
        if off.abs() <= 1.96 * found.standard_uncertainty {
            self.covered += 1.0;
        }
    }
}

#[test]
fn bottles_are_covered_by_their_intervals_and_good_photos_are_read() {
    let tally = Tally::of(Layout::Bottles, 0..120);
    println!("bottles: {tally:?}");
    assert!((0.90..=0.995).contains(&tally.covered), "{tally:?}");
    assert!(tally.bias.abs() < 0.01 && tally.squares < 0.06, "{tally:?}");
    assert!(tally.refused.len() <= 6, "{tally:?}");
}

#[test]
fn tubes_are_covered_by_their_intervals_and_good_photos_are_read() {
    let tally = Tally::of(Layout::Tubes, 1_000..1_080);
    println!("tubes: {tally:?}");
    assert!((0.90..=0.995).contains(&tally.covered), "{tally:?}");
    assert!(tally.bias.abs() < 0.01 && tally.squares < 0.06, "{tally:?}");
    assert!(tally.refused.len() <= 4, "{tally:?}");
}

fn refused(trouble: Trouble, expected: impl Fn(Fault) -> bool) {
    let (mut named, mut read_all_the_same, mut other) = (0, 0, Vec::new());
    for seed in 0..20 {
        let scene = Scene {
            trouble: Some(trouble),
            size: (1_024, 768),
            ..Scene::drawn(Layout::Bottles, 5_000 + seed)
        };
        match read(&scene) {
            Err(fault) if expected(fault) => named += 1,
            Err(fault) => other.push(fault),
            Ok(_) => read_all_the_same += 1,
        }
    }
    println!("{trouble:?}: {named} of 20 named, {other:?} otherwise, {read_all_the_same} read");
    assert!(read_all_the_same <= 1, "{trouble:?}: {read_all_the_same} of 20 were read all the same");
    assert!(named >= 19, "{trouble:?}: {named} of 20 named as what they are, else {other:?}");
}

#[test]
fn light_that_misleads_is_told() {
    refused(Trouble::Glare, |fault| matches!(fault, Fault::Glare(Layout::Bottles, 1)));
    refused(Trouble::Clipped, |fault| fault == Fault::WhiteClipped);
    refused(Trouble::Dark, |fault| fault == Fault::TooDark);
    refused(Trouble::Shadow, |fault| matches!(fault, Fault::UnequalLight | Fault::NoWhite));
    refused(Trouble::OneSided, |fault| matches!(fault, Fault::UnequalLight | Fault::WhiteClipped));
}

#[test]
fn sheets_that_cannot_be_read_are_told() {
    refused(Trouble::NoSheet, |fault| fault == Fault::NoSheet);
    // Most of these moved so far that no corner is left.
    refused(Trouble::Blurred, |fault| matches!(fault, Fault::Blurred | Fault::NoSheet));
    refused(Trouble::Empty, |fault| fault == Fault::Empty(Layout::Bottles, 1));
    refused(Trouble::Far, |fault| fault == Fault::TooSmall);
    refused(Trouble::Covered, |fault| matches!(fault, Fault::NoWhite | Fault::UnequalLight));
}

#[test]
fn fluids_that_look_alike_and_ones_that_were_exchanged_are_told() {
    let good = Scene { new_share: 0.4, ..Scene::drawn(Layout::Bottles, 7) };
    let alike = Scene { before: good.fresh, ..good.clone() };
    assert_eq!(share(&read(&alike).unwrap()), Err(NoShare::TooAlike));
    let exchanged = Scene { before: good.fresh, fresh: good.before, ..good.clone() };
    assert_eq!(share(&read(&exchanged).unwrap()), Err(NoShare::Exchanged));
}

#[test]
fn a_photo_lying_on_its_side_or_mirrored_by_a_note_gives_the_same_share() {
    let scene = Scene { new_share: 0.6, ..Scene::drawn(Layout::Bottles, 11) };
    let (width, height) = scene.size;
    let upright = image::RgbImage::from_raw(width, height, scene.pixels()).unwrap();
    let jpeg = |picture: &image::RgbImage| {
        let mut bytes = Vec::new();
        picture
            .write_with_encoder(image::codecs::jpeg::JpegEncoder::new_with_quality(&mut bytes, 92))
            .unwrap();
        bytes
    };
    let of = |bytes: &[u8]| match extract(bytes) {
        Outcome::Read(extract) => share(&extract).unwrap(),
        Outcome::NotRead(fault) => panic!("{fault:?}"),
    };
    let straight = of(&jpeg(&upright));
    let same = |found: PhotoShare| (found.new_share - straight.new_share).abs() < 0.01;
    assert!((straight.new_share - 0.6).abs() < 2.0 * straight.standard_uncertainty);
    assert!(same(of(&jpeg(&image::imageops::rotate90(&upright)))));
    assert!(same(of(&jpeg(&image::imageops::rotate180(&upright)))));
    let mut png = std::io::Cursor::new(Vec::new());
    upright.write_to(&mut png, image::ImageFormat::Png).unwrap();
    assert!(same(of(&png.into_inner())));
    // CIPA DC-008, tag 0x0112, value 2: the picture is to be mirrored.
    let mirrored = jpeg(&image::imageops::flip_horizontal(&upright));
    assert_eq!(extract(&mirrored), Outcome::NotRead(Fault::NoSheet));
    let mut noted =
        b"\xff\xd8\xff\xe1\x00\x22Exif\0\0MM\0*\0\0\0\x08\0\x01\x01\x12\0\x03\0\0\0\x01\0\x02\0\0\0\0\0\0"
            .to_vec();
    noted.extend(&mirrored[2..]);
    assert!(same(of(&noted)));
}

#[test]
fn what_is_no_picture_is_told_and_any_cut_is_survived() {
    assert_eq!(extract(b""), Outcome::NotRead(Fault::NoPicture));
    assert_eq!(extract(b"\xff\xd8\xff"), Outcome::NotRead(Fault::NoPicture));
    let whole = Scene { size: (640, 480), ..Scene::drawn(Layout::Bottles, 3) }.jpeg();
    for end in (0..whole.len()).step_by(whole.len() / 23) {
        let _ = extract(&whole[..end]);
    }
}

#[test]
fn an_extract_is_the_same_after_it_was_kept_as_text_and_as_it_was_read_again() {
    let bytes = Scene::drawn(Layout::Tubes, 21).jpeg();
    let read = extract(&bytes);
    assert_eq!(read, extract(&bytes));
    let kept = serde_json::to_string(&read).unwrap();
    assert_eq!(serde_json::from_str::<Outcome>(&kept).unwrap(), read);
}
