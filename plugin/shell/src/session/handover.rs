//! Passing something big to the audio thread and getting the old one back, so that it is dropped elsewhere.
//!
//! # Real time
//! [`Handover::take`] is the audio thread's: no allocation, no lock, nothing dropped. [`Handover::offer`] is
//! everybody else's.

use crossbeam::queue::ArrayQueue;

/// Room for what the audio thread has done with.
const SPENT: usize = 4;

/// A letter box for one value of `T`, or for the news that there is none any more.
#[derive(Debug)]
pub(crate) struct Handover<T> {
    coming: ArrayQueue<Option<Box<T>>>,
    spent: ArrayQueue<Box<T>>,
}

impl<T> Handover<T> {
    pub(crate) fn new() -> Self {
        Self { coming: ArrayQueue::new(1), spent: ArrayQueue::new(SPENT) }
    }

    /// Puts a value in; one that was not taken yet is dropped here, and so is all that came back.
    pub(crate) fn offer(&self, value: Option<Box<T>>) {
        self.coming.force_push(value);
        while self.spent.pop().is_some() {}
    }

    /// Takes what is there in place of `held`; whether there was anything.
    pub(crate) fn take(&self, held: &mut Option<Box<T>>) -> bool {
        // Only this thread fills `spent`, so there is room afterwards if there is now.
        if self.spent.is_full() {
            return false;
        }
        let Some(new) = self.coming.pop() else { return false };
        if let Some(old) = std::mem::replace(held, new)
            && let Err(old) = self.spent.push(old)
        {
            // Cannot be; leaking it is better than freeing it here.
            std::mem::forget(old);
        }
        true
    }
}

#[cfg(test)]
mod tests {
    use std::sync::Arc;

    use super::*;

    #[test]
    fn what_is_replaced_comes_back_and_is_dropped_by_the_giver() {
        let box_of = |value: &Arc<i32>| Some(Box::new(Arc::clone(value)));
        let (first, second) = (Arc::new(1), Arc::new(2));
        let handover = Handover::new();
        let mut held = None;
        assert!(!handover.take(&mut held));
        handover.offer(box_of(&first));
        assert!(handover.take(&mut held));
        handover.offer(box_of(&second));
        assert!(handover.take(&mut held));
        assert_eq!(held.as_deref(), Some(&second));
        // It waits in the box, alive, until the giver comes again.
        assert_eq!(Arc::strong_count(&first), 2);
        handover.offer(None);
        assert_eq!(Arc::strong_count(&first), 1);
        assert!(handover.take(&mut held));
        assert!(held.is_none());
    }

    #[test]
    fn a_giver_who_never_clears_up_loses_nothing() {
        let handover = Handover::new();
        let mut held = None;
        for n in 0..20 {
            handover.coming.force_push(Some(Box::new(n)));
            handover.take(&mut held);
        }
        assert!(handover.spent.is_full());
        handover.offer(Some(Box::new(99)));
        assert!(handover.take(&mut held));
        assert_eq!(held.as_deref(), Some(&99));
    }
}
