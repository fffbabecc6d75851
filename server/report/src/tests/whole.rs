//! The whole job on paper: two pages, a stopped job on one, what stands beside the journal, the annex and
//! the bay sheet.

use super::whole_job::{JPEG, beside, digest, input, photo, stopped, whole};
use super::*;

fn all_words(pages: &[Page]) -> String {
    pages.iter().map(words).collect::<Vec<_>>().join(" ")
}

fn photos_of(pages: &[Page]) -> Vec<&Mark> {
    let marks = pages.iter().flat_map(|page| &page.marks);
    marks.filter(|mark| matches!(mark, Mark::Photo { .. })).collect()
}

fn sheet_of(view: &JobView, input: &SheetInput) -> Vec<Page> {
    let options = Options::default();
    let mut composer = Composer::new(Faces::shipped().unwrap(), Language::English);
    layout::bay_sheet(&Given::new(view, &options), input, &mut composer).unwrap()
}

#[test]
fn a_whole_job_with_four_photos_is_exactly_two_pages() {
    let pages = pages_with(&whole(), &beside());
    assert_eq!(pages.len(), 2);
    assert_inside_the_margins("whole", &pages);
    assert_nothing_lies_over_another("whole", &pages);
    let (first, second) = (words(&pages[0]), words(&pages[1]));
    for said in
        ["Mr J. Example", "P0730", "Drive (driver’s impression)", "13 of 13 new", "seal new, plug new"]
    {
        assert!(first.contains(said), "{said}: {first}");
    }
    for said in ["edition 1", "page 1 of 2"] {
        assert!(first.contains(said), "{said}");
    }
    let order = [
        "Right fluid: how we know",
        "Exchange",
        "Fluid in and out",
        "Level",
        "Tightening",
        "Not measured, not done",
        "Changed afterwards, decided by name",
        "Photos",
        "Waste and safety",
        "technician, date",
    ];
    let places: Vec<usize> = order.iter().map(|title| second.find(title).expect(title)).collect();
    assert!(places.is_sorted(), "{places:?}");
    assert!(
        second.contains("Left out: Old fluid in the equipment: tool or instrument missing (technician A).")
    );
    assert!(second.contains("One entry was typed much later"));
}

#[test]
fn a_whole_job_with_a_finding_still_is_two_pages_and_one_with_40_parts_goes_on() {
    let mut view = whole();
    view.findings = stopped().findings;
    let pages = pages_with(&view, &beside());
    assert_eq!(pages.len(), 2);
    assert_inside_the_margins("finding", &pages);
    assert_nothing_lies_over_another("finding", &pages);
    view.done = (1..=60).map(|n| done(&format!("part {n}"), None, "new")).collect();
    let pages = pages_with(&view, &beside());
    assert!(pages.len() > 2 && all_words(&pages).contains("part 60"));
    assert_nothing_lies_over_another("many parts", &pages);
}

#[test]
fn no_letter_of_a_whole_job_is_smaller_than_7_points() {
    for page in pages_with(&whole(), &beside()) {
        for mark in &page.marks {
            if let Mark::Words { segment, .. } = mark {
                assert!(segment.style.size >= 7.0 - 1e-9, "{}", segment.text);
            }
        }
    }
}

#[test]
fn a_job_that_fits_as_it_is_keeps_the_usual_size_of_letters() {
    let sizes: Vec<f64> = pages_of(&empty())
        .iter()
        .flat_map(|page| &page.marks)
        .filter_map(|mark| match mark {
            Mark::Words { segment, .. } => Some(segment.style.size),
            _ => None,
        })
        .collect();
    assert!(sizes.contains(&Style::TEXT.size));
}

#[test]
fn a_stopped_job_has_a_short_record_of_one_page_that_says_so() {
    let pages = pages_with(&stopped(), &beside());
    assert_eq!(pages.len(), 1);
    let all = words(&pages[0]);
    for said in ["Short record: no exchange was done", "Decided by name", "technician, date", "page 1 of 1"] {
        assert!(all.contains(said), "{said}: {all}");
    }
    assert!(!all.contains("Details of the work"));
}

