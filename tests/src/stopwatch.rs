//! How long something takes: by the clock, and of the processor's time.
//!
//! What a busy machine does meanwhile counts by the clock alone. Where they differ, the thread was kept waiting.

use std::time::{Duration, Instant};

/// A time that was taken.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Spent {
    /// By the clock.
    pub clock: Duration,
    /// Of the processor's time for this thread, by the system's own reckoning; zero where it doesn't tell. Includes
    /// about half a microsecond of its being asked.
    pub processor: Duration,
}

/// Does something and says how long it took.
pub fn timed<R>(what: impl FnOnce() -> R) -> (R, Spent) {
    // The clock runs inside, so that it doesn't see the slower question about the processor.
    let before = processor();
    let begun = Instant::now();
    let result = what();
    let clock = begun.elapsed();
    (result, Spent { clock, processor: processor().saturating_sub(before) })
}

/// This thread's time on a processor so far.
#[cfg(target_os = "linux")]
pub fn processor() -> Duration {
    let spent = rustix::time::clock_gettime(rustix::time::ClockId::ThreadCPUTime);
    Duration::new(spent.tv_sec.unsigned_abs(), spent.tv_nsec as u32)
}

/// This thread's time on a processor so far; not known here.
#[cfg(not(target_os = "linux"))]
pub fn processor() -> Duration {
    Duration::ZERO
}

#[cfg(all(test, target_os = "linux"))]
mod tests {
    use super::*;

    #[test]
    fn waiting_takes_no_processor() {
        let ((), waited) = timed(|| std::thread::sleep(Duration::from_millis(20)));
        assert!(waited.clock >= Duration::from_millis(20) && waited.processor < Duration::from_millis(10));
        let (_, worked) = timed(|| {
            let begun = processor();
            while processor() - begun < Duration::from_millis(5) {}
        });
        assert!(worked.processor >= Duration::from_millis(5));
    }
}
