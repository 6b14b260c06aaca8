//! What the program that is killed and the test that kills it agree on.

/// Readings of one step.
pub const READINGS_A_STEP: usize = 6;

/// The note by which all rows of a step are known.
#[must_use]
pub fn note_of(step: usize) -> String {
    format!("step {step}")
}
