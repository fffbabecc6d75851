//! An amount of fluid as it was read, and the litres at 15 °C that it stands for.
//!
//! Volume or mass, its resolution from the last digit typed, how it was measured. Never here: what
//! an amount means for a job. Kinds make amounts; the balance and the exchange turn them into litres.

use crate::formula::volume::{volume_at_15, volume_at_15_from_mass};
use crate::kind::words::Means;
use crate::quantity::{Estimate, KilogramsPerCubicMetre};
use crate::text::number;
use standpipe_proto::typed::{self, Quantity};

/// The number that was read.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Read {
    /// A volume at the temperature of the fluid, in L.
    Litres(f64),
    /// A mass, in kg.
    Kilograms(f64),
}

/// An amount of fluid as it was read.
#[derive(Debug, Clone, PartialEq)]
pub struct Amount {
    read: Read,
    resolution: f64,
    shown: String,
    means: Option<Means>,
}

/// What is known of the fluid when its amount is turned into litres at 15 °C.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Fluid {
    /// Its temperature when a volume was read, in °C.
    pub celsius: Estimate,
    /// Its density at 15 °C, in kg/m³.
    pub density_15_celsius: Estimate,
}

/// How far instruments may be off: limits of rectangular distributions.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct InstrumentLimits {
    /// The litre display of the exchange equipment, as a part of the reading.
    pub display: f64,
    /// A measuring jug, in L whatever the amount.
    pub jug_litres: f64,
    /// A scale, in kg whatever the load.
    pub scale_kilograms: f64,
}

/// Filling of sealed containers, as a part of the amount (common practice, no source).
const CONTAINERS: f64 = 0.01;
/// An estimate by eye, as a part of the amount (common practice, no source).
const ESTIMATE: f64 = 0.2;
/// A jug or display that nobody named is taken as a jug, since that is what stands in every bay.
const UNSTATED: Means = Means::Jug;

/// Resolution taken for a number that no person typed: what a display with one decimal shows.
const RESOLUTION_UNTYPED: f64 = 0.1;

impl Amount {
    /// An amount with the text that was typed for it. A text that says another number than the
    /// message is not believed: the message counts and its resolution is taken as one decimal.
    #[must_use]
    pub fn new(read: Read, typed_text: Option<&str>, means: Option<Means>) -> Self {
        let (value, quantity) = match read {
            Read::Litres(litres) => (litres, Quantity::Volume),
            Read::Kilograms(kilograms) => (kilograms, Quantity::Mass),
        };
        let typed = typed_text
            .and_then(|text| typed::read(text, quantity).ok())
            .filter(|typed| (typed.value - value).abs() <= 1e-9 * value.abs().max(1.0));
        let (resolution, shown) = match typed {
            Some(typed) => (typed.resolution, typed.understood),
            None => (RESOLUTION_UNTYPED, plain(read)),
        };
        Self { read, resolution, shown, means }
    }

    /// The amount as it was read, with its unit.
    #[must_use]
    pub fn as_read(&self) -> &str {
        &self.shown
    }

    /// The number as it was read.
    #[must_use]
    pub fn read(&self) -> Read {
        self.read
    }

    /// True when it is nothing at all.
    #[must_use]
    pub fn is_zero(&self) -> bool {
        matches!(self.read, Read::Litres(amount) | Read::Kilograms(amount) if amount == 0.0)
    }

    /// How it was measured.
    #[must_use]
    pub fn means(&self) -> Option<Means> {
        self.means
    }

    /// Litres at 15 °C with the standard uncertainty from resolution, instrument, temperature and
    /// density; absent when the density lies outside what a fluid can have.
    #[must_use]
    pub fn litres_15(&self, fluid: &Fluid, limits: &InstrumentLimits) -> Option<Estimate> {
        let density = KilogramsPerCubicMetre::new(fluid.density_15_celsius.value).ok()?;
        Some(match self.read {
            Read::Litres(litres) => {
                let read = Estimate::known(litres, self.reading_uncertainty(litres, limits));
                volume_at_15(read, fluid.celsius, density)
            }
            Read::Kilograms(kilograms) => {
                let u = rectangular(self.resolution / 2.0).hypot(rectangular(limits.scale_kilograms));
                volume_at_15_from_mass(Estimate::known(kilograms, u), fluid.density_15_celsius)
            }
        })
    }

