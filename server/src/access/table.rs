//! The one table of who may call what: a row for each method, or the build fails. Called by the layer that holds every call
//! against it. Never here: who calls.

use super::Role;
use standpipe_proto::METHODS;

/// Who may call a method.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Rule {
    /// Anybody, without a token.
    Anybody,
    /// A station with one of these roles.
    Stations(&'static [Role]),
}

/// Who works on the jobs of the site.
const WORKSHOP: Rule = Rule::Stations(&[Role::Bay, Role::Office, Role::Admin]);
/// Who reads them.
const READERS: Rule = Rule::Stations(&[Role::Bay, Role::Office, Role::Admin, Role::Owner]);
const OFFICE: Rule = Rule::Stations(&[Role::Office, Role::Admin]);
const OFFICE_AND_OWNER: Rule = Rule::Stations(&[Role::Office, Role::Admin, Role::Owner]);
const FORWARDERS: Rule = Rule::Stations(&[Role::Forwarder]);
const EVERY_STATION: Rule = Rule::Stations(&Role::ALL);

/// The table.
pub const TABLE: &[(&str, Rule)] = &[
    ("/standpipe.v1.JournalService/Append", WORKSHOP),
    ("/standpipe.v1.JournalService/AppendStream", WORKSHOP),
    ("/standpipe.v1.JournalService/Read", READERS),
    ("/standpipe.v1.JobService/List", READERS),
    ("/standpipe.v1.JobService/Get", READERS),
    ("/standpipe.v1.JobService/May", READERS),
    ("/standpipe.v1.JobService/Next", READERS),
    ("/standpipe.v1.JobService/Plan", READERS),
    ("/standpipe.v1.JobService/Watch", READERS),
    ("/standpipe.v1.RecordService/Render", READERS),
    ("/standpipe.v1.RecordService/Issue", WORKSHOP),
    ("/standpipe.v1.RecordService/BaySheet", READERS),
    ("/standpipe.v1.RecordService/PhotoSheet", READERS),
    ("/standpipe.v1.BlobService/PutBlob", WORKSHOP),
    ("/standpipe.v1.BlobService/GetBlob", READERS),
    ("/standpipe.v1.CustomerService/PutCustomer", OFFICE),
    ("/standpipe.v1.CustomerService/GetCustomer", OFFICE),
    ("/standpipe.v1.CustomerService/EraseCustomer", OFFICE),
    ("/standpipe.v1.StationService/Describe", EVERY_STATION),
    ("/standpipe.v1.StationService/ListStations", OFFICE_AND_OWNER),
    ("/standpipe.v1.StationService/ListPersons", READERS),
    // Who has no token yet shows a code instead.
    ("/standpipe.v1.StationService/Join", Rule::Anybody),
    ("/standpipe.v1.StationService/RenewToken", EVERY_STATION),
    ("/standpipe.v1.StationService/Sign", WORKSHOP),
    ("/standpipe.v1.CatalogueService/ListVariants", READERS),
    ("/standpipe.v1.CatalogueService/GetRevision", READERS),
    ("/standpipe.v1.TallyService/GetTally", READERS),
    ("/standpipe.v1.TallyService/PrintTally", OFFICE_AND_OWNER),
    ("/standpipe.v1.TallyService/ListTallyJobs", OFFICE_AND_OWNER),
    ("/standpipe.v1.TallyService/FindCode", READERS),
    // Who brings a journal may do so for the one site that it was enrolled for, which the handlers look at.
    ("/standpipe.v1.ForwardingService/CompareJournal", FORWARDERS),
    ("/standpipe.v1.ForwardingService/ForwardEntries", FORWARDERS),
    ("/standpipe.v1.ForwardingService/ReturnEntries", FORWARDERS),
    ("/standpipe.v1.ForwardingService/ListSharedRevisions", FORWARDERS),
    ("/standpipe.v1.ForwardingService/GetSharedRevision", FORWARDERS),
    ("/standpipe.v1.ForwardingService/PutSharedRevision", FORWARDERS),
    ("/grpc.health.v1.Health/Check", Rule::Anybody),
    ("/grpc.health.v1.Health/Watch", Rule::Anybody),
    ("/grpc.reflection.v1.ServerReflection/ServerReflectionInfo", EVERY_STATION),
    ("/grpc.reflection.v1alpha.ServerReflection/ServerReflectionInfo", EVERY_STATION),
];

const _: () =
    assert!(every_method_has_one_row(), "a method of standpipe.v1 has no row, or two, in access::TABLE");

const fn every_method_has_one_row() -> bool {
    let mut rest = METHODS;
    while let [method, others @ ..] = rest {
        if rows_of(method) != 1 {
            return false;
        }
        rest = others;
    }
    true
}

const fn rows_of(method: &str) -> usize {
    let mut rows = 0;
    let mut rest = TABLE;
    while let [(path, _), others @ ..] = rest {
        if same(path.as_bytes(), method.as_bytes()) {
            rows += 1;
        }
        rest = others;
    }
    rows
}

const fn same(mut one: &[u8], mut other: &[u8]) -> bool {
    while let ([a, rest @ ..], [b, others @ ..]) = (one, other) {
        if *a != *b {
            return false;
        }
        one = rest;
        other = others;
    }
    one.is_empty() && other.is_empty()
}

/// The rule of a method by its path; nothing means that nobody may.
#[must_use]
pub fn rule(path: &str) -> Option<Rule> {
    TABLE.iter().find(|(method, _)| *method == path).map(|(_, rule)| *rule)
}
