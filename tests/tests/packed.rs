//! Bodies that are small as sent and large once unpacked.
#![allow(clippy::unwrap_used)]

use std::io::Write as _;

use plumbline_tests::School;

/// The usual limit of a body.
const LIMIT: usize = 1024 * 1024;

/// A zstd frame (RFC 8878) of blocks of one repeated space, 128 KiB each: 4 bytes for each block.
fn zstd_bomb(blocks: u32) -> Vec<u8> {
    // Magic number; no checksum, no size; a window of 128 KiB.
    let mut frame = vec![0x28, 0xb5, 0x2f, 0xfd, 0x00, 0x38];
    for n in 1..=blocks {
        let head = (131_072 << 3) | 2 | u32::from(n == blocks);
        frame.extend_from_slice(&head.to_le_bytes()[..3]);
        frame.push(b' ');
    }
    frame
}

#[test]
fn a_small_body_takes_little_memory_whatever_it_unpacks_to() {
    let school = School::start();
    let nobody = school.nobody();
    let send = |coding: &str, body: &[u8]| {
        nobody.with("Content-Encoding", coding).send(
            "POST",
            "/api/v1/sessions",
            Some("application/json"),
            body,
        )
    };
    // Once before, so that what is made at the first use is not counted.
    send("gzip", b"x").problem(400, "malformed_body");
    let before = school.server.peak_memory();
    // 512 MiB each: of zstd in 16 KiB, of gzip, which packs a thousandfold, in 512 KiB.
    let zstd = send("zstd", &zstd_bomb(4096));
    zstd.problem(415, "unsupported_media_type");
    assert_eq!(zstd.header("Accept-Encoding"), "gzip");
    let mut zipped = flate2::write::GzEncoder::new(Vec::new(), flate2::Compression::best());
    (0..512).for_each(|_| zipped.write_all(&vec![b' '; LIMIT]).unwrap());
    let zipped = zipped.finish().unwrap();
    assert!(zipped.len() < LIMIT);
    send("gzip", &zipped).problem(413, "too_large");
    // What the limit lets in, what holds it while it grows, and what was sent.
    let limit = u64::try_from(LIMIT).unwrap();
    assert!(school.server.peak_memory() - before < 4 * limit / 1024 + 4096);
}
