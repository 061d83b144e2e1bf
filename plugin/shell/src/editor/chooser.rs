//! A list of files to choose a sheet from: our own, as a host's window is no place for the system's.
//!
//! Shows folders and what can be read. Works with the keyboard; a path can be typed or pasted. Reads folders
//! only when it changes to one. Deliberately absent: reading sheets.

use std::path::{Path, PathBuf};

use egui::{Key, RichText, ScrollArea, TextEdit, Ui};

use super::theme::Inks;

/// What can be read, by the ends of names.
const ENDS: [&str; 7] = ["musicxml", "xml", "mxl", "abc", "mid", "midi", "smf"];
/// Most entries that are listed.
const MOST: usize = 2000;

/// The list as it stands.
#[derive(Clone, Debug)]
pub struct Chooser {
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
        Self::new()
    }
}

impl Chooser {
    /// The player's home folder, or the present one.
    pub fn new() -> Self {
        let home = std::env::var_os("HOME").or_else(|| std::env::var_os("USERPROFILE")).map(PathBuf::from);
        Self::at(&home.or_else(|| std::env::current_dir().ok()).unwrap_or_else(|| PathBuf::from("/")))
    }

    /// A folder's list.
    pub fn at(folder: &Path) -> Self {
        let mut chooser =
            Self { folder: folder.to_owned(), typed: String::new(), entries: Vec::new(), trouble: None };
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
                let readable = ENDS.iter().any(|known| end.eq_ignore_ascii_case(known));
                (!name.starts_with('.') && (is_folder || readable)).then_some((name, is_folder))
            })
            .take(MOST)
            .collect();
        entries.sort_by(|a, b| b.1.cmp(&a.1).then_with(|| a.0.to_lowercase().cmp(&b.0.to_lowercase())));
        self.typed = folder.display().to_string();
        self.folder = folder;
        self.entries = entries;
        self.trouble = None;
    }

    /// A path that was typed, clicked or dropped.
    fn go(&mut self, path: PathBuf) -> Outcome {
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
            ui.label("Open sheet:");
            if ui.button("Folder above").clicked()
                && let Some(above) = self.folder.parent()
            {
                self.enter(above.to_owned());
            }
            let room = (ui.available_width() - 130.0).max(80.0);
            let field = ui.add(TextEdit::singleline(&mut self.typed).desired_width(room));
            field.widget_info(|| {
                let mut info = egui::WidgetInfo::text_edit(true, "", &self.typed, "");
                info.label = Some("Path of the sheet".into());
                info
            });
            if field.lost_focus() && ui.input(|i| i.key_pressed(Key::Enter)) {
                outcome = self.go(PathBuf::from(self.typed.trim()));
            }
            if ui.button("Cancel").clicked() || ui.input(|i| i.key_pressed(Key::Escape)) {
                outcome = Outcome::Closed;
            }
        });
        if let Some(trouble) = &self.trouble {
            ui.label(trouble);
        }
        if self.entries.is_empty() {
            let words = "No folder and no sheet here (.musicxml .xml .mxl .abc .mid).";
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
        let chooser = Chooser::at(&folder.join("songs"));
        assert!(chooser.entries.iter().any(|entry| entry.0.ends_with(".abc")), "{chooser:?}");
        let above = Chooser::at(&folder);
        assert!(above.entries.iter().all(|entry| entry.1), "{above:?}");
    }

    #[test]
    fn says_what_is_wrong() {
        let mut chooser = Chooser::at(Path::new(env!("CARGO_MANIFEST_DIR")));
        let missing = chooser.folder.join("missing.abc");
        assert_eq!(chooser.go(missing), Outcome::Open);
        assert!(chooser.trouble.as_deref().is_some_and(|words| words.contains("missing.abc is not there")));
        let here = chooser.folder.join("Cargo.toml");
        assert_eq!(chooser.go(here.clone()), Outcome::Chosen(here));
    }
}
