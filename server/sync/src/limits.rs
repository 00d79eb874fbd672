//! The most that one step takes, and why.

/// Operations in one push: a long day without signal still fits into a few pushes.
pub const PUSH_OPS_MAX: usize = 100;
/// Documents in one page of a pull.
pub const PULL_DOCS_MAX: usize = 500;
/// Operations the writer decides on before it syncs once.
pub const BATCH_OPS_MAX: usize = 512;
/// How many frames a slow reader may fall behind before it is told to pull.
pub const LIVE_FRAMES_MAX: usize = 64;
