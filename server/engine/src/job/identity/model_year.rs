//! Which model year the vehicle is, as far as VIN and papers tell: a sentence for the expert's page.
//!
//! The date of first registration settles it where the VIN leaves a choice. Nothing waits for it.

use super::Identity;
use crate::formula::vin::{Area, Vin, light_vehicle_model_year, model_years};
use crate::job::Context;
use crate::job::fold::{Folded, tells};
use crate::kind::arrival::Arrival;
use crate::text::sentence;

/// A vehicle is sold some months before its model year begins, or stands for a while (common practice, no source).
const YEARS_APART: u16 = 1;

impl Identity {
    /// Adds what can be said of the model year.
    pub(super) fn say_model_year(&mut self, context: &Context<'_>, folded: &Folded, vin: &Vin) {
        let Some(candidates) = model_years(vin) else { return };
        let latest = context.year(context.as_of_us).saturating_add(YEARS_APART);
        let possible: Vec<u16> = candidates.into_iter().filter(|year| *year <= latest).collect();
        let code = vin.as_str().get(9..10).unwrap_or_default();
        let tells_year = vin.area() == Some(Area::NorthAmerica);
        let by_vin = light_vehicle_model_year(vin).filter(|year| possible.contains(year));
        let arrivals = folded.each::<Arrival>();
        let registered = arrivals.rev().find_map(|(stated, arrival)| {
            let year = u16::try_from(arrival.first_registered?.year()).ok()?;
            Some((stated.seq, year, arrival.first_registered_in_words()?))
        });
        let Some((seq, year, day)) = registered else {
            self.sentences.extend(match (by_vin, possible.as_slice()) {
                (Some(year), _) => Some(sentence::identity_year_light(year.to_string())),
                (None, []) => None,
                // Elsewhere the place need not hold a year at all: what it could mean is said, never what it must.
                (None, [only]) if tells_year => Some(sentence::identity_year_one(code, only.to_string())),
                (None, years) => Some(sentence::identity_years(code, listed(years))),
            });
            return;
        };
        let near = |candidate: &u16| candidate.abs_diff(year) <= YEARS_APART;
        match by_vin.filter(near).or_else(|| possible.iter().copied().find(near)) {
            Some(settled) => {
                self.sentences.push(sentence::identity_year_registered(day, settled.to_string()))
            }
            None if possible.is_empty() => {}
            None if !tells_year => self.sentences.push(sentence::identity_year_first_registered(&day)),
            None => {
                self.sentences.push(sentence::identity_year_first_registered(&day));
                let text = sentence::identity_year_contradicts(code, day, listed(&possible));
                self.findings.push(tells(text, [seq]));
            }
        }
    }
}

fn listed(years: &[u16]) -> String {
    let years: Vec<String> = years.iter().map(ToString::to_string).collect();
    years.join(" or ")
}
