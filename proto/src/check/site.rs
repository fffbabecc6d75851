//! What no single field of a fact of the site can say.

use crate::v1::{self, fact::Kind};

/// True for the kinds that belong to the site and not to a job.
#[must_use]
pub fn is_site_kind(kind: &Kind) -> bool {
    is_stated_site_kind(kind)
        || matches!(kind, Kind::StationEnrolled(_) | Kind::PersonListed(_) | Kind::CatalogueAdopted(_))
}

/// True for those of them that a station states; the others are the server's own.
#[must_use]
pub fn is_stated_site_kind(kind: &Kind) -> bool {
    matches!(
        kind,
        Kind::LotReceived(_)
            | Kind::StockCounted(_)
            | Kind::ToolChecked(_)
            | Kind::EquipmentContents(_)
            | Kind::WasteCollected(_)
            | Kind::LotRecalled(_)
    )
}

/// What needs what within a fact of the site.
pub(super) fn relations(kind: &Kind, at: &str, say: &mut dyn FnMut(&str, &str)) {
    match kind {
        Kind::LotReceived(lot) => received(lot, &format!("{at}lot_received."), say),
        Kind::StockCounted(counted) => self::counted(counted, &format!("{at}stock_counted."), say),
        Kind::ToolChecked(tool) => checked(tool, &format!("{at}tool_checked."), say),
        Kind::EquipmentContents(contents) => held(contents, &format!("{at}equipment_contents."), say),
        _ => {}
    }
}

fn received(lot: &v1::LotReceived, at: &str, say: &mut dyn FnMut(&str, &str)) {
    let fluid = lot.what() == v1::Supply::Fluid;
    let litres = matches!(lot.amount, Some(v1::lot_received::Amount::VolumeLitres(_)));
    if fluid != litres {
        say(&format!("{at}amount"), "fluid comes in litres, anything else in pieces");
    }
    if !fluid && lot.container() != v1::Container::Unspecified {
        say(&format!("{at}container"), "only fluid comes in a drum or cans; leave it out");
    }
}

fn counted(counted: &v1::StockCounted, at: &str, say: &mut dyn FnMut(&str, &str)) {
    let fluid = counted.what() == v1::Supply::Fluid;
    let pieces = matches!(counted.amount, Some(v1::stock_counted::Amount::PieceCount(_)));
    if fluid == pieces {
        say(&format!("{at}amount"), "fluid is counted in litres or kilograms, anything else in pieces");
    }
}

fn checked(tool: &v1::ToolChecked, at: &str, say: &mut dyn FnMut(&str, &str)) {
    if let (Some(least), Some(greatest)) = (tool.least_newton_metres, tool.greatest_newton_metres)
        && least >= greatest
    {
        say(
            &format!("{at}least_newton_metres"),
            &format!("{least} N·m is not below greatest_newton_metres, {greatest} N·m"),
        );
    }
    let torque = tool.kind() == v1::ToolKind::TorqueTool;
    if torque && (tool.shown_litres.is_some() || tool.reference.is_some()) {
        say(&format!("{at}shown_litres"), "a torque tool shows no litres; give torques");
    }
    if !torque && !tool.torques.is_empty() {
        say(&format!("{at}torques"), "a litre display shows no torque; give shown_litres and a reference");
    }
    if tool.event() != v1::ToolEvent::Checked {
        return;
    }
    if torque && tool.torques.is_empty() {
        say(&format!("{at}torques"), "a check needs at least one torque shown and its reference");
    }
    if !torque && (tool.shown_litres.is_none() || tool.reference.is_none()) {
        say(&format!("{at}shown_litres"), "a check needs the litres shown and what they were compared with");
    }
    if matches!(tool.reference, Some(v1::tool_checked::Reference::ReferenceKilograms(_)))
        && (tool.temperature_celsius.is_none() || tool.fluid_code.trim().is_empty())
    {
        say(
            &format!("{at}reference_kilograms"),
            "kilograms become litres by fluid and temperature; give fluid_code and temperature_celsius",
        );
    }
}

fn held(contents: &v1::EquipmentContents, at: &str, say: &mut dyn FnMut(&str, &str)) {
    let fluid = !contents.fluid_code.trim().is_empty();
    match contents.held() {
        v1::Held::Fluid if !fluid => {
            say(&format!("{at}fluid_code"), "say which fluid it holds, by the code on its container");
        }
        v1::Held::Nothing if fluid || contents.held_litres.is_some_and(|litres| litres > 0.0) => {
            say(
                &format!("{at}held"),
                "what was emptied holds no fluid; leave fluid_code and held_litres out",
            );
        }
        _ => {}
    }
}
