//! What the entries of a job mean: `view(&Context, &entries) -> JobView`, one pure function.
//!
//! [`fold`] makes facts of entries; one file per section makes its part of the view. Nothing here
//! names a message of the network but [`fold`]. The server calls [`view`] and [`crate::gates::may`].

mod ageing;
mod balance;
mod condition;
pub(crate) mod edition;
mod exchange;
pub mod fold;
mod history;
pub(crate) mod identity;
mod judged;
mod level;
mod listed;
mod missing;
mod next_due;
mod noted;
mod now;
pub mod order;
mod printed;
mod put_in;
mod registers;
mod seen;
pub(crate) mod signed;
mod variant;
pub(crate) mod wrong_fluid;

#[cfg(test)]
mod tests;

pub(crate) use balance::{REFILL_SHORT_LITRES, tallied as litres_tallied};
pub(crate) use fold::{Folded, Stated};
pub use history::EarlierJob;
pub(crate) use history::{driven_kilometres, high_voltage};
pub(crate) use identity::Identity;
pub use judged::{judged_from, settled_last};
pub(crate) use level::{FreshReading, celsius_beside, edges, fresh_temperature};
pub use listed::line;
pub(crate) use next_due::of as next_due;
pub(crate) use order::Moment;
pub(crate) use put_in::container_check_before;
pub use signed::ToSign;

use crate::catalogue::{Revision, Workshop};
use crate::gates::decided::{self, Idle};
use crate::kind::arrival::Arrival;
use crate::kind::closing::Closing;
use crate::kind::exchange_reading::ExchangeReading;
use crate::kind::words::Outcome;
use crate::photo::Extracts;
use crate::site::SiteFacts;
use crate::view::{Finding, Head, JobView, Provenance, Vehicle};
use jiff::Timestamp;
use sha2::{Digest as _, Sha256};
use std::fmt::Write as _;

/// One entry as the journal keeps it.
#[derive(Debug, Clone, Copy)]
pub struct Recorded<'a> {
    /// Place in the journal.
    pub seq: u64,
    /// The server's clock when it took the entry, microseconds since 1970.
    pub received_us: i64,
    /// Hash of the entry's leaf.
    pub leaf_hash: [u8; 32],
    /// The entry as the station sealed it.
    pub bytes: &'a [u8],
}

/// What a job is read with, beside its own entries.
#[derive(Debug, Clone)]
pub struct Context<'a> {
    /// The catalogue revision in use; one with the workshop's settings alone when none was adopted.
    pub revision: &'a Revision,
    /// Place in the journal at which the revision was adopted; 0 when there is none.
    pub adopted_at: u64,
    /// Identity of the revision, 64 hexadecimal digits; empty when there is none.
    pub revision_id: &'a str,
    /// Identity of the job, a UUID in its text form.
    pub job_id: &'a str,
    /// Printed number of the job.
    pub number: &'a str,
    /// Name of the site.
    pub site_name: &'a str,
    /// Names of persons by their code, as far as they are known and were not erased.
    pub names: &'a [(String, String)],
    /// Whether sentences name persons at all.
    pub persons: bool,
    /// Earlier jobs of the same vehicle, in any order; the job that the customer complains about among them.
    pub earlier: &'a [EarlierJob],
    /// What the photos say that readings name.
    pub extracts: &'a Extracts,
    /// What is known of the site: lots, tools, equipment.
    pub site: &'a SiteFacts,
    /// Place in the journal up to which facts of the site count.
    pub site_up_to: u64,
    /// The revision in use at the site, where the job is judged by another one.
    pub newer: Option<Newer<'a>>,
    /// Time the view is made for, microseconds since 1970.
    pub as_of_us: i64,
}

/// A revision of the catalogue that was adopted after the one by which a job is judged.
#[derive(Debug, Clone, Copy)]
pub struct Newer<'a> {
    /// The revision.
    pub revision: &'a Revision,
    /// Place in the journal at which it was adopted.
    pub adopted_at: u64,
}

