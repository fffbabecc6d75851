//! Bounds of what a server's settings may say.

/// Days that a token is good, at most; one is the least.
pub const TOKEN_DAYS_MAX: u32 = 3_650;
/// Further names and addresses in the server's certificate.
pub const CERTIFICATE_NAMES_MAX: usize = 20;
/// Characters of such a name (RFC 1035, 2.3.4).
pub const CERTIFICATE_NAME_CHARACTERS_MAX: usize = 253;
/// Months that an owner asks for at once, at most.
pub const OWNER_MONTHS_MAX: u16 = 120;
/// Rows of jobs that an owner's sheets read for what they name, at most; sums count all.
pub const OWNER_ROWS_MAX: usize = 50_000;
