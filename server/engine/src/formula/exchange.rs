//! How much new fluid an exchange left in the transmission, from looks at what comes out.
//!
//! What the glass shows runs ahead of what is inside, since some parts exchange slowly. The balance here needs no
//! idea of how the fluid flows: whatever old fluid came out made room for new fluid that stayed. It is only
//! printed from three spaced looks on ([`spacing`]). The view calls this; what happens to the share when the pan
//! comes off is next door in `refill`.

use crate::quantity::{Estimate, Litres, Share};
use crate::text::{Sentence, number, sentence};

/// One look at the fluid that comes out.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Look {
    /// Litres pushed when it was taken.
    pub litres: Litres,
    /// New-fluid share that was seen.
    pub new_share: Share,
    /// Standard uncertainty of the share.
    pub standard_uncertainty: f64,
}

/// Everything the balance needs to know about an exchange.
#[derive(Clone, Copy, Debug)]
pub struct Exchange<'a> {
    /// The looks, in any order.
    pub looks: &'a [Look],
    /// Litres pushed in all.
    pub pushed: Litres,
    /// Litres in the hose between the transmission and the glass; 0 where it does not matter.
    pub hose: Litres,
    /// Relative standard uncertainty of the litre display.
    pub litres_relative_uncertainty: f64,
    /// Relative standard uncertainty that all looks have in common, from the samples they are compared with.
    pub reference_relative_uncertainty: f64,
    /// Part of the looks' variance that they have in common, 0 to 1: [`TUBES_COMMON_PART`] for tubes, 0 for
    /// readings that err independently.
    pub common_part: f64,
}

/// Part of the variance that looks through one set of tubes have in common: the eye rounds a smooth curve to the
/// same few tubes in the same light, so their errors do not cancel as independent ones would.
///
/// Ours, from the simulation in the tests of this module: with 0 the 95 % interval holds only about 80 of 100 true
/// values in the worst of its flows, with 0.6 at least 94 in all of them.
pub const TUBES_COMMON_PART: f64 = 0.6;

/// New litres that stayed inside, and what the last look has to do with it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Retained {
    /// New litres inside.
    pub litres: Estimate,
    /// The last look: old-fluid share at the outlet.
    pub last_old: Estimate,
    /// Litres by which the estimate moves with an error of the last old share: their covariance by its variance.
    pub last_weight: f64,
}

/// Old-fluid share at the outlet after some litres.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct OutletPoint {
    /// Litres that have left the transmission.
    pub litres: f64,
    /// Old-fluid share, 0 to 1.
    pub old_share: f64,
    /// Standard uncertainty of the share.
    pub standard_uncertainty: f64,
}

/// New litres kept, by the trapezoid rule over readings that lie close together.
///
/// `G = Σ w_i o_i`, `w_i` = half of the litres between both neighbours, `u(G)² = Σ (w_i u_i)² + (u_ref G)²`
///
/// * `points` – readings in rising order of litres, the first at 0
/// * `reference_relative_uncertainty` – u_ref, what all readings have in common, 0 or more
///
/// # Source
/// Mass balance: G is the area under the old-fluid curve (Danckwerts, Chem. Eng. Sci. 2 (1953) 1-13: the area
/// under 1 - F). JCGM 100:2008, 5.1.2.
///
/// # Example
/// ```
/// use standpipe_engine::formula::exchange::{OutletPoint, retained_by_trapezoid};
/// // One mixed volume of 9 L, a reading each litre up to 15 L: 7.3076 (exact 7.3001).
/// let points: Vec<_> = (0..=15)
///     .map(|litre| f64::from(litre))
///     .map(|litres| OutletPoint { litres, old_share: (-litres / 9.0_f64).exp(), standard_uncertainty: 0.03 })
///     .collect();
/// let kept = retained_by_trapezoid(&points, 0.0);
/// assert!((kept.value - 7.3076).abs() < 5e-5);
/// assert!((kept.standard_uncertainty - 0.114).abs() < 5e-4);
/// ```
#[must_use]
pub fn retained_by_trapezoid(points: &[OutletPoint], reference_relative_uncertainty: f64) -> Estimate {
    let end = points.last().map_or(0.0, |point| point.litres);
    let area = Area::under(points, end);
    let common = reference_relative_uncertainty * area.value;
    Estimate::known(area.value, area.by_readings(0.0).hypot(common))
}

