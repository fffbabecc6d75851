//! What was not measured and not done, in words. It always stands on the record.

use super::Identity;
use super::exchange::ExchangeOf;
use super::fold::Folded;
use super::seen;
use crate::kind::exchange_reading::ExchangeReading;
use crate::kind::fluid_sample::{FluidSample, Letter};
use crate::kind::leak_check::LeakCheck;
use crate::kind::level_check::LevelCheck;
use crate::kind::part_checked::PartChecked;
use crate::kind::plug_closed::PlugClosed;
use crate::kind::tightening::Tightening;
use crate::kind::words::{Moment, Part, SampleTime, ScrewGroup};
use crate::text::{Sentence, sentence};
use crate::view::LevelView;

/// Everything that a reader might expect and that is not there. Never empty.
pub(super) fn of(
    folded: &Folded,
    identity: &Identity,
    exchange: Option<&ExchangeOf>,
    level: &LevelView,
) -> Vec<Sentence> {
    let mut missing = Vec::new();
    let mut say = |absent: bool, text: fn() -> Sentence| {
        if absent {
            missing.push(text());
        }
    };
    let pushed = folded.each::<ExchangeReading>().next().is_some();
    let share = exchange
        .is_some_and(|of| of.view.share_after_exchange.is_some() || of.view.share_after_pan.is_some());
    say(!pushed, sentence::missing_exchange);
    say(!share, sentence::missing_share);
    say(pushed && exchange.is_some_and(|of| of.view.looks.is_empty()), sentence::missing_looks);
    let came_out = folded.each::<ExchangeReading>().any(|(_, reading)| reading.came_out.is_some());
    say(pushed && !came_out, sentence::missing_out);
    say(super::balance::drained_from_pan(folded).is_none(), sentence::missing_pan);
    say(!level.attempts.iter().any(|attempt| attempt.valid), sentence::missing_level);
    say(seen::sample(folded, SampleTime::Before).is_none(), sentence::missing_sample_before);
    say(seen::sample(folded, SampleTime::After).is_none(), sentence::missing_sample_after);
    let checked = |part: Part| folded.each::<PartChecked>().any(|(_, check)| check.part == Some(part));
    say(!checked(Part::Filter), sentence::missing_filter);
    say(!checked(Part::Standpipe) && identity.may_have_standpipe(), sentence::missing_standpipe);
    let mut pan_screws = folded.each::<Tightening>().map(|(_, tightening)| tightening.group);
    say(!pan_screws.any(|group| group == Some(ScrewGroup::Pan)), sentence::missing_torque_screws);
    let plug = folded.last::<PlugClosed>().and_then(|(_, plug)| plug.torque.as_ref());
    // Where the level was read on a dipstick alone, nobody opened a plug.
    let dipstick = |look: Option<(_, &LevelCheck)>| look.is_some_and(|(_, check)| check.dipstick.is_some());
    let opened = folded.last::<PlugClosed>().is_some()
        || !dipstick(folded.last::<LevelCheck>())
        || folded.each::<LevelCheck>().any(|(_, check)| check.dipstick.is_none());
    say(opened && plug.is_none(), sentence::missing_torque_plug);
    say(folded.each::<LeakCheck>().next().is_none(), sentence::missing_leak);
    let codes = |moment| seen::codes(folded, moment).is_none();
    missing.extend(absent_at(codes).map(sentence::missing_codes));
    let drive = |moment| seen::drive(folded, moment).is_none();
    missing.extend(absent_at(drive).map(sentence::missing_drive));
    // No kind of entry holds this, so nothing that was measured can have been written down.
    missing.push(sentence::missing_fuel());
    missing.extend(laboratory(folded));
    missing
}

/// What no laboratory measured of the vehicle's fluid.
fn laboratory(folded: &Folded) -> Option<Sentence> {
    let of_vehicle = || {
        let samples = folded.each::<FluidSample>().map(|(_, sample)| sample);
        samples.filter(|sample| sample.moment != Some(SampleTime::Fresh)).map(|sample| &sample.letter)
    };
    if of_vehicle().all(|letter| letter.report.is_empty()) {
        return Some(sentence::missing_laboratory());
    }
    let any = |measured: fn(&Letter) -> bool| of_vehicle().any(measured);
    let rows = [
        ("particles", any(|letter| letter.particles.iter().any(Option::is_some))),
        ("acid", any(|letter| letter.acid_number.is_some())),
        ("water", any(|letter| letter.water.is_some() || letter.crackle.is_some())),
        ("viscosity", any(|letter| !letter.viscosities.is_empty())),
    ];
    let absent = rows.into_iter().filter(|(_, measured)| !measured);
    let absent: Vec<Sentence> = absent.map(|(figure, _)| sentence::missing_figure(figure)).collect();
    (!absent.is_empty()).then(|| sentence::missing_laboratory_some(absent))
}

/// The word for the moments at which something is absent; nothing if it is there at both.
fn absent_at(absent: impl Fn(Moment) -> bool) -> Option<&'static str> {
    match (absent(Moment::Before), absent(Moment::After)) {
        (true, true) => Some("both"),
        (true, false) => Some(Moment::Before.word()),
        (false, true) => Some(Moment::After.word()),
        (false, false) => None,
    }
}
