//! Patience with a melody that only seems to stand.

use figwort_theory::{Moment, Span};

use super::Scene;

/// What keeps figures from flickering: after two in a row that had to give way at once, the melody has to stand
/// for half a beat longer, for a while.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Patience {
    /// Since when figures have been running.
    since: Option<Moment>,
    /// When one was last cut short, and how many in a row.
    cut: Option<Moment>,
    cuts: u8,
}

impl Patience {
    /// Beats for which it lasts.
    const LASTS: i64 = 8;
    /// How many have to be cut short.
    const TIMES: u8 = 2;

    /// Takes in what is played from now on.
    pub(super) fn hear(&mut self, now: Moment, beat: Span, figure: bool, moving: bool) {
        match self.since {
            None if figure => self.since = Some(now),
            Some(since) if !figure => {
                // A half note after a beat's wait leaves about a beat. What a bar line began in the moment in
                // which the melody went on hasn't been heard.
                let lasted = (now - since).0;
                let heard = lasted * 8 > beat.0;
                let hasty = moving && heard && lasted * 5 < beat.0 * 3;
                if hasty {
                    self.cut = Some(now);
                    self.cuts = self.cuts.saturating_add(1);
                } else if moving && heard {
                    self.cuts = 0;
                }
                self.since = None;
            }
            _ => {}
        }
    }

    /// How much longer a melody has to stand. Where its notes are known beforehand there is nothing to wait for.
    pub(super) fn more(&self, scene: &Scene<'_>, now: Moment, beat: Span) -> Span {
        let known = scene.chart_melody().is_some();
        let lasts = self.cuts >= Self::TIMES && self.cut.is_some_and(|cut| now - cut < beat * Self::LASTS);
        if lasts && !known { beat.fraction(1, 2) } else { Span::ZERO }
    }
}
