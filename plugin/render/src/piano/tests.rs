//! What the piano promises: pitch, stretch, decay, brightness, damping, bounds and cost.

use super::*;
use std::f64::consts::PI;

const RATE: f32 = 48_000.0;

/// Plays `seconds` in blocks of 64 frames and returns both channels.
fn play(piano: &mut Piano, seconds: f32) -> (Vec<f32>, Vec<f32>) {
    let frames = (seconds * RATE) as usize;
    let (mut left, mut right) = (vec![0.0; frames], vec![0.0; frames]);
    for (left, right) in left.chunks_mut(64).zip(right.chunks_mut(64)) {
        piano.add_to(left, right);
    }
    (left, right)
}

/// One note, both channels summed.
fn note(key: u8, velocity: u8, seconds: f32) -> Vec<f32> {
    let mut piano = Piano::new(RATE);
    piano.note_on(key, velocity);
    let (left, right) = play(&mut piano, seconds);
    left.iter().zip(right).map(|(l, r)| l + r).collect()
}

/// Magnitude of a Hann-windowed discrete Fourier transform at any frequency.
fn magnitude(samples: &[f32], hertz: f64) -> f64 {
    let n = samples.len() as f64;
    let (mut re, mut im) = (0.0, 0.0);
    for (i, sample) in samples.iter().enumerate() {
        let window = 0.5 - 0.5 * (2.0 * PI * i as f64 / n).cos();
        let angle = 2.0 * PI * hertz * i as f64 / f64::from(RATE);
        re += f64::from(*sample) * window * angle.cos();
        im += f64::from(*sample) * window * angle.sin();
    }
    (re * re + im * im).sqrt() * 4.0 / n
}

/// The strongest frequency within `cents` of `near`, to a tenth of a cent.
fn peak_near(samples: &[f32], near: f64, cents: f64) -> f64 {
    let (mut centre, mut width) = (near, cents);
    while width > 0.05 {
        centre = (-10..=10)
            .map(|step| centre * (f64::from(step) * width / 10.0 / 1_200.0).exp2())
            .max_by(|a, b| magnitude(samples, *a).total_cmp(&magnitude(samples, *b)))
            .unwrap();
        width /= 5.0;
    }
    centre
}

fn cents(from: f64, to: f64) -> f64 {
    1_200.0 * (to / from).log2()
}

fn rms_db(samples: &[f32]) -> f64 {
    let mean = samples.iter().map(|s| f64::from(*s) * f64::from(*s)).sum::<f64>() / samples.len() as f64;
    10.0 * mean.max(1e-30).log10()
}

fn between(samples: &[f32], from: f32, to: f32) -> &[f32] {
    &samples[(from * RATE) as usize..(to * RATE) as usize]
}

fn peak(samples: &[f32]) -> f32 {
    samples.iter().fold(0.0, |peak, sample| peak.max(sample.abs()))
}

/// Equal temperament from A4 = 440 Hz is the reference.
#[test]
fn keys_have_their_pitch() {
    for key in [33_u8, 45, 57, 69, 81, 93] {
        let wanted = 440.0 * ((f64::from(key) - 69.0) / 12.0).exp2();
        let samples = note(key, 80, 0.6);
        let found = peak_near(between(&samples, 0.03, 0.6), wanted, 40.0);
        assert!(cents(wanted, found).abs() < 2.0, "key {key}: {:.2} cents", cents(wanted, found));
    }
}

/// The stiff-string formula f(n) = n·f0·√(1 + B·n²), relative to the first partial.
#[test]
fn partials_are_stretched_as_a_stiff_string_s() {
    for key in [45_u8, 57, 69] {
        let samples = note(key, 120, 1.0);
        let samples = between(&samples, 0.02, 0.7);
        let first = 440.0 * ((f64::from(key) - 69.0) / 12.0).exp2();
        let b = string::inharmonicity(f64::from(key));
        let mut before = 0.0;
        for n in [3.0_f64, 5.0, 8.0] {
            let wanted = 1_200.0 * ((1.0 + b * n * n) / (1.0 + b)).sqrt().log2();
            let found = cents(n * first, peak_near(samples, n * first * (wanted / 1_200.0).exp2(), 6.0));
            assert!((found - wanted).abs() < 2.0, "key {key} partial {n}: {found:.2} for {wanted:.2} cents");
            assert!(found > before, "key {key} partial {n} is not above");
            before = found;
        }
    }
}

/// The striking point at an eighth leaves partial 8 out, nearly: a hammer is not a point.
#[test]
fn the_striking_point_weakens_the_eighth_partial() {
    let samples = note(45, 110, 0.5);
    let b = string::inharmonicity(45.0);
    let at = |n: f64| magnitude(&samples, 110.0 * n * ((1.0 + b * n * n) / (1.0 + b)).sqrt());
    assert!(at(8.0) < at(7.0) * 0.35 && at(8.0) < at(9.0) * 0.35, "{} {} {}", at(7.0), at(8.0), at(9.0));
    assert!(at(8.0) > 0.0);
}

