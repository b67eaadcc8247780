//! Changes to bytes, all from one seed, so that a finding can be had again by its number.

/// Numbers that look like chance (xorshift, G. Marsaglia 2003).
pub struct Chance(u64);

impl Chance {
    pub fn new(seed: u64) -> Self {
        // Nought would stay nought.
        Self(seed.wrapping_mul(0x9e37_79b9_7f4a_7c15) | 1)
    }

    /// A number below another.
    pub fn below(&mut self, end: usize) -> usize {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        usize::try_from((self.0 >> 16) % end.max(1) as u64).unwrap()
    }

    pub fn one<'a, T>(&mut self, of: &'a [T]) -> &'a T {
        &of[self.below(of.len())]
    }

    fn range(&mut self, len: usize) -> std::ops::Range<usize> {
        let start = self.below(len + 1);
        start..start + self.below((len - start).min(64) + 1)
    }
}

/// What the formats are made of, whole: chance finds it seldom.
const PIECES: &[&[u8]] = &[
    b"\"",
    b"\"\"",
    b",",
    b";",
    b"\t",
    b"\r\n",
    b"\n\n",
    b"sep=;\n",
    b"\0",
    b"\xff",
    b"\xef\xbb\xbf",
    "\u{202e}".as_bytes(),
    "\u{301}".as_bytes(),
    b"tobedeleted",
    b"active",
    b"delta",
    b"bulk",
    b"absent",
    b"1.1",
    b"student",
    b"2026-02-30",
    b"+999999-01-01",
    b"29/02/2019",
    b"43499.5",
    b"1e308",
    b"-1",
    b"99999999999999999999",
    b"<",
    b">",
    b"</a>",
    b"<a>",
    b"<a/>",
    b"&",
    b"&#0;",
    b"&#xD800;",
    b"&x;",
    b"<![CDATA[",
    b"]]>",
    b"<!--",
    b"<!DOCTYPE a [<!ENTITY x \"y\">]>",
    b"<?a",
    b" r=\"1048577\"",
    b" r=\"XFD1\"",
    b" t=\"s\"",
    b"<v>",
    b"<f>",
    b"<mergeCell ref=\"A1:A1048576\"/>",
    b"<col min=\"1\" max=\"16384\" hidden=\"1\"/>",
    b"PK\x05\x06",
    b"\xff\xff\xff\xff",
];

/// Changes what stands between two signs: most of a file stays right, so that what is behind its
/// grammar is reached.
fn mutate_cell(bytes: &mut Vec<u8>, chance: &mut Chance) {
    let is_sign = |byte: &u8| matches!(byte, b',' | b';' | b'\n' | b'"' | b'<' | b'>');
    let from = chance.below(bytes.len() + 1);
    let start = bytes[from..].iter().position(is_sign).map_or(0, |n| from + n + 1);
    let end = bytes[start..].iter().position(is_sign).map_or(bytes.len(), |n| start + n);
    let piece = chance.one(PIECES).iter().copied().filter(|byte| !is_sign(byte));
    bytes.splice(start..end, piece.collect::<Vec<_>>());
}

/// Changes some bytes; `others` are to take pieces from.
pub fn mutate(bytes: &mut Vec<u8>, others: &[Vec<u8>], chance: &mut Chance) {
    if chance.below(2) == 0 {
        return mutate_cell(bytes, chance);
    }
    for _ in 0..=chance.below(6) {
        let at = chance.below(bytes.len() + 1);
        match chance.below(9) {
            0 if at < bytes.len() => bytes[at] ^= 1 << chance.below(8),
            1 if at < bytes.len() => bytes[at] = u8::try_from(chance.below(256)).unwrap(),
            2 => drop(bytes.drain(chance.range(bytes.len()))),
            3 => {
                let copied = bytes[chance.range(bytes.len())].to_vec();
                bytes.splice(at..at, copied);
            }
            4 => bytes.truncate(at),
            5 => {
                let other = chance.one(others);
                let piece = other[chance.range(other.len())].to_vec();
                bytes.splice(at..at, piece);
            }
            6 if chance.below(8) == 0 => {
                let piece = chance.one(PIECES);
                let times = [300, 3_000, 40_000 / piece.len()][chance.below(3)];
                bytes.splice(at..at, piece.repeat(times));
            }
            _ => {
                let piece = *chance.one(PIECES);
                bytes.splice(at..at, piece.iter().copied());
            }
        }
    }
}
