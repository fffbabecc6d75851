//! Fluid in and out: every amount in litres at 15 °C with its uncertainty, and what the difference says.
//!
//! Amounts keep the temperature they were measured at, or the workshop's stated one where nobody
//! measured it. Nothing is guessed: where what came out was not measured, there is no difference.

mod meaning;
mod refill;
mod tallied;

pub(super) use meaning::{ARRIVED_OFF_LITRES, arrived_short, at_bay, findings};
pub(super) use refill::figure as refill_figure;
pub(crate) use tallied::tallied;

use super::fold::{Folded, Stated};
use super::{Context, Identity};
use crate::amount::{Amount, Fluid, InstrumentLimits, Read};
use crate::formula::balance::{Term, sum};
use crate::formula::volume::density_at;
use crate::kind::drain::Drain;
use crate::kind::exchange_reading::ExchangeReading;
use crate::kind::fill::Fill;
use crate::kind::level_check::LevelCheck;
use crate::kind::temperature_reading::TemperatureReading;
use crate::kind::words::{DrainedFrom, FillPurpose, Means, TemperatureMeans, TemperatureOf};
use crate::quantity::{Celsius, Estimate, KilogramsPerCubicMetre};
use crate::site::display::{self, DisplayCheck};
use crate::text::{Sentence, sentence};
use crate::view::{BalanceRow, BalanceView};

/// How far a measured fluid temperature may be off, in °C: a limit (common practice, no source).
const THERMOMETER_LIMIT_CELSIUS: f64 = 3.0;
/// Relative standard uncertainty of the density of used fluid (common practice, no source).
const USED_DENSITY_RELATIVE: f64 = 0.01;

/// How much less than drained may be refilled before the refill counts as done, in L: a dry pump ruins the
/// transmission (common practice, no source).
pub(crate) const REFILL_SHORT_LITRES: f64 = 0.5;

/// What is carried out with parts of a pan that is opened, in L: the variant's own, else the workshop's usual litres.
pub(super) fn carried_out(context: &Context<'_>, identity: &Identity) -> Estimate {
    let own = identity.variant.as_ref().and_then(|variant| variant.carried_out_litres);
    own.unwrap_or_else(|| context.workshop().carried_out_litres.estimate())
}

/// One amount in litres at 15 °C, with the words and the instrument it came by.
#[derive(Debug, Clone)]
pub(super) struct Measured {
    /// The entry that stated it, by its place in the journal.
    pub seq: u64,
    /// Litres at 15 °C.
    pub litres: Estimate,
    jug: Option<f64>,
    as_read: String,
    means: Option<Means>,
}

/// Number of the bay's jug among the instruments of a sum.
const JUG: u32 = 1;

/// Every amount of a job in litres at 15 °C.
#[derive(Debug, Clone, Default)]
pub(super) struct Measures {
    /// Pushed in during the exchange.
    pub pushed: Vec<Measured>,
    /// Came out during the exchange.
    pub came_out: Vec<Measured>,
    /// Drained from the pan.
    pub pan: Vec<Measured>,
    /// Spilled or taken as a sample.
    pub lost: Vec<Measured>,
    /// Refilled after the pan.
    pub refilled: Vec<Measured>,
    /// Added at the level check.
    pub added: Vec<Measured>,
    /// Caught at the overflow.
    pub overflow: Vec<Measured>,
    /// Carried out with parts, where the pan was opened.
    pub carried_out: Option<Estimate>,
}

