//! Surface analysis: what an electron or glow-discharge spectrum says about a passive film, and the pitting
//! resistance of the alloy beneath.
//!
//! A chromium to iron ratio belongs to the method it was measured by: the methods look to different depths
//! and their sensitivities differ, so ratios of different methods are never compared.

mod atomic;
mod fault;
mod pren;
mod profile;

pub use atomic::AtPercent;
pub use atomic::AtomicPercent;
pub use atomic::Content;
pub use atomic::Method;
pub use atomic::RatioKind;
pub use atomic::Sputtered;
pub use atomic::SurfaceRatio;
pub use fault::SurfaceError;
pub use pren::Formula;
pub use pren::Pren;
pub use pren::pren;
pub use profile::DepthProfile;
pub use profile::OxideDepth;
pub use profile::ProfileRow;
pub use profile::ReferenceOxide;
pub use profile::SputterRate;
pub use profile::oxide_depth;
