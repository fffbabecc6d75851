//! The register of tools: what a tool is, when it was checked, how much it was used since, and whether it may be used.
//!
//! Made of the site's facts and of what jobs used; nothing is kept. A use is judged as of its place in the journal: a
//! good check that came after it clears it, a bad one counts against it. Gates, record, tallies and call lists ask it.
//! Never here: a torque or a screw.

use super::{SiteFacts, SiteStated, Use, UseOf};
use crate::catalogue::{ToolCheckSettings, Workshop, same_code};
use crate::formula::torque_tool::{
    LIMIT_TAKEN_PERCENT, Standing, Unusable, deviation_percent, due_on, is_inside, unusable,
};
use crate::kind::tool_checked::ToolChecked;
use crate::kind::words::{ToolEvent, ToolKind};
use crate::text::{Sentence, number, sentence};
use jiff::civil::Date;
use jiff::{Timestamp, tz::TimeZone};

/// The register as far as it is known at a place in the journal.
#[derive(Clone, Copy)]
pub(crate) struct Register<'a> {
    facts: &'a SiteFacts,
    settings: &'a ToolCheckSettings,
    zone: &'a TimeZone,
    up_to: u64,
}

/// One tool.
pub(crate) struct Tool<'a> {
    register: Register<'a>,
    /// Code on it, as it was stated last.
    pub code: &'a str,
    events: Vec<(&'a SiteStated, &'a ToolChecked)>,
}

/// Why a tool may not be used.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Against {
    /// By day, uses or an overload.
    Unusable(Unusable, Figures),
    /// Its last check found it out of its limits.
    OutOfLimits,
    /// The same by the limit that is taken where none is stated.
    OutOfLimitTaken,
    /// It was taken out of use.
    TakenOut,
}

/// What a sentence about a tool needs.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Figures {
    /// Last day on which it may be used.
    pub due_on: Option<Date>,
    /// Screws tightened since its last good check.
    pub uses: f64,
    /// Screws between checks.
    pub uses_most: f64,
}

/// A use of a tool in a job.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct ToolUse<'a> {
    /// Identity of the job.
    pub job: &'a str,
    /// The use.
    pub used: &'a Use,
}

/// A job whose customer is to be called, because a check found the tool out of its limits.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct ToCall<'a> {
    /// Code of the tool.
    pub tool: &'a str,
    /// Place in the journal of the check that found it out.
    pub found_seq: u64,
    /// When that was, microseconds since 1970.
    pub found_us: i64,
    /// The use.
    pub used: ToolUse<'a>,
}

impl<'a> Register<'a> {
    /// The register of a site up to a place in the journal.
    pub fn of(facts: &'a SiteFacts, workshop: &'a Workshop, up_to: u64) -> Self {
        Self { facts, settings: &workshop.tool_check, zone: &workshop.time_zone, up_to }
    }

    /// The tool of a kind with a code.
    pub fn tool(self, kind: ToolKind, code: &str) -> Option<Tool<'a>> {
        let of = |tool: &ToolChecked| tool.kind == Some(kind) && same_code(&tool.tool, code);
        let events: Vec<_> =
            self.facts.each::<ToolChecked>(self.up_to).filter(|(_, tool)| of(tool)).collect();
        let code = events.last().map(|(_, tool)| tool.tool.as_str())?;
        Some(Tool { register: self, code, events })
    }

    /// All tools of a kind, in the order in which they were stated first.
    pub fn tools(self, kind: ToolKind) -> Vec<Tool<'a>> {
        let mut codes: Vec<&str> = Vec::new();
        for (_, tool) in
            self.facts.each::<ToolChecked>(self.up_to).filter(|(_, tool)| tool.kind == Some(kind))
        {
            if !codes.iter().any(|known| same_code(known, &tool.tool)) {
                codes.push(&tool.tool);
            }
        }
        codes.into_iter().filter_map(|code| self.tool(kind, code)).collect()
    }

    /// Whether any torque tool is known.
    pub fn knows_torque_tools(self) -> bool {
        self.facts.each::<ToolChecked>(self.up_to).any(|(_, tool)| tool.kind == Some(ToolKind::TorqueTool))
    }

    /// The day at the site.
    pub fn day(self, us: i64) -> Option<Date> {
        day_at(self.zone, us)
    }
}

impl<'a> Tool<'a> {
    /// What happened to it, in the order of the journal.
    pub fn events(&self) -> &[(&'a SiteStated, &'a ToolChecked)] {
        &self.events
    }

    /// Lowest and highest marked torque, as they were stated last.
    pub fn range(&self) -> Option<(f64, f64)> {
        self.events
            .iter()
            .rev()
            .find_map(|(_, tool)| tool.least_newton_metres.zip(tool.greatest_newton_metres))
    }

