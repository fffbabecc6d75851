//! Ways in which new fluid can push out old: how much old fluid the outlet shows, and how much is still inside.
//!
//! Old share = litres of old fluid by litres; everything starts at 1 and new fluid enters at one end as the same
//! amount leaves at the other. Which way a transmission follows nobody knows beforehand; `forecast` weighs two of
//! them by the looks, `sequence` compares procedures with them. Nothing here knows of readings.

use statrs::function::gamma::{checked_gamma_ur, ln_gamma};

/// A way of flowing, for one fill.
pub trait Flow {
    /// Old share of the fluid that leaves after `litres` were pushed, 0 to 1.
    fn outlet(&self, litres: f64) -> f64;
    /// Old share of all that is inside after `litres` were pushed, 0 to 1.
    fn mean(&self, litres: f64) -> f64;
    /// Litres inside.
    fn fill(&self) -> f64;
}

/// Litres until the outlet shows no more than `old_share`; nothing if that is never reached.
///
/// # Example
/// ```
/// use standpipe_engine::formula::flow::{Tanks, litres_to_outlet};
/// // Two tanks, 5 of 100 parts old: chi-square 9.488 with 4 degrees of freedom by 4.
/// let two = Tanks::new(9.0, 2.0).unwrap();
/// let litres = litres_to_outlet(&two, 0.05).unwrap();
/// assert!((litres / 9.0 - 9.488 / 4.0).abs() < 0.000_5 / 4.0);
/// ```
#[must_use]
pub fn litres_to_outlet(flow: &impl Flow, old_share: f64) -> Option<f64> {
    first_below(|litres| flow.outlet(litres), old_share, flow.fill())
}

/// Litres until no more than `old_share` of all that is inside is old; nothing if that is never reached.
///
/// # Example
/// ```
/// use standpipe_engine::formula::flow::{Tanks, litres_to_mean};
/// // One mixed volume: 90 of 100 parts new after 2.303 volumes.
/// let mixed = Tanks::new(9.0, 1.0).unwrap();
/// assert!((litres_to_mean(&mixed, 0.1).unwrap() / 9.0 - 2.303).abs() < 5e-4);
/// ```
#[must_use]
pub fn litres_to_mean(flow: &impl Flow, old_share: f64) -> Option<f64> {
    first_below(|litres| flow.mean(litres), old_share, flow.fill())
}

/// Where a falling curve first comes down to `level`.
fn first_below(curve: impl Fn(f64) -> f64, level: f64, scale: f64) -> Option<f64> {
    if level.is_nan() {
        return None;
    }
    if curve(0.0) <= level {
        return Some(0.0);
    }
    let (mut above, mut below) = (0.0, scale);
    // 2^20 fills are more than any supply: what is not reached by then is never reached.
    for _ in 0..20 {
        if curve(below) <= level {
            break;
        }
        above = below;
        below *= 2.0;
    }
    if curve(below) > level {
        return None;
    }
    while below - above > 1e-12 * below {
        let middle = f64::midpoint(above, below);
        if middle <= above || middle >= below {
            break;
        }
        if curve(middle) <= level { below = middle } else { above = middle }
    }
    Some(f64::midpoint(above, below))
}

/// Equal tanks in a row, each perfectly mixed; their number need not be whole.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Tanks {
    fill: f64,
    count: f64,
    /// ln Γ(n + 1), needed at each place.
    ln_factorial: f64,
}

impl Tanks {
    /// `count` tanks that hold `fill` litres together; nothing unless both are finite and more than 0.
    #[must_use]
    pub fn new(fill: f64, count: f64) -> Option<Self> {
        let sound = fill > 0.0 && fill.is_finite() && count > 0.0 && count.is_finite();
        sound.then(|| Self { fill, count, ln_factorial: ln_gamma(count + 1.0) })
    }

    /// How many tanks.
    #[must_use]
    pub fn count(&self) -> f64 {
        self.count
    }
}

