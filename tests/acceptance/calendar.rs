//! Booked services as iCalendar, read back by a parser that is not ours, field by field.
//!
//! Source of every rule: RFC 5545 (section beside the test) and the cases of
//! `fixtures/rfc_format_cases.csv`.

use super::projection::project;
use almanac_core::due::due_list;
use almanac_core::export::ics::{Calendar, CalendarOf, ContentLines, calendar, escaped, uid};
use almanac_core::ids::{Row, TechnicianId};
use almanac_core::order::OrderState;
use almanac_core::orders_list::order_lines;
use almanac_core::shop::Shop;
use almanac_core::units::RunHours;
use almanac_tests::hand_shop::HandShop;
use almanac_tests::plain_csv;
use chrono::{NaiveDate, NaiveDateTime};
use icalendar::parser::{Component, read_calendar, unfold};
use proptest::prelude::*;
use std::path::Path;
use std::process::{Command, Output};
use std::sync::Arc;

/// Noon of the as-of day of [`booked_shop`].
fn noon() -> NaiveDateTime {
    as_of().and_hms_opt(12, 0, 0).unwrap()
}

fn as_of() -> NaiveDate {
    NaiveDate::from_ymd_opt(2025, 7, 20).unwrap()
}

fn written(shop: &Shop, of: &CalendarOf, at: NaiveDateTime) -> Calendar {
    let due = due_list(shop, &project(shop, as_of()));
    calendar(shop, &order_lines(shop, &due, true), of, as_of(), at)
}

/// A value by its name and parameters, as the foreign parser has it.
fn value(component: &Component<'_>, name: &str) -> Option<String> {
    component.find_prop(name).map(|property| property.val.to_string())
}

/// The components of a file in their order: kind, and all properties with their parameters.
fn read(text: &str) -> Vec<(String, Vec<(String, String)>)> {
    let unfolded = unfold(text);
    let parsed = read_calendar(&unfolded).unwrap();
    parsed
        .components
        .iter()
        .map(|component| {
            let properties = component.properties.iter().map(|property| {
                let params: Vec<String> = property
                    .params
                    .iter()
                    .map(|param| format!(";{}={}", param.key, param.val.as_ref().map_or("", |val| val.as_str())))
                    .collect();
                (format!("{}{}", property.name, params.concat()), property.val.to_string())
            });
            (component.name.to_string(), properties.collect())
        })
        .collect()
}

/// Four machines with an order each: planned for a day and time, issued, with a day alone, and
/// closed as not done before its day; and one that was done.
fn booked_shop() -> HandShop {
    let mut made = HandShop::new();
    Arc::make_mut(&mut made.tables().settings).name = "Works, 2; \"north\"".to_owned();
    let spindles = ["R-04", "R-07", "M-01", "M-02", "M-03"].map(|name| made.mounted(name));
    made.order("25-011", spindles[0], OrderState::Planned, Some("2025-08-05T07:00"));
    made.order("25-012", spindles[1], OrderState::Issued, Some("2025-08-02T22:30"));
    made.order("25/013", spindles[2], OrderState::UnderWay, Some("2025-07-18"));
    made.order("25-014", spindles[3], OrderState::NotDone, Some("2025-08-09T06:00"));
    made.order("25-015", spindles[4], OrderState::Done, Some("2025-07-10T06:00"));
    let orders = Arc::make_mut(&mut made.tables().orders);
    orders[0].value.technicians = vec!["Brook".to_owned(), "Aldous".to_owned()];
    orders[0].value.service_by = NaiveDate::from_ymd_opt(2025, 8, 20);
    for closed in [3, 4] {
        orders[closed].value.closed_on = NaiveDate::from_ymd_opt(2025, 7, 12);
    }
    orders[2].value.technicians = vec!["Thorne".to_owned()];
    made
}

