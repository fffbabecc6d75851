//! Whether a server runs, and whether it answers where it listens as a station would ask it.

use super::{Check, Patient};
use crate::admin::{self, Connection};
use crate::authority::look::Looked;
use crate::authority::names::reached_at;
use crate::order::{Done, Order};
use std::net::{IpAddr, Ipv4Addr, Ipv6Addr, SocketAddr};

pub(super) async fn checks(patient: &Patient<'_>, looked: Option<&Looked>) -> Vec<Check> {
    match admin::reach(patient.dir).await {
        Ok(Some(connection)) => of_running(connection, looked).await,
        Ok(None) => vec![not_running(patient)],
        Err(error) => vec![Check::to_do("server", error.to_string(), patient.command("serve"))],
    }
}

fn not_running(patient: &Patient<'_>) -> Check {
    // Only whether the lock is free is asked; it is let go at once.
    match patient.folder.clone().lock() {
        Ok(_) => Check::to_do("server", "none runs on this folder", patient.command("serve")),
        Err(error) => {
            let sentence = format!("one holds the folder, but takes no orders: {error}");
            Check::to_do("server", sentence, "look at its log, then stop and start it")
        }
    }
}

async fn of_running(connection: Connection, looked: Option<&Looked>) -> Vec<Check> {
    let again = "stop and start the server";
    let (version, address) = match connection.ask(&Order::Running).await {
        Ok(Done::Running { version, address: Some(address) }) => (version, address),
        Ok(_) => return vec![Check::to_do("server", "one runs and does not say where it listens", again)],
        Err(error) => return vec![Check::to_do("server", error.to_string(), again)],
    };
    let server = if version == crate::VERSION {
        Check::well("server", format!("version {version} runs"))
    } else {
        let sentence = format!("version {version} runs, but this program is {}", crate::VERSION);
        Check::to_do("server", sentence, again)
    };
    let Some(looked) = looked else { return vec![server] };
    let reached = reached_at(address).iter().map(ToString::to_string).collect::<Vec<_>>().join(" or ");
    let address_check = match looked.handshake(from_here(address)).await {
        Ok(()) if address.ip().is_loopback() => {
            Check::well("address", format!("answers at {address}, which this machine alone reaches"))
        }
        Ok(()) => Check::well("address", format!("stations reach it at {reached}")),
        Err(error) => Check::to_do(
            "address",
            format!("no handshake with the server at {address} ({error})"),
            format!("{again}, and look at its log"),
        ),
    };
    vec![server, address_check]
}

/// The address as this machine reaches it.
fn from_here(address: SocketAddr) -> SocketAddr {
    let ip = match address.ip() {
        IpAddr::V4(ip) if ip.is_unspecified() => IpAddr::V4(Ipv4Addr::LOCALHOST),
        IpAddr::V6(ip) if ip.is_unspecified() => IpAddr::V6(Ipv6Addr::LOCALHOST),
        ip => ip,
    };
    SocketAddr::new(ip, address.port())
}
