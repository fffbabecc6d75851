//! An invented job in the words of the record's own sentences: enough to lay out every section.

use standpipe_engine::quantity::Estimate;
use standpipe_engine::text::{Sentence, sentence};
use standpipe_engine::view::{
    BalanceRow, BalanceView, BeforeAfterRow, Change, CurvePoint, DoneRow, ExchangeView, Finding, Head,
    JobView, LevelAttempt, LevelView, Look, LookMeans, NextDueView, OpenPoint, Progress, Provenance, Vehicle,
    Weight,
};

/// Any words as a sentence. The views of real jobs are laid out in the engine's own tests and the demo.
pub(super) fn said(words: &str) -> Sentence {
    sentence::person_name(words)
}

fn all(words: &[&str]) -> Vec<Sentence> {
    words.iter().map(|words| said(words)).collect()
}

/// A job of which nothing was measured.
pub(super) fn empty() -> JobView {
    JobView {
        head: Head { number: "HL-26-0043".to_owned(), date: "18 March 2026".to_owned(), ..Head::default() },
        vehicle: Vehicle::default(),
        in_short: Vec::new(),
        please_note: Vec::new(),
        before_and_after: Vec::new(),
        done: Vec::new(),
        identity: Vec::new(),
        exchange: None,
        balance: None,
        level: LevelView::default(),
        tightening: Vec::new(),
        waste: Vec::new(),
        history: Vec::new(),
        acknowledged: Vec::new(),
        photos: Vec::new(),
        remarks: Vec::new(),
        skipped: Vec::new(),
        to_sign: Vec::new(),
        decisions: Vec::new(),
        now: Vec::new(),
        condition: Vec::new(),
        condition_advice: None,
        next_due: NextDueView::default(),
        not_measured: all(&["Nothing was measured."]),
        changes: Vec::new(),
        findings: Vec::new(),
        open_points: vec![OpenPoint { gate: "exchange", text: said("settle the variant") }],
        figures: Vec::new(),
        story: Vec::new(),
        cautions: Vec::new(),
        provenance: provenance(),
    }
}

/// A normal job with every section in use.
pub(super) fn normal() -> JobView {
    JobView {
        head: head(),
        vehicle: vehicle(),
        in_short: vec![
            said("You asked for a fluid service because the change into second is harsh when cold."),
            said("We found dark fluid with a burnt smell and fine grey paste in the pan, no metal."),
            said("We exchanged 9.4\u{a0}L, changed filter and seal, and refilled what ran out."),
            sentence::short_share("92", "76", "84"),
            said("The level was set at 43\u{a0}°C; allowed are 40 to 50\u{a0}°C."),
        ],
        please_note: all(&[
            "Look under the parked car for drops after about 100\u{a0}km, and call us if you see any.",
            "This service does not repair worn parts. If changes become harsh, or a warning lamp comes on, stop \
             safely and call us.",
            "The vehicle maker’s instructions, local rules and licensed practice come first; where they differ \
             from this record, they win.",
        ]),
        before_and_after: vec![
            row("Fluid colour", Some("brown, darker than fresh"), Some("close to fresh")),
            row("Smell", Some("burnt"), None),
            row("Drive, in words", Some("harsh into second, cold"), Some("“no bang into second any more”")),
        ],
        done: vec![
            done("Fluid Linden", Some("lot L-2209, L-2210"), "13.0\u{a0}L"),
            done("Filter and pan seal", Some("kit A8-II"), "new"),
        ],
        identity: all(&[
            "VIN read twice (papers: office B; body plate, last 8: technician A), equal.",
            "Variant by rule Alder-8, second series, serial from 0038000, and transmission plate seen.",
        ]),
        exchange: Some(exchange(9.4)),
        balance: Some(balance()),
        level: level(),
        not_measured: all(&["Fuel consumption: not measured.", "Particles: no laboratory report."]),
        changes: vec![Change {
            was: said("3.30\u{a0}kg"),
            now: Some(said("3.05\u{a0}kg drained")),
            why: said("scale had the tray on it (technician A, 18 March, 12:10)"),
        }],
        findings: vec![Finding {
            text: said("The first container held Bramble, which this transmission must never get."),
            weight: Weight::Stops,
            seqs: vec![4],
            on_record: true,
            stands: false,
        }],
        cautions: all(&["Fluid of 50\u{a0}°C and more burns: gloves, sleeves and a face shield."]),
        ..empty()
    }
}

