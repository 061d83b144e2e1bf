//! A list of files to choose a sheet or a soundfont from: our own, as a host's window is no place for the system's.
//!
//! Shows folders and what can be read. Works with the keyboard; a path can be typed or pasted. Reads folders
//! only when it changes to one. Deliberately absent: reading the file.

use std::path::{Path, PathBuf};

use egui::{Key, RichText, ScrollArea, TextEdit, Ui};

use super::theme::Inks;

/// What is sought, by the ends of names.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Sought {
    /// A lead sheet.
    Sheet,
    /// An instrument.
    Soundfont,
}

impl Sought {
    /// What a file is by its name; what is nothing known is taken for a sheet, whose reader looks closer.
    pub(crate) fn of(path: &Path) -> Self {
        let is_font = path.extension().is_some_and(|end| end.eq_ignore_ascii_case("sf2"));
        if is_font { Self::Soundfont } else { Self::Sheet }
    }

    fn name(self) -> &'static str {
        match self {
            Self::Sheet => "sheet",
            Self::Soundfont => "soundfont",
        }
    }

    fn ends(self) -> &'static [&'static str] {
        match self {
            Self::Sheet => &figwort_sheet::ENDINGS,
            Self::Soundfont => &["sf2"],
        }
    }
}

/// The path that a text means: as it stands, in quotation marks, or as the address that file managers copy.
fn path_of(text: &str) -> PathBuf {
    let text = text.trim();
    let bare = text.strip_prefix(['"', '\'']).and_then(|text| text.strip_suffix(['"', '\''])).unwrap_or(text);
    let Some(address) = bare.strip_prefix("file://") else { return PathBuf::from(bare) };
    // An empty host or this one; on Windows the path follows a third stroke.
    let address = address.strip_prefix("localhost").unwrap_or(address);
    let path = unescaped(address);
    let drive = path.as_bytes().get(2) == Some(&b':');
    PathBuf::from(if drive { path.trim_start_matches('/') } else { &path })
}

/// `%20` and the like as what they stand for (RFC 3986, 2.1).
fn unescaped(text: &str) -> String {
    let mut bytes = Vec::with_capacity(text.len());
    let mut rest = text.as_bytes();
    while let Some((first, after)) = rest.split_first() {
        let code = after.get(..2).and_then(|digits| std::str::from_utf8(digits).ok());
        let byte = code.filter(|_| *first == b'%').and_then(|code| u8::from_str_radix(code, 16).ok());
        bytes.push(byte.unwrap_or(*first));
        rest = if byte.is_some() { after.get(2..).unwrap_or(&[]) } else { after };
    }
    String::from_utf8_lossy(&bytes).into_owned()
}

/// The file that a pasted text names, if it names one that can be read here. Only the first line counts.
pub(crate) fn pasted_file(text: &str) -> Option<PathBuf> {
    let path = path_of(text.lines().next()?);
    let end = path.extension()?.to_str()?;
    let known = [Sought::Sheet, Sought::Soundfont].iter().flat_map(|sought| sought.ends());
    let known = known.into_iter().any(|known| end.eq_ignore_ascii_case(known));
    (known && path.is_absolute() && path.is_file()).then_some(path)
}

/// Most entries that are listed.
const MOST: usize = 2000;

/// The list as it stands.
#[derive(Clone, Debug)]
pub struct Chooser {
    sought: Sought,
    folder: PathBuf,
    typed: String,
    entries: Vec<(String, bool)>,
    trouble: Option<String>,
}

/// What came of a frame.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Outcome {
    /// Still choosing.
    Open,
    /// Given up.
    Closed,
    /// This file.
    Chosen(PathBuf),
}

impl Default for Chooser {
    fn default() -> Self {
        Self::new(Sought::Sheet)
    }
}