impl Measures {
    /// Turns every amount of the facts into litres at 15 °C.
    pub fn of(context: &Context<'_>, folded: &Folded, identity: &Identity) -> Self {
        let converter = Converter::of(context, folded, identity);
        let mut measures = Self::default();
        if let Some((stated, reading)) = super::exchange::latest(folded) {
            measures.pushed.extend(converter.fresh(stated, &reading.pushed_in, None));
            // What came out is told by the reading that ends the litres in; an earlier one would leave litres out.
            let out = reading.came_out.as_ref();
            measures
                .came_out
                .extend(out.and_then(|out| converter.hot(stated, out, reading.temperature_celsius)));
        }
        for (stated, drain) in folded.each::<Drain>() {
            let measured = converter.used(stated, &drain.amount, drain.temperature_celsius);
            match drain.place {
                Some(DrainedFrom::Pan) => measures.pan.extend(measured),
                _ => measures.lost.extend(measured),
            }
        }
        for (stated, fill) in folded.each::<Fill>() {
            let measured = converter.fresh(stated, &fill.amount, fill.temperature_celsius);
            match fill.purpose {
                Some(FillPurpose::Refill) => measures.refilled.extend(measured),
                _ => measures.added.extend(measured),
            }
        }
        for (stated, check) in folded.each::<LevelCheck>() {
            let caught = check.caught.as_ref();
            measures
                .overflow
                .extend(caught.and_then(|caught| converter.hot(stated, caught, Some(check.celsius))));
        }
        if !measures.pan.is_empty() {
            measures.carried_out = Some(carried_out(context, identity));
        }
        measures
    }

    /// Sum of some amounts; what one jug or one display measured errs in one direction.
    pub fn sum(&self, amounts: &[Measured]) -> Estimate {
        sum(&amounts.iter().map(|amount| amount.term(true)).collect::<Vec<_>>())
    }

    /// Whether what ran out of the pan was refilled, but for [`REFILL_SHORT_LITRES`].
    pub fn is_refilled(&self) -> bool {
        let short = self.sum(&self.pan).value - self.sum(&self.refilled).value;
        !self.refilled.is_empty() && short <= REFILL_SHORT_LITRES
    }

    /// Whether a display showed all that came out in the exchange.
    pub fn is_out_by_display(&self) -> bool {
        self.came_out.iter().all(|out| out.means == Some(Means::Display))
    }

    /// Litres that came out for each litre pushed in; absent where either was not measured.
    pub fn out_for_in(&self) -> Option<f64> {
        let (pushed, out) = (self.sum(&self.pushed).value, self.sum(&self.came_out).value);
        (!self.came_out.is_empty() && pushed > 0.0).then(|| out / pushed)
    }

    /// The entries that the balance rests on, by their place in the journal.
    pub fn seqs(&self) -> Vec<u64> {
        let amounts = [
            &self.pushed,
            &self.came_out,
            &self.pan,
            &self.lost,
            &self.refilled,
            &self.added,
            &self.overflow,
        ];
        let mut seqs: Vec<u64> = amounts.into_iter().flatten().map(|amount| amount.seq).collect();
        seqs.sort_unstable();
        seqs.dedup();
        seqs
    }

    /// Pushed in minus came out in the exchange; absent where either was not measured.
    pub fn surplus(&self) -> Option<Estimate> {
        if self.pushed.is_empty() || self.came_out.is_empty() {
            return None;
        }
        // Two counters count the two amounts. What the check of their display gives both in common is not taken out,
        // which is on the safe side.
        Some(sum(&[Term::plus(self.sum(&self.pushed)), Term::minus(self.sum(&self.came_out))]))
    }

    /// What came out and was collected; absent when nothing was.
    pub fn collected(&self) -> Option<Estimate> {
        let out = [&self.came_out, &self.pan, &self.lost, &self.overflow];
        let terms: Vec<Term> =
            out.iter().flat_map(|amounts| amounts.iter()).map(|amount| amount.term(true)).collect();
        (!terms.is_empty()).then(|| sum(&terms))
    }

    fn sums(&self) -> (Estimate, Estimate, Estimate) {
        let went_in = [&self.pushed, &self.refilled, &self.added];
        let came_out = [&self.came_out, &self.pan, &self.lost, &self.overflow];
        let terms = |amounts: &[&Vec<Measured>], plus: bool| -> Vec<Term> {
            amounts.iter().flat_map(|amounts| amounts.iter()).map(|amount| amount.term(plus)).collect()
        };
        let carried = self.carried_out.map(Term::minus);
        let total_in = sum(&terms(&went_in, true));
        let mut out = terms(&came_out, true);
        out.extend(self.carried_out.map(Term::plus));
        let total_out = sum(&out);
        let mut all = terms(&went_in, true);
        all.extend(terms(&came_out, false));
        all.extend(carried);
        (total_in, total_out, sum(&all))
    }
}