    /// The part of the uncertainty that the bay's jug has in common with its other readings, in L;
    /// absent for other instruments, which measure one amount of a job each.
    #[must_use]
    pub fn jug_uncertainty(&self, limits: &InstrumentLimits) -> Option<f64> {
        let by_jug = matches!(self.means.unwrap_or(UNSTATED), Means::Jug | Means::Scale);
        (by_jug && matches!(self.read, Read::Litres(_))).then(|| rectangular(limits.jug_litres))
    }

    /// Standard uncertainty of a volume reading, in L: resolution and instrument.
    fn reading_uncertainty(&self, litres: f64, limits: &InstrumentLimits) -> f64 {
        let limit = match self.means.unwrap_or(UNSTATED) {
            Means::Display => limits.display * litres,
            // A volume from a scale was worked out by a person from a mass; a jug is no better.
            Means::Jug | Means::Scale => limits.jug_litres,
            Means::Containers => CONTAINERS * litres,
            Means::Estimate => ESTIMATE * litres,
        };
        rectangular(self.resolution / 2.0).hypot(rectangular(limit))
    }
}

/// Standard uncertainty of a value known only to lie within `limit` (JCGM 100:2008, 4.3.7).
fn rectangular(limit: f64) -> f64 {
    limit / 3.0_f64.sqrt()
}

fn plain(read: Read) -> String {
    let decimals = |value: f64| if (value * 10.0).fract().abs() < 1e-9 { 1 } else { 2 };
    match read {
        Read::Litres(litres) => number::litres(litres, decimals(litres)),
        Read::Kilograms(kilograms) => number::kilograms(kilograms, decimals(kilograms)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const LIMITS: InstrumentLimits =
        InstrumentLimits { display: 0.03, jug_litres: 0.05, scale_kilograms: 0.01 };

    fn fluid(celsius: f64) -> Fluid {
        Fluid { celsius: Estimate::known(celsius, 2.0), density_15_celsius: Estimate::known(850.0, 4.0) }
    }

    #[test]
    fn a_weighed_amount_needs_no_temperature() {
        let amount = Amount::new(Read::Kilograms(3.05), Some("3.05 kg"), Some(Means::Scale));
        let cold = amount.litres_15(&fluid(20.0), &LIMITS).unwrap();
        let hot = amount.litres_15(&fluid(90.0), &LIMITS).unwrap();
        assert_eq!(cold, hot);
        assert!((cold.value - 3.05 / 0.850).abs() < 1e-12);
    }

    #[test]
    fn a_hot_volume_shrinks_to_15_degrees() {
        // API MPMS 11.1, form of Table 54D (1980): density 850 kg/m³, 60 °C, VCF15 0.9664553.
        let amount = Amount::new(Read::Litres(10.0), Some("10.0 L"), Some(Means::Jug));
        let litres = amount.litres_15(&fluid(60.0), &LIMITS).unwrap();
        assert!((litres.value - 9.664_553).abs() < 5e-7);
    }

    #[test]
    fn the_last_digit_typed_makes_the_resolution() {
        let coarse = Amount::new(Read::Litres(4.0), Some("4 L"), Some(Means::Containers));
        let fine = Amount::new(Read::Litres(4.0), Some("4.00 L"), Some(Means::Containers));
        let u = |amount: &Amount| amount.litres_15(&fluid(20.0), &LIMITS).unwrap().standard_uncertainty;
        assert!(u(&coarse) > 3.0 * u(&fine));
    }

    #[test]
    fn a_typed_text_that_says_another_number_is_not_believed() {
        let amount = Amount::new(Read::Litres(4.0), Some("5.000 L"), None);
        assert_eq!((amount.as_read(), amount.resolution), ("4.0\u{a0}L", RESOLUTION_UNTYPED));
    }
}
