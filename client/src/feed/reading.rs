//! Readings out of lines, by the column map: what cannot be read says what was expected, and a value outside its bound
//! is left out and told.
//!
//! Nothing is guessed: a cell without a number is not measured, and a line without its litres or time is none. Never
//! here: what readings mean together, see `binner.rs`.

use super::map::{Column, ColumnMap, NumberColumn, TimeForm, span};
use super::table::Bounds;
use crate::error::ClientError;
use standpipe_proto::limits::feed::COLUMNS_MAX;

const SECOND: f64 = 1e6;
const DAY_SECONDS: f64 = 86_400.0;
/// Seconds since the first line that a column of seconds may show: a year of a counter that nobody set to zero.
const SECONDS_MAX: f64 = 366.0 * DAY_SECONDS;
/// Most characters of a line that a sentence repeats.
const SHOWN_CHARACTERS: usize = 60;

/// What one line says.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Reading {
    /// When it was made, in microseconds from any fixed moment; none where the map has no times.
    pub time_us: Option<i64>,
    /// New fluid pushed in, in L.
    pub litres_in: Option<f64>,
    /// Fluid that came out, in L.
    pub litres_out: Option<f64>,
    /// Share of new fluid, in percent.
    pub new_percent: Option<f64>,
    /// A temperature, in °C.
    pub celsius: Option<f64>,
    /// Whether the line says that the exchange is over.
    pub is_last: bool,
}

/// What a line is.
#[derive(Debug, Clone, PartialEq)]
pub enum Means {
    /// Nothing: it is empty, a comment, or names the columns.
    Nothing,
    /// A reading, and sentences of values that were outside their bounds and are not in it.
    Reading(Reading, Vec<String>),
    /// Its litres are outside their bounds: the sentence.
    Outside(String),
    /// It cannot be read: what was expected.
    Unreadable(String),
}

/// Where the columns are.
#[derive(Debug, Clone, Copy, Default)]
struct Places {
    time: usize,
    litres_in: usize,
    litres_out: usize,
    new_share: usize,
    temperature: usize,
    last: usize,
}

/// Reads lines, one after the other.
#[derive(Debug, Clone)]
pub struct Reader {
    map: ColumnMap,
    to_skip: u32,
    /// None while the line that names the columns has not come.
    places: Option<Places>,
    litres: Bounds,
    new_share: Bounds,
    temperature: Bounds,
    /// Days that a clock has gone through, and what it showed last, in seconds.
    clock: (f64, Option<f64>),
}

impl Reader {
    /// Reads by this map.
    #[must_use]
    pub fn new(map: ColumnMap) -> Self {
        let places = if map.header { None } else { places(&map, &[]).ok() };
        Self {
            to_skip: map.skipped_lines,
            places,
            litres: span("ExchangeReading", "volume_in_litres"),
            new_share: span("ExchangeReading", "instrument_new_percent"),
            temperature: span("ExchangeReading", "temperature_celsius"),
            clock: (0.0, None),
            map,
        }
    }

    /// Reads the next line.
    ///
    /// # Errors
    /// When the line that names the columns lacks one that the map names: then no line can be read.
    pub fn read(&mut self, line: &str) -> Result<Means, ClientError> {
        if self.to_skip > 0 {
            self.to_skip -= 1;
            return Ok(Means::Nothing);
        }
        let is_comment = self.map.comment_signs.iter().any(|sign| line.trim_start().starts_with(sign));
        if line.trim().is_empty() || is_comment {
            return Ok(Means::Nothing);
        }
        let cells = cells(line, self.map.separator);
        if cells.len() > COLUMNS_MAX {
            return Ok(Means::Unreadable(format!("at most {COLUMNS_MAX} columns were expected")));
        }
        let Some(places) = self.places else {
            self.places = Some(places(&self.map, &cells)?);
            return Ok(Means::Nothing);
        };
        Ok(self.reading(places, &cells).unwrap_or_else(|means| means))
    }

