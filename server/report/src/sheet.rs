//! The bay sheet: one page to write on, made when the job is taken and used when the network is gone.
//!
//! What the variant takes stands above; below it a row of boxes for each step of the work, with the cautions
//! of a group before the first step they belong to. It shows no reading and proposes none. Called by
//! `layout`.

mod form;
mod steps;

use standpipe_engine::caution;
use standpipe_engine::kind::words::CautionGroup;
use standpipe_engine::text::{Sentence, sentence};
use standpipe_engine::view::JobView;

use crate::compose::Composer;
use crate::error::ReportError;
use crate::options::Given;
use crate::paragraph::{Span, Style};
use crate::section::{foot, head, words};
use crate::strip::Strip;
use crate::table::{Align, Column, Row, Table};

/// Most characters of a complaint or an order; two lines, so that the boxes keep their room.
const WORDS_CHARACTERS_MAX: usize = 140;

/// What the settled variant takes, each as it is printed; absent where nobody stated it, and then the sheet
/// names the vehicle maker's instructions instead of a value.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct SheetInput {
    /// Code and label of the variant, for example 'A8-II, Alder-8, second series'.
    pub variant: Option<String>,
    /// Fluid with the code on its container.
    pub fluid: Option<String>,
    /// Code on the filter.
    pub filter: Option<String>,
    /// Standpipe, for example 'SP-48, long'.
    pub standpipe: Option<String>,
    /// Litres of a dry transmission with converter and lines.
    pub total_fill: Option<String>,
    /// Litres expected at a change of the pan.
    pub pan_refill: Option<String>,
    /// Temperatures at which the level is valid, for example '40 to 50 °C'.
    pub level_window: Option<String>,
    /// How the level is found and under which conditions.
    pub level_method: Option<String>,
    /// True where the level is read on a dipstick: no plug is opened for it.
    pub dipstick: bool,
    /// How many screws the pan has.
    pub pan_screw_count: Option<String>,
    /// Torque of the pan's screws.
    pub pan_screw_torque: Option<String>,
    /// Order of the pan's screws, for example 1-5-3-7, with its stages in percent of the torque.
    pub pan_screw_order: Option<(String, String)>,
    /// Torque of the level plug.
    pub plug_torque: Option<String>,
}

/// What the foot says of the sheet.
///
/// # Errors
/// As [`Composer::say`].
pub(crate) fn identity(view: &JobView, composer: &mut Composer<'_>) -> Result<String, ReportError> {
    let provenance = &view.provenance;
    composer.say(&sentence::sheet_foot(
        foot::catalogue(view),
        provenance.check_value.as_str(),
        provenance.engine_version,
        view.head.number.as_str(),
    ))
}

/// The sheet from top to bottom.
///
/// # Errors
/// As [`Composer::say`].
pub(crate) fn parts(
    given: &Given<'_>,
    input: &SheetInput,
    composer: &mut Composer<'_>,
) -> Result<Vec<Vec<Strip>>, ReportError> {
    let (title, subtitle) = (sentence::sheet_title(), sentence::sheet_subtitle());
    let mut parts = vec![vec![head::letterhead(given, &title, &subtitle, composer)?]];
    let high_voltage = sentence::caution_high_voltage();
    let isolate = given.view.cautions.contains(&high_voltage);
    let spoken = spoken(given, composer)?;
    let of_maker: Vec<&Sentence> =
        given.view.cautions.iter().filter(|said| caution::is_of_maker(said)).collect();
    // With words or a high-voltage system there is more on the one page, so its boxes give way a little.
    let low = if isolate || !spoken.is_empty() || !of_maker.is_empty() { form::LOW_BOX } else { form::BOX };
    parts.extend(spoken);
    parts.push(facts(given.view, input, composer)?);
    for said in of_maker {
        parts.push(form::note(said, composer)?);
    }
    for step in steps::of_the_work(input) {
        // Before anybody goes under the vehicle, and with the name of who isolated it.
        if isolate && step.caution == Some(CautionGroup::Lifted) {
            parts.push(form::caution(&high_voltage, &sentence::sheet_isolated_by(), low, composer)?);
        }
        if let Some(group) = step.caution {
            parts.push(form::caution(&caution::text(group), &sentence::sheet_read_by(), low, composer)?);
            if input.dipstick && group == CautionGroup::GearsAndLevel {
                let dipstick = sentence::caution_dipstick();
                parts.push(form::caution(&dipstick, &sentence::sheet_read_by(), low, composer)?);
            }
        }
        parts.push(form::step(&step, low, composer)?);
    }
    parts.push(form::note(&sentence::sheet_cautions_first(), composer)?);
    Ok(parts)
}