impl Context<'_> {
    /// The settings of the workshop.
    pub(crate) fn workshop(&self) -> &Workshop {
        self.revision.workshop()
    }

    fn local(&self, us: i64) -> Option<jiff::ZonedDateTime> {
        let zone = self.workshop().time_zone.clone();
        Timestamp::from_microsecond(us).ok().map(|time| time.to_zoned_datetime(zone))
    }

    /// Clock time at the site, for example 11:58.
    pub(crate) fn clock(&self, us: i64) -> String {
        self.local(us).map(|time| time.strftime("%H:%M").to_string()).unwrap_or_default()
    }

    /// Day at the site, for example 18 March 2026.
    pub(crate) fn day(&self, us: i64) -> String {
        self.local(us).map(|time| time.strftime("%-d %B %Y").to_string()).unwrap_or_default()
    }

    /// Year at the site.
    pub(crate) fn year(&self, us: i64) -> u16 {
        self.local(us).and_then(|time| u16::try_from(time.year()).ok()).unwrap_or_default()
    }

    /// Day and clock time at the site, for example 18 March, 12:10.
    pub(crate) fn day_and_clock(&self, us: i64) -> String {
        self.local(us).map(|time| time.strftime("%-d %B, %H:%M").to_string()).unwrap_or_default()
    }

    /// How a person is printed: by name, or by code where no name is known or it was erased; by neither where persons are
    /// off.
    pub(crate) fn person(&self, code: &str) -> crate::text::Sentence {
        use crate::text::sentence;
        if !self.persons {
            return sentence::person_unnamed();
        }
        let known = self.names.iter().find(|(known, name)| known == code && !name.is_empty());
        known.map_or_else(|| sentence::person_code(code), |(_, name)| sentence::person_name(name))
    }

    /// Whether work done at one time and typed at another was typed late: after the site's limit, or
    /// on another day.
    pub(crate) fn is_late(&self, done_us: i64, typed_us: i64) -> bool {
        #[allow(clippy::cast_possible_truncation)]
        let limit_us = (self.workshop().late_after_minutes.value * 6e7) as i64;
        typed_us.saturating_sub(done_us) > limit_us || self.day(done_us) != self.day(typed_us)
    }
}

/// Computes what the entries of one job mean. `entries` stand in the order of the journal.
///
/// The same context and entries give the same view, whenever and wherever it is computed.
#[must_use]
pub fn view(context: &Context<'_>, entries: &[Recorded<'_>]) -> JobView {
    view_of(context, entries, fold::fold(context, entries))
}

/// The same from the facts of the entries.
pub(crate) fn view_of(context: &Context<'_>, entries: &[Recorded<'_>], mut folded: Folded) -> JobView {
    if !context.persons {
        unname(&mut folded);
    }
    let identity = Identity::of(context, &folded);
    let measures = balance::Measures::of(context, &folded, &identity);
    let exchange = exchange::of(context, &folded, &identity, &measures);
    let balance = balance::of(&folded, &identity, &measures);
    let level = level::of(context, &folded, &identity);
    let open_points = crate::gates::open_points(context, &folded, &identity);
    let mut findings = std::mem::take(&mut folded.findings);
    findings.extend(identity.findings.iter().cloned());
    findings.extend(seen::findings(&folded, &identity));
    findings.extend(exchange.iter().flat_map(|exchange| exchange.findings.iter().cloned()));
    findings.extend(balance::findings(balance.as_ref(), &measures));
    let idle = decided::idle(context, &folded);
    findings.extend(findings_beside(context, &folded, &identity, &idle));
    end_stops(&folded, &identity, &mut findings);
    let condition = condition::of(context, &folded);
    let condition_advice = condition::advice(&condition);
    let mut head = head(context, &folded, open_points.first().map(|point| point.text.clone()));
    let mut figures = printed::figures(exchange.as_ref(), balance.as_ref());
    figures.extend(balance::refill_figure(context, &folded, &identity));
    let parts = printed::Parts {
        identity: &identity,
        measures: &measures,
        exchange: exchange.as_ref(),
        level: &level,
    };
    let known = now::Known {
        findings: &findings,
        exchange: exchange.as_ref(),
        balance: balance.as_ref(),
        level: &level,
    };
    let now = now::of(context, &folded, &identity, &known);
    head.stop_stands = findings.iter().any(|finding| finding.stands);
    JobView {
        vehicle: vehicle(&folded, &identity),
        in_short: printed::in_short(&folded, &parts),
        please_note: noted::please_note(context, &folded, &findings, balance.as_ref(), exchange.as_ref()),
        before_and_after: seen::before_and_after(&folded),
        done: printed::done(context, &folded, &parts),
        identity: identity.sentences.clone(),
        tightening: listed::tightening(&folded),
        waste: listed::waste(&folded),
        history: history::told(context, &folded),
        acknowledged: listed::acknowledged(context, &folded),
        photos: listed::photos(context, &folded),
        remarks: listed::remarks(&folded),
        skipped: listed::skipped(context, &folded, &identity),
        decisions: listed::decisions(context, &folded, &idle),
        now,
        next_due: next_due::of(context, &folded, &identity),
        condition: condition.into_iter().map(|side| side.view).collect(),
        condition_advice,
        not_measured: missing::of(&folded, &identity, exchange.as_ref(), &level),
        changes: folded.changes.clone(),
        cautions: noted::cautions(context, &folded, &identity),
        provenance: provenance(context, entries),
        exchange: exchange.map(|exchange| exchange.view),
        story: folded.story,
        to_sign: folded.to_sign,
        head,
        balance,
        level,
        findings,
        open_points,
        figures,
    }
}

