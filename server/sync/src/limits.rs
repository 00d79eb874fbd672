//! What one step takes at most, with the reason.

/// Operations in one push: what a phone gathers in a long day without signal still goes in a few.
pub const PUSH_OPS_MAX: usize = 100;
/// Documents in one page of a pull.
pub const PULL_DOCS_MAX: usize = 500;
/// Operations the writer decides on before it syncs once.
pub const BATCH_OPS_MAX: usize = 512;
/// Frames a slow reader may be behind before it is told to pull.
pub const LIVE_FRAMES_MAX: usize = 64;
