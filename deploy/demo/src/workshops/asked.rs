//! How many workshops and months, with their bounds.

use crate::year::Plan;

/// Most workshops that are drawn.
pub const SITES_MOST: usize = 500;
/// Most months that are drawn.
pub const MONTHS_MOST: usize = 36;

/// What is drawn.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Asked {
    /// Workshops of the drawn year.
    pub sites: usize,
    /// Its months.
    pub months: usize,
    /// Its seed.
    pub seed: u64,
}

impl Asked {
    /// Reads a number of workshops.
    ///
    /// # Errors
    /// In a sentence, outside 1 to [`SITES_MOST`].
    pub fn read_sites(text: &str) -> Result<usize, String> {
        read(text, "sites", SITES_MOST, "--sites 30")
    }

    /// Reads a number of months.
    ///
    /// # Errors
    /// In a sentence, outside 1 to [`MONTHS_MOST`].
    pub fn read_months(text: &str) -> Result<usize, String> {
        read(text, "months", MONTHS_MOST, "--months 12")
    }

    pub(super) fn plan(&self) -> Plan {
        Plan { sites: self.sites, months: self.months, seed: self.seed, faults: true }
    }
}

fn read(text: &str, what: &str, most: usize, example: &str) -> Result<usize, String> {
    let count = text.trim().parse().ok().filter(|count| (1..=most).contains(count));
    count.ok_or_else(|| {
        format!("{what} must be a whole number from 1 to {most}; give one, for example {example}")
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_bounded_and_refused_in_a_sentence() {
        assert_eq!((Asked::read_sites("500"), Asked::read_months("36")), (Ok(500), Ok(36)));
        for wrong in ["0", "501", "-1", "1.5", "", "many", "99999999999999999999"] {
            assert!(Asked::read_sites(wrong).unwrap_err().contains("from 1 to 500"), "{wrong}");
        }
        assert!(Asked::read_months("37").unwrap_err().contains("--months 12"));
    }
}
