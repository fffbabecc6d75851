//! What is asked of screws, tools and equipment by what the catalogue and the registers of the site know.
//!
//! Never here: whether a tool or a fluid may be used, which is a need of the gates.

use super::Field;
use super::Input;
use super::field::{choice, field, litres, optional, states, together};
use crate::gates::{Facts, in_line};
use crate::kind::plug_closed::PlugClosed;
use crate::kind::tightening::Tightening;
use crate::kind::words::ToolKind;
use crate::site::equipment;
use crate::site::tools::Register;
use crate::text::{Sentence, number, sentence};

/// The question of the pan's screws with their order and stages in words.
pub(super) fn ask_screws(facts: &Facts<'_>) -> Sentence {
    let Some(variant) = &facts.identity.variant else { return sentence::step_screws() };
    let order = variant.screws.order(variant.pan_screw_count);
    let whose = if variant.screws.pan_order.is_empty() { "own" } else { "maker" };
    match variant.pan_screw_torque_newton_metres {
        None if order.is_empty() => sentence::step_screws_torque(sentence::screw_torque_by_maker()),
        None => sentence::step_screws_in_order(in_line(&order), sentence::screw_torque_by_maker(), whose),
        Some(_) if order.is_empty() => sentence::step_screws(),
        Some(torque) => sentence::step_screws_in_order(in_line(&order), stages(facts, torque), whose),
    }
}

/// The stages as torques; what lies below the marked range of the tool is done by hand.
fn stages(facts: &Facts<'_>, torque: f64) -> Sentence {
    let variant = facts.identity.variant.as_ref();
    let percents = variant.map_or(&[][..], |it| it.screws.stages(facts.context.workshop()));
    let least = last_tool(facts, Some(torque)).and_then(|code| range(facts, &code)).map(|(least, _)| least);
    let torques: Vec<f64> = percents.iter().map(|percent| torque * percent / 100.0).collect();
    let with_tool: Vec<f64> =
        torques.iter().copied().filter(|it| least.is_none_or(|least| *it >= least - 1e-9)).collect();
    let by_hand = if with_tool.len() < torques.len() { "by-hand" } else { "with-tool" };
    let line: Vec<String> = with_tool.iter().map(|it| rounded(*it)).collect();
    let line = if line.is_empty() { rounded(torque) } else { line.join(", ") };
    sentence::screw_stages(by_hand, number::with_unit(&line, "N·m"))
}

fn rounded(torque: f64) -> String {
    number::fixed(torque, usize::from((torque - torque.round()).abs() > 0.05))
}

fn range(facts: &Facts<'_>, code: &str) -> Option<(f64, f64)> {
    register(facts).tool(ToolKind::TorqueTool, code)?.range()
}

fn register<'a>(facts: &'a Facts<'_>) -> Register<'a> {
    Register::of(facts.context.site, facts.context.workshop(), facts.context.site_up_to)
}

/// The tool to propose: the one used last in this job whose range holds the torque, else the only one of the register
/// that may be used for it.
pub(super) fn last_tool(facts: &Facts<'_>, torque: Option<f64>) -> Option<String> {
    let screws = facts.folded.each::<Tightening>().map(|(stated, it)| (stated.seq, it.tool.as_str()));
    let plug = facts.folded.each::<PlugClosed>().map(|(stated, it)| (stated.seq, it.tool.as_str()));
    let holds = |range: Option<(f64, f64)>| {
        range.zip(torque).is_none_or(|((least, greatest), torque)| (least..=greatest).contains(&torque))
    };
    let used = screws.chain(plug).filter(|(_, tool)| !tool.is_empty() && holds(range(facts, tool)));
    if let Some((_, tool)) = used.max_by_key(|(seq, _)| *seq) {
        return Some(tool.to_owned());
    }
    let register = register(facts);
    let today = register.day(facts.context.as_of_us)?;
    let usable = register
        .tools(ToolKind::TorqueTool)
        .into_iter()
        .filter(|tool| holds(tool.range()) && tool.against(facts.context.site_up_to, today).is_empty());
    let usable: Vec<_> = usable.collect();
    match usable.as_slice() {
        [only] => Some(only.code.to_owned()),
        _ => None,
    }
}

/// What the equipment still holds.
pub(super) fn ask_contents(facts: &Facts<'_>) -> Sentence {
    match equipment::of_job(facts.context, facts.folded) {
        Some(code) => sentence::step_equipment_contents_of(code),
        None => sentence::step_equipment_contents(),
    }
}

/// The equipment that is meant.
pub(super) fn equipment_known(facts: &Facts<'_>) -> Vec<(&'static str, String)> {
    let code = equipment::of_job(facts.context, facts.folded);
    code.map(|code| ("equipment", code.to_owned())).into_iter().collect()
}

/// One tap for what is right; anything else is named.
pub(super) fn contents(facts: &Facts<'_>) -> Vec<Field> {
    let own = facts.identity.variant.as_ref().and_then(|variant| variant.fluid.as_ref());
    let held = choice(&["fluid", "nothing"], sentence::equipment_held);
    let mut fields = vec![
        field("held", sentence::ask_held(), held),
        // Nothing is proposed: who says that it holds something else would confirm the right one without looking.
        optional("fluid_code", sentence::ask_held_fluid(), Input::Text),
        optional("held_litres", sentence::ask_held_litres(), litres()),
        // Asked only of who rinsed, and then it is needed: the litres come out of the kit and are waste.
        field("rinsed_litres", sentence::ask_rinsed(), litres()),
    ];
    if let Some((code, name)) = own {
        let none = [("held_litres", ""), ("rinsed_litres", "")];
        let holds = [&[("held", "fluid"), ("fluid_code", code.as_str())], &none[..]].concat();
        let rinsed = [("held", "fluid"), ("fluid_code", code.as_str()), ("held_litres", "")];
        let emptied = [&[("held", "nothing"), ("fluid_code", "")], &none[..]].concat();
        let choices = vec![
            states("right", sentence::choice_holds(name), &holds),
            states("rinsed", sentence::choice_rinsed(name), &rinsed),
            states("emptied", sentence::choice_emptied(), &emptied),
            states("other", sentence::choice_holds_other(), &[("held", "fluid"), ("rinsed_litres", "")]),
        ];
        fields.insert(0, together(sentence::ask_contents(), choices));
    }
    fields
}
