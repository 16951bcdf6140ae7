//! Reads an exported score and says which low-brass notes will not come off.
//!
//! The way of the data, from the ground up:
//!
//! ```text
//! bytes ── musicxml ──▶ Score ── playing (with profile, settings) ──▶ Section ── rules ──▶ findings
//!                                                                        │                    │
//!                                                                        └── octaves ◀────────┘
//!                                                                               │ moves
//!                                              report ◀── check ◀───────────────┘
//! ```
//!
//! Each module uses only those above it in this list.

pub mod intake;
mod keys;
pub mod music;
pub mod nearest;
pub mod printable;
pub mod score;
pub mod system;

pub mod finding;

pub mod musicxml;
pub mod profile;
pub mod settings;

pub mod playing;

pub mod rules;

pub mod octaves;

pub mod copies;

pub mod check;

pub mod report;
