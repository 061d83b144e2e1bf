//! Clefs: treble or bass on each stave of the piano, so that few notes need ledger lines and few changes are
//! needed.

/// A clef.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Clef {
    Treble,
    Bass,
}

impl Clef {
    const ALL: [Self; 2] = [Self::Treble, Self::Bass];

    /// Steps above C of octave 0 of the lowest and highest line.
    fn lines(self) -> (i32, i32) {
        match self {
            Self::Treble => (30, 38),
            Self::Bass => (18, 26),
        }
    }

    /// Ledger lines of a note.
    pub(super) fn ledgers(self, step: i32) -> u32 {
        let (low, high) = self.lines();
        (((low - step) / 2).max((step - high) / 2)).max(0).unsigned_abs()
    }

    /// MusicXML's sign and line.
    pub(super) fn sign(self) -> (&'static str, &'static str) {
        match self {
            Self::Treble => ("G", "2"),
            Self::Bass => ("F", "4"),
        }
    }
}

/// What a change of clef costs, in squared ledger lines beyond the first of each note, which every pianist reads:
/// some three chords of two notes on three lines each.
const CHANGE: u32 = 24;

/// What a bar in the other hand's clef costs: where it hardly matters, each hand has its own.
const UNUSUAL: u32 = 1;

/// The clef of each bar, for the steps of the notes in it; a bar without notes keeps its clef. The sum of
/// squared ledger lines (beyond the first of each note), changes and bars in the other clef is the least there is.
pub(super) fn clefs(bars: &[Vec<i32>], usual: Clef) -> Vec<Clef> {
    // Cost of the best way to each clef of the present bar, and which clef it came from, bar by bar.
    let mut costs = Clef::ALL.map(|clef| if clef == usual { 0 } else { CHANGE });
    let mut from: Vec<[usize; 2]> = Vec::with_capacity(bars.len());
    for steps in bars {
        let mut came = [0, 1];
        let mut next = costs;
        for (index, clef) in Clef::ALL.into_iter().enumerate() {
            let other = 1 - index;
            let (stay, change) = match costs {
                [treble, bass] if index == 0 => (treble, bass),
                [treble, bass] => (bass, treble),
            };
            // Changing before an empty bar is as good as after it; it is done as late as possible.
            let ledgers: u32 = steps.iter().map(|step| clef.ledgers(*step).saturating_sub(1).pow(2)).sum();
            let unusual = if clef == usual || steps.is_empty() { 0 } else { UNUSUAL };
            let (cost, source) =
                if change + CHANGE < stay { (change + CHANGE, other) } else { (stay, index) };
            if let (Some(next), Some(came)) = (next.get_mut(index), came.get_mut(index)) {
                *next = cost + ledgers + unusual;
                *came = source;
            }
        }
        costs = next;
        from.push(came);
    }
    let mut index = usize::from(costs[1] < costs[0] || (costs[0] == costs[1] && usual == Clef::Bass));
    let mut clefs = Vec::with_capacity(bars.len());
    for came in from.iter().rev() {
        clefs.push(if index == 0 { Clef::Treble } else { Clef::Bass });
        index = came.get(index).copied().unwrap_or(index);
    }
    clefs.reverse();
    clefs
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ledger_lines_are_counted() {
        // Middle C is one line below the treble stave and one above the bass stave.
        assert_eq!([Clef::Treble.ledgers(28), Clef::Bass.ledgers(28)], [1, 1]);
        assert_eq!(Clef::Treble.ledgers(29), 0);
        assert_eq!(Clef::Treble.ledgers(26), 2);
        assert_eq!(Clef::Bass.ledgers(14), 2);
    }

    #[test]
    fn one_low_chord_changes_nothing_and_a_low_passage_does() {
        let high = vec![30, 33, 35];
        let low = vec![21, 23, 26];
        let one = [&high, &low, &high].map(Clone::clone);
        let short = [vec![26, 28], high.clone()];
        assert_eq!(clefs(&short, Clef::Treble), [Clef::Treble; 2]);
        // After it, chords that either clef would do for bring the hand's own back.
        let middle = vec![26, 28, 30];
        let mut back = vec![low.clone(); 6];
        back.extend(std::iter::repeat_n(middle, 26));
        let found = clefs(&back, Clef::Treble);
        assert_eq!((found[5], found[18]), (Clef::Bass, Clef::Treble));
        let long = [&high, &low, &low, &low, &low, &low, &high, &high].map(Clone::clone);
        let found = clefs(&long, Clef::Treble);
        assert_eq!(found[2], Clef::Bass);
        assert_eq!((found[0], found[6]), (Clef::Treble, Clef::Treble));
        let changes = |clefs: &[Clef]| clefs.windows(2).filter(|pair| pair[0] != pair[1]).count();
        assert_eq!(changes(&found), 2);
        assert!(changes(&clefs(&one, Clef::Treble)) <= 2);
    }
}