impl Chooser {
    /// The player's home folder, or the present one.
    pub fn new(sought: Sought) -> Self {
        let home = std::env::var_os("HOME").or_else(|| std::env::var_os("USERPROFILE")).map(PathBuf::from);
        let folder = home.or_else(|| std::env::current_dir().ok()).unwrap_or_else(|| PathBuf::from("/"));
        Self::at(&folder, sought)
    }

    /// A folder's list.
    pub fn at(folder: &Path, sought: Sought) -> Self {
        let mut chooser = Self {
            sought,
            folder: folder.to_owned(),
            typed: String::new(),
            entries: Vec::new(),
            trouble: None,
        };
        chooser.enter(folder.to_owned());
        chooser
    }

    fn enter(&mut self, folder: PathBuf) {
        let listed = match std::fs::read_dir(&folder) {
            Ok(listed) => listed,
            Err(error) => {
                self.trouble = Some(format!("{}: {error}; choose another folder", folder.display()));
                return;
            }
        };
        let mut entries: Vec<(String, bool)> = listed
            .flatten()
            .filter_map(|entry| {
                let name = entry.file_name().into_string().ok()?;
                let is_folder = entry.path().is_dir();
                let end = Path::new(&name).extension().and_then(|e| e.to_str()).unwrap_or_default();
                let readable = self.sought.ends().iter().any(|known| end.eq_ignore_ascii_case(known));
                (!name.starts_with('.') && (is_folder || readable)).then_some((name, is_folder))
            })
            .take(MOST + 1)
            .collect();
        let more = entries.len() > MOST;
        entries.truncate(MOST);
        entries.sort_by(|a, b| b.1.cmp(&a.1).then_with(|| a.0.to_lowercase().cmp(&b.0.to_lowercase())));
        self.typed = folder.display().to_string();
        self.folder = folder;
        self.entries = entries;
        self.trouble =
            more.then(|| format!("only {MOST} of the folder's entries are shown; type the path of another"));
    }

    /// A path that was typed, clicked or dropped.
    fn go(&mut self, path: PathBuf) -> Outcome {
        // A name alone means one in the folder that is shown.
        let path = self.folder.join(path);
        if path.is_dir() {
            self.enter(path);
            Outcome::Open
        } else if path.is_file() {
            Outcome::Chosen(path)
        } else {
            self.trouble = Some(format!("{} is not there; check the path", path.display()));
            Outcome::Open
        }
    }