    /// Largest deviation, in percent, as it was stated last up to a place in the journal.
    pub fn limit_percent(&self, up_to: u64) -> Option<f64> {
        self.events
            .iter()
            .rev()
            .filter(|(stated, _)| stated.seq <= up_to)
            .find_map(|(_, tool)| tool.limit_percent)
    }

    /// The limit that a check is judged by, with whether it was stated: a torque tool without one is judged by that of
    /// the standard, a display by none, since what it errs by is corrected.
    pub fn judged_by(&self, up_to: u64) -> Option<(f64, bool)> {
        let taken = self.events.iter().all(|(_, tool)| tool.kind == Some(ToolKind::TorqueTool));
        let stated = self.limit_percent(up_to).map(|limit| (limit, true));
        stated.or_else(|| taken.then_some((LIMIT_TAKEN_PERCENT, false)))
    }

    /// Whether a check found the tool inside its limit.
    pub fn is_good(&self, stated: &SiteStated, checked: &ToolChecked) -> bool {
        let Some((limit, _)) = self.judged_by(stated.seq) else { return true };
        deviations(checked).into_iter().all(|deviation| is_inside(deviation, limit))
    }

    /// The last good check up to a place in the journal.
    pub fn last_good(&self, up_to: u64) -> Option<(&'a SiteStated, &'a ToolChecked)> {
        let checks = self.checks().filter(|(stated, _)| stated.seq <= up_to);
        checks.filter(|(stated, checked)| self.is_good(stated, checked)).last()
    }

    /// The last check, whatever it found.
    pub fn last_check(&self) -> Option<(&'a SiteStated, &'a ToolChecked)> {
        self.checks().last()
    }

    fn checks(&self) -> impl Iterator<Item = (&'a SiteStated, &'a ToolChecked)> + '_ {
        self.events.iter().copied().filter(|(_, tool)| tool.event == Some(ToolEvent::Checked))
    }

    /// Last day by the last good check up to a place in the journal.
    pub fn due_on(&self, up_to: u64) -> Option<Date> {
        self.last_good(up_to).and_then(|(stated, checked)| self.due_by(stated, checked))
    }

    /// Last day by one check: as it says itself, else after the months between checks.
    pub fn due_by(&self, stated: &SiteStated, checked: &ToolChecked) -> Option<Date> {
        let stated_day = checked.next_due_on.parse().ok();
        let months = match checked.kind {
            Some(ToolKind::LitreDisplay) => self.register.settings.display_months,
            _ => self.register.settings.months,
        };
        stated_day.or_else(|| self.register.day(stated.time_us).map(|day| due_on(day, months)))
    }

    /// Screws tightened with it since its last good check, up to a place in the journal and without it.
    pub fn uses_since_good(&self, before: u64) -> f64 {
        let since = self.last_good(before).map_or(0, |(stated, _)| stated.seq);
        let uses = self.uses().filter(|it| it.used.seq > since && it.used.seq < before);
        uses.map(|it| it.used.amount).sum()
    }

    /// All its uses that are known, in the order of the journal.
    pub fn uses(&self) -> impl Iterator<Item = ToolUse<'a>> {
        uses_of(self.register.facts, self.code, self.register.up_to).into_iter()
    }

    /// Everything against it as it stands at a place in the journal, on a day.
    pub fn against(&self, at: u64, day: Date) -> Vec<Against> {
        let good = self.last_good(at).map_or(0, |(stated, _)| stated.seq);
        let since: Vec<_> =
            self.events.iter().filter(|(stated, _)| stated.seq > good && stated.seq <= at).collect();
        let happened = |event: ToolEvent| since.iter().any(|(_, tool)| tool.event == Some(event));
        if happened(ToolEvent::TakenOut) {
            return vec![Against::TakenOut];
        }
        if happened(ToolEvent::Checked) {
            return vec![self.out_of_limits(at)];
        }
        let figures = Figures {
            due_on: self.due_on(at),
            uses: self.uses_since_good(at),
            uses_most: self.register.settings.uses,
        };
        let standing = Standing {
            due_on: figures.due_on,
            day,
            uses: figures.uses,
            uses_most: figures.uses_most,
            overloaded: happened(ToolEvent::Overloaded),
        };
        unusable(&standing).into_iter().map(|why| Against::Unusable(why, figures.clone())).collect()
    }

    fn out_of_limits(&self, at: u64) -> Against {
        let is_stated = self.judged_by(at).is_some_and(|(_, is_stated)| is_stated);
        if is_stated { Against::OutOfLimits } else { Against::OutOfLimitTaken }
    }

    /// Everything against one use of it, by its place in the journal and its day. The next check after it decides,
    /// where there is one; what was known to be out of its limits or out of use then is not made good by it, since it
    /// may have been put right in between.
    pub fn against_use(&self, at: u64, day: Date) -> Vec<Against> {
        let next = self.checks().find(|(stated, _)| stated.seq > at);
        match next {
            Some((stated, checked)) if self.is_good(stated, checked) => {
                let mut against = self.against(at, day);
                against.retain(|against| !matches!(against, Against::Unusable(..)));
                against
            }
            Some((stated, _)) => vec![self.out_of_limits(stated.seq)],
            None => self.against(at, day),
        }
    }
}

