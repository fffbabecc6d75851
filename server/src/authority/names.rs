//! Names and addresses under which a site's server is reached, for its certificate and for the guard of its pages.
//!
//! Never here: what is done for a request under another name.

use standpipe_proto::join::SERVER_NAME;
use std::collections::BTreeSet;
use std::net::{IpAddr, SocketAddr};
use tokio_rustls::rustls::pki_types::ServerName;

/// What a server is called that names itself nowhere else.
const LOCAL_NAMES: [&str; 4] = [SERVER_NAME, "localhost", "127.0.0.1", "::1"];

/// What names of interfaces begin with that join containers and virtual machines within this machine (common practice, no
/// source).
const BRIDGES: [&str; 5] = ["docker", "br-", "virbr", "veth", "podman"];

/// Names and addresses, none of them twice.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Names(BTreeSet<String>);

impl Names {
    /// Those of this machine, and further ones that were set.
    pub(crate) fn of_machine(further: &[String]) -> Self {
        Self::of_addresses(further, addresses_read(), None)
    }

    /// The same; while the machine's addresses cannot be read, the names before are kept: stations still ask for them.
    pub(crate) fn of_machine_since(further: &[String], before: &Self) -> Self {
        Self::of_addresses(further, addresses_read(), Some(before))
    }

    fn of_addresses(further: &[String], addresses: Option<Vec<IpAddr>>, before: Option<&Self>) -> Self {
        let kept = before.filter(|_| addresses.is_none()).map(|before| before.0.clone()).unwrap_or_default();
        let host = host_name();
        let in_the_house =
            host.as_ref().filter(|name| !name.contains('.')).map(|name| format!("{name}.local"));
        let names = LOCAL_NAMES.into_iter().map(str::to_owned).chain(further.iter().map(|name| plain(name)));
        let addresses = addresses.unwrap_or_default().into_iter().map(|address| address.to_string());
        Self(names.chain(host).chain(in_the_house).chain(addresses).chain(kept).collect())
    }

    /// All of them.
    pub(crate) fn iter(&self) -> impl Iterator<Item = &str> {
        self.0.iter().map(String::as_str)
    }

    /// Whether a name or address is one of them, however it is written.
    pub(crate) fn contains(&self, name: &str) -> bool {
        self.0.contains(&plain(name))
    }
}

/// Whether a text can stand in a certificate: an address, or a name of the DNS.
pub(crate) fn is_name(text: &str) -> bool {
    ServerName::try_from(text).is_ok()
}

/// Where stations reach a server that listens on an address: that address, or for one that means every interface those
/// of the machine that others can reach, else the machine itself.
pub(crate) fn reached_at(listen: SocketAddr) -> Vec<SocketAddr> {
    if !listen.ip().is_unspecified() {
        return vec![listen];
    }
    let at = |address: IpAddr| SocketAddr::new(address, listen.port());
    let fits = |address: &IpAddr| address.is_ipv4() || listen.is_ipv6();
    let outside: Vec<_> = addresses_read().unwrap_or_default().into_iter().filter(fits).map(at).collect();
    let here =
        if listen.is_ipv6() { IpAddr::from([0, 0, 0, 0, 0, 0, 0, 1]) } else { IpAddr::from([127, 0, 0, 1]) };
    if outside.is_empty() { vec![at(here)] } else { outside }
}

/// Addresses of the interfaces that others can reach, those of version 4 first; nothing if they cannot be read.
fn addresses_read() -> Option<Vec<IpAddr>> {
    // The names and the loopback addresses still stand in the certificate.
    let unread = |error| tracing::warn!(%error, "the machine's addresses cannot be read");
    let interfaces = if_addrs::get_if_addrs().map_err(unread).ok()?;
    // An address of one link only is written with the link's name, which no certificate can carry.
    let outside = interfaces.iter().filter(|it| !it.is_loopback() && !it.is_link_local());
    Some(likeliest_first(outside.map(|it| (it.name.as_str(), it.ip())).collect()))
}

