//! May a step begin? Yes, or every reason against, all at once.
//!
//! What each gate needs is one table, and what may stand in for a need is another: a reason for
//! leaving a step out, or a named person's decision. Neither ever stands in for safety, and nothing
//! stands in for a contradicting code at hand. Of wrong fluid that went in, what takes it out gets its yes, and a named
//! person decides how it is put right and that it is. What was undone since does not count: a line connected anew is
//! open. A go-ahead rests on the entries up to its own time and ends with the next one; nothing here is stored.

mod closed;
pub(crate) mod decided;
mod inside;
mod need;
mod tools;

use crate::job::{
    Context, Folded, Identity, Recorded, closed_against_readings, edition, fold, high_voltage, signed,
};
use crate::kind::Fact;
use crate::kind::closing::Closing;
use crate::kind::exchange_reading::ExchangeReading;
use crate::kind::skipped::Skipped;
use crate::text::{Sentence, number, sentence};
use crate::view::OpenPoint;
use closed::dropped;
pub(crate) use closed::{closed_open, open_beside_level};
use need::lacking;
pub(crate) use need::{Facts, opens_pan};
pub(crate) use tools::{SCREWS_USED_AGAIN, asks_which_equipment, in_line};

/// A gate that a station can ask about, in the order of the work.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Gate {
    /// Pushing new fluid in while the old comes out.
    Exchange,
    /// Taking the pan off.
    Pan,
    /// Refilling after the pan.
    Refill,
    /// Starting the engine after the refill.
    StartEngine,
    /// Opening the level plug.
    Level,
    /// Driving after the work.
    RoadTest,
    /// Closing the job.
    Close,
}

impl Gate {
    /// All gates, in the order of the work.
    pub const ALL: &'static [Self] = &[
        Self::Exchange,
        Self::Pan,
        Self::Refill,
        Self::StartEngine,
        Self::Level,
        Self::RoadTest,
        Self::Close,
    ];

    /// The gate of this name.
    #[must_use]
    pub fn from_name(name: &str) -> Option<Self> {
        Self::ALL.iter().copied().find(|gate| gate.name() == name)
    }

    /// Name of the gate.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Exchange => "exchange",
            Self::Pan => "pan",
            Self::Refill => "refill",
            Self::StartEngine => "start-engine",
            Self::Level => "level",
            Self::RoadTest => "road-test",
            Self::Close => "close",
        }
    }
}

/// Something that a gate needs.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Need {
    /// No code contradicts the variant.
    NoContradiction,
    /// Of wrong fluid that is inside it was decided how it is put right, and the container at hand is the right one.
    WrongFluidDecided,
    /// The pan was drained since wrong fluid went in.
    WrongFluidDrained,
    /// Something was done since that takes wrong fluid out.
    WrongFluidWorkedOn,
    /// Wrong fluid that went in was put right, by a named person's decision.
    WrongFluidPutRight,
    /// The variant is settled and its fluid is known.
    SettledVariant,
    /// The exchange equipment holds no other fluid than the variant's.
    EquipmentContents,
    /// The container of the fresh fluid was compared with the variant.
    FluidCompared,
    /// The lots at hand are not recalled and not past their last day, as far as the register knows them.
    LotGood,
    /// The fault memory was read before.
    CodesBefore,
    /// No code says that something else is to be repaired first.
    NothingToRepairFirst,
    /// The vehicle was driven before.
    DriveBefore,
    /// A sample was looked at before.
    SampleBefore,
    /// Nothing seen says to look inside first.
    NothingToLookAtInside,
    /// The cautions under the lifted vehicle were read.
    CautionLifted,
    /// The cautions at an opened line were read.
    CautionLineOpening,
    /// The cautions with a running engine were read.
    CautionEngineRunning,
    /// The cautions at the pan were read.
    CautionPanAndHot,
    /// The cautions for gears and level were read.
    CautionGearsAndLevel,
    /// The lift is locked since the drive before.
    LiftLocked,
    /// The high-voltage system is isolated, where there is one.
    HighVoltageIsolated,
    /// The direction of flow was tested as the equipment is connected now; a line closed since was disconnected.
    DirectionTested,
    /// An exchange that began has ended.
    ExchangeEnded,
    /// The engine is off since it ran last.
    EngineOff,
    /// The cooler line is closed since it was opened or pushed through.
    LineClosed,
    /// The standpipe was looked at, at pan off.
    StandpipeSeen,
    /// The old filter was looked at, at pan off.
    OldFilterSeen,
    /// The filter is new, and the seal since the pan was off last.
    PartsFitted,
    /// The pan's screws are tightened since it was off last.
    ScrewsTightened,
    /// The tool that the pan's screws were tightened with may be used for it.
    ScrewTool,
    /// The pan's screws are as many as the catalogue counts, and as a recording tool kept them.
    ScrewsAsAsked,
    /// Screws for one use are new, or a named person decided.
    ScrewsNotUsedAgain,
    /// The pan is closed.
    PanClosed,
    /// As much was refilled as ran out, less half a litre at most.
    RefilledAsDrained,
    /// Tools and people are clear.
    ToolsAndPeopleClear,
    /// A pan that was off is closed, refilled and clear.
    PanBack,
    /// A pan that was off has its parts, screws and fluid again.
    PanDone,
    /// The pan's screws are as the catalogue and the register of tools ask, and none for one use went back.
    ScrewsRight,
    /// The selector was moved through all positions since the refill, with nobody under the vehicle.
    GearsMoved,
    /// The last temperature lies inside the window and is fresh.
    TemperatureInWindow,
    /// A look at the level counts.
    LevelSet,
    /// The level plug, where one was opened, is closed with a new seal since it was open last.
    PlugClosed,
    /// The tool that the plug was closed with may be used for it.
    PlugTool,
    /// It is dry since the plug was closed.
    Dry,
    /// The fault memory was read after.
    CodesAfter,
    /// The vehicle was driven after.
    DriveAfter,
    /// The waste is written down.
    WasteWritten,
}

