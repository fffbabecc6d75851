//! The annex: every entry in words with both times, photos and words by digest, the cautions in full, and
//! what the record was made from. Only on request.

use standpipe_engine::caution;
use standpipe_engine::text::{Sentence, sentence};
use standpipe_engine::view::StoryLine;

use crate::compose::Composer;
use crate::date::Civil;
use crate::error::ReportError;
use crate::options::Given;
use crate::paragraph::{Span, Style};
use crate::section::{identity, safety};
use crate::strip::Strip;
use crate::table::{Align, Column, Row, Table};

/// The annex in sections.
///
/// # Errors
/// As [`Composer::say`].
pub(crate) fn parts(given: &Given<'_>, composer: &mut Composer<'_>) -> Result<Vec<Vec<Strip>>, ReportError> {
    let view = given.view;
    let digests = |lines: Vec<(&str, &Sentence)>| -> Vec<Sentence> {
        lines
            .into_iter()
            .map(|(digest, what)| sentence::record_annex_stands_beside(digest, what.clone()))
            .collect()
    };
    let photos = digests(view.photos.iter().map(|photo| (photo.digest.as_str(), &photo.caption)).collect());
    let words = digests(view.remarks.iter().map(|words| (words.digest.as_str(), &words.subject)).collect());
    let cautions = safety::GROUPS.map(caution::text);
    Ok(vec![
        identity::second_title(&sentence::record_annex(), &sentence::record_annex_readers(), composer)?,
        entries(given, composer)?,
        listed(&sentence::record_annex_photos(), &photos, composer)?,
        listed(&sentence::record_annex_words(), &words, composer)?,
        listed(&sentence::record_annex_cautions(), &cautions, composer)?,
        listed(&sentence::record_annex_basis(), &basis(given), composer)?,
    ])
}

fn listed(
    title: &Sentence,
    said: &[Sentence],
    composer: &mut Composer<'_>,
) -> Result<Vec<Strip>, ReportError> {
    let body = composer.list(said)?;
    composer.section(title, body)
}

fn basis(given: &Given<'_>) -> Vec<Sentence> {
    let provenance = &given.view.provenance;
    let digest: String = provenance.digest.iter().map(|byte| format!("{byte:02x}")).collect();
    let mut basis = vec![sentence::record_annex_digest(provenance.entries, digest)];
    if !provenance.catalogue_revision.is_empty() {
        basis.push(sentence::record_annex_catalogue(provenance.catalogue_revision.as_str()));
    }
    basis
}

/// The table of entries; an entry that no longer counts is struck through, with the reason below it.
fn entries(given: &Given<'_>, composer: &mut Composer<'_>) -> Result<Vec<Strip>, ReportError> {
    let mut rows = Vec::new();
    for line in &given.view.story {
        let (done, entered) = times(given, line);
        let style = if line.changed.is_some() { Style::STRUCK } else { Style::TEXT };
        let mut what = vec![Span::new(composer.say(&line.text)?, style)];
        if let Some(changed) = &line.changed {
            what.push(Span::text("  "));
            what.push(Span::text(composer.say(changed)?));
        }
        let mut label = |words: &str| vec![Span::new(composer.stated(words), Style::LABEL)];
        let cells =
            vec![label(&line.seq.to_string()), label(&done), label(&entered), label(&line.person), what];
        rows.push(Row { cells, ..Row::default() });
    }
    let head = [
        sentence::record_annex_number(),
        sentence::record_annex_done(),
        sentence::record_annex_entered(),
        sentence::record_annex_person(),
        sentence::record_annex_what(),
    ];
    let head: Vec<String> = head.iter().map(|words| composer.say(words)).collect::<Result<_, _>>()?;
    let shares =
        [(0.3, Align::Right), (1.5, Align::Left), (1.5, Align::Left), (0.5, Align::Left), (3.8, Align::Left)];
    let columns = shares.into_iter().map(|(share, align)| Column { share, align }).collect();
    let mut strips =
        Table { columns, head, rows, ruled_below: true }.strips(composer.faces(), composer.column())?;
    if let Some(first) = strips.first_mut() {
        first.space_above = 6.0;
    }
    Ok(strips)
}

/// When it was done and when it was entered.
fn times(given: &Given<'_>, line: &StoryLine) -> (String, String) {
    match given.options.times.iter().find(|times| times.seq == line.seq) {
        Some(times) => (times.done.clone(), times.entered.clone()),
        None => {
            let Civil { year, month, day, hour, minute, .. } = Civil::of(line.time_us.div_euclid(1_000_000));
            (format!("{year:04}-{month:02}-{day:02} {hour:02}:{minute:02} UTC"), String::new())
        }
    }
}
