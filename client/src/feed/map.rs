//! The column map: what the lines of an instrument mean, as a small TOML file says it.
//!
//! `deploy/feed-sample.toml` shows every key. Bounds stand in `standpipe_proto::limits::feed`. Never here: a line.

use super::table::{Bounds, Document, Keys};
use crate::error::ClientError;
use standpipe_proto::limits::feed::{
    BIN_LITRES, BIN_SECONDS, COLUMN_NAME_CHARACTERS_MAX, COLUMN_SCALE, COLUMNS_MAX,
    COMMENT_SIGN_CHARACTERS_MAX, COMMENT_SIGNS_MAX, MAP_BYTES_MAX, SERIAL_SPEED, SKIPPED_LINES_MAX,
};
use standpipe_proto::limits::{self, Span};
use standpipe_proto::typed::{self, Quantity};
use standpipe_proto::v1::{TemperatureMeans, TemperatureOf};
use std::io::Read as _;
use std::path::Path;

/// What the lines mean.
#[derive(Debug, Clone, PartialEq)]
pub struct ColumnMap {
    /// The sign between columns; none: any number of spaces and tabs.
    pub separator: Option<char>,
    /// Whether a comma sets off the decimals.
    pub decimal_comma: bool,
    /// What lines begin with that are passed over.
    pub comment_signs: Vec<String>,
    /// Whether the first line that counts names the columns.
    pub header: bool,
    /// Lines at the beginning that are passed over.
    pub skipped_lines: u32,
    /// How readings are put together.
    pub bin: BinSize,
    /// When a line was made.
    pub time: Option<TimeColumn>,
    /// New fluid pushed in.
    pub litres_in: Option<NumberColumn>,
    /// Fluid that came out.
    pub litres_out: Option<NumberColumn>,
    /// Share of new fluid that an instrument shows.
    pub new_share: Option<ShareColumn>,
    /// A temperature.
    pub temperature: Option<TemperatureColumn>,
    /// What says that a line is the exchange's last.
    pub last: Option<LastColumn>,
    /// How a serial line is set.
    pub serial: SerialLine,
}

/// How far readings go that become one entry.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BinSize {
    /// Litres.
    pub litres: f64,
    /// Seconds.
    pub seconds: f64,
}

/// Which column.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Column {
    /// By its name in the line that names them.
    Name(String),
    /// By its place, from 1.
    Place(usize),
}

/// A column of numbers: what is read times `factor` plus `offset` is in the unit that entries have.
#[derive(Debug, Clone, PartialEq)]
pub struct NumberColumn {
    /// Which one.
    pub column: Column,
    /// The unit as the map says it; it may stand behind the number.
    pub unit: String,
    /// Factor to the unit of entries, with the scale in it.
    pub factor: f64,
    /// Offset to the unit of entries.
    pub offset: f64,
}

/// The column of times.
#[derive(Debug, Clone, PartialEq)]
pub struct TimeColumn {
    /// Which one.
    pub column: Column,
    /// How they are written.
    pub form: TimeForm,
}

/// How times are written.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum TimeForm {
    /// As a clock shows them: `10:40`, `10:40:05` or `10:40:05.5`.
    Clock,
    /// As a number that, times the factor, is seconds.
    Seconds {
        /// The factor.
        factor: f64,
    },
}

/// The column of shares of new fluid, in percent.
#[derive(Debug, Clone, PartialEq)]
pub struct ShareColumn {
    /// The numbers.
    pub number: NumberColumn,
    /// Standard uncertainty of the instrument, in percent.
    pub uncertainty_percent: f64,
}

/// The column of temperatures.
#[derive(Debug, Clone, PartialEq)]
pub struct TemperatureColumn {
    /// The numbers.
    pub number: NumberColumn,
    /// What has them.
    pub place: Place,
}

/// What has a temperature.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Place {
    /// The fluid coming out in the exchange: it stands in its reading.
    ComingOut,
    /// Something else: it is a reading of its own.
    Own(TemperatureOf, TemperatureMeans),
}

