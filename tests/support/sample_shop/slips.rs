//! What goes wrong in a real shop: a misplaced decimal point, a correction, a sheet entered late, a gauge read twice.

use super::day::{AS_OF, Day, day};
use super::readings::{Reading, extra};
use super::usage::Usage;
use super::wear::Life;

/// Spindle and day of the typing error that the import asks about: 169 typed for 16.9.
const TYPING_ERROR: (&str, Day) = ("S-0118", day(2025, 11, 26));
/// A reading typed into the wrong row and put right two days later.
const CORRECTED: (&str, Day) = ("S-0103", day(2025, 1, 1));
/// A round whose sheet lay in the cart for nine days.
const LATE_UNTIL: i32 = 9;

/// Adds the specials to the readings.
pub(super) fn apply(lives: &[Life], usage: &Usage, rows: &mut Vec<Reading>) {
    typing_error(rows);
    correction(rows);
    late_sheet(rows);
    do_not_run(lives, usage, rows);
    worried(lives, usage, rows);
}

/// One stroke loses its decimal point.
fn typing_error(rows: &mut [Reading]) {
    let (spindle, on) = TYPING_ERROR;
    for row in rows.iter_mut().filter(|row| row.spindle == spindle && row.on == on && row.force) {
        let typed = row.strokes[0].replace('.', "");
        row.strokes[0] = typed;
        row.note = String::new();
    }
}

/// The first routine reading of 2025: first entered with the neighbour's figures, then replaced.
fn correction(rows: &mut Vec<Reading>) {
    let (spindle, after) = CORRECTED;
    let found = rows.iter().position(|row| row.spindle == spindle && row.on >= after && row.force && row.phase == 0);
    let Some(at) = found else { return };
    let mended = rows[at].on.plus(2);
    let mut wrong = rows[at].clone();
    wrong.strokes = vec!["9.15".to_owned(), "9.20".to_owned(), "9.10".to_owned()];
    wrong.note = "R-01's figures, see below".to_owned();
    wrong.replaced_on = Some(mended);
    rows[at].recorded_on = Some(mended);
    rows[at].note = "corrected: figures of R-01 stood here.\nTaken from the sheet, Thorne".to_owned();
    rows.push(wrong);
}

/// The Turning hall's round of autumn 2024 was entered late.
fn late_sheet(rows: &mut [Reading]) {
    let first = rows
        .iter()
        .filter(|row| row.spindle == "S-0111" && row.on >= day(2024, 9, 1) && row.phase == 0)
        .map(|row| row.on)
        .min();
    let Some(on) = first else { return };
    let hall = ["S-0111", "S-0112", "S-0113", "S-0126", "S-0127", "S-0128"];
    for row in rows.iter_mut().filter(|row| row.on == on && row.phase == 0 && hall.contains(&row.spindle)) {
        row.recorded_on = Some(on.plus(LATE_UNTIL));
    }
}

/// T-04: past its limit in February, then nine percent lower at once.
fn do_not_run(lives: &[Life], usage: &Usage, rows: &mut Vec<Reading>) {
    rows.retain(|row| row.spindle != "S-0126" || row.on < day(2026, 2, 1));
    for life in lives.iter().filter(|life| life.spindle.name == "S-0126") {
        let mut first = extra(life, usage, day(2026, 2, 11), "Brook", "G-02");
        first.note = "just under 36 kN; order asked for".to_owned();
        let mut second = extra(life, usage, day(2026, 2, 27), "Brook", "G-02");
        second.note = "dropped by a tenth since the 11th, crack heard on unclamping: spring?\n\
                       Told the shift lead, machine stopped."
            .to_owned();
        let mut third = extra(life, usage, AS_OF, "Brook", "G-02");
        third.note = "read again before the order: same. \"Do not run\" tag hung.".to_owned();
        rows.extend([first, second, third]);
    }
}

/// The two spindles next in line are read once more between the rounds.
fn worried(lives: &[Life], usage: &Usage, rows: &mut Vec<Reading>) {
    for life in lives {
        match life.spindle.name {
            "S-0131" => rows.push(extra(life, usage, day(2026, 2, 25), "Marlow", "G-02")),
            "S-0109" => rows.push(extra(life, usage, day(2026, 2, 26), "Thorne", "G-02")),
            _ => {}
        }
    }
}
