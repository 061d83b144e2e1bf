//! How loud the accompaniment is, before accents: under the melody, with it, and with the piece.

use crate::reading::Reading;
use crate::settings::Settings;

/// Velocity steps from no tension to full. Common practice, no source.
const LEAN: i32 = 6;
/// Velocity steps for each octave that the melody rises, at full following. Common practice, no source; of
/// the size of the rule "high loud", 3 dB an octave (Friberg, Bresin and Sundberg, Overview of the KTH rule system for
/// musical performance, Advances in Cognitive Psychology 2, 2006, 145–161; from memory).
const PER_OCTAVE: i32 = 12;
/// The melody's strength as far as a dry part is concerned.
const DRY_MELODY: i32 = 72;

/// Velocity of the melody as the accompaniment reckons with it, 1 to 127: louder where the player has asked for a louder
/// accompaniment.
pub(super) fn melody(reading: &Reading, settings: &Settings) -> u8 {
    (i32::from(reading.melody_velocity) + i32::from(settings.level.max(0))).clamp(1, 127) as u8
}

/// Velocity of the moment, 1 to 127: the manner's distance below the melody, with what tension, the melody's
/// height and the piece's build add. A dry part has one velocity throughout.
pub(super) fn dynamics(reading: &Reading, settings: &Settings) -> u8 {
    let manner = &settings.manner;
    let under = i32::from(settings.level) - i32::from(manner.under_melody);
    if settings.dry {
        return (DRY_MELODY + under).clamp(1, 127) as u8;
    }
    let lean = i32::from(reading.tension) * LEAN / 100;
    let with_melody = i32::from(reading.melody_height) * i32::from(manner.follow) * PER_OCTAVE / 1200;
    let build = i32::from(manner.build) * i32::from(reading.form.build) / 100;
    (i32::from(reading.melody_velocity) + under + lean + with_melody + build).clamp(1, 127) as u8
}
