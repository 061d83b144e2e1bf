//! Compressed MusicXML (.mxl): a ZIP archive whose `META-INF/container.xml` names the score.
//!
//! Nothing is written anywhere, no more than [`limits::MAX_BYTES`] are ever unpacked, whatever the archive
//! says of its sizes, and archives of more than [`limits::MAX_ENTRIES`] files are refused.

use std::io::{Cursor, Read};

use zip::ZipArchive;

use super::element::{Document, Tag};
use crate::{SheetError, limits};

const CONTAINER: &str = "META-INF/container.xml";

/// The bytes of the score in an archive.
///
/// # Errors
/// [`SheetError`] where the archive is damaged, holds no score, or is larger than the limits unpacked.
pub(super) fn score(bytes: &[u8]) -> Result<Vec<u8>, SheetError> {
    let damaged = |what: String| SheetError::MusicXml {
        what,
        hint: "export it again, or as uncompressed MusicXML (.musicxml)",
    };
    if entries(bytes) > limits::MAX_ENTRIES {
        return Err(too_many());
    }
    let mut archive = ZipArchive::new(Cursor::new(bytes))
        .map_err(|error| damaged(format!("the compressed file is damaged ({error})")))?;
    if archive.len() > limits::MAX_ENTRIES {
        return Err(too_many());
    }
    let stated = match unpack(&mut archive, CONTAINER) {
        Some(container) => root_file(&crate::text::decode(&container?)),
        None => None,
    };
    let named = stated.filter(|name| archive.index_for_name(name).is_some());
    let Some(name) = named.or_else(|| first_score(&archive)) else {
        return Err(SheetError::NotASheet {
            what: "an archive without a score",
            hint: "give a compressed MusicXML file (.mxl), or unpack the archive and give a sheet in it",
        });
    };
    match unpack(&mut archive, &name) {
        Some(score) => score,
        None => Err(damaged("the compressed file does not hold the score that it names".into())),
    }
}

/// How many files the archive says to hold, from the record at its end; 0 where there is none.
fn entries(bytes: &[u8]) -> usize {
    let tail = bytes.get(bytes.len().saturating_sub(66_000)..).unwrap_or(bytes);
    let record = tail.windows(12).rev().find(|window| window.starts_with(b"PK\x05\x06"));
    record.map_or(0, |record| match record {
        [.., low, high] => usize::from(u16::from_le_bytes([*low, *high])),
        _ => 0,
    })
}

fn too_many() -> SheetError {
    SheetError::TooLarge { what: "files in one archive", limit: limits::MAX_ENTRIES }
}

/// A file of the archive; `None` where it has none of that name.
fn unpack(archive: &mut ZipArchive<Cursor<&[u8]>>, name: &str) -> Option<Result<Vec<u8>, SheetError>> {
    let index = archive.index_for_name(name)?;
    let too_large = SheetError::TooLarge { what: "bytes when it is unpacked", limit: limits::MAX_BYTES };
    let file = match archive.by_index(index) {
        Ok(file) => file,
        Err(error) => {
            return Some(Err(SheetError::MusicXml {
                what: format!("the score in the compressed file cannot be unpacked ({error})"),
                hint: "export it again, or as uncompressed MusicXML (.musicxml)",
            }));
        }
    };
    if file.size() > limits::MAX_BYTES as u64 {
        return Some(Err(too_large));
    }
    // The stated size is no promise.
    let mut bytes = Vec::new();
    let read = file.take(limits::MAX_BYTES as u64 + 1).read_to_end(&mut bytes);
    if bytes.len() > limits::MAX_BYTES {
        return Some(Err(too_large));
    }
    Some(match read {
        Ok(_) => Ok(bytes),
        Err(error) => Err(SheetError::MusicXml {
            what: format!("the score in the compressed file is damaged ({error})"),
            hint: "export it again, or as uncompressed MusicXML (.musicxml)",
        }),
    })
}

/// The path of the score: the first root file that is MusicXML or does not say what it is.
fn root_file(container: &str) -> Option<String> {
    let mut document = Document::new(container);
    loop {
        match document.next().ok()? {
            Tag::Open(element) if element.name == "rootfile" => {
                let is_score = element.attribute("media-type").is_none_or(|kind| kind.contains("musicxml"));
                if let Some(path) = element.attribute("full-path").filter(|_| is_score) {
                    return Some(path.to_owned());
                }
            }
            Tag::End => return None,
            _ => {}
        }
    }
}

/// The first file that has the name of a score, for archives without a container file.
fn first_score(archive: &ZipArchive<Cursor<&[u8]>>) -> Option<String> {
    let names = archive.file_names().flatten();
    let mut scores = names.filter(|name| {
        let lower = name.to_lowercase();
        (lower.ends_with(".xml") || lower.ends_with(".musicxml")) && !lower.starts_with("meta-inf/")
    });
    scores.next().map(std::borrow::Cow::into_owned)
}
