//! Histograms and streams as bytes, so that a program can keep them until its next run.
//!
//! # Layout
//! | bytes | what |
//! | --- | --- |
//! | 0-3 | `GLYC` |
//! | 4 | kind: 1 histogram, 2 stream |
//! | 5 | version of this layout: 1 |
//! | 6-7 | 0 |
//! | 8-15 | length of the body, little-endian |
//! | 16- | the body: the object as JSON |
//! | last 8 | checksum of all bytes before it, little-endian |
//!
//! The checksum finds accidents, not forgery: each of its steps is one-to-one, so that any one
//! changed byte gives another sum, and others go unseen once in 2^64.
//!
//! # Source
//! Checksum: FNV-1a, 64 bits (Fowler, Noll and Vo), constants from memory.

use crate::error::Failure;
use crate::pointers::{place, put};
use glycemic_core::Error;

const MAGIC: &[u8; 4] = b"GLYC";
const LAYOUT: u8 = 1;
const HEAD: usize = 16;
const TAIL: usize = 8;

/// What the bytes hold.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Kind {
    Histogram = 1,
    Stream = 2,
}

/// Puts a body into its layout.
pub(crate) fn pack(kind: Kind, body: &[u8]) -> Vec<u8> {
    let mut out = Vec::with_capacity(HEAD + body.len() + TAIL);
    out.extend(MAGIC);
    out.extend([kind as u8, LAYOUT, 0, 0]);
    out.extend((body.len() as u64).to_le_bytes());
    out.extend(body);
    out.extend(checksum(&out).to_le_bytes());
    out
}

/// The body, if nothing is missing, too many or changed.
pub(crate) fn unpack(kind: Kind, bytes: &[u8]) -> Result<&[u8], Failure> {
    let wrong = |why: &str| Failure::Bytes(why.to_string());
    let (head, rest) =
        bytes.split_first_chunk::<HEAD>().ok_or_else(|| wrong("they are cut short"))?;
    let [magic @ .., k, layout, _, _, l0, l1, l2, l3, l4, l5, l6, l7] = head;
    if magic != MAGIC {
        return Err(wrong("they don't begin with GLYC"));
    }
    if *layout != LAYOUT {
        return Err(Failure::Bytes(format!("layout {layout} is not {LAYOUT}, the one known here")));
    }
    let len = u64::from_le_bytes([*l0, *l1, *l2, *l3, *l4, *l5, *l6, *l7]);
    let (body, sum) = rest.split_last_chunk::<TAIL>().ok_or_else(|| wrong("they are cut short"))?;
    if len != body.len() as u64 {
        let got = body.len();
        return Err(Failure::Bytes(format!("the body has {got} bytes where {len} are needed")));
    }
    if u64::from_le_bytes(*sum) != checksum(&bytes[..HEAD + body.len()]) {
        return Err(wrong("the checksum differs, so some were changed"));
    }
    if *k != kind as u8 {
        return Err(wrong("they hold an object of another kind"));
    }
    Ok(body)
}

fn checksum(bytes: &[u8]) -> u64 {
    let step = |sum: u64, &b: &u8| (sum ^ u64::from(b)).wrapping_mul(0x0000_0100_0000_01b3);
    bytes.iter().fold(0xcbf2_9ce4_8422_2325, step)
}

/// Writes bytes to a buffer, and how many they are; only the number when `buffer` is NULL.
///
/// # Safety
/// `buffer` is NULL or valid to write `size` bytes; `needed_out` is NULL or valid to write.
pub(crate) unsafe fn hand_out(
    bytes: &[u8],
    buffer: *mut u8,
    size: usize,
    needed_out: *mut usize,
) -> Result<(), Failure> {
    let needed = bytes.len();
    if buffer.is_null() {
        place("needed_out", needed_out)?;
        if size > 0 {
            return Err(Failure::Null("buffer"));
        }
    } else if size < needed {
        let (value, low, high) = (size as f64, needed as f64, isize::MAX as f64);
        return Err(Error::OutOfRange { name: "size", index: None, value, low, high }.into());
    } else {
        // SAFETY: not NULL, so valid for `size` bytes, which are enough.
        unsafe { bytes.as_ptr().copy_to_nonoverlapping(buffer, needed) };
    }
    // SAFETY: by the contract.
    unsafe { put(needed_out, needed) };
    Ok(())
}

#[cfg(test)]
#[path = "bytes_tests.rs"]
mod tests;
