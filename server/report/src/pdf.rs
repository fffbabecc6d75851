//! Finished pages into the bytes of a PDF 1.7 file (ISO 32000-1).
//!
//! Text goes in as glyph numbers of the embedded subset, so no character of it can be read as PDF. All
//! names, dates and identifiers come from what is passed in: the same pages give the same bytes. Called by
//! `render`, last.

use std::collections::{BTreeMap, BTreeSet};

use lopdf::{Dictionary, Object, StringFormat};
use printpdf::{
    Color, FontId, Greyscale, Line, LinePoint, Mm, Op, PaintMode, PdfDocument, PdfFont, PdfFontHandle,
    PdfPage, PdfSaveOptions, Point, Polygon, PolygonRing, Pt, Rgb, TextItem, WindingOrder, XObject,
    XObjectId, XObjectTransform,
};
use printpdf::{DictItem, ExternalStream, ExternalXObject};

use crate::date::Civil;
use crate::error::ReportError;
use crate::font::{Faces, Weight, fingerprint};
use crate::jpeg::Jpeg;
use crate::page::{Format, PAGE_HEIGHT, Page};
use crate::paragraph::{Ink, Segment};
use crate::strip::{Mark, Spot};

/// What a reader shows about the file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct FileInfo {
    /// Title of the window.
    pub(crate) title: String,
    /// Who issued it.
    pub(crate) author: String,
    /// Program and version.
    pub(crate) producer: String,
    /// BCP 47 tag of the text's language.
    pub(crate) language: String,
    /// Seconds since 1970-01-01T00:00:00Z.
    pub(crate) created_unix_seconds: i64,
}

