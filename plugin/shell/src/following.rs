//! Following a sheet: what of it is used, and where it lies in the host's time.
//!
//! The engine sees the sheet's time: the host's position, moved so that the sheet begins at zero. Jumps and
//! loops of the host are thus the engine's too; before the sheet and past its end the engine is silent by
//! itself. While the host stands, nothing is followed and playing is free.
//!
//! # Real time
//! No allocation, no lock.

use figwort_engine::{Chart, Source, Transport};
use figwort_theory::TICKS_PER_QUARTER;

use crate::params::SheetChoice;
use crate::sheet::Score;

/// The final chord is announced this many frames before its place, as the engine may round the place down.
const LEAD: f64 = 2.0;

/// A sheet, and how it is to be followed.
#[derive(Clone, Copy)]
pub(crate) struct Following<'a> {
    pub(crate) score: Option<&'a Score>,
    pub(crate) gives: SheetChoice,
    /// The host's bar in which the sheet begins, from 1.
    pub(crate) bar: i32,
}

/// What that makes of one call of the engine.
pub(crate) struct Followed<'a> {
    pub(crate) chart: Option<Chart<'a>>,
    pub(crate) source: Source,
    /// Whether the next chord is the sheet's last.
    pub(crate) last: bool,
    /// Frames after which this has to be asked again; `None` for the whole block.
    pub(crate) until: Option<u32>,
}

impl<'a> Following<'a> {
    /// At the first frame of a call. Moves the transport into the sheet's time, if it is followed; `live` is
    /// who supplies what otherwise.
    pub(crate) fn begin(self, transport: &mut Transport, live: Source, sample_rate: f32) -> Followed<'a> {
        let source = match self.gives {
            SheetChoice::All => Source::Chart,
            SheetChoice::Chords => Source::ChartHarmony,
            SheetChoice::Melody => Source::ChartMelody,
            SheetChoice::Nothing => live,
        };
        let score = self.score.filter(|_| transport.playing && self.gives != SheetChoice::Nothing);
        let Some(score) = score else {
            return Followed { chart: None, source: live, last: false, until: None };
        };
        let start = score.start(self.bar).0 as f64 / TICKS_PER_QUARTER as f64;
        transport.position = transport.position.map(|position| position - start);
        transport.bar_start = transport.bar_start.map(|position| position - start);
        let mut followed = Followed { chart: Some(score.chart.chart()), source, last: false, until: None };
        let finish = score.finish.filter(|_| source != Source::ChartMelody);
        if let (Some(finish), Some(position), Some(tempo)) = (finish, transport.position, transport.tempo) {
            let quarters = finish.0 as f64 / TICKS_PER_QUARTER as f64 - position;
            let frames = (quarters * 60.0 / tempo * f64::from(sample_rate)).ceil() - LEAD;
            followed.last = frames <= 0.0;
            // A block is never as long as this number can say.
            followed.until = (frames > 0.0).then(|| frames.min(f64::from(u32::MAX)) as u32);
        }
        followed
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sheet::LoadedSheet;

    const TUNE: &[u8] = b"X:1\nM:4/4\nL:1/4\nK:C\n\"C\"CDEF|\"F\"F4|\"G\"G4|\"C\"c4|]\n";

    #[test]
    fn the_host_stands_where_the_sheet_does() {
        let score = LoadedSheet::read("a.abc", TUNE, None).expect("a tune").score();
        let wanted = Following { score: Some(&score), gives: SheetChoice::All, bar: 3 };
        let host = Transport {
            playing: true,
            tempo: Some(60.0),
            position: Some(20.0),
            bar_start: Some(20.0),
            metre: None,
        };
        let mut transport = host;
        let followed = wanted.begin(&mut transport, Source::Hands, 1_000.0);
        assert_eq!((transport.position, transport.bar_start), (Some(12.0), Some(12.0)));
        assert_eq!(followed.source, Source::Chart);
        assert!(followed.last && followed.until.is_none());
        // Two beats earlier the last chord is two thousand frames away.
        let mut transport = Transport { position: Some(18.0), ..host };
        let followed = wanted.begin(&mut transport, Source::Hands, 1_000.0);
        assert_eq!((followed.last, followed.until), (false, Some(1_998)));
        // A host that stands, or a sheet that gives nothing: live as ever.
        for (playing, gives) in [(false, SheetChoice::All), (true, SheetChoice::Nothing)] {
            let mut transport = Transport { playing, ..host };
            let before = transport;
            let followed = Following { gives, ..wanted }.begin(&mut transport, Source::Hands, 1_000.0);
            assert!(followed.chart.is_none() && transport == before);
            assert_eq!(followed.source, Source::Hands);
        }
    }
}
