//! The dye of the old fluid against that of the variant's fluid: a further sign, never a proof.
//!
//! Old fluid turns brown and black whatever its dye was, so those words and 'darker' say nothing.

use crate::catalogue::FluidColour;
use crate::job::fold::Folded;
use crate::kind::fluid_sample::FluidSample;
use crate::kind::words::{ColourWord, SampleTime};

/// A dye that is told from another by eye.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Dye {
    Yellow,
    Green,
    Blue,
    Red,
}

impl Dye {
    fn seen(word: ColourWord) -> Option<Self> {
        match word {
            ColourWord::Yellow => Some(Self::Yellow),
            ColourWord::Green => Some(Self::Green),
            ColourWord::Blue => Some(Self::Blue),
            ColourWord::Red => Some(Self::Red),
            ColourWord::AsFresh | ColourWord::Darker | ColourWord::Brown | ColourWord::Black => None,
        }
    }

    /// Fluid without a dye looks yellow in a glass, as amber does (common practice, no source).
    fn of_fresh(colour: FluidColour) -> Self {
        match colour {
            FluidColour::Red => Self::Red,
            FluidColour::Green => Self::Green,
            FluidColour::Blue => Self::Blue,
            FluidColour::Amber | FluidColour::Yellow | FluidColour::Clear => Self::Yellow,
        }
    }
}

/// Place of the sample before the work and its colour, where it is clearly of another dye than the fresh fluid. The
/// last sample with a colour counts.
pub(super) fn of_another_dye(folded: &Folded, fresh: FluidColour) -> Option<(u64, ColourWord)> {
    let mut before =
        folded.each::<FluidSample>().filter(|(_, sample)| sample.moment == Some(SampleTime::Before));
    let (stated, word) = before
        .rfind(|(_, sample)| sample.colour.is_some())
        .and_then(|(stated, sample)| sample.colour.map(|word| (stated, word)))?;
    (Dye::seen(word)? != Dye::of_fresh(fresh)).then_some((stated.seq, word))
}
