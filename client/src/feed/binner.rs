//! Readings put together: at most one entry for so many litres or so many seconds, whichever comes first.
//!
//! Events and the time go in, actions come out; nothing here reads, keeps or looks at a clock. A reading that would open
//! a new bin closes the one before it. Litres are a counter and are not averaged: an entry has those of the last reading
//! in it, so that no litre is lost. Share and temperature are means, with count and standard deviation.
//!
//! Litres that go back are never guessed at: the reading is left out and told, unless a person said that the display is
//! set to zero while it is fed; then a counter that begins again near zero counts on top of what it showed before. A
//! counter that leaps further than anything flows is left out too: one wrong digit must not hold up all that follows.

use super::counter::{self, Counter, Step};
use super::map::BinSize;
use super::reading::{Reading, rounded};
use standpipe_proto::limits::feed::SAMPLES_MAX;
use standpipe_proto::limits::{self, Span};

const SECOND_US: f64 = 1e6;

/// What happened.
#[derive(Debug, Clone, PartialEq)]
pub enum Event {
    /// A line was read.
    Read {
        /// Its number.
        line: u64,
        /// What it says.
        reading: Reading,
    },
    /// Time went by without a line.
    Passed,
    /// There are no more lines.
    Ended {
        /// Whether the last reading is the exchange's last.
        is_last: bool,
    },
}

/// What is to be done, in this order.
#[derive(Debug, Clone, PartialEq)]
pub enum Action {
    /// State what a bin holds.
    State(Bin),
    /// Tell that a reading is not used, or that a counter begins again.
    Tell(Told),
}

/// Something about one line that somebody should know.
#[derive(Debug, Clone, PartialEq)]
pub struct Told {
    /// The line's number.
    pub line: u64,
    /// What it is about.
    pub about: About,
    /// The sentence, without the line.
    pub sentence: String,
}

/// What is told.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum About {
    /// The counter of litres went back; the reading is not used.
    WentBack,
    /// The counter of litres leapt; the reading is not used.
    Leapt,
    /// Litres add up to more than is allowed; the reading is not used.
    TooMuch,
    /// The exchange is over; the reading is not used.
    AfterLast,
    /// The counter of what came out went back or leapt; that value alone is not used.
    Out,
    /// A counter begins again and counts on top.
    NewRun,
}

/// What one entry states.
#[derive(Debug, Clone, PartialEq)]
pub struct Bin {
    /// When its last reading was made, in microseconds.
    pub at_us: i64,
    /// Its readings; 0 where the end alone is stated.
    pub lines: u32,
    /// Pushed in since the start of the exchange, in L, at its last reading.
    pub litres_in: Option<f64>,
    /// Came out since then, in L, at the last reading that showed it.
    pub litres_out: Option<f64>,
    /// Share of new fluid, in percent.
    pub new_percent: Option<Mean>,
    /// Temperature, in °C.
    pub celsius: Option<Mean>,
    /// Whether the exchange is over.
    pub is_last: bool,
}

/// A mean over readings.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Mean {
    /// The mean.
    pub value: f64,
    /// How many readings.
    pub count: u32,
    /// Their standard deviation; absent for one.
    pub spread: Option<f64>,
}

/// How readings are put together.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BinnerOptions {
    /// How far the readings of an entry go.
    pub size: BinSize,
    /// Whether lines have times of their own: then no other time counts.
    pub has_own_times: bool,
    /// Whether a counter may be set to zero while it is fed.
    pub may_reset: bool,
}

/// Puts readings together.
#[derive(Debug, Clone)]
pub struct Binner {
    options: BinnerOptions,
    now_us: i64,
    counter_in: Counter,
    counter_out: Counter,
    open: Option<Open>,
    is_over: bool,
    has_stated: bool,
}

/// The bin that is being filled.
#[derive(Debug, Clone)]
struct Open {
    since_us: i64,
    at_us: i64,
    from_litres: f64,
    lines: u32,
    new_percent: Moments,
    celsius: Moments,
}

/// Mean and sum of squared differences, one value after the other (Welford, Technometrics 4 (1962) 419).
#[derive(Debug, Clone, Copy, Default)]
struct Moments {
    count: u32,
    mean: f64,
    squares: f64,
}

impl Binner {
    /// A binner that has seen nothing.
    #[must_use]
    pub fn new(options: BinnerOptions) -> Self {
        Self {
            options,
            now_us: i64::MIN,
            counter_in: Counter::default(),
            counter_out: Counter::default(),
            open: None,
            is_over: false,
            has_stated: false,
        }
    }

    /// Takes an event that happened at a time, and says what is to be done. Times that go back count as no time.
    pub fn step(&mut self, event: Event, now_us: i64) -> Vec<Action> {
        let mut actions = Vec::new();
        match event {
            Event::Read { line, reading } => {
                let now_us = if self.options.has_own_times { reading.time_us } else { Some(now_us) };
                self.now_us = self.now_us.max(now_us.unwrap_or(self.now_us));
                self.read(line, &reading, &mut actions);
            }
            Event::Passed if !self.options.has_own_times => {
                self.now_us = self.now_us.max(now_us);
                if self.closes_at().is_some_and(|at| at <= self.now_us) {
                    actions.extend(self.close(false).map(Action::State));
                }
            }
            Event::Passed => {}
            Event::Ended { is_last } => actions.extend(self.ended(is_last).map(Action::State)),
        }
        actions
    }

    /// When the open bin closes by itself, in microseconds; nothing while none is open, or where only lines have times.
    #[must_use]
    pub fn closes_at(&self) -> Option<i64> {
        let open = self.open.as_ref().filter(|_| !self.options.has_own_times)?;
        Some(open.since_us.saturating_add(self.width_us()))
    }

