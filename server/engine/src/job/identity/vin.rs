//! Which VIN it is: the readings of all 17 characters against each other, and the last eight against them.
//!
//! A wrong check digit counts only where it is required, and there until all 17 were read alike twice, one of them by
//! hand, or a named person decides.

use super::question::Question;
use super::{Contradiction, Identity, VIN_CHECK_DIGIT};
use crate::formula::vin::{self, FullReading, LastEight, Verdict, Vin};
use crate::job::Context;
use crate::job::fold::{Folded, Stated, tells};
use crate::kind::vin_reading::VinReading;
use crate::kind::words::VinSource;
use crate::text::sentence;

impl Identity {
    /// Takes the VIN from its readings, and what speaks against it.
    pub(super) fn read_vin(&mut self, context: &Context<'_>, folded: &Folded) {
        let whole: Vec<(&Stated, &VinReading, Vin)> = folded
            .each::<VinReading>()
            .filter_map(|(stated, reading)| Some((stated, reading, Vin::from_exact(reading.whole()?)?)))
            .collect();
        let Some((last_stated, last, vin)) = whole.last() else {
            self.sentences.push(sentence::identity_no_vin());
            return;
        };
        self.vin = Some(vin.as_str().to_owned());
        let others = whole.iter().filter(|(.., other)| other != vin);
        for (stated, _, other) in others {
            let text = sentence::identity_vins_differ(other.as_str(), vin.as_str());
            self.contradictions.push(Contradiction { text, seq: stated.seq });
        }
        let checked = vin::read(vin.as_str());
        let full: Vec<FullReading<'_>> = whole
            .iter()
            .map(|(_, reading, vin)| FullReading { vin, scanned: reading.source == Some(VinSource::Scan) })
            .collect();
        if checked.verdict == Verdict::RefusedUntilReadTwice {
            let alike = vin::read_alike_twice(vin, &full);
            for problem in checked.problems.iter().map(|problem| problem.sentence()) {
                if alike {
                    let text = sentence::identity_vin_accepted(problem, vin.as_str());
                    self.findings.push(tells(text, whole.iter().map(|(stated, ..)| stated.seq)));
                } else {
                    let text = sentence::identity_vin_read_again(problem);
                    self.open.push(Question::to_decide(VIN_CHECK_DIGIT, text, last_stated.seq));
                }
            }
        }
        for warning in &checked.warnings {
            let text = sentence::identity_vin_warning(vin.as_str(), warning.sentence());
            self.findings.push(tells(text, [last_stated.seq]));
        }
        self.compare_last_eight(folded, vin, last, whole.len());
        self.say_model_year(context, folded, vin);
    }

    fn compare_last_eight(&mut self, folded: &Folded, vin: &Vin, whole: &VinReading, wholes: usize) {
        let mut agreeing = None;
        for (stated, reading) in folded.each::<VinReading>().filter(|(_, reading)| reading.whole().is_none())
        {
            match vin::compare_last_8(vin, reading.last_eight()) {
                LastEight::Agrees { .. } => agreeing = Some(reading),
                other => self.contradictions.push(Contradiction { text: other.sentence(), seq: stated.seq }),
            }
        }
        let place =
            |reading: &VinReading| sentence::vin_source(reading.source.map_or("unknown", VinSource::word));
        self.sentences.push(match agreeing {
            Some(second) if second.source == whole.source => sentence::identity_vin_twice_alike(place(whole)),
            Some(second) => sentence::identity_vin_twice(place(whole), place(second)),
            None if wholes > 1 => sentence::identity_vin_read_whole_twice(),
            None => sentence::identity_vin_once(place(whole)),
        });
    }
}
