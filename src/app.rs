//! The tool's verbs over the layers below: used by the command line now, by pages later. The clock and chance
//! come in here, as arguments of each verb.

pub mod addressees;
pub mod adopt;
pub mod affected;
pub mod blank;
pub mod book;
pub mod builtin;
pub mod call_outs;
pub mod computed;
pub mod correct;
pub mod delivery;
pub mod demo_files;
pub mod desk;
pub mod deviations;
pub mod dossier;
pub mod editions;
pub mod error;
pub mod evidence;
pub mod family;
pub mod figures;
pub mod grade;
pub mod hold;
pub mod holders;
pub mod intake;
pub mod issue;
pub mod journal;
pub mod legacy;
pub mod lookup;
pub mod make;
pub mod over;
pub mod plan;
pub mod release;
pub mod shared;
mod switching;
pub mod verify;
pub mod withheld;
pub mod world;
