//! `workshop.toml`: who the workshop is, and every setting of it that changes a number.
//!
//! Each number of the trade stands with its source. A table that is left out takes the default below; a table
//! that is there states all its keys. The revision reads it once; views and records ask it.

use jiff::tz::{TimeZone, TimeZoneDatabase};

use super::ageing::{self, AgeingSettings};
use super::condition::{self, ConditionSettings};
use super::exchange_settings::{self, ExchangeSettings};
use super::reader::{Bounds, Fields};
use super::screw_stages::{self, ScrewStages, ToolCheckSettings};
use super::waste_codes::{self, WasteCodes};
use crate::formula::tubes::Tubes;
use crate::kind::words::LoadWord;
use crate::quantity::{Celsius, Estimate, KilogramsPerCubicMetre};
use crate::text::Language;

/// What is written where nobody stated another source.
const COMMON_PRACTICE: &str = "common practice, no source";
/// Longest source text in characters.
pub(super) const SOURCE_LENGTH_MAX: usize = 200;

/// A number and where it comes from.
#[derive(Clone, Debug, PartialEq)]
pub struct Stated {
    /// The number, in the unit that its field names.
    pub value: f64,
    /// Where it comes from.
    pub source: String,
}

/// A number that lies within a limit of its value, and where it comes from.
#[derive(Clone, Debug, PartialEq)]
pub struct StatedRange {
    /// The value.
    pub value: f64,
    /// The true value lies within this of it; in the same unit.
    pub limit: f64,
    /// Where both come from.
    pub source: String,
}

impl StatedRange {
    /// The value with the standard uncertainty of its limits, limit / √3 (JCGM 100:2008, 4.3.7).
    #[must_use]
    pub fn estimate(&self) -> Estimate {
        Estimate::within(self.value, self.limit)
    }
}

/// Factors on the distance between services, by the word for how a vehicle is used.
#[derive(Clone, Debug, PartialEq)]
pub struct LoadFactors {
    /// Word and factor; 0.8 makes the distance shorter by a fifth. A word without a factor has no row.
    pub factors: Vec<(LoadWord, f64)>,
    /// Where they come from.
    pub source: String,
}

/// How long the parts of the work take, in minutes, and where that comes from.
#[derive(Clone, Debug, PartialEq)]
pub struct PlanMinutes {
    /// To hook the exchange equipment up and to take it off again.
    pub hook_up: f64,
    /// To push one litre through.
    pub per_litre: f64,
    /// The pan off, cleaned and on again.
    pub pan: f64,
    /// To drain and fill once.
    pub drain_and_fill: f64,
    /// Where they come from.
    pub source: String,
}

/// The settings of one workshop.
#[derive(Clone, Debug, PartialEq)]
pub struct Workshop {
    /// Name, as it heads the record.
    pub name: String,
    /// Lines of the address.
    pub address: Vec<String>,
    /// Telephone, as printed.
    pub phone: Option<String>,
    /// What job numbers begin with, 1 to 6 capital letters.
    pub job_prefix: String,
    /// The time zone, from the database that is built in, so that every machine prints the same times.
    pub time_zone: TimeZone,
    /// Language of records.
    pub language: Language,
    /// Relative standard uncertainty of a vehicle's fill, for example 0.05.
    pub vehicle_fill_relative_uncertainty: Stated,
    /// Comparison tubes for looks at the fluid.
    pub tubes: Tubes,
    /// Where the set of tubes comes from.
    pub tubes_source: String,
    /// Relative error limit of the equipment's litre display unless it was checked, for example 0.03.
    pub display_error_limit: Stated,
    /// Error limit of the scale in kilograms.
    pub scale_error_limit_kilograms: Stated,
    /// Error limit of the measuring jug in litres.
    pub jug_error_limit_litres: Stated,
    /// Temperature of new fluid when it goes in, in °C.
    pub new_fluid_celsius: StatedRange,
    /// Temperature of fluid that came out and was not measured, in °C.
    pub drained_fluid_celsius: StatedRange,
    /// Density at 15 °C of a fluid that is not in the catalogue, in kg/m³.
    pub fluid_density: StatedRange,
    /// Fluid carried out with parts (old filter, film on the pan, opened lines), in litres.
    pub carried_out_litres: StatedRange,
    /// New-fluid share that the workshop aims at, 0 to 1, if it aims at one.
    pub target_new_share: Option<Stated>,
    /// Distance after which a fluid service is due, in km, with how far around it counts as due; if stated.
    pub service_interval_kilometres: Option<StatedRange>,
    /// Months after which a fluid service is due, if stated; its source is that of the distance.
    pub service_interval_months: Option<u16>,
    /// Factors on that distance by how the vehicle is used, if stated.
    pub load_factors: Option<LoadFactors>,
    /// What is assumed of the fluid's ageing, where its temperatures over the distance are known.
    pub ageing: AgeingSettings,
    /// What the fluid's condition is judged by.
    pub condition: ConditionSettings,
    /// Minutes after which an entry counts as typed later.
    pub late_after_minutes: Stated,
    /// How long the parts of the work take, for the plan.
    pub plan_minutes: PlanMinutes,
    /// Settings of the exchange: fluid at hand, reserves, what is worth a litre, photos.
    pub exchange: ExchangeSettings,
    /// Codes of the waste, if they are set.
    pub waste_codes: Option<WasteCodes>,
    /// In which stages a ring of screws is tightened, where the maker states none.
    pub screw_stages: ScrewStages,
    /// When tools and displays are checked again.
    pub tool_check: ToolCheckSettings,
    /// Whether decisions, and corrections after the record was issued, count only when they are signed by PIN.
    pub decisions_signed: bool,
}

