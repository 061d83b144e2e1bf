//! The exact bridge between musical time and frames.
