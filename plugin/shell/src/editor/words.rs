//! What each control does, in a player's words.

use crate::params::Control;

/// One or two sentences for a tooltip.
pub(crate) fn about(control: Control) -> &'static str {
    match control.id() {
        "bypass" => "Lets everything through as you play it and adds nothing.",
        "manner" => "The way of playing: which figures, how many parts, how low, how strong.",
        "elaboration" => {
            "How much the accompaniment does, from chords as they are held to a part with lines of its own. \
             Between two names it leans towards the nearer."
        }
        "wait" => "How long a melody note has to stand, in beats, before the accompaniment begins to move.",
        "space" => "How many of the moments in which it could move are left empty on purpose.",
        "source" => "How your melody is told from your chords.",
        "split" => "Keys below this one are chords, the others melody.",
        "melody_channel" => "The MIDI channel that your melody comes on.",
        "chord_channel" => "The MIDI channel that your chords come on.",
        "latch" => "The chord goes on when you let its keys go, until the next one.",
        "reach" => "How far one hand may stretch, in semitones.",
        "clarity" => {
            "How high close intervals begin. Clearer keeps low chords open, fuller lets them lie closer."
        }
        "one_player" => {
            "The right hand holds the melody as well, so the accompaniment keeps within two hands of one player."
        }
        "level" => "How loud the accompaniment is against what the manner asks, in velocity steps.",
        "pedal" => "Uses the sustain pedal, lifted at every change of chord.",
        "dry" => "An exact part: no accents, no spread chords, no pedal. For editing afterwards.",
        "tempo" => "The tempo when the host gives none, in quarter notes a minute.",
        "seed" => "Another number gives other variations; the same number gives the same notes.",
        "finish" => "The next chord is the last: spread, and climbing past the melody.",
        "outputs" => "Everything on one channel, or melody, right hand and left hand on channels 1, 2 and 3.",
        "audition" => "A soft piano to listen with. Off unless you turn it up.",
        "colour" => {
            "Which notes besides those of the chord are taken in: none, those that your melody brings, or \
             ninths as well."
        }
        "start" => {
            "When it begins to move: once a note has stood for the wait, or at once under a note that is \
             likely to be long."
        }
        "swing" => "How far eighth notes swing. At 0 % as the manner has it.",
        "sheet" => "What a loaded sheet gives while the host plays; you play the rest.",
        "sheet_bar" => "The bar of the host in which the sheet's first bar falls.",
        _ => "",
    }
}
