//! One observation and what it speaks for.

use crate::formula::laboratory::Difference;
use crate::formula::particles::{Code, ScaleNumber};
use crate::quantity::Estimate;

/// Smell in words.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Smell {
    /// As fresh fluid.
    AsFresh,
    /// Slightly sharp.
    SlightlySharp,
    /// Burnt.
    Burnt,
}

/// Clouding in words.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Clouding {
    /// Clear.
    Clear,
    /// Hazy.
    Hazy,
    /// Milky.
    Milky,
}

/// Colour in words.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Colour {
    /// As fresh fluid.
    AsFresh,
    /// Darker.
    Darker,
    /// Brown.
    Brown,
    /// Black.
    Black,
}

/// What lies on magnet, filter or in the sample, in words.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Debris {
    /// Nothing.
    None,
    /// Fine grey paste.
    FineGreyPaste,
    /// Glitter.
    Glitter,
    /// Flakes or chips of metal.
    FlakesOrChips,
    /// Pieces of lining.
    LiningPieces,
}

/// What the driver felt, as far as it bears on the fluid.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Drive {
    /// Changes normally.
    Normal,
    /// Slips, or bangs into a gear.
    SlipOrBang,
    /// Anything else out of the ordinary: late, harsh, flare, shudder, noise.
    Other,
}

/// What a drop of fluid did on the hot plate of a laboratory (160 °C). Dissolved gas and fuel mislead; a rough guide
/// and no measurement.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Bubbles {
    /// None: no free or emulsified water seen; the test shows nothing below about 500 ppm.
    None,
    /// About half a millimetre.
    Fine,
    /// About two millimetres, growing to four.
    Growing,
    /// Violent and audible.
    Violent,
}

impl Bubbles {
    /// The water content that this roughly goes with, in ppm; no end above where the guide states none.
    ///
    /// # Source
    /// Trade description of the crackle test (read); never to be printed as a measured figure.
    #[must_use]
    pub const fn rough_ppm(self) -> Option<(f64, Option<f64>)> {
        match self {
            Self::None => None,
            Self::Fine => Some((500.0, Some(1000.0))),
            Self::Growing => Some((1000.0, Some(2000.0))),
            Self::Violent => Some((2000.0, None)),
        }
    }
}

/// Why a figure cannot be compared with anything.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Gap {
    /// The same figure of the fresh fluid is not known.
    NoFreshFluid,
    /// Used and fresh fluid were measured at temperatures that cannot be brought together.
    UnlikeTemperatures,
    /// Not all sizes of particles were counted.
    CountMissing,
    /// The figures contradict each other: one of them was read wrongly.
    Contradicting,
    /// The white sheets in the two photographs differ: the light was not the same.
    UnlikeWhite,
}

/// One thing that was seen or measured.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Observation {
    /// Smell of the sample.
    Smell(Smell),
    /// Clouding of the sample.
    Clouding(Clouding),
    /// Colour of the sample.
    Colour(Colour),
    /// Debris on magnet or filter, or specks in the sample.
    Debris(Debris),
    /// What the driver felt.
    Drive(Drive),
    /// Water by the hot plate of a laboratory.
    Crackle(Bubbles),
    /// Colour difference from fresh fluid, CIEDE2000.
    ColourDifference {
        /// The difference, 0 or more.
        difference: f64,
        /// Whether both photographs were taken under the same light.
        same_light: bool,
    },
    /// Relative change of the viscosity against fresh fluid, as a part of 1.
    Viscosity(Difference),
    /// Rise of the acid number over fresh fluid, in mg KOH/g.
    Acid(Difference),
    /// Rise of the water content over fresh fluid, in mg/kg.
    Water(Difference),
    /// Particles, with their counts.
    Particles(Code),
    /// Distance on this fluid, weighted by temperature where that is known, in km.
    Distance(f64),
    /// A figure that cannot be compared.
    Gap {
        /// What was measured.
        kind: Kind,
        /// Why it cannot be compared.
        gap: Gap,
    },
}

/// Kind of an observation: several of one kind count once.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Kind {
    /// Smell.
    Smell,
    /// Clouding.
    Clouding,
    /// Colour, by word or by photograph.
    Colour,
    /// Debris.
    Debris,
    /// Drive.
    Drive,
    /// Water, by hot plate or titration.
    Water,
    /// Viscosity.
    Viscosity,
    /// Acid number.
    Acid,
    /// Particles.
    Particles,
    /// Distance.
    Distance,
}