    fn reading(&mut self, places: Places, cells: &[String]) -> Result<Means, Means> {
        let mut outside = Vec::new();
        let mut reading = Reading { time_us: self.time(places.time, cells)?, ..Reading::default() };
        if let Some(column) = &self.map.litres_in {
            let litres = self.number(places.litres_in, cells, column, "litres in")?;
            let litres =
                litres.ok_or_else(|| Means::Unreadable(expected(places.litres_in, "litres in, a number")))?;
            reading.litres_in = Some(inside(litres, self.litres, "litres in").map_err(Means::Outside)?);
        }
        if let Some(column) = &self.map.litres_out {
            let litres = self.number(places.litres_out, cells, column, "litres out")?;
            reading.litres_out = kept(litres, self.litres, "litres out", &mut outside);
        }
        if let Some(column) = &self.map.new_share {
            let share = self.number(places.new_share, cells, &column.number, "share of new fluid")?;
            reading.new_percent = kept(share, self.new_share, "share of new fluid", &mut outside);
        }
        if let Some(column) = &self.map.temperature {
            let celsius = self.number(places.temperature, cells, &column.number, "temperature")?;
            reading.celsius = kept(celsius, self.temperature, "temperature", &mut outside);
        }
        if let Some(last) = &self.map.last {
            let cell = cells.get(places.last).map(String::as_str).unwrap_or_default();
            reading.is_last = cell.eq_ignore_ascii_case(&last.word);
        }
        Ok(Means::Reading(reading, outside))
    }

    /// The number of a cell in the unit of entries; none where it is not measured.
    fn number(
        &self,
        place: usize,
        cells: &[String],
        column: &NumberColumn,
        what: &str,
    ) -> Result<Option<f64>, Means> {
        let unreadable = || Means::Unreadable(expected(place, &format!("{what}, a number")));
        let cell = cells.get(place).ok_or_else(unreadable)?;
        let bare = cell.strip_suffix(column.unit.as_str()).unwrap_or(cell).trim();
        // What displays show where nothing is measured.
        if bare.bytes().all(|byte| byte == b'-') {
            return Ok(None);
        }
        let number = decimal(bare, self.map.decimal_comma).ok_or_else(unreadable)?;
        Ok(Some(number * column.factor + column.offset))
    }

    fn time(&mut self, place: usize, cells: &[String]) -> Result<Option<i64>, Means> {
        let Some(column) = &self.map.time else { return Ok(None) };
        let cell = cells.get(place).map(|cell| cell.trim()).unwrap_or_default();
        let seconds = match column.form {
            TimeForm::Clock => {
                let clock = clock_seconds(cell, self.map.decimal_comma).ok_or_else(|| {
                    Means::Unreadable(expected(place, "the time, as a clock shows it: 10:40:05"))
                })?;
                let (days, before) = &mut self.clock;
                // A clock that goes back by half a day and more has passed midnight.
                if before.is_some_and(|before| before - clock > DAY_SECONDS / 2.0) {
                    *days += 1.0;
                }
                *before = Some(clock);
                *days * DAY_SECONDS + clock
            }
            TimeForm::Seconds { factor } => {
                let number = decimal(cell, self.map.decimal_comma).map(|number| number * factor);
                let inside = number.filter(|seconds| (0.0..=SECONDS_MAX).contains(seconds));
                inside.ok_or_else(|| {
                    Means::Unreadable(expected(place, &format!("the time, 0 to {SECONDS_MAX} seconds")))
                })?
            }
        };
        // Bounded above by a year of microseconds.
        #[allow(clippy::cast_possible_truncation)]
        Ok(Some((seconds * SECOND).round() as i64))
    }
}

/// A line as a sentence repeats it: its beginning.
#[must_use]
pub fn shown(line: &str) -> String {
    let mut shown: String = line.trim().chars().take(SHOWN_CHARACTERS).collect();
    if line.trim().chars().count() > SHOWN_CHARACTERS {
        shown.push('…');
    }
    shown
}

fn expected(place: usize, what: &str) -> String {
    format!("{what} was expected in column {}", place + 1)
}

fn inside(value: f64, (least, greatest, unit): Bounds, what: &str) -> Result<f64, String> {
    if value >= least && value <= greatest {
        return Ok(value);
    }
    Err(format!("{what}: {} {unit} is outside {least} to {greatest} {unit}", rounded(value)))
}