/// New litres kept by an exchange with few looks.
///
/// The trapezoid rule over the point (0 L, all old), the looks in order of litres, and the litres after the last
/// look, where the curve lies between the last look and nothing: `G_end = o_last Δv / 2`.
///
/// `u(G)² = (1 - r) Σ (w_i u_i)² + r (Σ w_i u_i)² + Σ (|Δo| Δv / (2 √6))² + (o_last Δv / (2 √3))² + (G u_rel)²`
///
/// * `exchange` – looks, litres, r (the common part of the looks' variance), and the relative uncertainties that
///   all share (added in squares to u_rel)
///
/// # Source
/// As [`retained_by_trapezoid`]; correlation of the looks by JCGM 100:2008, 5.2.2. The third term is ours: between two looks the curve falls, so its area lies
/// between the two rectangles `o_i Δv` and `o_(i+1) Δv`; the trapezoid is their middle and the most likely, hence
/// a triangular distribution of half-width `|Δo| Δv / 2` (JCGM 100:2008, 4.3.9), independent for each gap. After
/// the last look nothing makes the middle more likely: rectangular (4.3.7).
///
/// # Deviation
/// Litres of the hose are taken off before the curve starts, so the litres that the hose still holds at the end
/// count as litres after the last look.
#[must_use]
pub fn retained(exchange: &Exchange<'_>) -> Retained {
    retained_up_to(exchange, &outlet_points(exchange), exchange.pushed.get())
}

fn retained_up_to(exchange: &Exchange<'_>, points: &[OutletPoint], litres: f64) -> Retained {
    let area = Area::under(points, litres);
    let scale = exchange.litres_relative_uncertainty.hypot(exchange.reference_relative_uncertainty);
    let u = area.by_readings(exchange.common_part).hypot(area.by_shape).hypot(scale * area.value);
    let last_old = points
        .last()
        .map_or(Estimate::known(1.0, 0.0), |last| Estimate::known(last.old_share, last.standard_uncertainty));
    let common_weight = if last_old.standard_uncertainty > 0.0 {
        exchange.common_part * area.reading_sum / last_old.standard_uncertainty
    } else {
        0.0
    };
    let last_weight = (1.0 - exchange.common_part) * area.last_weight + common_weight;
    Retained { litres: Estimate::known(area.value, u), last_old, last_weight }
}

/// The new-fluid share of the whole fill: `n = G / V`, never more than 1.
///
/// `u(n)² = (u(G) / V)² + (G u(V) / V²)²`
///
/// * `retained` – G in litres
/// * `fill` – V in litres, more than 0
///
/// # Source
/// Mass balance; JCGM 100:2008, 5.1.2.
///
/// # Example
/// ```
/// use standpipe_engine::{formula::exchange::new_share, quantity::Estimate};
/// let share = new_share(Estimate::known(7.2, 0.36), Estimate::known(9.0, 0.45));
/// assert!((share.value - 0.8).abs() < 1e-12);
/// assert!((share.standard_uncertainty - 0.0566).abs() < 5e-5);
/// ```
#[must_use]
pub fn new_share(retained: Estimate, fill: Estimate) -> Estimate {
    let by_litres = retained.standard_uncertainty / fill.value;
    let by_fill = retained.value * fill.standard_uncertainty / (fill.value * fill.value);
    Estimate::known((retained.value / fill.value).min(1.0), by_litres.hypot(by_fill))
}

/// A point of the curve 'new fluid inside over litres'.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CoursePoint {
    /// Litres pushed.
    pub litres: f64,
    /// New-fluid share inside.
    pub new_share: Estimate,
}

