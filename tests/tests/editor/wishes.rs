//! What is done at a press, sheets, messages, and what is taken back.

use egui::accesskit::Role;
use egui_kittest::kittest::Queryable;
use figwort::editor::{OwnManner, PortList, SheetCard, View, Wish};
use figwort::params::Control;

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
    view.ports = Some(PortList { inputs: vec!["Stage keys".into()], ..PortList::default() });
    let mut page = page_with(view, [1040.0, 800.0]);
    page.get_by_label("Run time").click();
    page.run();
    page.get_by_label("Metronome").click();
    page.run();
    page.get_by_label("MIDI ports").click();
    page.run();
    page.get_by_label("Stage keys").click();
    page.run();
    let expected =
        [Wish::Run(true), Wish::Metronome(true), Wish::LookForPorts, Wish::Input(Some("Stage keys".into()))];
    assert_eq!(page.state().wishes, expected);
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
    });
    let mut page = page_with(view, [1040.0, 800.0]);
    page.get_by_label("Lantern Walk");
    page.get_by_label("Sheet gives: Chords and melody");
    page.get_by_role_and_label(Role::Slider, "Sheet starts in bar");
    page.get_by_label("1 remark").click();
    page.run();
    page.get_by_label("bar 9: a chord was left out");
    page.get_by_label("Put away").click();
    page.run();
    assert_eq!(page.state().wishes.last(), Some(&Wish::PutSheetAway));
}

#[test]
fn a_message_stays_until_it_is_put_away() {
    let mut view = View::of(&playing(), 1.0, |_| None);
    view.messages = vec!["Kept as take 3.mid".into()];
    let mut page = page_with(view, [1040.0, 800.0]);
    page.get_by_label("Kept as take 3.mid");
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
