//! What somebody could try who may do less than they want: each file one kind of attack, with the right use beside
//! it; `binary.rs` plays each kind against the command as a shop starts it. Which kinds there are follows OWASP's Application Security Verification Standard 5.0 (chapters 6 to 8).

mod binary;
mod browser;
mod delivery;
mod disk;
mod guessing;
mod links;
mod matrix;
mod origin;
mod passkey;
mod refresh;
mod removed;
mod told;