#[test]
fn harder_is_louder_and_brighter() {
    let centroid = |samples: &[f32]| {
        let bands = (1..80).map(|band| {
            let hertz = 110.0 * f64::from(band);
            (hertz, magnitude(samples, hertz).powi(2))
        });
        let (weighted, total) =
            bands.fold((0.0, 0.0), |(w, t), (hertz, power)| (w + hertz * power, t + power));
        weighted / total
    };
    for key in [45_u8, 69] {
        let tones = [30, 70, 115].map(|velocity| note(key, velocity, 0.35));
        let levels = [0, 1, 2].map(|i| rms_db(&tones[i]));
        let colours = [0, 1, 2].map(|i| centroid(&tones[i]));
        assert!(levels[0] + 6.0 < levels[1] && levels[1] + 3.0 < levels[2], "key {key}: {levels:?}");
        assert!(colours[0] * 1.1 < colours[1] && colours[1] * 1.1 < colours[2], "key {key}: {colours:?}");
    }
}

#[test]
fn strings_die_away_in_two_stages_and_sooner_higher_up() {
    // From the level in one stretch to that in another, in dB per second.
    let fall = |samples: &[f32], from: f32, to: f32, stretch: f32| {
        let a = rms_db(between(samples, from, from + stretch));
        let b = rms_db(between(samples, to, to + stretch));
        (a - b) / f64::from(to - from)
    };
    // The late stretches are as long as a beat of the strings, so that it evens out.
    let middle = note(69, 90, 9.0);
    let (prompt, after) = (fall(&middle, 0.05, 0.8, 0.25), fall(&middle, 2.5, 6.0, 2.5));
    assert!(prompt > 1.8 * after && after > 0.5, "A4 falls by {prompt:.1}, later {after:.1} dB/s");
    let by_register = [33_u8, 57, 81, 105].map(|key| fall(&note(key, 90, 1.2), 0.05, 0.8, 0.25));
    assert!(by_register.windows(2).all(|pair| pair[0] < pair[1]), "{by_register:?}");
}

#[test]
fn dampers_damp_the_pedal_holds_and_the_top_rings_on() {
    let released = |key: u8, pedal: bool| {
        let mut piano = Piano::new(RATE);
        piano.pedal(pedal);
        piano.note_on(key, 90);
        let sounding = play(&mut piano, 0.3).0;
        piano.note_off(key);
        let after = play(&mut piano, 0.6).0;
        (rms_db(between(&sounding, 0.2, 0.3)) - rms_db(between(&after, 0.45, 0.6)), piano)
    };
    assert!(released(60, false).0 > 40.0);
    assert!(released(28, false).0 > 40.0);
    let (held, mut piano) = released(60, true);
    assert!(held < 20.0, "the pedal held it, but it fell by {held:.1} dB");
    piano.pedal(false);
    play(&mut piano, 1.0);
    assert!(piano.is_silent());
    let (undamped, _) = released(94, false);
    let (damped, _) = released(84, false);
    assert!(undamped + 15.0 < damped, "{undamped:.1} {damped:.1}");
}

#[test]
fn all_off_ends_everything() {
    let mut piano = Piano::new(RATE);
    piano.pedal(true);
    for key in 21..=108 {
        piano.note_on(key, 100);
    }
    play(&mut piano, 0.1);
    piano.all_off();
    play(&mut piano, 1.5);
    assert!(piano.is_silent());
    let (left, right) = play(&mut piano, 0.1);
    assert!(left.iter().chain(&right).all(|sample| *sample == 0.0), "silence is exact zero");
}

#[test]
fn a_plain_chord_starts_quiet() {
    let mut piano = Piano::new(RATE);
    for key in [48, 55, 64, 72] {
        piano.note_on(key, 70);
    }
    let (left, right) = play(&mut piano, 1.0);
    let db = 20.0 * peak(&left).max(peak(&right)).log10();
    assert!((-20.0..=-16.0).contains(&db), "peak {db:.1} dBFS");
}

#[test]
fn forty_fortissimo_notes_stay_below_the_ceiling() {
    for gain in [1.0, 8.0] {
        let mut piano = Piano::new(RATE);
        piano.set_gain(gain);
        for key in 40..80 {
            piano.note_on(key, 127);
        }
        let (left, right) = play(&mut piano, 2.0);
        let loudest = peak(&left).max(peak(&right));
        assert!(loudest <= 0.89 && loudest > 0.2, "gain {gain}: {loudest}");
    }
}

