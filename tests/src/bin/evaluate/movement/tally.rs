//! Sums over tunes.

use ::tests::movement::{Entry, Measures, Rate, Share};

/// What all tunes come to in one way of playing.
#[derive(Clone, Debug, Default)]
pub(super) struct Tally {
    /// Sorted.
    pub(super) ratios: Vec<f64>,
    pub(super) filled: Share,
    pub(super) on_busy_beats: Share,
    pub(super) moving_on_busy_beats: Share,
    pub(super) busy_beats: Share,
    pub(super) thin: Share,
    pub(super) beats_off: usize,
    pub(super) hanging: usize,
    pub(super) unpaired: usize,
    pub(super) chord_tones: Share,
    pub(super) types: [usize; 12],
    pub(super) across_hands: usize,
    pub(super) strong: Share,
    pub(super) without_chord: usize,
    pub(super) bass_steps: Share,
    pub(super) varieties: Vec<f64>,
    pub(super) entries: Vec<Entry>,
    /// Tune and description.
    pub(super) undefined: Vec<(String, String)>,
    /// Tune, place, what was meant.
    pub(super) unfilled: Vec<(String, String, String)>,
    pub(super) rates: [Rate; 3],
}

impl Tally {
    pub(super) fn add(&mut self, tune: &str, found: &Measures) {
        self.ratios.extend(found.ratio);
        self.ratios.sort_unstable_by(f64::total_cmp);
        self.filled.add(found.filled);
        self.on_busy_beats.add(found.on_busy_beats);
        self.moving_on_busy_beats.add(found.moving_on_busy_beats);
        self.busy_beats.add(found.busy_beats);
        self.thin.add(found.thin);
        self.beats_off += found.beats_off;
        self.hanging += found.hanging;
        self.unpaired += found.unpaired;
        self.chord_tones.add(found.chord_tones);
        for (sum, count) in self.types.iter_mut().zip(found.types) {
            *sum += count;
        }
        self.across_hands += found.across_hands;
        self.strong.add(found.strong);
        self.without_chord += found.without_chord;
        self.bass_steps.add(found.bass_steps);
        self.varieties.extend(&found.varieties);
        self.entries.extend(&found.entries);
        self.undefined.extend(found.undefined.iter().map(|what| (tune.to_owned(), what.clone())));
        for (place, what) in &found.unfilled {
            self.unfilled.push((tune.to_owned(), place.clone(), what.clone()));
        }
        for (sum, rate) in self.rates.iter_mut().zip(found.rates) {
            sum.add(rate);
        }
    }

    /// Another manner's, too, without its findings.
    pub(super) fn join(&mut self, other: &Self) {
        self.ratios.extend(&other.ratios);
        self.ratios.sort_unstable_by(f64::total_cmp);
        self.filled.add(other.filled);
        self.on_busy_beats.add(other.on_busy_beats);
        self.moving_on_busy_beats.add(other.moving_on_busy_beats);
        self.busy_beats.add(other.busy_beats);
        self.thin.add(other.thin);
        self.beats_off += other.beats_off;
        self.hanging += other.hanging;
        self.unpaired += other.unpaired;
        self.chord_tones.add(other.chord_tones);
        for (sum, count) in self.types.iter_mut().zip(other.types) {
            *sum += count;
        }
        self.across_hands += other.across_hands;
        self.strong.add(other.strong);
        self.without_chord += other.without_chord;
        self.bass_steps.add(other.bass_steps);
        self.varieties.extend(&other.varieties);
        self.entries.extend(&other.entries);
        self.undefined.extend(other.undefined.iter().cloned());
        for (sum, rate) in self.rates.iter_mut().zip(other.rates) {
            sum.add(rate);
        }
    }

    /// Non-chord tones, and those that meet a definition.
    pub(super) fn defined(&self) -> Share {
        let count = self.types.iter().sum();
        Share { count, of: count + self.undefined.len() }
    }
}

/// A percentile of sorted values.
pub(super) fn percentile(sorted: &[f64], percent: usize) -> Option<f64> {
    sorted.get((sorted.len() * percent / 100).min(sorted.len().checked_sub(1)?)).copied()
}

/// Mean.
pub(super) fn mean(values: &[f64]) -> Option<f64> {
    (!values.is_empty()).then(|| values.iter().sum::<f64>() / values.len() as f64)
}
