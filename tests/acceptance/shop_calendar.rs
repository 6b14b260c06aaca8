//! What a plan must heed, entered by hand on the Shop page: closures, downtime windows, people, gauges,
//! parts and how long a service takes. Checked as typed, each row a step that is taken back and done
//! again.

use super::shop_page::{choose, first_machine, go_to_shop, shop};
use almanac_core::downtime::WindowScope;
use almanac_core::service::Kind;
use almanac_core::shop::Shop;
use almanac_tests::harness::{Start, Window};
use eframe::egui::{Key, Role};

/// A register with something that it refuses, and a row that it takes.
struct Entry {
    register: &'static str,
    one: &'static str,
    /// Typed one after the other, each with what is said of it; nothing where it is right.
    wrong: &'static [(&'static str, &'static str, &'static str)],
    right: &'static [(&'static str, &'static str)],
    /// Ticked or chosen.
    chosen: &'static [(Role, &'static str)],
    count: fn(&Shop) -> usize,
}

const ENTRIES: [Entry; 8] = [
    Entry {
        register: "closures",
        one: "closure",
        wrong: &[
            ("first day", "2026-08-35", "2026-08-35"),
            ("first day", "2026-08-03", "Missing: last day"),
            ("last day", "2026-08-01", "2026-08-01 lies before 2026-08-03"),
        ],
        right: &[("last day", "2026-08-21"), ("what", "works holiday")],
        chosen: &[],
        count: |shop| shop.closures.len(),
    },
    Entry {
        register: "downtime windows",
        one: "downtime window",
        wrong: &[
            ("start", "2026-03-14 26:00", "'2026-03-14 26:00' does not fit"),
            ("start", "2026-03-14 07:00", "Missing: end"),
            ("end", "2026-03-14 06:00", "the window ends before it starts"),
            ("for", "Nowhere", "'Nowhere' does not fit; expected all halls, a hall or a machine"),
            ("stop cost share", "-3", "'-3' does not fit; expected a share of 0 % or more"),
            ("repeats", "FREQ=OFTEN", "FREQ=OFTEN"),
        ],
        right: &[
            ("end", "2026-03-14 13:00"),
            ("for", "Router hall"),
            ("what", "Saturday"),
            ("stop cost share", "15"),
            ("premium", "14"),
            ("repeats", "FREQ=WEEKLY;BYDAY=SA;UNTIL=20261231"),
        ],
        chosen: &[],
        count: |shop| shop.downtimes.len(),
    },
    Entry {
        register: "crew",
        one: "technician",
        wrong: &[
            ("technician", "Brook", ""),
            ("shifts", "Mon-Fri early", "'Mon-Fri early' does not fit; expected shifts such as"),
            ("hours a day", "25", "'25' does not fit; expected hours above 0, at most 24"),
            ("absent", "in May", "'in May' does not fit; expected days such as"),
        ],
        right: &[
            ("shifts", "Mon-Fri 06:00-14:00; Sat 07:00-12:00"),
            ("hours a day", "6"),
            ("absent", "2026-04-01/2026-04-12"),
        ],
        chosen: &[(Role::CheckBox, "can lead major services")],
        count: |shop| shop.technicians.len(),
    },
    Entry {
        register: "gauges",
        one: "gauge",
        wrong: &[
            ("gauge", "G-01", ""),
            ("services per day", "0", "'0' does not fit; expected a whole number of at least 1"),
            ("out", "soon", "'soon' does not fit; expected days such as"),
        ],
        right: &[("services per day", "4"), ("out", "2026-04-01/2026-04-12"), ("calibration due", "2026-06-30")],
        chosen: &[],
        count: |shop| shop.gauges.len(),
    },
    Entry {
        register: "parts",
        one: "part",
        wrong: &[
            ("part", "a;b", "a part has no ; or = in its name"),
            ("on hand", "-1", "'-1' does not fit; expected a figure of 0 or more"),
            ("lead time", "two weeks", "'two weeks' does not fit; expected a whole number of at least 0"),
        ],
        right: &[("part", "gripper set"), ("on hand", "2"), ("unit", "set"), ("order below", "1"), ("lead time", "14")],
        chosen: &[],
        count: |shop| shop.parts.len(),
    },
    Entry {
        register: "deliveries",
        one: "delivery",
        wrong: &[
            ("part", "no such part", "'no such part' is not in the parts of this shop; add it there first"),
            ("quantity", "0", "'0' does not fit; expected a figure above 0"),
        ],
        right: &[("part", "gripper set"), ("expected on", "2026-03-26"), ("quantity", "4")],
        chosen: &[],
        count: |shop| shop.deliveries.len(),
    },
    Entry {
        register: "kits",
        one: "kit line",
        wrong: &[
            ("tool interface", "HSK-A63", ""),
            ("part", "no such part", "'no such part' is not in the parts of this shop; add it there first"),
        ],
        right: &[("part", "gripper set"), ("quantity", "1")],
        chosen: &[],
        count: |shop| shop.kit_lines.len(),
    },
    Entry {
        register: "service times",
        one: "service time",
        wrong: &[
            ("tool interface", "HSK-A63", ""),
            ("minutes", "0", "'0' does not fit; expected minutes above 0, at most a week"),
        ],
        right: &[("minutes", "75")],
        chosen: &[(Role::RadioButton, "crew: 2")],
        count: |shop| shop.service_kinds.len(),
    },
];

