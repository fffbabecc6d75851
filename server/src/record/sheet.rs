//! What a bay sheet says of the settled variant, as it is printed. Called by [`super::bay_sheet`] only.

use standpipe_engine::catalogue::{LevelMethod, Revision, Variant};
use standpipe_engine::text::number;
use standpipe_engine::view::JobView;
use standpipe_report::SheetInput;

/// From the catalogue, where the settled variant stands in it; else from the view alone.
pub(super) fn input(revision: &Revision, view: &JobView) -> SheetInput {
    let Some(settled) = &view.vehicle.variant else { return SheetInput::default() };
    let window = view.level.window_celsius.map(|(from, to)| level_window(from, to));
    let called = |variant: &&Variant| format!("{}, {}", variant.transmission, variant.label) == *settled;
    match revision.variants().iter().find(called) {
        Some(variant) => SheetInput {
            level_window: window,
            pan_screw_order: screw_order(revision, variant),
            ..listed(variant, settled)
        },
        None => SheetInput { variant: Some(settled.clone()), level_window: window, ..SheetInput::default() },
    }
}

fn listed(variant: &Variant, settled: &str) -> SheetInput {
    let torque = |value: f64| number::newton_metres(value, decimals(value));
    let standpipe = [&variant.standpipe_code, &variant.standpipe_label].into_iter().flatten();
    let standpipe = standpipe.cloned().collect::<Vec<_>>().join(", ");
    SheetInput {
        variant: Some(format!("{}, {settled}", variant.code)),
        fluid: Some(format!("{} ({})", variant.fluid.name, variant.fluid.code)),
        filter: variant.filter_code.clone(),
        standpipe: Some(standpipe).filter(|standpipe| !standpipe.is_empty()),
        total_fill: Some(number::litres(variant.total_fill_litres, 1)),
        pan_refill: variant.pan_refill_litres.map(|litres| number::litres(litres, 1)),
        level_window: None,
        level_method: variant.level_in_words(),
        dipstick: variant.level_method == LevelMethod::Dipstick,
        pan_screw_count: variant.pan_screw_count.map(|count| count.to_string()),
        pan_screw_torque: variant.pan_screw_torque_newton_metres.map(torque),
        pan_screw_order: None,
        plug_torque: variant.plug_torque_newton_metres.map(torque),
    }
}

/// The maker's order and stages, or else our own.
fn screw_order(revision: &Revision, variant: &Variant) -> Option<(String, String)> {
    let order = variant.screws.order(variant.pan_screw_count);
    let order: Vec<String> = order.iter().map(ToString::to_string).collect();
    let stages = variant.screws.stages(revision.workshop()).iter();
    let stages: Vec<String> = stages.map(|percent| number::fixed(*percent, decimals(*percent))).collect();
    (!order.is_empty()).then(|| (order.join("-"), stages.join(", ")))
}

fn level_window(from: f64, to: f64) -> String {
    format!("{} to {}", number::fixed(from, decimals(from)), number::celsius(to, decimals(to)))
}

/// One decimal only where the catalogue has one.
fn decimals(value: f64) -> usize {
    usize::from(value.fract() != 0.0)
}
