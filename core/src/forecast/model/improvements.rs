//! What the model does beyond its plain form, one switch each.

/// Each improvement on the plain model, which the reference values under `tests/fixtures/forecast`
/// come from. DEVELOPERS.md says what each was worth.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Improvements {
    /// A small fall of a counter that later figures contradict is a misreading, not a new meter.
    pub misread_meters: bool,
}

impl Improvements {
    /// The plain model.
    #[must_use]
    pub const fn none() -> Self {
        Self { misread_meters: false }
    }

    /// What the product uses: all that proved their worth.
    #[must_use]
    pub const fn all() -> Self {
        Self { misread_meters: true }
    }
}
