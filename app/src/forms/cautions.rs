//! The cautions of a service, in full. They stand over every form and sheet of a service.

pub use almanac_core::cautions::{BELOW_STOP, CAUTIONS};