/// THE table: which gate needs what, in the order in which a person would do it
/// (common practice, no source).
const NEEDS: &[(Gate, &[Need])] = &[
    (
        Gate::Exchange,
        &[
            Need::NoContradiction,
            Need::WrongFluidDecided,
            Need::WrongFluidDrained,
            Need::SettledVariant,
            Need::CodesBefore,
            Need::NothingToRepairFirst,
            Need::DriveBefore,
            Need::CautionLifted,
            Need::LiftLocked,
            Need::HighVoltageIsolated,
            Need::SampleBefore,
            Need::NothingToLookAtInside,
            Need::FluidCompared,
            Need::LotGood,
            Need::EquipmentContents,
            Need::CautionLineOpening,
            Need::DirectionTested,
            Need::CautionEngineRunning,
            Need::PanBack,
        ],
    ),
    (
        Gate::Pan,
        &[
            Need::CautionLifted,
            Need::LiftLocked,
            Need::HighVoltageIsolated,
            Need::ExchangeEnded,
            Need::EngineOff,
            Need::LineClosed,
            Need::CautionPanAndHot,
        ],
    ),
    (
        Gate::Refill,
        &[
            Need::NoContradiction,
            Need::WrongFluidDecided,
            Need::SettledVariant,
            Need::FluidCompared,
            Need::LotGood,
            Need::StandpipeSeen,
            Need::OldFilterSeen,
            Need::PartsFitted,
            Need::ScrewsTightened,
            Need::ScrewTool,
            Need::ScrewsAsAsked,
            Need::ScrewsNotUsedAgain,
        ],
    ),
    (
        Gate::StartEngine,
        &[
            Need::NoContradiction,
            Need::WrongFluidDecided,
            Need::WrongFluidDrained,
            Need::LotGood,
            Need::PanClosed,
            Need::ScrewsRight,
            Need::LineClosed,
            Need::RefilledAsDrained,
            Need::ToolsAndPeopleClear,
        ],
    ),
    (
        Gate::Level,
        &[
            Need::WrongFluidDecided,
            Need::PanBack,
            Need::GearsMoved,
            Need::CautionGearsAndLevel,
            Need::TemperatureInWindow,
        ],
    ),
    (
        Gate::RoadTest,
        &[
            Need::WrongFluidWorkedOn,
            Need::WrongFluidPutRight,
            Need::PanDone,
            Need::LevelSet,
            Need::PlugClosed,
            Need::PlugTool,
            Need::Dry,
            Need::LineClosed,
        ],
    ),
    (
        Gate::Close,
        &[
            Need::WrongFluidPutRight,
            Need::PanDone,
            Need::ScrewsNotUsedAgain,
            Need::LevelSet,
            Need::PlugClosed,
            Need::PlugTool,
            Need::Dry,
            Need::LineClosed,
            Need::CodesAfter,
            Need::DriveAfter,
            Need::WasteWritten,
        ],
    ),
];

