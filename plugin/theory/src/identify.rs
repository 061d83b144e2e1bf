//! Naming a held chord: from sounding pitches to a [`Chord`].
