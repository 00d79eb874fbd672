//! The API as a client sees it, one file per resource, against a shop in memory.

#[path = "../support/mod.rs"]
mod support;

#[allow(dead_code)] // the parts that other targets use
#[path = "../support/process.rs"]
mod process;

mod attacks;
mod bad_input;
mod bounds;
mod forecast;
mod measures;
mod metrics;
mod openapi;
mod set_back;
mod sign_in;
mod sisters;
mod sync;
mod tablet;
mod tls;
mod turn;
mod weeks;
mod what_if;
