//! When the next fluid service is due, for a job that is closed as done and in which fluid was renewed.
//!
//! The workshop's interval by the fluid temperatures that the control unit kept, else with the factor of the load word,
//! never beyond the vehicle maker's; what it stands on is said with it; the date counts from the day on which fluid was
//! renewed last. Without any interval the section names the maker's plan and no number, and while the level is not set
//! there is no number either. Never here: what is assumed of the ageing, which is [`super::ageing`]'s.

use super::ageing::Ageing;
use super::{Context, Folded, Identity, Stated};
use crate::catalogue::UseInterval;
use crate::formula::next_due::{Basis, Caveat, Interval, Load, NextDue, next_due};
use crate::kind::Fact;
use crate::kind::arrival::Arrival;
use crate::kind::closing::Closing;
use crate::kind::words::{FillPurpose, LoadWord, Outcome};
use crate::text::{Sentence, number, sentence};
use crate::view::NextDueView;

/// Reads it from the facts; says nothing for a job that is open, stopped, or in which nothing was renewed.
pub(crate) fn of(context: &Context<'_>, folded: &Folded, identity: &Identity) -> NextDueView {
    let closing = folded.last::<Closing>().filter(|(_, closing)| closing.outcome == Some(Outcome::Done));
    let Some((closed, closing)) = closing.filter(|_| is_renewed(folded)) else {
        return NextDueView::default();
    };
    if super::level::set_at(folded, identity).is_none() {
        return NextDueView { sentences: vec![sentence::next_due_level_open()], ..NextDueView::default() };
    }
    let renewed = renewals(folded).map(|stated| stated.time_us).max().unwrap_or(closed.time_us);
    let Some(done_on) = context.local(renewed).map(|time| time.date()) else {
        return NextDueView::default();
    };
    let arrived = folded.each::<Arrival>().filter_map(|(_, arrival)| arrival.odometer_kilometres).next_back();
    let read = closing.odometer_kilometres.or(arrived);
    let word = folded.each::<Arrival>().filter_map(|(_, arrival)| arrival.load).next_back();
    let stated = Intervals::of(context, identity, word);
    let factor = word.and_then(|word| factor(context, word));
    let ageing = Ageing::of(context, folded);
    let load = match (&ageing, factor) {
        // What was measured on the way says more than a word for it.
        (Some(ageing), _) => ageing.load(),
        (None, Some(factor)) => Load::Word { factor },
        (None, None) => Load::NotStated,
    };
    // Without a distance on the vehicle the interval counts from here.
    let from = read.unwrap_or(0.0);
    match next_due(Some(from), done_on, &stated.workshop, &stated.maker(), &load) {
        None => NextDueView { sentences: vec![sentence::next_due_not_stated()], ..NextDueView::default() },
        Some(due) => {
            let mut sentences = vec![when(&due, read.is_some())];
            sentences.extend(stated.stands_on(&due));
            sentences.extend(match &ageing {
                Some(ageing) => by_temperatures(&due, ageing, word),
                None => by_word(context, &due, word, factor).into_iter().collect(),
            });
            if due.caveats.contains(&Caveat::MakerNotStated)
                && !sentences.contains(&sentence::next_due_load_not_longer())
            {
                sentences.push(sentence::next_due_maker_not_stated());
            }
            NextDueView {
                kilometres: due
                    .kilometres
                    .filter(|_| read.is_some())
                    .map(|(km, basis)| (km.floor(), named(&basis))),
                date: due.date.map(|(date, basis)| (date.to_string(), named(&basis))),
                sentences,
            }
        }
    }
}

/// Whether fluid was exchanged or the pan refilled; adding at the level renews nothing.
fn is_renewed(folded: &Folded) -> bool {
    renewals(folded).next().is_some()
}

/// What renewed fluid; the last of it is the day of the service.
fn renewals(folded: &Folded) -> impl Iterator<Item = &Stated> {
    folded.facts.iter().filter(|stated| match &stated.fact {
        Fact::ExchangeReading(reading) => !reading.pushed_in.is_zero(),
        Fact::Fill(fill) => fill.purpose == Some(FillPurpose::Refill),
        _ => false,
    })
}

/// The factor that the workshop set for a load word.
fn factor(context: &Context<'_>, word: LoadWord) -> Option<f64> {
    let factors = &context.workshop().load_factors.as_ref()?.factors;
    factors.iter().find(|(known, _)| *known == word).map(|(_, factor)| *factor)
}

/// The word for what a figure stands on.
fn named(basis: &Basis) -> &'static str {
    match basis {
        Basis::Workshop => "workshop",
        Basis::LoadWord { .. } => "load-word",
        Basis::Temperatures { .. } => "temperatures",
        Basis::Maker => "maker",
    }
}

fn when(due: &NextDue, from_vehicle: bool) -> Sentence {
    // Cut, not rounded: nobody is sent a kilometre beyond the maker's interval.
    let distance = due.kilometres.map(|(km, _)| number::kilometres(km.floor()));
    let date = due.date.map(|(date, _)| date.strftime("%-d %B %Y").to_string());
    match (distance, date, from_vehicle) {
        (Some(distance), Some(date), true) => sentence::next_due_both(date, distance),
        (Some(distance), None, true) => sentence::next_due_distance(distance),
        (Some(distance), Some(date), false) => sentence::next_due_after_both(date, distance),
        (Some(distance), None, false) => sentence::next_due_after(distance),
        (None, Some(date), _) => sentence::next_due_date(date),
        (None, None, _) => sentence::next_due_not_stated(),
    }
}

