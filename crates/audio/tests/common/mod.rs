//! Small files made by hand.

#![allow(dead_code)] // each test takes what it needs

/// An MP4 box.
pub(crate) fn boxed(kind: &[u8; 4], body: &[u8]) -> Vec<u8> {
    let mut b = ((body.len() + 8) as u32).to_be_bytes().to_vec();
    b.extend_from_slice(kind);
    b.extend_from_slice(body);
    b
}

/// The boxes of a file, name and body.
pub(crate) fn boxes(bytes: &[u8]) -> Vec<([u8; 4], Vec<u8>)> {
    let (mut at, mut found) = (0, Vec::new());
    while at + 8 <= bytes.len() {
        let size = u32::from_be_bytes(bytes[at..at + 4].try_into().unwrap()) as usize;
        let end = if size == 0 { bytes.len() } else { at + size };
        found.push((bytes[at + 4..at + 8].try_into().unwrap(), bytes[at + 8..end].to_vec()));
        at = end;
    }
    found
}

/// Big-endian words.
pub(crate) fn words(values: &[u32]) -> Vec<u8> {
    values.iter().flat_map(|v| v.to_be_bytes()).collect()
}

/// A mono 16-bit FLAC file of silent frames with the numbers given (RFC 9639, sections 8 and 9).
pub(crate) fn flac(rate: u32, block: u16, numbers: &[u32]) -> Vec<u8> {
    let mut b = b"fLaC\x80\0\0\x22".to_vec();
    b.extend(block.to_be_bytes());
    b.extend(block.to_be_bytes());
    b.extend([0; 6]);
    // Rate (20 bits), channels less one (3), bits less one (5), length unknown (36).
    b.extend((u64::from(rate) << 44 | 15 << 36).to_be_bytes());
    b.extend([0; 16]);
    for number in numbers {
        let from = b.len();
        // Sync and fixed blocks; block size in 16 bits, rate as stated above; one channel, 16 bits.
        b.extend([0xff, 0xf8, 0x70, 0x08]);
        b.extend(utf8(*number));
        b.extend((block - 1).to_be_bytes());
        b.push(crc(&b[from..], 0x07, 8) as u8);
        // A constant subframe of value 0.
        b.extend([0, 0, 0]);
        let check = crc(&b[from..], 0x8005, 16) as u16;
        b.extend(check.to_be_bytes());
    }
    b
}

/// A number coded as UTF-8 codes characters, up to 36 bits.
fn utf8(n: u32) -> Vec<u8> {
    match n {
        0..0x80 => vec![n as u8],
        0x80..0x800 => vec![0xc0 | (n >> 6) as u8, tail(n, 0)],
        0x800..0x1_0000 => vec![0xe0 | (n >> 12) as u8, tail(n, 6), tail(n, 0)],
        _ => vec![0xf0 | (n >> 18) as u8, tail(n, 12), tail(n, 6), tail(n, 0)],
    }
}

fn tail(n: u32, shift: u32) -> u8 {
    0x80 | (n >> shift & 0x3f) as u8
}

/// A cyclic redundancy check, most significant bit first, from 0.
fn crc(bytes: &[u8], polynomial: u32, bits: u32) -> u32 {
    let top = 1 << (bits - 1);
    let mask = ((1u64 << bits) - 1) as u32;
    bytes.iter().fold(0, |mut c, b| {
        c ^= u32::from(*b) << (bits - 8);
        for _ in 0..8 {
            c = if c & top != 0 { c << 1 ^ polynomial } else { c << 1 } & mask;
        }
        c
    })
}
