//! Turnbuckle: hand-offs between the departments of a collision repair shop.
//!
//! Thin shells around the crates that do the work: `domain` decides, `sync` speaks with phones, `store` keeps, `planner` keeps
//! the order that `plan` finds, `tls` makes the connection one that browsers trust. In reading order: [`serve`] (what is
//! started), [`http`] (requests), [`notify`] (who is told outside the app), [`cli`] (commands).

pub use sync::{clock, control, shop, writer};

pub mod auth;
pub mod cli;
pub mod config;
pub mod front;
pub mod http;
pub mod limits;
pub mod metrics;
pub mod notify;
pub mod photos;
pub mod seal;
pub mod serve;
