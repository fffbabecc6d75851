//! What a difference of in and out means: within the readings, arrived short or overfull, or not explained.
//!
//! Only a level that is set says how full the vehicle arrived, and only more than half a litre beyond the uncertainty is
//! worth a word: nearly every vehicle seems to arrive some tenths short. What nobody explained is said once the job is
//! closed, or at once where no vehicle can be that far off. Degrees of freedom come through the sums and widen the
//! intervals; they are never printed.

use super::Measures;
use crate::formula::arrival::{Arrival, arrival, unexplained};
use crate::job::fold::tells;
use crate::job::{Folded, Identity, level};
use crate::kind::closing::Closing;
use crate::quantity::Estimate;
use crate::text::{Sentence, number, sentence};
use crate::view::{BalanceView, Finding};

/// A transmission that still drove in cannot be further off its level (common practice, no source).
pub(in crate::job) const ARRIVED_OFF_LITRES: f64 = 3.0;

/// How far the work is, as far as it changes what a difference means.
#[derive(Debug, Clone, Copy)]
pub(super) struct State {
    /// A look at the level counts.
    pub level_set: bool,
    /// The job is closed.
    pub closed: bool,
}

/// How far the work is.
pub(super) fn state(folded: &Folded, identity: &Identity) -> State {
    State { level_set: level::set_at(folded, identity).is_some(), closed: folded.last::<Closing>().is_some() }
}

/// Says what a difference, in minus out, means; it is complete, so nothing of it is still to come.
pub(super) fn say(view: &mut BalanceView, difference: Estimate, state: State) {
    let nothing = Estimate::known(0.0, 0.0);
    let Some(left) = unexplained(difference, nothing) else { return };
    view.normalised_difference = Some(left.normalised).filter(|normalised| normalised.is_finite());
    let size = difference.value.abs();
    let half = difference.expanded95();
    if size <= half {
        let (size, within) = (number::litres(size, 2), number::litres(half, 2));
        view.remarks.push(sentence::balance_within(size, within));
        return;
    }
    let more = if difference.value > 0.0 { "in" } else { "out" };
    let (least, greatest) = (number::fixed(size - half, 2), number::litres(size + half, 2));
    view.remarks.push(sentence::balance_clear(greatest, least, more, number::litres(size, 2)));
    let implausible = size > ARRIVED_OFF_LITRES;
    // What more went in than out was missing on arrival.
    let arrived = arrival(difference.scaled(-1.0)).filter(|_| state.level_set && !implausible);
    match arrived {
        _ if implausible => view.remarks.push(sentence::balance_implausible()),
        None => view.remarks.push(sentence::balance_meaning_open()),
        Some(Arrival::NotTold(_)) => view.remarks.push(sentence::balance_small()),
        Some(Arrival::Short(litres)) => tell(view, litres, "short", more),
        Some(Arrival::Over(litres)) => tell(view, litres, "over", more),
    }
    let open = arrived.is_none() && left.listed && (state.closed || implausible);
    view.unexplained = open.then(|| {
        let Shown { size, least, greatest } = shown(&Estimate { value: size, ..difference });
        sentence::balance_unexplained(greatest, least, more, size)
    });
}

fn tell(view: &mut BalanceView, litres: Estimate, how: &str, more: &str) {
    let Shown { size, least, greatest } = shown(&litres);
    view.arrived = Some(sentence::balance_arrived(greatest, how, least, size));
    view.remarks.push(sentence::balance_meaning(more));
}

/// Litres with their range as they are printed.
struct Shown {
    size: String,
    least: String,
    greatest: String,
}

fn shown(litres: &Estimate) -> Shown {
    let text = number::estimate(litres, (0.0, f64::INFINITY));
    let unit = |number: &str| number::with_unit(number, "L");
    Shown { size: unit(&text.value), least: text.least, greatest: unit(&text.greatest) }
}

/// What somebody should know of it: short or overfull on arrival, or not accounted for. The printed record says it
/// where it speaks of in and out.
pub(in crate::job) fn findings(view: Option<&BalanceView>, measures: &Measures) -> Vec<Finding> {
    let Some(view) = view else { return Vec::new() };
    let arrived = told(view).map(|(how, Shown { size, least, greatest })| match how {
        Arrival::Short(_) => sentence::finding_arrived_short(greatest, least, size),
        _ => sentence::finding_arrived_over(greatest, least, size),
    });
    let finding = |text| Finding { on_record: false, ..tells(text, measures.seqs()) };
    arrived.into_iter().chain(view.unexplained.clone()).map(finding).collect()
}

/// For the bay: who arrived short looks for the leak.
pub(in crate::job) fn at_bay(view: &BalanceView) -> Option<Sentence> {
    let short = told(view).filter(|(how, _)| matches!(how, Arrival::Short(_)));
    let short = short
        .map(|(_, Shown { size, least, greatest })| sentence::finding_arrived_short(greatest, least, size));
    short.or_else(|| view.arrived.clone())
}