/// The new-fluid share over the litres pushed, at 0, at each of `steps` equal steps, and so at the end.
#[must_use]
pub fn course(exchange: &Exchange<'_>, fill: Estimate, steps: u32) -> Vec<CoursePoint> {
    let steps = steps.max(1);
    let points = outlet_points(exchange);
    (0..=steps)
        .map(|step| {
            let litres = exchange.pushed.get() * f64::from(step) / f64::from(steps);
            CoursePoint {
                litres,
                new_share: new_share(retained_up_to(exchange, &points, litres).litres, fill),
            }
        })
        .collect()
}

/// Whether the looks carry a balance.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Spacing {
    /// At least three looks with no wide gap.
    Enough,
    /// Fewer than three looks at different litres.
    TooFew {
        /// Looks at different litres.
        found: usize,
    },
    /// More than half of the litres lie between two neighbouring looks, before the first or after the last.
    TooWide {
        /// Where the widest gap begins, in litres pushed.
        from: f64,
        /// Where it ends.
        to: f64,
    },
}

/// Whether there are three spaced looks: fewer, or all of them at one end, say too little about the curve.
///
/// The half is a rule of ours: above it the gap alone leaves more than 10 of 100 parts open.
#[must_use]
pub fn spacing(looks: &[Look], pushed: Litres) -> Spacing {
    let mut litres: Vec<f64> =
        looks.iter().map(|look| look.litres.get()).filter(|litres| *litres > 0.0).collect();
    litres.sort_by(f64::total_cmp);
    litres.dedup();
    if litres.len() < 3 {
        return Spacing::TooFew { found: litres.len() };
    }
    let end = pushed.get().max(litres.last().copied().unwrap_or(0.0));
    let starts = std::iter::once(0.0).chain(litres.iter().copied());
    let ends = litres.iter().copied().chain(std::iter::once(end));
    let widest = starts.zip(ends).max_by(|one, other| (one.1 - one.0).total_cmp(&(other.1 - other.0)));
    match widest {
        Some((from, to)) if to - from > end / 2.0 => Spacing::TooWide { from, to },
        _ => Spacing::Enough,
    }
}

/// Two looks that contradict each other: the later shows more old fluid, beyond what reading explains.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DarkerLook {
    /// Litres of the earlier look.
    pub earlier: Litres,
    /// Litres of the later look.
    pub later: Litres,
}

impl DarkerLook {
    /// The finding in words.
    #[must_use]
    pub fn sentence(&self) -> Sentence {
        sentence::exchange_look_darker(
            number::litres(self.earlier.get(), 1),
            number::litres(self.later.get(), 1),
        )
    }
}

/// The first look that is darker than an earlier one by more than twice the combined standard uncertainty.
///
/// The readings stay in the balance as they are: smoothing them would hide what should be looked into.
///
/// # Source
/// That the outlet only gets fresher follows from pushing new fluid alone; the factor 2 is JCGM 100:2008, 6.3.3.
#[must_use]
pub fn darker_look(looks: &[Look]) -> Option<DarkerLook> {
    let mut sorted = looks.to_vec();
    sorted.sort_by(|one, other| one.litres.get().total_cmp(&other.litres.get()));
    let mut clearest = Clearest::default();
    for group in sorted.chunk_by(|one, other| one.litres == other.litres) {
        for later in group {
            if clearest.contradict(later) {
                let earlier = sorted.iter().find(|earlier| contradicts(earlier, later))?;
                return Some(DarkerLook { earlier: earlier.litres, later: later.litres });
            }
        }
        group.iter().for_each(|look| clearest.add(look));
    }
    None
}

fn contradicts(earlier: &Look, later: &Look) -> bool {
    let fall = earlier.new_share.get() - later.new_share.get();
    earlier.litres < later.litres
        && fall > 2.0 * earlier.standard_uncertainty.hypot(later.standard_uncertainty)
}

/// Those of the earlier looks that no other one outdoes: by rising share, and so by rising uncertainty.
#[derive(Default)]
struct Clearest {
    looks: Vec<Look>,
    /// The greatest of share minus twice the uncertainty: a look above it contradicts none.
    bound: Option<f64>,
}

