//! Pieces that several pages draw. No decisions about wear or dates.

pub mod foot;
pub mod mark;
pub mod notice_line;
pub mod text;
