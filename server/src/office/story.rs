//! The story of a job with its times, and the way to put each entry right.
//!
//! Readings that one station sent in a row are one line with the rest folded below it. Never here: what an entry means,
//! which is the engine's, or how it is put right, which is [`super::put_right`]'s.

use super::bay::envelope::NO_ANSWERS;
use super::job::Told;
use super::jobs::clock;
use super::language::say;
use super::trouble::{Trouble, capital};
use maud::{Markup, html};
use prost::Message as _;
use standpipe_engine::text::number;
use standpipe_engine::view::StoryLine;
use standpipe_proto::v1::{Entry, fact::Kind};
use standpipe_store::StoredEntry;
use std::collections::HashMap;

/// So many readings in a row are folded.
const FOLDED_FROM: usize = 4;

/// One reading that an instrument fed.
struct Fed<'a> {
    station: &'a str,
    /// Litres pushed in, where it says them.
    litres: Option<f64>,
}

/// A line with the day that it stands under.
struct Row<'a> {
    line: &'a StoryLine,
    day: String,
    fed: Option<&'a Fed<'a>>,
}

impl Row<'_> {
    /// Whether it is one more reading of the same instrument.
    fn goes_on(&self, next: &Self) -> bool {
        let same = |fed: &Fed<'_>| next.fed.is_some_and(|other| other.station == fed.station);
        self.fed.is_some_and(same) && self.day == next.day && self.line.person == next.line.person
    }
}

/// The story.
pub(super) fn shown(told: &Told<'_>, entries: &[StoredEntry]) -> Result<Markup, Trouble> {
    let fed: HashMap<u64, Fed<'_>> =
        entries.iter().filter_map(|entry| Some((entry.seq, fed(entry)?))).collect();
    let row = |line| Row {
        line,
        day: clock(line.time_us, &told.zone, "%A %-d %B %Y"),
        // What was put right stands out.
        fed: fed.get(&line.seq).filter(|_| line.changed.is_none()),
    };
    let rows: Vec<Row<'_>> = told.view.story.iter().map(row).collect();
    let mut lines = Vec::with_capacity(rows.len());
    let mut day = "";
    for group in rows.chunk_by(Row::goes_on) {
        let Some(first) = group.first() else { continue };
        if first.day != day {
            day = &first.day;
            lines.push(html! { tr.day { td colspan="4" { (day) } } });
        }
        if group.len() >= FOLDED_FROM {
            lines.push(folded(told, group)?);
        } else {
            for row in group {
                lines.push(one(told, row.line)?);
            }
        }
    }
    Ok(html! {
        h2 { (say!(page_story)) }
        table {
            thead.only-screen {
                tr {
                    th scope="col" { (say!(page_time)) } th scope="col" { (say!(page_entry)) } th scope="col" { (say!(page_by)) }
                    th scope="col" { @if !told.read_only { (say!(page_if_it_is_wrong)) } }
                }
            }
            tbody { @for line in lines { (line) } }
        }
    })
}

/// What an instrument fed: neither a look by eye or photo nor the end of the exchange, which somebody states.
fn fed(entry: &StoredEntry) -> Option<Fed<'_>> {
    let kind = Entry::decode(&*entry.bytes).ok()?.fact?.kind?;
    let litres = match kind {
        Kind::ExchangeReading(reading) => {
            let looked = reading.tube_percent.is_some()
                || !reading.photo_digest.is_empty()
                || !reading.glass_colour.is_empty();
            (!looked && !reading.last).then_some(Some(reading.volume_in_litres))?
        }
        Kind::TemperatureReading(reading) => reading.sample_count.map(|_| None)?,
        _ => return None,
    };
    Some(Fed { station: &entry.station, litres })
}

/// Readings in a row as one line.
fn folded(told: &Told<'_>, group: &[Row<'_>]) -> Result<Markup, Trouble> {
    let (Some(first), Some(last)) = (group.first(), group.last()) else { return Ok(html! {}) };
    let station = first.fed.map_or("", |fed| fed.station);
    let count = group.len().to_string();
    let said = text(told, last.line)?;
    let mut litres = group.iter().filter_map(|row| row.fed.and_then(|fed| fed.litres));
    let said = match litres.next() {
        Some(from) => {
            let to = number::litres(litres.next_back().unwrap_or(from), 1);
            say!(page_readings_folded, &count, number::litres(from, 1), said, station, to)
        }
        None => say!(page_readings_folded_no_litres, &count, said, station),
    };
    let minutes = [first, last].map(|row| clock(row.line.time_us, &told.zone, "%H:%M"));
    let lines =
        group.iter().map(|row| Ok((row.line, text(told, row.line)?))).collect::<Result<Vec<_>, Trouble>>()?;
    Ok(html! {
        tr id={ "readings-" (first.line.seq) } {
            td.time { (minutes[0]) @if minutes[0] != minutes[1] { "–" (minutes[1]) } }
            td colspan="3" {
                (said)
                details.readings.only-screen {
                    summary { (say!(page_readings_all, &count)) }
                    ol {
                        @for (line, text) in lines {
                            li id={ "entry-" (line.seq) } {
                                (clock(line.time_us, &told.zone, "%H:%M:%S")) " " (text) " " (way(told, line))
                            }
                        }
                    }
                }
            }
        }
    })
}

fn text(told: &Told<'_>, line: &StoryLine) -> Result<String, Trouble> {
    Ok(capital(&told.words(&line.text)?))
}

/// The way to put an entry right; what the server states itself has none.
fn way(told: &Told<'_>, line: &StoryLine) -> Markup {
    let stated = !told.read_only && line.kind != "site" && !NO_ANSWERS.contains(&line.kind);
    html! {
        @if stated {
            a href={ "/job/" (told.view.head.number) "/put-right/" (line.entry_id) } { (say!(page_put_right)) }
        }
    }
}

fn one(told: &Told<'_>, line: &StoryLine) -> Result<Markup, Trouble> {
    let text = text(told, line)?;
    let changed = line.changed.as_ref().map(|changed| told.words(changed)).transpose()?;
    let person = told.names.get(&line.person).filter(|name| !name.is_empty()).unwrap_or(&line.person);
    Ok(html! {
        tr id={ "entry-" (line.seq) } {
            td.time { (clock(line.time_us, &told.zone, "%H:%M")) }
            td {
                @match changed {
                    Some(changed) => { s { (text) } div { (capital(&changed)) } }
                    None => (text)
                }
                @if line.late { div.quiet { (say!(page_entered_later)) } }
            }
            td { (person) }
            td.only-screen { (way(told, line)) }
        }
    })
}
