//! An invented whole job with every part of the record in use, in the engine's own sentences where it has
//! them, and what stands beside it.

use standpipe_engine::caution;
use standpipe_engine::text::{Sentence, sentence};
use standpipe_engine::view::{BeforeAfterRow, DoneRow, Head, JobView, PhotoView, RemarkView, StoryLine};

use super::invented_job::{empty, normal, said};
use crate::section::safety::GROUPS;
use crate::{EntryTimes, Options, Photo, Remark, SheetInput};

/// A JPEG of 96 by 72 pixels, drawn for this test.
pub(super) const JPEG: &[u8] = include_bytes!("photo.jpg");

pub(super) fn digest(number: u64) -> String {
    format!("{number:02x}").repeat(32)
}

/// All kinds, 13 of 13 screws new, four photos.
pub(super) fn whole() -> JobView {
    let words = |text: &str| said(text);
    let mut view = normal();
    view.please_note
        .insert(0, sentence::note_declined("18 March 2026", sentence::customer_topic("cooler-cleaning")));
    view.before_and_after = vec![
        row(sentence::row_codes(), Some("P0730"), Some("none; adaptation done")),
        row(sentence::row_colour(), Some("brown, darker than fresh"), Some("close to fresh")),
        row(sentence::row_clouding(), Some("clear"), Some("clear")),
        row(sentence::row_smell(), Some("burnt"), Some("as fresh")),
        row(sentence::row_pan(), Some("fine grey paste"), None),
        row(sentence::row_drive(), Some("harsh, into gear 2, cold"), Some("changes as they should be, warm")),
    ];
    view.done = vec![
        done("Fluid Linden", Some("lot L-2209, L-2210"), Some("13.0\u{a0}L")),
        done("New filter, code compared", Some("F-8842"), None),
        done("All of the kit", Some("kit A8-II, lot K-31"), Some("new")),
        DoneRow {
            what: sentence::screw_group("pan"),
            detail: Some(words("9.0\u{a0}N·m, order kept, tool T-07")),
            amount: Some(sentence::screws_new("13", "13")),
        },
        done("Magnets", None, Some("new")),
        done("Level plug", Some("22\u{a0}N·m, tool T-02"), Some("seal new, plug new")),
    ];
    view.identity = vec![
        words("VIN read twice, in the papers and on the body; the last eight characters are equal."),
        words("Variant by the catalogue’s rule for this VIN: Alder-8, second series."),
        words("The plate on the transmission agrees."),
        words("Catalogue line from Tarnwick parts data, edition 2025-11."),
        words("Code LN-75 on the fluid container agrees."),
        words("Code F-8842 on the new filter agrees."),
        words("Code SP-48 on the standpipe as seen agrees."),
        words("Code F-8841 on the old filter as seen agrees."),
    ];
    view.findings.clear();
    view.tightening = vec![
        words("Pan screws: 13 of 13 new, 9.0\u{a0}N·m, order kept, tool T-07."),
        words("Level plug closed: seal new, plug new, 22\u{a0}N·m, tool T-02."),
    ];
    view.waste = vec![
        words("Used fluid: 13.1\u{a0}L, container W-2."),
        words("Filters: one piece, container W-3."),
        words("Cloths and absorbents: 2 pieces, container W-4."),
    ];
    let read = |group: &str| {
        sentence::listed_acknowledged(sentence::caution_group(group.to_owned()), vec![words("technician A")])
    };
    view.acknowledged = GROUPS.iter().map(|group| read(group.word())).collect();
    view.cautions = vec![caution::text(GROUPS[0])];
    view.cautions.extend(caution::at_fluid(None));
    view.cautions.extend(
        GROUPS
            .iter()
            .filter(|group| !matches!(group.word(), "lifted" | "pan-and-hot"))
            .map(|group| caution::text(*group)),
    );
    view.cautions.extend([sentence::caution_drained(), sentence::caution_drive()]);
    put_beside(&mut view);
    view.story = (1..=31).map(story).collect();
    view
}

/// What stands beside the journal, what was left out and what was decided.
fn put_beside(view: &mut JobView) {
    view.photos = ["sample-before", "sample-after", "magnets", "transmission-plate"]
        .into_iter()
        .zip(1..)
        .map(|(subject, number)| photo(subject, number))
        .collect();
    view.remarks = ["complaint", "order", "drive-before", "drive-after", "other"]
        .into_iter()
        .zip(11..)
        .map(|(subject, number)| RemarkView {
            digest: digest(number),
            subject: sentence::remark_subject(subject.to_owned()),
        })
        .collect();
    view.skipped = vec![sentence::listed_skipped(
        said("technician A"),
        sentence::skip_reason("tool-missing"),
        said("Old fluid in the equipment"),
    )];
    view.decisions = vec![said(
        "P0730 stored: change first, read again after 100\u{a0}km (decided by technician A, 18 March, 09:40)",
    )];
}

