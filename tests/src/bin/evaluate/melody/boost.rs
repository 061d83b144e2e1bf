//! Grows the weights of the chance of long notes: boosted trees whose every level asks one question.
//!
//! Newton steps on the logistic loss of both lengths at once (Friedman, Annals of Statistics 29, 2001; the
//! gain with a penalty on the leaves as usual since). The same rows and plan give the same trees.

use figwort_engine::reading::chance::{CUES, DEPTH, LEAVES, Prior, Tree};

/// Values of one cue that are told apart.
const BINS: usize = 32;

/// What is learned from: onsets, and what came of them.
#[derive(Clone, Debug, Default)]
pub(crate) struct Rows {
    pub(crate) cues: Vec<[u8; CUES]>,
    /// Whether the note lasted 1.5 beats, and 2.
    pub(crate) long: Vec<[bool; 2]>,
    pub(crate) weight: Vec<f32>,
}

/// How to grow.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Plan {
    pub(crate) trees: usize,
    /// How much of its correction each tree makes.
    pub(crate) rate: f32,
    /// Held against leaves with few notes.
    pub(crate) penalty: f32,
    /// Share of the notes that each tree sees.
    pub(crate) rows: f32,
    /// Share of the cues that each level may ask for.
    pub(crate) cues: f32,
}

struct Random(u64);

impl Random {
    /// Whether something of this probability happens.
    fn happens(&mut self, probability: f32) -> bool {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        ((self.0 >> 40) as f32) < probability * (1 << 24) as f32
    }
}

/// The values after which each cue is cut, so that the parts hold about equally many notes.
fn cuts(rows: &Rows, cue: usize) -> Vec<u8> {
    let mut counts = [0_usize; 256];
    for cues in &rows.cues {
        counts[usize::from(cues[cue])] += 1;
    }
    let goal = rows.cues.len() / BINS + 1;
    let present = counts.iter().filter(|count| **count > 0).count();
    let (mut cuts, mut sum) = (vec![], 0);
    for (value, count) in counts.iter().enumerate().take(255) {
        sum += count;
        if *count > 0 && cuts.len() + 1 < BINS && (sum >= goal || present <= BINS) {
            cuts.push(value as u8);
            sum = 0;
        }
    }
    cuts
}

fn chance(logit: f32) -> f32 {
    1.0 / (1.0 + (-logit).exp())
}

/// Slopes and curvatures of both losses at one note.
type Pull = [f32; 4];

/// Grows the trees.
pub(crate) fn grow(rows: &Rows, plan: Plan) -> Prior {
    let notes = rows.cues.len();
    let cuts: Vec<Vec<u8>> = (0..CUES).map(|cue| cuts(rows, cue)).collect();
    let bins: Vec<Vec<u8>> = cuts
        .iter()
        .enumerate()
        .map(|(cue, cuts)| {
            rows.cues.iter().map(|cues| cuts.partition_point(|cut| *cut < cues[cue]) as u8).collect()
        })
        .collect();
    let total: f32 = rows.weight.iter().sum();
    let base = [0, 1].map(|n| {
        let long: f32 = rows.long.iter().zip(&rows.weight).filter(|(long, _)| long[n]).map(|(_, w)| w).sum();
        let share = ((long + 1.0) / (total + 2.0)).clamp(0.001, 0.999);
        (share / (1.0 - share)).ln()
    });
    let mut random = Random(0x2545_F491_4F6C_DD1D);
    let mut logits = vec![base; notes];
    let mut trees = vec![];
    for _ in 0..plan.trees {
        let chosen: Vec<usize> = (0..notes).filter(|_| random.happens(plan.rows)).collect();
        let pulls: Vec<Pull> = chosen
            .iter()
            .map(|row| {
                let w = rows.weight[*row];
                let [a, b] = [0, 1].map(|n| chance(logits[*row][n]));
                let slope = |p: f32, long: bool| w * (f32::from(u8::from(long)) - p);
                let long = rows.long[*row];
                [slope(a, long[0]), w * a * (1.0 - a), slope(b, long[1]), w * b * (1.0 - b)]
            })
            .collect();
        let mut leaf = vec![0_usize; chosen.len()];
        let mut tree = Tree { cues: [0; DEPTH], over: [255; DEPTH], leaves: [[0; 2]; LEAVES] };
        for level in 0..DEPTH {
            let mut best = (f32::MIN, 0, 0);
            for cue in 0..CUES {
                if cuts[cue].is_empty() || !random.happens(plan.cues) {
                    continue;
                }
                let found = best_cut(&bins[cue], &chosen, &leaf, &pulls, 1 << level, cuts[cue].len(), plan);
                if found.0 > best.0 {
                    best = (found.0, cue, found.1);
                }
            }
            let (_, cue, cut) = best;
            let Some(over) = cuts[cue].get(cut) else { continue };
            tree.cues[level] = cue as u8;
            tree.over[level] = *over;
            for (leaf, row) in leaf.iter_mut().zip(&chosen) {
                *leaf |= usize::from(rows.cues[*row][cue] > *over) << level;
            }
        }
        let mut sums = [[0.0_f32; 4]; LEAVES];
        for (leaf, pull) in leaf.iter().zip(&pulls) {
            for (sum, part) in sums[*leaf].iter_mut().zip(pull) {
                *sum += part;
            }
        }
        for (leaf, sum) in tree.leaves.iter_mut().zip(sums) {
            let step = |slope: f32, curve: f32| {
                (plan.rate * slope / (curve + plan.penalty) / Prior::UNIT).round().clamp(-127.0, 127.0) as i8
            };
            *leaf = [step(sum[0], sum[1]), step(sum[2], sum[3])];
        }
        for (logit, cues) in logits.iter_mut().zip(&rows.cues) {
            for (logit, part) in logit.iter_mut().zip(tree.answer(cues)) {
                *logit += f32::from(part) * Prior::UNIT;
            }
        }
        trees.push(tree);
    }
    Prior { base, trees: Box::leak(trees.into_boxed_slice()) }
}

/// The cut of one cue that gains most, and its gain.
fn best_cut(
    bins: &[u8],
    chosen: &[usize],
    leaf: &[usize],
    pulls: &[Pull],
    leaves: usize,
    cuts: usize,
    plan: Plan,
) -> (f32, usize) {
    let mut sums = vec![[0.0_f32; 4]; leaves * BINS];
    for ((row, leaf), pull) in chosen.iter().zip(leaf).zip(pulls) {
        let sum = &mut sums[leaf * BINS + usize::from(bins[*row])];
        for (sum, part) in sum.iter_mut().zip(pull) {
            *sum += part;
        }
    }
    let worth =
        |sum: &Pull| sum[0] * sum[0] / (sum[1] + plan.penalty) + sum[2] * sum[2] / (sum[3] + plan.penalty);
    let mut gains = [0.0_f32; BINS];
    for sums in sums.chunks_exact(BINS) {
        let mut right = [0.0_f32; 4];
        for sum in sums {
            for (right, part) in right.iter_mut().zip(sum) {
                *right += part;
            }
        }
        let mut left = [0.0_f32; 4];
        for (gain, sum) in gains.iter_mut().zip(sums).take(cuts) {
            for ((left, right), part) in left.iter_mut().zip(&mut right).zip(sum) {
                *left += part;
                *right -= part;
            }
            *gain += worth(&left) + worth(&right);
        }
    }
    gains
        .iter()
        .take(cuts)
        .enumerate()
        .fold((f32::MIN, 0), |best, (cut, gain)| if *gain > best.0 { (*gain, cut) } else { best })
}
