//! Bytes go there and back; cut, changed or foreign ones are refused and nothing breaks.

use std::panic::catch_unwind;

use glycemic_core::Unit;
use glycemic_core::panel::{Histogram, Stream};

use super::*;
use crate::{histogram, stream};

const T: i64 = 1_741_000_000_000;

/// Pseudo-random numbers for choosing where to cut and what to change (xorshift, Marsaglia 2003).
struct Chance(u64);

impl Chance {
    fn below(&mut self, n: usize) -> usize {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        (self.0 % n as u64) as usize
    }
}

fn a_histogram() -> Histogram {
    let mut h = Histogram::new(Unit::MmolL);
    for code in [39, 55, 55, 100, 312] {
        h.push_code(code).unwrap();
    }
    h
}

/// Three days of readings with a gap, so that every part of a stream is in use.
fn a_stream() -> Stream {
    let mut s = Stream::new(Unit::MgDl, 5.0, None).unwrap();
    for i in (0..864).filter(|i| !(300..330).contains(i)) {
        s.push(T + i * 300_000, (90 + (i * 7919) % 97) as f64).unwrap();
    }
    s
}

fn why<T>(result: Result<T, Failure>) -> String {
    match result {
        Err(Failure::Bytes(why)) => why,
        Err(_) => panic!("another failure"),
        Ok(_) => panic!("it was read"),
    }
}

#[test]
fn the_checksum_is_fnv_1a() {
    // Offset basis, and the published sum of "a"; both from memory.
    assert_eq!(checksum(b""), 0xcbf2_9ce4_8422_2325);
    assert_eq!(checksum(b"a"), 0xaf63_dc4c_8601_ec8c);
}

#[test]
fn there_and_back() {
    let h = a_histogram();
    let bytes = histogram::to_bytes(&h).ok().unwrap();
    assert_eq!(histogram::from_bytes(&bytes).ok(), Some(h));
    let s = a_stream();
    let bytes = stream::to_bytes(&s).ok().unwrap();
    let (back, unit) = stream::from_bytes(&bytes).ok().unwrap();
    assert_eq!((back.len(), unit), (834, Unit::MgDl));
    assert_eq!(back.measures(), s.measures());
    assert_eq!(stream::to_bytes(&back).ok().unwrap(), bytes);
}

#[test]
fn each_fault_is_named() {
    let good = pack(Kind::Histogram, b"{}");
    let of = |bytes: &[u8]| why(unpack(Kind::Histogram, bytes));
    assert_eq!(of(&[]), "they are cut short");
    assert_eq!(of(&good[..HEAD + TAIL - 1]), "they are cut short");
    assert_eq!(of(&good[..good.len() - 1]), "the body has 1 bytes where 2 are needed");
    assert_eq!(of(&[good.clone(), vec![0]].concat()), "the body has 3 bytes where 2 are needed");
    assert_eq!(of(b"{\"unit\": \"mg/dL\"}"), "they don't begin with GLYC");
    let mut later = good.clone();
    later[5] = 2;
    assert_eq!(of(&later), "layout 2 is not 1, the one known here");
    let mut changed = good.clone();
    changed[HEAD] = b'[';
    assert_eq!(of(&changed), "the checksum differs, so some were changed");
    assert_eq!(why(unpack(Kind::Stream, &good)), "they hold an object of another kind");
    assert_eq!(unpack(Kind::Histogram, &good).ok(), Some(&b"{}"[..]));
}

#[test]
fn whatever_is_cut_or_changed_is_refused() {
    let mut chance = Chance(41);
    let histogram_bytes = histogram::to_bytes(&a_histogram()).ok().unwrap();
    let stream_bytes = stream::to_bytes(&a_stream()).ok().unwrap();
    for at in 0..histogram_bytes.len() {
        why(histogram::from_bytes(&histogram_bytes[..at]));
        let mut bytes = histogram_bytes.clone();
        bytes[at] ^= 1 << chance.below(8);
        why(histogram::from_bytes(&bytes));
    }
    for _ in 0..2000 {
        let at = chance.below(stream_bytes.len());
        why(stream::from_bytes(&stream_bytes[..at]));
        let mut bytes = stream_bytes.clone();
        for _ in 0..=chance.below(4) {
            let at = chance.below(bytes.len());
            bytes[at] ^= 1 + chance.below(255) as u8;
        }
        if bytes != stream_bytes {
            why(stream::from_bytes(&bytes));
        }
    }
}

/// A body with its checksum made anew is read by the core's own rules: it may be refused or read,
/// but reading it does not panic.
#[test]
fn a_forged_body_does_not_panic() {
    let mut chance = Chance(42);
    let body = serde_json::to_vec(&a_histogram()).unwrap();
    let stream_body = serde_json::to_vec(&a_stream()).unwrap();
    let digits = b"0123456789-{}[],:\"en";
    for _ in 0..2000 {
        for (kind, body) in [(Kind::Histogram, &body), (Kind::Stream, &stream_body)] {
            let mut body = body.clone();
            let at = chance.below(body.len());
            body[at] = digits[chance.below(digits.len())];
            let bytes = pack(kind, &body);
            let read = catch_unwind(|| match kind {
                Kind::Histogram => histogram::from_bytes(&bytes).is_ok(),
                Kind::Stream => stream::from_bytes(&bytes).is_ok(),
            });
            assert!(read.is_ok());
        }
    }
}
