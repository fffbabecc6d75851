//! Next due, level and balance as messages.

use super::{all_words, timestamp, words};
use crate::status::Cause;
use standpipe_engine::formula::balance::compatible;
use standpipe_engine::quantity::Estimate;
use standpipe_engine::text::{Language, Sentence};
use standpipe_engine::view::{BalanceRow, BalanceView, JobView};
use standpipe_proto::v1;

/// When the next service is due; nothing until the job is closed as done.
pub(super) fn next_due(language: Language, view: &JobView) -> Result<Option<v1::NextDue>, Cause> {
    let due = &view.next_due;
    if due.sentences.is_empty() {
        return Ok(None);
    }
    let date = due.date.as_ref();
    Ok(Some(v1::NextDue {
        kilometres: due.kilometres.map(|(kilometres, _)| kilometres),
        date: date.map(|(date, _)| date.clone()).unwrap_or_default(),
        kilometres_basis: due.kilometres.map(|(_, basis)| basis.to_owned()).unwrap_or_default(),
        date_basis: date.map(|(_, basis)| (*basis).to_owned()).unwrap_or_default(),
        sentences: all_words(language, &due.sentences)?,
    }))
}

/// The level with its times.
pub(super) fn level(language: Language, view: &JobView) -> Result<v1::Level, Cause> {
    let level = &view.level;
    let attempts = level.attempts.iter().map(|attempt| {
        let text = words(language, &attempt.text)?;
        Ok(v1::LevelAttempt { clock: attempt.clock.clone(), text, valid: attempt.valid })
    });
    let forecast = level.forecast.as_ref();
    Ok(v1::Level {
        from_celsius: level.window_celsius.map(|(from, _)| from),
        to_celsius: level.window_celsius.map(|(_, to)| to),
        attempts: attempts.collect::<Result<_, Cause>>()?,
        set_celsius: level.set_celsius,
        when: said(language, level.when.as_ref())?,
        read_again_time: forecast.map(|forecast| timestamp(forecast.read_again_us)),
        earliest_time: forecast.map(|forecast| timestamp(forecast.earliest_us)),
        likely_time: forecast.map(|forecast| timestamp(forecast.likely_us)),
        latest_time: forecast.map(|forecast| timestamp(forecast.latest_us)),
        leaves_time: forecast.and_then(|forecast| forecast.leaves_us).map(timestamp),
        reasons: forecast.map(|it| all_words(language, &it.reasons)).transpose()?.unwrap_or_default(),
        drip: said(language, level.drip.as_ref())?,
    })
}

/// Fluid in and out.
pub(super) fn balance(language: Language, balance: &BalanceView) -> Result<v1::Balance, Cause> {
    let rows = |rows: &[BalanceRow]| -> Result<Vec<v1::BalanceRow>, Cause> {
        let row = |row: &BalanceRow| {
            Ok(v1::BalanceRow { label: words(language, &row.label)?, litres: Some(sum(&row.litres)) })
        };
        rows.iter().map(row).collect()
    };
    Ok(v1::Balance {
        went_in: rows(&balance.went_in)?,
        came_out: rows(&balance.came_out)?,
        total_in: Some(sum(&balance.total_in)),
        total_out: Some(sum(&balance.total_out)),
        difference: balance.difference.as_ref().map(sum),
        arrived: said(language, balance.arrived.as_ref())?,
        unexplained: said(language, balance.unexplained.as_ref())?,
        compatible: balance.normalised_difference.map(compatible),
        normalised_difference: balance.normalised_difference,
    })
}

/// A sentence in words; empty where there is none.
pub(super) fn said(language: Language, sentence: Option<&Sentence>) -> Result<String, Cause> {
    Ok(sentence.map(|sentence| words(language, sentence)).transpose()?.unwrap_or_default())
}

fn sum(estimate: &Estimate) -> v1::BalanceSum {
    v1::BalanceSum {
        litres: estimate.value,
        standard_uncertainty: estimate.standard_uncertainty,
        degrees_of_freedom: Some(estimate.degrees_of_freedom).filter(|degrees| degrees.is_finite()),
    }
}
