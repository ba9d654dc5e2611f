//! The largest pictures that are read.

/// Texels that a picture may have on a side; 16,384 x 16,384 are 268 million texels, 1 GiB in RGBA.
pub const MAX_SIDE: u32 = 16_384;
/// Bytes that a decoder may take: the largest picture at 16 bits a channel.
pub(super) const MAX_DECODER_BYTES: u64 = (MAX_SIDE as u64).pow(2) * 8;
/// Bytes that a JPEG may have, as it is read whole; the largest picture takes about 3 bits a texel
/// at good quality (common practice, no source), and 5 times that is let through.
pub(super) const MAX_JPEG_BYTES: u64 = 512 << 20;