impl Flow for Tanks {
    /// `o(v) = Q(n, n v / V)`, the regularised upper incomplete gamma function.
    ///
    /// # Source
    /// MacMullin and Weber, Trans. AIChE 31 (1935) 409-458; Levenspiel, Chemical Reaction Engineering, 3rd ed. 1999,
    /// p. 327 (F of tanks in series).
    ///
    /// # Example
    /// ```
    /// use standpipe_engine::formula::flow::{Flow, Tanks};
    /// let two = Tanks::new(9.0, 2.0).unwrap();
    /// assert!((two.outlet(2.0) - 0.926_149).abs() < 5e-7);
    /// assert!((two.mean(2.0) - 0.783_665).abs() < 5e-7);
    /// ```
    fn outlet(&self, litres: f64) -> f64 {
        if litres <= 0.0 {
            return 1.0;
        }
        // Both arguments are more than 0; a place beyond all numbers has nothing old left.
        checked_gamma_ur(self.count, self.count * litres / self.fill).unwrap_or(0.0).clamp(0.0, 1.0)
    }

    /// `m(v) = 1 - θ Q(n, a) - P(n + 1, a)` with `θ = v / V`, `a = n θ`; used as `(1 - θ) Q(n, a) + aⁿ e⁻ᵃ / Γ(n + 1)`.
    ///
    /// # Source
    /// As [`Tanks::outlet`]: what is inside is what has not left, the integral of the outlet curve.
    fn mean(&self, litres: f64) -> f64 {
        if litres <= 0.0 {
            return 1.0;
        }
        let theta = litres / self.fill;
        let a = self.count * theta;
        let last = (self.count * a.ln() - a - self.ln_factorial).exp();
        ((1.0 - theta) * self.outlet(litres) + last).clamp(0.0, 1.0)
    }

    fn fill(&self) -> f64 {
        self.fill
    }
}

/// Plug flow: nothing mixes. The best that can be, and the limit of many tanks.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Plug {
    fill: f64,
}

impl Plug {
    /// Plug flow through `fill` litres; nothing unless finite and more than 0.
    #[must_use]
    pub fn new(fill: f64) -> Option<Self> {
        (fill > 0.0 && fill.is_finite()).then_some(Self { fill })
    }
}

impl Flow for Plug {
    /// All old until one fill is through.
    ///
    /// # Source
    /// Definition of plug flow.
    fn outlet(&self, litres: f64) -> f64 {
        if litres < self.fill { 1.0 } else { 0.0 }
    }

    /// `m(v) = max(0, 1 - v / V)`.
    fn mean(&self, litres: f64) -> f64 {
        (1.0 - litres.max(0.0) / self.fill).max(0.0)
    }

    fn fill(&self) -> f64 {
        self.fill
    }
}

/// A part that flows, mixed, and a slow part (torque converter, drums of clutches) that exchanges with it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TwoCompartments {
    flowing: f64,
    slow: f64,
    exchange: f64,
    /// The two rates of decay per litre, slow first.
    rates: (f64, f64),
}

/// Old shares of the two compartments.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Compartments {
    /// Of the part that flows, and so of the outlet.
    pub flowing: f64,
    /// Of the slow part.
    pub slow: f64,
}

impl TwoCompartments {
    /// `flowing` and `slow` litres, with `exchange` litres going to and fro for each litre pushed; nothing unless all
    /// are finite, the litres more than 0 and the exchange 0 or more.
    #[must_use]
    pub fn new(flowing: f64, slow: f64, exchange: f64) -> Option<Self> {
        let sound = [flowing, slow].iter().all(|litres| *litres > 0.0 && litres.is_finite());
        if !(sound && exchange >= 0.0 && exchange.is_finite()) {
            return None;
        }
        let s = (1.0 + exchange) / flowing + exchange / slow;
        let p = exchange / (flowing * slow);
        let r = (s * s - 4.0 * p).max(0.0).sqrt();
        // This form of the roots does not cancel for a small exchange.
        Some(Self { flowing, slow, exchange, rates: (-2.0 * p / (s + r), -(s + r) / 2.0) })
    }

    /// The rates of decay per litre, both 0 or less, the slow one first.
    #[must_use]
    pub fn rates(&self) -> (f64, f64) {
        self.rates
    }

