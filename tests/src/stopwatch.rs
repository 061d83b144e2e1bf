//! How long something takes: by the clock, and of the processor's time.
//!
//! What a busy machine does meanwhile counts by the clock alone. Where they differ, the thread was kept waiting.

use std::sync::LazyLock;
use std::time::{Duration, Instant};

/// A time that was taken.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Spent {
    /// By the clock.
    pub clock: Duration,
    /// Of the processor's time for this thread, by the system's own reckoning, less what asking for it usually costs;
    /// where the system doesn't tell, the same as by the clock.
    pub processor: Duration,
}

/// Does something and says how long it took.
pub fn timed<R>(what: impl FnOnce() -> R) -> (R, Spent) {
    static ASKING: LazyLock<Duration> = LazyLock::new(|| {
        let mut asked: Vec<Duration> = (0..9_999).map(|_| raw(|| ()).1.processor).collect();
        asked.sort();
        asked[asked.len() / 2]
    });
    let asking = *ASKING;
    let (result, spent) = raw(what);
    (result, Spent { processor: spent.processor.saturating_sub(asking), ..spent })
}

fn raw<R>(what: impl FnOnce() -> R) -> (R, Spent) {
    // The clock runs inside, so that it doesn't see the slower question about the processor.
    let before = processor();
    let begun = Instant::now();
    let result = what();
    let clock = begun.elapsed();
    let processor = processor().zip(before).map_or(clock, |(after, before)| after.saturating_sub(before));
    (result, Spent { clock, processor })
}

/// This thread's time on a processor so far (Valgrind cannot run this); `None` where the system doesn't tell, which is everywhere but on Linux.
fn processor() -> Option<Duration> {
    #[cfg(target_os = "linux")]
    {
        let spent = rustix::time::clock_gettime(rustix::time::ClockId::ThreadCPUTime);
        Some(Duration::new(spent.tv_sec.unsigned_abs(), spent.tv_nsec as u32))
    }
    #[cfg(not(target_os = "linux"))]
    None
}

#[cfg(all(test, target_os = "linux"))]
mod tests {
    use super::*;

    #[test]
    fn waiting_takes_no_processor() {
        let ((), waited) = timed(|| std::thread::sleep(Duration::from_millis(20)));
        assert!(waited.clock >= Duration::from_millis(20) && waited.processor < Duration::from_millis(10));
        let (_, worked) = timed(|| {
            let begun = processor().expect("Linux tells");
            while processor().expect("Linux tells") - begun < Duration::from_millis(5) {}
        });
        assert!(worked.processor >= Duration::from_micros(4_990));
    }
}
