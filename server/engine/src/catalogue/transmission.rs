//! One TOML file for each transmission: its variants, what goes into them, and which VINs they are built into.
//!
//! Two variants of one transmission may need unlike fluids, filters and standpipes; telling them apart is what
//! the file is for. A torque that nobody stated stays empty: the record then says to look it up with the
//! vehicle's maker. The revision reads the files; views, gates and records ask the variants.

use super::reader::{Bounds, Fields};
use super::screws::{self, Screws};
use super::variant_tables::{self, Hookup, Kit, Origin, UseInterval};
use super::vin_rule::{Pattern, SERIAL_GREATEST, VinRule};
use super::workshop::{INTERVAL_KILOMETRES, INTERVAL_MONTHS_MAX, SOURCE_LENGTH_MAX};
use crate::formula::next_due::Interval;
use crate::quantity::{Celsius, KilogramsPerCubicMetre, NewtonMetres};

/// Most variants of one file.
const VARIANTS_MAX: usize = 40;
/// Most VIN rules of one variant.
const RULES_MAX: usize = 50;
/// Longest code in characters.
pub(super) const CODE_LENGTH_MAX: usize = 40;
/// Longest label in characters.
const LABEL_LENGTH_MAX: usize = 80;
/// Most cautions of one variant: a person reads no longer list.
const CAUTIONS_MAX: usize = 4;
/// Longest caution in characters.
const CAUTION_LENGTH_MAX: usize = 120;

/// A fluid, by the code on its container.
#[derive(Clone, Debug, PartialEq)]
pub struct Fluid {
    /// Code on the container.
    pub code: String,
    /// Name in a sentence.
    pub name: String,
    /// Density at 15 °C, in kg/m³.
    pub density_at_15_celsius: KilogramsPerCubicMetre,
    /// Colour when it is fresh, if it is stated.
    pub colour: Option<FluidColour>,
}

/// Colour of a fresh fluid, by the words of the trade.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum FluidColour {
    /// Red.
    Red,
    /// Amber.
    Amber,
    /// Yellow.
    Yellow,
    /// Green.
    Green,
    /// Blue.
    Blue,
    /// Without a colour.
    Clear,
}

impl FluidColour {
    const ALL: [Self; 6] = [Self::Red, Self::Amber, Self::Yellow, Self::Green, Self::Blue, Self::Clear];

    /// The word in the file.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Red => "red",
            Self::Amber => "amber",
            Self::Yellow => "yellow",
            Self::Green => "green",
            Self::Blue => "blue",
            Self::Clear => "clear",
        }
    }
}

/// How the level of a variant is found.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum LevelMethod {
    /// Surplus runs out through a standpipe in the pan.
    StandpipeOverflow,
    /// Surplus runs out through a hole in the side.
    SideHole,
    /// Read on a dipstick.
    Dipstick,
}

impl LevelMethod {
    /// The word in the file.
    #[must_use]
    pub fn code(self) -> &'static str {
        match self {
            Self::StandpipeOverflow => "standpipe_overflow",
            Self::SideHole => "side_hole",
            Self::Dipstick => "dipstick",
        }
    }

    const ALL: [Self; 3] = [Self::StandpipeOverflow, Self::SideHole, Self::Dipstick];
}