/// Takes persons out of the story and what was put right, also those whom a fact itself names, and out of what waits for
/// a signature.
fn unname(folded: &mut Folded) {
    use crate::text::Sentence;
    for line in &mut folded.story {
        line.person.clear();
        line.text = line.text.without_persons();
        line.changed = line.changed.as_ref().map(Sentence::without_persons);
    }
    for change in &mut folded.changes {
        change.was = change.was.without_persons();
        change.now = change.now.as_ref().map(Sentence::without_persons);
    }
    for waiting in &mut folded.to_sign {
        waiting.person.clear();
    }
}

/// In a closed job nobody works on anything any more; only what is inside goes with the vehicle.
fn end_stops(folded: &Folded, identity: &Identity, findings: &mut [Finding]) {
    if folded.last::<Closing>().is_none() {
        return;
    }
    let inside = identity.wrong_fluid.as_ref().map(|wrong| wrong.went_in.as_slice());
    for finding in findings.iter_mut().filter(|finding| Some(finding.seqs.as_slice()) != inside) {
        finding.stands = false;
    }
}

/// What somebody should know beside what identity, exchange and balance say.
fn findings_beside(
    context: &Context<'_>,
    folded: &Folded,
    identity: &Identity,
    idle: &[Idle],
) -> Vec<Finding> {
    let mut findings = put_in::without_go_ahead(context, folded);
    let open = crate::gates::closed_open(context, folded, identity).into_iter();
    findings.extend(open.map(|open| fold::tells(crate::text::sentence::finding_closed_open(open), [])));
    findings.extend(registers::findings(context, folded, identity));
    findings.extend(listed::changed_nothing(folded, idle));
    findings.extend(seen::told_late(context, folded));
    findings.extend(history::findings(context, folded));
    findings.extend(crate::site::lot_good::findings(context, folded, identity));
    findings.extend(edition::findings(folded));
    findings.extend(signed::findings(context, folded));
    findings
}

/// The readings of the exchange in the order of the litre counter; the last is the one that counts.
pub(crate) fn exchange_readings(
    folded: &Folded,
) -> Vec<(&Stated, &crate::kind::exchange_reading::ExchangeReading)> {
    exchange::by_litres(folded)
}

/// Whether a look at the level counts.
pub(crate) fn level_is_set(folded: &Folded, identity: &Identity) -> bool {
    level::set_at(folded, identity).is_some()
}

/// Whether something seen before the exchange says to look inside first, as long as nobody decided on it.
pub(crate) fn says_look_inside(folded: &Folded, decided: impl Fn(&Stated) -> bool) -> bool {
    condition::says_look_inside(folded, decided)
}

/// What ran out of the pan and what was refilled, in litres at 15 °C.
pub(crate) fn drained_and_refilled(
    context: &Context<'_>,
    folded: &Folded,
    identity: &Identity,
) -> (crate::quantity::Estimate, crate::quantity::Estimate) {
    let measures = balance::Measures::of(context, folded, identity);
    (measures.sum(&measures.pan), measures.sum(&measures.refilled))
}

/// What was added at the level, in litres at 15 °C.
pub(crate) fn added(
    context: &Context<'_>,
    folded: &Folded,
    identity: &Identity,
) -> crate::quantity::Estimate {
    let measures = balance::Measures::of(context, folded, identity);
    measures.sum(&measures.added)
}

