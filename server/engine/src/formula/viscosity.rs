//! Kinematic viscosity between and beyond two measured temperatures.
//!
//! A laboratory measures at 40 and 100 °C, a data sheet sometimes elsewhere; two results are compared at one
//! temperature only. Nothing here measures or judges. The laboratory letter and the view call it.

use crate::quantity::Celsius;

/// Zero of the Celsius scale in K.
pub(super) const KELVIN_OFFSET: f64 = 273.15;

/// Greatest viscosity of both forms, in mm²/s (ASTM D341-20, section 1).
const GREATEST: f64 = 2.0e7;

/// Coefficients (constant, slope in s/mm²) of the terms C to H of the extended form, in order of their signs.
///
/// Source: ASTM D341-20, section 5, read in three public files. A fourth prints 37.6289 in F too: a slip.
const TERMS: [(f64, f64, f64); 6] = [
    (1.0, -1.14883, 2.65868),
    (-1.0, -0.0038138, 12.5645),
    (1.0, 5.46491, 37.6289),
    (-1.0, 13.0458, 74.6851),
    (1.0, 37.4619, 192.643),
    (-1.0, 80.4945, 400.468),
];

/// Which form of the standard a line follows.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Form {
    /// `Z = ν + 0.7`, for 2 to 2 × 10⁷ mm²/s: any usual transmission fluid.
    Simple,
    /// `Z = ν + 0.7 + C - D + E - F + G - H`, for 0.21 to 2 × 10⁷ mm²/s.
    Extended,
}

impl Form {
    /// Least viscosity of the form, in mm²/s.
    #[must_use]
    pub const fn least(self) -> f64 {
        match self {
            Self::Simple => 2.0,
            Self::Extended => 0.21,
        }
    }

    /// `Z` of a viscosity, in mm²/s.
    ///
    /// `Z = ν + 0.7`, in the extended form with `C = exp(-1.14883 - 2.65868 ν)`,
    /// `D = exp(-0.0038138 - 12.5645 ν)`, `E = exp(5.46491 - 37.6289 ν)`, `F = exp(13.0458 - 74.6851 ν)`,
    /// `G = exp(37.4619 - 192.643 ν)`, `H = exp(80.4945 - 400.468 ν)`
    ///
    /// * `viscosity` – ν in mm²/s, from the least of the form
    ///
    /// # Source
    /// ASTM D341-20, section 5.
    ///
    /// # Example
    /// ```
    /// use standpipe_engine::formula::viscosity::Form;
    /// // Computed: Z(1.5) = 2.20587616.
    /// assert!((Form::Extended.z(1.5) - 2.205_876_16).abs() < 5e-9);
    /// ```
    #[must_use]
    pub fn z(self, viscosity: f64) -> f64 {
        let simple = viscosity + 0.7;
        match self {
            Self::Simple => simple,
            Self::Extended => TERMS
                .iter()
                .fold(simple, |z, (sign, constant, slope)| z + sign * (constant - slope * viscosity).exp()),
        }
    }

    fn inside(self, viscosity: f64) -> bool {
        (self.least()..=GREATEST).contains(&viscosity)
    }

    /// The viscosity that has this Z; nothing outside the form.
    fn viscosity_of(self, z: f64) -> Option<f64> {
        let found = match self {
            Self::Simple => z - 0.7,
            Self::Extended => bisect(|viscosity| self.z(viscosity) - z, self.least(), GREATEST)?,
        };
        self.inside(found).then_some(found)
    }
}

/// A viscosity that was computed, with the warning that belongs to it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Computed {
    /// Kinematic viscosity in mm²/s.
    pub viscosity: f64,
    /// Whether the temperature lies outside the two measured ones: there the line is only continued, and fluids
    /// with a viscosity-index improver leave it when cold.
    pub continued: bool,
}

/// The line of one fluid through two measured viscosities.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Line {
    form: Form,
    intercept: f64,
    slope: f64,
    measured: (f64, f64),
}

