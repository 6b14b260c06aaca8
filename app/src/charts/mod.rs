//! Charts: from records and forecasts to painted lines. Pure mapping apart from painting.

pub mod clock;
pub mod dates;
pub mod drift;
pub mod drift_labels;
pub mod drift_paint;
pub mod ebb;
pub mod ebb_paint;
pub mod intervals;
pub mod labels;
pub mod marks;
pub mod scale;
pub mod small;
pub mod strokes;
pub mod thin;