    /// Draws the list.
    pub(crate) fn draw(&mut self, ui: &mut Ui, inks: &Inks) -> Outcome {
        let mut outcome = Outcome::Open;
        ui.horizontal(|ui| {
            ui.label(format!("Open {}:", self.sought.name()));
            if ui.button("Folder above").clicked()
                && let Some(above) = self.folder.parent()
            {
                self.enter(above.to_owned());
            }
            let room = (ui.available_width() - 130.0).max(80.0);
            let field = ui.add(TextEdit::singleline(&mut self.typed).desired_width(room));
            field.widget_info(|| {
                let mut info = egui::WidgetInfo::text_edit(true, "", &self.typed, "");
                info.label = Some(format!("Path of the {}", self.sought.name()));
                info
            });
            if field.lost_focus() && ui.input(|i| i.key_pressed(Key::Enter)) {
                outcome = self.go(path_of(&self.typed));
            }
            if ui.button("Cancel").clicked() || ui.input(|i| i.key_pressed(Key::Escape)) {
                outcome = Outcome::Closed;
            }
        });
        if let Some(trouble) = &self.trouble {
            ui.label(trouble);
        }
        if self.entries.is_empty() {
            let ends = self.sought.ends().join(" .");
            let words = format!("No folder and no {} here (.{ends}).", self.sought.name());
            ui.label(RichText::new(words).color(inks.pencil));
        }
        let mut wanted = None;
        ScrollArea::vertical().auto_shrink(false).show(ui, |ui| {
            for (name, is_folder) in &self.entries {
                let words = if *is_folder { format!("{name}/") } else { name.clone() };
                if ui.selectable_label(false, words).clicked() {
                    wanted = Some(self.folder.join(name));
                }
            }
        });
        if let Some(path) = wanted {
            outcome = self.go(path);
        }
        outcome
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lists_folders_first_and_only_what_can_be_read() {
        let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../presets");
        let chooser = Chooser::at(&folder.join("songs"), Sought::Sheet);
        assert!(chooser.entries.iter().any(|entry| entry.0.ends_with(".abc")), "{chooser:?}");
        let above = Chooser::at(&folder, Sought::Sheet);
        assert!(above.entries.iter().all(|entry| entry.1), "{above:?}");
        let fonts = Chooser::at(&folder.join("songs"), Sought::Soundfont);
        assert!(fonts.entries.is_empty(), "{fonts:?}");
        let fonts = folder.join("../plugin/render/src/soundfont");
        assert_eq!(Chooser::at(&fonts, Sought::Soundfont).entries, [("sine.sf2".to_owned(), false)]);
        let folder = tempfile::tempdir().expect("a folder");
        for name in ["a.kar", "b.RMI", "c.smf", "d.txt"] {
            std::fs::write(folder.path().join(name), "").expect("written");
        }
        assert_eq!(Chooser::at(folder.path(), Sought::Sheet).entries.len(), 3);
        assert_eq!(Sought::of(Path::new("Grand.SF2")), Sought::Soundfont);
        assert_eq!(Sought::of(Path::new("tune.abc")), Sought::Sheet);
    }

    #[test]
    fn what_file_managers_copy_is_a_path() {
        for (text, path) in [
            (" /tunes/a.abc \n", "/tunes/a.abc"),
            ("\"/my tunes/a.abc\"", "/my tunes/a.abc"),
            ("file:///my%20tunes/%C3%A1.abc", "/my tunes/\u{e1}.abc"),
            ("file://localhost/100%.abc", "/100%.abc"),
            ("file:///C:/tunes/a.abc", "C:/tunes/a.abc"),
        ] {
            assert_eq!(path_of(text), PathBuf::from(path), "{text}");
        }
        let songs = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../presets/songs");
        let song = songs.join("gangway-scramble.abc").canonicalize().expect("a song");
        assert_eq!(pasted_file(&format!("file://{}\nfile:///other.abc", song.display())), Some(song));
        assert_eq!(pasted_file(&format!("{}/Cargo.toml", env!("CARGO_MANIFEST_DIR"))), None);
        assert!(pasted_file("q").is_none() && pasted_file("/none.abc").is_none());
    }

    #[test]
    fn says_what_is_wrong() {
        let mut chooser = Chooser::at(Path::new(env!("CARGO_MANIFEST_DIR")), Sought::Sheet);
        let missing = chooser.folder.join("missing.abc");
        assert_eq!(chooser.go(missing), Outcome::Open);
        assert!(chooser.trouble.as_deref().is_some_and(|words| words.contains("missing.abc is not there")));
        let here = chooser.folder.join("Cargo.toml");
        assert_eq!(chooser.go(here.clone()), Outcome::Chosen(here.clone()));
        chooser.enter(chooser.folder.join("src"));
        assert_eq!(
            chooser.go(PathBuf::from("lib.rs")),
            Outcome::Chosen(here.with_file_name("src").join("lib.rs"))
        );
    }

    #[test]
    fn a_vast_folder_says_that_it_is_not_all() {
        let folder = tempfile::tempdir().expect("a folder");
        for n in 0..=MOST {
            std::fs::write(folder.path().join(format!("{n}.abc")), "").expect("written");
        }
        let chooser = Chooser::at(folder.path(), Sought::Sheet);
        assert_eq!(chooser.entries.len(), MOST);
        assert!(chooser.trouble.is_some_and(|words| words.contains("type the path")));
        std::fs::remove_file(folder.path().join("0.abc")).expect("removed");
        assert_eq!(Chooser::at(folder.path(), Sought::Sheet).trouble, None);
    }
}