#[test]
fn every_field_of_every_event_is_as_booked() {
    let shop = booked_shop().shop();
    let made = written(&shop, &CalendarOf::default(), noon());
    assert_eq!((made.booked, made.cancelled), (3, 1));
    assert!(made.text.starts_with("BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:-//Drawbar Almanac//"), "{}", made.text);
    assert!(made.text.ends_with("END:VEVENT\r\nEND:VCALENDAR\r\n"));
    let due = due_list(&shop, &project(&shop, as_of()));
    let lines = order_lines(&shop, &due, true);
    let line = |order: &str| lines.iter().find(|line| line.order == order).unwrap();
    let events = read(&made.text);
    let expected = [
        ("25/013", "M-01", "DTSTART;VALUE=DATE", "20250718", "DTEND;VALUE=DATE", "20250719", "CONFIRMED"),
        ("25-012", "R-07", "DTSTART", "20250802T223000", "DTEND", "20250803T003000", "CONFIRMED"),
        ("25-011", "R-04", "DTSTART", "20250805T070000", "DTEND", "20250805T090000", "TENTATIVE"),
        ("25-014", "M-02", "DTSTART", "20250809T060000", "DTEND", "20250809T080000", "CANCELLED"),
    ];
    assert_eq!(events.len(), expected.len());
    for ((kind, found), (order, machine, from, start, to, end, status)) in events.iter().zip(expected) {
        assert_eq!(kind, "VEVENT");
        let description = found.iter().find(|(name, _)| name == "DESCRIPTION").map(|(_, text)| text.clone()).unwrap();
        let wanted = [
            ("UID", uid(&shop, order)),
            ("DTSTAMP", "20250720T120000Z".to_owned()),
            ("LAST-MODIFIED", "20250720T120000Z".to_owned()),
            // seconds since 2020: 2,027 days and twelve hours
            ("SEQUENCE", (2_027 * 86_400 + 43_200).to_string()),
            (from, start.to_owned()),
            (to, end.to_owned()),
            ("SUMMARY", format!("Minor service {machine}, S-{machine}")),
            ("LOCATION", format!("North, {machine}")),
            ("DESCRIPTION", description.clone()),
            ("STATUS", status.to_owned()),
            ("CATEGORIES", "gripper service,minor".to_owned()),
        ];
        let found: Vec<(&str, String)> = found.iter().map(|(name, text)| (name.as_str(), text.clone())).collect();
        assert_eq!(found, wanted, "{order}");
        let said: Vec<&str> = description.lines().collect();
        assert_eq!(said[0], format!("Order {order}, {}.", line(order).state.label()));
        if status == "CANCELLED" {
            assert_eq!(said[1..], ["It does not take place; this entry can go."]);
            continue;
        }
        assert_eq!(said[1], format!("Spindle S-{machine}, HSK-A63."));
        let who = if order == "25-011" { "Brook and Aldous" } else { &line(order).technicians[0] };
        assert_eq!(said[2], format!("Minor service, 1.5 h, by {who}."));
        assert!(said.contains(&line(order).reason.as_str()), "{description}");
        assert!(said.ends_with(&[
            "- Below the stop limit do not run the spindle.",
            "- The spindle builder's manual comes first."
        ]));
    }
}

/// RFC 5545, 3.6: PRODID and VERSION once each; 3.6.1: UID and DTSTAMP once each, DTSTART where the
/// calendar has no METHOD. The cases `ical_vevent` and `ical_vcalendar`.
#[test]
fn what_the_grammar_requires_is_there_once() {
    let shop = booked_shop().shop();
    let text = written(&shop, &CalendarOf::default(), noon()).text;
    let unfolded = unfold(&text);
    let parsed = read_calendar(&unfolded).unwrap();
    for name in ["PRODID", "VERSION", "CALSCALE", "NAME"] {
        assert_eq!(parsed.properties.iter().filter(|property| property.name == name).count(), 1, "{name}");
    }
    assert!(parsed.properties.iter().all(|property| property.name != "METHOD"));
    let name = parsed.properties.iter().find(|property| property.name == "NAME").unwrap();
    // the parser knows NAME (RFC 7986) as a text or leaves it as it stands in the file
    assert!(name.val.to_string().replace('\\', "") == "Gripper services, Works, 2; \"north\"", "{}", name.val);
    for component in &parsed.components {
        for name in ["UID", "DTSTAMP", "DTSTART", "SEQUENCE", "SUMMARY", "STATUS"] {
            assert_eq!(component.properties.iter().filter(|property| property.name == name).count(), 1, "{name}");
        }
        assert_eq!(value(component, "DTSTAMP").as_deref(), Some("20250720T120000Z"));
    }
}