/// The file's bytes.
///
/// # Errors
/// [`ReportError::Font`] if a face cannot be trimmed, [`ReportError::Pdf`] if the file cannot be written.
pub(crate) fn write(
    faces: &Faces,
    pages: &[Page],
    photos: &[Jpeg<'_>],
    info: &FileInfo,
) -> Result<Vec<u8>, ReportError> {
    let mut document = PdfDocument::new("");
    for (weight, characters) in used_characters(pages) {
        let trimmed = faces.face(weight).trimmed(&characters)?;
        document.resources.fonts.map.insert(font_id(weight), PdfFont::new(trimmed));
    }
    for (number, photo) in drawn_photos(pages, photos) {
        document.resources.xobjects.map.insert(photo_id(number), embedded(photo));
    }
    document.pages = pages.iter().map(sheet).collect();
    let mut warnings = Vec::new();
    let options = PdfSaveOptions { image_optimization: None, ..PdfSaveOptions::default() };
    let mut file = printpdf::serialize::to_lopdf_doc(&document, &options, &mut warnings);
    if let Some(warning) = warnings.first() {
        return Err(ReportError::Pdf { reason: warning.msg.clone() });
    }
    finish(&mut file, info)
}

/// A sheet of A4 (ISO 216) with what is drawn on it.
fn sheet(page: &Page) -> PdfPage {
    match page.format {
        Format::Upright => PdfPage::new(Mm(210.0), Mm(297.0), operations(&page.marks)),
        Format::Across => {
            // Places are turned into those of the file from the upper edge of an upright sheet.
            let by = Spot { x: 0.0, y: PAGE_HEIGHT - page.format.height() };
            let marks: Vec<Mark> = page.marks.iter().map(|mark| mark.shifted(by)).collect();
            PdfPage::new(Mm(297.0), Mm(210.0), operations(&marks))
        }
    }
}

fn font_id(weight: Weight) -> FontId {
    FontId(match weight {
        Weight::Regular => "TextRegular".to_owned(),
        Weight::Bold => "TextBold".to_owned(),
    })
}

fn photo_id(number: usize) -> XObjectId {
    XObjectId(format!("Photo{number}"))
}

/// The photos that stand on a page, by their number.
fn drawn_photos<'a>(pages: &[Page], photos: &'a [Jpeg<'a>]) -> BTreeMap<usize, &'a Jpeg<'a>> {
    let drawn = pages.iter().flat_map(|page| &page.marks).filter_map(|mark| match mark {
        Mark::Photo { photo, .. } => Some((*photo, photos.get(*photo)?)),
        _ => None,
    });
    drawn.collect()
}

/// The file of the photo as it is; the reader of the record decodes it (ISO 32000-1, 7.4.8 and 8.9.5).
fn embedded(photo: &Jpeg<'_>) -> XObject {
    let name = |name: &str| DictItem::Name(name.as_bytes().to_vec());
    let colours = if photo.grey { "DeviceGray" } else { "DeviceRGB" };
    let entries = [
        ("Type", name("XObject")),
        ("Subtype", name("Image")),
        ("Width", DictItem::Int(i64::from(photo.width))),
        ("Height", DictItem::Int(i64::from(photo.height))),
        ("ColorSpace", name(colours)),
        ("BitsPerComponent", DictItem::Int(8)),
        ("Filter", name("DCTDecode")),
    ];
    let dict = entries.into_iter().map(|(key, item)| (key.to_owned(), item)).collect();
    let stream = ExternalStream { dict, content: photo.bytes.to_vec(), compress: false };
    XObject::External(ExternalXObject { stream, width: None, height: None, dpi: None })
}

fn used_characters(pages: &[Page]) -> BTreeMap<Weight, BTreeSet<char>> {
    let mut used: BTreeMap<Weight, BTreeSet<char>> = BTreeMap::new();
    for mark in pages.iter().flat_map(|page| &page.marks) {
        if let Mark::Words { segment, .. } = mark {
            used.entry(segment.style.weight).or_default().extend(segment.text.chars());
        }
    }
    used
}

/// Sets what printpdf leaves open or sets otherwise: version, language, dates and identifiers.
fn finish(file: &mut lopdf::Document, info: &FileInfo) -> Result<Vec<u8>, ReportError> {
    let fault = |error: lopdf::Error| ReportError::Pdf { reason: error.to_string() };
    "1.7".clone_into(&mut file.version);
    let catalog = file.catalog_mut().map_err(fault)?;
    catalog.set("Lang", Object::string_literal(info.language.as_str()));
    catalog.set("PageLayout", Object::Name(b"SinglePage".to_vec()));
    let display = Dictionary::from_iter([("DisplayDocTitle", Object::Boolean(true))]);
    catalog.set("ViewerPreferences", Object::Dictionary(display));
    let date = Object::string_literal(pdf_date(info.created_unix_seconds));
    let described = Dictionary::from_iter([
        ("Title", text_string(&info.title)),
        ("Author", text_string(&info.author)),
        ("Producer", text_string(&info.producer)),
        ("CreationDate", date.clone()),
        ("ModDate", date),
    ]);
    let info_id = file.trailer.get(b"Info").and_then(Object::as_reference).map_err(fault)?;
    file.set_object(info_id, Object::Dictionary(described));
    file.trailer.remove(b"ID");
    file.compress();
    let written = |file: &mut lopdf::Document| {
        let mut bytes = Vec::new();
        file.save_to(&mut bytes).map(|()| bytes).map_err(|e| ReportError::Pdf { reason: e.to_string() })
    };
    // The identifier names the content (ISO 32000-1, 14.4), so it is taken from the file without it.
    let identifier = fingerprint(&written(file)?).to_be_bytes().to_vec();
    let identifier = Object::String(identifier, StringFormat::Hexadecimal);
    file.trailer.set("ID", Object::Array(vec![identifier.clone(), identifier]));
    written(file)
}

/// A text string of the file's description: UTF-16BE with its mark, in hexadecimal.
fn text_string(text: &str) -> Object {
    let units = std::iter::once(0xfeff).chain(text.encode_utf16());
    Object::String(units.flat_map(u16::to_be_bytes).collect(), StringFormat::Hexadecimal)
}

/// `D:YYYYMMDDHHMMSSZ` (ISO 32000-1, 7.9.4).
fn pdf_date(unix_seconds: i64) -> String {
    let Civil { year, month, day, hour, minute, second } = Civil::of(unix_seconds);
    format!("D:{year:04}{month:02}{day:02}{hour:02}{minute:02}{second:02}Z")
}

/// Colours as last set; a page starts with black.
struct Inks {
    fill: Ink,
    outline: Ink,
}

fn operations(marks: &[Mark]) -> Vec<Op> {
    let mut inks = Inks { fill: Ink::Black, outline: Ink::Black };
    let mut ops = Vec::new();
    for mark in marks {
        match mark {
            Mark::Words { at, segment } => words(*at, segment, &mut inks, &mut ops),
            Mark::Stroke { through, thickness, ink } => {
                set_outline(*ink, &mut inks, &mut ops);
                ops.push(Op::SetOutlineThickness { pt: Pt(*thickness as f32) });
                let points = through.iter().map(|spot| line_point(*spot, false)).collect();
                ops.push(Op::DrawLine { line: Line { points, is_closed: false } });
            }
            Mark::Area { corners, ink } => {
                set_fill(*ink, &mut inks, &mut ops);
                let points = corners.iter().map(|spot| line_point(*spot, false)).collect();
                ops.push(polygon(points, PaintMode::Fill));
            }
            Mark::Photo { at, width, height, photo } => {
                ops.push(Op::UseXobject { id: photo_id(*photo), transform: placed(*at, *width, *height) });
            }
            Mark::Circle { centre, radius, ink } => {
                set_fill(Ink::White, &mut inks, &mut ops);
                set_outline(*ink, &mut inks, &mut ops);
                ops.push(Op::SetOutlineThickness { pt: Pt(0.9) });
                ops.push(polygon(circle(*centre, *radius), PaintMode::FillStroke));
            }
        }
    }
    ops
}

/// From the unit square that an image fills to its place on the page.
fn placed(at: Spot, width: f64, height: f64) -> XObjectTransform {
    let lower_left = point(Spot { x: at.x, y: at.y + height });
    XObjectTransform {
        translate_x: Some(lower_left.x),
        translate_y: Some(lower_left.y),
        scale_x: Some(hundredths(width)),
        scale_y: Some(hundredths(height)),
        no_auto_scale: true,
        ..XObjectTransform::default()
    }
}

fn words(at: Spot, segment: &Segment, inks: &mut Inks, ops: &mut Vec<Op>) {
    set_fill(segment.style.ink, inks, ops);
    ops.push(Op::StartTextSection);
    let font = PdfFontHandle::External(font_id(segment.style.weight));
    ops.push(Op::SetFont { font, size: Pt(segment.style.size as f32) });
    ops.push(Op::SetTextCursor { pos: point(at) });
    ops.push(Op::ShowText { items: vec![TextItem::Text(segment.text.clone())] });
    ops.push(Op::EndTextSection);
}

fn set_fill(ink: Ink, inks: &mut Inks, ops: &mut Vec<Op>) {
    if inks.fill != ink {
        inks.fill = ink;
        ops.push(Op::SetFillColor { col: colour(ink) });
    }
}

fn set_outline(ink: Ink, inks: &mut Inks, ops: &mut Vec<Op>) {
    if inks.outline != ink {
        inks.outline = ink;
        ops.push(Op::SetOutlineColor { col: colour(ink) });
    }
}

fn colour(ink: Ink) -> Color {
    let grey = |percent: f32| Color::Greyscale(Greyscale { percent, icc_profile: None });
    match ink {
        Ink::Black => grey(0.0),
        Ink::Grey => grey(0.38),
        Ink::Rule => grey(0.62),
        Ink::Band => grey(0.87),
        Ink::White => grey(1.0),
        Ink::Step(value) => grey(f32::from(value) / 255.0),
        Ink::Accent => {
            Color::Rgb(Rgb { r: 31.0 / 255.0, g: 78.0 / 255.0, b: 95.0 / 255.0, icc_profile: None })
        }
    }
}

/// From the sheet's upper left corner to PDF's lower left one, in hundredths of a point.
fn point(spot: Spot) -> Point {
    Point { x: Pt(hundredths(spot.x)), y: Pt(hundredths(PAGE_HEIGHT - spot.y)) }
}

fn hundredths(value: f64) -> f32 {
    ((value * 100.0).round() / 100.0) as f32
}

fn line_point(spot: Spot, bezier: bool) -> LinePoint {
    LinePoint { p: point(spot), bezier }
}

fn polygon(points: Vec<LinePoint>, mode: PaintMode) -> Op {
    let rings = vec![PolygonRing { points }];
    Op::DrawPolygon { polygon: Polygon { rings, mode, winding_order: WindingOrder::NonZero } }
}

/// Four Bézier quarters; the control length is the usual 4/3 (√2 − 1) of the radius.
fn circle(centre: Spot, radius: f64) -> Vec<LinePoint> {
    let control = radius * 4.0 / 3.0 * (std::f64::consts::SQRT_2 - 1.0);
    let at = |x: f64, y: f64, bezier: bool| line_point(Spot { x: centre.x + x, y: centre.y + y }, bezier);
    vec![
        at(radius, 0.0, false),
        at(radius, control, true),
        at(control, radius, true),
        at(0.0, radius, false),
        at(-control, radius, true),
        at(-radius, control, true),
        at(-radius, 0.0, false),
        at(-radius, -control, true),
        at(-control, -radius, true),
        at(0.0, -radius, false),
        at(control, -radius, true),
        at(radius, -control, true),
        at(radius, 0.0, false),
    ]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::page::{COLUMN, Pages};
    use crate::paragraph::{Span, Style};
    use crate::strip::{heading, paragraph};

    fn info() -> FileInfo {
        FileInfo {
            title: "Transmission fluid service (HL-26-0042)".to_owned(),
            author: "Harbour Lane Transmissions".to_owned(),
            producer: "standpipe".to_owned(),
            language: "en".to_owned(),
            created_unix_seconds: 1_773_835_080,
        }
    }

    fn pages(text: &str) -> Vec<Page> {
        let faces = Faces::shipped().unwrap();
        let mut pages = Pages::new(1);
        pages.stack(&heading(faces, "Level", COLUMN, 8.5).unwrap());
        pages.stack(&paragraph(faces, &[Span::text(text), Span::new("x", Style::STRUCK)], COLUMN).unwrap());
        pages.finish(faces, "HL-26-0042", |x, y| Ok(format!("page {x} of {y}"))).unwrap()
    }

    fn written(text: &str) -> Vec<u8> {
        write(Faces::shipped().unwrap(), &pages(text), &[], &info()).unwrap()
    }

    #[test]
    fn the_same_pages_give_the_same_bytes_and_others_another_identifier() {
        let identifier = |bytes: &[u8]| {
            let file = lopdf::Document::load_mem(bytes).unwrap();
            file.trailer.get(b"ID").unwrap().as_array().unwrap()[0].as_str().unwrap().to_vec()
        };
        let first = written("43 °C");
        assert_eq!(first, written("43 °C"));
        assert_ne!(identifier(&first), identifier(&written("44 °C")));
    }

    #[test]
    fn the_file_says_version_language_title_and_date_and_claims_no_other_standard() {
        let bytes = written("43 °C");
        assert!(bytes.starts_with(b"%PDF-1.7"));
        let file = lopdf::Document::load_mem(&bytes).unwrap();
        assert_eq!(file.catalog().unwrap().get(b"Lang").unwrap().as_str().unwrap(), b"en");
        let described = file.trailer.get(b"Info").unwrap().as_reference().unwrap();
        let described = file.get_dictionary(described).unwrap();
        assert!(!described.has(b"GTS_PDFXVersion"));
        assert_eq!(described.get(b"CreationDate").unwrap().as_str().unwrap(), b"D:20260318115800Z");
    }

    #[test]
    fn dates_agree_with_published_pairs() {
        // POSIX.1-2017, 4.16: the epoch; RFC 3339, 5.8: 1985-04-12T23:20:50Z and 1990-12-31T23:59:59Z, whose
        // seconds since the epoch (482196050, 662687999) are counted by GNU date.
        assert_eq!(pdf_date(0), "D:19700101000000Z");
        assert_eq!(pdf_date(482_196_050), "D:19850412232050Z");
        assert_eq!(pdf_date(662_687_999), "D:19901231235959Z");
        assert_eq!(pdf_date(1_709_164_800), "D:20240229000000Z");
    }

    #[test]
    fn both_faces_are_embedded_as_named_subsets() {
        let file = lopdf::Document::load_mem(&written("43 °C")).unwrap();
        let page = file.get_pages()[&1];
        let fonts = file.get_page_fonts(page).unwrap();
        let mut names: Vec<String> = fonts
            .values()
            .map(|font| {
                String::from_utf8(font.get(b"BaseFont").unwrap().as_name().unwrap().to_vec()).unwrap()
            })
            .map(|name| name.split_once('+').unwrap().1.to_owned())
            .collect();
        names.sort();
        assert_eq!(names, ["Lato-Bold", "Lato-Regular"]);
    }
}
