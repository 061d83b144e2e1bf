//! A folder of its own for each test, and the program run in it.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

use tempfile::TempDir;

/// A tune of four bars in 4/4: two bars that move, two that stand.
pub(crate) const TUNE: &str = "X:1\nT:Jetty Steps\nM:4/4\nL:1/8\nQ:1/4=90\nK:F\n\
    \"F\"FGAc \"Dm7\"d2cA | \"Gm7\"B8 | \"C7\"GABc dcBG | \"F6\"F8 |]\n";

/// The same tune as MusicXML.
pub(crate) const SCORE: &str = include_str!("jetty-steps.musicxml");

/// The demonstration tunes.
pub(crate) fn songs() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../../presets/songs")
}

/// An empty folder that goes away with the test.
pub(crate) struct Room(TempDir);

/// What a run of the program left.
#[derive(Debug)]
pub(crate) struct Run {
    pub(crate) code: i32,
    pub(crate) out: String,
    pub(crate) err: String,
}

impl Room {
    pub(crate) fn new() -> Self {
        Self(TempDir::new().unwrap())
    }

    pub(crate) fn path(&self, name: &str) -> PathBuf {
        self.0.path().join(name)
    }

    pub(crate) fn put(&self, name: &str, content: impl AsRef<[u8]>) -> &Self {
        let path = self.path(name);
        fs::create_dir_all(path.parent().unwrap()).unwrap();
        fs::write(path, content).unwrap();
        self
    }

    pub(crate) fn bytes(&self, name: &str) -> Vec<u8> {
        fs::read(self.path(name)).unwrap_or_else(|error| panic!("{name}: {error}"))
    }

    pub(crate) fn text(&self, name: &str) -> String {
        String::from_utf8(self.bytes(name)).unwrap()
    }

    /// Runs `figwort` here, with arguments separated by spaces.
    pub(crate) fn figwort(&self, arguments: &str) -> Run {
        self.figwort_with(&arguments.split_whitespace().collect::<Vec<_>>())
    }

    pub(crate) fn figwort_with(&self, arguments: &[&str]) -> Run {
        let output = Command::new(env!("CARGO_BIN_EXE_figwort"))
            .args(arguments)
            .current_dir(self.0.path())
            .output()
            .unwrap();
        Run {
            code: output.status.code().unwrap_or(-1),
            out: String::from_utf8(output.stdout).unwrap(),
            err: String::from_utf8(output.stderr).unwrap(),
        }
    }

    /// Every file below, with its content: to see that a run changed nothing.
    pub(crate) fn everything(&self) -> Vec<(PathBuf, u64, Vec<u8>)> {
        let mut found = Vec::new();
        let mut open = vec![self.0.path().to_owned()];
        while let Some(folder) = open.pop() {
            for entry in fs::read_dir(folder).unwrap() {
                let path = entry.unwrap().path();
                if path.is_dir() {
                    open.push(path.clone());
                    found.push((path, 0, Vec::new()));
                } else {
                    // Links may lead nowhere.
                    let length = fs::metadata(&path).map_or(0, |metadata| metadata.len());
                    if path.is_symlink() {
                        found.push((
                            path.clone(),
                            0,
                            fs::read_link(&path).unwrap().into_os_string().into_encoded_bytes(),
                        ));
                    }
                    if !path.exists() {
                        continue;
                    }
                    let content = if length < 1 << 20 { fs::read(&path).unwrap() } else { Vec::new() };
                    found.push((path, length, content));
                }
            }
        }
        found.sort();
        found
    }
}

impl Run {
    /// Done, with nothing to complain about.
    #[track_caller]
    pub(crate) fn clean(self) -> Self {
        assert_eq!(self.code, 0, "{self:?}");
        assert!(!self.err.contains("warning") && !self.err.contains("error"), "{self:?}");
        self
    }

    /// Done, with a warning that says all of this.
    #[track_caller]
    pub(crate) fn warned(self, words: &[&str]) -> Self {
        assert_eq!(self.code, 0, "{self:?}");
        let line = self
            .err
            .lines()
            .find(|line| line.starts_with("warning: ") && words.iter().all(|word| line.contains(word)));
        assert!(line.is_some(), "no warning with {words:?}: {self:?}");
        self
    }
}

/// A Standard MIDI File of one track at 480 ticks to the quarter; events are (tick, bytes).
pub(crate) fn midi(events: &[(u32, Vec<u8>)]) -> Vec<u8> {
    let mut track = Vec::new();
    let mut now = 0;
    for (tick, bytes) in events {
        let mut delta = tick - now;
        now = *tick;
        let mut digits = vec![(delta & 0x7f) as u8];
        while delta > 0x7f {
            delta >>= 7;
            digits.push((delta & 0x7f) as u8 | 0x80);
        }
        track.extend(digits.iter().rev());
        track.extend(bytes);
    }
    track.extend([0, 0xff, 0x2f, 0]);
    let mut file = b"MThd\0\0\0\x06\0\0\0\x01\x01\xe0MTrk".to_vec();
    file.extend((track.len() as u32).to_be_bytes());
    file.extend(track);
    file
}

/// A take of four bars in 4/4: a chord on each first beat on one channel, a tune on another (0 to 15).
pub(crate) fn take(melody: u8, chords: u8) -> Vec<u8> {
    let mut events: Vec<(u32, Vec<u8>)> = vec![(0, vec![0xff, 0x51, 3, 0x0a, 0x2c, 0x2b])];
    let harmony: [[u8; 4]; 4] = [[41, 48, 52, 57], [50, 53, 57, 60], [43, 50, 53, 58], [48, 52, 55, 58]];
    for (bar, keys) in harmony.iter().enumerate() {
        let start = bar as u32 * 1920;
        for (late, key) in keys.iter().enumerate() {
            events.push((start + late as u32 * 7, vec![0x90 | chords, *key, 64]));
            events.push((start + 1890, vec![0x80 | chords, *key, 0]));
        }
        for (from, until, key) in [(0, 1430, 69), (1440, 1670, 67), (1680, 1910, 64)] {
            events.push((start + from, vec![0x90 | melody, key, 80]));
            events.push((start + until, vec![0x80 | melody, key, 0]));
        }
    }
    events.sort_by_key(|(tick, _)| *tick);
    midi(&events)
}