/// The step whose reasoned skipping stands in for a need. A need without a row can only be met, or decided by
/// name where its points say so.
const STAND_INS: &[(Need, &str)] = &[
    (Need::CodesBefore, "codes-before"),
    (Need::DriveBefore, "drive-before"),
    (Need::SampleBefore, "sample-before"),
    (Need::ExchangeEnded, "exchange"),
    (Need::StandpipeSeen, "pan-seen"),
    (Need::OldFilterSeen, "old-filter"),
    (Need::CodesAfter, "codes-after"),
    (Need::DriveAfter, "drive-after"),
    (Need::WasteWritten, "waste"),
];

/// What only pushing needs: once the exchange is over nobody has it still to do. What later work needs too stands in
/// the later gates.
const ONLY_TO_PUSH: &[Need] = &[
    Need::EquipmentContents,
    Need::CautionLineOpening,
    Need::DirectionTested,
    Need::CautionEngineRunning,
    Need::PanBack,
    Need::ToolsAndPeopleClear,
];

/// What an open point names for which no gate waits.
const NO_GATE: &str = "";

/// The answer of a gate.
#[derive(Debug, Clone, PartialEq)]
pub struct GoAhead {
    /// True: the step may begin.
    pub yes: bool,
    /// Every reason against; empty with yes.
    pub missing: Vec<Missing>,
    /// Keys of the reasons against that a named person may decide.
    pub decidable: Vec<&'static str>,
    /// What a yes rests on.
    pub basis: Vec<Sentence>,
    /// The usual cautions for this step, whatever the answer.
    pub cautions: Vec<Sentence>,
}

/// One reason against.
#[derive(Debug, Clone, PartialEq)]
pub struct Missing {
    /// Key of the point, by which a decision names it.
    pub key: &'static str,
    /// The sentence.
    pub text: Sentence,
    /// True when nobody can override it.
    pub stops: bool,
}

impl Missing {
    /// Nothing where a need is met, else the one reason against; a named person may decide it where its point says so.
    fn unless(met: bool, key: &'static str, text: impl FnOnce() -> Sentence) -> Vec<Self> {
        if met { Vec::new() } else { vec![Self { key, text: text(), stops: false }] }
    }
}

/// Asks a gate.
#[must_use]
pub fn may(context: &Context<'_>, entries: &[Recorded<'_>], gate: Gate) -> GoAhead {
    let folded = fold::fold(context, entries);
    let identity = Identity::of(context, &folded);
    let mut missing = missing(context, &folded, &identity, gate);
    if folded.last::<Closing>().is_some() && gate != Gate::Close {
        missing.push(Missing { key: "closed", text: sentence::gate_job_closed(), stops: false });
    }
    let decidable = decided::decidable(context, &folded, &missing);
    let unsigned = unsigned(context, &folded, &missing);
    missing.extend(unsigned);
    let mut basis = if missing.is_empty() { basis(&identity) } else { Vec::new() };
    if missing.is_empty() {
        basis.extend(decided::basis(context, &folded, gate));
    }
    if missing.is_empty() && gate == Gate::Exchange {
        basis.extend(tools::basis(&Facts { context, folded: &folded, identity: &identity }));
    }
    let cautions = cautions(gate, high_voltage(context, &folded), identity.has_dipstick());
    GoAhead { yes: missing.is_empty(), missing, decidable, basis, cautions }
}

/// Key of what is missing where a decision was made and waits for its signature; it is signed, not decided again.
const SIGNATURE: &str = "signature";

/// Decisions of what is missing that were made and wait for their signature.
fn unsigned(context: &Context<'_>, folded: &Folded, missing: &[Missing]) -> Vec<Missing> {
    let made = folded.to_sign.iter().filter(|it| {
        it.waiting_decision().is_some_and(|point| missing.iter().any(|missing| missing.key == point))
    });
    made.map(|it| Missing { key: SIGNATURE, text: it.open_point(context), stops: false }).collect()
}