/// A value inside its bound; one that is outside is noted and left out.
fn kept(value: Option<f64>, bounds: Bounds, what: &str, outside: &mut Vec<String>) -> Option<f64> {
    inside(value?, bounds, what).map_err(|sentence| outside.push(sentence)).ok()
}

/// A number as a sentence shows it.
pub(super) fn rounded(value: f64) -> f64 {
    (value * 1000.0).round() / 1000.0
}

/// A number with the decimal mark of the map, and with an exponent if need be.
fn decimal(text: &str, is_comma: bool) -> Option<f64> {
    let (mark, other) = if is_comma { (',', '.') } else { ('.', ',') };
    let is_number = text.bytes().any(|byte| byte.is_ascii_digit())
        && text.chars().all(|sign| {
            sign.is_ascii_digit() || sign == mark || matches!(sign, '+' | '-' | '\u{2212}' | 'e' | 'E')
        });
    // A number that ends with its mark was cut off.
    if !is_number || text.contains(other) || text.ends_with(mark) {
        return None;
    }
    let plain = text.replace(mark, ".").replace('\u{2212}', "-");
    plain.parse::<f64>().ok().filter(|number| number.is_finite())
}

/// Seconds since midnight of `10:40`, `10:40:05` or `10:40:05.5`.
fn clock_seconds(text: &str, is_comma: bool) -> Option<f64> {
    let mut parts = text.split(':');
    let (hours, minutes) = (parts.next()?, parts.next()?);
    let seconds = parts.next().unwrap_or("0");
    if parts.next().is_some() {
        return None;
    }
    let whole = |part: &str, most: u32| {
        let is_whole = (1..=2).contains(&part.len()) && part.bytes().all(|byte| byte.is_ascii_digit());
        part.parse::<u32>().ok().filter(|number| is_whole && *number < most)
    };
    let seconds = decimal(seconds, is_comma).filter(|seconds| (0.0..60.0).contains(seconds))?;
    Some(f64::from(whole(hours, 24)?) * 3600.0 + f64::from(whole(minutes, 60)?) * 60.0 + seconds)
}

/// The cells of a line. Between quotation marks a separator is text.
fn cells(line: &str, separator: Option<char>) -> Vec<String> {
    let Some(separator) = separator else {
        return line.split_whitespace().map(str::to_owned).collect();
    };
    let mut cells = vec![String::new()];
    let mut is_quoted = false;
    for sign in line.chars() {
        if sign == '"' {
            is_quoted = !is_quoted;
        } else if sign == separator && !is_quoted {
            cells.push(String::new());
        } else if let Some(cell) = cells.last_mut() {
            cell.push(sign);
        }
    }
    cells.iter().map(|cell| cell.trim().to_owned()).collect()
}

fn places(map: &ColumnMap, names: &[String]) -> Result<Places, ClientError> {
    let place = |column: Option<&Column>| match column {
        None => Ok(0),
        Some(Column::Place(place)) => Ok(place.saturating_sub(1)),
        Some(Column::Name(name)) => {
            let is_it = |other: &String| other.to_lowercase() == name.to_lowercase();
            match names.iter().filter(|other| is_it(other)).count() {
                1 => Ok(names.iter().position(is_it).unwrap_or(0)),
                count => {
                    let how = if count == 0 { "no column" } else { "more than one column" };
                    Err(ClientError::Usage(format!(
                        "the line that names the columns has {how} '{name}'; it has: {}",
                        shown(&names.join(", "))
                    )))
                }
            }
        }
    };
    let number = |column: Option<&NumberColumn>| place(column.map(|number| &number.column));
    Ok(Places {
        time: place(map.time.as_ref().map(|time| &time.column))?,
        litres_in: number(map.litres_in.as_ref())?,
        litres_out: number(map.litres_out.as_ref())?,
        new_share: number(map.new_share.as_ref().map(|share| &share.number))?,
        temperature: number(map.temperature.as_ref().map(|temperature| &temperature.number))?,
        last: place(map.last.as_ref().map(|last| &last.column))?,
    })
}

#[cfg(test)]
#[path = "../tests/feed_reading.rs"]
mod tests;
