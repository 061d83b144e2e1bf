//! Whether a soundfont's lists refer to what is there: SoundFont 2.04, section 7 (the `pdta` lists).
//!
//! Presets and instruments each name their first zone, zones their first generator; the last record of each list
//! closes it. Not checked here: samples, which the player's library checks.

/// A list of records that point into another: its name, the size of its records, where in one the index stands,
/// the list pointed into, and the size of that one's records.
type Link = ([u8; 4], usize, usize, [u8; 4], usize);

const LINKS: [Link; 4] = [
    (*b"phdr", 38, 24, *b"pbag", 4),
    (*b"pbag", 4, 0, *b"pgen", 4),
    (*b"inst", 22, 20, *b"ibag", 4),
    (*b"ibag", 4, 0, *b"igen", 4),
];

/// Checks the lists of a file that begins as a soundfont does.
///
/// # Errors
/// What is wrong, in words.
pub(super) fn check(bytes: &[u8]) -> Result<(), &'static str> {
    const BREAKS_OFF: &str = "it breaks off";
    let top = chunks(bytes.get(12..).ok_or(BREAKS_OFF)?).ok_or(BREAKS_OFF)?;
    let is_list = |(id, content): &&(&[u8], &[u8])| *id == b"LIST" && content.starts_with(b"pdta");
    let lists = top
        .iter()
        .find(is_list)
        .and_then(|(_, content)| content.get(4..))
        .ok_or("its list of presets is missing")?;
    let lists = chunks(lists).ok_or(BREAKS_OFF)?;
    let list = |name: [u8; 4]| lists.iter().find(|(id, _)| *id == name).map(|(_, content)| *content);
    for (name, size, at, target, target_size) in LINKS {
        let missing = "a list of its parts is missing";
        let (list, target) = (list(name).ok_or(missing)?, list(target).ok_or(missing)?);
        let count = target.len() / target_size;
        let mut before = 0;
        for record in list.chunks_exact(size) {
            let index = match record.get(at..at + 2) {
                Some([low, high]) => usize::from(u16::from_le_bytes([*low, *high])),
                _ => return Err(BREAKS_OFF),
            };
            // The closing record of a list points to the closing record of the other.
            if index < before || index >= count {
                return Err("its parts refer to what is not there");
            }
            before = index;
        }
    }
    Ok(())
}

/// The chunks in a row, each with its name and content; `None` where one is longer than what is left.
fn chunks(mut bytes: &[u8]) -> Option<Vec<(&[u8], &[u8])>> {
    let mut chunks = Vec::new();
    while bytes.len() >= 8 {
        let (id, rest) = bytes.split_at_checked(4)?;
        let (size, rest) = rest.split_at_checked(4)?;
        let size = u32::from_le_bytes(size.try_into().ok()?) as usize;
        chunks.push((id, rest.get(..size)?));
        bytes = rest.get(size + size % 2..).unwrap_or_default();
    }
    Some(chunks)
}
