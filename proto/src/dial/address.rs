//! Where a server listens, as people type it.

use super::DialError;
use crate::join::DEFAULT_PORT;
use std::fmt;
use std::net::{IpAddr, Ipv6Addr};

/// Most characters of a host's name (RFC 1035, section 2.3.4).
const HOST_CHARACTERS_MAX: usize = 253;

/// Name or address of a machine, and a port of it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ServerAddress {
    /// Without brackets.
    pub host: String,
    /// From 1.
    pub port: u16,
}

impl ServerAddress {
    /// Reads `HOST[:PORT]`: a name, an IPv4 address, or an IPv6 address, in brackets if a port follows. What the link of
    /// a code begins and ends with is passed over.
    ///
    /// # Errors
    /// [`DialError::Address`].
    pub fn read(typed: &str) -> Result<Self, DialError> {
        let wrong = || DialError::Address { address: typed.to_owned() };
        let text = typed.trim();
        let text = text.strip_prefix("https://").unwrap_or(text).trim_end_matches('/');
        let (host, port) = if let Ok(address) = text.parse::<Ipv6Addr>() {
            (address.to_string(), None)
        } else if let Some(bracketed) = text.strip_prefix('[') {
            let (host, rest) = bracketed.split_once(']').ok_or_else(wrong)?;
            let address: Ipv6Addr = host.parse().map_err(|_| wrong())?;
            let port = match rest {
                "" => None,
                rest => Some(rest.strip_prefix(':').ok_or_else(wrong)?),
            };
            (address.to_string(), port)
        } else {
            match text.split_once(':') {
                Some((host, port)) => (host.to_owned(), Some(port)),
                None => (text.to_owned(), None),
            }
        };
        let port = match port {
            None => DEFAULT_PORT,
            Some(port) => port.parse().map_err(|_| wrong())?,
        };
        if port == 0 || !(is_name(&host) || host.parse::<IpAddr>().is_ok()) {
            return Err(wrong());
        }
        Ok(Self { host, port })
    }
}

impl fmt::Display for ServerAddress {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.host.contains(':') {
            true => write!(f, "[{}]:{}", self.host, self.port),
            false => write!(f, "{}:{}", self.host, self.port),
        }
    }
}

fn is_name(host: &str) -> bool {
    let part = |part: &str| {
        !part.is_empty() && part.bytes().all(|b| b.is_ascii_alphanumeric() || b == b'-' || b == b'_')
    };
    host.len() <= HOST_CHARACTERS_MAX && host.trim_end_matches('.').split('.').all(part)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_address_is_read_with_and_without_a_port() {
        for (typed, read) in [
            ("shop.lan", "shop.lan:50551"),
            (" shop.lan:7000 ", "shop.lan:7000"),
            ("192.0.2.7", "192.0.2.7:50551"),
            ("192.0.2.7:7000", "192.0.2.7:7000"),
            ("2001:db8::7", "[2001:db8::7]:50551"),
            ("[2001:db8::7]", "[2001:db8::7]:50551"),
            ("[2001:db8::7]:7000", "[2001:db8::7]:7000"),
            ("https://shop.lan:7000/", "shop.lan:7000"),
        ] {
            assert_eq!(ServerAddress::read(typed).unwrap().to_string(), read, "{typed}");
        }
    }

    #[test]
    fn what_is_no_address_is_refused_with_examples() {
        for typed in [
            "",
            ":7000",
            "shop.lan:0",
            "shop.lan:70000",
            "shop.lan:x",
            "http://shop.lan",
            "[shop.lan]:7000",
            "[2001:db8::7",
            "[2001:db8::7]7000",
            "user@shop.lan",
            "shop lan",
            "shop..lan",
            "192.0.2.7:7000/path",
        ] {
            let sentence = ServerAddress::read(typed).unwrap_err().to_string();
            assert!(sentence.contains("192.168.0.10:50551"), "{typed}: {sentence}");
        }
    }
}
