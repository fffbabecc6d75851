//! What the maker states of a variant's screws: order and stages of the pan's, and the other groups.
//!
//! Part of a transmission's file; what is not stated is left out, and then the workshop's own rule holds or the vehicle
//! maker's instructions are looked up. Never here: an order that is computed.

use super::reader::Fields;
use super::screw_stages::stages;
use super::workshop::Workshop;
use crate::formula::screw_order::{SCREWS_LEAST, ring_order};
use crate::kind::words::ScrewGroup;
use crate::quantity::NewtonMetres;

/// Most screws of a group, as in the entries.
const SCREWS_MAX: u32 = 60;
/// Most groups of one variant.
const GROUPS_MAX: usize = 2;

/// What is stated of the screws.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Screws {
    /// Places of the pan's screws in the maker's order; empty where none is stated.
    pub pan_order: Vec<u32>,
    /// The maker's stages in percent of the final torque; empty where none are stated.
    pub pan_stages: Vec<f64>,
    /// The other groups.
    pub groups: Vec<GroupOfScrews>,
}

/// A group of screws beside the pan's.
#[derive(Clone, Debug, PartialEq)]
pub struct GroupOfScrews {
    /// Which: the filter's or other ones.
    pub group: ScrewGroup,
    /// How many; absent where it is not stated.
    pub count: Option<u32>,
    /// Torque, in N·m; absent where it is not stated.
    pub torque_newton_metres: Option<f64>,
    /// Whether they are for one use.
    pub single_use: bool,
}

impl Screws {
    /// Places of the pan's screws in the order of tightening, the maker's or else our own; empty where there are too few
    /// to order or nobody counted them.
    #[must_use]
    pub fn order(&self, count: Option<u32>) -> Vec<u32> {
        let own = || count.filter(|count| *count >= SCREWS_LEAST).map_or_else(Vec::new, ring_order);
        if self.pan_order.is_empty() { own() } else { self.pan_order.clone() }
    }

    /// Stages in percent of the final torque, the maker's or else the workshop's.
    #[must_use]
    pub fn stages<'a>(&'a self, workshop: &'a Workshop) -> &'a [f64] {
        if self.pan_stages.is_empty() { &workshop.screw_stages.percents } else { &self.pan_stages }
    }

    /// The line of a group.
    #[must_use]
    pub fn group(&self, group: ScrewGroup) -> Option<&GroupOfScrews> {
        self.groups.iter().find(|line| line.group == group)
    }

    /// Whether screws of a group are for one use. The pan's always are, unless the maker is looked up and a named
    /// person decides (common practice, no source).
    #[must_use]
    pub fn single_use(&self, group: ScrewGroup) -> bool {
        group == ScrewGroup::Pan || self.group(group).is_some_and(|line| line.single_use)
    }
}

/// Reads what a variant states of its screws; what is wrong is noted in the document.
pub(super) fn read(fields: &mut Fields<'_>, pan_count: Option<u32>) -> Screws {
    let pan_order = order(fields, pan_count);
    let pan_stages = stages(fields, "pan_screw_stages");
    let tables = fields.tables("screw_group", GROUPS_MAX);
    let groups: Vec<GroupOfScrews> = tables.into_iter().filter_map(group).collect();
    let twice = |line: &GroupOfScrews| groups.iter().filter(|other| other.group == line.group).count() > 1;
    if groups.iter().any(twice) {
        fields.problem("screw_group", "names one group twice; make one table of them");
    }
    Screws { pan_order, pan_stages, groups }
}

fn order(fields: &mut Fields<'_>, pan_count: Option<u32>) -> Vec<u32> {
    const KEY: &str = "pan_screw_order";
    let places = fields.numbers(KEY, 60, (1.0, f64::from(SCREWS_MAX), ""));
    if places.is_empty() {
        return Vec::new();
    }
    let count = pan_count.or_else(|| u32::try_from(places.len()).ok()).unwrap_or_default();
    let all: Vec<u32> = (1..=count).collect();
    // Only whole numbers are equal to a place.
    let order: Vec<u32> = places
        .iter()
        .filter_map(|place| all.iter().copied().find(|whole| (f64::from(*whole) - place).abs() < 1e-9))
        .collect();
    let mut sorted = order.clone();
    sorted.sort_unstable();
    if sorted != all || places.len() != order.len() {
        fields
            .problem(KEY, format!("must name each of the {count} screws once, by its place round the ring"));
        return Vec::new();
    }
    order
}

