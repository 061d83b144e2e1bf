//! What the editor shows, in the player's words; made from a snapshot without host or screen.

use std::path::PathBuf;

use figwort_engine::{Hand, MelodyState, Snapshot, Texture};
use figwort_theory::{ChordSymbol, Metre, Mode, Pitch, Velocity};

use super::score::{Page, State};

/// Everything on the page but the controls.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct View {
    /// The music.
    pub page: Page,
    /// The chord's symbol; empty when there is none.
    pub chord: String,
    /// The key heard so far.
    pub key: String,
    /// What the accompaniment does, with the figure's name and the number of parts.
    pub texture: String,
    /// Where the music is: metre, tempo, whether time runs.
    pub place: String,
    /// What the melody does.
    pub melody: MelodyState,
    /// Felt beats since the melody's last onset.
    pub stillness: f32,
    /// The chance, 0 to 1, that the present melody note will be long; 0 when none was judged.
    pub chance: f32,
    /// Felt beats for which the melody must stand before the accompaniment moves.
    pub wait: f32,
    /// Keys that sound, by [`Hand::index`], one bit a key.
    pub sounding: [u128; 3],
    /// Whether the accompaniment's pedal is down.
    pub pedal: bool,
    /// The file of the soundfont that sounds in the piano's place.
    pub soundfont: Option<String>,
    /// The sheet that is loaded.
    pub sheet: Option<SheetCard>,
    /// What the player has to be told, newest last.
    pub messages: Vec<String>,
    /// Whether the next chord is to be the last.
    pub finishing: bool,
    /// Whether there is no host: the computer's keys play, and time is kept here.
    pub alone: bool,
    /// Whether our own clock runs, where there is no host.
    pub running: bool,
    /// Whether it clicks.
    pub metronome: bool,
    /// Its metre, where that is the player's to choose.
    pub metre: Option<Metre>,
    /// The MIDI ports, where they are ours to choose.
    pub ports: Option<PortList>,
    /// Whether the demo take is being played.
    pub demo: bool,
    /// The player's own manners.
    pub own_manners: Vec<OwnManner>,
    /// The one of them that is in use.
    pub own_manner: Option<String>,
}

/// A manner of the player's own.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct OwnManner {
    /// Its name.
    pub name: String,
    /// When to use it.
    pub about: String,
}

/// MIDI ports by name.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct PortList {
    /// What can be played from.
    pub inputs: Vec<String>,
    /// What can be played to.
    pub outputs: Vec<String>,
    /// The input in use.
    pub input: Option<String>,
    /// The output in use.
    pub output: Option<String>,
}

/// What is said of a loaded sheet.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct SheetCard {
    /// Its title, or its file's name.
    pub title: String,
    /// How long it is and in which metre.
    pub about: String,
    /// What was odd in it, with bar numbers.
    pub warnings: Vec<String>,
    /// Number and title of the tunes to choose from; fewer than two where there is no choice.
    pub tunes: Vec<(usize, String)>,
    /// The number of the tune that is loaded, where there is a choice.
    pub tune: Option<usize>,
}

/// What the player asks for besides parameters.
#[derive(Clone, Debug, PartialEq)]
pub enum Wish {
    /// The other paper.
    TurnPaper,
    /// Another size of everything, 1 as usual.
    Scale(f32),
    /// A sheet from the disk.
    LoadSheet(PathBuf),
    /// A soundfont from the disk in the piano's place.
    LoadSoundfont(PathBuf),
    /// No soundfont any more.
    BuiltInPiano,
    /// Another tune of the sheet's file, by its number.
    Tune(usize),
    /// No sheet any more.
    PutSheetAway,
    /// The last minutes as a file.
    KeepTake,
    /// An end to every note.
    Silence,
    /// The next chord as the last, or not any more.
    Finish,
    /// The demo take from its beginning, or an end to it.
    Demo,
    /// Our own clock on or off.
    Run(bool),
    /// Its clicks on or off.
    Metronome(bool),
    /// Its metre.
    Metre(Metre),
    /// The list of MIDI ports anew.
    LookForPorts,
    /// Another MIDI input, or none.
    Input(Option<String>),
    /// Another MIDI output, or none.
    Output(Option<String>),
    /// A manner of the player's own, or (`None`) the one that the parameter names.
    OwnManner(Option<String>),
    /// The player's own manners read anew.
    ReadManners,
    /// The messages that are shown have been read.
    Read,
    /// The last change taken back.
    Undo,
    /// And done again.
    Redo,
    /// The first (`false`) or second setting.
    Setting(bool),
    /// A key of the keyboard goes down, or up where there is no velocity.
    Key {
        /// Which.
        pitch: Pitch,
        /// How hard.
        velocity: Option<Velocity>,
    },
}

impl View {
    /// The page for a snapshot; `wait` in felt beats, `figure_name` names figures by their number.
    pub fn of(snapshot: &Snapshot, wait: f32, figure_name: impl Fn(u16) -> Option<String>) -> Self {
        let mut texture = snapshot.texture.name().to_owned();
        if let (Texture::Figure(_), Some(name)) = (snapshot.texture, snapshot.figure.and_then(figure_name)) {
            texture = format!("{texture} \u{2013} {name}");
        }
        if snapshot.parts > 0 && snapshot.texture != Texture::Silent {
            texture = format!("{texture}, {} parts", snapshot.parts);
        }
        let metre = snapshot.metre.unwrap_or(Metre::FOUR_FOUR);
        let mode = match snapshot.key.mode {
            Mode::Major => "major",
            Mode::Minor => "minor",
        };
        let clock = if snapshot.playing { "time runs" } else { "playing freely" };
        Self {
            chance: snapshot.long_note_chance,
            chord: snapshot
                .chord
                .map_or_else(String::new, |chord| ChordSymbol::of(chord, snapshot.key).to_string()),
            key: format!("{} {mode}", snapshot.key.name(snapshot.key.tonic)),
            texture,
            place: format!(
                "{}/{} at {:.0} bpm, {clock}",
                metre.numerator(),
                metre.denominator(),
                snapshot.tempo
            ),
            melody: snapshot.melody_state,
            stillness: (snapshot.stillness.in_quarters() / metre.beat().in_quarters()) as f32,
            wait,
            sounding: snapshot.sounding,
            pedal: snapshot.pedal,
            ..Self::default()
        }
    }

