//! A server as somebody runs it: under a service manager, looked at by `doctor`, its figures read, its files for
//! deployment checked.

mod deploy;
mod doctor;
mod figures;
mod lifecycle;
