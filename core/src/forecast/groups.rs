//! What the spindles of a shop have in common besides what was fitted.

use crate::exposure::UsualUsage;

/// What one spindle projected anew takes from a run over the whole shop.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Groups {
    /// What spindles usually run.
    pub(super) usual: UsualUsage,
}
