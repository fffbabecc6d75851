//! The tables of a variant that may be left out: hook-ups, kit, the maker's intervals by use; and where a line was read.
//!
//! Source and edition may stand at any table; what does not state its own takes those of the table around it. Called by
//! the reader of transmission files.

use super::reader::Fields;
use super::transmission::CODE_LENGTH_MAX;
use super::workshop::{INTERVAL_KILOMETRES, INTERVAL_MONTHS_MAX, LOAD_WORDS, SOURCE_LENGTH_MAX};
use crate::formula::next_due::Interval;
use crate::kind::words::{HookupPlace, LoadWord, ServicePart};

/// Most hook-ups of a variant.
const HOOKUPS_MAX: usize = 6;
/// Longest note on a hook-up in characters.
const NOTE_LENGTH_MAX: usize = 120;
/// Most screws of a kit, as of a pan.
const SCREWS_MAX: u32 = 60;

const PLACES: [(HookupPlace, &str); 2] =
    [(HookupPlace::CoolerLine, "cooler_line"), (HookupPlace::Transmission, "transmission")];

const PARTS: [(ServicePart, &str); 9] = [
    (ServicePart::Filter, "filter"),
    (ServicePart::PanSeal, "pan_seal"),
    (ServicePart::Magnets, "magnets"),
    (ServicePart::PanScrews, "pan_screws"),
    (ServicePart::Pan, "pan"),
    (ServicePart::Standpipe, "standpipe"),
    (ServicePart::Plug, "plug"),
    (ServicePart::PlugSeal, "plug_seal"),
    (ServicePart::WiringSleeve, "wiring_sleeve"),
];

/// Where exchange equipment is connected.
#[derive(Clone, Debug, PartialEq)]
pub struct Hookup {
    /// The place.
    pub place: HookupPlace,
    /// Code of the adapter, if one is needed.
    pub adapter: Option<String>,
    /// What to know there.
    pub note: Option<String>,
    /// Where it was read.
    pub source: String,
    /// Edition of the source.
    pub edition: String,
}

/// The parts that belong to a service, under one code.
#[derive(Clone, Debug, PartialEq)]
pub struct Kit {
    /// Code of the kit.
    pub code: String,
    /// What is in it.
    pub parts: Vec<ServicePart>,
    /// How many new screws for the pan are in it, if it is stated.
    pub new_screw_count: Option<u32>,
    /// Where it was read.
    pub source: String,
    /// Edition of the source.
    pub edition: String,
}

/// After which distance and time the vehicle's maker asks for new fluid, for one use of the vehicle.
#[derive(Clone, Debug, PartialEq)]
pub struct UseInterval {
    /// The use.
    pub load: LoadWord,
    /// Distance and months, as far as stated; where one is not, the interval for every use holds.
    pub interval: Interval,
    /// Where it was read.
    pub source: String,
    /// Edition of the source.
    pub edition: String,
}

/// Source and edition, as far as a table or one around it states them.
#[derive(Clone)]
pub(super) struct Origin {
    pub(super) source: Option<String>,
    pub(super) edition: Option<String>,
}

impl Origin {
    /// What a table states of its own, else this.
    pub(super) fn or(&self, fields: &mut Fields<'_>) -> Self {
        let source = fields.text_optional("source", SOURCE_LENGTH_MAX);
        let edition = fields.text_optional("edition", CODE_LENGTH_MAX);
        Self {
            source: source.or_else(|| self.source.clone()),
            edition: edition.or_else(|| self.edition.clone()),
        }
    }
}

pub(super) fn hookups(fields: &mut Fields<'_>, origin: &Origin) -> Vec<Hookup> {
    let mut found: Vec<Hookup> = Vec::new();
    for mut table in fields.tables("hookup", HOOKUPS_MAX) {
        let place = table.word("place", &PLACES.map(|(_, word)| word));
        let adapter = table.text_optional("adapter", CODE_LENGTH_MAX);
        let note = table.text_optional("note", NOTE_LENGTH_MAX);
        let origin = origin.or(&mut table);
        let place = PLACES.iter().find(|(_, word)| Some(*word) == place).map(|(place, _)| *place);
        if place
            .is_some_and(|place| found.iter().any(|other| other.place == place && other.adapter == adapter))
        {
            table.problem("place", "comes twice with the same adapter; state it once");
        }
        table.finish();
        found.extend(place.zip(origin.source).zip(origin.edition).map(|((place, source), edition)| Hookup {
            place,
            adapter,
            note,
            source,
            edition,
        }));
    }
    found
}

pub(super) fn kit(fields: &mut Fields<'_>, origin: &Origin) -> Option<Kit> {
    let mut table = fields.table_optional("kit")?;
    let code = table.text("code", CODE_LENGTH_MAX);
    let words = table.words("parts", &PARTS.map(|(_, word)| word));
    let parts: Vec<_> =
        PARTS.iter().filter(|(_, word)| words.contains(word)).map(|(part, _)| *part).collect();
    let new_screw_count = table.whole_optional("new_screw_count", 1, SCREWS_MAX);
    if new_screw_count.is_some() && !parts.contains(&ServicePart::PanScrews) {
        table.problem(
            "new_screw_count",
            "counts pan screws, which parts does not name; name pan_screws there",
        );
    }
    let origin = origin.or(&mut table);
    table.finish();
    // A part that is none, or a list that is missing, was noted; a kit without parts is none.
    (!parts.is_empty()).then_some(())?;
    Some(Kit { code: code?, parts, new_screw_count, source: origin.source?, edition: origin.edition? })
}

pub(super) fn intervals(fields: &mut Fields<'_>, origin: &Origin) -> Vec<UseInterval> {
    let mut found: Vec<UseInterval> = Vec::new();
    for mut table in fields.tables("maker_interval_use", LOAD_WORDS.len()) {
        let word = table.word("use", &LOAD_WORDS.map(|(_, word)| word));
        let kilometres = table.number_optional("kilometres", INTERVAL_KILOMETRES);
        let months = table.whole_optional("months", 1, INTERVAL_MONTHS_MAX);
        let origin = origin.or(&mut table);
        let load = LOAD_WORDS.iter().find(|(_, known)| Some(*known) == word).map(|(load, _)| *load);
        if kilometres.is_none() && months.is_none() {
            table.problem("kilometres", "or months is missing; state at least one of them");
        }
        if load.is_some_and(|load| found.iter().any(|other| other.load == load)) {
            table.problem("use", "comes twice; state each use once");
        }
        table.finish();
        let interval = Interval { kilometres, months: months.and_then(|months| u16::try_from(months).ok()) };
        found.extend(
            load.zip(origin.source).zip(origin.edition).map(|((load, source), edition)| UseInterval {
                load,
                interval,
                source,
                edition,
            }),
        );
    }
    found
}
