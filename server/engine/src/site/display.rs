//! The last check of the exchange equipment's litre display, and what follows for the litres that it shows.
//!
//! A display that was checked errs by a known ratio: its litres are corrected by it and keep only the uncertainty of the
//! check. The ratio holds for both figures of the display, litres in and litres out: correcting one of them alone would
//! make the two contradict each other. A check that is past due says nothing any more, and one that was read more
//! coarsely than an unchecked display is taken to err says nothing either. Read by balance and exchange.

use super::tools::{Register, Tool};
use super::{SiteStated, equipment};
use crate::amount::{Fluid, InstrumentLimits};
use crate::formula::torque_tool::deviation_percent;
use crate::job::{Context, Folded};
use crate::kind::tool_checked::ToolChecked;
use crate::kind::words::{ToolEvent, ToolKind};
use crate::quantity::Estimate;
use jiff::civil::Date;

/// Relative standard uncertainty of the density of a fluid in the catalogue, as for the fluid of a job (common practice,
/// no source).
const DENSITY_RELATIVE: f64 = 0.003;
/// A display that errs by more than this part is broken, or the check was written down wrongly (common practice, no
/// source); nothing is corrected by it.
const RATIO_OFF_MOST: f64 = 0.2;
/// How far a measured fluid temperature may be off, in °C: a limit (common practice, no source).
const THERMOMETER_LIMIT_CELSIUS: f64 = 3.0;

/// A check of the display.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct DisplayCheck {
    /// Code of the equipment.
    pub equipment: String,
    /// Day of the check.
    pub day: Date,
    /// Last day on which it counts.
    pub due_on: Date,
    /// Whether it counted no more when the display was read.
    pub overdue: bool,
    /// Whether it cannot be right, so far is it off.
    pub doubtful: bool,
    /// Whether it is less certain than a display without a check.
    pub coarse: bool,
    /// What the display showed, as read.
    pub shown: String,
    /// What was in the jug or on the scale, as read.
    pub reference: String,
    /// True litres for each litre shown, with the uncertainty of the check.
    pub ratio: Estimate,
}

/// The last check of the display that the job pushes with; absent where none is known. A later repair ends it; how far
/// off it was found does not, since that is what is corrected.
pub(crate) fn of_job(context: &Context<'_>, folded: &Folded) -> Option<DisplayCheck> {
    let code = equipment::of_job(context, folded)?;
    let read = equipment::last_push(folded);
    let (before, used_us) = read.unwrap_or((context.site_up_to, context.as_of_us));
    let up_to = before.min(context.site_up_to);
    let register = Register::of(context.site, context.workshop(), up_to);
    let tool = register.tool(ToolKind::LitreDisplay, code)?;
    let (stated, checked) = last_event(&tool)?;
    let (day, used) = (register.day(stated.time_us)?, register.day(used_us)?);
    let due_on = tool.due_by(stated, checked)?;
    let ratio = ratio(context, checked)?;
    Some(DisplayCheck {
        equipment: code.to_owned(),
        day,
        due_on,
        overdue: used > due_on,
        // What is off to the digit on the bound is inside.
        doubtful: (ratio.value - 1.0).abs() > RATIO_OFF_MOST + 1e-9,
        coarse: limit_of(ratio) > context.workshop().display_error_limit.value,
        shown: checked.shown.as_ref()?.as_read().to_owned(),
        reference: checked.reference.as_ref()?.as_read().to_owned(),
        ratio,
    })
}

/// The last thing that happened to the display, if it is a check.
fn last_event<'a>(tool: &Tool<'a>) -> Option<(&'a SiteStated, &'a ToolChecked)> {
    tool.events().last().copied().filter(|(_, it)| it.event == Some(ToolEvent::Checked))
}

impl DisplayCheck {
    /// The check, while it counts.
    pub fn valid(self) -> Option<Self> {
        (!self.overdue && !self.doubtful && !self.coarse).then_some(self)
    }

    /// Error limit of the display that gives the uncertainty of the check, as a part of the reading.
    pub fn limit(&self) -> f64 {
        limit_of(self.ratio)
    }
}

fn limit_of(ratio: Estimate) -> f64 {
    3.0_f64.sqrt() * ratio.standard_uncertainty / ratio.value
}

/// True litres for each litre shown: `r = V_r / V_s`, both at one temperature.
///
/// A known error is corrected and the correction has its own uncertainty (JCGM 100:2008, 3.2.3): resolution of both
/// readings, the limits of jug or scale, and for a scale those of density and temperature. That the display errs alike
/// at all litres is taken for granted; one check says nothing else.
fn ratio(context: &Context<'_>, checked: &ToolChecked) -> Option<Estimate> {
    let (shown, reference) = (checked.shown.as_ref()?, checked.reference.as_ref()?);
    let workshop = context.workshop();
    let known = context.revision.fluid(&checked.fluid_code).filter(|_| !checked.fluid_code.is_empty());
    let density = known.map_or_else(
        || workshop.fluid_density.estimate(),
        |fluid| {
            let density = fluid.density_at_15_celsius.get();
            Estimate::known(density, density * DENSITY_RELATIVE)
        },
    );
    let weighed = matches!(reference.read(), crate::amount::Read::Kilograms(_));
    let celsius = checked.temperature_celsius.unwrap_or(workshop.new_fluid_celsius.value);
    // Jug and display hold the same fluid at the same time, so a wrong temperature cancels between them.
    let limit = if weighed { THERMOMETER_LIMIT_CELSIUS } else { 0.0 };
    let fluid = Fluid { celsius: Estimate::within(celsius, limit), density_15_celsius: density };
    let limits = InstrumentLimits {
        display: 0.0,
        jug_litres: workshop.jug_error_limit_litres.value,
        scale_kilograms: workshop.scale_error_limit_kilograms.value,
    };
    let shown = shown.litres_15(&fluid, &limits)?;
    let exact = Fluid { celsius: Estimate::known(celsius, 0.0), ..fluid };
    let reference = reference.litres_15(&exact, &limits)?;
    let relative =
        (shown.standard_uncertainty / shown.value).hypot(reference.standard_uncertainty / reference.value);
    let value = reference.value / shown.value;
    (value.is_finite() && relative.is_finite() && value > 0.0)
        .then(|| Estimate::known(value, value * relative))
}

/// Relative deviation of a display at a check, in percent, as read: `100 (V_s − V_r) / V_r`; absent where it was weighed,
/// since that needs the fluid.
pub(crate) fn deviation(checked: &ToolChecked) -> Option<f64> {
    let litres = |amount: &crate::amount::Amount| match amount.read() {
        crate::amount::Read::Litres(litres) => Some(litres),
        crate::amount::Read::Kilograms(_) => None,
    };
    let (shown, reference) = (litres(checked.shown.as_ref()?)?, litres(checked.reference.as_ref()?)?);
    Some(deviation_percent(shown, reference)).filter(|deviation| deviation.is_finite())
}