#[test]
fn a_second_export_updates_and_doubles_nothing() {
    let mut made = booked_shop();
    let first = read(&written(&made.shop(), &CalendarOf::default(), noon()).text);
    assert_eq!(
        written(&made.shop(), &CalendarOf::default(), noon()),
        written(&made.shop(), &CalendarOf::default(), noon()),
        "the same shop and moment give the same bytes"
    );
    let orders = Arc::make_mut(&mut made.tables().orders);
    orders[0].value.start = almanac_core::moment::Moment::parse("2025-08-06T07:00");
    let later = noon() + chrono::TimeDelta::seconds(1);
    let second = read(&written(&made.shop(), &CalendarOf::default(), later).text);
    let of = |events: &[(String, Vec<(String, String)>)], name: &str| -> Vec<String> {
        let values = events.iter().map(|(_, found)| found.iter().find(|(key, _)| key == name).unwrap().1.clone());
        values.collect()
    };
    assert_eq!(of(&first, "UID"), of(&second, "UID"));
    for (before, after) in of(&first, "SEQUENCE").iter().zip(of(&second, "SEQUENCE")) {
        assert_eq!(before.parse::<i64>().unwrap() + 1, after.parse::<i64>().unwrap());
    }
    let unique: std::collections::BTreeSet<String> = of(&first, "UID").into_iter().collect();
    assert_eq!(unique.len(), 4);
    // another shop has other events, though its orders have the same numbers
    Arc::make_mut(&mut made.tables().settings).name = "Works 3".to_owned();
    assert!(
        of(&read(&written(&made.shop(), &CalendarOf::default(), noon()).text), "UID")
            .iter()
            .all(|uid| !unique.contains(uid))
    );
}

/// In Central Europe clocks go from 02:00 to 03:00 on 29 March 2026, from 03:00 to 02:00 on 25 October
/// 2026. Floating times (RFC 5545, 3.3.5, form 1) are those of the clock on the wall: no zone, no UTC.
#[test]
fn a_service_over_a_change_of_clocks_keeps_its_times() {
    let mut made = HandShop::new();
    let spindle = made.mounted("R-01");
    made.order("26-001", spindle, OrderState::Planned, Some("2026-03-29T01:30"));
    made.order("26-002", spindle, OrderState::Planned, Some("2026-10-25T01:30"));
    for order in Arc::make_mut(&mut made.tables().orders).iter_mut() {
        order.value.duration = RunHours::new(2.5);
    }
    let text = written(&made.shop(), &CalendarOf::default(), noon()).text;
    for moment in
        ["DTSTART:20260329T013000", "DTEND:20260329T043000", "DTSTART:20261025T013000", "DTEND:20261025T043000"]
    {
        assert!(text.contains(&format!("{moment}\r\n")), "{moment} is not in {text}");
    }
    assert!(!text.contains("TZID") && !text.contains("VTIMEZONE"));
}

/// An event ends later than it starts (RFC 5545, 3.8.2.2), however short its service is.
#[test]
fn the_shortest_service_is_an_event_of_a_minute() {
    let mut made = HandShop::new();
    let spindle = made.mounted("R-01");
    made.order("26-001", spindle, OrderState::Planned, Some("2026-03-02T07:00"));
    Arc::make_mut(&mut made.tables().orders)[0].value.duration = RunHours::new(0.005);
    Arc::make_mut(&mut made.tables().settings).lockout = almanac_core::units::Minutes::new(0.0).unwrap();
    let text = written(&made.shop(), &CalendarOf::default(), noon()).text;
    assert!(text.contains("DTSTART:20260302T070000\r\nDTEND:20260302T070100\r\n"), "{text}");
}

