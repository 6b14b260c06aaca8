//! The cautions of a service: in full for every form and sheet, short for where a line must do.

/// What holds wherever a force under the stop limit is read.
pub const BELOW_STOP: &str =
    "Below the stop limit do not run the spindle: take it out of service until it is measured again within limits.";

/// In full, in the order in which the work meets them.
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

/// The same in short, for calendars and lists; the sheet of the order has them in full.
pub const SHORT: [&str; 5] = [
    "Secure the machine against start-up; verify zero energy.",
    "Springs hold energy with all power off, pressure may remain, a vertical axis may drop.",
    "Support the tool when unclamping; wear eye and hand protection.",
    "Below the stop limit do not run the spindle.",
    "The spindle builder's manual comes first.",
];
