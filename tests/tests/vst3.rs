//! The plugin as VST3, loaded from its bundle into a host in this process.

use tests::checks;
use tests::sheet_checks;
use tests::vst3_host::Vst3Rig;

/// Controllers come in VST3 as parameters of their own; the player sees none of them.
#[test]
fn controllers_have_hidden_parameters() {
    let rig = Vst3Rig::new();
    assert_eq!(rig.parameter_count(), 26 + 130 * 16);
}

#[test]
fn the_melody_passes_and_is_accompanied() {
    checks::melody_passes_and_is_accompanied(&mut Vst3Rig::new());
}

#[test]
fn it_moves_while_the_melody_stands() {
    checks::moves_while_the_melody_stands(&mut Vst3Rig::new());
}

#[test]
fn parameters_have_names_ranges_and_words() {
    checks::parameters_have_names_ranges_and_words(&mut Vst3Rig::new());
}

#[test]
fn automation_changes_the_music() {
    checks::automation_changes_the_music(Vst3Rig::new);
}

#[test]
fn blocks_do_not_matter() {
    checks::blocks_do_not_matter(Vst3Rig::new);
}

#[test]
fn stopping_ends_everything() {
    checks::stopping_ends_everything(&mut Vst3Rig::new());
}

#[test]
fn it_plays_without_a_transport() {
    checks::plays_without_a_transport(&mut Vst3Rig::new());
}

#[test]
fn it_plays_beside_a_standing_transport() {
    checks::plays_beside_a_standing_transport(&mut Vst3Rig::new());
}

#[test]
fn hands_go_out_on_three_channels() {
    checks::hands_go_out_on_three_channels(&mut Vst3Rig::new());
}

#[test]
fn two_channels_tell_who_is_who() {
    checks::two_channels_tell_who_is_who(&mut Vst3Rig::new());
}

#[test]
fn controllers_pass_and_the_pedal_is_used() {
    checks::controllers_pass_and_the_pedal_is_used(&mut Vst3Rig::new());
}

#[test]
fn state_is_kept() {
    checks::state_is_kept(Vst3Rig::new);
}

#[test]
fn damaged_states_do_no_harm() {
    checks::damaged_states_do_no_harm(Vst3Rig::new);
}

#[test]
fn it_is_silent_until_asked() {
    checks::silent_until_asked(&mut Vst3Rig::new());
}

#[test]
fn nothing_hangs_over_a_restart() {
    checks::nothing_hangs_over_a_restart(&mut Vst3Rig::new());
}

#[test]
fn a_sheet_plays_as_it_does_offline() {
    sheet_checks::a_sheet_plays_as_it_does_offline(Vst3Rig::new);
}

#[test]
fn a_sheet_begins_where_it_is_told() {
    sheet_checks::a_sheet_begins_where_it_is_told(&mut Vst3Rig::new());
}

#[test]
fn a_sheet_gives_the_chords_alone() {
    sheet_checks::a_sheet_gives_the_chords_alone(&mut Vst3Rig::new());
}

#[test]
fn projects_bring_their_own_sheet() {
    sheet_checks::projects_bring_their_own_sheet(&mut Vst3Rig::new());
}