/// The usual cautions for the work behind a gate.
fn cautions(gate: Gate, high_voltage: bool, dipstick: bool) -> Vec<Sentence> {
    let mut cautions = match gate {
        Gate::Exchange => vec![sentence::caution_line(), sentence::caution_engine()],
        Gate::Pan | Gate::Refill => vec![sentence::caution_hot_fluid(), sentence::caution_skin()],
        Gate::StartEngine => vec![sentence::caution_engine()],
        Gate::Level if dipstick => {
            vec![sentence::caution_gears(), sentence::caution_dipstick(), sentence::caution_hot_fluid()]
        }
        Gate::Level => vec![sentence::caution_gears(), sentence::caution_hot_fluid()],
        Gate::RoadTest => vec![sentence::caution_drive()],
        Gate::Close => Vec::new(),
    };
    if high_voltage {
        cautions.push(sentence::caution_high_voltage());
    }
    cautions.push(sentence::caution_maker());
    cautions
}

/// Whether a need is met by what was done, without regard to what may stand in for it.
pub(crate) fn is_met(facts: &Facts<'_>, need: Need) -> bool {
    lacking(facts, need).is_empty()
}

/// What is known to speak against the fluid that goes in, whatever else the gate needs.
pub(crate) fn against_fluid(context: &Context<'_>, folded: &Folded, identity: &Identity) -> Vec<Missing> {
    let facts = Facts { context, folded, identity };
    let needs = [Need::NoContradiction, Need::SettledVariant, Need::FluidCompared];
    needs.into_iter().flat_map(|need| lacking(&facts, need)).collect()
}

/// What was read or seen that says: not this fluid, or not this car. A step left out never stands in for it.
pub(crate) fn against_exchange(context: &Context<'_>, folded: &Folded, identity: &Identity) -> Vec<Missing> {
    let facts = Facts { context, folded, identity };
    let needs = [
        Need::NoContradiction,
        Need::WrongFluidDecided,
        Need::NothingToRepairFirst,
        Need::NothingToLookAtInside,
    ];
    needs.into_iter().flat_map(|need| lacking(&facts, need)).collect()
}

/// Of that, what a named person may decide; several fault codes are one sentence.
pub(crate) fn not_this_car(facts: &Facts<'_>) -> Vec<Sentence> {
    let codes = need::codes_against(facts);
    let mut against: Vec<Sentence> = match codes.as_slice() {
        [] => Vec::new(),
        [(_, only)] => vec![only.text.clone()],
        several => {
            let codes: Vec<&str> = several.iter().map(|(code, _)| *code).collect();
            vec![sentence::now_codes(codes.join(", "))]
        }
    };
    against.extend(lacking(facts, Need::NothingToLookAtInside).into_iter().map(|missing| missing.text));
    against
}

/// Everything that a gate lacks.
pub(crate) fn missing(
    context: &Context<'_>,
    folded: &Folded,
    identity: &Identity,
    gate: Gate,
) -> Vec<Missing> {
    let facts = Facts { context, folded, identity };
    // Wrong fluid has to come out; the exchange that pushed it in does not go on to its end.
    let inside = identity.wrong_fluid.as_ref().is_some_and(|wrong| !wrong.is_put_right());
    let broken_off = gate == Gate::Pan && inside;
    let needs = needs(gate).filter(|need| gate != Gate::Close || !dropped(folded, *need));
    let needs = needs.filter(|need| !broken_off || *need != Need::ExchangeEnded);
    let mut missing: Vec<Missing> = Vec::new();
    for found in needs.flat_map(|need| lacking_of(&facts, need)) {
        // Two needs may lack the same thing.
        if found.key == "caution" || !missing.iter().any(|known| known.text == found.text) {
            missing.push(found);
        }
    }
    missing
}

fn needs(gate: Gate) -> impl Iterator<Item = Need> {
    NEEDS.iter().filter(move |(of, _)| *of == gate).flat_map(|(_, needs)| needs.iter().copied())
}

/// What a need lacks for which nothing stands in.
fn lacking_of(facts: &Facts<'_>, need: Need) -> Vec<Missing> {
    if stood_in(facts, need) { Vec::new() } else { lacking(facts, need) }
}

