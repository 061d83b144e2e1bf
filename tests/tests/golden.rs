//! Golden scores: each demo tune on each rung as a readable text score, the take as it is followed live, and
//! the ladder's pictures. A change of music shows here as a diff, which somebody has to read as a pianist
//! would; `cargo xtask golden` then writes the files anew.

use std::fs;
use std::path::{Path, PathBuf};

use figwort_engine::{Rung, Settings, Source};
use figwort_preset::Library;
use figwort_render::picture::{self, PictureOptions};
use figwort_render::{Options, Performance, arrange, follow, text};
use tests::songs;

fn folder(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join(name)
}

fn options(rung: Rung, source: Source) -> Options {
    options_in(Library::DEFAULT_MANNER, rung, source)
}

fn options_in(manner: &str, rung: Rung, source: Source) -> Options {
    let manner = Library::factory().manner(manner).expect("the manner");
    let elaboration = f32::from(rung as u8);
    let settings = Settings { elaboration, source, manner: manner.manner, ..Settings::default() };
    Options { settings, figures: manner.figures, ..Options::default() }
}

fn stem(path: &Path) -> String {
    path.file_stem().expect("a name").to_string_lossy().into_owned()
}

fn whole(performance: &Performance) -> String {
    text::score(performance, 0..performance.bars.len())
}

/// Compares with the golden file, or writes it when `FIGWORT_GOLDEN` is set to `write`.
fn check(name: &str, found: &str, differing: &mut Vec<String>) {
    let path = folder("golden").join(name);
    if std::env::var("FIGWORT_GOLDEN").is_ok_and(|value| value == "write") {
        fs::create_dir_all(folder("golden")).expect("the folder");
        fs::write(&path, found).expect("the file");
        return;
    }
    let golden = fs::read_to_string(&path).unwrap_or_default();
    if golden != found {
        let pairs = golden.lines().zip(found.lines()).enumerate();
        let line = pairs
            .clone()
            .find(|(_, (old, new))| old != new)
            .map(|(n, (old, new))| format!("line {}:\n    was  {old}\n    is   {new}", n + 1));
        differing.push(format!("{name} {}", line.unwrap_or_else(|| "has another length".into())));
    }
}

fn report(differing: &[String]) {
    assert!(
        differing.is_empty(),
        "the music has changed. Read the difference; if a pianist would agree, run `cargo xtask golden`.\n{}",
        differing.join("\n")
    );
}

#[test]
fn each_tune_on_each_rung() {
    let mut differing = vec![];
    for path in songs::paths() {
        let bytes = fs::read(&path).expect("the song");
        let sheet = figwort_sheet::read(&bytes, None).expect("a sheet");
        assert_eq!(sheet.warnings, [], "{}", path.display());
        for rung in Rung::ALL {
            let performance = arrange(&sheet, &options(rung, Source::Chart));
            let name = format!("{}.{}.txt", stem(&path), rung.name().to_lowercase());
            check(&name, &whole(&performance), &mut differing);
        }
    }
    report(&differing);
}

#[test]
fn the_take_as_followed() {
    let bytes = fs::read(folder("../presets/songs/lamps-along-the-landing.take.mid")).expect("the take");
    let take = figwort_sheet::take::read(&bytes).expect("a take");
    let source = Source::Channels { melody: 0, harmony: 1 };
    let mut differing = vec![];
    check("take.flowing.txt", &whole(&follow(&take, &options(Rung::Flowing, source))), &mut differing);
    report(&differing);
}

/// The first eight bars of the ballad in each manner.
#[test]
fn each_manner() {
    let bytes = fs::read(folder("../presets/songs/lamps-along-the-landing.abc")).expect("the ballad");
    let sheet = figwort_sheet::read(&bytes, None).expect("a sheet");
    let mut differing = vec![];
    for entry in Library::factory().manners() {
        let options = options_in(entry.name, Rung::Flowing, Source::Chart);
        let excerpt = arrange(&sheet, &options).excerpt(0..9);
        let name = format!("manner.{}.txt", entry.name.replace(' ', "-"));
        check(&name, &whole(&excerpt), &mut differing);
    }
    report(&differing);
}

/// The README's pictures: the first eight bars of the ballad on each rung.
#[test]
fn the_ladder_in_pictures() {
    let bytes = fs::read(folder("../presets/songs/lamps-along-the-landing.abc")).expect("the ballad");
    let sheet = figwort_sheet::read(&bytes, None).expect("a sheet");
    let mut differing = vec![];
    for rung in Rung::ALL {
        let mut excerpt = arrange(&sheet, &options(rung, Source::Chart)).excerpt(0..9);
        excerpt.title = rung.name().to_owned();
        let svg = picture::svg(&excerpt, &PictureOptions::default());
        check(&format!("ladder.{}.svg", rung.name().to_lowercase()), &svg, &mut differing);
    }
    report(&differing);
}
