//! What people tapped about the fluid, as observations: sample, pan and magnets, drive.
//!
//! The one place where the words of the entries become the words of [`crate::formula::condition`]. A look at a part
//! from outside says nothing of the fluid and is no observation here. Never here: what an observation speaks for.

use super::Side;
use crate::formula::condition::{Bubbles, Clouding, Colour, Debris, Drive, Observation, Smell};
use crate::job::{Folded, Stated};
use crate::kind::Fact;
use crate::kind::drain::Drain;
use crate::kind::fluid_sample::FluidSample;
use crate::kind::road_test::RoadTest;
use crate::kind::words::{self, DriveTick, Moment, SampleTime};

/// One thing that was seen, with the entry that says so.
pub(super) struct Sight<'a> {
    /// The entry.
    pub stated: &'a Stated,
    /// What was seen.
    pub observation: Observation,
}

/// Everything that was tapped of one side, in the order of the journal. Each look counts: another sample that is clear
/// does not take back what the first one showed.
pub(super) fn of(folded: &Folded, side: Side) -> Vec<Sight<'_>> {
    let mut sights = Vec::new();
    for stated in &folded.facts {
        let seen = match &stated.fact {
            Fact::FluidSample(sample) if sample.moment == Some(side.sample_time()) => of_sample(sample),
            Fact::Drain(drain) if side == Side::Before => of_drain(drain).into_iter().collect(),
            Fact::RoadTest(test) if test.moment == Some(side.moment()) => {
                of_drive(test).into_iter().collect()
            }
            _ => continue,
        };
        sights.extend(seen.into_iter().map(|observation| Sight { stated, observation }));
    }
    sights
}

impl Side {
    /// When a sample of this side was drawn.
    pub(super) fn sample_time(self) -> SampleTime {
        match self {
            Self::Before => SampleTime::Before,
            Self::After => SampleTime::After,
        }
    }

    /// When a drive of this side was.
    pub(super) fn moment(self) -> Moment {
        match self {
            Self::Before => Moment::Before,
            Self::After => Moment::After,
        }
    }
}

fn of_sample(sample: &FluidSample) -> Vec<Observation> {
    let seen = [
        sample.smell.map(|word| Observation::Smell(smell(word))),
        sample.clouding.map(|word| Observation::Clouding(clouding(word))),
        sample.colour.and_then(colour).map(Observation::Colour),
        sample.specks.map(|word| Observation::Debris(debris(word))),
    ];
    seen.into_iter().flatten().collect()
}

fn of_drain(drain: &Drain) -> Option<Observation> {
    drain.debris.map(|word| Observation::Debris(debris(word)))
}

/// The most that the driver felt; nothing without a tick.
fn of_drive(test: &RoadTest) -> Option<Observation> {
    let felt = |wanted: &[DriveTick]| test.ticks.iter().any(|tick| wanted.contains(tick));
    let drive = if felt(&[DriveTick::Slip, DriveTick::Bang]) {
        Drive::SlipOrBang
    } else if test.ticks.iter().any(|tick| *tick != DriveTick::Normal) {
        Drive::Other
    } else if felt(&[DriveTick::Normal]) {
        Drive::Normal
    } else {
        return None;
    };
    Some(Observation::Drive(drive))
}

fn smell(word: words::Smell) -> Smell {
    match word {
        words::Smell::AsFresh => Smell::AsFresh,
        words::Smell::SlightlySharp => Smell::SlightlySharp,
        words::Smell::Burnt => Smell::Burnt,
    }
}

fn clouding(word: words::Clouding) -> Clouding {
    match word {
        words::Clouding::Clear => Clouding::Clear,
        words::Clouding::Hazy => Clouding::Hazy,
        words::Clouding::Milky => Clouding::Milky,
    }
}

/// A dye tells which fluid it is, not how old.
fn colour(word: words::ColourWord) -> Option<Colour> {
    match word {
        words::ColourWord::AsFresh => Some(Colour::AsFresh),
        words::ColourWord::Darker => Some(Colour::Darker),
        words::ColourWord::Brown => Some(Colour::Brown),
        words::ColourWord::Black => Some(Colour::Black),
        words::ColourWord::Yellow
        | words::ColourWord::Green
        | words::ColourWord::Blue
        | words::ColourWord::Red => None,
    }
}

fn debris(word: words::Debris) -> Debris {
    match word {
        words::Debris::None => Debris::None,
        words::Debris::FineGreyPaste => Debris::FineGreyPaste,
        words::Debris::Glitter => Debris::Glitter,
        words::Debris::FlakesOrChips => Debris::FlakesOrChips,
    }
}

/// What the laboratory saw on its hot plate.
pub(super) fn bubbles(word: words::Crackle) -> Bubbles {
    match word {
        words::Crackle::None => Bubbles::None,
        words::Crackle::Fine => Bubbles::Fine,
        words::Crackle::Growing => Bubbles::Growing,
        words::Crackle::Violent => Bubbles::Violent,
    }
}
