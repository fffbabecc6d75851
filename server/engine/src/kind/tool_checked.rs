//! A tool was checked, overloaded or taken out of use.

use super::Typed;
use super::site::{SiteKind, of_site};
use super::words::{ToolEvent, ToolKind};
use crate::amount::{Amount, Read};
use crate::text::{Sentence, number, sentence};
use standpipe_proto::v1;

/// One torque of a check, in N·m.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TorqueReading {
    /// What the tool showed or was set to.
    pub shown_newton_metres: f64,
    /// What the reference showed.
    pub reference_newton_metres: f64,
}

/// What happened to a tool.
#[derive(Debug, Clone, PartialEq)]
pub struct ToolChecked {
    /// Code on the tool.
    pub tool: String,
    /// What it is; absent when this version does not know it.
    pub kind: Option<ToolKind>,
    /// What happened; absent when this version does not know it.
    pub event: Option<ToolEvent>,
    /// Lowest marked torque, in N·m.
    pub least_newton_metres: Option<f64>,
    /// Highest marked torque, in N·m.
    pub greatest_newton_metres: Option<f64>,
    /// Largest deviation that it may show, in percent.
    pub limit_percent: Option<f64>,
    /// Torques of the check.
    pub torques: Vec<TorqueReading>,
    /// Volume that a litre display showed.
    pub shown: Option<Amount>,
    /// What it was compared with.
    pub reference: Option<Amount>,
    /// Temperature of the fluid at the check, in °C.
    pub temperature_celsius: Option<f64>,
    /// Code of that fluid; empty if not noted.
    pub fluid_code: String,
    /// Number of the certificate; empty if there is none.
    pub certificate: String,
    /// Day of the next check as YYYY-MM-DD; empty: by the settings.
    pub next_due_on: String,
}

impl ToolChecked {
    pub(super) fn read(message: &v1::ToolChecked, typed: Typed<'_>) -> Self {
        use super::words::Means;
        use v1::tool_checked::Reference;
        let litres = |litres: f64, field: &str, means| {
            Amount::new(Read::Litres(litres), typed.text(field), Some(means))
        };
        let reference = message.reference.as_ref().map(|reference| match reference {
            Reference::ReferenceLitres(read) => litres(*read, "reference_litres", Means::Jug),
            Reference::ReferenceKilograms(read) => {
                let text = typed.text("reference_kilograms");
                Amount::new(Read::Kilograms(*read), text, Some(Means::Scale))
            }
        });
        let torque = |reading: &v1::TorqueReading| TorqueReading {
            shown_newton_metres: reading.shown_newton_metres,
            reference_newton_metres: reading.reference_newton_metres,
        };
        Self {
            tool: message.tool.trim().to_owned(),
            kind: ToolKind::read(message.kind),
            event: ToolEvent::read(message.event),
            least_newton_metres: message.least_newton_metres,
            greatest_newton_metres: message.greatest_newton_metres,
            limit_percent: message.limit_percent,
            torques: message.torques.iter().map(torque).collect(),
            shown: message.shown_litres.map(|shown| litres(shown, "shown_litres", Means::Display)),
            reference,
            temperature_celsius: message.temperature_celsius,
            fluid_code: message.fluid_code.trim().to_owned(),
            certificate: message.certificate.trim().to_owned(),
            next_due_on: message.next_due_on.clone(),
        }
    }
}

impl SiteKind for ToolChecked {
    const NAME: &'static str = "tool_checked";

    fn sentence(&self) -> Sentence {
        let worst = crate::site::tool_deviation(self).filter(|_| self.event == Some(ToolEvent::Checked));
        if let Some(percent) = worst {
            let kind = sentence::tool_kind(self.kind.map_or("unknown", ToolKind::word));
            let deviation = number::with_unit(&number::fixed(percent, 1), "%");
            return sentence::tool_checked_off(deviation, kind, &self.tool);
        }
        let event = self.event.map_or("unknown", ToolEvent::word);
        sentence::tool_checked(
            event,
            sentence::tool_kind(self.kind.map_or("unknown", ToolKind::word)),
            &self.tool,
        )
    }

    of_site!(ToolChecked);
}