/// Longest interval between services, in months; makers state no longer one (common practice, no source).
pub(super) const INTERVAL_MONTHS_MAX: u32 = 240;
/// Distance between services, in km.
pub(super) const INTERVAL_KILOMETRES: Bounds = (1_000.0, 500_000.0, "km");
const LOAD_FACTOR: Bounds = (0.1, 2.0, "of 1");
/// The words that may have a factor, by their key in the file.
pub(super) const LOAD_WORDS: [(LoadWord, &str); 6] = [
    (LoadWord::Ordinary, "ordinary"),
    (LoadWord::Towing, "towing"),
    (LoadWord::Mountains, "mountains"),
    (LoadWord::Town, "town"),
    (LoadWord::LongDistance, "long_distance"),
    (LoadWord::AllDay, "all_day"),
];
const SHARE: Bounds = (0.0, 1.0, "of 1");
const RELATIVE: Bounds = (0.0, 0.5, "of 1");
const TEMPERATURE: Bounds = (Celsius::LEAST, Celsius::GREATEST, Celsius::UNIT);
const DENSITY: Bounds =
    (KilogramsPerCubicMetre::LEAST, KilogramsPerCubicMetre::GREATEST, KilogramsPerCubicMetre::UNIT);

/// Reads the settings; what is wrong is noted in the document.
pub(super) fn read(mut fields: Fields<'_>) -> Option<Workshop> {
    let name = fields.text("name", 80);
    let address = fields.texts("address", 5, 80);
    let phone = fields.text_optional("phone", 40);
    let job_prefix = job_prefix(&mut fields);
    let time_zone = time_zone(&mut fields);
    let language = language(&mut fields);
    let (tubes, tubes_source) = tubes(&mut fields);
    let vehicle_fill_relative_uncertainty =
        stated(&mut fields, "vehicle_fill", "relative_standard_uncertainty", RELATIVE, 0.05);
    let display_error_limit = stated(&mut fields, "litre_display", "relative_error_limit", RELATIVE, 0.03);
    let scale_error_limit_kilograms =
        stated(&mut fields, "scale", "error_limit_kilograms", (0.0, 5.0, "kg"), 0.01);
    let jug_error_limit_litres = stated(&mut fields, "jug", "error_limit_litres", (0.0, 5.0, "L"), 0.05);
    let late_after_minutes =
        stated(&mut fields, "late_entry", "after_minutes", (1.0, 10_080.0, "minutes"), 120.0);
    let new_fluid_celsius =
        range(&mut fields, "new_fluid_temperature", ["celsius", "limit_celsius"], TEMPERATURE, (20.0, 5.0));
    let celsius = ["celsius", "limit_celsius"];
    let drained_fluid_celsius =
        range(&mut fields, "drained_fluid_temperature", celsius, TEMPERATURE, (60.0, 20.0));
    let density_keys = ["kilograms_per_cubic_metre", "limit_kilograms_per_cubic_metre"];
    let fluid_density = range(&mut fields, "fluid_density", density_keys, DENSITY, (850.0, 20.0));
    let litres = ["litres", "limit_litres"];
    let carried_out_litres =
        range(&mut fields, "carried_out_with_parts", litres, (0.0, 10.0, "L"), (0.25, 0.10));
    let target_new_share = target(&mut fields);
    let (service_interval_kilometres, service_interval_months) = service_interval(&mut fields).unzip();
    let load_factors = load_factors(&mut fields);
    let ageing = ageing::read(&mut fields);
    let plan_minutes = plan_minutes(&mut fields);
    let condition = condition::read(&mut fields);
    let exchange = exchange_settings::read(&mut fields);
    let waste_codes = waste_codes::read(&mut fields);
    let screw_stages = screw_stages::read(&mut fields);
    let tool_check = screw_stages::read_checks(&mut fields);
    let decisions_signed = decisions_signed(&mut fields);
    fields.finish();
    Some(Workshop {
        name: name?,
        address,
        phone,
        job_prefix,
        time_zone: time_zone?,
        language: language?,
        vehicle_fill_relative_uncertainty: vehicle_fill_relative_uncertainty?,
        tubes: tubes?,
        tubes_source,
        display_error_limit: display_error_limit?,
        scale_error_limit_kilograms: scale_error_limit_kilograms?,
        jug_error_limit_litres: jug_error_limit_litres?,
        new_fluid_celsius: new_fluid_celsius?,
        drained_fluid_celsius: drained_fluid_celsius?,
        fluid_density: fluid_density?,
        carried_out_litres: carried_out_litres?,
        target_new_share,
        service_interval_kilometres,
        service_interval_months: service_interval_months.flatten(),
        load_factors,
        ageing: ageing?,
        condition,
        late_after_minutes: late_after_minutes?,
        plan_minutes: plan_minutes?,
        exchange: exchange?,
        waste_codes,
        screw_stages: screw_stages?,
        tool_check: tool_check?,
        decisions_signed,
    })
}