/// The column in which a word says that the exchange is over.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LastColumn {
    /// Which one.
    pub column: Column,
    /// The word.
    pub word: String,
}

/// How a serial line is set.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct SerialLine {
    /// Bits a second.
    pub speed: u32,
    /// True for seven data bits instead of eight.
    pub seven_bits: bool,
    /// Parity: none, or even or not.
    pub parity_even: Option<bool>,
    /// True for two stop bits instead of one.
    pub two_stop_bits: bool,
}

impl ColumnMap {
    /// Reads a map from its file.
    ///
    /// # Errors
    /// When the file cannot be read, or says something that is not known or outside its bounds; the sentence names
    /// file, line and key.
    pub fn read(path: &Path) -> Result<Self, ClientError> {
        let mut text = String::new();
        std::fs::File::open(path)
            .and_then(|file| file.take(MAP_BYTES_MAX + 1).read_to_string(&mut text))
            .map_err(|cause| ClientError::Folder {
                path: path.to_owned(),
                what: format!("the column map cannot be read: {cause}"),
            })?;
        if text.len() as u64 > MAP_BYTES_MAX {
            return Err(ClientError::Folder {
                path: path.to_owned(),
                what: format!("the column map has more than {MAP_BYTES_MAX} bytes; that is no column map"),
            });
        }
        Self::of(path, &text)
    }

    /// Reads a map from its text.
    ///
    /// # Errors
    /// As [`ColumnMap::read`].
    pub fn of(path: &Path, text: &str) -> Result<Self, ClientError> {
        let document = Document::new(path, text);
        let mut keys = document.keys()?;
        let map = Self {
            separator: separator(&mut keys)?,
            decimal_comma: keys.is_set("decimal_comma")?,
            comment_signs: keys.texts("comment_signs", COMMENT_SIGNS_MAX, COMMENT_SIGN_CHARACTERS_MAX)?,
            header: keys.is_set("header")?,
            skipped_lines: keys.whole("skip_lines", (0, SKIPPED_LINES_MAX))?.unwrap_or(0),
            bin: BinSize {
                litres: keys.number("bin_litres", (BIN_LITRES.0, BIN_LITRES.1, "L"))?.unwrap_or(BIN_LITRES.0),
                seconds: keys
                    .number("bin_seconds", (BIN_SECONDS.0, BIN_SECONDS.1, "s"))?
                    .unwrap_or(BIN_SECONDS.0),
            },
            time: keys.table("time")?.map(time).transpose()?,
            litres_in: keys.table("litres_in")?.map(litres).transpose()?,
            litres_out: keys.table("litres_out")?.map(litres).transpose()?,
            new_share: keys.table("new_share")?.map(new_share).transpose()?,
            temperature: keys.table("temperature")?.map(temperature).transpose()?,
            last: keys.table("last")?.map(last).transpose()?,
            serial: keys.table("serial")?.map_or(Ok(SerialLine::USUAL), serial)?,
        };
        map.fits_together(&keys)?;
        keys.finish()?;
        Ok(map)
    }

    /// What no single key can say.
    fn fits_together(&self, keys: &Keys<'_>) -> Result<(), ClientError> {
        let coming_out = self.temperature.as_ref().is_some_and(|column| column.place == Place::ComingOut);
        let of_exchange = [
            ("litres_out", self.litres_out.is_some()),
            ("new_share", self.new_share.is_some()),
            ("last", self.last.is_some()),
            ("temperature.place", coming_out),
        ];
        if self.litres_in.is_none() {
            if let Some((key, _)) = of_exchange.iter().find(|(_, is_there)| *is_there) {
                let what = "belongs to an exchange, whose readings stand at litres pushed in; add the table [litres_in]";
                return Err(keys.wrong(key, what));
            }
            if self.temperature.is_none() {
                let what =
                    "names neither litres pushed in nor a temperature; add [litres_in] or [temperature]";
                return Err(keys.wrong("", what));
            }
        }
        if let Some(name) = self.columns().find_map(|column| match column {
            Column::Name(name) if !self.header => Some(name),
            _ => None,
        }) {
            let what = format!(
                "is false, but the column '{name}' is named; set it to true, or give the column's number"
            );
            return Err(keys.wrong("header", &what));
        }
        if self.decimal_comma && self.separator == Some(',') {
            return Err(keys.wrong("separator", "cannot be a comma where decimal_comma is true"));
        }
        Ok(())
    }

