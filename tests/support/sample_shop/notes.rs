//! What the technicians wrote beside readings and services.

use super::random::Random;

/// The four technicians, invented.
pub(super) const TECHNICIANS: [&str; 4] = ["Brook", "Thorne", "Marlow", "Aldous"];

/// Remarks on readings; most readings have none.
const READING_NOTES: [&str; 22] = [
    "slow unclamp",
    "coolant on the taper, wiped",
    "second stroke low, tool bumped when seating",
    "chips in the gripper, blown out",
    "read twice, same figures",
    "machine still warm",
    "machine cold, first thing on Monday",
    "taper shows light fretting at 2 o'clock",
    "noise on unclamping, \"like a dry hinge\"",
    "gauge seated only at the third try",
    "shift lead asks for a look at the tool changer, too",
    "Öl am Kegel, abgewischt",
    "größeres Spiel am Spanner als letztes Mal?",
    "tool change arm adjusted last week, so more cycles than usual",
    "pull stud? no: same holder as in March",
    "pressure 58 bar, should be 60",
    "dust hood off, ask Marlow",
    "operator says \"holds fine\"",
    "gripper looks dry",
    "wooden dust, resin on the faces",
    "naïve question: who turned the lock nut?",
    "first stroke not counted, valve sticks",
];

/// Findings of minor services.
const FINDINGS: [&str; 14] = [
    "gripper clean, grease grey",
    "gripper dry",
    "chips behind two segments",
    "resin on the sliding faces, taken off with solvent",
    "light wear on the segments, all kept",
    "one segment with a burr, stoned",
    "seal ring hard, changed",
    "grease washed out, coolant in the drawbar bore",
    "nothing unusual",
    "nothing unusual, taper polished",
    "segments blue at the edges; spring pack listened to, no crack",
    "setting dimension was off, lock nut loose",
    "coat on the segments worn through at two of six",
    "taper: rust film, removed",
];

/// Findings of major services.
const MAJOR_FINDINGS: [&str; 4] = [
    "two disc springs cracked, whole pack changed; gripper changed",
    "spring pack 6 % short, changed; segments worn, changed",
    "gripper and spring pack changed, drawbar seal new",
    "cracked spring no. 14, pack changed; \"old grease like tar\"",
];

/// A remark on a reading, often none.
pub(super) fn of_reading(chance: &mut Random) -> &'static str {
    if chance.chance(0.07) { chance.pick(&READING_NOTES) } else { "" }
}

/// What a service found.
pub(super) fn of_service(chance: &mut Random, major: bool) -> &'static str {
    if major { chance.pick(&MAJOR_FINDINGS) } else { chance.pick(&FINDINGS) }
}
