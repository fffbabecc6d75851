//! The rule that decides what all lines together say.

use std::collections::BTreeSet;

use super::evidence::{Drive, Kind, Limits, Line, Observation, Smell, SpeaksFor, line};

/// The rule that decided, in the order in which they are asked.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Rule {
    /// 1: something asks for looking inside before exchanging.
    LookInside,
    /// 2: this speaks for changing the fluid.
    Change,
    /// 3: too little was seen to say.
    TooLittle,
    /// 4: no reason was seen to change it now.
    NoReason,
}

impl Rule {
    /// Number of the rule, 1 to 4, as the record prints it.
    #[must_use]
    pub const fn number(self) -> u8 {
        match self {
            Self::LookInside => 1,
            Self::Change => 2,
            Self::TooLittle => 3,
            Self::NoReason => 4,
        }
    }
}

/// All lines and the rule that decided.
#[derive(Clone, Debug, PartialEq)]
pub struct Finding {
    /// One line an observation, in the order given.
    pub lines: Vec<Line>,
    /// The rule that decided.
    pub rule: Rule,
    /// Places in `lines` of those that made the rule apply; empty for rules 3 and 4.
    pub because: Vec<usize>,
}

/// Observations of unlike kinds that are needed before their silence means anything.
const KINDS_LEAST: usize = 3;

/// What the observations say together.
///
/// 1. Any line for looking inside first (flakes or chips, pieces of lining, milky fluid), or slip or a bang in the
///    drive together with a burnt smell; 2. else lines of two kinds or more for changing, or one of: burnt smell,
///    water, distance beyond its limit; 3. else fewer than three observations of unlike kinds that could be judged;
///    4. else no reason was seen.
///
/// * `observations` – what was seen at one time, before or after; several of one kind count once
/// * `limits` – of the workshop group
///
/// # Source
/// Own proposal of this house; there is no standard for it.
///
/// # Example
/// ```
/// use standpipe_engine::formula::condition::{Limits, Observation, Rule, Smell, judge};
/// let burnt = judge(&[Observation::Smell(Smell::Burnt)], &Limits::default());
/// assert_eq!((burnt.rule, burnt.rule.number()), (Rule::Change, 2));
/// ```
#[must_use]
pub fn judge(observations: &[Observation], limits: &Limits) -> Finding {
    let lines: Vec<Line> = observations.iter().map(|seen| line(*seen, limits)).collect();
    let places = |wanted: &dyn Fn(&Line) -> bool| -> Vec<usize> {
        lines.iter().enumerate().filter(|(_, line)| wanted(line)).map(|(place, _)| place).collect()
    };
    let inside = places(&|line| line.speaks_for == SpeaksFor::LookingInside);
    let burnt = places(&|line| line.observation == Observation::Smell(Smell::Burnt));
    let slips = places(&|line| line.observation == Observation::Drive(Drive::SlipOrBang));
    let changing = places(&|line| line.speaks_for == SpeaksFor::Changing);
    let alone = places(&decides_alone);
    let (rule, because) = if !inside.is_empty() {
        (Rule::LookInside, inside)
    } else if !burnt.is_empty() && !slips.is_empty() {
        let mut both = [burnt, slips].concat();
        both.sort_unstable();
        (Rule::LookInside, both)
    } else if !alone.is_empty() || kinds(&lines, SpeaksFor::Changing).len() >= 2 {
        (Rule::Change, changing)
    } else if judged_kinds(&lines).len() < KINDS_LEAST {
        (Rule::TooLittle, Vec::new())
    } else {
        (Rule::NoReason, Vec::new())
    };
    Finding { lines, rule, because }
}

/// Whether one line is enough for changing.
fn decides_alone(line: &Line) -> bool {
    line.speaks_for == SpeaksFor::Changing
        && match line.observation {
            Observation::Smell(smell) => smell == Smell::Burnt,
            Observation::Crackle(_) | Observation::Water(_) | Observation::Distance(_) => true,
            _ => false,
        }
}

fn kinds(lines: &[Line], speaks_for: SpeaksFor) -> BTreeSet<Kind> {
    lines.iter().filter(|line| line.speaks_for == speaks_for).map(|line| line.observation.kind()).collect()
}

