//! What is done at a press, sheets, messages, and what is taken back.

use egui::accesskit::Role;
use egui_kittest::kittest::Queryable;
use figwort::editor::{OwnManner, PortList, SheetCard, View, Wish};
use figwort::params::Control;
use figwort_theory::Metre;

use crate::page::{page, page_with, playing};

/// Everything that is not a parameter comes out as a wish.
#[test]
fn what_is_done_at_a_press() {
    let mut page = page();
    for (name, wish) in
        [("Keep take", Wish::KeepTake), ("Final chord", Wish::Finish), ("Silence", Wish::Silence)]
    {
        page.get_by_role_and_label(Role::Button, name).click();
        page.run();
        assert_eq!(page.state().wishes.last(), Some(&wish), "{name}");
    }
    page.get_by_label("Play the demo").click();
    page.run();
    assert_eq!(page.state().wishes.last(), Some(&Wish::Demo));
    assert!(page.query_by_label("Metronome").is_none(), "a host has its own");
}

/// Without a host there is time to run, a metronome, and MIDI ports to choose.
#[test]
fn alone_it_keeps_time_and_chooses_ports() {
    let mut view = View::of(&playing(), 1.0, |_| None);
    view.alone = true;
    view.metre = Some(Metre::FOUR_FOUR);
    view.ports = Some(PortList { inputs: vec!["Stage keys".into()], ..PortList::default() });
    let mut page = page_with(view, [1040.0, 800.0]);
    page.get_by_label("Run time").click();
    page.run();
    page.get_by_label("Metronome").click();
    page.run();
    page.get_by_label("Metre: 4/4").click();
    page.run();
    page.get_by_label("6/8").click();
    page.run();
    page.get_by_label("MIDI ports").click();
    page.run();
    page.get_by_label("Stage keys").click();
    page.run();
    let expected = [
        Wish::Run(true),
        Wish::Metronome(true),
        Wish::Metre(Metre::new(6, 8).expect("a metre")),
        Wish::LookForPorts,
        Wish::Input(Some("Stage keys".into())),
    ];
    assert_eq!(page.state().wishes, expected);
    // A sheet brings its own metre.
    page.state_mut().view.metre = None;
    page.run();
    assert!(page.query_by_label_contains("Metre: ").is_none());
}

#[test]
fn manners_of_the_players_own_are_listed() {
    let mut view = View::of(&playing(), 1.0, |_| None);
    view.own_manners = vec![OwnManner { name: "slow lamp".into(), about: "For evenings.".into() }];
    let mut page = page_with(view, [1040.0, 800.0]);
    page.get_by_label("Manner: unhurried").click();
    page.run();
    page.get_by_label("slow lamp (own)").click();
    page.run();
    assert_eq!(page.state().wishes, [Wish::OwnManner(Some("slow lamp".into()))]);
    page.state_mut().view.own_manner = Some("slow lamp".into());
    page.run();
    page.get_by_label("Manner: slow lamp");
    page.get_by_label("For evenings.");
}

#[test]
fn the_final_chord_says_that_it_waits() {
    let mut page = page();
    page.state_mut().view.finishing = true;
    page.run();
    page.get_by_label("Final chord: waiting");
}

#[test]
fn a_sheet_shows_its_title_and_remarks() {
    let mut view = View::of(&playing(), 1.0, |_| None);
    view.sheet = Some(SheetCard {
        title: "Lantern Walk".into(),
        about: "32 bars in 4/4".into(),
        warnings: vec!["bar 9: a chord was left out".into()],
        ..SheetCard::default()
    });
    let mut page = page_with(view, [1040.0, 800.0]);
    page.get_by_label("Sheet gives: Chords and melody");
    page.get_by_role_and_label(Role::Slider, "Sheet starts in bar");
    page.get_by_label("1 remark").click();
    page.run();
    page.get_by_label("bar 9: a chord was left out");
    page.key_press(egui::Key::Escape);
    page.run();
    page.get_by_label("Sheet: Lantern Walk, 32 bars in 4/4").click();
    page.run();
    page.get_by_label("Put away").click();
    page.run();
    assert_eq!(page.state().wishes.last(), Some(&Wish::PutSheetAway));
}

/// Of a file with several tunes another can be chosen.
#[test]
fn a_tune_is_chosen_among_several() {
    let mut view = View::of(&playing(), 1.0, |_| None);
    view.sheet = Some(SheetCard {
        title: "A Title That Is Much Too Long for the Head of the Page".into(),
        about: "16 bars in 3/4".into(),
        tunes: vec![
            (1, "A Title That Is Much Too Long for the Head of the Page".into()),
            (7, "Low Tide".into()),
        ],
        tune: Some(1),
        ..SheetCard::default()
    });
    let mut page = page_with(view, [1040.0, 800.0]);
    page.get_by_label_contains("Sheet: A Title").click();
    page.run();
    page.get_by_label("2 tunes in the file");
    page.get_by_label("7. Low Tide").click();
    page.run();
    assert_eq!(page.state().wishes, [Wish::Tune(7)]);
}

