//! Which look each reading gives: instrument before photo before comparison tube, and what is wrong with it.
//!
//! A reading that carries several means gives one look, by the best of them; that is said. A colour word is never
//! turned into a number. Never here: what the looks say of the share, see `share`.

use super::colour::{self, Photo};
use super::{by_litres, litres, on_sheet};
use crate::catalogue::Workshop;
use crate::formula::exchange::Look as FormulaLook;
use crate::formula::seen::{Seen, Warning, sorted};
use crate::job::Context;
use crate::job::fold::{Folded, Stated, tells};
use crate::kind::exchange_reading::{ExchangeReading, Instrument};
use crate::quantity::{Litres, Share};
use crate::text::{Sentence, number, sentence};
use crate::view::{Finding, Look, LookMeans};

/// One look, with the entry it comes from.
#[derive(Debug, Clone, Copy)]
pub(super) struct Taken {
    /// The entry, by its place in the journal.
    pub seq: u64,
    /// What was seen, over the litres pushed in.
    pub seen: Seen,
    /// By what.
    pub means: LookMeans,
    /// True where it is the mean of several readings.
    pub is_mean: bool,
}

/// All looks of an exchange, by rising litres.
#[derive(Debug, Default)]
pub(super) struct Looks {
    /// The looks.
    pub taken: Vec<Taken>,
    /// What is wrong with readings.
    pub findings: Vec<Finding>,
    /// What was read from photos on the reference sheet, each with its entry.
    pub photos: Vec<Finding>,
    /// What photos say, and which means counts where there are several, a sentence each.
    pub remarks: Vec<Sentence>,
}

/// A share with its standard uncertainty, and by what it was seen.
struct Read {
    share: f64,
    uncertainty: f64,
    saturated: bool,
    means: LookMeans,
}

impl Looks {
    /// Reads the looks of all readings.
    pub fn of(context: &Context<'_>, folded: &Folded) -> Self {
        let mut looks = Self::default();
        for (stated, reading) in by_litres(folded) {
            looks.add(context, stated.seq, reading);
        }
        looks.findings.extend(went_back(folded));
        looks
    }

    fn add(&mut self, context: &Context<'_>, seq: u64, reading: &ExchangeReading) {
        let workshop = context.workshop();
        let at_litres = litres(&reading.pushed_in);
        let at = number::litres(at_litres, 1);
        let photo_uncertainty = workshop.exchange.photo_transmittance_uncertainty.value;
        let on_sheet =
            reading.photo_digest.as_ref().map(|digest| on_sheet::read(context.extracts.get(digest), &at));
        if let Some(said) = on_sheet.as_ref().and_then(|photo| on_sheet::said(photo, &at)) {
            self.remarks.push(said.clone());
            self.photos.push(tells(said, [seq]));
        }
        let by_colours =
            || reading.colours.as_ref().map(|colours| colour::read(colours, photo_uncertainty, &at));
        // Colours that somebody stated count where the photo itself could not be read; what is wrong with either is told.
        let (read, unread) = match on_sheet {
            Some(photo) if photo.new_share.is_none() => (by_colours(), Some(photo)),
            Some(photo) => (Some(photo), None),
            None => (by_colours(), None),
        };
        let wrong = read.iter().chain(&unread).flat_map(|photo| &photo.wrong);
        self.findings.extend(wrong.map(|text| tells(text.clone(), [seq])));
        let photo = read.or(unread);
        if let Some(instrument) = &reading.instrument {
            self.findings.extend(outside(instrument, &at).map(|text| tells(text, [seq])));
        }
        let stated = [reading.instrument.is_some(), photo.is_some(), reading.tube_percent.is_some()];
        let Some(read) = best(workshop, reading, photo) else { return };
        if stated.into_iter().filter(|is| *is).count() > 1 {
            self.remarks.push(sentence::exchange_best_of(at, read.means.word()));
        }
        let (Ok(litres), Ok(new_share)) = (Litres::new(at_litres), Share::new(read.share)) else { return };
        let look = FormulaLook { litres, new_share, standard_uncertainty: read.uncertainty };
        let seen = Seen { look, saturated: read.saturated };
        let is_mean = reading.sample_count.is_some();
        self.taken.push(Taken { seq, seen, means: read.means, is_mean });
    }