    /// Every column that the map names.
    pub fn columns(&self) -> impl Iterator<Item = &Column> {
        let numbers = [
            self.litres_in.as_ref(),
            self.litres_out.as_ref(),
            self.new_share.as_ref().map(|share| &share.number),
            self.temperature.as_ref().map(|temperature| &temperature.number),
        ];
        let others =
            [self.time.as_ref().map(|time| &time.column), self.last.as_ref().map(|last| &last.column)];
        let numbers = numbers.into_iter().flatten().map(|number| &number.column);
        numbers.chain(others.into_iter().flatten())
    }
}

impl SerialLine {
    /// 9600 bits a second, eight data bits, no parity, one stop bit.
    pub const USUAL: Self = Self { speed: 9_600, seven_bits: false, parity_even: None, two_stop_bits: false };
}

fn separator(keys: &mut Keys<'_>) -> Result<Option<char>, ClientError> {
    let Some(text) = keys.text("separator", 1)? else { return Ok(None) };
    match text.chars().next() {
        // A space is what stands between columns that are lined up.
        Some(' ') => Ok(None),
        Some(sign) if !sign.is_alphanumeric() && !".+-\"".contains(sign) => Ok(Some(sign)),
        _ => Err(keys.wrong("separator", &format!("cannot be '{text}', which may stand in a number"))),
    }
}

fn column(keys: &mut Keys<'_>) -> Result<Column, ClientError> {
    let most = u32::try_from(COLUMNS_MAX).unwrap_or(u32::MAX);
    Ok(match keys.text_or_whole("column", COLUMN_NAME_CHARACTERS_MAX, (1, most))? {
        Ok(name) => Column::Name(name.trim().to_owned()),
        Err(place) => Column::Place(usize::try_from(place).unwrap_or(usize::MAX)),
    })
}

const SCALE: Bounds = (COLUMN_SCALE.0, COLUMN_SCALE.1, "");

fn number(keys: &mut Keys<'_>, quantity: Quantity, usual: &str) -> Result<NumberColumn, ClientError> {
    let column = column(keys)?;
    let unit = keys.text("unit", 12)?.unwrap_or_else(|| usual.to_owned());
    let scale = keys.number("scale", SCALE)?.unwrap_or(1.0);
    // The grammar of typed quantities knows the units; two values tell a unit's factor and offset.
    let at = |value: u8| typed::read(&format!("{value} {unit}"), quantity).map(|typed| typed.value);
    let (zero, one) = at(0).and_then(|zero| Ok((zero, at(1)?))).map_err(|_| {
        keys.wrong("unit", &format!("cannot be '{unit}'; it must be {}", quantity.units_in_words()))
    })?;
    Ok(NumberColumn { column, unit, factor: (one - zero) * scale, offset: zero })
}

fn litres(mut keys: Keys<'_>) -> Result<NumberColumn, ClientError> {
    let number = number(&mut keys, Quantity::Volume, "L")?;
    keys.finish()?;
    Ok(number)
}

fn time(mut keys: Keys<'_>) -> Result<TimeColumn, ClientError> {
    let column = column(&mut keys)?;
    let form = keys.word("form", &["clock", "seconds"])?;
    let scale = keys.number("scale", SCALE)?;
    let form = match (form, scale) {
        ("clock", None) => TimeForm::Clock,
        ("clock", Some(_)) => return Err(keys.wrong("scale", "is for seconds; a clock has none")),
        (_, scale) => TimeForm::Seconds { factor: scale.unwrap_or(1.0) },
    };
    keys.finish()?;
    Ok(TimeColumn { column, form })
}

