//! Traces read from tables of text and X3P files; all data is invented or generated.
#![allow(clippy::unwrap_used, reason = "a test stops at the first surprise")]

mod any_bytes;
mod csv;
mod made;
mod x3p;
