//! Fields that hold more than a word: any text is read or refused without a panic, and what was
//! read says the same when it is written and read again.

use almanac_core::crew::{Shift, parse_shifts};
use almanac_core::export::csv_text::{harmless, undo_harmless};
use almanac_core::interface::Interface;
use almanac_core::moment::{DayRange, Moment, parse_iso_date};
use almanac_core::recurrence::Recurrence;
use almanac_core::service::{format_parts, parse_parts};
use almanac_core::units::Unit;
use proptest::prelude::*;

/// Any text, and texts of the letters that the fields are made of, which get further.
fn field() -> impl Strategy<Value = String> {
    prop_oneof![
        "\\PC{0,40}",
        "[-=+@'\\t\\r\\n]{0,4}\\PC{0,8}",
        "(FREQ|INTERVAL|BYDAY|COUNT|UNTIL)=[A-Z0-9,;=-]{0,12}(;(BYDAY|COUNT|UNTIL)=[-0-9A-Z,]{0,9}){0,3}",
        "FREQ=(DAILY|WEEKLY|MONTHLY)(;INTERVAL=[1-9])?(;BYDAY=[1-5-]{0,2}(MO|TU|SA|SU)(,FR)?)?(;COUNT=[0-9]{1,3}|;UNTIL=202[0-9](0[1-9]|1[0-2])[0-3][0-9](T[0-2][0-9]0000)?)?",
        "(Mon|tue|Fri|Sun)(-(Sat|sun|Wed))? [0-2][0-9]:[0-6][0-9]-[0-2][0-9]:[0-5][0-9]",
        "[0-9]{4}-[0-9]{2}-[0-9]{2}([T ][0-2][0-9]:[0-5][0-9](:[0-9]{2})?)?",
        "20[0-9]{2}-0[1-9]-[0-3][0-9]/20[0-9]{2}-1[0-2]-[0-2][0-9]",
        "[a-z =;]{0,12}=[0-9.]{1,4}(;[a-z=]{0,5})?",
        "(hsk|iso 7388|asme b5.50|7/24|psc|ts)[ -]{0,2}[a-f]{0,2} ?[0-9]{0,4}",
    ]
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 4000, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn what_is_read_reads_the_same_again(text in field()) {
        let written = harmless(&text);
        prop_assert_eq!(undo_harmless(&written), text.as_str());
        prop_assert!(!written.starts_with(['=', '+', '-', '@', '\t', '\r', '\n']));
        if let Ok(rule) = Recurrence::parse(&text) {
            prop_assert_eq!(Recurrence::parse(&rule.to_string()), Ok(rule.clone()));
            let start = Moment::parse("2026-01-31T06:00").unwrap();
            let days = rule.occurrences(start, parse_iso_date("2027-12-31").unwrap());
            prop_assert!(days.windows(2).all(|pair| pair[0] < pair[1]), "{:?}", days);
            prop_assert!(days.first().is_none_or(|first| *first == start.date), "{:?}", days);
        }
        if let Some(shift) = Shift::parse(&text) {
            prop_assert_eq!(Shift::parse(&shift.to_string()), Some(shift));
        }
        let _ = parse_shifts(&text);
        if let Some(days) = DayRange::parse(&text) {
            prop_assert_eq!(DayRange::parse(&days.to_string()), Some(days));
        }
        if let Some(moment) = Moment::parse(&text) {
            prop_assert_eq!(Moment::parse(&moment.to_string()), Some(moment));
        }
        if let Some(interface) = Interface::parse(&text) {
            let again = Interface::parse(interface.as_str()).unwrap();
            prop_assert_eq!(again.as_str(), interface.as_str());
        }
        if let Some(parts) = parse_parts(&text) {
            prop_assert_eq!(parse_parts(&format_parts(&parts)), Some(parts));
        }
        let _ = Unit::from_symbol(&text);
    }
}