/// One variant of a transmission.
#[derive(Clone, Debug, PartialEq)]
pub struct Variant {
    /// Code, unique in the catalogue.
    pub code: String,
    /// What tells it from its sisters, for example 'second series'.
    pub label: String,
    /// Name of the transmission.
    pub transmission: String,
    /// Maker of the transmission or the vehicle.
    pub maker: String,
    /// The only fluid that may go in.
    pub fluid: Fluid,
    /// Fluid of a dry transmission with converter and lines, in litres.
    pub total_fill_litres: f64,
    /// Fluid expected at a change of the pan, in litres.
    pub pan_refill_litres: Option<f64>,
    /// Fluid carried out with parts, and the limit that the true value lies within, in litres; if it is stated.
    pub carried_out_litres: Option<(f64, f64)>,
    /// Code on the filter or its box.
    pub filter_code: Option<String>,
    /// Code on the filter that the vehicle was built with, where it is another.
    pub old_filter_code: Option<String>,
    /// Code of the standpipe.
    pub standpipe_code: Option<String>,
    /// What the standpipe looks like, for example 'long'.
    pub standpipe_label: Option<String>,
    /// Code on the transmission's plate.
    pub plate_code: Option<String>,
    /// The level is valid from this temperature, in °C, included.
    pub level_from_celsius: f64,
    /// The level is valid up to this temperature, in °C, included.
    pub level_to_celsius: f64,
    /// How the level is found.
    pub level_method: LevelMethod,
    /// Under which conditions, for example 'engine idling, selector in P'.
    pub level_conditions: Option<String>,
    /// What a right level looks like, for example 'between the two notches marked hot' on a dipstick.
    pub level_marks: Option<String>,
    /// Torque of the level plug, in N·m.
    pub plug_torque_newton_metres: Option<f64>,
    /// Screws of the pan.
    pub pan_screw_count: Option<u32>,
    /// Torque of the pan's screws, in N·m.
    pub pan_screw_torque_newton_metres: Option<f64>,
    /// Order and stages of the pan's screws, and the other groups, as far as stated.
    pub screws: Screws,
    /// Distance and months after which the vehicle's maker asks for new fluid, as far as stated.
    pub maker_interval: Interval,
    /// What holds instead for some uses of the vehicle.
    pub maker_intervals_by_use: Vec<UseInterval>,
    /// Where exchange equipment is connected, and by which adapter.
    pub hookups: Vec<Hookup>,
    /// The kit of parts for a service.
    pub kit: Option<Kit>,
    /// What the vehicle's maker warns of, a short sentence each.
    pub cautions: Vec<String>,
    /// Which VINs the variant is built into.
    pub vin_rules: Vec<VinRule>,
    /// Where the values were read.
    pub source: String,
    /// Edition of the source.
    pub edition: String,
}

impl Variant {
    /// Conditions of the level and the marks that it lies between, in words; nothing if neither is stated.
    #[must_use]
    pub fn level_in_words(&self) -> Option<String> {
        let stated: Vec<&str> =
            [&self.level_conditions, &self.level_marks].into_iter().flatten().map(String::as_str).collect();
        (!stated.is_empty()).then(|| stated.join("; "))
    }
}

/// Fluid carried out with parts; more would be drained, not carried (common practice, no source).
const CARRIED_OUT: Bounds = (0.0, 10.0, "L");
const FILL: Bounds = (1.0, 60.0, "L");
const TEMPERATURE: Bounds = (Celsius::LEAST, Celsius::GREATEST, Celsius::UNIT);
const TORQUE: Bounds = (0.5, NewtonMetres::GREATEST, NewtonMetres::UNIT);
const DENSITY: Bounds =
    (KilogramsPerCubicMetre::LEAST, KilogramsPerCubicMetre::GREATEST, KilogramsPerCubicMetre::UNIT);

/// What stands once at the head of the file and holds for all its variants.
struct Head {
    transmission: Option<String>,
    maker: Option<String>,
    origin: Origin,
}

/// A variant with the line its table begins on, for problems that only show beside other files.
pub(super) struct Placed {
    pub(super) variant: Variant,
    pub(super) line: usize,
}

/// Reads the variants of one file; what is wrong is noted in the document.
pub(super) fn read(mut fields: Fields<'_>) -> Vec<Placed> {
    let head = Head {
        transmission: fields.text("name", LABEL_LENGTH_MAX),
        maker: fields.text("maker", LABEL_LENGTH_MAX),
        origin: Origin {
            source: fields.text("source", SOURCE_LENGTH_MAX),
            edition: fields.text("edition", CODE_LENGTH_MAX),
        },
    };
    let variants = fields.tables("variant", VARIANTS_MAX);
    fields.finish();
    variants.into_iter().filter_map(|table| variant(table, &head)).collect()
}