#[test]
fn an_empty_calendar_still_follows_the_grammar() {
    let mut made = HandShop::new();
    made.mounted("R-01");
    let calendar = written(&made.shop(), &CalendarOf::default(), noon());
    assert_eq!((calendar.booked, calendar.cancelled), (0, 0));
    let components = read(&calendar.text);
    assert_eq!(components.len(), 1, "a calendar has at least one component (3.6)");
    assert_eq!(components[0].0, "VJOURNAL");
    assert!(components[0].1.contains(&("SUMMARY".to_owned(), "No service is booked".to_owned())));
    assert!(components[0].1.contains(&("DTSTART;VALUE=DATE".to_owned(), "20250720".to_owned())));
}

#[test]
fn a_calendar_of_one_person_or_hall() {
    let mut made = booked_shop();
    let id = TechnicianId::from_row(1_000);
    let marlow = almanac_core::crew::Technician {
        name: "Marlow".to_owned(),
        skills: vec![],
        shifts: vec![],
        hours_per_day: None,
        absent: vec![],
    };
    Arc::make_mut(&mut made.tables().technicians).push(Row { id, value: marlow });
    let shop = made.shop();
    let of = |technician: Option<&str>, hall: Option<&str>| {
        let set = |name: Option<&str>| name.map(str::to_owned).into_iter().collect();
        CalendarOf { technicians: set(technician), halls: set(hall) }.checked(&shop)
    };
    let orders = |of: CalendarOf| {
        let made = written(&shop, &of, noon());
        ["25-011", "25-012", "25.2f013", "25-014"].map(|order| made.text.contains(&format!("UID:order-{order}-")))
    };
    assert_eq!(orders(of(Some("Aldous"), None).unwrap()), [true, false, false, false], "second counts too");
    assert_eq!(orders(of(Some("Thorne"), Some("North")).unwrap()), [false, false, true, false]);
    assert_eq!(orders(of(Some("Marlow"), None).unwrap()), [false; 4], "of the crew, without a service");
    let error = of(Some("Brok"), None).unwrap_err().to_string();
    assert_eq!(error, "this shop has no technician 'Brok'; it has Aldous, Brook, Marlow, Thorne");
    assert_eq!(of(None, Some("South")).unwrap_err().to_string(), "this shop has no hall 'South'; it has North");
}

/// The cases `ical_text` and `ical_fold`.
#[test]
fn texts_and_folds_follow_the_collected_cases() {
    let cases = include_str!("../fixtures/rfc_format_cases.csv").lines().filter(|line| !line.starts_with('#'));
    let cases = plain_csv::read(&cases.collect::<Vec<_>>().join("\r\n")).unwrap();
    let of = |area: &str| cases.iter().filter(|case| case[0] == area).collect::<Vec<_>>();
    let texts = of("ical_text");
    assert_eq!(texts.len(), 1);
    for case in texts {
        assert_eq!(escaped(&case[1]), case[2], "{}", case[3]);
    }
    let folds = of("ical_fold");
    assert_eq!(
        (folds.len(), folds[0][1].as_str(), folds[0][2].as_str()),
        (1, "76 octet content line", "75 octets + CRLF + SPACE + 1 octet")
    );
    let mut lines = ContentLines::default();
    lines.plain("X", &"y".repeat(74));
    assert_eq!(lines.finish(), format!("X:{}\r\n y\r\n", "y".repeat(73)));
}

/// What a text becomes on its way: every kind of line break one, other control characters a space.
fn as_a_calendar_has_it(text: &str) -> String {
    let text = text.replace("\r\n", "\n").replace('\r', "\n");
    text.chars()
        .map(|letter| if letter.is_ascii_control() && !matches!(letter, '\n' | '\t') { ' ' } else { letter })
        .collect()
}

