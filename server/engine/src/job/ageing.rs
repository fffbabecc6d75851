//! How fast the fluid of this vehicle ages, by the temperatures that the control unit kept and by what the workshop
//! assumes.
//!
//! Without such temperatures there is none of it: no distance is weighted by a guess. The next due date and the distance
//! of the condition call it and say the assumption beside their figure. Never here: a measurement of the fluid.

use super::{Context, Folded};
use crate::catalogue::AgeingSettings;
use crate::formula::ageing::Histogram;
use crate::formula::next_due::Load;
use crate::kind::fault_codes::FaultCodes;
use crate::quantity::Celsius;
use crate::text::{Sentence, number, sentence};

/// So much hotter than the reference is said what the assumption means, in K.
const STEP_KELVIN: f64 = 10.0;

/// The ageing over the distance that was driven.
pub(super) struct Ageing<'a> {
    /// Mean rate over the distance, as a multiple of that at the reference temperature.
    pub mean_factor: f64,
    /// The entry that states the temperatures.
    pub seq: u64,
    driven: Histogram,
    settings: &'a AgeingSettings,
    hotter: Celsius,
    step_factor: f64,
}

impl<'a> Ageing<'a> {
    /// Reads it from the temperatures that were stated last.
    pub(super) fn of(context: &'a Context<'_>, folded: &Folded) -> Option<Self> {
        let read = folded.each::<FaultCodes>().rfind(|(_, read)| !read.temperature_shares.is_empty());
        let (stated, read) = read?;
        let driven = Histogram::new(&read.temperature_shares)?;
        let settings = &context.workshop().ageing;
        let hotter = Celsius::new(settings.reference.get() + STEP_KELVIN).ok()?;
        Some(Self {
            mean_factor: driven.mean_factor(settings.assumption(), settings.reference)?,
            seq: stated.seq,
            driven,
            settings,
            hotter,
            step_factor: settings.assumption().acceleration(hotter, settings.reference)?,
        })
    }

    /// As the next due date takes it.
    pub(super) fn load(&self) -> Load {
        Load::Temperatures {
            driven: self.driven.clone(),
            reference: self.settings.reference,
            assumption: self.settings.assumption(),
        }
    }

    /// The reference temperature.
    pub(super) fn reference(&self) -> String {
        number::with_unit(&number::plain(self.settings.reference.get()), Celsius::UNIT)
    }

    /// What is assumed, in words that go on in a sentence.
    pub(super) fn assumption(&self) -> Sentence {
        let energy = number::plain(self.settings.activation_energy_kilojoules_per_mole);
        sentence::ageing_assumption(
            number::with_unit(&energy, "kJ/mol"),
            number::fixed(self.step_factor, 2),
            number::with_unit(&number::plain(self.hotter.get()), Celsius::UNIT),
            self.reference(),
            &self.settings.source,
        )
    }
}
