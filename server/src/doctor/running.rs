//! Whether a server runs, and whether it answers where it listens as a station would ask it.

use super::{Check, Patient};
use crate::admin::{self, Connection};
use crate::authority::look::Looked;
use crate::authority::names::reached_at;
use crate::order::{Done, Order};
use std::net::{IpAddr, Ipv4Addr, Ipv6Addr, SocketAddr};
use std::time::Duration;

/// Longest time that a running server may take to say that it runs.
const ANSWER_WITHIN: Duration = Duration::from_secs(5);
const LOOK_AT_LOG: &str = "look at its log, then stop and start it";

pub(super) async fn checks(patient: &Patient<'_>, looked: Option<&Looked>) -> Vec<Check> {
    match admin::reach(patient.dir).await {
        Ok(Some(connection)) => of_running(connection, looked, ANSWER_WITHIN).await,
        Ok(None) => vec![not_running(patient)],
        Err(error) => vec![Check::to_do("server", error.to_string(), patient.command("serve"))],
    }
}

fn not_running(patient: &Patient<'_>) -> Check {
    match patient.folder.is_locked() {
        Ok(false) => Check::to_do("server", "none runs on this folder", patient.command("serve")),
        Ok(true) => {
            let held = "one holds the folder, but takes no orders: a server that starts, or another command";
            Check::to_do("server", held, LOOK_AT_LOG)
        }
        Err(error) => Check::to_do("server", error.to_string(), LOOK_AT_LOG),
    }
}

async fn of_running(connection: Connection, looked: Option<&Looked>, within: Duration) -> Vec<Check> {
    let again = "stop and start the server";
    let Some(answer) = connection.ask_within(&Order::Running, within).await else {
        return vec![Check::to_do("server", "one runs but does not answer", LOOK_AT_LOG)];
    };
    let (version, address) = match answer {
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::folder::{Folder, JOURNAL_FILE};

    #[tokio::test]
    async fn a_server_that_hangs_is_told_and_not_waited_for() {
        let home = tempfile::tempdir().unwrap();
        std::fs::write(home.path().join(JOURNAL_FILE), b"").unwrap();
        let folder = Folder::find(home.path()).unwrap();
        let _hanging = admin::listen(&folder).unwrap();
        let connection = admin::reach(home.path()).await.unwrap().unwrap();
        let told = of_running(connection, None, Duration::ZERO).await;
        assert_eq!(told, [Check::to_do("server", "one runs but does not answer", LOOK_AT_LOG)]);
    }
}
