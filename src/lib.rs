//! brightproof judges a finished lot's record against the standards its order names, clause by
//! clause, and either lists the gaps or issues a sealed certificate that anyone can verify.
//!
//! ```text
//! part spec + order + shop book + record -> judge -> findings -> certificate data -> page -> seal -> register
//!             (documents)                   (pure)                    (pure)         (PDF)        (append-only)
//!                                             verify <- PDF + trust anchor (+ register)
//! ```
//!
//! Five layers; a module imports lower layers only, and edges never import each other
//! (`tests/layers.rs` enforces it).

// 1. values: depend on nothing of ours
pub mod moment;
pub mod numeric;
pub mod path;
pub mod units;

// 2. documents: plain data as written in the shop's files
pub mod adoption;
pub mod alloy;
pub mod columns;
pub mod computed;
pub mod correction;
pub mod decision;
pub mod deviation;
pub mod evidence;
pub mod load;
pub mod logger;
pub mod order;
pub mod pack;
pub mod part;
pub mod periodic;
pub mod record;
pub mod removal;
pub mod sampling;
pub mod shipment;
pub mod shop;
pub mod solution;
pub mod surface;
pub mod trace_form;
pub mod validate;

// 3. judgement: pure functions
pub mod bath_log;
pub mod callout;
pub mod canonical;
pub mod certificate;
pub mod changes;
pub mod credential;
pub mod figures;
pub mod finding;
pub mod judge;
pub mod lint;
pub mod merkle;
pub mod picture;
pub mod plan;
pub mod roughness;
pub mod rulebook;

// 4. edges: each wraps one outside thing and is the only one to name it
pub mod checkpoint;
pub mod folder;
pub mod http;
pub mod log_file;
pub mod passphrase;
pub mod pdf;
pub mod register;
pub mod seal;
pub mod sheet;
pub mod time_stamp;
pub mod token;
pub mod trace_file;
pub mod yaml;

// 5. the tool
pub mod app;
pub mod cli;
pub mod command;
pub mod report;
