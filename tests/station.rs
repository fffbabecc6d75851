//! What a person does at a station, by the command line alone: the programs as they are shipped, a served site,
//! real folders. Nothing is called that a user could not call.

mod answers;
mod help;
mod offline;
mod refusals;
mod together;
mod units;
mod whole_path;