fn group(mut fields: Fields<'_>) -> Option<GroupOfScrews> {
    let group = match fields.word("group", &["filter", "other"]) {
        Some("filter") => Some(ScrewGroup::Filter),
        Some(_) => Some(ScrewGroup::Other),
        None => None,
    };
    let count = fields.whole_optional("count", 1, SCREWS_MAX);
    let bounds = (0.5, NewtonMetres::GREATEST, NewtonMetres::UNIT);
    let torque_newton_metres = fields.number_optional("torque_newton_metres", bounds);
    let single_use = fields.is_set("single_use");
    fields.finish();
    Some(GroupOfScrews { group: group?, count, torque_newton_metres, single_use })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::catalogue::{CatalogueError, Revision};

    const WORKSHOP: &str = "name = \"Harbour Lane Transmissions\"\n";
    const ALDER: &str = include_str!("../../../../deploy/catalogue/alder-8.toml");

    fn with(workshop: &str, screws: &str) -> Result<Revision, CatalogueError> {
        // Without the groups of the demo's own catalogue, so that the ones asked about stand alone.
        let own = "[[variant.screw_group]]\ngroup = \"filter\"\ncount = 3\ntorque_newton_metres = 5.0\n\
                   single_use = false\n";
        let first = "[[variant.maker_interval_use]]";
        let alder = ALDER.replace(own, "").replacen(first, &format!("{screws}\n{first}"), 1);
        let files = [("workshop.toml", format!("{WORKSHOP}{workshop}")), ("alder-8.toml", alder)];
        Revision::parse(files.map(|(name, text)| (name.to_owned(), text.into_bytes())).to_vec())
    }

    #[test]
    fn the_maker_s_order_stages_and_groups_are_read() {
        let text = "pan_screw_order = [1, 7, 4, 10, 2, 8, 5, 11, 3, 9, 6, 12, 13]\npan_screw_stages = [50, 100]\n\
                    [[variant.screw_group]]\ngroup = \"filter\"\ncount = 3\ntorque_newton_metres = 5\n\
                    single_use = true\n";
        let revision = with("", text).unwrap();
        let screws = &revision.variant("A8-I").unwrap().screws;
        assert_eq!((screws.pan_order.len(), screws.pan_stages.as_slice()), (13, &[50.0, 100.0][..]));
        let filter = screws.group(ScrewGroup::Filter).unwrap();
        assert_eq!(
            (filter.count, filter.torque_newton_metres, filter.single_use),
            (Some(3), Some(5.0), true)
        );
        assert!(screws.single_use(ScrewGroup::Pan) && screws.single_use(ScrewGroup::Filter));
        assert!(!screws.single_use(ScrewGroup::Other));
        assert_eq!(revision.workshop().screw_stages.percents, [30.0, 60.0, 100.0]);
    }

    #[test]
    fn an_order_that_leaves_a_screw_out_and_stages_that_do_not_end_are_refused() {
        let twice =
            "[[variant.screw_group]]\ngroup = \"other\"\n[[variant.screw_group]]\ngroup = \"other\"\n";
        for (workshop, screws, wanted) in [
            ("", "pan_screw_order = [1, 3, 2]", "pan_screw_order must name each of the 13 screws once"),
            ("", "pan_screw_order = [1.5]", "pan_screw_order must name each of the 13 screws once"),
            ("", "pan_screw_stages = [50, 30, 100]", "pan_screw_stages must rise and end at 100"),
            ("", "pan_screw_stages = [30, 60]", "pan_screw_stages must rise and end at 100"),
            ("", "[[variant.screw_group]]\ngroup = \"pan\"\n", "group must be filter or other, found 'pan'"),
            ("", twice, "screw_group names one group twice"),
            ("[screw_stages]\nsource = \"house\"\n", "", "screw_stages.percents is missing"),
            (
                "[tool_check]\nmonths = 12\nuses = 5000\nsource = \"house\"\n",
                "",
                "display_months must be there",
            ),
        ] {
            let said = with(workshop, screws).unwrap_err().to_string();
            assert!(said.contains(wanted), "{wanted}: {said}");
        }
    }
}
