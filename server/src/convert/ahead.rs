//! What is ahead of a job as messages: the plan before the work, and each state of a watched job.

use super::{all_words, exchange, figure, part, signed, summary, timestamp, words};
use crate::reading::Now;
use crate::status::Cause;
use crate::workshop::Computed;
use standpipe_engine::plan::{Choice, Plan};
use standpipe_engine::text::Language;
use standpipe_proto::v1;

/// Procedures compared.
pub(crate) fn plan(language: Language, plan: &Plan, job: &Computed) -> Result<v1::PlanResponse, Cause> {
    Ok(v1::PlanResponse {
        summary: Some(summary(language, job)?),
        first: all_words(language, &plan.first)?,
        missing: all_words(language, &plan.missing)?,
        basis: all_words(language, &plan.basis)?,
        choices: plan.choices.iter().map(|it| choice(language, it)).collect::<Result<_, _>>()?,
        advice: plan.advice.as_ref().map(|it| words(language, it)).transpose()?.unwrap_or_default(),
        last_seq: signed(job.row.last_seq),
    })
}

fn choice(language: Language, choice: &Choice) -> Result<v1::PlanChoice, Cause> {
    let (new_share_least, new_share_greatest) = choice.share.interval95_within((0.0, 1.0));
    Ok(v1::PlanChoice {
        key: choice.way.key().to_owned(),
        name: words(language, &choice.name)?,
        volume_litres: choice.litres,
        pushed_litres: choice.pushed_litres,
        new_share: choice.share.value,
        new_share_least,
        new_share_greatest,
        duration_minutes: choice.minutes,
        text: words(language, &choice.says)?,
        advised: choice.advised,
    })
}

/// One state of a watched job: its view by the site's clock, and the time of that clock.
pub(crate) fn state(language: Language, now: &Now) -> Result<v1::WatchResponse, Cause> {
    let Now { job, view, now_us } = now;
    Ok(v1::WatchResponse {
        summary: Some(summary(language, job)?),
        now: all_words(language, &view.now)?,
        figures: view.figures.iter().map(|it| figure(language, it)).collect::<Result<_, _>>()?,
        last_seq: signed(job.row.last_seq),
        time: Some(timestamp(*now_us)),
        exchange: view.exchange.as_ref().map(|it| exchange::progress(language, it)).transpose()?,
        level: Some(part::level(language, view)?),
    })
}
