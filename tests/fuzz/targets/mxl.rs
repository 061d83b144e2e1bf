//! Compressed MusicXML: any bytes as an archive, or an archive with checksums that hold of any names and contents
//! (NUL between them).
#![no_main]

use std::io::{Cursor, Write};

use figwort_fuzz::answer;
use figwort_sheet::musicxml;
use libfuzzer_sys::fuzz_target;
use zip::CompressionMethod;
use zip::write::SimpleFileOptions;

fuzz_target!(|bytes: &[u8]| {
    if bytes.starts_with(b"PK") {
        answer(musicxml::read(bytes));
    } else if let Some(archive) = archive(bytes) {
        answer(musicxml::read(&archive));
    }
});

fn archive(bytes: &[u8]) -> Option<Vec<u8>> {
    let mut writer = zip::ZipWriter::new(Cursor::new(Vec::new()));
    let mut pieces = bytes.split(|byte| *byte == 0);
    while let Some(name) = pieces.next() {
        let options = SimpleFileOptions::default().compression_method(CompressionMethod::Stored);
        writer.start_file(String::from_utf8_lossy(name), options).ok()?;
        writer.write_all(pieces.next().unwrap_or_default()).ok()?;
    }
    Some(writer.finish().ok()?.into_inner())
}
