//! Photos without their notes. The files are put together here, by the tables of the standards named in photo.rs.

use super::*;

fn segment(marker: u8, body: &[u8]) -> Vec<u8> {
    let length = u16::try_from(body.len() + 2).unwrap().to_be_bytes();
    [&[0xFF, marker][..], &length, body].concat()
}

/// A JPEG in its structure: notes, tables, a scan with stuffed bytes and a restart, a second scan, a trailer.
fn jpeg() -> Vec<u8> {
    [
        vec![0xFF, START_OF_IMAGE],
        segment(0xE0, b"JFIF\0\x01\x02\0\0\x01\0\x01\0\0"),
        segment(0xE1, b"Exif\0\0 taken at 53.55 N by phone 7"),
        segment(0xEE, b"Adobe\0\x64\0\0\0\0\x01"),
        segment(COMMENT, b"harbour lane"),
        vec![0xFF],
        segment(0xDB, &[7; 65]),
        segment(0xC2, &[8; 15]),
        segment(START_OF_SCAN, &[1, 1, 0, 0, 63, 0]),
        vec![0x12, 0xFF, 0x00, 0x34, 0xFF, 0xD0, 0x56],
        segment(0xE5, b"note between scans"),
        segment(START_OF_SCAN, &[1, 1, 0, 0, 63, 0]),
        vec![0x9A, 0xFF, 0x00],
        vec![0xFF, END_OF_IMAGE],
        b"a second picture with its place".to_vec(),
    ]
    .concat()
}

fn chunk(name: &[u8; 4], data: &[u8]) -> Vec<u8> {
    let length = u32::try_from(data.len()).unwrap().to_be_bytes();
    [&length[..], name, data, &[1, 2, 3, 4]].concat()
}

fn png() -> Vec<u8> {
    let chunks = [
        chunk(b"IHDR", &[0; 13]),
        chunk(b"eXIf", b"place"),
        chunk(b"tEXt", b"Comment\0harbour"),
        chunk(b"gAMA", &[0, 0, 1, 1]),
        chunk(b"IDAT", &[9; 40]),
        chunk(b"tIME", &[0; 7]),
        chunk(b"IEND", b""),
    ];
    [PNG_SIGNATURE, &chunks.concat(), b"trailer"].concat()
}

fn has(bytes: &[u8], part: &[u8]) -> bool {
    bytes.windows(part.len()).any(|window| window == part)
}

#[test]
fn a_jpeg_keeps_its_picture_and_loses_every_note() {
    let bare = stripped(&jpeg()).unwrap();
    for gone in [&b"53.55"[..], b"harbour", b"JFIF", b"between", b"second"] {
        assert!(!has(&bare, gone), "{}", String::from_utf8_lossy(gone));
    }
    for kept in
        [&[7; 65][..], &[8; 15], &[0x12, 0xFF, 0x00, 0x34, 0xFF, 0xD0, 0x56], &[0x9A, 0xFF, 0x00, 0xFF, 0xD9]]
    {
        assert!(has(&bare, kept));
    }
    // Without it, colours of such files would be read in another way.
    assert!(has(&bare, b"Adobe"));
    assert_eq!(stripped(&bare).unwrap(), bare);
}

#[test]
fn a_png_keeps_what_draws_it() {
    let bare = stripped(&png()).unwrap();
    assert!(
        !has(&bare, b"place") && !has(&bare, b"harbour") && !has(&bare, b"tIME") && !has(&bare, b"trailer")
    );
    assert!(
        has(&bare, b"IHDR") && has(&bare, b"gAMA") && has(&bare, &[9; 40]) && bare.ends_with(&[1, 2, 3, 4])
    );
    assert_eq!(stripped(&bare).unwrap(), bare);
}

#[test]
fn a_file_cut_anywhere_is_never_taken_and_never_panics() {
    let whole = jpeg();
    let end = whole.len() - b"a second picture with its place".len();
    for cut in 0..end {
        assert!(stripped(&whole[..cut]).is_err(), "{cut}");
    }
    let whole = png();
    for cut in 0..whole.len() - b"trailer".len() {
        assert!(stripped(&whole[..cut]).is_err(), "{cut}");
    }
    assert_eq!(stripped(b"GIF89a"), Err(PhotoError::OtherForm));
}

#[test]
fn changed_bytes_never_panic() {
    for at in 0..jpeg().len() {
        for value in [0x00, 0xFF, 0xD9, 0xDA] {
            let mut file = jpeg();
            file[at] = value;
            let _ = stripped(&file);
        }
    }
}

/// The notes of a telephone: which way is up, its maker, and a place (CIPA DC-008, tags 0x0112, 0x010F, 0x8825).
fn notes(turn: u8) -> Vec<u8> {
    let entries = [
        [&[0x01, 0x0F, 0, 2, 0, 0, 0, 4][..], b"abc\0"].concat(),
        [&[0x01, 0x12, 0, 3, 0, 0, 0, 1, 0, turn][..], &[0, 0]].concat(),
        [&[0x88, 0x25, 0, 4, 0, 0, 0, 1][..], &[0, 0, 0, 50]].concat(),
    ];
    let place = [&[0, 1, 0, 1, 0, 2, 0, 0, 0, 2][..], b"N\0\0\0", &[0; 4]].concat();
    [b"Exif\0\0MM\0*\0\0\0\x08\0\x03".to_vec(), entries.concat(), vec![0; 4], place].concat()
}

fn with_notes(turn: u8) -> Vec<u8> {
    [vec![0xFF, START_OF_IMAGE], segment(0xE1, &notes(turn)), jpeg()[2..].to_vec()].concat()
}

#[test]
fn of_the_notes_only_which_way_is_up_stays() {
    let bare = stripped(&with_notes(6)).unwrap();
    assert_eq!(turn(&bare), Some(6));
    let read = exif::Reader::new().read_from_container(&mut std::io::Cursor::new(&bare)).unwrap();
    assert_eq!(read.fields().count(), 1);
    assert!(!has(&bare, b"abc") && exif_has_place(&with_notes(6)) && !exif_has_place(&bare));
    // Stripping again changes nothing, so a photo has one digest.
    assert_eq!(stripped(&bare).unwrap(), bare);
}

fn exif_has_place(jpeg: &[u8]) -> bool {
    let read = exif::Reader::new().read_from_container(&mut std::io::Cursor::new(jpeg)).unwrap();
    read.get_field(exif::Tag::GPSLatitudeRef, exif::In::PRIMARY).is_some()
}

#[test]
fn a_turn_that_is_none_leaves_no_note_at_all() {
    for turn in [0, 1, 9, 255] {
        assert_eq!(stripped(&with_notes(turn)).unwrap(), stripped(&jpeg()).unwrap(), "{turn}");
    }
}
