//! Turnbuckle: hand-offs between the departments of a collision repair shop.
//!
//! Thin shells around the pure crates: `domain` decides, `plan` orders, `store` keeps. In reading order:
//! [`shop`] (one open shop), [`writer`] (the only way in), [`planner`] (when to plan), [`http`] (requests),
//! [`notify`] (who is told outside the app), [`cli`] (commands).

pub mod auth;
pub mod cli;
pub mod clock;
pub mod config;
pub mod control;
pub mod demo;
pub mod http;
pub mod limits;
pub mod notify;
pub mod photos;
pub mod planner;
pub mod serve;
pub mod shop;
pub mod snapshot;
pub mod starter;
pub mod writer;
