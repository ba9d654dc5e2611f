//! A hash that stays the same from run to run and from version to version.

/// FNV-1a in 64 bits: tells changes apart, and is no defence against a forger. Offset and prime as its
/// authors publish them (from memory).
pub(crate) fn fnv_1a(bytes: &[u8]) -> u64 {
    bytes.iter().fold(0xcbf2_9ce4_8422_2325, |hash, &byte| {
        (hash ^ u64::from(byte)).wrapping_mul(0x0000_0100_0000_01b3)
    })
}

/// The hash of a text as files hold it: 16 hexadecimal digits.
pub(crate) fn written(text: &str) -> String {
    format!("{:016x}", fnv_1a(text.as_bytes()))
}

#[cfg(test)]
mod tests {
    use super::fnv_1a;

    #[test]
    fn the_hash_has_its_published_values() {
        // The algorithm's authors' test vectors: "", "a" and "foobar".
        assert_eq!(fnv_1a(b""), 0xcbf2_9ce4_8422_2325);
        assert_eq!(fnv_1a(b"a"), 0xaf63_dc4c_8601_ec8c);
        assert_eq!(fnv_1a(b"foobar"), 0x8594_4171_f739_67e8);
    }
}