#[test]
fn a_stopped_job_keeps_figures_of_laboratory_and_photo_behind_its_first_page() {
    use standpipe_engine::view::{ConditionLine, ConditionView, Finding, Weight};
    let text = |text: &str| sentence::condition_limit(text);
    let line = |seen: &str, measured| ConditionLine {
        kind: "acid_number",
        seen: text(seen),
        speaks_for: text("says nothing"),
        why: text("no limit is stated"),
        text: text(seen),
        values: Vec::new(),
        seqs: vec![3],
        measured,
    };
    let mut view = stopped();
    view.condition = vec![ConditionView {
        moment: sentence::condition_moment("before"),
        lines: vec![line("Smell: burnt", false), line("Acid number: 3.6 mg KOH/g", true)],
        conclusion: sentence::condition_by_rule("change"),
        rule: 2,
    }];
    let letter = sentence::letter(vec![sentence::letter_acid("3.6 mg KOH/g")], "L-77");
    let sample = sentence::fluid_sample(sentence::sample_time("before"), vec![letter]);
    view.findings.push(Finding {
        text: sentence::stated_after_closing(sample),
        weight: Weight::Tells,
        seqs: vec![3],
        on_record: true,
        stands: false,
    });
    let pages = pages_with(&view, &beside());
    assert_eq!(pages.len(), 2);
    assert_inside_the_margins("stopped with a letter", &pages);
    let (first, second) = (words(&pages[0]), words(&pages[1]));
    for said in ["Smell: burnt", "This speaks for changing it (rule 2", "technician, date", "page 1 of 2"] {
        assert!(first.contains(said), "{said}: {first}");
    }
    assert!(!first.contains("KOH") && !first.contains("L-77"), "{first}");
    assert!(second.contains("Acid number: 3.6 mg KOH/g") && second.contains("L-77"), "{second}");
    assert!(!second.contains("Smell: burnt"), "{second}");
}

#[test]
fn words_stand_where_they_belong_and_erased_or_missing_ones_are_said() {
    let view = whole();
    let first = words(&pages_with(&view, &beside())[0]);
    for said in [
        "In your words: “it bangs into second on cold mornings, since autumn”",
        "Ordered: words erased",
        "harsh, into gear 2, cold, “bang into",
        "bang into second any more”",
    ] {
        assert!(first.contains(said), "{said}: {first}");
    }
    let bare = pages_with(&view, &Options::default());
    assert!(words(&bare[0]).contains("In your words: words not yet arrived"));
    assert!(words(&bare[1]).contains("About another subject: words not yet arrived"));
    let unsaid = whole_job::photo("other", 1);
    assert_eq!(unsaid.digest, digest(1));
}

#[test]
fn a_group_that_was_read_is_one_line_and_every_other_caution_stands_in_full() {
    let mut view = whole();
    let all = all_words(&pages_of(&view));
    for group in
        ["vehicle lifted", "opening a line", "engine running", "pan and hot fluid", "gears and level"]
    {
        assert!(all.contains(&format!("{group}: read by technician A")), "{group}");
    }
    assert!(!all.contains("hot exhaust beside the plug") && all.contains("do not drive, do not tow"));
    view.acknowledged.pop();
    assert!(all_words(&pages_of(&view)).contains("hot exhaust beside the plug"));
}

#[test]
fn photos_keep_their_proportions_and_a_missing_one_is_an_empty_frame() {
    let pages = pages_with(&whole(), &beside());
    let photos = photos_of(&pages);
    assert_eq!(photos.len(), 3);
    for mark in photos {
        let Mark::Photo { width, height, .. } = mark else { unreachable!() };
        assert!((width / height - 96.0 / 72.0).abs() < 1e-6, "{width} by {height}");
    }
    assert_eq!(words(&pages[1]).matches("not yet arrived").count(), 1);
    let mut other = beside();
    other.photos[0].jpeg = None;
    other.photos[1].jpeg = Some(b"no picture".to_vec());
    let frames = words(&pages_with(&whole(), &other)[1]);
    for why in ["erased", "cannot be shown", "not yet arrived"] {
        assert_eq!(frames.matches(why).count(), 1, "{why}: {frames}");
    }
    let mut many = whole();
    many.photos.extend((5..8).map(|number| photo("other", number)));
    let all = all_words(&pages_with(&many, &beside()));
    assert!(all.contains("3 more photos were taken"), "{all}");
}