#[test]
fn the_calendar_of_a_shop_is_entered_checked_and_taken_back() {
    let folder = tempfile::tempdir().unwrap();
    let tall = Start { size: [1280.0, 1600.0], ..Start::default() };
    let mut window = Window::open_with(folder.path(), None, tall);
    window.key(Key::N);
    first_machine(&mut window);
    for entry in &ENTRIES {
        go_to_shop(&mut window, entry.register);
        window.click(&format!("Add a {}", entry.one));
        let add = format!("Add the {}", entry.one);
        for (field, text, said) in entry.wrong {
            window.type_into(field, text);
            if !said.is_empty() {
                window.must_say(said);
            }
        }
        assert!(!window.is_enabled(&add), "{}: what is wrong cannot be added", entry.register);
        window.ctrl(Key::Enter);
        assert_eq!((entry.count)(&shop(&window)), 0, "{}", entry.register);
        for (field, text) in entry.right {
            window.type_into(field, text);
        }
        for (role, name) in entry.chosen {
            choose(&mut window, *role, name);
        }
        window.ctrl(Key::Enter);
        assert_eq!((entry.count)(&shop(&window)), 1, "{}: {:#?}", entry.register, window.all_names());
        window.ctrl(Key::Z);
        assert_eq!((entry.count)(&shop(&window)), 0, "{}", entry.register);
        window.ctrl(Key::Y);
        assert_eq!((entry.count)(&shop(&window)), 1, "{}", entry.register);
    }
    as_typed(&shop(&window));
}

/// Every field went into the shop as it was typed.
fn as_typed(shop: &Shop) {
    let closure = &shop.closures[0];
    assert_eq!(
        (closure.days.first.to_string(), closure.days.last.to_string()),
        ("2026-08-03".into(), "2026-08-21".into())
    );
    let window = &shop.downtimes[0];
    assert_eq!(window.scope, WindowScope::Hall("Router hall".to_owned()));
    assert_eq!(
        (window.start.to_string(), window.end.to_string()),
        ("2026-03-14T07:00".into(), "2026-03-14T13:00".into())
    );
    assert_eq!((window.stop_factor.unwrap().get(), window.premium_per_hour.unwrap().get()), (15.0, 14.0));
    assert_eq!(window.repeat.as_deref(), Some("FREQ=WEEKLY;BYDAY=SA;UNTIL=20261231"));
    let brook = &shop.technicians[0];
    assert_eq!((brook.name.as_str(), &brook.skills[..], brook.shifts.len()), ("Brook", &Kind::ALL[..], 2));
    assert_eq!((brook.hours_per_day.unwrap().get(), brook.absent.len()), (6.0, 1));
    let gauge = &shop.gauges[0];
    assert_eq!((gauge.services_per_day, gauge.out.len()), (Some(4), 1));
    assert_eq!(gauge.calibration_due.unwrap().to_string(), "2026-06-30");
    let part = &shop.parts[0];
    assert_eq!((part.on_hand, part.lead_time_days, part.reorder_point), (2.0, Some(14), Some(1.0)));
    let delivery = &shop.deliveries[0];
    assert_eq!((delivery.part.as_str(), delivery.quantity), ("gripper set", 4.0));
    assert_eq!(delivery.expected_on.to_string(), "2026-03-26");
    let kit = &shop.kit_lines[0];
    assert_eq!((kit.part.as_str(), kit.quantity, kit.kind), ("gripper set", 1.0, Kind::Minor));
    let time = &shop.service_kinds[0];
    assert_eq!((time.minutes.get(), time.crew), (75.0, 2));
}