    /// The looks as they are shown.
    pub fn shown(&self) -> Vec<Look> {
        let shown = |taken: &Taken| Look {
            litres: taken.seen.look.litres.get(),
            glass_new_share: taken.seen.look.new_share.get(),
            standard_uncertainty: taken.seen.look.standard_uncertainty,
            means: taken.means,
            at_most: taken.seen.saturated,
        };
        self.taken.iter().map(shown).collect()
    }

    /// The entries of all looks, in the order of the journal.
    pub fn seqs(&self) -> Vec<u64> {
        let mut seqs: Vec<u64> = self.taken.iter().map(|taken| taken.seq).collect();
        seqs.sort_unstable();
        seqs
    }

    /// Whether all looks err independently of each other; through one set of tubes or one phone they do not. Nor do means
    /// over readings: what scatters is averaged away, and what the instrument is off by is left in all of them.
    pub fn are_independent(&self) -> bool {
        self.taken.iter().all(|taken| taken.means == LookMeans::Instrument && !taken.is_mean)
    }

    /// How the fluid was looked at, for the record; absent when nobody looked.
    pub fn in_words(&self) -> Option<Sentence> {
        let of = |means| self.taken.iter().filter(|taken| taken.means == means).count() as u64;
        let tubes = of(LookMeans::Tube);
        if self.taken.is_empty() {
            return None;
        }
        if self.taken.len() as u64 == tubes {
            return Some(sentence::exchange_means(tubes));
        }
        let all = [LookMeans::Tube, LookMeans::Photo, LookMeans::Instrument];
        let used = all.into_iter().filter(|means| of(*means) > 0);
        let list: Vec<Sentence> =
            used.map(|means| sentence::exchange_looks_by(of(means), means.word())).collect();
        Some(sentence::exchange_means_of(list))
    }

    /// How a look that only says 'at most' is drawn; absent where there is none.
    pub fn at_most_in_words(&self) -> Option<Sentence> {
        self.taken.iter().any(|taken| taken.seen.saturated).then(sentence::exchange_at_most)
    }

    /// What does not fit together among the looks, each with the entries it rests on.
    pub fn warnings(&self, pushed: Litres) -> Vec<Finding> {
        let seen: Vec<Seen> = self.taken.iter().map(|taken| taken.seen).collect();
        sorted(&seen, pushed).warnings.iter().filter_map(|warning| self.finding(warning)).collect()
    }

    /// The looks at some litres; all stand by rising litres.
    fn at(&self, litres: Litres) -> impl Iterator<Item = &Taken> {
        let from = self.taken.partition_point(|taken| taken.seen.look.litres < litres);
        let there = self.taken.iter().skip(from);
        there.take_while(move |taken| taken.seen.look.litres == litres)
    }

    /// The sentence of a warning; nothing for those that are told elsewhere.
    pub fn finding(&self, warning: &Warning) -> Option<Finding> {
        let words = |litres: Litres| number::litres(litres.get(), 1);
        let at = |places: &[Litres]| -> Vec<u64> {
            let mut seqs: Vec<u64> =
                places.iter().flat_map(|litres| self.at(*litres)).map(|taken| taken.seq).collect();
            seqs.sort_unstable();
            seqs
        };
        Some(match *warning {
            // The looks are handed over by rising litres; which of them was taken later is judged by the clocks.
            Warning::LitresGoBack { .. } => return None,
            Warning::FillUnknown => {
                Finding { on_record: false, ..tells(sentence::exchange_fill_unknown(), self.seqs()) }
            }
            // An instrument that goes on while nothing flows has not looked twice by mistake.
            Warning::SameLitres { litres, differ: false } if self.at(litres).all(|taken| taken.is_mean) => {
                return None;
            }
            Warning::SameLitres { litres, differ: false } => {
                let text = sentence::exchange_same_litres(words(litres));
                Finding { on_record: false, ..tells(text, at(&[litres])) }
            }
            Warning::SameLitres { litres, differ: true } => {
                tells(sentence::exchange_same_litres_differ(words(litres)), at(&[litres]))
            }
            Warning::BeyondPushed { litres, pushed } => {
                tells(sentence::exchange_beyond_pushed(words(litres), words(pushed)), at(&[litres]))
            }
            Warning::NoUncertainty { litres } => {
                tells(sentence::exchange_no_uncertainty(words(litres)), at(&[litres]))
            }
            Warning::Saturated { litres } => {
                let taken = self.at(litres).find(|taken| taken.seen.saturated)?;
                let parts = |share: f64| number::fixed(share * 100.0, 0);
                let new = taken.seen.look.new_share.get();
                let text = if parts(new) == parts(0.0) {
                    sentence::exchange_saturated_all(words(litres))
                } else {
                    sentence::exchange_saturated(words(litres), parts(1.0 - new))
                };
                tells(text, at(&[litres]))
            }
            Warning::Darker(darker) => tells(darker.sentence(), at(&[darker.earlier, darker.later])),
            Warning::NotFitted => tells(sentence::exchange_not_fitted(), self.seqs()),
        })
    }
}