#[test]
fn a_photo_is_embedded_byte_for_byte_once_however_often_it_is_drawn() {
    let pdf = render(&whole(), &beside()).unwrap().pdf;
    let file = lopdf::Document::load_mem(&pdf).unwrap();
    let images: Vec<&lopdf::Stream> = file
        .objects
        .values()
        .filter_map(|object| object.as_stream().ok())
        .filter(|stream| stream.dict.get(b"Subtype").and_then(|s| s.as_name()).is_ok_and(|s| s == b"Image"))
        .collect();
    assert_eq!(images.len(), 3);
    for image in images {
        assert_eq!(image.content, JPEG);
        assert_eq!(image.dict.get(b"Filter").unwrap().as_name().unwrap(), b"DCTDecode");
        assert_eq!(image.dict.get(b"Width").unwrap().as_i64().unwrap(), 96);
    }
}

#[test]
fn a_file_that_is_no_photo_leaves_an_empty_frame_and_a_warning() {
    let mut options = beside();
    options.photos[0].jpeg = Some(b"%PDF-1.7 endstream".to_vec());
    let rendered = render(&whole(), &options).unwrap();
    assert_eq!(rendered.warnings, ["the photo 01010101 cannot be shown; its frame is empty"]);
    assert_eq!(photos_of(&pages_with(&whole(), &options)).len(), 2);
}

#[test]
fn the_annex_names_every_entry_with_both_times_and_every_photo_by_digest() {
    let options = Options { annex: true, ..beside() };
    let pages = pages_with(&whole(), &options);
    assert!(pages.len() > 2);
    assert_inside_the_margins("annex", &pages);
    assert_nothing_lies_over_another("annex", &pages);
    let all = all_words(&pages[2..]);
    for seq in 1..=30 {
        for said in [format!("Entry {seq}:"), format!("09:{seq:02}"), format!("10:{seq:02}")] {
            assert!(all.contains(&said), "{said}");
        }
    }
    assert!(all.contains("2026-03-18 11:06"), "an entry without words for its times has the view's, in UTC");
    for number in 1..=4 {
        assert!(all.contains(&digest(number)), "{number}");
    }
    assert!(all.contains("hot exhaust beside the plug") && all.contains(&"9c".repeat(32)));
}

#[test]
fn the_whole_record_and_the_sheet_are_the_same_bytes_each_time() {
    let options = Options { annex: true, ..beside() };
    assert_eq!(render(&whole(), &options).unwrap(), render(&whole(), &options).unwrap());
    let sheet = bay_sheet(&whole(), &input(), &Options::default()).unwrap();
    assert_eq!(sheet, bay_sheet(&whole(), &input(), &Options::default()).unwrap());
    assert!(sheet.warnings.is_empty(), "{:?}", sheet.warnings);
}

#[test]
fn the_bay_sheet_is_one_page_with_values_cautions_and_a_box_for_every_step() {
    let pages = sheet_of(&whole(), &input());
    assert_eq!(pages.len(), 1);
    assert_inside_the_margins("sheet", &pages);
    assert_nothing_lies_over_another("sheet", &pages);
    let all = words(&pages[0]);
    for said in
        ["A8-II", "LN-75", "SP-48", "9.0 L", "40 to 50 °C", "13 screws, 9 N·m", "22 N·m", "new, of 13"]
    {
        assert!(all.contains(said), "{said}: {all}");
    }
    for said in [
        "L at look 4",
        "Level, look 3",
        "Codes before",
        "Codes after",
        "Drive before",
        "Refill",
        "order kept",
    ] {
        assert!(all.contains(said), "{said}");
    }
    assert_eq!(all.matches("read by").count(), 5, "a box for each group of cautions");
    assert!(all.contains("nobody under a moving lift") && all.contains("licensed practice"));
    for reading in ["9.4", "3.05", "P0730", "43"] {
        assert!(!all.contains(reading), "a reading on the sheet would be copied: {reading}");
    }
}