    /// How likely the present note is to be long, in words; `None` when that was not judged.
    pub fn chance_words(&self) -> Option<String> {
        let judged = self.melody != MelodyState::Resting && self.chance > 0.0;
        judged.then(|| format!("A long note: {:.0} in 100", self.chance * 100.0))
    }

    /// The page of music in words, for those who cannot see it.
    pub fn page_words(&self) -> String {
        let present = self.page.bars.get(self.page.present);
        let played = present.map_or(0, |bar| {
            self.page.notes.iter().filter(|n| n.at >= bar.start && n.state == State::Played).count()
        });
        let chord = if self.chord.is_empty() { "no chord" } else { &self.chord };
        format!("Page: {chord}, {played} notes in this bar")
    }

    /// The ribbon's words.
    pub fn stillness_words(&self) -> String {
        match self.melody {
            MelodyState::Resting => "Melody resting".into(),
            MelodyState::Moving => "Melody moving".into(),
            MelodyState::Still => format!("Melody still for {:.1} beats", self.stillness),
        }
    }

    /// How full the ribbon is, 0 to 1.
    pub fn fullness(&self) -> f32 {
        match self.melody {
            MelodyState::Resting => 0.0,
            MelodyState::Still => 1.0,
            MelodyState::Moving if self.wait > 0.0 => (self.stillness / self.wait).clamp(0.0, 1.0),
            MelodyState::Moving => 0.0,
        }
    }

    /// What sounds, in words, e.g. `Melody E5; right hand G4 B4; left hand C3`.
    pub fn sounding_words(&self) -> String {
        let mut parts = Vec::new();
        for hand in Hand::ALL {
            let keys = keys(self.sounding.get(hand.index()).copied().unwrap_or(0));
            if keys.is_empty() {
                continue;
            }
            let names: Vec<String> = keys.iter().map(Pitch::to_string).collect();
            parts.push(format!("{} {}", hand_words(hand), names.join(" ")));
        }
        if self.pedal {
            parts.push("pedal down".into());
        }
        if parts.is_empty() { "Nothing sounds".into() } else { parts.join("; ") }
    }
}

/// The player's name for a hand.
pub(crate) fn hand_words(hand: Hand) -> &'static str {
    match hand {
        Hand::Melody => "Melody",
        Hand::Right => "Right hand",
        Hand::Left => "Left hand",
    }
}

/// The keys of a set, from below.
pub(crate) fn keys(mut set: u128) -> Vec<Pitch> {
    let mut found = Vec::new();
    while set != 0 {
        found.push(Pitch::new(set.trailing_zeros() as u8));
        set &= set - 1;
    }
    found
}

/// Whether an editor would draw two snapshots differently. Called on the audio thread.
pub fn looks_different(a: &Snapshot, b: &Snapshot) -> bool {
    let tenths = |snapshot: &Snapshot| match snapshot.melody_state {
        MelodyState::Resting => 0,
        // Twenty to a beat is smooth enough for a ribbon.
        _ => snapshot.stillness.0 / (figwort_theory::TICKS_PER_QUARTER / 20),
    };
    a.chord != b.chord
        || a.key != b.key
        || a.metre != b.metre
        || a.tempo != b.tempo
        || a.playing != b.playing
        || a.melody_state != b.melody_state
        || tenths(a) != tenths(b)
        || a.texture != b.texture
        || a.figure != b.figure
        || a.parts != b.parts
        || a.sounding != b.sounding
        || a.long_note_chance != b.long_note_chance
        || a.pedal != b.pedal
}

#[cfg(test)]
mod tests {
    use figwort_engine::Family;
    use figwort_theory::Span;

    use super::*;

    #[test]
    fn says_what_sounds() {
        let mut view = View::default();
        assert_eq!(view.sounding_words(), "Nothing sounds");
        view.sounding = [1 << 76, 1 << 67 | 1 << 71, 1 << 48];
        assert_eq!(view.sounding_words(), "Melody E5; Right hand G4 B4; Left hand C3");
    }

    #[test]
    fn names_the_texture() {
        let snapshot = Snapshot {
            texture: Texture::Figure(Family::BrokenChord),
            figure: Some(3),
            parts: 4,
            ..Snapshot::default()
        };
        let view = View::of(&snapshot, 1.0, |id| (id == 3).then(|| "rocking".into()));
        assert_eq!(view.texture, "broken chord \u{2013} rocking, 4 parts");
    }

    /// The picture stays as it is while nothing happens, so nothing is painted.
    #[test]
    fn a_standing_picture_is_not_painted_again() {
        let a = Snapshot { stillness: Span(100), melody_state: MelodyState::Moving, ..Snapshot::default() };
        assert!(!looks_different(&a, &Snapshot { position: figwort_theory::Moment(99), ..a }));
        assert!(!looks_different(&a, &Snapshot { stillness: Span(200), ..a }));
        assert!(looks_different(&a, &Snapshot { stillness: Span(20_160), ..a }));
        assert!(looks_different(&a, &Snapshot { pedal: true, ..a }));
    }
}