/// Two pianos alike until one has to steal: what is stolen fades rather than stops, so that they part slowly.
#[test]
fn stealing_takes_the_quietest_without_a_click() {
    let mut piano = Piano::new(RATE);
    for key in 30..30 + VOICES as u8 {
        piano.note_on(key, if key == 60 { 45 } else { 70 });
    }
    play(&mut piano, 0.1);
    assert_eq!(piano.voices_sounding(), VOICES);
    let mut robbed = piano.clone();
    robbed.note_on(108, 1);
    assert_eq!(robbed.voices_sounding(), VOICES);
    assert!(robbed.voices.iter().all(|voice| voice.key() != 60), "the quietest was to go");
    let (whole, _) = play(&mut piano, 0.02);
    let (poorer, _) = play(&mut robbed, 0.02);
    let parted: Vec<f32> = whole.iter().zip(&poorer).map(|(a, b)| (a - b).abs()).collect();
    assert!(parted[0] < 0.2 * peak(&parted), "a jump of {} among {}", parted[0], peak(&parted));
}

#[test]
fn the_picture_is_wide_but_gentle() {
    let balance = |key| {
        let mut piano = Piano::new(RATE);
        piano.note_on(key, 80);
        let (left, right) = play(&mut piano, 0.3);
        rms_db(&left) - rms_db(&right)
    };
    let places = [24, 60, 105].map(balance);
    assert!(places[0] > 2.0 && places[2] < -2.0 && places[1].abs() < 1.0, "{places:?}");
    assert!(places.iter().all(|db| db.abs() < 8.0), "{places:?}");
}

/// At 16 kHz, 7200 Hz is the highest frequency that may be left.
#[test]
fn nothing_folds_back() {
    for key in 0..128 {
        let model = string::StringModel::new(key, 16_000.0);
        let lanes = &model.lanes[..model.used];
        assert!(lanes.iter().all(|lane| lane.frequency <= 0.45 * 16_000.0), "key {key}");
        assert!(model.used <= string::LANES);
    }
    let partials = |key| {
        let model = string::StringModel::new(key, RATE);
        let lanes = &model.lanes[..model.used];
        let mut frequencies: Vec<i64> = lanes
            .iter()
            .filter(|lane| !lane.knock)
            .map(|lane| (lane.frequency / model.fundamental + 0.3) as i64)
            .collect();
        frequencies.dedup();
        frequencies.len()
    };
    assert_eq!(partials(28), 24);
    assert!((8..24).contains(&partials(72)));
}

/// Cutting the time otherwise changes nothing that could be heard (-100 dB of full scale).
#[test]
fn blocks_do_not_matter() {
    let render = |block: usize| {
        let mut piano = Piano::new(RATE);
        piano.note_on(45, 100);
        piano.note_on(76, 60);
        let (mut left, mut right) = (vec![0.0_f32; 30_000], vec![0.0_f32; 30_000]);
        for (left, right) in left.chunks_mut(block).zip(right.chunks_mut(block)) {
            piano.add_to(left, right);
        }
        left
    };
    let reference = render(64);
    for block in [1, 37, 1_000] {
        let difference =
            render(block).iter().zip(&reference).fold(0.0_f32, |worst, (a, b)| worst.max((a - b).abs()));
        assert!(difference < 1e-5, "block {block}: {difference}");
    }
}

#[test]
fn odd_messages_are_harmless() {
    let mut piano = Piano::new(f32::NAN);
    piano.note_on(200, 90);
    piano.note_off(200);
    piano.note_on(60, 0);
    piano.set_gain(f32::NAN);
    assert!(piano.is_silent());
    piano.note_on(0, 255);
    piano.note_on(127, 127);
    let (left, _) = play(&mut piano, 0.2);
    assert!(left.iter().all(|sample| sample.is_finite()));
    let (mut short, mut long) = ([0.0; 10], [0.0; 100]);
    piano.add_to(&mut short, &mut long);
    assert!(long[10..].iter().all(|sample| *sample == 0.0));
}

/// All voices can sound at once, and stay finite and limited.
#[test]
fn every_voice_sounds_at_once() {
    let mut piano = Piano::new(RATE);
    piano.pedal(true);
    for key in 30..30 + VOICES as u8 {
        piano.note_on(key, 127);
    }
    let mut loudest = 0.0_f32;
    for _ in 0..500 {
        let (mut left, mut right) = ([0.0; 64], [0.0; 64]);
        piano.add_to(&mut left, &mut right);
        assert!(left.iter().chain(&right).all(|sample| sample.is_finite()));
        loudest = left.iter().chain(&right).fold(loudest, |most, sample| most.max(sample.abs()));
    }
    assert_eq!(piano.voices_sounding(), VOICES);
    assert!(loudest > 0.0 && loudest <= 1.0, "{loudest}");
}
