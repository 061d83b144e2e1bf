//! The plugin's life in a host, in both formats: rates, blocks, switching, buffers, threads, states, crowds.

use tests::clap_host::ClapRig;
use tests::life_checks as checks;
use tests::vst3_host::Vst3Rig;

/// The same questions to a format.
macro_rules! life {
    ($format:ident, $rig:ty) => {
        mod $format {
            use super::*;

            #[test]
            fn sample_rates_do_not_matter() {
                checks::sample_rates_do_not_matter(<$rig>::new);
            }

            #[test]
            fn it_can_be_switched_on_and_off() {
                checks::can_be_switched_on_and_off(&mut <$rig>::new());
            }

            #[test]
            fn nothing_hangs_over_a_pause() {
                checks::nothing_hangs_over_a_pause(&mut <$rig>::new());
            }

            #[test]
            fn it_plays_on_after_blocks_without_buffers() {
                checks::plays_on_after_blocks_without_buffers(<$rig>::new);
            }

            #[test]
            fn parameters_arrive_without_a_block() {
                checks::parameters_arrive_without_a_block(<$rig>::new);
            }

            #[test]
            fn threads_do_not_matter() {
                checks::threads_do_not_matter(<$rig>::new);
            }

            #[test]
            fn states_are_kept_in_every_phase() {
                checks::states_in_every_phase(<$rig>::new);
            }

            #[test]
            fn two_hundred_play_at_once() {
                checks::two_hundred_at_once(<$rig>::new);
            }

            #[test]
            fn it_survives_a_flood() {
                checks::survives_a_flood(<$rig>::new);
            }

            #[test]
            fn disorder_does_not_matter() {
                checks::disorder_does_not_matter(<$rig>::new);
            }
        }
    };
}

life!(clap, ClapRig);
life!(vst3, Vst3Rig);