/// With a sheet and everything that the standalone has, the head takes two rows at the usual size.
#[test]
fn the_head_has_two_rows() {
    let mut view = View::of(&playing(), 1.0, |_| None);
    view.alone = true;
    view.finishing = true;
    view.ports = Some(PortList::default());
    view.sheet = Some(SheetCard {
        title: "A Title That Is Much Too Long for the Head of the Page".into(),
        about: "32 bars in 4/4".into(),
        warnings: vec!["one".into(), "two".into()],
        ..SheetCard::default()
    });
    let page = page_with(view, [1040.0, 800.0]);
    let first = page.get_by_label("Open sheet\u{2026}").rect();
    for last in ["MIDI ports", "Sound", "Final chord: waiting"] {
        let rect = page.get_by_label(last).rect();
        assert!((rect.center().y - first.center().y).abs() < 2.0 && rect.right() <= 1024.0, "{last}: {rect}");
    }
    let manner = page.get_by_label("Manner: unhurried").rect();
    for other in ["Setting 1", "Setting 2", "Undo", "Redo", "Dark paper"] {
        let rect = page.get_by_label(other).rect();
        assert!((rect.center().y - manner.center().y).abs() < 2.0, "{other}: {rect}");
    }
}

/// Where files cannot be dropped, one that was copied can be pasted on the page.
#[test]
fn a_copied_file_is_pasted() {
    let mut page = page();
    let songs = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../presets/songs");
    let song = songs.join("gangway-scramble.abc").canonicalize().expect("a song");
    page.event(egui::Event::Text(format!("file://{}", song.display())));
    page.run();
    assert_eq!(page.state().wishes, [Wish::LoadSheet(song)]);
    page.event(egui::Event::Paste("a letter".into()));
    page.run();
    assert_eq!(page.state().wishes.len(), 1);
}

#[test]
fn a_message_stays_until_it_is_put_away() {
    let mut view = View::of(&playing(), 1.0, |_| None);
    view.messages =
        ["old", "older than two", "No sound card was found", "Kept as take 3.mid"].map(String::from).into();
    let mut page = page_with(view, [1040.0, 800.0]);
    page.get_by_label("Kept as take 3.mid");
    page.get_by_label("No sound card was found");
    assert!(page.query_by_label("old").is_none(), "only the newest three");
    page.get_by_label("1 more when these are closed");
    page.get_by_label("Close").click();
    page.run();
    assert_eq!(page.state().wishes.last(), Some(&Wish::Read));
}

/// A sheet's path can be typed.
#[test]
fn a_sheet_is_chosen_by_its_path() {
    let mut page = page();
    page.get_by_label("Open sheet\u{2026}").click();
    page.run();
    let song = tests::songs::paths().swap_remove(0).canonicalize().expect("a path");
    page.get_by_label("Path of the sheet").click();
    page.run();
    page.key_press_modifiers(egui::Modifiers::COMMAND, egui::Key::A);
    page.run();
    page.get_by_label("Path of the sheet").type_text(&song.display().to_string());
    page.run();
    page.key_press(egui::Key::Enter);
    page.run();
    assert_eq!(page.state().wishes, [Wish::LoadSheet(song)]);
    assert!(page.state().room.chooser.is_none());
}

/// What the audition piano sounds like is chosen, too; a file that is typed goes where it belongs.
#[test]
fn a_soundfont_is_chosen_by_its_path() {
    let mut view = View::of(&playing(), 1.0, |_| None);
    view.soundfont = Some("grand.sf2".into());
    let mut page = page_with(view, [1040.0, 800.0]);
    page.get_by_label("Sound").click();
    page.run();
    page.get_by_label("grand.sf2");
    page.get_by_label("Built-in piano").click();
    page.run();
    assert_eq!(page.state().wishes, [Wish::BuiltInPiano]);
    page.get_by_label("Sound").click();
    page.run();
    page.get_by_label("Soundfont\u{2026}").click();
    page.run();
    let font =
        std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../plugin/render/src/soundfont/sine.sf2");
    let font = font.canonicalize().expect("a path");
    page.get_by_label("Path of the soundfont").click();
    page.run();
    page.key_press_modifiers(egui::Modifiers::COMMAND, egui::Key::A);
    page.run();
    page.get_by_label("Path of the soundfont").type_text(&font.display().to_string());
    page.run();
    page.key_press(egui::Key::Enter);
    page.run();
    assert_eq!(page.state().wishes.last(), Some(&Wish::LoadSoundfont(font)));
}

#[test]
fn changes_are_taken_back_and_done_again() {
    let mut page = page();
    page.get_by_label("Dry").click();
    page.run();
    page.get_by_role_and_label(Role::RadioButton, "Ornate").click();
    page.run();
    page.get_by_label("Undo").click();
    page.run();
    assert_eq!((page.state().value(Control::Elaboration), page.state().value(Control::Dry)), (3.0, 1.0));
    page.key_press_modifiers(egui::Modifiers::COMMAND, egui::Key::Z);
    page.run();
    assert_eq!(page.state().value(Control::Dry), 0.0);
    page.get_by_label("Redo").click();
    page.run();
    assert_eq!((page.state().value(Control::Elaboration), page.state().value(Control::Dry)), (3.0, 1.0));
    // Each told to the host as a movement of its own.
    assert_eq!(page.state().told().len(), 5 * 3);
}

#[test]
fn two_settings_are_compared() {
    let mut page = page();
    page.get_by_label("Setting 2").click();
    page.run();
    page.get_by_role_and_label(Role::RadioButton, "Plain").click();
    page.run();
    page.get_by_label("Setting 1").click();
    page.run();
    assert_eq!(page.state().value(Control::Elaboration), 3.0);
    page.get_by_label("Setting 2").click();
    page.run();
    assert_eq!(page.state().value(Control::Elaboration), 0.0);
}
