//! Head of page one: title, workshop, and what identifies job and vehicle.

use standpipe_engine::text::{Sentence, sentence};

use crate::compose::Composer;
use crate::error::ReportError;
use crate::options::Given;
use crate::paragraph::{Ink, Line, Span, Style, lines};
use crate::strip::{LEADING, Mark, Spot, Strip, baseline, line_marks};
use crate::table::{Align, Column, Row, Table};

/// Part of the column that the title may take; the workshop has the rest.
const TITLE_SHARE: f64 = 0.56;
/// Clear space between title and workshop.
const TITLE_GUTTER: f64 = 16.0;

/// The head.
///
/// # Errors
/// As [`Composer::say`].
pub(super) fn strips(given: &Given<'_>, composer: &mut Composer<'_>) -> Result<Vec<Strip>, ReportError> {
    let subtitle = if given.view.head.no_exchange_done {
        sentence::record_subtitle_stopped()
    } else {
        sentence::record_subtitle()
    };
    let mut strips = vec![letterhead(given, &sentence::record_title(), &subtitle, composer)?];
    strips.extend(facts(given, composer)?.strips(composer.faces(), composer.column())?);
    Ok(strips)
}

/// Title at the left, workshop right-aligned beside it, a rule below both.
///
/// # Errors
/// As [`Composer::say`].
pub(crate) fn letterhead(
    given: &Given<'_>,
    title: &Sentence,
    subtitle: &Sentence,
    composer: &mut Composer<'_>,
) -> Result<Strip, ReportError> {
    let column = composer.column();
    let title_width = column * TITLE_SHARE;
    let faces = composer.faces();
    let head = &given.view.head;
    let title = Span::new(composer.say(title)?, Style::TITLE);
    let subtitle = Span::text(composer.say(subtitle)?);
    let mut titles = lines(faces, &[title], title_width)?;
    titles.extend(lines(faces, &[subtitle], title_width)?);

    let workshop_width = column - title_width - TITLE_GUTTER;
    let mut workshop =
        lines(faces, &[Span::new(composer.stated(&head.workshop), Style::STRONG)], workshop_width)?;
    for address in &head.address {
        workshop.extend(lines(faces, &[Span::new(composer.stated(address), Style::LABEL)], workshop_width)?);
    }
    if !head.telephone.is_empty() {
        let words = composer.say(&sentence::record_telephone(head.telephone.as_str()))?;
        workshop.extend(lines(faces, &[Span::new(words, Style::LABEL)], workshop_width)?);
    }

    let mut strip = Strip { keeps_next: true, ..Strip::default() };
    let mut below_titles = 0.0;
    for line in &titles {
        let pitch = if line_size(line) > Style::TEXT.size { 19.0 } else { LEADING };
        let y = below_titles + baseline(line_size(line), pitch);
        strip.marks.extend(line_marks(line, Spot { x: 0.0, y }));
        below_titles += pitch;
    }
    let mut below_workshop = 2.5;
    for line in &workshop {
        let y = below_workshop + baseline(Style::TEXT.size, LEADING);
        strip.marks.extend(line_marks(line, Spot { x: column - line.width, y }));
        below_workshop += LEADING;
    }
    let rule = f64::max(below_titles, below_workshop) + 5.0;
    strip.marks.push(Mark::rule(0.0, column, rule, 1.2, Ink::Black));
    strip.height = rule + 6.0;
    Ok(strip)
}

fn line_size(line: &Line) -> f64 {
    line.segments.iter().map(|segment| segment.style.size).fold(0.0, f64::max)
}

/// Labels with values in two columns.
fn facts(given: &Given<'_>, composer: &mut Composer<'_>) -> Result<Table, ReportError> {
    let (head, vehicle) = (&given.view.head, &given.view.vehicle);
    let mut left = vec![(sentence::record_job(), composer.stated(&head.number))];
    let named = composer.stated(&vehicle.name);
    let plate = composer.stated(&vehicle.plate);
    let words = match (named.is_empty(), plate.is_empty()) {
        (false, false) => composer.say(&sentence::record_vehicle_and_plate(plate, named))?,
        (false, true) => named,
        (true, _) => plate,
    };
    left.push((sentence::record_vehicle(), words));
    let vin = match &vehicle.vin {
        Some(vin) => composer.stated(vin),
        None => composer.say(&sentence::record_vin_not_read())?,
    };
    left.push((sentence::record_vin(), vin));
    let variant = match &vehicle.variant {
        Some(variant) => composer.stated(variant),
        None => composer.say(&sentence::record_transmission_not_settled())?,
    };
    left.push((sentence::record_transmission(), variant));

    let mut right = vec![(sentence::record_date(), composer.stated(&head.date))];
    let distance = match (&vehicle.distance_in, &vehicle.distance_out) {
        (Some(arrival), Some(departure)) => {
            composer.say(&sentence::record_distance_both(arrival, departure))?
        }
        (Some(arrival), None) => composer.say(&sentence::record_distance_at_arrival(arrival))?,
        (None, Some(departure)) => composer.stated(departure),
        (None, None) => String::new(),
    };
    right.push((sentence::record_distance(), distance));
    let customer = given.options.customer.as_deref().unwrap_or_default();
    right.push((sentence::record_customer(), composer.stated(customer)));
    let persons: Result<Vec<String>, _> = head.persons.iter().map(|person| composer.say(person)).collect();
    let persons = persons?;
    right.push((sentence::record_entries_by(), persons.join(", ")));

    left.retain(|(_, words)| !words.is_empty());
    right.retain(|(_, words)| !words.is_empty());
    let mut rows = Vec::new();
    for index in 0..left.len().max(right.len()) {
        let mut cells = Vec::new();
        for (side, value) in
            [(&left, if index == 0 { Style::STRONG } else { Style::TEXT }), (&right, Style::TEXT)]
        {
            match side.get(index) {
                Some((label, words)) => {
                    cells.push(vec![Span::new(composer.say(label)?, Style::LABEL)]);
                    cells.push(vec![Span::new(words.as_str(), value)]);
                }
                None => cells.extend([Vec::new(), Vec::new()]),
            }
        }
        rows.push(Row { cells, ..Row::default() });
    }
    let column = |share: f64| Column { share, align: Align::Left };
    let columns = vec![column(0.68), column(1.85), column(0.55), column(1.75)];
    Ok(Table { columns, rows, ..Table::default() })
}