impl Observation {
    /// Kind of the observation.
    #[must_use]
    pub const fn kind(&self) -> Kind {
        match self {
            Self::Smell(_) => Kind::Smell,
            Self::Clouding(_) => Kind::Clouding,
            Self::Colour(_) | Self::ColourDifference { .. } => Kind::Colour,
            Self::Debris(_) => Kind::Debris,
            Self::Drive(_) => Kind::Drive,
            Self::Crackle(_) | Self::Water(_) => Kind::Water,
            Self::Viscosity(_) => Kind::Viscosity,
            Self::Acid(_) => Kind::Acid,
            Self::Particles(_) => Kind::Particles,
            Self::Distance(_) => Kind::Distance,
            Self::Gap { kind, .. } => *kind,
        }
    }
}

/// A limit of the workshop group, with its source.
#[derive(Clone, Debug, PartialEq)]
pub struct Limit<T> {
    /// The limit; up to and including it nothing is said against the fluid.
    pub value: T,
    /// Where it comes from, as stated in the settings.
    pub source: String,
}

/// Limits of the workshop group. Empty by default: then a number says nothing.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Limits {
    /// Colour difference from fresh fluid, CIEDE2000.
    pub colour_difference: Option<Limit<f64>>,
    /// Relative change of the viscosity, either way, as a part of 1.
    pub viscosity_change: Option<Limit<f64>>,
    /// Rise of the acid number in mg KOH/g.
    pub acid_rise: Option<Limit<f64>>,
    /// Rise of the water content in mg/kg.
    pub water_rise: Option<Limit<f64>>,
    /// Greatest scale numbers of the particle code, from the smallest size to the largest; absent where a size does
    /// not count.
    pub particles: Option<Limit<[Option<u8>; 3]>>,
    /// Distance on one fluid in km.
    pub distance: Option<Limit<f64>>,
}

/// What an observation speaks for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum SpeaksFor {
    /// Leaving the fluid in.
    Leaving,
    /// Changing it.
    Changing,
    /// Looking inside first.
    LookingInside,
    /// Nothing.
    Nothing,
}

/// Why it speaks for that.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Reason {
    /// It is like fresh fluid.
    LikeFresh,
    /// Nothing out of the ordinary.
    Ordinary,
    /// It is to be expected of fluid in use (from memory).
    Expected,
    /// It comes with oxidised or overheated fluid.
    Oxidised,
    /// It comes with water in the fluid.
    Water,
    /// It comes with parts that wear out of the ordinary.
    Wear,
    /// A fluid alone does not make it and changing the fluid does not repair it.
    NotTheFluid,
    /// Below the stated limit.
    BelowLimit,
    /// Beyond the stated limit.
    BeyondLimit,
    /// The figure's own uncertainty reaches the stated limit: it cannot be told.
    TooNearTheLimit,
    /// No limit stated.
    NoLimitStated,
    /// Two photographs under unlike light cannot be compared.
    UnlikeLight,
    /// The particles were counted in another way than the limit is stated for.
    CountedOtherwise,
    /// No number.
    NoNumber,
    /// It cannot be compared.
    Gap(Gap),
}

impl Reason {
    /// Whether the observation could be judged at all; else it does not count as one.
    #[must_use]
    pub const fn judged(self) -> bool {
        !matches!(
            self,
            Self::TooNearTheLimit
                | Self::NoLimitStated
                | Self::UnlikeLight
                | Self::CountedOtherwise
                | Self::NoNumber
                | Self::Gap(_)
        )
    }
}

/// One line of evidence.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Line {
    /// What was seen.
    pub observation: Observation,
    /// What it speaks for.
    pub speaks_for: SpeaksFor,
    /// Why.
    pub reason: Reason,
}