impl Measured {
    /// The term of a sum. The jug's error is what several amounts have in common, so that it cancels
    /// between what was drained and what was refilled.
    fn term(&self, plus: bool) -> Term {
        let of = |estimate| if plus { Term::plus(estimate) } else { Term::minus(estimate) };
        match self.jug {
            None => of(self.litres),
            Some(jug) => {
                let own = (self.litres.standard_uncertainty.powi(2) - jug.powi(2)).max(0.0).sqrt();
                of(Estimate { standard_uncertainty: own, ..self.litres }).sharing(JUG, jug)
            }
        }
    }

    fn row(&self, label: fn(String) -> Sentence, plain: fn() -> Sentence) -> BalanceRow {
        let weighed = self.means == Some(Means::Scale);
        let label = if weighed { label(self.as_read.clone()) } else { plain() };
        BalanceRow { label, litres: self.litres }
    }
}

/// What is known of the fluids of this job.
struct Converter {
    limits: InstrumentLimits,
    density: Estimate,
    fresh_celsius: Estimate,
    display: Option<DisplayCheck>,
    hot_celsius: Estimate,
    drained_celsius: Estimate,
}

impl Converter {
    fn of(context: &Context<'_>, folded: &Folded, identity: &Identity) -> Self {
        let workshop = context.workshop();
        let read = |of: TemperatureOf| {
            folded
                .each::<TemperatureReading>()
                .rfind(|(_, reading)| {
                    reading.of == Some(of) && reading.means != Some(TemperatureMeans::Infrared)
                })
                .map(|(_, reading)| thermometer(reading.celsius))
        };
        let drained = workshop.drained_fluid_celsius.estimate();
        let variant = identity.variant.as_ref();
        Self {
            limits: InstrumentLimits {
                display: workshop.display_error_limit.value,
                jug_litres: workshop.jug_error_limit_litres.value,
                scale_kilograms: workshop.scale_error_limit_kilograms.value,
            },
            density: variant
                .map_or_else(|| workshop.fluid_density.estimate(), |variant| variant.density_15_celsius),
            fresh_celsius: read(TemperatureOf::FreshFluid)
                .unwrap_or_else(|| workshop.new_fluid_celsius.estimate()),
            display: display::of_job(context, folded).and_then(DisplayCheck::valid),
            // The transmission's temperature is read for the level, when it has cooled; it is not that of the exchange.
            hot_celsius: drained,
            drained_celsius: read(TemperatureOf::DrainedFluid).unwrap_or(drained),
        }
    }

    fn fresh(&self, stated: &Stated, amount: &Amount, celsius: Option<f64>) -> Option<Measured> {
        self.corrected(stated, amount, celsius, self.fresh_celsius, self.density)
    }

    fn hot(&self, stated: &Stated, amount: &Amount, celsius: Option<f64>) -> Option<Measured> {
        self.corrected(stated, amount, celsius, self.hot_celsius, self.used_density())
    }

    /// Litres of a display that was checked: a known error is corrected (JCGM 100:2008, 3.2.3), in both of its figures;
    /// what stays uncertain is the check.
    fn corrected(
        &self,
        stated: &Stated,
        amount: &Amount,
        celsius: Option<f64>,
        otherwise: Estimate,
        density: Estimate,
    ) -> Option<Measured> {
        let check = self.display.as_ref().filter(|_| amount.means() == Some(Means::Display));
        let Some(check) = check else {
            return self.convert(stated, amount, celsius, otherwise, density);
        };
        let limits = InstrumentLimits { display: check.limit(), ..self.limits };
        let own = Self { limits, display: None, ..*self };
        let measured = own.convert(stated, amount, celsius, otherwise, density)?;
        Some(Measured { litres: measured.litres.scaled(check.ratio.value), ..measured })
    }

