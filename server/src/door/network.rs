//! What counts as one address of somebody who connects. Never here: what is counted.

use std::net::{IpAddr, Ipv6Addr};

/// The address; of IPv6 its first 64 bits, since whoever has one address there has all of them. The machine itself is
/// one address whichever version it speaks.
pub(crate) fn network(address: IpAddr) -> IpAddr {
    match address.to_canonical() {
        IpAddr::V6(address) if !address.is_loopback() => {
            Ipv6Addr::from(u128::from(address) >> 64 << 64).into()
        }
        other => other,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn all_of_a_network_of_ipv6_is_one_address() {
        let address = |text: &str| network(text.parse().unwrap());
        assert_eq!(address("2001:db8:1:2::3"), address("2001:db8:1:2:ffff::"));
        assert_ne!(address("2001:db8:1:2::3"), address("2001:db8:1:3::3"));
        assert_eq!(address("::ffff:192.0.2.1"), address("192.0.2.1"));
        assert_ne!(address("192.0.2.2"), address("192.0.2.1"));
        assert!(address("::1").is_loopback());
    }
}