/// For the customer, where the vehicle clearly arrived short.
pub(in crate::job) fn arrived_short(view: Option<&BalanceView>) -> Option<Sentence> {
    let (_, Shown { size, least, greatest }) =
        told(view?).filter(|(how, _)| matches!(how, Arrival::Short(_)))?;
    Some(sentence::note_arrived_short(greatest, least, size))
}

/// How full the vehicle arrived, where that was said.
fn told(view: &BalanceView) -> Option<(Arrival, Shown)> {
    view.arrived.as_ref()?;
    let how = arrival(view.difference?.scaled(-1.0))?;
    match how {
        Arrival::Short(litres) | Arrival::Over(litres) => Some((how, shown(&litres))),
        Arrival::NotTold(_) => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::text::{Language, render};

    const SET: State = State { level_set: true, closed: false };

    fn view(difference: Estimate, state: State) -> BalanceView {
        let none = Estimate::known(0.0, 0.0);
        let mut view = BalanceView {
            went_in: Vec::new(),
            came_out: Vec::new(),
            total_in: none,
            total_out: none,
            difference: Some(difference),
            remarks: Vec::new(),
            arrived: None,
            unexplained: None,
            normalised_difference: None,
        };
        say(&mut view, difference, state);
        view
    }

    fn said(sentence: &Sentence) -> String {
        render(Language::English, sentence).unwrap().replace('\u{a0}', " ")
    }

    fn all(view: &BalanceView) -> String {
        view.said().map(said).collect::<Vec<_>>().join(" ")
    }

    #[test]
    fn the_reference_job_arrived_short_by_the_computed_litres() {
        // tests/reference/gum_balance.json, initial fill: -0.55 L, u = 0.123288, normalised 2.23.
        let view = view(Estimate::known(0.55, 0.123_288), SET);
        assert_eq!(
            said(view.arrived.as_ref().unwrap()),
            "The vehicle arrived 0.55 L short (from 0.31 to 0.79 L)."
        );
        assert!((view.normalised_difference.unwrap() - 2.23).abs() < 0.005);
        assert!(view.unexplained.is_none());
        let note = arrived_short(Some(&view)).unwrap();
        assert!(said(&note).contains("0.55 L short") && said(&note).contains("have the leak looked for"));
        let findings = findings(Some(&view), &Measures::default());
        assert!(said(&findings[0].text).ends_with("look for the leak."), "{}", said(&findings[0].text));
    }

    #[test]
    fn more_out_than_in_arrived_overfull_and_nobody_looks_for_a_leak() {
        let view = view(Estimate::known(-0.8, 0.15), SET);
        assert!(all(&view).contains("overfull (from 0.51 to 1.09 L)"), "{}", all(&view));
        assert!(arrived_short(Some(&view)).is_none());
        assert!(!said(&findings(Some(&view), &Measures::default())[0].text).contains("leak"));
    }

    #[test]
    fn few_degrees_of_freedom_are_not_enough_for_a_word() {
        let known = Estimate::known(0.6, 0.25);
        assert!(view(known, SET).arrived.is_some());
        let few = view(Estimate { degrees_of_freedom: 3.0, ..known }, SET);
        assert!(few.arrived.is_none() && all(&few).contains("within the uncertainty"), "{}", all(&few));
    }

    #[test]
    fn some_tenths_are_said_to_be_too_little() {
        let view = view(Estimate::known(0.4, 0.05), SET);
        assert!(view.arrived.is_none() && view.unexplained.is_none());
        assert!(all(&view).contains("half a litre or less"), "{}", all(&view));
    }

    #[test]
    fn without_a_level_a_clear_difference_is_not_accounted_for_once_the_job_is_closed() {
        let open = State { level_set: false, closed: false };
        let clear = Estimate::known(0.9, 0.15);
        let view_open = view(clear, open);
        assert!(view_open.arrived.is_none() && view_open.unexplained.is_none());
        assert!(all(&view_open).contains("cannot be said what the difference means"));
        let view = view(clear, State { closed: true, ..open });
        let text = all(&view);
        assert!(text.contains("0.90 L (from 0.61 to 1.19 L) went in and is not accounted for"), "{text}");
        assert_eq!(findings(Some(&view), &Measures::default()).len(), 1);
    }

    #[test]
    fn what_no_vehicle_can_be_off_by_is_not_accounted_for_at_once() {
        let view = view(Estimate::known(3.6, 0.2), SET);
        assert!(view.arrived.is_none() && view.unexplained.is_some(), "{}", all(&view));
        assert!(all(&view).contains("an amount is missing or wrong"));
    }

    #[test]
    fn what_is_no_number_is_never_said() {
        for bad in
            [Estimate::known(f64::NAN, 0.1), Estimate::known(1.0, f64::INFINITY), Estimate::known(0.6, 0.0)]
        {
            let view = view(bad, SET);
            assert!(!all(&view).contains('–') && !all(&view).contains("NaN"), "{}", all(&view));
            assert!(view.normalised_difference.is_none_or(f64::is_finite));
        }
    }
}
