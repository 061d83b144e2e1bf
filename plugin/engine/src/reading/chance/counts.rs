//! What this tune did before in like circumstances: counts that learn as it goes.

/// Circumstances that are told apart, as [`super::cues`] makes them.
pub(super) const CIRCUMSTANCES: usize = 16;
/// Entries for each; older ones make room.
const SLOTS: usize = 256;
/// The slowest that a count learns: as one of so many.
const SLOWEST: u32 = 24;

/// What came of one circumstance.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Count {
    check: u8,
    /// How often it came.
    pub(super) times: u8,
    /// How long the last note lasted that was struck in it, in twelfths of a beat.
    pub(super) last: u8,
    /// Share of notes that lasted 1.5 beats, of 65 536.
    pub(super) half: u16,
    /// Share of notes that lasted 2 beats, of 65 536.
    pub(super) two: u16,
}

impl Count {
    fn learn(&mut self, length: u8) {
        let rate = (u32::from(self.times) * 2 + 3).min(SLOWEST * 2);
        let learn = |share: u16, came: bool| {
            let goal: i32 = if came { 65_535 } else { 0 };
            (i32::from(share) + (goal - i32::from(share)) * 2 / rate as i32) as u16
        };
        self.half = learn(self.half, length >= super::HALF);
        self.two = learn(self.two, length >= super::TWO);
        self.times = self.times.saturating_add(1);
        self.last = length;
    }
}

/// The counts that were told last, as they had been.
#[derive(Clone, Copy, Debug)]
pub(super) struct Before {
    open: [u8; CIRCUMSTANCES],
    counts: [Count; CIRCUMSTANCES],
}

/// All counts of a tune.
#[derive(Clone, Debug)]
pub(super) struct Counts {
    slots: [[Count; SLOTS]; CIRCUMSTANCES],
    /// The entries that wait to be told how long the present note lasts.
    open: Option<[u8; CIRCUMSTANCES]>,
}

impl Counts {
    pub(super) const NONE: Self = Self {
        slots: [[Count { check: 0, times: 0, last: 0, half: 0, two: 0 }; SLOTS]; CIRCUMSTANCES],
        open: None,
    };

    /// The note struck last has lasted `length`. Returns what [`Counts::take_back`] needs.
    pub(super) fn learn(&mut self, length: u8) -> Option<Before> {
        let open = self.open.take()?;
        let mut before = Before { open, counts: [Count::default(); CIRCUMSTANCES] };
        for ((slots, slot), before) in self.slots.iter_mut().zip(open).zip(&mut before.counts) {
            let count = &mut slots[usize::from(slot)];
            *before = *count;
            count.learn(length);
        }
        Some(before)
    }

    /// The note struck last goes on after all.
    pub(super) fn take_back(&mut self, before: Option<Before>) {
        if let Some(before) = before {
            for ((slots, slot), count) in self.slots.iter_mut().zip(before.open).zip(before.counts) {
                slots[usize::from(slot)] = count;
            }
        }
        self.open = before.map(|before| before.open);
    }

    /// What came of these circumstances, each a hash. A new one starts with the share that the first one has.
    pub(super) fn look(&mut self, keys: &[u32; CIRCUMSTANCES]) -> [Count; CIRCUMSTANCES] {
        let mut found = [Count::default(); CIRCUMSTANCES];
        let mut open = [0; CIRCUMSTANCES];
        let mut usual = Count { half: 13_000, two: 10_500, ..Count::default() };
        for (n, key) in keys.iter().enumerate() {
            let hash = (key + 1).wrapping_mul(0x9E37_79B1);
            let (first, check) = ((hash >> 24) as usize % SLOTS, (hash >> 16) as u8);
            let other = first ^ 1;
            let slots = &mut self.slots[n];
            let is = |count: &Count| count.times > 0 && count.check == check;
            let slot = if is(&slots[first]) {
                first
            } else if is(&slots[other]) {
                other
            } else {
                let slot = if slots[first].times <= slots[other].times { first } else { other };
                slots[slot] = Count { check, times: 0, last: 0, ..usual };
                slot
            };
            open[n] = slot as u8;
            found[n] = slots[slot];
            if n == 0 {
                usual = found[0];
            }
        }
        self.open = Some(open);
        found
    }
}