/// What is left to refill of what ran out of the pan, as it is measured now; absent when nothing is.
pub(crate) fn to_refill(
    context: &Context<'_>,
    folded: &Folded,
    identity: &Identity,
) -> Option<crate::amount::Amount> {
    balance::to_refill(context, folded, identity)
}

/// Whether the job ended without an exchange; a closing that says so while litres were pushed in does not make it so.
pub(crate) fn is_closed_without_exchange(folded: &Folded) -> bool {
    let closing = folded.last::<Closing>();
    closing.is_some_and(|(_, closing)| closing.outcome == Some(Outcome::NoExchangeDone))
        && closed_against_readings(folded).is_none()
}

/// A closing that says that no exchange was done, with the litres that were pushed in all the same.
pub(crate) fn closed_against_readings(folded: &Folded) -> Option<(&Stated, f64)> {
    let closing = folded.last::<Closing>();
    let (stated, _) = closing.filter(|(_, closing)| closing.outcome == Some(Outcome::NoExchangeDone))?;
    // One that was broken off is none: its litres stand on the record, and the closing is true.
    let ended = folded.each::<ExchangeReading>().any(|(_, reading)| reading.last);
    let pushed = exchange::litres_pushed(folded);
    (ended && pushed > 0.0).then_some((stated, pushed))
}

/// What came out so far, in litres at 15 °C, without what parts carried; absent when nothing did.
pub(crate) fn came_out(
    context: &Context<'_>,
    folded: &Folded,
    identity: &Identity,
) -> Option<crate::quantity::Estimate> {
    balance::collected(context, folded, identity)
}

fn head(context: &Context<'_>, folded: &Folded, next: Option<crate::text::Sentence>) -> Head {
    let workshop = context.workshop();
    let mut persons: Vec<&str> = Vec::new();
    for line in &folded.story {
        if !persons.contains(&line.person.as_str()) {
            persons.push(&line.person);
        }
    }
    let closing = folded.last::<Closing>().map(|(_, closing)| closing);
    let first_us = folded.story.first().map_or(context.as_of_us, |line| line.time_us);
    Head {
        workshop: if workshop.name.is_empty() { context.site_name.to_owned() } else { workshop.name.clone() },
        address: workshop.address.clone(),
        telephone: workshop.phone.clone().unwrap_or_default(),
        job_id: context.job_id.to_owned(),
        number: context.number.to_owned(),
        date: context.day(first_us),
        persons: persons.into_iter().map(|code| context.person(code)).collect(),
        closed: closing.is_some(),
        no_exchange_done: is_closed_without_exchange(folded),
        next_open_point: next,
        stop_stands: false,
    }
}

fn vehicle(folded: &Folded, identity: &Identity) -> Vehicle {
    let arrival = folded.last::<Arrival>().map(|(_, arrival)| arrival);
    let closing = folded.last::<Closing>().map(|(_, closing)| closing);
    let distance = |km: f64| crate::text::number::kilometres(km);
    Vehicle {
        name: arrival.map(|arrival| arrival.vehicle.clone()).unwrap_or_default(),
        plate: arrival.map(|arrival| arrival.plate.clone()).unwrap_or_default(),
        vin: identity.vin.clone(),
        variant: identity.variant.as_ref().map(|variant| variant.label.clone()),
        distance_in: arrival.and_then(|arrival| arrival.odometer_kilometres).map(distance),
        distance_out: closing.and_then(|closing| closing.odometer_kilometres).map(distance),
    }
}

fn provenance(context: &Context<'_>, entries: &[Recorded<'_>]) -> Provenance {
    let mut hash = Sha256::new();
    for entry in entries {
        hash.update(entry.leaf_hash);
    }
    let digest: [u8; 32] = hash.finalize().into();
    let mut check_value = String::with_capacity(19);
    for (place, byte) in digest.iter().take(8).enumerate() {
        if place > 0 && place % 2 == 0 {
            check_value.push(' ');
        }
        let _ = write!(check_value, "{byte:02x}");
    }
    Provenance {
        entries: entries.len() as u64,
        last_seq: entries.last().map_or(0, |entry| entry.seq),
        digest,
        check_value,
        catalogue_revision: context.revision_id.to_owned(),
        engine_version: env!("CARGO_PKG_VERSION"),
        as_of_us: context.as_of_us,
    }
}
