//! The weights of a voicing's cost, all of them, and what each is for.
//!
//! cost = Σ weight × how far a wish is missed, in tenths of a step of a part. Rules that must hold are no weights and
//! stand in the voicing search. A manner may change any weight from 0 (no matter) to [`MOST`]; the numbers here are
//! the usual ones. Sources say what is wished for; the sizes of the weights themselves are by trial. In short:
//! *Gehrkens* is Music Notation and Terminology (1914); *Kothman* a course page on part-writing (2008); *Lowell and
//! Pullig* Arranging for Large Jazz Ensemble (Berklee Press 2003); *Open Music Theory* the textbook of Shaffer, Hughes
//! and Moseley (2014), its page on the basso continuo style; *Rimsky-Korsakov* Principles of Orchestration (1922),
//! vol. I ch. III.

/// The largest weight.
pub const MOST: u8 = 250;

macro_rules! weights {
    ($($(#[$doc:meta])* $name:ident = $usual:literal,)*) => {
        /// Weights, 0 to [`MOST`] each.
        #[derive(Clone, Copy, Debug, PartialEq, Eq)]
        pub struct Weights {
            $($(#[$doc])* pub $name: u8,)*
        }

        impl Default for Weights {
            fn default() -> Self {
                Self { $($name: $usual,)* }
            }
        }

        impl Weights {
            /// Their names.
            pub const NAMES: &'static [&'static str] = &[$(stringify!($name),)*];

            /// Changes the weight of that name. `false` if there is none, or the value is above [`MOST`].
            pub fn set(&mut self, name: &str, value: u8) -> bool {
                let slot = match name {
                    $(stringify!($name) => &mut self.$name,)*
                    _ => return false,
                };
                if value > MOST {
                    return false;
                }
                *slot = value;
                true
            }

            /// The same weights, none above [`MOST`].
            #[must_use]
            pub fn in_range(self) -> Self {
                Self { $($name: self.$name.min(MOST),)* }
            }
        }
    };
}

weights! {
    /// A part's way to the nearest note of the voicing before, per semitone (Open Music Theory, law of the shortest way).
    motion = 10,
    /// The bass's way, per semitone beyond a fifth: basses leap, but not for nothing. Common practice, no source.
    bass_leap = 4,
    /// The bass below its zone (F2 to E3 of a range from C2 to G3), per semitone. Common practice, no source.
    bass_low = 4,
    /// The bass above its zone, per semitone: there it has no room for wide spacing. Common practice, no source.
    bass_high = 16,
    /// A bass too low over its assumed root, per semitone (Lowell and Pullig).
    murk = 8,
    /// The roughness of two neighbours (Hutchinson and Knopoff), per 32 of its steps of 1/250.
    rough = 14,
    /// A gap narrower than its register wants (`roomy` in the voicing cost), per semitone (Rimsky-Korsakov).
    narrow = 5,
    /// A gap that is wider than the one below it, per semitone (Rimsky-Korsakov).
    uneven = 3,
    /// A gap over an octave between parts above the bass, per semitone (Kothman).
    wide = 7,
    /// The lowest gap over an octave, per semitone (Rimsky-Korsakov: rarely).
    wide_bass = 4,
    /// The top part outside its band, a third to a minor seventh under the melody's level, per semitone.
    /// Common practice, no source.
    off_register = 4,
    /// A part that no hand will reach under the melody's highest note to come, but for a guide tone, which counts as left
    /// out. Common practice, no source.
    let_go = 16,
    /// Every note of the left hand beyond two. Common practice, no source.
    left_hand_full = 16,
    /// The span of the parts above the bass on the rung Spaced, per semitone. Common practice, no source.
    together = 4,
    /// A part fewer than the moment asks for. Common practice, no source.
    thin = 50,
    /// A perfect fifth left out (Gehrkens, § 201; Kothman: first to go).
    no_fifth = 12,
    /// A colour tone of the symbol left out. Common practice, no source.
    no_colour = 40,
    /// A guide tone left out where not all of them could be asked for (Kothman: never the third).
    no_guide = 80,
    /// The root left out over another bass, which makes another chord of it: E flat over B flat without its root is G
    /// minor. Common practice, no source.
    no_root = 70,
    /// The root doubled above the bass.
    doubled_root = 10,
    /// The fifth doubled.
    doubled_fifth = 14,
    /// The third doubled, by another part or by the melody (Open Music Theory, softened).
    doubled_third = 26,
    /// Any tone that the melody has too: its place is better spent. Common practice, no source.
    doubled_melody = 8,
    /// A colour tone that the melody has too. Common practice, no source.
    doubled_colour = 40,
    /// A chord seventh or leading tone of the chord before that could go to its step and doesn't (Open Music
    /// Theory: the seventh resolves down, the leading tone up, by step).
    unresolved = 24,
    /// Parallel fifths or octaves between bass and top part (Open Music Theory).
    parallel = 240,
    /// The same between bass and melody, where the bass may go the other way (Open Music Theory).
    parallel_melody = 24,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn weights_are_known_by_name() {
        let mut weights = Weights::default();
        for name in Weights::NAMES {
            assert!(weights.set(name, 7), "{name}");
            assert!(!weights.set(name, MOST + 1));
        }
        assert!(!weights.set("nonsense", 1));
        assert_eq!((weights.motion, weights.parallel), (7, 7));
        assert_eq!(Weights::default().in_range(), Weights::default());
    }
}
