//! What the mean of several readings of an instrument is worth.
//!
//! Their scatter is what averaging makes smaller; what the instrument itself may be off stays as it is. The kinds whose
//! entries state means call this.

/// Standard uncertainty of a reading that is the mean of several.
///
/// `u² = u_i² + s²/n`
///
/// * `instrument` – u_i, standard uncertainty of the instrument, in the unit of the reading, 0 or more
/// * `spread` – s, standard deviation of the readings, in the same unit, 0 or more
/// * `count` – n, how many readings, 1 or more
///
/// # Source
/// JCGM 100:2008, 4.2.3 (experimental variance of the mean, equation 5) and 5.1.2 (independent parts).
///
/// # Deviation
/// The readings are taken as independent of each other; where the fluid changes while they are taken, s holds that too,
/// which makes u greater than noise alone would.
///
/// # Example
/// ```
/// use standpipe_engine::formula::mean::standard_uncertainty;
/// // JCGM 100:2008, 4.4.3 and table 1: 20 observations of a temperature, s = 1.489 °C, u = 0.333 °C.
/// assert!((standard_uncertainty(0.0, 1.489, 20) - 0.333).abs() < 0.0005);
/// ```
#[must_use]
pub fn standard_uncertainty(instrument: f64, spread: f64, count: u32) -> f64 {
    instrument.hypot(spread / f64::from(count.max(1)).sqrt())
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn one_reading_is_worth_what_it_scatters() {
        assert!((standard_uncertainty(3.0, 4.0, 1) - 5.0).abs() < 1e-12);
        assert!((standard_uncertainty(2.0, 0.0, 1) - 2.0).abs() < 1e-12);
    }

    proptest! {
        #[test]
        fn no_number_of_readings_makes_it_better_than_the_instrument(
            instrument in 0.0_f64..50.0, spread in 0.0_f64..100.0, count in 1_u32..100_000,
        ) {
            let u = standard_uncertainty(instrument, spread, count);
            prop_assert!(u >= instrument && u <= instrument + spread);
            prop_assert!(standard_uncertainty(instrument, spread, count + 1) <= u);
        }
    }
}
