//! Writing results: to stdout, or to a file that is either the old one or the whole new one.

use super::CliError;
use std::io::{ErrorKind, Write as _};
use std::path::Path;

/// Writes a result to stdout, or to a file through a temporary one and a rename.
///
/// # Errors
/// One sentence with the path last; a reader that went away is [`CliError::NobodyReads`].
pub(super) fn deliver(content: &[u8], out: Option<&Path>) -> Result<(), CliError> {
    match out {
        Some(path) => almanac_core::export::write_whole(path, content).map_err(CliError::of),
        None => {
            let mut stdout = std::io::stdout().lock();
            stdout.write_all(content).and_then(|()| stdout.flush()).map_err(|error| {
                if error.kind() == ErrorKind::BrokenPipe {
                    CliError::NobodyReads
                } else {
                    CliError::Sentence(format!("the result could not be written to stdout: {error}"))
                }
            })
        }
    }
}

/// One sentence on stderr. When even that cannot be written there is nobody left to tell.
pub(super) fn say(sentence: &str) {
    let mut stderr = std::io::stderr().lock();
    let _nobody_left_to_tell = writeln!(stderr, "drawbar-almanac: {sentence}");
}