    fn width_us(&self) -> i64 {
        // At most 600 seconds.
        #[allow(clippy::cast_possible_truncation)]
        let width = (self.options.size.seconds * SECOND_US).round() as i64;
        width
    }

    fn read(&mut self, line: u64, reading: &Reading, actions: &mut Vec<Action>) {
        let tell = |about, sentence: String| Action::Tell(Told { line, about, sentence });
        if self.is_over {
            let sentence = "the exchange was over with an earlier line; the line is not used".to_owned();
            return actions.push(tell(About::AfterLast, sentence));
        }
        let resets = self.options.may_reset;
        if let Some(litres) = reading.litres_in {
            let mut counter = self.counter_in;
            let step = counter.takes(litres, self.now_us, resets);
            let told = step.told("litres in", litres, resets, "the line is not used");
            if matches!(step, Step::Back { .. } | Step::Leapt { .. }) {
                return actions.extend(told.map(|(about, sentence)| tell(about, sentence)));
            }
            if let Some(most) = litres_most().filter(|most| counter.total() > *most) {
                let total = rounded(counter.total());
                let sentence =
                    format!("litres in add up to {total} L, more than {most} L; the line is not used");
                return actions.push(tell(About::TooMuch, sentence));
            }
            self.close_before(&counter, actions);
            self.counter_in = counter;
            actions.extend(told.map(|(about, sentence)| tell(about, sentence)));
        } else {
            let counter = self.counter_in;
            self.close_before(&counter, actions);
        }
        if let Some(litres) = reading.litres_out {
            let told = self.read_out(litres);
            actions.extend(told.map(|(about, sentence)| tell(about, sentence)));
        }
        self.add(reading);
        if reading.is_last {
            actions.extend(self.close(true).map(Action::State));
        }
    }

    /// Reads the counter of what came out, whose mistakes cost that value alone.
    fn read_out(&mut self, litres: f64) -> Option<(About, String)> {
        let then = "litres out of this line are not used";
        let mut counter = self.counter_out;
        let step = counter.takes(litres, self.now_us, self.options.may_reset);
        let told = step.told("litres out", litres, self.options.may_reset, then);
        if matches!(step, Step::Back { .. } | Step::Leapt { .. }) {
            return told.map(|(_, sentence)| (About::Out, sentence));
        }
        if let Some(most) = litres_most().filter(|most| counter.total() > *most) {
            let total = rounded(counter.total());
            return Some((About::Out, format!("litres out add up to {total} L, more than {most} L; {then}")));
        }
        self.counter_out = counter;
        told
    }

    /// Closes the open bin if a reading at these litres and at this time is beyond it.
    fn close_before(&mut self, counter: &Counter, actions: &mut Vec<Action>) {
        let size = self.options.size;
        let Some(open) = &self.open else { return };
        let litres = counter.total() - open.from_litres;
        let is_over = litres >= size.litres - counter::SAME_LITRES
            || self.now_us.saturating_sub(open.since_us) >= self.width_us()
            || open.lines >= SAMPLES_MAX;
        if is_over {
            actions.extend(self.close(false).map(Action::State));
        }
    }

    fn add(&mut self, reading: &Reading) {
        let (now_us, from_litres) = (self.now_us, self.counter_in.total());
        let open = self.open.get_or_insert_with(|| Open {
            since_us: now_us,
            at_us: now_us,
            from_litres,
            lines: 0,
            new_percent: Moments::default(),
            celsius: Moments::default(),
        });
        open.at_us = now_us;
        open.lines += 1;
        open.new_percent.add(reading.new_percent);
        open.celsius.add(reading.celsius);
    }

    fn close(&mut self, is_last: bool) -> Option<Bin> {
        let open = self.open.take()?;
        self.is_over = is_last;
        self.has_stated = true;
        Some(Bin {
            at_us: open.at_us,
            lines: open.lines,
            litres_in: self.counter_in.total_if_shown(),
            litres_out: self.counter_out.total_if_shown(),
            new_percent: open.new_percent.mean(),
            celsius: open.celsius.mean(),
            is_last,
        })
    }

    /// The end of the lines. Where the end of the exchange is stated and its last reading was stated already, the end is
    /// stated with the litres alone.
    fn ended(&mut self, is_last: bool) -> Option<Bin> {
        if self.open.is_some() {
            return self.close(is_last);
        }
        if !is_last || self.is_over || !self.has_stated || self.counter_in.total_if_shown().is_none() {
            return None;
        }
        self.is_over = true;
        Some(Bin {
            at_us: self.now_us,
            lines: 0,
            litres_in: self.counter_in.total_if_shown(),
            litres_out: self.counter_out.total_if_shown(),
            new_percent: None,
            celsius: None,
            is_last,
        })
    }
}

impl Moments {
    fn add(&mut self, value: Option<f64>) {
        let Some(value) = value else { return };
        self.count += 1;
        let off = value - self.mean;
        self.mean += off / f64::from(self.count);
        self.squares += off * (value - self.mean);
    }

    fn mean(&self) -> Option<Mean> {
        let spread = (self.squares.max(0.0) / f64::from(self.count.saturating_sub(1))).sqrt();
        (self.count > 0).then(|| Mean {
            value: millionths(self.mean),
            count: self.count,
            spread: (self.count > 1).then(|| millionths(spread)),
        })
    }
}

pub(super) fn millionths(value: f64) -> f64 {
    (value * 1e6).round() / 1e6
}

fn litres_most() -> Option<f64> {
    match limits::bound("ExchangeReading", "volume_in_litres")?.span {
        Span::Number { greatest, .. } => Some(greatest),
        _ => None,
    }
}

#[cfg(test)]
#[path = "../tests/feed_binner.rs"]
mod tests;