/// What workshop and maker state, with where it was read.
struct Intervals<'a> {
    workshop: Interval,
    workshop_source: &'a str,
    /// The vehicle maker's for every use, as far as it states none for this one.
    maker: Interval,
    maker_source: String,
    /// The vehicle maker's for this use alone; a use that was not stated counts as ordinary.
    maker_use: Option<&'a UseInterval>,
}

impl<'a> Intervals<'a> {
    fn of(context: &'a Context<'_>, identity: &'a Identity, word: Option<LoadWord>) -> Self {
        let workshop = context.workshop();
        let kilometres = workshop.service_interval_kilometres.as_ref();
        let variant = identity.variant.as_ref();
        let source = variant.and_then(|variant| variant.source.as_ref());
        let by_use = variant.map_or(&[][..], |variant| &variant.maker_intervals_by_use);
        let maker_use = by_use.iter().find(|row| row.load == word.unwrap_or(LoadWord::Ordinary));
        let own = maker_use.map(|row| row.interval).unwrap_or_default();
        let every = variant.map(|variant| variant.maker_interval).unwrap_or_default();
        Self {
            workshop: Interval {
                kilometres: kilometres.map(|stated| stated.value),
                months: workshop.service_interval_months,
            },
            workshop_source: kilometres.map_or("", |stated| &stated.source),
            maker: Interval {
                kilometres: every.kilometres.filter(|_| own.kilometres.is_none()),
                months: every.months.filter(|_| own.months.is_none()),
            },
            maker_source: source.map(|(source, edition)| format!("{source}, {edition}")).unwrap_or_default(),
            maker_use,
        }
    }

    /// What the vehicle maker states for this use.
    fn maker(&self) -> Interval {
        let own = self.maker_use.map(|row| row.interval).unwrap_or_default();
        Interval {
            kilometres: own.kilometres.or(self.maker.kilometres),
            months: own.months.or(self.maker.months),
        }
    }

    /// Each interval that counts, with its source: of the workshop, of the maker, or a part of both.
    fn stands_on(&self, due: &NextDue) -> Vec<Sentence> {
        let of = |wanted: fn(&Basis) -> bool, stated: &Interval| {
            let kilometres = due.kilometres.filter(|(_, basis)| wanted(basis)).and(stated.kilometres);
            interval(kilometres, due.date.filter(|(_, basis)| wanted(basis)).and(stated.months))
        };
        let maker = of(|basis| matches!(basis, Basis::Maker), &self.maker);
        let maker_use = self.maker_use.and_then(|row| {
            let interval = of(|basis| matches!(basis, Basis::Maker), &row.interval)?;
            let source = format!("{}, {}", row.source, row.edition);
            Some(sentence::next_due_maker_use(interval, sentence::load_word(row.load.word()), source))
        });
        let own = of(|basis| !matches!(basis, Basis::Maker), &self.workshop);
        let own = own.map(|interval| sentence::next_due_workshop(interval, self.workshop_source));
        let maker = maker.map(|interval| sentence::next_due_maker(interval, &self.maker_source));
        own.into_iter().chain(maker).chain(maker_use).collect()
    }
}

fn interval(kilometres: Option<f64>, months: Option<u16>) -> Option<Sentence> {
    let months = months.map(|months| sentence::next_due_months(u64::from(months)));
    match (kilometres.map(number::kilometres), months) {
        (Some(distance), Some(months)) => Some(sentence::next_due_interval(distance, months)),
        (Some(distance), None) => Some(sentence::next_due_distance_alone(distance)),
        (None, months) => months,
    }
}

/// What the temperatures make of the distance, with the assumption that this stands on.
fn by_temperatures(due: &NextDue, ageing: &Ageing<'_>, word: Option<LoadWord>) -> Vec<Sentence> {
    let Some((_, basis)) = due.kilometres else { return Vec::new() };
    let factor = number::fixed(ageing.mean_factor, 2);
    let by = match basis {
        Basis::Temperatures { .. } => sentence::next_due_temperatures(factor, ageing.reference()),
        _ => sentence::next_due_temperatures_idle(factor, ageing.reference()),
    };
    let mut said = vec![by, sentence::next_due_assumed(ageing.assumption())];
    if basis == Basis::Workshop && due.caveats.contains(&Caveat::MakerNotStated) {
        said.push(sentence::next_due_load_not_longer());
    }
    if let Some(word) = word.filter(|word| *word != LoadWord::Ordinary) {
        said.push(sentence::next_due_temperatures_not_load(sentence::load_word(word.word())));
    }
    said
}

/// What the load word makes of the distance.
fn by_word(
    context: &Context<'_>,
    due: &NextDue,
    word: Option<LoadWord>,
    factor: Option<f64>,
) -> Option<Sentence> {
    let word = word.filter(|word| *word != LoadWord::Ordinary || factor.is_some())?;
    let load = sentence::load_word(word.word());
    match (due.kilometres?.1, factor) {
        (Basis::LoadWord { factor }, _) => {
            let source = context.workshop().load_factors.as_ref().map_or("", |stated| &stated.source);
            let whole = context.workshop().service_interval_kilometres.as_ref()?.value;
            let [used, whole] = [whole * factor, whole].map(number::kilometres);
            Some(sentence::next_due_load(number::fixed(factor, 2), load, source, used, whole))
        }
        (Basis::Workshop, Some(factor)) if factor > 1.0 && due.caveats.contains(&Caveat::MakerNotStated) => {
            Some(sentence::next_due_load_not_longer())
        }
        (Basis::Workshop, None) => Some(sentence::next_due_load_unknown(load)),
        _ => None,
    }
}
