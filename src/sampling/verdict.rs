//! What a count of nonconforming pieces means for the lot.

/// What a count means.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Verdict {
    /// Accepted.
    Accept,
    /// Accepted, and inspection goes back to normal: between Ac and Re of reduced inspection.
    AcceptBackToNormal,
    /// Not accepted.
    Reject,
}

impl Verdict {
    /// Whether the lot is accepted.
    pub const fn accepted(self) -> bool {
        !matches!(self, Verdict::Reject)
    }

    /// In words.
    pub const fn words(self) -> &'static str {
        match self {
            Verdict::Accept => "accepted",
            Verdict::AcceptBackToNormal => "accepted; inspection goes back to normal",
            Verdict::Reject => "not accepted",
        }
    }
}

/// `found <= Ac` accepts, `found >= Re` does not; between them (reduced inspection of MIL-STD-105E and ANSI/ASQ Z1.4
/// only) the lot is accepted and the next is inspected normally. Numbers that contradict each other (Re not above Ac)
/// never accept beyond Ac.
pub const fn verdict(found: u64, accept: u64, reject: u64) -> Verdict {
    if found <= accept {
        Verdict::Accept
    } else if found < reject {
        Verdict::AcceptBackToNormal
    } else {
        Verdict::Reject
    }
}
