//! Where the tunes of a folder go: every name is worked out before the first tune is arranged.
//!
//! A part is called after its sheet, in the same subfolder, and by the tune's number where the sheet holds several.
//! Where that gives two tunes one name, be it in other capitals, the sheets' extensions are added; where that does not
//! help, the later tune fails.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use crate::command::part::{Product, beside};
use crate::input;
use crate::output::{Folders, Places, unwritable};

use super::{Way, label};

/// A sheet of the folder, and its tunes' numbers; `None` where it holds one. Tunes that cannot be read keep their names,
/// so that the others' do not change once they are mended.
pub(super) struct Found {
    pub(super) sheet: PathBuf,
    pub(super) numbers: Vec<Option<usize>>,
}

/// Where a tune's part and the files beside it go, or why they cannot.
pub(super) type Planned = Result<Vec<(PathBuf, Product)>, String>;

/// A tune's name on its way to being nobody else's.
struct Name<'a> {
    sheet: &'a Path,
    number: Option<usize>,
    /// The sheet's name in the folder for the parts, without its extension.
    stem: PathBuf,
    with_extension: bool,
}

impl Name<'_> {
    /// The part without `.mid`.
    fn part(&self) -> PathBuf {
        let mut name = self.stem.as_os_str().to_owned();
        if self.with_extension {
            name.push("-");
            name.push(input::extension(self.sheet));
        }
        if let Some(number) = self.number {
            name.push(format!("-{number}"));
        }
        PathBuf::from(name)
    }

    /// What is compared: small letters, as some systems know no others.
    fn compared(&self) -> String {
        self.part().to_string_lossy().to_lowercase()
    }
}

/// The parts of all tunes, without `.mid`, or the number of the earlier tune that has that name.
fn parts(names: &mut [Name<'_>]) -> Vec<Result<PathBuf, usize>> {
    // `a.abc` and `a.mid` beside each other become `a-abc` and `a-mid`.
    let mut stems: BTreeMap<PathBuf, Vec<usize>> = BTreeMap::new();
    for (index, name) in names.iter().enumerate() {
        stems.entry(name.stem.clone()).or_default().push(index);
    }
    for (_, alike) in stems {
        let first = alike.first().and_then(|index| names.get(*index)).map(|name| name.sheet);
        let several = alike.iter().any(|index| names.get(*index).map(|name| name.sheet) != first);
        for index in alike {
            if let Some(name) = names.get_mut(index) {
                name.with_extension = several;
            }
        }
    }
    // Each round adds an extension or is the last.
    loop {
        let mut taken: BTreeMap<String, Vec<usize>> = BTreeMap::new();
        for (index, name) in names.iter().enumerate() {
            taken.entry(name.compared()).or_default().push(index);
        }
        let mut changed = false;
        for index in taken.values().filter(|alike| alike.len() > 1).flatten() {
            if let Some(name) = names.get_mut(*index).filter(|name| !name.with_extension) {
                name.with_extension = true;
                changed = true;
            }
        }
        if !changed {
            break;
        }
    }
    let mut owners: BTreeMap<String, usize> = BTreeMap::new();
    let own = |(index, name): (usize, &Name<'_>)| match *owners.entry(name.compared()).or_insert(index) {
        owner if owner == index => Ok(name.part()),
        owner => Err(owner),
    };
    names.iter().enumerate().map(own).collect()
}

/// Plans the files of all tunes, sheet by sheet in the order of their numbers, takes their places and makes their
/// folders.
pub(super) fn plan(
    found: &[Found],
    from: &Path,
    out: &Path,
    way: &Way<'_>,
    places: &mut Places,
    folders: &mut Folders,
) -> Vec<Vec<Planned>> {
    let mut names: Vec<Name<'_>> = Vec::new();
    for Found { sheet, numbers } in found {
        let stem = out.join(sheet.strip_prefix(from).unwrap_or(sheet)).with_extension("");
        names.extend(numbers.iter().map(|number| Name {
            sheet,
            number: *number,
            stem: stem.clone(),
            with_extension: false,
        }));
    }
    let parts = parts(&mut names);
    let mut planned = names.iter().zip(parts).map(|(name, part)| match part {
        Ok(part) => files(&part, way, places, folders),
        Err(owner) => {
            let owner = names.get(owner).map(|owner| label(owner.sheet, owner.number)).unwrap_or_default();
            Err(format!(
                "its part would be called {}.mid like that of {owner}; rename one of the sheets",
                name.part().display()
            ))
        }
    });
    found.iter().map(|found| planned.by_ref().take(found.numbers.len()).collect()).collect()
}

/// One tune's files, their places taken.
fn files(part: &Path, way: &Way<'_>, places: &mut Places, folders: &mut Folders) -> Planned {
    if let Some(folder) = part.parent() {
        folders.make(folder).map_err(|error| unwritable(folder, "made", &error).to_string())?;
    }
    // `a.b` gives `a.b.mid`.
    let mut midi = part.as_os_str().to_owned();
    midi.push(".mid");
    let files = beside(Path::new(&midi), way.also);
    for (path, _) in &files {
        places.take(path).map_err(|failure| failure.to_string())?;
    }
    Ok(files)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The parts of sheets with their tunes' numbers.
    fn named(sheets: &[(&str, &[usize])]) -> Vec<Result<String, usize>> {
        let mut names = Vec::new();
        for (sheet, numbers) in sheets {
            let sheet = Path::new(sheet);
            let name = |number| Name { sheet, number, stem: sheet.with_extension(""), with_extension: false };
            match numbers {
                [] => names.push(name(None)),
                numbers => names.extend(numbers.iter().map(|number| name(Some(*number)))),
            }
        }
        let said = |part: PathBuf| part.display().to_string();
        parts(&mut names).into_iter().map(|part| part.map(said)).collect()
    }

    fn all(parts: &[&str]) -> Vec<Result<String, usize>> {
        parts.iter().map(|part| Ok((*part).to_owned())).collect()
    }

    #[test]
    fn names_stay_where_nobody_else_has_them() {
        let found = named(&[("a.b.abc", &[]), ("book.abc", &[1, 7]), ("deep/a.abc", &[]), ("a.abc", &[])]);
        assert_eq!(found, all(&["a.b", "book-1", "book-7", "deep/a", "a"]));
    }

    #[test]
    fn extensions_tell_apart_what_numbers_and_extensions_made_alike() {
        assert_eq!(named(&[("a.abc", &[]), ("a.mid", &[])]), all(&["a-abc", "a-mid"]));
        assert_eq!(
            named(&[("two-1.abc", &[]), ("two.abc", &[1, 2])]),
            all(&["two-1-abc", "two-abc-1", "two-2"])
        );
        assert_eq!(
            named(&[("g-abc.abc", &[]), ("g.abc", &[]), ("g.mid", &[])]),
            all(&["g-abc-abc", "g-abc", "g-mid"])
        );
        // And what that made alike again.
        assert_eq!(
            named(&[("g-abc-abc.abc", &[]), ("g-abc.abc", &[]), ("g.abc", &[]), ("g.mid", &[])]),
            all(&["g-abc-abc-abc", "g-abc-abc", "g-abc", "g-mid"])
        );
    }

    #[test]
    fn capitals_tell_nothing_apart() {
        assert_eq!(named(&[("A.abc", &[]), ("a.mid", &[])]), all(&["A-abc", "a-mid"]));
        assert_eq!(named(&[("A.abc", &[]), ("a.abc", &[])]), [Ok("A-abc".to_owned()), Err(0)]);
    }
}
