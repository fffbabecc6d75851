//! Looks by a photo on the reference sheet: read, not arrived, erased, of no use.

use super::exchange::{exchange, findings, plain};
use super::*;
use crate::photo::sheet::Layout;
use crate::photo::tests::scene::{Scene, Trouble};
use crate::photo::{Extracts, Known, extract};
use crate::view::LookMeans;

const DIGEST: &str = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad";

/// A reading at so many litres with a photo.
fn with_photo(litres: f64) -> Kind {
    let photo_digest = DIGEST.to_owned();
    Kind::ExchangeReading(v1::ExchangeReading {
        volume_in_litres: litres,
        photo_digest,
        ..Default::default()
    })
}

/// A job with one photo, of which this is known.
fn job(known: Option<Known>) -> Journal {
    let mut journal = super::exchange::looked(&[]);
    journal.add(with_photo(4.8));
    journal.extracts = known.into_iter().map(|known| (DIGEST.to_owned(), known)).collect();
    journal
}

fn there(scene: &Scene) -> Option<Known> {
    Some(Known::There(extract(&scene.jpeg())))
}

#[test]
fn a_photo_gives_a_look_with_its_range_and_is_named_as_what_it_is() {
    let scene = Scene { new_share: 0.5, size: (1_024, 768), ..Scene::drawn(Layout::Bottles, 41) };
    let view = exchange(&job(there(&scene)));
    let [look] = view.looks.as_slice() else { panic!("one look") };
    assert_eq!(look.means, LookMeans::Photo);
    assert!((look.glass_new_share - 0.5).abs() < 2.5 * look.standard_uncertainty, "{look:?}");
    assert!(look.standard_uncertainty < 0.06);
    let told = plain(&view.remarks);
    assert!(
        told.contains("Photo at 4.8 L: ") && told.contains("of 100 parts new in the glass (from "),
        "{told}"
    );
    assert!(plain(&job(there(&scene)).view().now).contains("Photo at 4.8 L: "), "the bay hears of it");
}

#[test]
fn a_photo_of_the_fluids_says_below_it_what_was_read_from_it_or_why_nothing_was() {
    let photo = Kind::Photo(v1::Photo {
        blob_digest: DIGEST.to_owned(),
        subject: v1::PhotoSubject::Comparison.into(),
    });
    let scene = Scene { new_share: 0.5, size: (1_024, 768), ..Scene::drawn(Layout::Bottles, 41) };
    let no_sheet = Some(Known::There(extract(b"no picture")));
    for (known, begins, has) in [
        (there(&scene), "fluid before, now and fresh on the reference sheet, at 4.8 L: ", "of 100 parts new"),
        (no_sheet, "fluid before, now and fresh, at 4.8 L; no share was read from it: ", "no whole JPEG"),
        (Some(Known::Erased), "fluid before, now and fresh, at 4.8 L; no share", "it was erased"),
    ] {
        let mut journal = job(known);
        journal.add(photo.clone());
        let caption = plain(std::slice::from_ref(&journal.view().photos[0].caption));
        assert!(caption.starts_with(begins) && caption.contains(has), "{caption}");
    }
    let mut unused = super::exchange::looked(&[]);
    unused.add(photo);
    let caption = plain(std::slice::from_ref(&unused.view().photos[0].caption));
    assert_eq!(caption, "fluid before, now and fresh; no reading was taken from it");
}

#[test]
fn a_photo_that_gives_nothing_is_told_with_its_reason_and_the_litres_count_alone() {
    let glare =
        Scene { trouble: Some(Trouble::Glare), size: (1_024, 768), ..Scene::drawn(Layout::Bottles, 42) };
    for (known, reason) in [
        (None, "it has not arrived yet"),
        (Some(Known::Erased), "it was erased"),
        (Some(Known::There(extract(b"no picture"))), "no whole JPEG or PNG"),
        (there(&glare), "light is mirrored in the bottle or tube with the fluid of now"),
    ] {
        let journal = job(known);
        let told = findings(&journal);
        assert!(told.contains("The photo at 4.8 L gives no share") && told.contains(reason), "{told}");
        let view = exchange(&journal);
        assert!(view.looks.is_empty() && view.share_after_exchange.is_some(), "the litres count");
        assert!(!plain(&view.remarks).contains("in the glass"));
        assert!(plain(&journal.view().now).contains(reason), "the bay reads it at once");
    }
}

#[test]
fn a_comparison_tube_counts_where_the_photo_gives_nothing() {
    let mut journal = job(None);
    journal.extracts = Extracts::default();
    let Kind::ExchangeReading(reading) = with_photo(8.0) else { panic!("a reading") };
    journal.add(Kind::ExchangeReading(v1::ExchangeReading { tube_percent: Some(75), ..reading }));
    let view = exchange(&journal);
    assert_eq!(view.looks.iter().map(|look| look.means).collect::<Vec<_>>(), [LookMeans::Tube]);
}