fn judged_kinds(lines: &[Line]) -> BTreeSet<Kind> {
    lines.iter().filter(|line| line.reason.judged()).map(|line| line.observation.kind()).collect()
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::super::evidence::{Bubbles, Clouding, Colour, Debris, Gap, Limit};
    use super::*;
    use crate::formula::condition::Reason;
    use crate::formula::laboratory::{acid_rise, viscosity_change};
    use crate::formula::particles::{Code, Counted};
    use crate::quantity::Estimate;

    fn stated<T>(value: T) -> Option<Limit<T>> {
        Some(Limit { value, source: "invented for this test".to_owned() })
    }

    fn rule(observations: &[Observation], limits: &Limits) -> Rule {
        judge(observations, limits).rule
    }

    const CALM: [Observation; 4] = [
        Observation::Smell(Smell::AsFresh),
        Observation::Clouding(Clouding::Clear),
        Observation::Debris(Debris::FineGreyPaste),
        Observation::Colour(Colour::Darker),
    ];

    #[test]
    fn each_rule_in_its_order() {
        let none = Limits::default();
        assert_eq!(rule(&[], &none), Rule::TooLittle);
        assert_eq!(rule(&CALM, &none), Rule::NoReason);
        assert_eq!(rule(&CALM[..2], &none), Rule::TooLittle);
        for alone in [
            Observation::Debris(Debris::FlakesOrChips),
            Observation::Debris(Debris::LiningPieces),
            Observation::Clouding(Clouding::Milky),
        ] {
            assert_eq!(
                rule(&[alone, Observation::Smell(Smell::Burnt)], &none),
                Rule::LookInside,
                "{alone:?}"
            );
        }
        let slips = Observation::Drive(Drive::SlipOrBang);
        assert_eq!(rule(&[slips], &none), Rule::TooLittle);
        let both = judge(&[slips, CALM[1], Observation::Smell(Smell::Burnt)], &none);
        assert_eq!((both.rule, both.because), (Rule::LookInside, vec![0, 2]));
        assert_eq!(rule(&[Observation::Crackle(Bubbles::Fine)], &none), Rule::Change);
        let hazy = Observation::Clouding(Clouding::Hazy);
        assert_eq!(rule(&[hazy], &none), Rule::TooLittle);
        let two = judge(&[hazy, Observation::Colour(Colour::Brown)], &none);
        assert_eq!((two.rule, two.because), (Rule::Change, vec![0, 1]));
    }

    #[test]
    fn two_lines_of_one_kind_count_once() {
        let none = Limits::default();
        let black = Observation::Colour(Colour::Black);
        assert_eq!(rule(&[black, black, black], &none), Rule::TooLittle);
        let limits = Limits { colour_difference: stated(5.0), ..none };
        let photo = Observation::ColourDifference { difference: 20.0, same_light: true };
        assert_eq!(rule(&[black, photo], &limits), Rule::TooLittle);
    }

    #[test]
    fn a_number_without_a_stated_limit_says_nothing() {
        let acid = acid_rise(Estimate::known(3.0, 0.1), Estimate::known(0.5, 0.1)).unwrap();
        let code = Code::new(Counted::Automatically, [Some(9e5), Some(9e4), Some(9e3)]).unwrap();
        let numbers = [
            Observation::Acid(acid),
            Observation::Particles(code),
            Observation::Distance(400_000.0),
            Observation::ColourDifference { difference: 40.0, same_light: true },
        ];
        let found = judge(&numbers, &Limits::default());
        assert_eq!(found.rule, Rule::TooLittle);
        assert!(found.lines.iter().all(|line| line.reason == Reason::NoLimitStated));
    }

    #[test]
    fn a_figure_that_cannot_be_compared_says_nothing_and_does_not_count() {
        let gap = Observation::Gap { kind: Kind::Acid, gap: Gap::NoFreshFluid };
        let found = judge(&[CALM[0], CALM[1], gap], &Limits { acid_rise: stated(1.0), ..Limits::default() });
        assert_eq!(found.rule, Rule::TooLittle);
        assert_eq!(found.lines[2].reason, Reason::Gap(Gap::NoFreshFluid));
    }

    #[test]
    fn a_figure_near_its_limit_does_not_decide() {
        let limits = Limits { viscosity_change: stated(0.1), acid_rise: stated(1.0), ..Limits::default() };
        let seen = |used: f64, u: f64| {
            let change = viscosity_change(Estimate::known(used, u), Estimate::known(30.0, u)).unwrap();
            line(Observation::Viscosity(change), &limits)
        };
        assert_eq!(seen(26.0, 0.1).reason, Reason::BeyondLimit, "thinner");
        assert_eq!(seen(34.0, 0.1).reason, Reason::BeyondLimit, "thicker");
        assert_eq!(seen(27.1, 0.5).reason, Reason::TooNearTheLimit);
        assert_eq!(seen(29.9, 0.1).speaks_for, SpeaksFor::Leaving);
    }

    #[test]
    fn photographs_under_unlike_light_and_bad_numbers_say_nothing() {
        let limits =
            Limits { colour_difference: stated(5.0), distance: stated(50_000.0), ..Limits::default() };
        let reason = |seen| line(seen, &limits).reason;
        let unlike = Observation::ColourDifference { difference: 20.0, same_light: false };
        assert_eq!(reason(unlike), Reason::UnlikeLight);
        assert_eq!(reason(Observation::Distance(f64::NAN)), Reason::NoNumber);
        assert_eq!(reason(Observation::Distance(-5.0)), Reason::NoNumber);
        assert_eq!(rule(&[Observation::Distance(60_000.0)], &limits), Rule::Change);
        let broken = Limits { distance: stated(f64::NAN), ..Limits::default() };
        assert_eq!(line(Observation::Distance(1.0), &broken).reason, Reason::NoLimitStated);
    }

    #[test]
    fn a_limit_for_a_size_that_was_not_counted_does_not_apply() {
        let seen = Code::new(Counted::UnderTheMicroscope, [None, Some(640.0), Some(80.0)]).unwrap();
        let with = |value| Limits { particles: stated(value), ..Limits::default() };
        let reason = |limits: &Limits| line(Observation::Particles(seen), limits).reason;
        assert_eq!(reason(&with([Some(19), Some(16), Some(13)])), Reason::CountedOtherwise);
        assert_eq!(reason(&with([None, Some(16), Some(13)])), Reason::BelowLimit);
        assert_eq!(reason(&with([None, Some(15), None])), Reason::BeyondLimit);
        assert_eq!(reason(&with([None, None, None])), Reason::NoLimitStated);
    }

    fn observation() -> impl Strategy<Value = Observation> {
        prop_oneof![
            prop_oneof![Just(Smell::AsFresh), Just(Smell::SlightlySharp), Just(Smell::Burnt)]
                .prop_map(Observation::Smell),
            prop_oneof![Just(Clouding::Clear), Just(Clouding::Hazy), Just(Clouding::Milky)]
                .prop_map(Observation::Clouding),
            prop_oneof![Just(Debris::None), Just(Debris::Glitter), Just(Debris::FlakesOrChips)]
                .prop_map(Observation::Debris),
            prop_oneof![Just(Drive::Normal), Just(Drive::SlipOrBang), Just(Drive::Other)]
                .prop_map(Observation::Drive),
            (0.0_f64..200_000.0).prop_map(Observation::Distance),
        ]
    }

    proptest! {
        #[test]
        fn the_order_of_observations_does_not_matter(
            seen in proptest::collection::vec(observation(), 0..9), turn in 0_usize..9,
        ) {
            let limits = Limits { distance: stated(50_000.0), ..Limits::default() };
            let mut turned = seen.clone();
            if !turned.is_empty() {
                turned.rotate_left(turn % seen.len());
            }
            prop_assert_eq!(rule(&seen, &limits), rule(&turned, &limits));
        }

        #[test]
        fn seeing_more_never_takes_a_reason_away(
            seen in proptest::collection::vec(observation(), 0..9), more in observation(),
        ) {
            let limits = Limits { distance: stated(50_000.0), ..Limits::default() };
            let (before, mut all) = (rule(&seen, &limits), seen);
            all.push(more);
            let after = rule(&all, &limits);
            prop_assert!(before > Rule::Change || after <= before);
        }
    }
}