/// Without the table decisions count as they are stated.
fn decisions_signed(fields: &mut Fields<'_>) -> bool {
    let Some(mut table) = fields.table_optional("decisions") else { return false };
    let signed = table.is_set("signed");
    table.finish();
    signed
}

fn job_prefix(fields: &mut Fields<'_>) -> String {
    let prefix = fields.text_optional("job_prefix", 6).unwrap_or_else(|| "JOB".to_owned());
    if !prefix.bytes().all(|letter| letter.is_ascii_uppercase()) {
        fields.problem("job_prefix", "must be 1 to 6 capital letters A-Z");
    }
    prefix
}

fn time_zone(fields: &mut Fields<'_>) -> Option<TimeZone> {
    let name = fields.text_optional("time_zone", 60).unwrap_or_else(|| "Etc/UTC".to_owned());
    let found = TimeZoneDatabase::bundled().get(&name);
    if found.is_err() {
        let what = format!("'{name}' is no time zone of the IANA database; write one like Europe/Lisbon");
        fields.problem("time_zone", what);
    }
    found.ok()
}

fn language(fields: &mut Fields<'_>) -> Option<Language> {
    let code = fields.text_optional("language", 8).unwrap_or_else(|| "en".to_owned());
    let found = Language::from_code(&code);
    if found.is_none() {
        fields.problem("language", format!("'{code}' has no sentences; the languages are: en"));
    }
    found
}

pub(super) fn stated(
    fields: &mut Fields<'_>,
    table: &str,
    key: &str,
    bounds: Bounds,
    default: f64,
) -> Option<Stated> {
    let default = Stated { value: default, source: COMMON_PRACTICE.to_owned() };
    stated_or(fields, [table, key], bounds, default)
}