impl Against {
    /// In words.
    pub fn sentence(&self, tool: &str) -> Sentence {
        match self {
            Self::TakenOut => sentence::tool_taken_out(tool),
            Self::OutOfLimits => sentence::tool_out_of_limits(tool),
            Self::OutOfLimitTaken => {
                let limit = number::with_unit(&number::fixed(LIMIT_TAKEN_PERCENT, 0), "%");
                sentence::tool_out_of_limit_taken(limit, tool)
            }
            Self::Unusable(Unusable::NeverChecked, _) => sentence::tool_never_checked(tool),
            Self::Unusable(Unusable::Overloaded, _) => sentence::tool_overloaded(tool),
            Self::Unusable(Unusable::Old, figures) => {
                sentence::tool_check_old(figures.due_on.map(in_words).unwrap_or_default(), tool)
            }
            Self::Unusable(Unusable::Worn, figures) => {
                sentence::tool_worn(number::fixed(figures.uses_most, 0), tool, number::fixed(figures.uses, 0))
            }
        }
    }
}

/// Relative deviations of a check, in percent: of torques, or of the litres that a display showed.
pub(crate) fn deviations(checked: &ToolChecked) -> Vec<f64> {
    let torques = checked.torques.iter();
    torques
        .map(|torque| deviation_percent(torque.shown_newton_metres, torque.reference_newton_metres))
        .chain(super::display::deviation(checked))
        .collect()
}

/// The worst deviation of a check, in percent.
pub(crate) fn worst(checked: &ToolChecked) -> Option<f64> {
    deviations(checked).into_iter().max_by(|one, other| one.abs().total_cmp(&other.abs()))
}

fn uses_of<'a>(facts: &'a SiteFacts, code: &str, up_to: u64) -> Vec<ToolUse<'a>> {
    let uses = facts.uses(UseOf::Tool, up_to).filter(|(_, used)| same_code(&used.code, code));
    let mut uses: Vec<ToolUse<'a>> = uses.map(|(job, used)| ToolUse { job, used }).collect();
    uses.sort_by_key(|it| it.used.seq);
    uses
}

/// Every use of a tool since its last good check: what is in doubt when the next one is bad.
pub(crate) fn uses_since_good_check<'a>(tool: &Tool<'a>) -> Vec<ToolUse<'a>> {
    let since = tool.last_good(u64::MAX).map_or(0, |(stated, _)| stated.seq);
    tool.uses().filter(|it| it.used.seq > since).collect()
}

/// Every use of a torque tool that a check found out of its limits: from its last good check before to its next good
/// one. Who was called or looked at since is not known here.
pub(crate) fn jobs_to_call<'a>(register: Register<'a>) -> Vec<ToCall<'a>> {
    let mut calls = Vec::new();
    for tool in register.tools(ToolKind::TorqueTool) {
        for it in tool.uses() {
            let next = tool.checks().find(|(stated, _)| stated.seq > it.used.seq);
            let before = tool.checks().filter(|(stated, _)| stated.seq < it.used.seq).last();
            let bad = |check: &(&SiteStated, &ToolChecked)| !tool.is_good(check.0, check.1);
            if let Some((found, _)) = next.filter(bad).or(before.filter(bad)) {
                calls.push(ToCall {
                    tool: tool.code,
                    found_seq: found.seq,
                    found_us: found.time_us,
                    used: it,
                });
            }
        }
    }
    calls.sort_by_key(|call| (call.found_seq, call.used.used.seq));
    calls
}

/// The day at a time zone.
pub(crate) fn day_at(zone: &TimeZone, us: i64) -> Option<Date> {
    Timestamp::from_microsecond(us).ok().map(|time| time.to_zoned_datetime(zone.clone()).date())
}

/// A day as people read it, for example 18 March 2026.
pub(crate) fn in_words(day: Date) -> String {
    day.strftime("%-d %B %Y").to_string()
}