#[test]
fn the_bay_sheet_says_what_the_customer_says_and_who_isolates_the_high_voltage() {
    use standpipe_engine::text::sentence;
    use standpipe_engine::view::RemarkView;
    let mut view = whole();
    view.cautions.push(sentence::caution_high_voltage());
    let about = |number: u64, subject: &str| RemarkView {
        digest: digest(number),
        subject: sentence::remark_subject(subject),
    };
    view.remarks =
        vec![about(1, "complaint"), about(2, "order"), about(3, "complaint"), about(4, "drive-before")];
    let known =
        |number: u64, words: Option<&str>| Remark { digest: digest(number), words: words.map(str::to_owned) };
    let long = format!("Jerks\n when cold. {}", "and once more ".repeat(200));
    let remarks = vec![known(1, Some(&long)), known(2, None), known(4, Some("felt by the mechanic"))];
    let sheet = |view: &JobView, remarks: Vec<Remark>| {
        let options = Options { remarks, ..Options::default() };
        let mut composer = Composer::new(Faces::shipped().unwrap(), Language::English);
        layout::bay_sheet(&Given::new(view, &options), &input(), &mut composer).unwrap()
    };
    let pages = sheet(&view, remarks);
    assert_eq!(pages.len(), 1);
    assert_inside_the_margins("sheet", &pages);
    assert_nothing_lies_over_another("sheet", &pages);
    let all = words(&pages[0]);
    assert!(all.contains("customer’s complaint: “Jerks when cold. and once more"), "{all}");
    assert!(all.contains("…”") && all.matches("and once more").count() < 14, "{all}");
    assert!(all.contains("customer’s order: words erased") && !all.contains("mechanic"), "{all}");
    assert!(all.contains("isolates, locks, waits and tests dead"), "{all}");
    assert_eq!((all.matches("isolated by").count(), all.matches("read by").count()), (1, 5));
    view.remarks.remove(0);
    let all = words(&sheet(&view, Vec::new())[0]);
    assert!(all.contains("customer’s complaint: words not yet arrived"), "{all}");
    assert!(!words(&sheet_of(&whole(), &input())[0]).contains("isolated by"));
}

#[test]
fn the_bay_sheet_says_what_the_vehicle_maker_warns_of_and_stays_one_page() {
    use standpipe_engine::text::sentence;
    let mut view = whole();
    let said = "Never raise the engine speed above idle while the level is read; ask when it does not idle.";
    view.cautions.extend((0..4).map(|number| sentence::caution_of_maker(format!("{number}: {said}"))));
    view.cautions.push(sentence::caution_high_voltage());
    let pages = sheet_of(&view, &input());
    assert_eq!(pages.len(), 1);
    assert_inside_the_margins("sheet", &pages);
    assert_nothing_lies_over_another("sheet", &pages);
    let all = words(&pages[0]);
    assert_eq!(all.matches("The vehicle maker says: ").count(), 4, "{all}");
}

#[test]
fn a_sheet_without_a_catalogue_names_the_maker_s_instructions_and_never_a_number() {
    let pages = sheet_of(&empty(), &SheetInput::default());
    assert_eq!(pages.len(), 1);
    let all = words(&pages[0]);
    assert_eq!(all.matches("see the vehicle maker").count(), 10, "{all}");
    assert!(!all.contains("N·m"));
}

#[test]
fn a_sheet_with_long_names_leaves_no_margin_and_lays_nothing_over_another() {
    let long = Some("W".repeat(300));
    let long = SheetInput { variant: long.clone(), fluid: long.clone(), level_method: long, ..input() };
    let mut view = whole();
    view.head.workshop = "Harbour Lane ".repeat(16);
    let pages = sheet_of(&view, &long);
    assert_inside_the_margins("sheet", &pages);
    assert_nothing_lies_over_another("sheet", &pages);
}

#[test]
#[ignore = "writes files to look at"]
fn pictures() {
    let folder = std::path::PathBuf::from(std::env::var("PICTURES").unwrap());
    let write = |name: &str, rendered: Rendered| std::fs::write(folder.join(name), rendered.pdf).unwrap();
    write("whole.pdf", render(&whole(), &beside()).unwrap());
    write("annex.pdf", render(&whole(), &Options { annex: true, ..beside() }).unwrap());
    write("stopped.pdf", render(&stopped(), &beside()).unwrap());
    write("empty.pdf", render(&empty(), &Options::default()).unwrap());
    write("sheet.pdf", bay_sheet(&whole(), &input(), &Options::default()).unwrap());
    write("bare.pdf", bay_sheet(&empty(), &SheetInput::default(), &Options::default()).unwrap());
}