pub(super) fn stated_or(
    fields: &mut Fields<'_>,
    [table, key]: [&str; 2],
    bounds: Bounds,
    default: Stated,
) -> Option<Stated> {
    let Some(mut table) = fields.table_optional(table) else { return Some(default) };
    let value = table.number(key, bounds);
    let source = table.text("source", SOURCE_LENGTH_MAX);
    table.finish();
    Some(Stated { value: value?, source: source? })
}

/// Without the table the workshop aims at no share.
fn target(fields: &mut Fields<'_>) -> Option<Stated> {
    let mut table = fields.table_optional("target")?;
    let value = table.number("new_share", SHARE);
    let source = table.text("source", SOURCE_LENGTH_MAX);
    table.finish();
    value.zip(source).map(|(value, source)| Stated { value, source })
}

/// Without the table nothing is called early or late.
fn service_interval(fields: &mut Fields<'_>) -> Option<(StatedRange, Option<u16>)> {
    let mut table = fields.table_optional("service_interval")?;
    let value = table.number("kilometres", INTERVAL_KILOMETRES);
    let limit = table.number("due_within_kilometres", (0.0, 100_000.0, "km"));
    let months = table.whole_optional("months", 1, INTERVAL_MONTHS_MAX);
    let source = table.text("source", SOURCE_LENGTH_MAX);
    table.finish();
    let kilometres = StatedRange { value: value?, limit: limit?, source: source? };
    Some((kilometres, months.and_then(|months| u16::try_from(months).ok())))
}

/// Without the table a load word changes nothing.
fn load_factors(fields: &mut Fields<'_>) -> Option<LoadFactors> {
    let mut table = fields.table_optional("load_words")?;
    let mut factors = Vec::new();
    for (word, key) in LOAD_WORDS {
        factors.extend(table.number_optional(key, LOAD_FACTOR).map(|factor| (word, factor)));
    }
    let source = table.text("source", SOURCE_LENGTH_MAX);
    table.finish();
    Some(LoadFactors { factors, source: source? })
}

fn plan_minutes(fields: &mut Fields<'_>) -> Option<PlanMinutes> {
    const MINUTES: Bounds = (0.0, 480.0, "minutes");
    let Some(mut table) = fields.table_optional("plan_minutes") else {
        let source = COMMON_PRACTICE.to_owned();
        return Some(PlanMinutes { hook_up: 15.0, per_litre: 2.0, pan: 25.0, drain_and_fill: 15.0, source });
    };
    let hook_up = table.number("hook_up", MINUTES);
    let per_litre = table.number("per_litre", MINUTES);
    let pan = table.number("pan", MINUTES);
    let drain_and_fill = table.number("drain_and_fill", MINUTES);
    let source = table.text("source", SOURCE_LENGTH_MAX);
    table.finish();
    Some(PlanMinutes {
        hook_up: hook_up?,
        per_litre: per_litre?,
        pan: pan?,
        drain_and_fill: drain_and_fill?,
        source: source?,
    })
}

pub(super) fn range(
    fields: &mut Fields<'_>,
    table: &str,
    [key, limit_key]: [&str; 2],
    bounds: Bounds,
    (value, limit): (f64, f64),
) -> Option<StatedRange> {
    let Some(mut table) = fields.table_optional(table) else {
        return Some(StatedRange { value, limit, source: COMMON_PRACTICE.to_owned() });
    };
    let (_, greatest, unit) = bounds;
    let value = table.number(key, bounds);
    let limit = table.number(limit_key, (0.0, greatest, unit));
    let source = table.text("source", SOURCE_LENGTH_MAX);
    table.finish();
    Some(StatedRange { value: value?, limit: limit?, source: source? })
}

fn tubes(fields: &mut Fields<'_>) -> (Option<Tubes>, String) {
    let Some(mut table) = fields.table_optional("comparison_tubes") else {
        return (Some(Tubes::default()), COMMON_PRACTICE.to_owned());
    };
    let shares = table.numbers("new_shares", 21, SHARE);
    let source = table.text("source", SOURCE_LENGTH_MAX);
    let tubes = Tubes::new(shares);
    if tubes.is_none() {
        table.problem(
            "new_shares",
            "must hold at least two rising shares from 0 to 1, such as [0.0, 0.5, 1.0]",
        );
    }
    table.finish();
    (tubes, source.unwrap_or_default())
}
