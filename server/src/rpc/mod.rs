//! The handlers of the services, one file each. They ask [`crate::workshop`], translate by [`crate::convert`] and
//! refuse by [`crate::status`]; who may call them is decided before, by [`crate::access`].

pub(crate) mod blob;
pub(crate) mod catalogue;
pub(crate) mod customer;
pub(crate) mod forwarding;
pub(crate) mod job;
pub(crate) mod journal;
pub(crate) mod record;
pub(crate) mod station;
pub(crate) mod tally;
mod telling;
mod watch;

use crate::status::Cause;
use standpipe_proto::check::violations;
use standpipe_proto::visit::Visit;

/// Holds a request against the table of bounds.
fn inside_bounds<M: Visit>(request: &M) -> Result<(), Cause> {
    let found = violations(request);
    if found.is_empty() { Ok(()) } else { Err(Cause::OutsideBounds(found)) }
}
