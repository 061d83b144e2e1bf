//! Whether the samples of a soundfont can be played round their loops at every pitch that is asked of them.
//!
//! The library steps through a loop frame by frame of the output and goes back by one loop's length at a time; a
//! pitch so high that one step is longer than the loop leads it out of the samples. Pitches as in SoundFont 2.04,
//! section 8.1: generators of preset and instrument are added up.

use rustysynth::{InstrumentRegion, LoopMode, Preset, PresetRegion, SoundFont};

/// The highest key of a piano; parts do not go higher.
const HIGHEST_KEY: i32 = 108;

/// Whether every loop of the preset that plays is long enough at a sample rate, in frames per second.
pub(super) fn are_long_enough(font: &SoundFont, rate: u32) -> bool {
    let Some(preset) = preset(font) else { return true };
    preset.get_regions().iter().all(|zone| {
        let instrument = font.get_instruments().get(zone.get_instrument_id());
        let regions = instrument.map_or(&[][..], |instrument| instrument.get_regions());
        regions.iter().all(|region| is_long_enough(font, zone, region, rate))
    })
}

/// The preset that plays: the first piano, or the one with the lowest numbers.
fn preset(font: &SoundFont) -> Option<&Preset> {
    font.get_presets().iter().min_by_key(|preset| (preset.get_bank_number(), preset.get_patch_number()))
}

fn is_long_enough(font: &SoundFont, zone: &PresetRegion, region: &InstrumentRegion, rate: u32) -> bool {
    let Some(sample) = font.get_sample_headers().get(region.get_sample_id()) else { return true };
    // A rate beyond the library's numbers is below nought to it, and it would step backwards out of the sample.
    if sample.get_sample_rate() < 0 {
        return false;
    }
    let length = i64::from(region.get_sample_end_loop()) - i64::from(region.get_sample_start_loop());
    if region.get_sample_modes() == LoopMode::NoLoop || length <= 0 {
        return true;
    }
    let lowest = region.get_key_range_start().max(zone.get_key_range_start());
    let highest = region.get_key_range_end().min(zone.get_key_range_end()).min(HIGHEST_KEY);
    let cents = |cents: i32| f64::from(cents) / 100.0;
    let tune = f64::from(region.get_coarse_tune() + zone.get_coarse_tune())
        + cents(region.get_fine_tune() + zone.get_fine_tune());
    let scale = cents(region.get_scale_tuning() + zone.get_scale_tuning());
    let swing = (region.get_modulation_lfo_to_pitch() + zone.get_modulation_lfo_to_pitch()).abs()
        + (region.get_vibrato_lfo_to_pitch() + zone.get_vibrato_lfo_to_pitch()).abs()
        + (region.get_modulation_envelope_to_pitch() + zone.get_modulation_envelope_to_pitch()).max(0);
    [lowest, highest].into_iter().filter(|_| lowest <= highest).all(|key| {
        let semitones = scale * f64::from(key - region.get_root_key()) + tune + cents(swing);
        let step = f64::from(sample.get_sample_rate()) / f64::from(rate.max(1)) * (semitones / 12.0).exp2();
        step <= length as f64
    })
}
