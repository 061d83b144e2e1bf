//! How a simulated player's chords were heard: counted over every change, with examples to read.

use figwort_engine::{Figure, Hand, OutputMessage, Settings};
use figwort_theory::{Chord, ChordSymbol, Key, Pitch};

use super::{Hands, Heard, Performance, Rhythm, SOURCE, Struck, frames, listen, millis, perform};

/// How one way of playing was heard.
#[derive(Clone, Debug, Default)]
pub struct Tally {
    pub changes: usize,
    /// The old chord sounded anew within 80 ms before the new one.
    pub old_before: usize,
    /// A pitch of the new chord was struck twice within 150 ms.
    pub twice: usize,
    /// A note of the new chord was taken back within 150 ms.
    pub taken_back: usize,
    /// The first sound came later than 35 ms after the first key.
    pub late: usize,
    /// Within 150 ms something sounded that isn't in the chord, or another bass sounded first.
    pub false_notes: usize,
    /// The root first struck wasn't the root understood in the end.
    pub other_root_first: usize,
    /// A root was left and came back after the first sound.
    pub back_and_forth: usize,
    /// In the end, other notes or another bass than held.
    pub wrong: usize,
    /// Nothing was struck for the chord.
    pub unheard: usize,
    /// Milliseconds from the completing key to the first sound, and from the first key.
    pub after_complete: Vec<f64>,
    pub after_first: Vec<f64>,
    /// Bar lines without a change near, and those of them that passed without a stroke.
    pub lasting_bars: usize,
    pub unstruck_bars: usize,
    /// Examples of failures, for reading.
    pub examples: Vec<String>,
}

impl Tally {
    pub fn add(&mut self, other: Tally) {
        self.changes += other.changes;
        self.old_before += other.old_before;
        self.twice += other.twice;
        self.taken_back += other.taken_back;
        self.late += other.late;
        self.false_notes += other.false_notes;
        self.other_root_first += other.other_root_first;
        self.back_and_forth += other.back_and_forth;
        self.wrong += other.wrong;
        self.unheard += other.unheard;
        self.after_complete.extend(other.after_complete);
        self.after_first.extend(other.after_first);
        self.lasting_bars += other.lasting_bars;
        self.unstruck_bars += other.unstruck_bars;
        self.examples.extend(other.examples);
    }

    pub fn share(&self, count: usize) -> f64 {
        100.0 * count as f64 / self.changes.max(1) as f64
    }
}

/// The value that a share of the list doesn't exceed.
pub fn percentile(list: &[f64], share: f64) -> f64 {
    let mut sorted = list.to_vec();
    sorted.sort_by(f64::total_cmp);
    let index = ((sorted.len() as f64 - 1.0) * share).ceil().max(0.0) as usize;
    sorted.get(index).copied().unwrap_or(f64::NAN)
}

fn symbol(chord: &Chord) -> String {
    ChordSymbol::of(*chord, Key::default()).to_string()
}

