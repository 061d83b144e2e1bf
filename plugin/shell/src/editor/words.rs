//! What each control does, in a player's words.

use crate::params::Control;

/// One or two sentences for a tooltip.
pub(crate) fn about(control: Control) -> &'static str {
    match control {
        Control::Bypass => "Lets everything through as you play it and adds nothing.",
        Control::Manner => "The way of playing: which figures, how many parts, how low, how strong.",
        Control::Elaboration => {
            "How much the accompaniment does, from chords as they are held to a part with lines of its own. \
             Between two names some bars play as the upper one already: the nearer to it, the more."
        }
        Control::Wait => {
            "How long a melody note has to stand, in beats, before the accompaniment begins to move."
        }
        Control::Space => "How many of the moments in which it could move are left empty on purpose.",
        Control::Source => "How your melody is told from your chords.",
        Control::Split => "Keys below this one are chords, the others melody.",
        Control::MelodyChannel => "The MIDI channel that your melody comes on.",
        Control::ChordChannel => "The MIDI channel that your chords come on.",
        Control::Latch => "The chord goes on when you let its keys go, until the next one.",
        Control::Reach => "How far one hand may stretch, in semitones.",
        Control::Clarity => {
            "How high close intervals begin. Clearer keeps low chords open, fuller lets them lie closer."
        }
        Control::OnePlayer => {
            "The right hand holds the melody as well, so the accompaniment keeps within two hands of one player."
        }
        Control::Level => "How loud the accompaniment is against what the manner asks, in velocity steps.",
        Control::Pedal => "Uses the sustain pedal, lifted at every change of chord.",
        Control::Dry => "An exact part: no accents, no spread chords, no pedal. For editing afterwards.",
        Control::Tempo => "The tempo when the host gives none, in quarter notes a minute.",
        Control::Seed => "Another number gives other variations; the same number gives the same notes.",
        Control::Finish => "The next chord is the last: spread, and climbing past the melody.",
        Control::Outputs => {
            "Everything on one channel, or melody, right hand and left hand on channels 1, 2 and 3."
        }
        Control::Audition => "A soft piano to listen with. Off unless you turn it up.",
        Control::Colour => {
            "Which notes besides those of the chord are taken in: none, those that your melody brings, or \
             ninths as well."
        }
        Control::Start => {
            "When it begins to move: once a note has stood for the wait, or at once under a note that is \
             likely to be long."
        }
        Control::Swing => "How far eighth notes swing. At 0 % as the manner has it.",
        Control::Sheet => "What a loaded sheet gives while the host plays; you play the rest.",
        Control::SheetBar => "The bar of the host in which the sheet's first bar falls.",
    }
}