    fn used(&self, stated: &Stated, amount: &Amount, celsius: Option<f64>) -> Option<Measured> {
        self.convert(stated, amount, celsius, self.drained_celsius, self.used_density())
    }

    /// Litres at 15 °C as litres of fresh fluid at its own temperature.
    fn as_fresh(&self, litres_15: f64) -> Option<f64> {
        let density = KilogramsPerCubicMetre::new(self.density.value).ok()?;
        let celsius = Celsius::new(self.fresh_celsius.value).ok()?;
        Some(litres_15 * density.get() / density_at(density, celsius))
    }

    fn used_density(&self) -> Estimate {
        let u = self.density.standard_uncertainty.hypot(self.density.value * USED_DENSITY_RELATIVE);
        Estimate::known(self.density.value, u)
    }

    fn convert(
        &self,
        stated: &Stated,
        amount: &Amount,
        celsius: Option<f64>,
        otherwise: Estimate,
        density: Estimate,
    ) -> Option<Measured> {
        let celsius = celsius.map_or(otherwise, thermometer);
        let litres = amount.litres_15(&Fluid { celsius, density_15_celsius: density }, &self.limits)?;
        let jug = amount.jug_uncertainty(&self.limits);
        Some(Measured {
            seq: stated.seq,
            litres,
            jug,
            as_read: amount.as_read().to_owned(),
            means: amount.means(),
        })
    }
}

fn thermometer(celsius: f64) -> Estimate {
    Estimate::within(celsius, THERMOMETER_LIMIT_CELSIUS)
}

/// Reads the balance from the facts; absent when nothing was measured.
pub(super) fn of(folded: &Folded, identity: &Identity, measures: &Measures) -> Option<BalanceView> {
    let mut went_in = Vec::new();
    let mut came_out = Vec::new();
    let add = |rows: &mut Vec<BalanceRow>,
               amounts: &[Measured],
               label: fn(String) -> Sentence,
               plain: fn() -> Sentence| {
        rows.extend(amounts.iter().map(|amount| amount.row(label, plain)));
    };
    add(&mut went_in, &measures.pushed, sentence::balance_pushed_weighed, sentence::balance_pushed);
    add(&mut went_in, &measures.refilled, sentence::balance_refilled_weighed, sentence::balance_refilled);
    add(&mut went_in, &measures.added, sentence::balance_added_weighed, sentence::balance_added);
    add(&mut came_out, &measures.came_out, sentence::balance_came_out_weighed, sentence::balance_came_out);
    add(&mut came_out, &measures.pan, sentence::balance_drained_weighed, sentence::balance_drained);
    add(&mut came_out, &measures.lost, sentence::balance_lost_weighed, sentence::balance_lost);
    if identity.has_dipstick() {
        add(&mut came_out, &measures.overflow, sentence::balance_taken_weighed, sentence::balance_taken);
    } else {
        add(
            &mut came_out,
            &measures.overflow,
            sentence::balance_overflow_weighed,
            sentence::balance_overflow,
        );
    }
    if went_in.is_empty() && came_out.is_empty() {
        return None;
    }
    if let Some(carried) = measures.carried_out {
        came_out.push(BalanceRow { label: sentence::balance_carried_out(), litres: carried });
    }
    let (total_in, total_out, difference) = measures.sums();
    let unmeasured = !measures.pushed.is_empty() && measures.came_out.is_empty();
    let unfinished = went_in.is_empty()
        || came_out.is_empty()
        || (!measures.pan.is_empty() && measures.refilled.is_empty());
    let complete = !unmeasured && !unfinished;
    let mut view = BalanceView {
        went_in,
        came_out,
        total_in,
        total_out,
        difference: complete.then_some(difference),
        remarks: Vec::new(),
        arrived: None,
        unexplained: None,
        normalised_difference: None,
    };
    match (unmeasured, unfinished) {
        (true, _) => view.remarks.push(sentence::balance_out_not_measured()),
        (false, true) => view.remarks.push(sentence::balance_unfinished()),
        (false, false) => meaning::say(&mut view, difference, meaning::state(folded, identity)),
    }
    Some(view)
}

