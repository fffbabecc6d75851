//! A certificate as text (RFC 7468), as other programs read it too.

use data_encoding::BASE64;
use rustls_pki_types::CertificateDer;
use rustls_pki_types::pem::PemObject as _;
use std::fmt::Write as _;

/// Characters of a line (RFC 7468, section 2).
const LINE: usize = 64;

/// Writes a certificate.
pub fn write(certificate: &CertificateDer<'_>) -> String {
    let mut text = "-----BEGIN CERTIFICATE-----\n".to_owned();
    let encoded = BASE64.encode(certificate);
    let mut rest = encoded.as_str();
    while !rest.is_empty() {
        let (line, others) = rest.split_at(rest.len().min(LINE));
        // Writing to a String cannot fail.
        let _ = writeln!(text, "{line}");
        rest = others;
    }
    text.push_str("-----END CERTIFICATE-----\n");
    text
}

/// Reads the first certificate of a text; nothing if there is none.
pub fn read(text: &str) -> Option<CertificateDer<'static>> {
    CertificateDer::from_pem_slice(text.as_bytes()).ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_certificate_is_read_back() {
        for length in [1, 47, 48, 49, 400] {
            let certificate = CertificateDer::from(vec![7_u8; length]);
            let text = write(&certificate);
            assert!(text.lines().all(|line| line.len() <= LINE), "{text}");
            assert_eq!(read(&text), Some(certificate));
        }
        assert_eq!(read("no certificate"), None);
    }
}
