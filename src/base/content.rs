//! What stands for bytes: where it is the same, they are the same.

use std::fmt;
use std::hash::{Hash, Hasher as _};

use siphasher::sip128::{Hasher128 as _, SipHasher24};

/// 128 bits that stand for bytes: SipHash-2-4 with 128 bits of output (Aumasson and Bernstein, "SipHash: a fast
/// short-input PRF", 2012, and their reference code), the same from run to run and from version to version.
///
/// Different bytes differ in it but for a chance of about 1 in 2^64 among thousands of millions of them. Its key is
/// known to all, so it is no defence against a forger.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Content(u128);

/// Digits of a content as files hold it, and of those that versions before wrote.
const DIGITS: [usize; 2] = [32, 16];

impl Content {
    /// Of bytes, such as those of a text.
    pub fn of(bytes: impl AsRef<[u8]>) -> Self {
        let mut hasher = hasher();
        hasher.write(bytes.as_ref());
        Self(hasher.finish128().into())
    }

    /// Of values. For this run of the program alone: how values are hashed is the standard library's own business.
    pub(crate) fn of_values(values: impl Hash) -> Self {
        let mut hasher = hasher();
        values.hash(&mut hasher);
        Self(hasher.finish128().into())
    }
}

impl fmt::Display for Content {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        // In the order in which the hash's authors give its bytes.
        write!(f, "{:032x}", self.0.swap_bytes())
    }
}

/// The key of the authors' test vectors, so that they hold here.
fn hasher() -> SipHasher24 {
    SipHasher24::new_with_key(&std::array::from_fn(|at| at as u8))
}

/// Whether a text is a content as a file holds it.
pub(crate) fn is_written(noted: &str) -> bool {
    DIGITS.contains(&noted.len()) && noted.bytes().all(|byte| matches!(byte, b'0'..=b'9' | b'a'..=b'f'))
}

/// Whether what a file holds stands for these bytes. Versions before wrote 64 bits, which are told by their length.
pub(crate) fn stands_for(noted: &str, bytes: impl AsRef<[u8]>) -> bool {
    let bytes = bytes.as_ref();
    noted == if noted.len() == DIGITS[1] { written_before(bytes) } else { Content::of(bytes).to_string() }
}

/// The content of these bytes as versions before wrote it: 16 digits.
pub(crate) fn written_before(bytes: impl AsRef<[u8]>) -> String {
    format!("{:016x}", fnv_1a(bytes.as_ref()))
}

/// FNV-1a in 64 bits: scatters texts, and does not tell them apart for certain. Offset and prime as its
/// authors publish them (from memory).
pub(crate) fn fnv_1a(bytes: &[u8]) -> u64 {
    bytes.iter().fold(0xcbf2_9ce4_8422_2325, |hash, &byte| {
        (hash ^ u64::from(byte)).wrapping_mul(0x0000_0100_0000_01b3)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_content_has_its_published_values() {
        // `vectors_sip128` of the authors' reference code: no bytes, then 00 (from memory).
        assert_eq!(Content::of([]).to_string(), "a3817f04ba25a8e66df67214c7550293");
        assert_eq!(Content::of([0]).to_string(), "da87c1d86b99af44347659119b22fc45");
    }

    #[test]
    fn what_stood_for_bytes_before_has_its_published_values() {
        // The algorithm's authors' test vectors: "", "a" and "foobar".
        assert_eq!(fnv_1a(b""), 0xcbf2_9ce4_8422_2325);
        assert_eq!(fnv_1a(b"a"), 0xaf63_dc4c_8601_ec8c);
        assert_eq!(fnv_1a(b"foobar"), 0x8594_4171_f739_67e8);
    }

    #[test]
    fn a_content_that_a_file_holds_stands_for_its_bytes_also_as_it_was_written_before() {
        let now = Content::of("quay").to_string();
        let before = written_before("quay");
        assert_eq!((now.len(), before.len()), (32, 16));
        for noted in [&now, &before] {
            assert!(is_written(noted) && stands_for(noted, "quay") && !stands_for(noted, "quays"), "{noted}");
        }
        for noted in ["", "unknown", &now[..16], &now[..31], &now.to_uppercase()] {
            assert!(!stands_for(noted, "quay"), "{noted}");
        }
        assert!(!is_written(&now[..31]) && !is_written(&now.to_uppercase()) && !is_written(""));
    }
}
