//! Every table beside the journal with its columns, in an order in which whatever is named by another comes first. Both
//! databases have the same; a new table or column belongs here as well, and a test holds that.

/// Rows read or put at once.
pub(crate) const PAGE_ROWS: usize = 500;

/// A table.
#[derive(Debug)]
pub(crate) struct Table {
    pub name: &'static str,
    /// Columns by which its rows are ordered, each row by its own values; none is ever null.
    pub key: &'static str,
    pub columns: &'static [(&'static str, Kind)],
}

/// What a column holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Kind {
    Int,
    Text,
    Bytes,
}

/// One value of a row.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum Cell {
    Int(Option<i64>),
    Text(Option<String>),
    Bytes(Option<Vec<u8>>),
}

use Kind::{Bytes, Int, Text};

/// The tables.
pub(crate) static TABLES: [Table; 16] = [
    Table {
        name: "station",
        key: "id",
        columns: &[("id", Text), ("name", Text), ("role", Text), ("created_us", Int), ("revoked_us", Int)],
    },
    Table {
        name: "token",
        key: "token_sha256",
        columns: &[
            ("token_sha256", Bytes),
            ("station_id", Text),
            ("created_us", Int),
            ("ends_us", Int),
            ("replaces_sha256", Bytes),
        ],
    },
    Table {
        name: "join_code",
        key: "code_sha256",
        columns: &[
            ("code_sha256", Bytes),
            ("tag", Text),
            ("station_id", Text),
            ("created_us", Int),
            ("ends_us", Int),
            ("tries", Int),
            ("used_token_sha256", Bytes),
        ],
    },
    Table { name: "station_kinds", key: "station_id", columns: &[("station_id", Text), ("kinds", Text)] },
    Table {
        name: "person",
        key: "code",
        columns: &[("code", Text), ("name", Text), ("listed_us", Int), ("erased_us", Int)],
    },
    Table { name: "person_pin", key: "code", columns: &[("code", Text), ("phc", Text), ("set_us", Int)] },
    Table {
        name: "customer",
        key: "job_id",
        columns: &[
            ("job_id", Bytes),
            ("name", Text),
            ("telephone", Text),
            ("updated_us", Int),
            ("erased_us", Int),
            ("name_key", Text),
            ("telephone_key", Text),
        ],
    },
    Table {
        name: "job_summary",
        key: "year, ordinal",
        columns: &[
            ("year", Int),
            ("ordinal", Int),
            ("job_id", Bytes),
            ("plate", Text),
            ("vin", Text),
            ("title", Text),
            ("closed", Int),
            ("state", Text),
            ("seq", Int),
            ("updated_us", Int),
            ("number_key", Text),
            ("plate_key", Text),
            ("vin_key", Text),
            ("title_key", Text),
            ("rank", Int),
            ("account", Text),
        ],
    },
    Table { name: "setting", key: "key", columns: &[("key", Text), ("value", Text)] },
    Table {
        name: "audit",
        key: "line",
        columns: &[
            ("line", Int),
            ("at_us", Int),
            ("until_us", Int),
            ("times", Int),
            ("what", Text),
            ("allowed", Int),
            ("station", Text),
            ("person", Text),
            ("address", Text),
            ("about", Text),
        ],
    },
    Table {
        name: "photo_extract",
        key: "digest, edition",
        columns: &[("digest", Text), ("edition", Text), ("extract", Text)],
    },
    Table { name: "station_site", key: "station_id", columns: &[("station_id", Text), ("of_site", Text)] },
    Table {
        name: "fork",
        key: "of_site, first_us, claimed_epoch, claimed_size, claimed_root",
        columns: &[
            ("of_site", Text),
            ("first_us", Int),
            ("last_us", Int),
            ("station", Text),
            ("here_size", Int),
            ("here_root", Bytes),
            ("claimed_epoch", Bytes),
            ("claimed_size", Int),
            ("claimed_root", Bytes),
            ("settled_us", Int),
        ],
    },
    Table {
        name: "tally_row",
        key: "edition, of_site, job",
        columns: &[
            ("edition", Text),
            ("of_site", Text),
            ("job", Bytes),
            ("seq", Int),
            ("month", Text),
            ("variant", Text),
            ("equipment", Text),
            ("vehicle", Text),
            ("opened_us", Int),
            ("counts", Int),
            ("stands_out", Int),
            ("counters", Text),
            ("day", Int),
            ("back", Int),
            ("whole", Text),
        ],
    },
    Table {
        name: "tally_month",
        key: "edition, by_what, month, of_site",
        columns: &[("edition", Text), ("by_what", Int), ("month", Text), ("of_site", Text), ("held", Bytes)],
    },
    Table {
        name: "tally_reached",
        key: "edition, of_site",
        columns: &[("edition", Text), ("of_site", Text), ("epoch", Bytes), ("seq", Int)],
    },
];

/// Tables that hold the journal itself, which is carried entry by entry.
#[cfg(test)]
pub(crate) const OF_THE_JOURNAL: [&str; 4] = ["site", "job", "station_stream", "entry"];

impl Table {
    /// Names of its columns with commas between them.
    pub(crate) fn names(&self) -> String {
        self.columns.iter().map(|(name, _)| *name).collect::<Vec<_>>().join(", ")
    }

    /// Names of the columns of its key.
    pub(crate) fn keys(&self) -> impl Iterator<Item = &'static str> {
        self.key.split(", ")
    }

    /// The key of a row.
    pub(crate) fn key_of(&self, row: &[Cell]) -> Vec<Cell> {
        let cell = |key| self.columns.iter().zip(row).find(|((name, _), _)| *name == key);
        self.keys().filter_map(cell).map(|(_, cell)| cell.clone()).collect()
    }
}