fn variant(mut fields: Fields<'_>, head: &Head) -> Option<Placed> {
    let line = fields.line();
    let code = fields.text("code", CODE_LENGTH_MAX);
    let label = fields.text("label", LABEL_LENGTH_MAX);
    let fluid = fluid(&mut fields);
    let [total_fill_litres, pan_refill_litres] = fill(&mut fields);
    let carried_out_litres = carried_out(&mut fields);
    let filter_code = fields.text_optional("filter_code", CODE_LENGTH_MAX);
    let old_filter_code = fields.text_optional("old_filter_code", CODE_LENGTH_MAX);
    let standpipe_code = fields.text_optional("standpipe_code", CODE_LENGTH_MAX);
    let standpipe_label = fields.text_optional("standpipe_label", LABEL_LENGTH_MAX);
    let plate_code = fields.text_optional("plate_code", CODE_LENGTH_MAX);
    let [level_from_celsius, level_to_celsius] = level_window(&mut fields);
    let level_method = level_method(&mut fields);
    let level_conditions = fields.text_optional("level_conditions", SOURCE_LENGTH_MAX);
    let level_marks = fields.text_optional("level_marks", LABEL_LENGTH_MAX);
    let plug_torque_newton_metres = fields.number_optional("plug_torque_newton_metres", TORQUE);
    let pan_screw_count = fields.whole_optional("pan_screw_count", 1, 60);
    let pan_screw_torque_newton_metres = fields.number_optional("pan_screw_torque_newton_metres", TORQUE);
    let screws = screws::read(&mut fields, pan_screw_count);
    let maker_interval = maker_interval(&mut fields);
    let origin = head.origin.or(&mut fields);
    let maker_intervals_by_use = variant_tables::intervals(&mut fields, &origin);
    let hookups = variant_tables::hookups(&mut fields, &origin);
    let kit = variant_tables::kit(&mut fields, &origin);
    let cautions = fields.texts("cautions", CAUTIONS_MAX, CAUTION_LENGTH_MAX);
    let rules = fields.tables("vin_rule", RULES_MAX);
    let rule = |table| vin_rule(table, code.as_deref(), &origin);
    let vin_rules = rules.into_iter().filter_map(rule).collect();
    fields.finish();
    let variant = Variant {
        code: code?,
        label: label?,
        transmission: head.transmission.clone()?,
        maker: head.maker.clone()?,
        fluid: fluid?,
        total_fill_litres: total_fill_litres?,
        pan_refill_litres,
        carried_out_litres,
        filter_code,
        old_filter_code,
        standpipe_code,
        standpipe_label,
        plate_code,
        level_from_celsius: level_from_celsius?,
        level_to_celsius: level_to_celsius?,
        level_method: level_method?,
        level_conditions,
        level_marks,
        plug_torque_newton_metres,
        pan_screw_count,
        pan_screw_torque_newton_metres,
        screws,
        maker_interval,
        maker_intervals_by_use,
        hookups,
        kit,
        cautions,
        vin_rules,
        source: origin.source?,
        edition: origin.edition?,
    };
    Some(Placed { variant, line })
}

fn fluid(fields: &mut Fields<'_>) -> Option<Fluid> {
    let code = fields.text("fluid_code", CODE_LENGTH_MAX);
    let name = fields.text("fluid_name", LABEL_LENGTH_MAX);
    let density = fields.number("density_at_15_celsius_kilograms_per_cubic_metre", DENSITY);
    let colour = fields.word_optional("fluid_colour", &FluidColour::ALL.map(FluidColour::word));
    Some(Fluid {
        code: code?,
        name: name?,
        density_at_15_celsius: KilogramsPerCubicMetre::new(density?).ok()?,
        colour: FluidColour::ALL.into_iter().find(|known| Some(known.word()) == colour),
    })
}

