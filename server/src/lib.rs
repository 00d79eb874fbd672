//! Turnbuckle: hand-offs between the departments of a collision repair shop.
//!
//! Thin shells around the crates that do the work: `domain` decides, `plan` orders, `store` keeps, `sync`
//! speaks with phones. In reading order: [`serve`] (what is started), [`http`] (requests), [`planner`]
//! (when to plan), [`notify`] (who is told outside the app), [`cli`] (commands).

#![forbid(unsafe_code)]

pub use sync::{clock, control, shop, writer};

pub mod auth;
pub mod cli;
pub mod config;
pub mod demo;
pub mod front;
pub mod http;
pub mod limits;
pub mod metrics;
pub mod notify;
pub mod photos;
pub mod planner;
pub mod seal;
pub mod serve;
pub mod starter;
pub mod tls;