impl Line {
    /// The line through two measured points; nothing if they are at one temperature, if the viscosity does not
    /// fall with temperature, or if one lies outside the form.
    ///
    /// `log₁₀ log₁₀ Z = A - B log₁₀ T`, `T = t + 273.15`,
    /// `B = (W₁ - W₂) / (log₁₀ T₂ - log₁₀ T₁)`, `A = W₁ + B log₁₀ T₁`, `W = log₁₀ log₁₀ Z`
    ///
    /// * `first`, `second` – temperature in °C and viscosity in mm²/s
    ///
    /// # Source
    /// ASTM D341-20, section 5.
    ///
    /// # Example
    /// ```
    /// use standpipe_engine::{formula::viscosity::{Form, Line}, quantity::Celsius};
    /// let at = |t| Celsius::new(t).unwrap();
    /// // 32 mm²/s at 40 °C and 5.4 at 100 °C: 8.5 at 80 °C (worked sheet).
    /// let line = Line::through(Form::Simple, (at(40.0), 32.0), (at(100.0), 5.4)).unwrap();
    /// assert!((line.at(at(80.0)).unwrap().viscosity - 8.5).abs() < 0.05);
    /// ```
    #[must_use]
    pub fn through(form: Form, first: (Celsius, f64), second: (Celsius, f64)) -> Option<Self> {
        let (cold, warm) = if first.0 <= second.0 { (first, second) } else { (second, first) };
        let falls = cold.0 < warm.0 && cold.1 > warm.1;
        if !(falls && form.inside(cold.1) && form.inside(warm.1)) {
            return None;
        }
        let (cold_log, warm_log) = (log_kelvin(cold.0), log_kelvin(warm.0));
        let (cold_w, warm_w) = (form.z(cold.1).log10().log10(), form.z(warm.1).log10().log10());
        let slope = (cold_w - warm_w) / (warm_log - cold_log);
        let intercept = cold_w + slope * cold_log;
        // Two points so close that the logarithms do not tell them apart give no line.
        let usable = slope.is_finite() && slope > 0.0 && intercept.is_finite();
        usable.then_some(Self { form, intercept, slope, measured: (cold.0.get(), warm.0.get()) })
    }

    /// Intercept A and slope B of the line.
    #[must_use]
    pub const fn coefficients(&self) -> (f64, f64) {
        (self.intercept, self.slope)
    }

    /// The viscosity at a temperature, in mm²/s; nothing where it leaves the form.
    ///
    /// `ν = 10^(10^(A - B log₁₀ T)) - 0.7` (simple form; the extended one is solved for ν by bisection)
    ///
    /// # Source
    /// ASTM D341-20, section 5.
    #[must_use]
    pub fn at(&self, temperature: Celsius) -> Option<Computed> {
        let z = 10.0_f64.powf(10.0_f64.powf(self.intercept - self.slope * log_kelvin(temperature)));
        let viscosity = self.form.viscosity_of(z)?;
        let (cold, warm) = self.measured;
        let continued = !(cold..=warm).contains(&temperature.get());
        Some(Computed { viscosity, continued })
    }

    /// The temperature in °C at which the fluid has a viscosity; nothing outside the form or where no fluid runs.
    ///
    /// `t = 10^((A - log₁₀ log₁₀ Z) / B) - 273.15`
    ///
    /// * `viscosity` – ν in mm²/s
    ///
    /// # Source
    /// ASTM D341-20, section 5.
    #[must_use]
    pub fn temperature_of(&self, viscosity: f64) -> Option<Celsius> {
        if !self.form.inside(viscosity) {
            return None;
        }
        let w = self.form.z(viscosity).log10().log10();
        Celsius::new(10.0_f64.powf((self.intercept - w) / self.slope) - KELVIN_OFFSET).ok()
    }
}

fn log_kelvin(temperature: Celsius) -> f64 {
    (temperature.get() + KELVIN_OFFSET).log10()
}

