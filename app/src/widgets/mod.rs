//! Pieces that several pages draw. No decisions about wear or dates.

pub mod choice;
pub mod foot;
pub mod mark;
pub mod notice_line;
pub mod ruled_blank;
pub mod ruler;
pub mod text;

pub use ruled_blank::ruled_blank;
