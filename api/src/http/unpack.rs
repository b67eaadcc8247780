//! A body as it arrives, unpacked piece by piece: what it unpacks to is bounded before it is kept,
//! so that a small body never becomes a large one in memory.

use std::io::{self, Write};

use actix_web::http::header::{CONTENT_ENCODING, HeaderMap};
use flate2::write::MultiGzDecoder;

use super::problem::{Code, Problem};

/// The codings a body may have besides none. A window of theirs is small: gzip's is 32 KiB, while
/// that of others may be as large as what they unpack to.
pub const CODINGS: &str = "gzip";

/// Takes a body's bytes as sent and keeps them unpacked.
pub struct Unpacking {
    /// Bytes that may still be sent.
    left: usize,
    limit: usize,
    kept: Kept,
}

enum Kept {
    Plain(Bounded),
    Gzip(Box<MultiGzDecoder<Bounded>>),
}

/// Bytes up to a limit.
struct Bounded {
    bytes: Vec<u8>,
    limit: usize,
    /// Whether there were more.
    over: bool,
}

impl Write for Bounded {
    fn write(&mut self, part: &[u8]) -> io::Result<usize> {
        if part.len() > self.limit.saturating_sub(self.bytes.len()) {
            self.over = true;
            return Err(io::Error::other("the body unpacks to more than its limit"));
        }
        self.bytes.extend_from_slice(part);
        Ok(part.len())
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

impl Unpacking {
    /// For a body with these headers, of at most `limit` bytes as sent and unpacked.
    ///
    /// # Errors
    /// `unsupported_media_type`, with the codings taken, for another coding.
    pub fn new(headers: &HeaderMap, limit: usize) -> Result<Self, Problem> {
        let bounded = Bounded { bytes: Vec::new(), limit, over: false };
        let mut codings = headers.get_all(CONTENT_ENCODING);
        let kept = match (codings.next(), codings.next()) {
            (None, _) => Kept::Plain(bounded),
            (Some(coding), None) if coding.as_bytes().eq_ignore_ascii_case(b"identity") => {
                Kept::Plain(bounded)
            }
            (Some(coding), None) if coding.as_bytes().eq_ignore_ascii_case(b"gzip") => {
                Kept::Gzip(Box::new(MultiGzDecoder::new(bounded)))
            }
            _ => {
                let said = format!("send the body plain, or with Content-Encoding: {CODINGS}");
                return Err(Problem::saying(Code::UnsupportedMediaType, said).accepting(CODINGS));
            }
        };
        Ok(Self { left: limit, limit, kept })
    }

    /// Takes the next bytes.
    ///
    /// # Errors
    /// `too_large` beyond the limit, `malformed_body` for what is not packed as said.
    pub fn take(&mut self, part: &[u8]) -> Result<(), Problem> {
        let Some(left) = self.left.checked_sub(part.len()) else { return Err(self.too_large()) };
        self.left = left;
        let taken = match &mut self.kept {
            Kept::Plain(bounded) => bounded.write_all(part),
            Kept::Gzip(decoder) => decoder.write_all(part),
        };
        taken.map_err(|_| self.refusal())
    }

    /// The whole body.
    ///
    /// # Errors
    /// As [`Self::take`], and for one that was cut off.
    pub fn finish(mut self) -> Result<Vec<u8>, Problem> {
        if let Kept::Gzip(decoder) = &mut self.kept
            && decoder.try_finish().is_err()
        {
            return Err(self.refusal());
        }
        Ok(std::mem::take(&mut self.bounded().bytes))
    }

    fn bounded(&mut self) -> &mut Bounded {
        match &mut self.kept {
            Kept::Plain(bounded) => bounded,
            Kept::Gzip(decoder) => decoder.get_mut(),
        }
    }

    fn refusal(&mut self) -> Problem {
        if self.bounded().over {
            return self.too_large();
        }
        Problem::saying(Code::MalformedBody, format!("the body is not well-formed {CODINGS}"))
    }

    fn too_large(&self) -> Problem {
        Problem::saying(Code::TooLarge, format!("at most {} bytes are taken here", self.limit))
    }
}

#[cfg(test)]
mod tests {
    use actix_web::http::header::HeaderValue;
    use flate2::{Compression, write::GzEncoder};

    use super::*;

    fn packed(bytes: &[u8]) -> Vec<u8> {
        let mut encoder = GzEncoder::new(Vec::new(), Compression::best());
        encoder.write_all(bytes).unwrap();
        encoder.finish().unwrap()
    }

    fn unpack(coding: &str, sent: &[u8], limit: usize) -> Result<Vec<u8>, Code> {
        let mut headers = HeaderMap::new();
        if !coding.is_empty() {
            headers.insert(CONTENT_ENCODING, HeaderValue::from_str(coding).unwrap());
        }
        let mut unpacking = Unpacking::new(&headers, limit).map_err(|problem| problem.code())?;
        let taken = sent.chunks(7).try_for_each(|part| unpacking.take(part));
        taken.and_then(|()| unpacking.finish()).map_err(|problem| problem.code())
    }

    #[test]
    fn a_body_is_bounded_as_sent_and_unpacked() {
        let text = b"Mod met Dom. ".repeat(100);
        let small = packed(&text);
        assert_eq!(unpack("", &text, text.len()), Ok(text.clone()));
        assert_eq!(unpack("", &text, text.len() - 1), Err(Code::TooLarge));
        assert_eq!(unpack("GZIP", &small, text.len()), Ok(text.clone()));
        assert_eq!(unpack("gzip", &small, text.len() - 1), Err(Code::TooLarge));
        assert_eq!(
            unpack("gzip", &[small.clone(), small.clone()].concat(), 2 * text.len()),
            Ok(text.repeat(2))
        );
        // Members that hold nothing, without end.
        assert_eq!(unpack("gzip", &packed(b"").repeat(1000), 1000), Err(Code::TooLarge));
    }

    #[test]
    fn what_is_not_packed_as_said_is_refused() {
        let small = packed(b"Mod");
        assert_eq!(unpack("gzip", &small[..small.len() - 1], 1000), Err(Code::MalformedBody));
        assert_eq!(unpack("gzip", b"Mod met Dom.", 1000), Err(Code::MalformedBody));
        for coding in ["zstd", "deflate", "br", "gzip, gzip", "x"] {
            assert_eq!(unpack(coding, b"Mod", 1000), Err(Code::UnsupportedMediaType), "{coding}");
        }
    }

    #[test]
    fn no_more_is_kept_than_the_limit() {
        let bomb = packed(&vec![b' '; 1 << 26]);
        let mut headers = HeaderMap::new();
        headers.insert(CONTENT_ENCODING, HeaderValue::from_static("gzip"));
        let mut unpacking = Unpacking::new(&headers, 1 << 20).unwrap();
        // All of it at once, which unpacks to 64 times the limit.
        assert!(bomb.len() < 1 << 20 && unpacking.take(&bomb).is_err());
        assert!(unpacking.bounded().bytes.capacity() <= 1 << 21);
    }
}