fn head() -> Head {
    Head {
        workshop: "Harbour Lane Transmissions".to_owned(),
        address: vec!["12 Harbour Lane".to_owned()],
        telephone: "0555 0142".to_owned(),
        number: "HL-26-0042".to_owned(),
        date: "18 March 2026".to_owned(),
        persons: all(&["technician A", "office B"]),
        closed: true,
        ..Head::default()
    }
}

fn vehicle() -> Vehicle {
    Vehicle {
        name: "Tarnwick Marl".to_owned(),
        plate: "PH 482 K".to_owned(),
        vin: Some("AZTWA8M47LA042317".to_owned()),
        variant: Some("Alder-8, second series".to_owned()),
        distance_in: Some("118\u{202f}240\u{a0}km".to_owned()),
        distance_out: Some("118\u{202f}254\u{a0}km".to_owned()),
    }
}

fn row(label: &str, before: Option<&str>, after: Option<&str>) -> BeforeAfterRow {
    BeforeAfterRow { label: said(label), before: before.map(said), after: after.map(said) }
}

/// One line of what was fitted.
pub(super) fn done(what: &str, detail: Option<&str>, amount: &str) -> DoneRow {
    DoneRow { what: said(what), detail: detail.map(said), amount: Some(said(amount)) }
}

/// An exchange of so many litres with four looks.
pub(super) fn exchange(litres_in: f64) -> ExchangeView {
    let curve = (0..=20).map(|step| {
        let litres = litres_in * f64::from(step) / 20.0;
        let share = 0.95 * (1.0 - (-litres / litres_in * 1.75).exp());
        let half = 0.1 * share;
        CurvePoint { litres, least: share - half, share, greatest: share + half }
    });
    let looks = [(0.25, 0.42), (0.5, 0.64), (0.75, 0.78), (1.0, 0.86)].map(|(at, glass)| Look {
        litres: litres_in * at,
        glass_new_share: glass,
        standard_uncertainty: 0.07,
        means: LookMeans::Tube,
        at_most: false,
    });
    ExchangeView {
        litres_in,
        looks: looks.to_vec(),
        curve: curve.collect(),
        share_after_exchange: Some(Estimate::known(0.78, 0.041)),
        share_after_pan: Some(Estimate::known(0.84, 0.04)),
        remarks: vec![
            sentence::exchange_means(4),
            sentence::exchange_share("86", "70", "78"),
            sentence::exchange_share_after_pan("92", "76", "84"),
            said("Litre display last checked 2 March 2026."),
        ],
        advice: Vec::new(),
        progress: Progress::default(),
    }
}

fn balance() -> BalanceView {
    let row =
        |label: &str, value: f64| BalanceRow { label: said(label), litres: Estimate::known(value, 0.1) };
    BalanceView {
        went_in: vec![row("pushed in", 9.4), row("refilled after the pan", 3.62), row("added", 0.45)],
        came_out: vec![
            row("came out in the exchange", 9.3),
            row("drained from the pan (3.05\u{a0}kg)", 3.6),
            row("overflow caught", 0.12),
            row("carried out with parts", 0.25),
        ],
        total_in: Estimate::known(13.47, 0.2),
        total_out: Estimate::known(13.27, 0.2),
        difference: Some(Estimate::known(0.2, 0.28)),
        remarks: all(&["The difference of 0.20\u{a0}L is within the uncertainty of the readings."]),
        arrived: None,
        unexplained: None,
        normalised_difference: Some(0.36),
    }
}

fn level() -> LevelView {
    let attempt = |clock: &str, text: &str, valid: bool| LevelAttempt {
        clock: clock.to_owned(),
        text: said(text),
        in_short: said(text),
        valid,
    };
    LevelView {
        window_celsius: Some((40.0, 50.0)),
        attempts: vec![
            attempt("11:32", "61\u{a0}°C, too hot, not valid", false),
            attempt("11:58", "43\u{a0}°C (scan tool), engine idling, selector in P, level car: drops", true),
        ],
        remarks: all(&["Window 40 to 50\u{a0}°C, overflow at the standpipe."]),
        ..LevelView::default()
    }
}

fn provenance() -> Provenance {
    Provenance {
        entries: 31,
        last_seq: 57,
        digest: [0x9c; 32],
        check_value: "9c1e 44b0 7a2d e8f3".to_owned(),
        catalogue_revision: "3f6a91c0".repeat(8),
        engine_version: "0.1.0",
        as_of_us: 1_773_835_080_000_000,
    }
}
