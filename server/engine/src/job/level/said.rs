//! Temperatures in words beside the window of the level: never rounded so that they contradict it.

use crate::text::number;

/// Most decimals: a scan tool shows none, a thermometer one.
const DECIMALS_MOST: i32 = 2;

/// A temperature as it is said beside a window: whole degrees, or as many decimals as tell on which side of an edge it
/// lies.
pub(crate) fn celsius_beside(celsius: f64, window: Option<(f64, f64)>) -> String {
    let side = |value: f64| window.map(|(least, greatest)| (value < least, value > greatest));
    let decimals = (0..DECIMALS_MOST).find(|decimals| {
        let step = 10_f64.powi(*decimals);
        side((celsius * step).round() / step) == side(celsius)
    });
    let decimals = decimals.unwrap_or(DECIMALS_MOST);
    number::celsius(celsius, usize::try_from(decimals).unwrap_or_default())
}

/// The edges of a window as they are stated: the least without its unit, the greatest with it.
pub(crate) fn edges((least, greatest): (f64, f64)) -> (String, String) {
    (number::plain(least), number::with_unit(&number::plain(greatest), "°C"))
}

#[cfg(test)]
mod tests {
    use super::celsius_beside;

    #[test]
    fn a_temperature_is_never_rounded_into_or_out_of_the_window() {
        let window = Some((40.0, 50.0));
        for (celsius, said) in [
            (50.4, "50.4"),
            (39.6, "39.6"),
            (50.04, "50.04"),
            (49.6, "50"),
            (40.2, "40"),
            (61.3, "61"),
            (50.0, "50"),
        ] {
            assert_eq!(celsius_beside(celsius, window), format!("{said}\u{a0}°C"));
        }
        assert_eq!(celsius_beside(50.4, None), "50\u{a0}°C");
        assert!(celsius_beside(f64::NAN, window).contains('–'), "what is no number is none");
    }
}