fn row(label: Sentence, before: Option<&str>, after: Option<&str>) -> BeforeAfterRow {
    BeforeAfterRow { label, before: before.map(said), after: after.map(said) }
}

fn done(what: &str, detail: Option<&str>, amount: Option<&str>) -> DoneRow {
    DoneRow { what: said(what), detail: detail.map(said), amount: amount.map(said) }
}

pub(super) fn photo(subject: &str, number: u64) -> PhotoView {
    PhotoView { digest: digest(number), caption: sentence::photo_subject(subject.to_owned()) }
}

fn story(seq: u64) -> StoryLine {
    let minutes = i64::try_from(seq).unwrap() * 6;
    StoryLine {
        seq,
        entry_id: format!("01890a5d-ac96-774b-bcce-{seq:012x}"),
        time_us: (1_773_820_800 + minutes * 60) * 1_000_000,
        person: "A".to_owned(),
        kind: "drain",
        text: said(&format!("Entry {seq}: 3.30\u{a0}kg from the pan; on pan and magnets: fine grey paste.")),
        changed: (seq == 12).then(|| {
            said("3.05\u{a0}kg from the pan. Scale had the tray on it (technician A, 18 March, 12:10)")
        }),
        late: seq == 20,
    }
}

/// What stands beside the whole job: customer, words of which one was erased, three of the four photos.
pub(super) fn beside() -> Options {
    let remark = |number: u64, words: &str| Remark { digest: digest(number), words: Some(words.to_owned()) };
    Options {
        edition: Some(1),
        customer: Some("Mr J. Example".to_owned()),
        remarks: vec![
            remark(11, "it bangs into second on cold mornings, since autumn"),
            Remark { digest: digest(12), words: None },
            remark(13, "bang into 2nd, twice"),
            remark(14, "no bang into second any more"),
            remark(15, "cooler line is worn at the bracket"),
        ],
        photos: (1..=3).map(|number| Photo { digest: digest(number), jpeg: Some(JPEG.to_vec()) }).collect(),
        times: (1..=30)
            .map(|seq| EntryTimes {
                seq,
                done: format!("18 March 2026, 09:{seq:02}"),
                entered: format!("18 March 2026, 10:{seq:02}"),
            })
            .collect(),
        ..Options::default()
    }
}

/// A job that was stopped before any fluid was exchanged.
pub(super) fn stopped() -> JobView {
    let whole = whole();
    JobView {
        head: Head { no_exchange_done: true, closed: true, ..whole.head },
        vehicle: whole.vehicle,
        in_short: vec![
            sentence::short_asked_plain(),
            sentence::short_no_exchange(),
            said("We found the fluid black, burnt; with flakes or chips."),
        ],
        please_note: whole.please_note,
        before_and_after: whole
            .before_and_after
            .into_iter()
            .take(4)
            .map(|row| BeforeAfterRow { after: None, ..row })
            .collect(),
        not_measured: vec![
            sentence::missing_exchange(),
            sentence::missing_share(),
            sentence::missing_pan(),
            sentence::missing_level(),
            sentence::missing_sample_after(),
            sentence::missing_filter(),
            sentence::missing_torque_screws(),
            sentence::missing_torque_plug(),
            sentence::missing_leak(),
            sentence::missing_fuel(),
            sentence::missing_laboratory(),
        ],
        findings: vec![standpipe_engine::view::Finding {
            text: sentence::finding_flakes_sample(),
            weight: standpipe_engine::view::Weight::Tells,
            seqs: vec![7],
            on_record: true,
            stands: false,
        }],
        open_points: Vec::new(),
        acknowledged: whole.acknowledged.into_iter().take(1).collect(),
        cautions: whole.cautions,
        photos: whole.photos.into_iter().take(1).collect(),
        remarks: whole.remarks,
        decisions: whole.decisions,
        ..empty()
    }
}

/// What the variant takes.
pub(super) fn input() -> SheetInput {
    let text = |text: &str| Some(text.to_owned());
    SheetInput {
        variant: text("A8-II, Alder-8, second series"),
        fluid: text("Linden, code LN-75"),
        filter: text("F-8842"),
        standpipe: text("SP-48, long"),
        total_fill: text("9.0\u{a0}L"),
        pan_refill: text("3.6\u{a0}L"),
        level_window: text("40 to 50\u{a0}°C"),
        dipstick: false,
        level_method: text("overflow at the standpipe; engine idling, selector in P"),
        pan_screw_count: text("13"),
        pan_screw_torque: text("9\u{a0}N·m"),
        pan_screw_order: Some(("1-7-4-10-2-8-5-11-3-9-6-12-13".to_owned(), "30, 60, 100".to_owned())),
        plug_torque: text("22\u{a0}N·m"),
    }
}