/// Whether the exchange ended: whoever pushes again all the same asks the gate.
fn is_exchange_over(folded: &Folded) -> bool {
    folded.each::<ExchangeReading>().any(|(_, reading)| reading.last)
}

/// Whether the pan came off or litres were pushed in: what is done before the work can no longer be done.
pub(crate) fn is_work_begun(folded: &Folded) -> bool {
    let pushed = |fact: &Fact| matches!(fact, Fact::ExchangeReading(reading) if !reading.pushed_in.is_zero());
    folded.facts.iter().any(|stated| pushed(&stated.fact) || need::opens_pan(&stated.fact))
}

/// What is wrong with the pan's screws and nobody decided; it is told as soon as they are tightened.
pub(crate) fn against_screws(context: &Context<'_>, folded: &Folded, identity: &Identity) -> Vec<Sentence> {
    let facts = Facts { context, folded, identity };
    lacking(&facts, Need::ScrewsRight).into_iter().map(|missing| missing.text).collect()
}

/// Whether the work behind a gate was left out with a reason and was not begun all the same.
fn left_out(folded: &Folded, gate: Gate) -> bool {
    match gate {
        Gate::Exchange => is_left_out(folded, "exchange") && folded.last::<ExchangeReading>().is_none(),
        Gate::Pan | Gate::Refill => is_pan_left_out(folded),
        _ => false,
    }
}

/// Whether the pan stays on, by a reason.
pub(crate) fn is_pan_left_out(folded: &Folded) -> bool {
    is_left_out(folded, "pan") && !folded.facts.iter().any(|stated| need::opens_pan(&stated.fact))
}

pub(crate) fn is_left_out(folded: &Folded, step: &str) -> bool {
    folded.each::<Skipped>().any(|(_, skipped)| skipped.step == step)
}

/// Whether a reasoned skipping stands in for a need. An exchange that was left out and then began has to end.
fn stood_in(facts: &Facts<'_>, need: Need) -> bool {
    let Some((_, step)) = STAND_INS.iter().find(|(of, _)| *of == need) else { return false };
    let mut skipped = facts.folded.each::<Skipped>().filter(|(_, skipped)| skipped.step == *step);
    skipped.any(|(stated, _)| need != Need::ExchangeEnded || facts.is_since_exchange(stated))
}

fn basis(identity: &Identity) -> Vec<Sentence> {
    let Some(variant) = &identity.variant else { return vec![sentence::gate_basis_entries()] };
    // A yes never hides that wrong fluid went in.
    let wrong = identity.wrong_fluid.as_ref().map(|wrong| match wrong.is_decided() {
        true => wrong.for_good(),
        false => wrong.inside(),
    });
    let mut basis: Vec<Sentence> = wrong.into_iter().collect();
    basis.push(sentence::gate_basis_variant(&variant.label));
    if identity.fluid_agrees {
        basis.extend(variant.fluid.as_ref().map(|(_, name)| sentence::gate_basis_fluid(name)));
    }
    basis
}

/// What is still to be done, in the order of the work; each point names the gate that waits for it. After the closing
/// no gate waits any more, but record and handover do.
pub(crate) fn open_points(context: &Context<'_>, folded: &Folded, identity: &Identity) -> Vec<OpenPoint> {
    if folded.last::<Closing>().is_some() {
        let against = closed_against_readings(folded).map(|(_, litres)| number::litres(litres, 1));
        let open = against.map(sentence::open_closed_without).into_iter().chain(edition::open(folded));
        let open = open.map(|text| OpenPoint { gate: NO_GATE, text });
        return open.chain(signed::open_points(context, folded)).collect();
    }
    let mut points: Vec<OpenPoint> = Vec::new();
    let facts = Facts { context, folded, identity };
    for gate in Gate::ALL.iter().filter(|gate| !left_out(folded, **gate)) {
        let over = *gate == Gate::Exchange && is_exchange_over(folded);
        let needs = needs(*gate).filter(|need| !(over && ONLY_TO_PUSH.contains(need)));
        for missing in needs.flat_map(|need| lacking_of(&facts, need)) {
            if !points.iter().any(|known| known.text == missing.text) {
                points.push(OpenPoint { gate: gate.name(), text: missing.text });
            }
        }
    }
    points.extend(signed::open_points(context, folded));
    points.push(OpenPoint { gate: Gate::Close.name(), text: sentence::open_close() });
    points
}