/// What one observation speaks for.
///
/// # Source
/// As the head of [`super`]. Fine grey paste is expected wear (from memory).
#[must_use]
pub fn line(observation: Observation, limits: &Limits) -> Line {
    use SpeaksFor::{Changing, Leaving, LookingInside, Nothing};
    let (speaks_for, reason) = match observation {
        Observation::Smell(Smell::AsFresh) | Observation::Colour(Colour::AsFresh) => {
            (Leaving, Reason::LikeFresh)
        }
        Observation::Smell(Smell::SlightlySharp | Smell::Burnt)
        | Observation::Colour(Colour::Brown | Colour::Black) => (Changing, Reason::Oxidised),
        Observation::Colour(Colour::Darker) | Observation::Debris(Debris::FineGreyPaste) => {
            (Nothing, Reason::Expected)
        }
        Observation::Clouding(Clouding::Clear) => (Leaving, Reason::LikeFresh),
        Observation::Clouding(Clouding::Hazy) => (Changing, Reason::Water),
        Observation::Clouding(Clouding::Milky) => (LookingInside, Reason::Water),
        Observation::Debris(Debris::None) | Observation::Drive(Drive::Normal) => (Leaving, Reason::Ordinary),
        Observation::Debris(Debris::Glitter) => (Changing, Reason::Wear),
        Observation::Debris(Debris::FlakesOrChips | Debris::LiningPieces) => (LookingInside, Reason::Wear),
        Observation::Drive(Drive::SlipOrBang | Drive::Other) => (Nothing, Reason::NotTheFluid),
        Observation::Crackle(Bubbles::None) => (Leaving, Reason::Ordinary),
        Observation::Crackle(_) => (Changing, Reason::Water),
        Observation::ColourDifference { same_light: false, .. } => (Nothing, Reason::UnlikeLight),
        Observation::ColourDifference { difference, .. } => {
            against(Estimate::known(difference, 0.0), limits.colour_difference.as_ref())
        }
        Observation::Viscosity(change) => {
            let size = Estimate { value: change.estimate.value.abs(), ..change.estimate };
            against(size, limits.viscosity_change.as_ref())
        }
        Observation::Acid(rise) => against(rise.estimate, limits.acid_rise.as_ref()),
        Observation::Water(rise) => against(rise.estimate, limits.water_rise.as_ref()),
        Observation::Particles(code) => particles(&code, limits.particles.as_ref()),
        Observation::Distance(kilometres) if kilometres < 0.0 => (Nothing, Reason::NoNumber),
        Observation::Distance(kilometres) => {
            against(Estimate::known(kilometres, 0.0), limits.distance.as_ref())
        }
        Observation::Gap { gap, .. } => (Nothing, Reason::Gap(gap)),
    };
    Line { observation, speaks_for, reason }
}

/// A figure against a limit: beyond or below only where its 95 % interval does not hold the limit.
fn against(figure: Estimate, limit: Option<&Limit<f64>>) -> (SpeaksFor, Reason) {
    let (low, high) = figure.interval95();
    if !(low.is_finite() && high.is_finite()) {
        return (SpeaksFor::Nothing, Reason::NoNumber);
    }
    match limit.map(|limit| limit.value) {
        Some(limit) if low > limit => (SpeaksFor::Changing, Reason::BeyondLimit),
        Some(limit) if high <= limit => (SpeaksFor::Leaving, Reason::BelowLimit),
        Some(limit) if limit.is_finite() => (SpeaksFor::Nothing, Reason::TooNearTheLimit),
        _ => (SpeaksFor::Nothing, Reason::NoLimitStated),
    }
}

/// A code against the greatest scale numbers: each size that the limit names has to have been counted.
fn particles(code: &Code, limit: Option<&Limit<[Option<u8>; 3]>>) -> (SpeaksFor, Reason) {
    let named: Vec<_> = limit
        .into_iter()
        .flat_map(|limit| limit.value.into_iter().zip(code.numbers()))
        .filter_map(|(greatest, number)| greatest.map(|greatest| (ScaleNumber::Code(greatest), number)))
        .collect();
    if named.is_empty() {
        (SpeaksFor::Nothing, Reason::NoLimitStated)
    } else if named.iter().any(|(_, number)| number.is_none()) {
        (SpeaksFor::Nothing, Reason::CountedOtherwise)
    } else if named.iter().any(|(greatest, number)| number.is_some_and(|number| number > *greatest)) {
        (SpeaksFor::Changing, Reason::BeyondLimit)
    } else {
        (SpeaksFor::Leaving, Reason::BelowLimit)
    }
}