/// What a reading of the exchange shows as in minus out, in litres at 15 °C; absent where it shows only one of them.
pub(super) fn surplus_at(
    context: &Context<'_>,
    folded: &Folded,
    identity: &Identity,
    (stated, reading): (&Stated, &ExchangeReading),
) -> Option<Estimate> {
    let converter = Converter::of(context, folded, identity);
    let out = converter.hot(stated, reading.came_out.as_ref()?, reading.temperature_celsius)?;
    let pushed = converter.fresh(stated, &reading.pushed_in, None)?;
    Some(sum(&[pushed.term(true), out.term(false)]))
}

/// What came out and was collected, for the waste: where the reading of the most litres shows none that came out, those
/// of the last one that does.
pub(super) fn collected(context: &Context<'_>, folded: &Folded, identity: &Identity) -> Option<Estimate> {
    let mut measures = Measures::of(context, folded, identity);
    if measures.came_out.is_empty() {
        let readings = super::exchange::by_litres(folded);
        let shown = readings
            .iter()
            .rev()
            .find_map(|(stated, reading)| Some((*stated, reading, reading.came_out.as_ref()?)));
        let converter = Converter::of(context, folded, identity);
        measures.came_out.extend(
            shown.and_then(|(stated, reading, out)| converter.hot(stated, out, reading.temperature_celsius)),
        );
    }
    measures.collected()
}

/// What is left to refill of what ran out of the pan, as it is measured now; absent when nothing is. What was
/// weighed is weighed; a volume that ran out hot is less when it is fresh and cold.
pub(super) fn to_refill(context: &Context<'_>, folded: &Folded, identity: &Identity) -> Option<Amount> {
    let drains = folded.each::<Drain>().filter(|(_, drain)| drain.place == Some(DrainedFrom::Pan));
    let drained: Vec<&Amount> = drains.map(|(_, drain)| &drain.amount).collect();
    let fills = folded.each::<Fill>().filter(|(_, fill)| fill.purpose == Some(FillPurpose::Refill));
    let filled: Vec<&Amount> = fills.map(|(_, fill)| &fill.amount).collect();
    let mass = |amounts: &[&Amount]| -> Option<f64> {
        let weighed = amounts.iter().map(|amount| match amount.read() {
            Read::Kilograms(kilograms) => Some(kilograms),
            Read::Litres(_) => None,
        });
        weighed.sum()
    };
    let left = match (drained.as_slice(), filled.as_slice()) {
        ([], _) => return None,
        ([only], []) if mass(&drained).is_some() => return Some((*only).clone()),
        _ => match mass(&drained).zip(mass(&filled)) {
            Some((drained, filled)) => Read::Kilograms(rounded(drained - filled, 2)),
            None => {
                let measures = Measures::of(context, folded, identity);
                let cold = measures.sum(&measures.pan).value - measures.sum(&measures.refilled).value;
                Read::Litres(rounded(Converter::of(context, folded, identity).as_fresh(cold)?, 1))
            }
        },
    };
    let amount = Amount::new(left, None, None);
    matches!(left, Read::Litres(left) | Read::Kilograms(left) if left > 0.0).then_some(amount)
}

fn rounded(value: f64, decimals: i32) -> f64 {
    let parts = 10.0_f64.powi(decimals);
    (value * parts).round() / parts
}

/// The last drain of the pan.
pub(super) fn drained_from_pan(folded: &Folded) -> Option<(&Stated, &Drain)> {
    folded.each::<Drain>().rfind(|(_, drain)| drain.place == Some(DrainedFrom::Pan))
}
