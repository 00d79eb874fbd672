//! The core against something outside it: published samples, handbook formulas, general libraries.
//! The source stands beside each check; [MEM] marks a value recalled from memory.

#[path = "../support/mod.rs"]
mod support;

mod calendars;
mod control;
mod critical_path;
mod identity;
mod measures;
mod waits;
