//! The chunks of a Standard MIDI File: header and tracks, bare or in a RIFF wrapper.
//!
//! Done here rather than by midly, which (0.5.3) overflows on a time division of 0x80xx.

use crate::SheetError;

/// Header and tracks.
pub(super) struct Chunks<'a> {
    /// 0, 1 or 2.
    pub(super) format: u16,
    /// Ticks to the quarter, or with the top bit set SMPTE frames.
    pub(super) division: u16,
    /// The bytes of each track.
    pub(super) tracks: Vec<&'a [u8]>,
}

/// Takes a file apart. Chunks of other kinds are passed over, and a last chunk that the file's end cuts off is
/// taken as far as it goes.
///
/// # Errors
/// [`SheetError::Midi`] where there is no header.
pub(super) fn read(bytes: &[u8]) -> Result<Chunks<'_>, SheetError> {
    let error = |what: &str| SheetError::Midi {
        what: format!("not a readable Standard MIDI File ({what})"),
        hint: "export it again as a .mid file of type 0 or 1",
    };
    let bytes = if bytes.starts_with(b"RIFF") {
        unwrap_riff(bytes).ok_or_else(|| error("its RIFF wrapper holds no data"))?
    } else {
        bytes
    };
    let (id, header, mut rest) = chunk(bytes, u32::from_be_bytes).ok_or_else(|| error("it is too short"))?;
    if id != *b"MThd" {
        return Err(error("it does not begin with MThd"));
    }
    let word = |at: usize| Some(u16::from_be_bytes([*header.get(at)?, *header.get(at + 1)?]));
    let (Some(format), Some(division)) = (word(0), word(4)) else {
        return Err(error("its header is cut off"));
    };
    let mut tracks = Vec::new();
    while let Some((id, data, after)) = chunk(rest, u32::from_be_bytes) {
        if id == *b"MTrk" {
            tracks.push(data);
        }
        rest = after;
    }
    Ok(Chunks { format, division, tracks })
}

/// A chunk's name and bytes, and what follows it. `None` where not even its length is there.
fn chunk(bytes: &[u8], length: impl Fn([u8; 4]) -> u32) -> Option<([u8; 4], &[u8], &[u8])> {
    let (id, rest) = bytes.split_first_chunk::<4>()?;
    let (size, rest) = rest.split_first_chunk::<4>()?;
    let size = usize::try_from(length(*size)).unwrap_or(usize::MAX).min(rest.len());
    let (data, rest) = rest.split_at_checked(size)?;
    Some((*id, data, rest))
}

/// The `data` chunk of a RIFF file, whose lengths have the least byte first and are padded to even.
fn unwrap_riff(bytes: &[u8]) -> Option<&[u8]> {
    let (_, form, _) = chunk(bytes, u32::from_le_bytes)?;
    let mut rest = form.strip_prefix(b"RMID")?;
    while let Some((id, data, after)) = chunk(rest, u32::from_le_bytes) {
        if id == *b"data" {
            return Some(data);
        }
        rest = if data.len() % 2 == 1 { after.get(1..)? } else { after };
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bare_and_wrapped() {
        let file = b"MThd\0\0\0\x06\0\x01\0\x01\x01\xe0junk\0\0\0\x01xMTrk\0\0\0\x04\0\xff\x2f\0";
        let mut wrapped = b"RIFF".to_vec();
        wrapped.extend((file.len() as u32 + 12).to_le_bytes());
        wrapped.extend(b"RMIDdata");
        wrapped.extend((file.len() as u32).to_le_bytes());
        wrapped.extend(file);
        for bytes in [file.as_slice(), &wrapped] {
            let chunks = read(bytes).expect("chunks");
            assert_eq!((chunks.format, chunks.division), (1, 480));
            assert_eq!(chunks.tracks, [b"\0\xff\x2f\0"]);
        }
        assert!(read(b"MThd\0\0\0\x06\0").is_err());
        assert!(read(b"RIFF\x04\0\0\0RMID").is_err());
    }
}