/// Measures how the changes of a performance were heard.
pub fn measure(performance: &Performance, heard: &Heard) -> Tally {
    let mut tally = Tally::default();
    let chords = &performance.chords;
    for (n, pair) in chords.windows(2).enumerate() {
        let (old, new) = (&pair[0], &pair[1]);
        let next = chords.get(n + 2).map_or(performance.length, Struck::first);
        tally.changes += 1;
        let before = heard.chord_at(new.first() - 1);
        // The new chord's: another chord is in force, or was decided on anew with three of its keys.
        let third = new.keys[2].0;
        let strike = heard.onsets(new.first(), next).map(|(frame, _)| frame).find(|frame| {
            let chord = heard.chord_at(*frame);
            chord != before
                || heard.chords(new.first(), *frame + 1).len() > 1
                || *frame >= new.first() + frames(35.0)
                || *frame >= third && heard.decisions.iter().any(|(at, _)| at == frame)
        });
        let Some(strike) = strike else {
            tally.unheard += 1;
            tally.examples.push(format!("unheard {} {:?} after {:?}", new.name, new.keys, old.keys));
            continue;
        };
        let mut note = |count: &mut usize, what: &str| {
            *count += 1;
            let names: Vec<String> =
                heard.chords(new.first(), next.min(strike + frames(500.0))).iter().map(symbol).collect();
            let keys: Vec<String> = new
                .keys
                .iter()
                .map(|(at, key)| format!("{}{:+.0}", Pitch::new(*key), millis(*at as f64 - new.meant as f64)))
                .collect();
            let notes: Vec<String> = heard
                .onsets(strike.saturating_sub(frames(100.0)), strike + frames(200.0))
                .map(|(at, pitch)| format!("{pitch}{:+.0}", millis(at as f64 - new.meant as f64)))
                .collect();
            tally.examples.push(format!(
                "{what}: {} {} struck {:+.0} heard {} ({} before) {}",
                new.name,
                keys.join(" "),
                millis(strike as f64 - new.meant as f64),
                names.join(" > "),
                before.as_ref().map(symbol).unwrap_or_default(),
                notes.join(" "),
            ));
        };
        tally.after_complete.push(millis(strike as f64 - new.complete() as f64).max(0.0));
        tally.after_first.push(millis((strike - new.first()) as f64));
        if strike > new.first() + frames(36.0) {
            note(&mut tally.late, "late");
        }
        if heard.onsets(strike.saturating_sub(frames(80.0)), strike).next().is_some() {
            note(&mut tally.old_before, "old");
        }
        let soon: Vec<(u64, Pitch)> = heard.onsets(strike, strike + frames(150.0)).collect();
        if soon.iter().enumerate().any(|(n, (_, pitch))| soon[..n].iter().any(|(_, p)| p == pitch)) {
            note(&mut tally.twice, "twice");
        }
        let taken = heard
            .notes
            .iter()
            .skip_while(|(at, _)| *at < strike)
            .take_while(|(at, _)| *at < strike + frames(150.0));
        let mut struck: Vec<Pitch> = vec![];
        let mut back = false;
        for (at, message) in taken {
            match *message {
                OutputMessage::NoteOn { hand, pitch, .. }
                    if hand != Hand::Melody && *at <= strike + frames(1.0) =>
                {
                    struck.push(pitch)
                }
                OutputMessage::NoteOff { pitch, .. } => back |= struck.contains(&pitch),
                _ => {}
            }
        }
        if back {
            note(&mut tally.taken_back, "back");
        }
        let foreign = |pitch: Pitch| !new.classes().contains(pitch.class());
        let bass_first = soon.iter().map(|(_, pitch)| *pitch).min().filter(|_| back);
        if soon.iter().any(|(_, pitch)| foreign(*pitch))
            || bass_first.is_some_and(|bass| bass.class() != new.bass().class())
        {
            note(&mut tally.false_notes, "false");
        }
        let settled = next.min(new.complete() + frames(450.0));
        // What is told within the gathering time is not yet acted on beyond the keys held.
        let names = heard.chords(strike.max(new.first() + frames(36.0)), settled);
        let mut names = names;
        names.insert(0, heard.chord_at(strike.max(new.first() + frames(36.0))).expect("a chord was struck"));
        let mut roots: Vec<_> = names.iter().map(|c| c.root).collect();
        roots.dedup();
        if roots.len() > 1 {
            note(&mut tally.other_root_first, "root");
        }
        if (2..roots.len()).any(|n| roots[..n - 1].contains(&roots[n])) {
            note(&mut tally.back_and_forth, "forth");
        }
        let last = heard.chord_at(settled - 1);
        if last.is_none_or(|c| c.classes() != new.classes() || c.bass != new.bass().class()) {
            note(&mut tally.wrong, "wrong");
        }
    }
    let bar = performance.beat * f64::from(performance.metre.0);
    let (first, last) = (chords[0].meant, chords[chords.len() - 1].meant);
    let mut line = bar;
    while line < last as f64 {
        let at = line as u64;
        line += bar;
        let near = |frame: u64| frame.abs_diff(at) < frames(200.0);
        if at > first && !chords.iter().any(|c| near(c.meant)) {
            tally.lasting_bars += 1;
            if heard.onsets(at - frames(5.0), at + frames(90.0)).next().is_none() {
                tally.unstruck_bars += 1;
            }
        }
    }
    tally
}

pub const RHYTHMS: [Rhythm; 5] =
    [Rhythm::TwoBars, Rhythm::Bar, Rhythm::HalfBar, Rhythm::Phrase, Rhythm::Free];

/// Plays pieces in all rhythms until there are so many changes, and measures them together. Rungs Shared and
/// Flowing take turns.
pub fn rehearse(hands: &Hands, least: usize, seed: u64, figures: &[Figure]) -> Tally {
    let mut tally = Tally::default();
    let mut piece = 0;
    while tally.changes < least {
        let hands = Hands { rhythm: RHYTHMS[piece % RHYTHMS.len()], ..*hands };
        let settings = Settings {
            source: SOURCE,
            elaboration: if piece % 3 == 2 { 2.0 } else { 3.0 },
            seed: piece as u32,
            ..Settings::default()
        };
        let performance = perform(&hands, seed.wrapping_add(piece as u64 * 7_919));
        tally.add(measure(&performance, &listen(&performance, &settings, figures)));
        piece += 1;
    }
    tally
}
