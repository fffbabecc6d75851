//! How far an exchange is, as the network carries it. Only translation: nothing is computed here.

use super::all_words;
use crate::status::Cause;
use standpipe_engine::quantity::Estimate;
use standpipe_engine::text::Language;
use standpipe_engine::view::{CurvePoint, ExchangeView, Look, ShareBasis};
use standpipe_proto::v1;

/// The exchange of a job.
pub(super) fn progress(language: Language, exchange: &ExchangeView) -> Result<v1::ExchangeProgress, Cause> {
    let progress = &exchange.progress;
    Ok(v1::ExchangeProgress {
        pushed_litres: exchange.litres_in,
        looks: exchange.looks.iter().map(look).collect(),
        curve: exchange.curve.iter().map(point).collect(),
        share_now: progress.share_now.as_ref().map(range),
        share_at_handover: exchange.share_after_pan.or(progress.share_expected).as_ref().map(range),
        handover_is_forecast: exchange.share_after_pan.is_none() && progress.share_expected.is_some(),
        basis: progress.basis.map(ShareBasis::word).unwrap_or_default().to_owned(),
        two_ways_fit: progress.two_ways_fit,
        kept_litres: progress.kept_litres.map(|kept| kept.value),
        kept_litres_uncertainty: progress.kept_litres.map(|kept| kept.standard_uncertainty),
        target_share: progress.target_share,
        left_litres: progress.left_litres,
        to_go: progress.to_go.map(|to_go| v1::LitresToGo {
            likely_litres: to_go.likely,
            least_litres: to_go.least,
            greatest_litres: to_go.greatest,
        }),
        next_litre_gain: progress.next_litre_gain,
        alarms: all_words(language, &progress.alarms)?,
        advice: all_words(language, &exchange.advice)?,
    })
}

fn look(look: &Look) -> v1::ExchangeLook {
    v1::ExchangeLook {
        pushed_litres: look.litres,
        glass_new_share: look.glass_new_share,
        standard_uncertainty: look.standard_uncertainty,
        means: look.means.word().to_owned(),
        at_most: look.at_most,
    }
}

fn point(point: &CurvePoint) -> v1::ExchangePoint {
    v1::ExchangePoint {
        pushed_litres: point.litres,
        share: point.share,
        least: point.least,
        greatest: point.greatest,
    }
}

fn range(share: &Estimate) -> v1::ShareRange {
    let (least, greatest) = share.interval95_within((0.0, 1.0));
    v1::ShareRange { share: share.value, least, greatest, standard_uncertainty: share.standard_uncertainty }
}