impl Clearest {
    fn contradict(&self, later: &Look) -> bool {
        self.bound.is_some_and(|bound| bound > later.new_share.get())
            && self.looks.iter().any(|earlier| contradicts(earlier, later))
    }

    fn add(&mut self, look: &Look) {
        let outdoes = |one: &Look, other: &Look| {
            one.new_share >= other.new_share && one.standard_uncertainty <= other.standard_uncertainty
        };
        let at = self.looks.partition_point(|known| known.new_share < look.new_share);
        if self.looks.iter().skip(at).any(|known| outdoes(known, look)) {
            return;
        }
        self.looks.retain(|known| !outdoes(look, known));
        let at = self.looks.partition_point(|known| known.new_share < look.new_share);
        self.looks.insert(at, *look);
        let own = look.new_share.get() - 2.0 * look.standard_uncertainty;
        self.bound = Some(self.bound.map_or(own, |bound| bound.max(own)));
    }
}

/// The outlet curve: all old at the start unless a look says otherwise, then the looks, less the hose.
fn outlet_points(exchange: &Exchange<'_>) -> Vec<OutletPoint> {
    let mut points: Vec<OutletPoint> = exchange
        .looks
        .iter()
        .map(|look| OutletPoint {
            litres: look.litres.get() - exchange.hose.get(),
            old_share: 1.0 - look.new_share.get(),
            standard_uncertainty: look.standard_uncertainty,
        })
        .filter(|point| point.litres > 0.0 || (point.litres == 0.0 && exchange.hose.get() == 0.0))
        .collect();
    points.sort_by(|one, other| one.litres.total_cmp(&other.litres));
    if points.first().is_none_or(|first| first.litres > 0.0) {
        points.insert(0, OutletPoint { litres: 0.0, old_share: 1.0, standard_uncertainty: 0.0 });
    }
    points
}

/// The area under the outlet curve from 0 to some litres, with what its uncertainty is made of.
struct Area {
    value: f64,
    /// Σ (w_i u_i)².
    reading_squares: f64,
    /// Σ w_i u_i.
    reading_sum: f64,
    /// Standard uncertainty from what happens between the looks.
    by_shape: f64,
    /// Weight of the last look.
    last_weight: f64,
}

impl Area {
    fn under(points: &[OutletPoint], end: f64) -> Self {
        let mut weights = vec![0.0; points.len()];
        let mut shape = 0.0;
        for (at, pair) in points.windows(2).enumerate() {
            let ([from, to], Some([from_weight, to_weight])) = (pair, weights.get_mut(at..at + 2)) else {
                continue;
            };
            let width = to.litres - from.litres;
            let part = if width > 0.0 { ((end - from.litres) / width).clamp(0.0, 1.0) } else { 0.0 };
            *from_weight += width * part * (1.0 - part / 2.0);
            *to_weight += width * part * part / 2.0;
            shape += ((from.old_share - to.old_share) * width * part / (2.0 * 6.0_f64.sqrt())).powi(2);
        }
        if let (Some(last), Some(weight)) = (points.last(), weights.last_mut()) {
            let beyond = (end - last.litres).max(0.0);
            *weight += beyond / 2.0;
            shape += (last.old_share * beyond / (2.0 * 3.0_f64.sqrt())).powi(2);
        }
        let (mut value, mut reading_squares, mut reading_sum) = (0.0, 0.0, 0.0);
        for (point, weight) in points.iter().zip(&weights) {
            let part = weight * point.standard_uncertainty;
            value += weight * point.old_share;
            reading_squares += part * part;
            reading_sum += part;
        }
        let last_weight = weights.last().copied().unwrap_or(0.0);
        Self { value, reading_squares, reading_sum, by_shape: shape.sqrt(), last_weight }
    }

    /// Standard uncertainty from the readings, of whose variance a part is common to all.
    fn by_readings(&self, common_part: f64) -> f64 {
        let common = common_part * self.reading_sum * self.reading_sum;
        ((1.0 - common_part) * self.reading_squares + common).sqrt()
    }
}

#[cfg(test)]
mod tests;
