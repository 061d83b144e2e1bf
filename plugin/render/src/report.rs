//! What was played, bar by bar, as values, as a table, as JSON.
//!
//! Times are in felt beats unless a name says quarters; places in a bar count from 1, and a pick-up ends
//! where the next bar's first beat begins. Measures are plain counts of the performance; nothing is judged.

mod bars;
mod measures;
mod table;

use serde::Serialize;

use crate::perform::Performance;

pub use table::table;

/// A whole report.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Report {
    /// The sheet's title; empty for a take.
    pub title: String,
    /// Length in seconds, ringing out not counted.
    pub seconds: f64,
    /// Bar by bar.
    pub bars: Vec<BarReport>,
    /// Over the whole performance.
    pub totals: Totals,
}

/// One bar.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct BarReport {
    /// Number as written; a pick-up is 0.
    pub number: u32,
    /// Its beginning in quarters from the music's beginning.
    pub start_quarters: f64,
    /// Its length in felt beats.
    pub beats: f64,
    /// Its time signature.
    pub metre: String,
    /// Chord symbols, with where they begin; one that lasts on from before stands at 1.
    pub chords: Vec<ChordAt>,
    /// What the melody did.
    pub melody: MelodyReport,
    /// Textures in the order they came, no two neighbours alike; none but silence where neither hand sounds.
    pub textures: Vec<&'static str>,
    /// Figures in use, by their ids, each once; none where neither hand sounds.
    pub figures: Vec<u16>,
    /// Fewest and most parts of the voicings in use.
    pub parts: Option<Range<u8>>,
    /// Softest and loudest accompaniment note, as velocities.
    pub dynamics: Option<Range<u8>>,
    /// Notes begun, by hand.
    pub onsets: Onsets,
    /// Pedal movements.
    pub pedal_changes: usize,
    /// The engine's decisions in this bar.
    pub decisions: Vec<DecisionReport>,
}

/// A chord symbol at its place.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ChordAt {
    /// Felt beat, from 1.
    pub beat: f64,
    /// The symbol.
    pub symbol: String,
}

/// What the melody did in a bar, in felt beats; the three together make the bar.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
pub struct MelodyReport {
    /// Beats of it standing still.
    pub still: f64,
    /// Beats of it moving.
    pub moving: f64,
    /// Beats without a melody note.
    pub resting: f64,
}

/// Least and most of something.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct Range<T> {
    /// Least.
    pub from: T,
    /// Most.
    pub to: T,
}

/// Notes by hand.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Onsets {
    /// The melody's.
    pub melody: usize,
    /// The right hand's, the melody not counted.
    pub right: usize,
    /// The left hand's.
    pub left: usize,
}

/// A decision of the engine.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct DecisionReport {
    /// Felt beat in the bar, from 1.
    pub beat: f64,
    /// The chord in force, spelled for the bar's key.
    pub chord: Option<String>,
    /// `moving`, `still` or `resting`.
    pub melody: &'static str,
    /// The texture's name.
    pub texture: &'static str,
    /// The figure's id.
    pub figure: Option<u16>,
    /// Parts of the voicing, bass included.
    pub parts: u8,
    /// Velocity before accents.
    pub dynamics: u8,
}

/// Measures over the whole performance.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Totals {
    /// Notes by hand.
    pub notes: Onsets,
    /// Accompaniment attacks a beat within the first beat of melody notes. Notes begun within a thirty-second
    /// of each other are one attack.
    pub attacks_in_first_beat: f64,
    /// Accompaniment attacks a beat while a melody note has been held for more than a beat.
    pub attacks_while_held: f64,
    /// The second divided by the first; `None` where no note was held that long or nothing was played.
    pub held_to_first_beat: Option<f64>,
    /// Share of the time with 0, 1, 2 … 6, and 7 or more notes sounding, all hands together.
    pub sounding_share: [f64; 8],
    /// Share of the time in which the pedal is down.
    pub pedal_share: f64,
    /// Pedal movements.
    pub pedal_changes: usize,
    /// Notes that never ended; always 0 unless the engine is at fault.
    pub hanging_notes: usize,
}

