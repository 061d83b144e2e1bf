//! The plugin as CLAP, loaded from its bundle into a host in this process.

use clack_extensions::note_ports::NoteDialect;
use tests::checks;
use tests::clap_host::ClapRig;
use tests::sheet_checks;

/// What a CLAP host reads before it makes an instance; projects find the plugin by the id.
#[test]
fn it_says_what_it_is() {
    let mut rig = ClapRig::new();
    assert_eq!(rig.id, "org.figwort.figwort");
    assert!(rig.features.iter().any(|f| f == "note-effect"), "{:?}", rig.features);
    let (input, output) = rig.dialects();
    assert!(input.supports(NoteDialect::Clap) && output.supports(NoteDialect::Clap));
    assert!(input.supports(NoteDialect::Midi) && output.supports(NoteDialect::Midi));
}

#[test]
fn the_melody_passes_and_is_accompanied() {
    checks::melody_passes_and_is_accompanied(&mut ClapRig::new());
}

#[test]
fn it_moves_while_the_melody_stands() {
    checks::moves_while_the_melody_stands(&mut ClapRig::new());
}

#[test]
fn parameters_have_names_ranges_and_words() {
    checks::parameters_have_names_ranges_and_words(&mut ClapRig::new());
}

#[test]
fn automation_changes_the_music() {
    checks::automation_changes_the_music(ClapRig::new);
}

#[test]
fn blocks_do_not_matter() {
    checks::blocks_do_not_matter(ClapRig::new);
}

#[test]
fn stopping_ends_everything() {
    checks::stopping_ends_everything(&mut ClapRig::new());
}

#[test]
fn it_plays_without_a_transport() {
    checks::plays_without_a_transport(&mut ClapRig::new());
}

#[test]
fn it_plays_beside_a_standing_transport() {
    checks::plays_beside_a_standing_transport(&mut ClapRig::new());
}

#[test]
fn hands_go_out_on_three_channels() {
    checks::hands_go_out_on_three_channels(&mut ClapRig::new());
}

#[test]
fn two_channels_tell_who_is_who() {
    checks::two_channels_tell_who_is_who(&mut ClapRig::new());
}

#[test]
fn controllers_pass_and_the_pedal_is_used() {
    checks::controllers_pass_and_the_pedal_is_used(&mut ClapRig::new());
}

#[test]
fn state_is_kept() {
    checks::state_is_kept(ClapRig::new);
}

#[test]
fn damaged_states_do_no_harm() {
    checks::damaged_states_do_no_harm(ClapRig::new);
}

#[test]
fn it_is_silent_until_asked() {
    checks::silent_until_asked(&mut ClapRig::new());
}

#[test]
fn nothing_hangs_over_a_restart() {
    checks::nothing_hangs_over_a_restart(&mut ClapRig::new());
}

#[test]
fn a_sheet_plays_as_it_does_offline() {
    sheet_checks::a_sheet_plays_as_it_does_offline(ClapRig::new);
}

#[test]
fn a_sheet_begins_where_it_is_told() {
    sheet_checks::a_sheet_begins_where_it_is_told(&mut ClapRig::new());
}

#[test]
fn a_sheet_gives_the_chords_alone() {
    sheet_checks::a_sheet_gives_the_chords_alone(&mut ClapRig::new());
}

#[test]
fn projects_bring_their_own_sheet() {
    sheet_checks::projects_bring_their_own_sheet(&mut ClapRig::new());
}
