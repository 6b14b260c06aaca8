//! The cautions of a service, in full. They stand over every form and sheet of a service.

/// What holds wherever a force under the stop limit is read.
pub const BELOW_STOP: &str =
    "Below the stop limit do not run the spindle: take it out of service until it is measured again within limits.";

/// In the order in which the work meets them.
pub const CAUTIONS: [&str; 5] = [
    "Work on a clamping unit only with the machine secured against start-up: follow the site's lockout/tagout \
     procedure and the local code; verify zero energy.",
    "The spring pack stores energy even with all power off; pneumatic or hydraulic pressure may remain in the unclamp \
     cylinder; a vertical axis may drop. Never open the drawbar or the spring pack without the spindle builder's \
     instruction and fixture.",
    "A tool can fall when unclamping: support it, wear eye and hand protection; edges are sharp; use the grease and \
     solvent per their safety data sheets.",
    BELOW_STOP,
    "The spindle builder's manual and licensed practice come before anything this program says; limits shipped with \
     it are starting values and must be confirmed for each spindle.",
];
