//! Pieces that several pages draw. No decisions about wear or dates.

pub mod choice;
pub mod foot;
pub mod foot_menu;
pub mod head;
pub mod keys_list;
pub mod line;
pub(crate) mod line_keys;
pub mod mark;
pub mod menu;
pub mod notice_line;
pub mod path_line;
pub mod ruled_blank;
pub mod ruler;
pub mod sign;
pub mod text;
pub mod word_button;

pub use ruled_blank::ruled_blank;
