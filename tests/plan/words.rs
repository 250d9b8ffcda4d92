//! What a plan asks before the work, and how it says it.
