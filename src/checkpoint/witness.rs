//! A witness's answer: lines of signatures, of which those by the witness that was asked are taken.

use super::CheckpointError;
use super::VerifyKey;
use super::note;

/// The lines of `answer` that are this witness's over the checkpoint; lines by others are passed over.
///
/// # Errors
/// When the checkpoint does not hold under `own`, a line is by the witness and wrong, or none is by it.
pub fn cosignatures(
    checkpoint: &str,
    answer: &[u8],
    own: &VerifyKey,
    witness: &VerifyKey,
) -> Result<String, CheckpointError> {
    let keys = [own.clone(), witness.clone()];
    super::open(checkpoint, &keys)?;
    let answer = std::str::from_utf8(answer)
        .map_err(|_| CheckpointError::Note("the witness's answer is not UTF-8".to_owned()))?;
    // All of it must be lines of signatures, whoever made them.
    note::open(format!("{checkpoint}{answer}").as_bytes(), &keys)?;
    let mut taken = String::new();
    let mut found = 0_usize;
    for line in answer.split_inclusive('\n') {
        found = found.saturating_add(1);
        let one =
            note::open(format!("{}{line}", text_of(checkpoint)).as_bytes(), std::slice::from_ref(witness));
        match one {
            Ok(_) => taken.push_str(line),
            Err(CheckpointError::Unknown { .. }) => {}
            Err(other) => return Err(other),
        }
    }
    if taken.is_empty() { Err(CheckpointError::Unknown { found }) } else { Ok(taken) }
}

/// The signed text of a note and its empty line.
fn text_of(checkpoint: &str) -> &str {
    let end = checkpoint.rfind("\n\n").map_or(checkpoint.len(), |at| at.saturating_add(2));
    checkpoint.get(..end).unwrap_or(checkpoint)
}
