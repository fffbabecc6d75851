//! The settled variant with what it needs, from the catalogue or from what a person looked up.
//!
//! Never here: whether it is the right one; that is [`super::identity`].

use crate::catalogue::{self, FluidColour, Hookup, Kit, LevelMethod, Revision, UseInterval, same_code};
use crate::formula::next_due::Interval;
use crate::kind::variant_settled::VariantSettled;
use crate::quantity::{Estimate, KilogramsPerCubicMetre};

/// Relative standard uncertainty of the density of a fluid in the catalogue: data sheets print a
/// typical value, and batches differ by some tenths of a percent (common practice, no source).
const DENSITY_RELATIVE: f64 = 0.003;

/// A settled variant and what it needs.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct SettledVariant {
    /// Code.
    pub code: String,
    /// Name, for example 'Alder-8, second series'.
    pub label: String,
    /// The only fluid that may go in: its code and its name; absent when nobody stated one.
    pub fluid: Option<(String, String)>,
    /// Colour of that fluid when it is fresh, as the catalogue states it.
    pub fluid_colour: Option<FluidColour>,
    /// Code of the filter.
    pub filter: Option<String>,
    /// Code of the filter that the vehicle was built with, where it is another.
    pub old_filter: Option<String>,
    /// Code of the standpipe.
    pub standpipe: Option<String>,
    /// What the standpipe looks like, for example 'long'.
    pub standpipe_label: Option<String>,
    /// Code on the plate of the transmission.
    pub plate: Option<String>,
    /// Density of the fluid at 15 °C, in kg/m³.
    pub density_15_celsius: Estimate,
    /// Fluid that the whole transmission holds, in L.
    pub total_fill_litres: Option<Estimate>,
    /// Fluid that the pan takes after it was drained, in L, as the catalogue states it.
    pub pan_refill_litres: Option<f64>,
    /// Fluid carried out with parts, in L, as the catalogue states it for this variant.
    pub carried_out_litres: Option<Estimate>,
    /// Lowest and highest temperature for setting the level, in °C.
    pub level_window_celsius: Option<(f64, f64)>,
    /// How the level is found.
    pub level_method: Option<LevelMethod>,
    /// Conditions of the level and the marks that it lies between, as the catalogue words them.
    pub level_conditions: Option<String>,
    /// Screws of the pan, as the catalogue counts them.
    pub pan_screw_count: Option<u32>,
    /// Torque of the pan's screws, in N·m.
    pub pan_screw_torque_newton_metres: Option<f64>,
    /// Order and stages of the pan's screws, and the other groups, as far as stated.
    pub screws: catalogue::Screws,
    /// Torque of the level plug, in N·m.
    pub plug_torque_newton_metres: Option<f64>,
    /// Distance and months after which the vehicle's maker asks for new fluid, as far as stated.
    pub maker_interval: Interval,
    /// What holds instead for some uses of the vehicle.
    pub maker_intervals_by_use: Vec<UseInterval>,
    /// Where exchange equipment is connected, and by which adapter.
    pub hookups: Vec<Hookup>,
    /// The kit of parts for a service.
    pub kit: Option<Kit>,
    /// What the vehicle's maker warns of, as the catalogue words it.
    pub cautions: Vec<String>,
    /// Source and edition of the catalogue's line.
    pub source: Option<(String, String)>,
}

impl SettledVariant {
    /// What the catalogue, or else the entry itself, says of a settled variant.
    pub fn of(revision: &Revision, settled: &VariantSettled) -> Self {
        let fill = revision.workshop().vehicle_fill_relative_uncertainty.value;
        match revision.variant(&settled.code) {
            Some(variant) => Self::listed(variant, fill),
            None => Self::stated(revision, settled, fill),
        }
    }