/// Root of a rising function by halving, in the logarithm, to the last digit; nothing if it lies outside.
fn bisect(rising: impl Fn(f64) -> f64, least: f64, greatest: f64) -> Option<f64> {
    // One part in 10¹² is allowed at the ends, so that a bound itself is still found.
    let slack = 1e-12 * rising(greatest).abs().max(1.0);
    let holds = rising(least) <= slack && rising(greatest) >= -slack;
    if !holds {
        return None;
    }
    let (mut low, mut high) = (least, greatest);
    for _ in 0..120 {
        let middle = (low * high).sqrt();
        if rising(middle) > 0.0 {
            high = middle;
        } else {
            low = middle;
        }
    }
    Some((low * high).sqrt().clamp(least, greatest))
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn celsius(value: f64) -> Celsius {
        Celsius::new(value).unwrap()
    }

    #[test]
    fn both_forms_say_the_same_of_usual_fluids() {
        // The simple form is made for 2 mm²/s and more: there they differ by less than 0.35 % (computed).
        for (viscosity, percent) in [(0.5, 15.0), (2.0, 0.35), (5.0, 0.06)] {
            let (simple, extended) = (Form::Simple.z(viscosity), Form::Extended.z(viscosity));
            assert!((extended / simple - 1.0).abs() * 100.0 < percent, "{viscosity}: {simple} {extended}");
        }
    }

    #[test]
    fn z_of_the_extended_form_rises_all_the_way() {
        let mut before = 0.0;
        for step in 0..2000 {
            let z = Form::Extended.z(0.21 + f64::from(step) * 0.001);
            assert!(z > before, "at step {step}");
            before = z;
        }
    }

    #[test]
    fn the_known_slip_in_a_coefficient_would_be_seen() {
        // With 37.6289 in F as in one public file, Z would fall somewhere: it no longer names one viscosity.
        let wrong = |viscosity: f64| {
            Form::Extended.z(viscosity) + (13.0458 - 74.6851 * viscosity).exp()
                - (13.0458 - 37.6289 * viscosity).exp()
        };
        assert!((wrong(0.3) - Form::Extended.z(0.3)).abs() > 1.0);
    }

    #[test]
    fn no_line_through_what_cannot_be_one() {
        let line = |first, second| Line::through(Form::Simple, first, second);
        assert!(line((celsius(40.0), 30.0), (celsius(40.0), 30.0)).is_none());
        assert!(line((celsius(40.0), 5.0), (celsius(100.0), 30.0)).is_none());
        assert!(line((celsius(40.0), 30.0), (celsius(100.0), 1.9)).is_none());
        assert!(line((celsius(40.0), f64::NAN), (celsius(100.0), 5.0)).is_none());
        let usual = line((celsius(40.0), 30.0), (celsius(100.0), 6.0)).unwrap();
        assert!(usual.temperature_of(1.0).is_none() && usual.temperature_of(f64::NAN).is_none());
        assert!(usual.at(celsius(250.0)).is_none());
        assert!(usual.at(celsius(20.0)).unwrap().continued);
        assert!(!usual.at(celsius(60.0)).unwrap().continued);
    }

    proptest! {
        #[test]
        fn the_line_passes_through_both_points(
            cold in -20.0_f64..60.0, apart in 5.0_f64..90.0, warm_v in 2.0_f64..40.0, ratio in 1.05_f64..40.0,
            extended in any::<bool>(),
        ) {
            let form = if extended { Form::Extended } else { Form::Simple };
            let (first, second) = ((celsius(cold), warm_v * ratio), (celsius(cold + apart), warm_v));
            let line = Line::through(form, first, second).unwrap();
            // Either order of the points is the same line.
            prop_assert_eq!(line, Line::through(form, second, first).unwrap());
            for (temperature, viscosity) in [first, second] {
                // The least viscosity of the form may be missed by the last digit.
                if let Some(found) = line.at(temperature) {
                    prop_assert!((found.viscosity / viscosity - 1.0).abs() < 1e-9, "{found:?}");
                } else {
                    prop_assert!(viscosity < 2.0 + 1e-9);
                }
                let back = line.temperature_of(viscosity).unwrap();
                prop_assert!((back.get() - temperature.get()).abs() < 1e-7);
            }
        }

        #[test]
        fn warmer_is_always_thinner(t in -40.0_f64..140.0) {
            let line = Line::through(Form::Simple, (celsius(40.0), 30.0), (celsius(100.0), 6.0)).unwrap();
            if let (Some(here), Some(warmer)) = (line.at(celsius(t)), line.at(celsius(t + 1.0))) {
                prop_assert!(warmer.viscosity < here.viscosity);
            }
        }
    }
}