/// Addresses of version 4 before those of version 6, and those of bridges within this machine last: others reach the
/// machine by them hardly ever.
fn likeliest_first(mut found: Vec<(&str, IpAddr)>) -> Vec<IpAddr> {
    let is_bridge = |name: &str| BRIDGES.iter().any(|begins| name.starts_with(begins));
    found.sort_by_key(|(name, address)| (is_bridge(name), address.is_ipv6(), *address));
    let mut addresses: Vec<IpAddr> = Vec::new();
    for (_, address) in found {
        if !addresses.contains(&address) {
            addresses.push(address);
        }
    }
    addresses
}

fn host_name() -> Option<String> {
    let system = rustix::system::uname();
    let name = plain(system.nodename().to_str().ok()?);
    is_name(&name).then_some(name)
}

/// A name in small letters without the last dot; an address as it is written shortest.
fn plain(name: &str) -> String {
    match name.parse::<IpAddr>() {
        Ok(address) => address.to_string(),
        Err(_) => name.trim_end_matches('.').to_ascii_lowercase(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_machine_is_called_by_the_fixed_name_and_whatever_was_set() {
        let names = Names::of_machine(&["Shop.Lane.".to_owned(), "10.0.0.7".to_owned()]);
        for name in [
            SERVER_NAME,
            "localhost",
            "LOCALHOST",
            "127.0.0.1",
            "::1",
            "0:0:0:0:0:0:0:1",
            "shop.lane",
            "10.0.0.7",
        ] {
            assert!(names.contains(name), "{name}");
        }
        assert!(!names.contains("shop.other") && !names.contains(""));
        assert!(names.iter().all(is_name), "{names:?}");
    }

    #[test]
    fn names_stay_while_the_addresses_cannot_be_read_and_go_when_they_can() {
        let address = IpAddr::from([192, 0, 2, 7]);
        let before = Names::of_addresses(&[], Some(vec![address]), None);
        assert!(before.contains("192.0.2.7"));
        assert_eq!(Names::of_addresses(&[], None, Some(&before)), before);
        assert!(!Names::of_addresses(&[], Some(Vec::new()), Some(&before)).contains("192.0.2.7"));
        assert!(!Names::of_addresses(&[], None, None).contains("192.0.2.7"));
    }

    #[test]
    fn an_address_of_a_bridge_within_the_machine_comes_last() {
        let at = |text: &str| text.parse::<IpAddr>().unwrap();
        let found = vec![
            ("br-7f", at("172.18.0.1")),
            ("docker0", at("10.17.0.1")),
            ("eno1", at("2001:db8::7")),
            ("eno1", at("192.168.20.5")),
            ("eno1", at("192.168.20.5")),
        ];
        let sorted = ["192.168.20.5", "2001:db8::7", "10.17.0.1", "172.18.0.1"].map(at);
        assert_eq!(likeliest_first(found), sorted);
    }

    #[test]
    fn what_no_certificate_can_carry_is_no_name() {
        for text in ["", "a b", "-", "name:1", "fe80::1%eth0", "ä"] {
            assert!(!is_name(text), "{text}");
        }
    }

    #[test]
    fn a_server_is_reached_where_it_listens_and_never_at_no_address() {
        let at = |text: &str| text.parse::<SocketAddr>().unwrap();
        assert_eq!(reached_at(at("127.0.0.1:50551")), [at("127.0.0.1:50551")]);
        assert_eq!(reached_at(at("10.0.0.7:1")), [at("10.0.0.7:1")]);
        for listen in ["0.0.0.0:50551", "[::]:50551"] {
            let reached = reached_at(at(listen));
            assert!(!reached.is_empty());
            assert!(reached.iter().all(|it| !it.ip().is_unspecified() && it.port() == 50551), "{reached:?}");
        }
        assert!(reached_at(at("0.0.0.0:1")).iter().all(SocketAddr::is_ipv4));
    }
}
