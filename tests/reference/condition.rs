//! Published values through a whole job: what a laboratory's letter says comes out in the condition of the fluid as the
//! standards print it.

use prost::Message as _;
use serde_json::Value;
use standpipe_engine::catalogue::Revision;
use standpipe_engine::job::{Context, Recorded, view};
use standpipe_engine::site::SiteFacts;
use standpipe_engine::text::{Language, render};
use standpipe_engine::view::{ConditionLine, JobView};
use standpipe_proto::v1::{self, fact::Kind, header::Subject};

use super::{Table, near, number, text};

const JOB: &str = "01890a5d-ac96-774b-bcce-ffffffffffff";
const BEFORE: i32 = v1::SampleTime::Before as i32;
const FRESH: i32 = v1::SampleTime::Fresh as i32;

/// A job that holds these letters and nothing else.
fn job(letters: &[v1::FluidSample]) -> JobView {
    let entry = |(number, letter): (i64, &v1::FluidSample)| {
        let entry = v1::Entry {
            header: Some(v1::Header {
                entry_id: format!("01890a5d-ac96-774b-bcce-{number:012x}"),
                subject: Some(Subject::JobId(JOB.into())),
                station_id: "office".into(),
                station_epoch: "0".repeat(32),
                station_number: number,
                person_code: "B".into(),
                station_time: Some(prost_types::Timestamp { seconds: 1_773_820_800 + number, nanos: 0 }),
                boot_id: "0".repeat(32),
                ..v1::Header::default()
            }),
            fact: Some(v1::Fact {
                kind: Some(Kind::FluidSample(v1::FluidSample {
                    laboratory_report: "L-77".into(),
                    ..letter.clone()
                })),
            }),
        };
        standpipe_proto::check::entry(&entry).expect("inside the bounds");
        entry.encode_to_vec()
    };
    let entries: Vec<Vec<u8>> = (1..).zip(letters).map(entry).collect();
    let recorded: Vec<Recorded<'_>> = (1..)
        .zip(&entries)
        .map(|(seq, bytes)| Recorded { seq, received_us: 1_773_820_900_000_000, leaf_hash: [7; 32], bytes })
        .collect();
    let settings = b"name = \"Harbour Lane Transmissions\"\n".to_vec();
    let revision = Revision::parse(vec![("workshop.toml".to_owned(), settings)]).expect("settings");
    let context = Context {
        revision: &revision,
        adopted_at: 0,
        revision_id: "",
        job_id: JOB,
        number: "HL-26-0042",
        site_name: "Harbour Lane",
        names: &[],
        persons: true,
        earlier: &[],
        extracts: standpipe_engine::photo::Extracts::none(),
        site: &SiteFacts::default(),
        site_up_to: 0,
        newer: None,
        as_of_us: 1_773_820_900_000_000,
    };
    view(&context, &recorded)
}

fn line<'a>(view: &'a JobView, kind: &str) -> &'a ConditionLine {
    view.condition[0].lines.iter().find(|line| line.kind == kind).expect("a line")
}

fn value(line: &ConditionLine, name: &str) -> f64 {
    line.values.iter().find(|value| value.name == name).unwrap_or_else(|| panic!("no {name}")).value
}

fn seen(line: &ConditionLine) -> String {
    render(Language::English, &line.seen).expect("words").replace(['\u{a0}', '\u{202f}'], " ")
}

#[test]
fn codes_of_counts_come_out_of_a_job_as_the_table_has_them_and_beside_their_counts() {
    let table = Table::read("iso4406_codes");
    let triples: Vec<&Value> = table.cases().iter().filter(|row| row["kind"] == "triple").collect();
    assert_eq!(triples.len(), 5);
    for row in triples {
        let count = |at: usize| row["per_ml"][at].as_f64();
        let view = job(&[v1::FluidSample {
            moment: BEFORE,
            particles_4_per_millilitre: count(0),
            particles_6_per_millilitre: count(1),
            particles_14_per_millilitre: count(2),
            ..Default::default()
        }]);
        let line = line(&view, "particles");
        let said = seen(line);
        assert!(said.contains(&format!("code {} (ISO 4406)", text(row, "text"))), "{}: {said}", row["id"]);
        for (at, name) in ["particles_4", "particles_6", "particles_14"].into_iter().enumerate() {
            near(row, name, value(line, name), count(at).expect("a count"), 0.0);
        }
        // The customer's page says neither code nor count.
        let advice =
            render(Language::English, view.condition_advice.as_ref().expect("advice")).expect("words");
        assert!(!advice.contains(|letter: char| letter.is_ascii_digit()), "{advice}");
    }
}

#[test]
fn viscosity_indices_of_the_worked_examples_come_out_of_a_job() {
    let table = Table::read("d2270_vi");
    let mut compared = 0;
    for row in table.cases().iter().filter(|row| row["kind"] == "published_worked") {
        let letter = |moment| v1::FluidSample {
            moment,
            viscosity_40_square_millimetres_per_second: Some(number(row, "v40")),
            viscosity_100_square_millimetres_per_second: Some(number(row, "v100")),
            ..Default::default()
        };
        let view = job(&[letter(FRESH), letter(BEFORE)]);
        let line = line(&view, "viscosity");
        near(row, "index", value(line, "viscosity_index"), number(row, "VI_rounded"), 0.0);
        near(row, "change", value(line, "viscosity_change"), 0.0, 0.0);
        assert!(seen(line).contains("no more than the figures’ own uncertainty"), "{}", seen(line));
        compared += 1;
    }
    assert_eq!(compared, 3);
}

#[test]
fn a_viscosity_at_another_temperature_is_compared_on_the_line_of_the_worked_sheet() {
    let table = Table::read("d341_walther");
    let row = table.cases().iter().find(|row| row["kind"] == "published_worked").expect("the worked sheet");
    let fresh = v1::FluidSample {
        moment: FRESH,
        viscosity_40_square_millimetres_per_second: Some(number(row, "v1")),
        viscosity_100_square_millimetres_per_second: Some(number(row, "v2")),
        ..Default::default()
    };
    let used = v1::FluidSample {
        moment: BEFORE,
        viscosity_square_millimetres_per_second: Some(number(row, "v")),
        viscosity_temperature_celsius: Some(number(row, "t")),
        ..Default::default()
    };
    let view = job(&[fresh, used]);
    let line = line(&view, "viscosity");
    // The sheet prints 8.5 mm²/s at 80 °C; half its last digit is the tolerance, the 0.15 K of its zero lies within.
    near(row, "fresh fluid", value(line, "viscosity_fresh"), number(row, "v"), number(row, "tol_v"));
    assert!(seen(line).contains("the fresh fluid brought to it by ASTM D341"), "{}", seen(line));
}