/// What the customer says and ordered, shortened, so that the bay knows it before the work.
fn spoken(given: &Given<'_>, composer: &mut Composer<'_>) -> Result<Vec<Vec<Strip>>, ReportError> {
    let mut parts = Vec::new();
    for subject in ["complaint", "order"] {
        let about = given.view.remarks.iter().find(|remark| words::subject_of(remark) == Some(subject));
        let Some(about) = about else { continue };
        let said = words::in_brief(given, subject, WORDS_CHARACTERS_MAX);
        let said = sentence::record_words_about(about.subject.clone(), said);
        parts.push(form::note(&said, composer)?);
    }
    Ok(parts)
}

/// Job and vehicle, and what the variant takes, in two columns of labels and values.
fn facts(view: &JobView, input: &SheetInput, composer: &mut Composer<'_>) -> Result<Vec<Strip>, ReportError> {
    let vin = match &view.vehicle.vin {
        Some(vin) => composer.stated(vin),
        None => composer.say(&sentence::record_vin_not_read())?,
    };
    let mut vehicle = composer.stated(&view.vehicle.plate);
    if !view.vehicle.name.is_empty() {
        let name = composer.stated(&view.vehicle.name);
        vehicle = composer.say(&sentence::record_vehicle_and_plate(vehicle, name))?;
    }
    let job = composer.stated(&view.head.number);
    let screws = match (&input.pan_screw_count, &input.pan_screw_torque) {
        (Some(count), Some(torque)) => {
            let (count, torque) = (composer.stated(count), composer.stated(torque));
            composer.say(&sentence::sheet_screws_each(count, torque))?
        }
        (_, torque) => known(torque.as_deref(), composer)?,
    };
    let mut left = vec![
        (sentence::record_job(), job),
        (sentence::record_vehicle(), vehicle),
        (sentence::record_vin(), vin),
        (sentence::sheet_variant(), known(input.variant.as_deref(), composer)?),
        (sentence::sheet_fluid(), known(input.fluid.as_deref(), composer)?),
        (sentence::sheet_filter(), known(input.filter.as_deref(), composer)?),
    ];
    // One line beside what the variant takes; without a count of screws there is no order to say.
    if let Some((order, stages)) = &input.pan_screw_order {
        let (order, stages) = (composer.stated(order), composer.stated(stages));
        let said = composer.say(&sentence::sheet_screw_order_stages(order, stages))?;
        left.push((sentence::sheet_screw_order(), said));
    }
    let right = [
        (sentence::sheet_total_fill(), known(input.total_fill.as_deref(), composer)?),
        (sentence::sheet_pan_refill(), known(input.pan_refill.as_deref(), composer)?),
        (sentence::sheet_standpipe(), known(input.standpipe.as_deref(), composer)?),
        (sentence::sheet_level_window(), known(input.level_window.as_deref(), composer)?),
        (sentence::sheet_level_method(), known(input.level_method.as_deref(), composer)?),
        (sentence::sheet_pan_screws(), screws),
        (sentence::sheet_plug(), known(input.plug_torque.as_deref(), composer)?),
    ];
    two_columns(&left, &right, composer)
}

/// What was stated, or where to look it up.
fn known(text: Option<&str>, composer: &mut Composer<'_>) -> Result<String, ReportError> {
    match text {
        Some(text) => Ok(composer.stated(text)),
        None => composer.say(&sentence::sheet_look_it_up()),
    }
}

fn two_columns(
    left: &[(Sentence, String)],
    right: &[(Sentence, String)],
    composer: &mut Composer<'_>,
) -> Result<Vec<Strip>, ReportError> {
    let mut rows = Vec::new();
    for index in 0..left.len().max(right.len()) {
        let mut cells = Vec::new();
        for side in [left, right] {
            match side.get(index) {
                Some((label, words)) => {
                    cells.push(vec![Span::new(composer.say(label)?, Style::SIDE_LABEL)]);
                    cells.push(vec![Span::new(words.as_str(), Style { size: 9.2, ..Style::STRONG })]);
                }
                None => cells.extend([Vec::new(), Vec::new()]),
            }
        }
        rows.push(Row { cells, ..Row::default() });
    }
    let columns = [0.62, 2.0, 0.75, 2.0].map(|share| Column { share, align: Align::Left });
    let table = Table { columns: Vec::from(columns), rows, ruled_below: true, ..Table::default() };
    table.strips(composer.faces(), composer.column())
}