fn new_share(mut keys: Keys<'_>) -> Result<ShareColumn, ClientError> {
    let column = column(&mut keys)?;
    let unit = keys.word("unit", &["%", "1"])?;
    let scale = keys.number("scale", SCALE)?.unwrap_or(1.0);
    let bounds = span("ExchangeReading", "instrument_uncertainty_percent");
    let uncertainty_percent = keys.number("uncertainty_percent", bounds)?.ok_or_else(|| {
        let what =
            "is missing; give the instrument's standard uncertainty, without which a share says nothing";
        keys.wrong("uncertainty_percent", what)
    })?;
    keys.finish()?;
    // Parts of 1 have no unit that could stand behind a number.
    let (factor, unit) = if unit == "1" { (100.0 * scale, "") } else { (scale, unit) };
    let number = NumberColumn { column, unit: unit.to_owned(), factor, offset: 0.0 };
    Ok(ShareColumn { number, uncertainty_percent })
}

fn temperature(mut keys: Keys<'_>) -> Result<TemperatureColumn, ClientError> {
    let number = number(&mut keys, Quantity::Temperature, "°C")?;
    let places = ["coming-out", "transmission-fluid", "fresh-fluid", "drained-fluid"];
    let place = keys.word_or_none("place", &places)?;
    let means = keys.word_or_none("means", &["scan-tool", "thermometer", "infrared"])?;
    let of = match place {
        None => {
            let what = format!("is missing; say what has this temperature: {}", places.join(", "));
            return Err(keys.wrong("place", &what));
        }
        Some("transmission-fluid") => Some(TemperatureOf::TransmissionFluid),
        Some("fresh-fluid") => Some(TemperatureOf::FreshFluid),
        Some("drained-fluid") => Some(TemperatureOf::DrainedFluid),
        Some(_) => None,
    };
    let place = match (of, means) {
        (None, None) => Place::ComingOut,
        (None, Some(_)) => {
            let what =
                "is not stated of fluid coming out, whose temperature stands in the reading of the exchange";
            return Err(keys.wrong("means", what));
        }
        (Some(of), means) => Place::Own(
            of,
            match means {
                Some("scan-tool") => TemperatureMeans::ScanTool,
                Some("thermometer") => TemperatureMeans::Thermometer,
                Some(_) => TemperatureMeans::Infrared,
                None => TemperatureMeans::Unspecified,
            },
        ),
    };
    keys.finish()?;
    Ok(TemperatureColumn { number, place })
}

fn last(mut keys: Keys<'_>) -> Result<LastColumn, ClientError> {
    let column = column(&mut keys)?;
    let word = keys
        .text("word", COLUMN_NAME_CHARACTERS_MAX)?
        .ok_or_else(|| keys.wrong("word", "is missing; say what stands in this column on the last line"))?;
    keys.finish()?;
    Ok(LastColumn { column, word: word.trim().to_owned() })
}

fn serial(mut keys: Keys<'_>) -> Result<SerialLine, ClientError> {
    let line = SerialLine {
        speed: keys.whole("speed", SERIAL_SPEED)?.unwrap_or(SerialLine::USUAL.speed),
        seven_bits: keys.word("data_bits", &["8", "7"])? == "7",
        parity_even: match keys.word("parity", &["none", "even", "odd"])? {
            "even" => Some(true),
            "odd" => Some(false),
            _ => None,
        },
        two_stop_bits: keys.word("stop_bits", &["1", "2"])? == "2",
    };
    keys.finish()?;
    Ok(line)
}

/// The bounds of a measured field, from the one table.
pub(super) fn span(message: &str, field: &str) -> Bounds {
    match limits::bound(message, field).map(|bound| bound.span) {
        Some(Span::Number { least, greatest, unit }) => (least, greatest, unit),
        _ => (f64::NEG_INFINITY, f64::INFINITY, ""),
    }
}

#[cfg(test)]
#[path = "../tests/feed_map.rs"]
mod tests;
