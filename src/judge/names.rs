//! What findings call a pack and a test.

use crate::pack::Subject;
use crate::record::TestKind;
use crate::rulebook::EffectivePack;

/// A pack as findings print it.
pub fn standard_name(pack: &EffectivePack) -> String {
    if pack.pack.is_house() { pack.pack.designation.clone() } else { pack.pack.named(&pack.edition) }
}

/// The subject of a test finding, with the test named.
pub fn test_subject(subject: Subject, kind: TestKind) -> String {
    match subject {
        Subject::TestMade => kind.name().to_owned(),
        Subject::TestResult => format!("{} result", kind.name()),
        other => format!("{}, {}", kind.name(), other.name()),
    }
}
