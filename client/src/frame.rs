//! The form of one kept entry on the disk, which tells by itself whether it is whole.
//!
//! ```text
//! 8 bytes   SPENTRY1
//! 4 bytes   length of the sealed entry, big-endian
//! n bytes   the entry as the station sealed it
//! 32 bytes  SHA-256 (FIPS 180-4) over all the bytes before
//! ```
//!
//! A file that was cut anywhere, went on, or has a changed byte is not whole. Called by the folder only; what is
//! done with a file that is not whole is decided there.

use bytes::Bytes;
use sha2::{Digest, Sha256};
use standpipe_proto::limits::ENTRY_BYTES_MAX;

const MAGIC: &[u8; 8] = b"SPENTRY1";
const DIGEST_BYTES: usize = 32;
/// Bytes that the form adds to an entry.
pub(crate) const ADDED_BYTES: usize = MAGIC.len() + 4 + DIGEST_BYTES;

/// Puts a sealed entry into its form on the disk.
pub(crate) fn framed(sealed: &[u8]) -> Vec<u8> {
    let mut file = Vec::with_capacity(sealed.len() + ADDED_BYTES);
    file.extend_from_slice(MAGIC);
    // Entries are bounded far below 4 GiB by the check before; a longer one would not be read back.
    file.extend_from_slice(&u32::try_from(sealed.len()).unwrap_or(u32::MAX).to_be_bytes());
    file.extend_from_slice(sealed);
    let digest = Sha256::digest(&file);
    file.extend_from_slice(&digest);
    file
}

/// Takes the sealed entry out of a file, or says in words why the file is not whole.
pub(crate) fn unframed(file: &[u8]) -> Result<Bytes, String> {
    let rest = file.strip_prefix(MAGIC).ok_or_else(|| {
        if MAGIC.starts_with(file) {
            format!("cut after {} bytes", file.len())
        } else {
            "no kept entry of this version".to_owned()
        }
    })?;
    let cut = || format!("cut after {} bytes", file.len());
    let (length, rest) = rest.split_first_chunk::<4>().ok_or_else(cut)?;
    let length = usize::try_from(u32::from_be_bytes(*length)).unwrap_or(usize::MAX);
    if length > ENTRY_BYTES_MAX {
        return Err(format!(
            "it claims an entry of {length} bytes; the greatest size is {ENTRY_BYTES_MAX} bytes"
        ));
    }
    let whole = length + ADDED_BYTES;
    let sealed = rest.get(..length).ok_or_else(cut)?;
    let digest = rest.get(length..).filter(|digest| digest.len() >= DIGEST_BYTES).ok_or_else(cut)?;
    if digest.len() > DIGEST_BYTES {
        return Err(format!("it goes on after its {whole} bytes"));
    }
    let before = file.get(..whole - DIGEST_BYTES).ok_or_else(cut)?;
    if Sha256::digest(before).as_slice() != digest {
        return Err("its bytes do not match their digest".to_owned());
    }
    Ok(Bytes::copy_from_slice(sealed))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_was_put_in_comes_out() {
        for sealed in [&b""[..], b"an entry", &[0xff; 1000]] {
            assert_eq!(unframed(&framed(sealed)).unwrap(), sealed);
        }
    }

    #[test]
    fn a_file_cut_or_changed_at_any_byte_is_not_whole() {
        let file = framed(b"the fluid that ran out");
        for cut in 0..file.len() {
            assert!(unframed(&file[..cut]).unwrap_err().contains("cut after"), "cut after {cut}");
        }
        for place in 0..file.len() {
            for bit in 0..8 {
                let mut changed = file.clone();
                changed[place] ^= 1 << bit;
                assert!(unframed(&changed).is_err(), "bit {bit} of byte {place}");
            }
        }
        let longer = [file.as_slice(), b"x"].concat();
        assert!(unframed(&longer).unwrap_err().contains("goes on"));
    }

    #[test]
    fn the_digest_is_that_of_the_standard() {
        // FIPS 180-4 with its published example: SHA-256 of 'abc' begins ba7816bf and ends f20015ad.
        let digest = Sha256::digest(b"abc");
        assert_eq!(
            (&digest[..4], &digest[28..]),
            (&[0xba, 0x78, 0x16, 0xbf][..], &[0xf2, 0x00, 0x15, 0xad][..])
        );
    }
}