    fn listed(variant: &catalogue::Variant, fill: f64) -> Self {
        let density = variant.fluid.density_at_15_celsius.get();
        Self {
            code: variant.code.clone(),
            label: format!("{}, {}", variant.transmission, variant.label),
            fluid: Some((variant.fluid.code.clone(), variant.fluid.name.clone())),
            fluid_colour: variant.fluid.colour,
            filter: variant.filter_code.clone(),
            old_filter: variant.old_filter_code.clone(),
            standpipe: variant.standpipe_code.clone(),
            standpipe_label: variant.standpipe_label.clone(),
            plate: variant.plate_code.clone(),
            density_15_celsius: Estimate::known(density, density * DENSITY_RELATIVE),
            total_fill_litres: Some(Estimate::known(
                variant.total_fill_litres,
                variant.total_fill_litres * fill,
            )),
            pan_refill_litres: variant.pan_refill_litres,
            carried_out_litres: variant
                .carried_out_litres
                .map(|(litres, limit)| Estimate::within(litres, limit)),
            level_window_celsius: Some((variant.level_from_celsius, variant.level_to_celsius)),
            level_method: Some(variant.level_method),
            level_conditions: variant.level_in_words(),
            pan_screw_count: variant.pan_screw_count,
            pan_screw_torque_newton_metres: variant.pan_screw_torque_newton_metres,
            screws: variant.screws.clone(),
            plug_torque_newton_metres: variant.plug_torque_newton_metres,
            maker_interval: variant.maker_interval,
            maker_intervals_by_use: variant.maker_intervals_by_use.clone(),
            hookups: variant.hookups.clone(),
            kit: variant.kit.clone(),
            cautions: variant.cautions.clone(),
            source: Some((variant.source.clone(), variant.edition.clone())),
        }
    }

    fn stated(revision: &Revision, settled: &VariantSettled, fill: f64) -> Self {
        let stated = &settled.stated;
        let density = stated
            .density_15_celsius
            .and_then(|density| KilogramsPerCubicMetre::new(density).ok())
            .map(|density| Estimate::known(density.get(), density.get() * DENSITY_RELATIVE))
            .unwrap_or_else(|| revision.workshop().fluid_density.estimate());
        let known = revision.fluid(&stated.fluid_code);
        let fluid = (!stated.fluid_code.is_empty()).then(|| {
            let name = known.map_or(&stated.fluid_code, |fluid| &fluid.name);
            (stated.fluid_code.clone(), name.clone())
        });
        Self {
            code: settled.code.clone(),
            label: if stated.label.is_empty() { settled.code.clone() } else { stated.label.clone() },
            fluid,
            fluid_colour: known.and_then(|fluid| fluid.colour),
            filter: (!stated.filter_code.is_empty()).then(|| stated.filter_code.clone()),
            old_filter: None,
            standpipe: None,
            standpipe_label: None,
            plate: None,
            density_15_celsius: known.filter(|_| stated.density_15_celsius.is_none()).map_or(
                density,
                |fluid| {
                    let density = fluid.density_at_15_celsius.get();
                    Estimate::known(density, density * DENSITY_RELATIVE)
                },
            ),
            total_fill_litres: stated.total_fill_litres.map(|litres| Estimate::known(litres, litres * fill)),
            pan_refill_litres: None,
            carried_out_litres: None,
            level_window_celsius: stated.level_window_celsius,
            level_method: None,
            level_conditions: None,
            pan_screw_count: None,
            pan_screw_torque_newton_metres: None,
            screws: catalogue::Screws::default(),
            plug_torque_newton_metres: None,
            maker_interval: Interval::default(),
            maker_intervals_by_use: Vec::new(),
            hookups: Vec::new(),
            kit: None,
            cautions: Vec::new(),
            source: None,
        }
    }

    /// Whether the level is read on a dipstick, so that no plug is opened for it.
    pub fn has_dipstick(&self) -> bool {
        self.level_method == Some(LevelMethod::Dipstick)
    }

    /// Whether there is a standpipe to look at: not where the level is read in another way and the catalogue names none.
    pub fn may_have_standpipe(&self) -> bool {
        let elsewhere = matches!(self.level_method, Some(LevelMethod::SideHole | LevelMethod::Dipstick));
        !elsewhere || self.standpipe.is_some() || self.standpipe_label.is_some()
    }

    /// Whether a code or name on a container is that of the variant's fluid.
    pub fn takes_fluid(&self, code: &str) -> bool {
        self.fluid.as_ref().is_some_and(|(own, name)| same_code(own, code) || same_code(name, code))
    }
}