/// The best means of a reading: the instrument, else the photo, else the tube. A photo that was too dark stands back
/// behind a tube; one of which something is wrong gives no look.
fn best(workshop: &Workshop, reading: &ExchangeReading, photo: Option<Photo>) -> Option<Read> {
    if let Some(instrument) = &reading.instrument {
        return Some(Read {
            share: taken_as(instrument) / 100.0,
            uncertainty: instrument.standard_uncertainty_percent() / 100.0,
            saturated: false,
            means: LookMeans::Instrument,
        });
    }
    let tube = reading.tube_percent.and_then(|percent| {
        let share = Share::new(f64::from(percent) / 100.0).ok()?;
        let uncertainty = workshop.tubes.look_uncertainty(share);
        Some(Read { share: share.get(), uncertainty, saturated: false, means: LookMeans::Tube })
    });
    let photo = photo.filter(|photo| !photo.saturated || tube.is_none()).and_then(|photo| {
        let (share, uncertainty) = photo.new_share?;
        Some(Read { share, uncertainty, saturated: photo.saturated, means: LookMeans::Photo })
    });
    photo.or(tube)
}

fn taken_as(instrument: &Instrument) -> f64 {
    instrument.new_percent.clamp(0.0, 100.0)
}

/// That an instrument showed more or less than can be, by more than twice its uncertainty.
fn outside(instrument: &Instrument, at: &str) -> Option<Sentence> {
    let taken = taken_as(instrument);
    let off = (instrument.new_percent - taken).abs();
    let parts = |percent: f64| number::fixed(percent, 0);
    (off > 2.0 * instrument.standard_uncertainty_percent())
        .then(|| sentence::exchange_instrument_outside(at, parts(instrument.new_percent), parts(taken)))
}

/// The widest step back of the counter at one station, whose own order is certain.
fn went_back(folded: &Folded) -> Option<Finding> {
    let mut readings: Vec<(&Stated, f64)> = folded
        .each::<ExchangeReading>()
        .filter(|(stated, _)| !stated.moment.typed)
        .map(|(stated, reading)| (stated, litres(&reading.pushed_in)))
        .collect();
    readings.sort_by(|(one, _), (other, _)| {
        (&one.moment.station, one.moment.number).cmp(&(&other.moment.station, other.moment.number))
    });
    let mut most: Option<(&Stated, f64)> = None;
    let mut widest: Option<(f64, f64, [u64; 2])> = None;
    for (stated, to) in readings {
        let before = most.filter(|(before, _)| before.moment.station == stated.moment.station);
        match before {
            Some((earlier, from)) if to < from => {
                let wider =
                    widest.is_none_or(|(from_before, to_before, _)| from - to > from_before - to_before);
                if wider {
                    widest = Some((from, to, [earlier.seq, stated.seq]));
                }
            }
            _ => most = Some((stated, to)),
        }
    }
    let (from, to, seqs) = widest?;
    Some(tells(sentence::exchange_went_back(number::litres(from, 1), number::litres(to, 1)), seqs))
}