/// Measures a performance.
pub fn report(performance: &Performance) -> Report {
    let rate = f64::from(performance.sample_rate.max(1));
    Report {
        title: performance.title.clone(),
        seconds: performance.end_frame as f64 / rate,
        bars: bars::bars(performance),
        totals: measures::totals(performance),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sample;

    /// Counted by hand on the two-bar sample.
    #[test]
    fn bars_are_counted_rightly() {
        let report = report(&sample::two_bars());
        assert_eq!(report.bars.len(), 3);
        let [pick_up, first, second] = &report.bars[..] else { panic!("three bars") };
        assert_eq!((pick_up.number, pick_up.beats), (0, 1.0));
        assert!(pick_up.chords.is_empty());
        assert_eq!(pick_up.onsets, Onsets { melody: 2, right: 0, left: 0 });
        assert_eq!(first.onsets, Onsets { melody: 2, right: 2, left: 3 });
        assert_eq!(first.melody, MelodyReport { still: 3.0, moving: 1.0, resting: 0.0 });
        assert_eq!(first.textures, ["broken chord", "block"]);
        assert_eq!(first.parts, Some(Range { from: 5, to: 5 }));
        assert_eq!(first.dynamics, Some(Range { from: 56, to: 62 }));
        assert_eq!(first.chords, [ChordAt { beat: 1.0, symbol: "Ebmaj7".into() }]);
        assert_eq!(first.decisions.len(), 2);
        assert_eq!((first.decisions[1].beat, first.decisions[1].melody), (4.0, "moving"));
        assert_eq!(second.melody, MelodyReport { still: 1.0, moving: 3.0, resting: 0.0 });
        assert_eq!(second.pedal_changes, 2);
        assert_eq!(report.seconds, 9.0);
    }

    /// A chord struck a few milliseconds before the bar line is the next bar's.
    #[test]
    fn early_hands_count_in_the_bar_they_mean() {
        let mut performance = sample::two_bars();
        for note in performance.notes.iter_mut().filter(|note| note.at >= figwort_theory::Moment::quarters(5))
        {
            note.at += figwort_theory::Span(-900);
        }
        performance.decisions[3].at += figwort_theory::Span(-900);
        let report = report(&performance);
        assert_eq!(report.bars[1].onsets, Onsets { melody: 2, right: 2, left: 3 });
        assert_eq!(report.bars[2].onsets, Onsets { melody: 5, right: 2, left: 2 });
        assert_eq!((report.bars[1].decisions.len(), report.bars[2].decisions[0].beat), (2, 1.0));
        for bar in &report.bars {
            let MelodyReport { still, moving, resting } = bar.melody;
            assert!((still + moving + resting - bar.beats).abs() < 1e-9);
        }
    }

    /// What was decided is told as decided, and what did not sound not as played. A note that is held over the bar line
    /// sounds, one let go on it does not.
    #[test]
    fn what_did_not_sound_was_not_played() {
        use figwort_engine::Hand;
        let mut performance = sample::two_bars();
        let second = performance.bars[2].start;
        performance.notes.retain(|note| note.hand == Hand::Melody || note.at < second);
        let silent = report(&performance);
        assert_eq!(silent.bars[1].textures, ["broken chord", "block"]);
        let bar = &silent.bars[2];
        assert!(bar.textures.is_empty() && bar.figures.is_empty() && bar.parts.is_none());
        assert_eq!((bar.decisions[0].texture, bar.melody.moving), ("block", 3.0));
        let bass = performance.notes.iter_mut().find(|note| note.hand == Hand::Left).expect("a bass");
        bass.length += figwort_theory::Span::QUARTER;
        assert_eq!(report(&performance).bars[2].textures, ["block"]);
    }

    /// By hand: the first beats of nine notes are 6 × ½ + 3 × 1 = 6 beats, with attacks on the first beat of
    /// bar 1 (bass, and one broken note after it) and of bar 2 (chord): 3. Held longer are the notes of three
    /// and of two beats: 2 + 1 beats, with three attacks.
    #[test]
    fn motion_under_held_notes() {
        let totals = report(&sample::two_bars()).totals;
        assert_eq!(totals.attacks_in_first_beat, 0.5);
        assert_eq!(totals.attacks_while_held, 1.0);
        assert_eq!(totals.held_to_first_beat, Some(2.0));
        assert_eq!(totals.notes, Onsets { melody: 9, right: 4, left: 5 });
        // The pick-up has one note, the last four beats five; 1, 2, 3, 4, 5 and 6 in between.
        assert!((totals.sounding_share.iter().sum::<f64>() - 1.0).abs() < 1e-9);
        assert!((totals.sounding_share[1] - 1.0 / 9.0).abs() < 1e-9);
        assert!((totals.sounding_share[2] - 0.5 / 9.0).abs() < 1e-9);
        assert!((totals.sounding_share[5] - 4.5 / 9.0).abs() < 1e-9);
        assert!((totals.pedal_share - 7.0 / 9.0).abs() < 1e-9);
    }

    #[test]
    fn it_is_said_in_json_as_well() {
        let value = serde_json::to_value(report(&sample::two_bars())).unwrap();
        assert_eq!(value["bars"][1]["melody"]["still"], 3.0);
        assert_eq!(value["bars"][1]["textures"][0], "broken chord");
        assert_eq!(value["bars"][2]["chords"][0]["symbol"], "Bb7b9/F");
        assert_eq!(value["totals"]["notes"]["left"], 5);
    }

    #[test]
    fn an_empty_performance_has_an_empty_report() {
        let report = report(&Performance::default());
        assert!(report.bars.is_empty() && report.totals.held_to_first_beat.is_none());
        assert_eq!(report.totals.sounding_share, [0.0; 8]);
    }
}
