//! The tool's verbs over the layers below: used by the command line now, by pages later. The clock and chance
//! come in here, as arguments of each verb.

pub mod adopt;
pub mod book;
pub mod builtin;
pub mod demo_files;
pub mod desk;
pub mod deviations;
pub mod dossier;
pub mod error;
pub mod issue;
pub mod lookup;
pub mod make;
pub mod verify;
pub mod world;