/// Total fill, and refill of the pan, which may be left out and is not greater.
fn fill(fields: &mut Fields<'_>) -> [Option<f64>; 2] {
    let total = fields.number("total_fill_litres", FILL);
    let pan = fields.number_optional("pan_refill_litres", FILL);
    if let (Some(total), Some(pan)) = (total, pan)
        && pan > total
    {
        fields
            .problem("pan_refill_litres", format!("must not be greater than total_fill_litres ({total} L)"));
    }
    [total, pan]
}

/// The temperatures between which the level is valid, rising.
fn level_window(fields: &mut Fields<'_>) -> [Option<f64>; 2] {
    let from = fields.number("level_from_celsius", TEMPERATURE);
    let to = fields.number("level_to_celsius", TEMPERATURE);
    if let (Some(from), Some(to)) = (from, to)
        && from >= to
    {
        fields.problem("level_to_celsius", format!("must be above level_from_celsius ({from} °C)"));
    }
    [from, to]
}

/// The amount and its limit: both or neither.
fn carried_out(fields: &mut Fields<'_>) -> Option<(f64, f64)> {
    const KEYS: [&str; 2] = ["carried_out_litres", "carried_out_limit_litres"];
    let both = KEYS.map(|key| fields.number_optional(key, CARRIED_OUT));
    match both {
        [Some(litres), Some(limit)] => Some((litres, limit)),
        [None, None] => None,
        _ => {
            let [litres, limit] = KEYS;
            fields.problem(limit, format!("must stand with {litres}; state both or neither"));
            None
        }
    }
}

fn level_method(fields: &mut Fields<'_>) -> Option<LevelMethod> {
    let word = fields.word("level_method", &LevelMethod::ALL.map(LevelMethod::code))?;
    LevelMethod::ALL.into_iter().find(|method| method.code() == word)
}

fn maker_interval(fields: &mut Fields<'_>) -> Interval {
    let kilometres = fields.number_optional("maker_interval_kilometres", INTERVAL_KILOMETRES);
    let months = fields.whole_optional("maker_interval_months", 1, INTERVAL_MONTHS_MAX);
    Interval { kilometres, months: months.and_then(|months| u16::try_from(months).ok()) }
}

fn vin_rule(mut fields: Fields<'_>, variant: Option<&str>, origin: &Origin) -> Option<VinRule> {
    let code = fields.text("code", CODE_LENGTH_MAX);
    let pattern = fields
        .text("pattern", 200)
        .and_then(|text| Pattern::parse(&text).map_err(|what| fields.problem("pattern", what)).ok());
    let serial_from = fields.whole_optional("serial_from", 0, SERIAL_GREATEST);
    let serial_to = fields.whole_optional("serial_to", 0, SERIAL_GREATEST);
    let serial = match (serial_from, serial_to) {
        (Some(from), Some(to)) if from <= to => Some((from, to)),
        (None, None) => None,
        _ => {
            fields.problem("serial_to", "must stand with serial_from and not be less than it");
            None
        }
    };
    let plant = fields.text_optional("plant", 1);
    let origin = origin.or(&mut fields);
    let entered_by = fields.text("entered_by", LABEL_LENGTH_MAX);
    let pattern = match (pattern, plant.and_then(|text| text.chars().next())) {
        (Some(pattern), Some(plant)) => {
            let narrowed = pattern.with_plant(plant);
            if narrowed.is_none() {
                fields.problem("plant", format!("'{plant}' is excluded by place 11 of the pattern"));
            }
            narrowed
        }
        (pattern, _) => pattern,
    };
    fields.finish();
    Some(VinRule {
        code: code?,
        variant: variant?.to_owned(),
        pattern: pattern?,
        serial,
        source: origin.source?,
        edition: origin.edition?,
        entered_by: entered_by?,
    })
}