    /// Both shares after `litres`, from any start.
    ///
    /// `Va x' = -x - k (x - y)`, `Vd y' = k (x - y)`; `x = p e^(λ1 v) + (x0 - p) e^(λ2 v)` and y alike, with
    /// `p = (x0' - λ2 x0) / (λ1 - λ2)`
    ///
    /// # Source
    /// Model with a stagnant zone: Levenspiel, Chemical Reaction Engineering, 3rd ed. 1999, ch. 12; solution of the
    /// linear equations by eigenvalues, compared with numerical integration to 1e-11.
    ///
    /// # Example
    /// ```
    /// use standpipe_engine::formula::flow::{Flow, TwoCompartments};
    /// // 7 and 2 L, k 0.05, 20 L: outlet 0.0869, slow part 0.7301, whole 0.2299.
    /// let two = TwoCompartments::new(7.0, 2.0, 0.05).unwrap();
    /// assert!((two.outlet(20.0) - 0.0869).abs() < 5e-5);
    /// assert!((two.mean(20.0) - 0.2299).abs() < 5e-5);
    /// ```
    #[must_use]
    pub fn from_start(&self, start: Compartments, litres: f64) -> Compartments {
        let litres = litres.max(0.0);
        let (late, early) = self.rates;
        let between = self.exchange * (start.flowing - start.slow);
        let slopes = ((-start.flowing - between) / self.flowing, between / self.slow);
        let (by_late, by_early) = ((late * litres).exp(), (early * litres).exp());
        let share = |at_start: f64, slope: f64| {
            let part = (slope - early * at_start) / (late - early);
            (part * by_late + (at_start - part) * by_early).clamp(0.0, 1.0)
        };
        Compartments { flowing: share(start.flowing, slopes.0), slow: share(start.slow, slopes.1) }
    }

    /// Share of the whole that the two shares make.
    #[must_use]
    pub fn whole(&self, shares: Compartments) -> f64 {
        (self.flowing * shares.flowing + self.slow * shares.slow) / self.fill()
    }

    /// Litres of the part that flows.
    #[must_use]
    pub fn flowing_litres(&self) -> f64 {
        self.flowing
    }
}

/// All old, as before any exchange.
pub const ALL_OLD: Compartments = Compartments { flowing: 1.0, slow: 1.0 };

impl Flow for TwoCompartments {
    fn outlet(&self, litres: f64) -> f64 {
        self.from_start(ALL_OLD, litres).flowing
    }

    fn mean(&self, litres: f64) -> f64 {
        self.whole(self.from_start(ALL_OLD, litres))
    }

    fn fill(&self) -> f64 {
        self.flowing + self.slow
    }
}

/// A short path: a share of what is pushed returns at once and unused; the rest takes tanks in a row.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ShortPath {
    returned: f64,
    tanks: Tanks,
}

impl ShortPath {
    /// `returned` of each litre comes straight back, 0 to 1; nothing for any other number.
    #[must_use]
    pub fn new(returned: f64, tanks: Tanks) -> Option<Self> {
        (0.0..=1.0).contains(&returned).then_some(Self { returned, tanks })
    }
}

impl Flow for ShortPath {
    /// `o(v) = (1 - b) Q(n, n (1 - b) v / V)`
    ///
    /// # Source
    /// Short-circuit flow: Levenspiel, Chemical Reaction Engineering, 3rd ed. 1999, ch. 12.
    ///
    /// # Example
    /// ```
    /// use standpipe_engine::formula::flow::{Flow, ShortPath, Tanks};
    /// // Three of ten litres return, two tanks, 9 of 9 L: outlet 0.414284.
    /// let short = ShortPath::new(0.3, Tanks::new(9.0, 2.0).unwrap()).unwrap();
    /// assert!((short.outlet(9.0) - 0.414_283).abs() < 5e-6);
    /// ```
    fn outlet(&self, litres: f64) -> f64 {
        (1.0 - self.returned) * self.tanks.outlet((1.0 - self.returned) * litres)
    }

    fn mean(&self, litres: f64) -> f64 {
        self.tanks.mean((1.0 - self.returned) * litres)
    }

    fn fill(&self) -> f64 {
        self.tanks.fill
    }
}

#[cfg(test)]
#[path = "flow/tests.rs"]
mod tests;