fn any_text() -> impl Strategy<Value = String> {
    let letters = prop_oneof![
        4 => any::<char>(),
        2 => prop::sample::select(vec!['\\', ';', ',', ':', '"', '\n', '\r', ' ', '\t', 'n', 'N', 'ä', '\u{1F527}']),
        2 => prop::char::range('a', 'z'),
    ];
    prop::collection::vec(letters, 0..220).prop_map(|letters| letters.into_iter().collect())
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 300, failure_persistence: None, ..ProptestConfig::default() })]

    /// Read by the foreign parser, every text comes back; no line is longer than 75 octets and none
    /// is cut inside a letter.
    #[test]
    fn every_text_survives_folding_and_escaping(text in any_text(), other in any_text()) {
        let mut lines = ContentLines::default();
        lines.plain("BEGIN", "VCALENDAR");
        lines.plain("VERSION", "2.0");
        lines.plain("BEGIN", "VEVENT");
        lines.text("SUMMARY", &text);
        lines.text("DESCRIPTION", &other);
        lines.plain("END", "VEVENT");
        lines.plain("END", "VCALENDAR");
        let written = lines.finish();
        for line in written.as_bytes().split(|byte| *byte == b'\n') {
            let line = line.strip_suffix(b"\r").unwrap_or(line);
            prop_assert!(line.len() <= 75, "{} octets", line.len());
            prop_assert!(std::str::from_utf8(line).is_ok(), "a letter is cut");
        }
        prop_assert_eq!(written.replace("\r\n", "").find(['\r', '\n']), None, "line breaks are CRLF alone");
        let found = read(&written);
        prop_assert_eq!(&found[0].1[0].1, &as_a_calendar_has_it(&text));
        prop_assert_eq!(&found[0].1[1].1, &as_a_calendar_has_it(&other));
    }

    #[test]
    fn no_two_order_numbers_share_a_uid(one in "\\PC{1,12}", other in "\\PC{1,12}") {
        let shop = Shop::default();
        prop_assert_eq!(one == other, uid(&shop, &one) == uid(&shop, &other));
    }
}

fn program(args: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_almanac_under_test"))
        .args(args)
        .env_remove("DISPLAY")
        .env_remove("WAYLAND_DISPLAY")
        .env_remove("WAYLAND_SOCKET")
        .output()
        .unwrap()
}

#[test]
fn the_command_writes_the_demo() {
    let scratch = tempfile::tempdir().unwrap();
    let file = scratch.path().join("services.ics");
    let sample = Path::new(env!("CARGO_MANIFEST_DIR")).join("../sample-shop");
    let (sample, out) = (sample.to_str().unwrap(), file.to_str().unwrap());
    let done = program(&["calendar", sample, "--out", out]);
    assert_eq!(done.status.code(), Some(0), "{}", String::from_utf8_lossy(&done.stderr));
    assert!(done.stdout.is_empty());
    let events = read(&std::fs::read_to_string(&file).unwrap());
    let starts: Vec<&str> = events
        .iter()
        .map(|(_, found)| found.iter().find(|(name, _)| name == "DTSTART").map_or("", |(_, start)| start.as_str()))
        .collect();
    // an order of 2023 was closed as partly done: it is no longer booked
    assert_eq!(
        starts,
        [
            "20260302T080000",
            "20260307T070000",
            "20260314T070000",
            "20260328T070000",
            "20260411T070000",
            "20260425T070000"
        ]
    );
    let of_thorne = program(&["calendar", sample, "--out", out, "--technician", "Thorne", "--hall", "Router hall"]);
    assert_eq!(of_thorne.status.code(), Some(0));
    assert_eq!(read(&std::fs::read_to_string(&file).unwrap()).len(), 3);
    let past = program(&["calendar", sample, "--out", out, "--as-of", "2026-02-19"]);
    assert_eq!(past.status.code(), Some(0));
    let text = std::fs::read_to_string(&file).unwrap();
    assert!(text.contains("UID:order-26-038-") && !text.contains("UID:order-26-041-"), "opened on 20 February");
    let unknown = program(&["calendar", sample, "--out", out, "--technician", "Thorn"]);
    assert_eq!(unknown.status.code(), Some(1));
    let said = String::from_utf8_lossy(&unknown.stderr).into_owned();
    assert!(said.contains("no technician 'Thorn'; it has Aldous"), "{said}");
    assert_eq!(program(&["calendar", sample]).status.code(), Some(2), "it needs a file to write to");
}
