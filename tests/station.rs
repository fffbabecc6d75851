//! What a person does at a station, by the command line alone: the programs as they are shipped, a served site,
//! real folders. Nothing is called that a user could not call.

mod answers;
mod help;
mod identity;
mod level_and_due;
mod offline;
mod refusals;
mod together;
mod units;
mod whole_path;

/// What settles the variant, but for the VIN in the papers.
pub(crate) const SETTLED: [&str; 2] = [
    "add vin-reading --last-eight LA042317 --source body-plate",
    "add variant-settled --variant-code A8-II --means catalogue-rule --transmission-plate-agrees yes",
];

/// What a bay looks at before it connects anything, in the order of the work.
pub(crate) const LOOKED_AT: [&str; 5] = [
    "add fault-codes --moment before --state none",
    "add road-test --moment before --ticks harsh --gear 2 --warmth warm",
    "add caution-read --group lifted",
    "add condition-confirmed --conditions lift-locked",
    "add fluid-sample --moment before --place cooler-line --colour brown --clouding hazy --smell burnt --specks none",
];

/// The right fluid and filter.
pub(crate) const COMPARED: [&str; 2] = [
    "add part-checked --part fluid-container --code LN-847 --lot L-2209 --read-by eye",
    "add part-checked --part filter --code F8-20",
];

/// The last facts before the first litre.
pub(crate) const HOOKED_UP: [&str; 3] = [
    "add caution-read --group line-opening",
    "add hookup --place cooler-line --adapter AD-2 --direction-tested yes",
    "add caution-read --group engine-running",
];
