//! Entry by hand through the accessible names: readings, slips, services, meters, exchanges.

use super::form_desk::Window;
use almanac_core::actions::{Action, Change, Recording};
use almanac_core::forecast::{SpindleForecast, UnderStopLimit};
use almanac_core::ids::{KitLineId, MeterReadingId, PartId, ReadingId, Row, ServiceId};
use almanac_core::order::OrderState;
use almanac_core::part::{KitLine, Part};
use almanac_core::reading::Phase;
use almanac_core::service::{Kind, PartQuantity};
use almanac_core::shop::Shop;
use almanac_core::units::{Percent, RunHours};
use almanac_tests::form_shop::{self, PRESENT, S_0104, S_0117, S_0139, day};
use drawbar_almanac::pages::Form;
use drawbar_almanac::pages::shop::registers::RegisterKind;
use eframe::egui::{self, Key, Role};
use egui_kittest::kittest::{NodeT as _, Queryable as _};
use std::sync::Arc;

#[test]
fn a_reading_is_entered_by_the_keyboard_alone() {
    let mut window = Window::open(Form::Reading(S_0104));
    assert!(window.has_focus("stroke 1"));
    window.type_text("10.1");
    window.key(Key::Enter);
    assert!(window.has_focus("stroke 2"));
    window.type_text("10,2");
    window.must_say("10.15 kN");
    window.fill("run hours", "11,958");
    window.key(Key::Enter);
    assert!(window.has_focus("clamp cycles"));
    window.type_text("150431");
    window.click(Role::RadioButton, "zero checked: yes");
    window.fill("technician", "Thorne");
    window.save();
    let reading = window.recorded();
    assert_eq!((reading.spindle, reading.phase, reading.at.date), (S_0104, Phase::Routine, day(PRESENT)));
    let typed: Vec<&str> = reading.strokes.iter().map(|stroke| stroke.typed.as_str()).collect();
    assert_eq!(typed, ["10.1", "10.2"]);
    assert_eq!(reading.run_hours, RunHours::new(11_958.0));
    assert_eq!((reading.gauge.as_deref(), reading.technician.as_deref()), (Some("G-02"), Some("Thorne")));
    assert_eq!((reading.zero_checked, reading.doubt), (Some(true), None));
    assert!(!window.harness.state().panel.is_open(), "the form closes once it is saved");
}

#[test]
fn the_last_value_and_the_expected_range_stand_before_the_field() {
    let window = Window::open(Form::Reading(S_0104));
    window.must_say("last 10.15 kN on 21 January, 2 strokes; expected 9.9 to 10.3 kN");
    window.must_say("stop limit 7.70, service limit 8.80");
    let hours = window.harness.get_by_role_and_label(Role::TextInput, "run hours");
    assert_eq!(hours.accesskit_node().placeholder(), Some("> 11,604"));
}

#[test]
fn space_takes_the_likely_figure() {
    let mut window = Window::open(Form::Reading(S_0104));
    window.type_text("101.5");
    assert!(!window.says("is far from"), "nobody is asked while still typing");
    window.key(Key::Enter);
    window.must_say("101.5 kN is far from");
    assert!(window.has_focus("stroke 1"), "the field waits for the answer");
    assert!(!window.is_enabled("Save the reading"));
    window.key(Key::Space);
    assert_eq!(window.value("stroke 1"), "10.15");
    assert!(window.has_focus("stroke 2"));
    window.save();
    assert_eq!(window.recorded().doubt, None);
}

#[test]
fn enter_keeps_the_typed_figure_as_doubted() {
    let mut window = Window::open(Form::Reading(S_0104));
    window.type_text("101.5");
    window.key(Key::Tab);
    window.must_say("101.5 kN is far from");
    window.key(Key::Enter);
    assert_eq!(window.value("stroke 1"), "101.5");
    window.must_say("doubted");
    window.save();
    let reading = window.recorded();
    assert_eq!(reading.strokes[0].typed, "101.5");
    assert!(reading.doubt.unwrap().starts_with("101.5 kN is far from"));
}

#[test]
fn what_is_wrong_stands_in_words_at_its_field() {
    let mut window = Window::open(Form::Reading(S_0104));
    window.must_say("Missing: stroke 1.");
    window.type_text("1o.1");
    window.must_say("stroke 1: '1o.1' is not a figure; expected one such as 9.1");
    window.fill("stroke 1", "10.1");
    window.fill("run hours", "11,500");
    window.must_say("11,500 must exceed 11,604, shown on 21 January");
    window.fill("run hours", "");
    window.fill("date", "31.2.");
    window.must_say("'31.2.' is no day");
    window.fill("date", "fri");
    window.fill("gauge", "G-09");
    window.key(Key::Tab);
    window.must_say("'G-09' is not a gauge of this shop");
    window.save();
    assert!(window.harness.state().asked.is_empty(), "nothing wrong is ever saved");
    window.fill("gauge", "G-02");
    window.save();
    // the Friday before Monday 2 March 2026
    assert_eq!(window.recorded().at.date, day("2026-02-27"));
}

#[test]
fn a_gauge_out_of_calibration_is_named_and_brings_its_unit() {
    let mut window = Window::open(Form::Reading(S_0104));
    window.fill("gauge", "G-01");
    window.key(Key::Tab);
    window.must_say("Calibration of G-01 was due on 14 February");
    window.must_say("last 2,282 lbf on 21 January");
    window.fill("stroke 1", "2270");
    window.save();
    let reading = window.recorded();
    assert_eq!((reading.unit.symbol(), reading.strokes[0].typed.as_str()), ("lbf", "2270"));
}

#[test]
fn a_setting_dimension_has_its_own_gauge_and_unit() {
    let mut window = Window::open(Form::Reading(S_0117));
    window.click(Role::RadioButton, "quantity: setting dimension");
    window.fill("stroke 1", "10.52");
    window.fill("gauge", "D-01");
    window.save();
    let reading = window.recorded();
    assert_eq!((reading.unit.symbol(), reading.gauge.as_deref()), ("mm", Some("D-01")));
}

#[test]
fn a_correction_keeps_the_old_reading_and_says_so() {
    let mut window = Window::open(Form::CorrectReading(ReadingId::from_row(2)));
    window.must_say("The old reading stays, marked as superseded from today.");
    assert_eq!(window.value("stroke 2"), "10.2");
    assert!(!window.is_enabled("Save the correction"), "nothing is changed yet");
    window.fill("stroke 2", "10.0");
    window.save();
    let Action::Reading(Recording::Correct(old, reading, on)) = window.action() else { panic!() };
    assert_eq!((old, on), (ReadingId::from_row(2), day(PRESENT)));
    assert_eq!((reading.at.date, reading.recorded_on), (day("2026-01-21"), Some(day(PRESENT))));
    assert_eq!(reading.strokes[1].typed, "10.0");
}

#[test]
fn a_correction_shows_its_quantity_and_cannot_change_it() {
    let window = Window::open(Form::CorrectReading(ReadingId::from_row(2)));
    window.must_say("quantity: clamp force");
    assert!(!window.says("quantity: setting dimension"));
    assert!(window.harness.query_by_role_and_label(Role::RadioButton, "quantity: clamp force").is_none());
    assert!(!window.says("unit: mm"), "nor by its unit");
}

#[test]
fn a_withdrawal_needs_its_reason() {
    let mut window = Window::open(Form::CorrectReading(ReadingId::from_row(2)));
    window.click(Role::Button, "Withdraw");
    window.must_say("say why it is withdrawn");
    window.fill("reason to withdraw", "other spindle");
    window.click(Role::Button, "Withdraw");
    let Action::Together(what, steps) = window.action() else { panic!() };
    assert_eq!(what, "Withdraw a reading of S-0104: other spindle");
    assert_eq!(steps, [Action::Reading(Recording::Withdraw(ReadingId::from_row(2), day(PRESENT)))]);
}

#[test]
fn a_meter_must_exceed_what_it_showed_unless_it_is_new() {
    let mut window = Window::open(Form::Meter(S_0117));
    assert!(window.has_focus("run hours"));
    window.type_text("412");
    window.must_say("412 must exceed 15,012, shown on 16 February");
    window.click(Role::CheckBox, "first reading of a new meter");
    window.must_say("The old meter ends with 15,012 h");
    window.save();
    let Action::Meter(Recording::Record(meter)) = window.action() else { panic!() };
    assert!(meter.meter_replaced);
    assert_eq!(meter.run_hours, RunHours::new(412.0));
}

#[test]
fn a_meter_that_rose_too_fast_is_asked_about() {
    let mut window = Window::open(Form::Meter(S_0117));
    window.type_text("150,200");
    window.key(Key::Enter);
    window.must_say("more than can have come to the 15012");
    assert!(!window.is_enabled("Save the meter reading"));
    window.click(Role::Button, "take the likely figure");
    assert_eq!(window.value("run hours"), "15020");
    window.save();
    assert!(matches!(window.action(), Action::Meter(Recording::Record(_))));
}

fn fill_service(window: &mut Window, as_left: [&str; 2]) {
    window.fill("as found stroke 1", "14.5");
    window.fill("as found stroke 2", "14.6");
    window.fill("setting as left 1", "10.51");
    window.fill("as left stroke 1", as_left[0]);
    window.fill("as left stroke 2", as_left[1]);
    window.fill("findings", "collar worn");
    window.fill("stop hours", "1.5");
}

#[test]
fn a_service_says_what_is_still_missing_and_shows_every_caution() {
    let mut window = Window::open(Form::Service(S_0117));
    for caution in drawbar_almanac::forms::cautions::CAUTIONS {
        window.must_say(caution);
    }
    window.must_say("Missing: the lockout tick, as found force, setting dimension as left, as left force.");
    window.must_say("expected 17.3 to 17.8 kN");
    fill_service(&mut window, ["17.4", "17.3"]);
    window.must_say("Missing: the lockout tick.");
    window.save();
    assert!(window.harness.state().asked.is_empty(), "no service without lockout");
    window.click(Role::CheckBox, "Locked out, zero energy verified, before anything was opened");
    window.must_say("As left 96.4 % of nominal.");
    window.save();
    let Action::Together(what, steps) = window.action() else { panic!() };
    assert_eq!(what, "Record service of S-0117, order 26-014");
    let [Action::RecordService(service, readings), Action::Part(part), Action::Order(order)] = steps.as_slice() else {
        panic!("{steps:#?}")
    };
    assert_eq!((service.order.as_deref(), service.stop_hours), (Some("26-014"), RunHours::new(1.5)));
    assert_eq!(service.parts[0].part, "gripper grease");
    let phases: Vec<(Phase, &str)> = readings.iter().map(|r| (r.phase, r.quantity().label())).collect();
    let expected =
        [(Phase::AsFound, "clamp force"), (Phase::AsLeft, "setting dimension"), (Phase::AsLeft, "clamp force")];
    assert_eq!(phases, expected);
    let Change::Set(_, part) = part else { panic!() };
    assert!((part.on_hand - 2.0).abs() < 1e-9, "the tube that was used is gone from the shelf");
    let Change::Set(_, order) = order else { panic!() };
    assert_eq!((order.state, order.closed_on), (OrderState::Done, Some(day(PRESENT))));
}

#[test]
fn under_the_stop_limit_the_only_button_keeps_the_spindle_out_of_service() {
    let mut window = Window::open(Form::Service(S_0117));
    window.click(Role::CheckBox, "Locked out, zero energy verified, before anything was opened");
    // 70 % of 18 kN is 12.6 kN
    fill_service(&mut window, ["12.4", "12.5"]);
    window.must_say("under the stop limit of 70 %: do not run it.");
    assert!(!window.says("Save the service"));
    assert!(window.is_enabled("Save; spindle stays out of service"));
    window.click(Role::Button, "Save; spindle stays out of service");
    assert!(matches!(window.action(), Action::Together(..)));
}

#[test]
fn an_order_can_be_partly_done_or_not_done() {
    let mut window = Window::open(Form::Service(S_0117));
    window.click(Role::RadioButton, "order is: not done");
    window.must_say("Missing: note.");
    window.fill("note", "machine was needed");
    window.click(Role::Button, "Close the order");
    let Action::Together(what, steps) = window.action() else { panic!() };
    assert_eq!(what, "Close order 26-014 as not done: machine was needed");
    let [Action::Order(Change::Set(_, order))] = steps.as_slice() else { panic!("{steps:?}") };
    assert_eq!((order.state, order.closed_on), (OrderState::NotDone, Some(day(PRESENT))));

    let mut window = Window::open(Form::Service(S_0117));
    window.click(Role::RadioButton, "order is: partly done");
    window.click(Role::CheckBox, "Locked out, zero energy verified, before anything was opened");
    fill_service(&mut window, ["17.4", "17.3"]);
    window.save();
    let Action::Together(_, steps) = window.action() else { panic!() };
    let Some(Action::Order(Change::Set(_, order))) = steps.last() else { panic!("{steps:?}") };
    assert_eq!((order.state, order.closed_on), (OrderState::PartlyDone, None), "what is left keeps it open");
}

#[test]
fn an_exchange_is_said_in_a_sentence_before_it_is_saved() {
    let mut window = Window::open(Form::Exchange(S_0117));
    window.fill("comes in", "S-0104");
    window.key(Key::Tab);
    window.must_say("S-0104 sits in R-05 on that day; take it out there first");
    window.fill("comes in", "S-0139");
    window.key(Key::Tab);
    window.must_say("S-0117 leaves R-04 with 15,012 h; S-0139 starts there.");
    window.save();
    let Action::ExchangeSpindle { incoming, on, .. } = window.action() else { panic!() };
    assert_eq!((incoming, on), (Some(S_0139), day(PRESENT)));
}

#[test]
fn a_spare_read_under_its_stop_limit_is_not_brought_in_without_a_word() {
    let caution = "S-0139 was last read under its stop limit: do not run it until it is measured within limits.";
    let mut window = Window::open(Form::Exchange(S_0117));
    window.fill("comes in", "S-0139");
    window.key(Key::Tab);
    assert!(window.harness.query_by_label(caution).is_none());
    let spindles = &mut window.harness.state_mut().forecast.spindles;
    let mut spare = SpindleForecast::clone(&spindles[&S_0139]);
    spare.under_stop_limit = Some(UnderStopLimit::Read(day("2026-02-11")));
    spindles.insert(S_0139, spare.into());
    window.harness.run();
    window.must_say(caution);
}

#[test]
fn what_was_typed_comes_back_when_the_form_is_opened_again() {
    let mut window = Window::open(Form::Reading(S_0104));
    window.type_text("10.1");
    window.key(Key::Escape);
    assert!(!window.harness.state().panel.is_open());
    window.harness.state_mut().opening = Some(Form::Reading(S_0104));
    window.harness.run();
    assert_eq!(window.value("stroke 1"), "10.1");
}

#[test]
fn each_form_keeps_what_was_typed_while_others_are_open() {
    let mut window = Window::open(Form::Service(S_0117));
    window.fill("as found stroke 1", "14.5");
    window.fill("stop hours", "1.5");
    window.change_to(Form::Meter(S_0117));
    window.type_text("15,020");
    window.key(Key::Escape);
    window.change_to(Form::CorrectReading(ReadingId::from_row(2)));
    window.fill("reason to withdraw", "other spindle");
    window.change_to(Form::Service(S_0104));
    assert_eq!(window.value("stop hours"), "", "of another spindle nothing was typed");
    window.change_to(Form::Service(S_0117));
    assert_eq!((window.value("as found stroke 1"), window.value("stop hours")), ("14.5".into(), "1.5".into()));
    window.change_to(Form::Meter(S_0117));
    assert_eq!(window.value("run hours"), "15,020");
    window.change_to(Form::CorrectReading(ReadingId::from_row(2)));
    assert_eq!(window.value("reason to withdraw"), "other spindle");
}

#[test]
fn a_form_in_which_nothing_was_typed_is_made_anew() {
    let row = Form::Row(RegisterKind::Spindles, Some(S_0104.row()));
    let mut window = Window::open(row);
    window.key(Key::Escape);
    let mut spindles = (*window.harness.state().shop.spindles).clone();
    spindles.get_mut(&S_0104).unwrap().limits.service_limit = Percent::new(83.0);
    window.harness.state_mut().shop.spindles = Arc::new(spindles);
    window.change_to(row);
    assert_eq!(window.value("service limit"), "83", "what the shop says now");
}

#[test]
fn on_a_day_before_the_present_nothing_can_be_entered() {
    let mut window = Window::open(Form::Reading(S_0104));
    window.type_text("10.1");
    window.harness.state_mut().closed = Some("Entry is closed on a day before the present.");
    window.harness.run();
    window.must_say("Entry is closed on a day before the present.");
    window.save();
    assert!(window.harness.state().asked.is_empty());
}

#[test]
fn a_save_that_was_refused_leaves_what_was_typed() {
    let mut window = Window::open(Form::Reading(S_0104));
    window.type_text("10.1");
    window.save();
    assert!(!window.harness.state().panel.is_open());
    // the shop did not change, so nothing was saved
    window.harness.state_mut().opening = Some(Form::Reading(S_0104));
    window.harness.run();
    assert_eq!(window.value("stroke 1"), "10.1");
}

#[test]
fn a_day_typed_short_is_said_in_full() {
    let mut window = Window::open(Form::Meter(S_0104));
    window.fill("date", "fri");
    window.must_say("Fri 27 February 2026");
    window.fill("date", "2026-02-27");
    assert!(!window.says("Fri 27 February 2026"));
}

#[test]
fn a_service_is_corrected_and_its_cautions_stay() {
    let mut window = Window::open(Form::CorrectService(ServiceId::from_row(1)));
    window.must_say(drawbar_almanac::forms::cautions::CAUTIONS[0]);
    assert!(!window.is_enabled("Save the correction"));
    window.fill("stop hours", "1,5");
    window.save();
    let Action::Service(Recording::Correct(old, service, on)) = window.action() else { panic!() };
    assert_eq!((old, on), (ServiceId::from_row(1), day(PRESENT)));
    assert_eq!(service.stop_hours, RunHours::new(1.5));
    assert_eq!((service.at.date, service.recorded_on), (day("2025-06-12"), Some(day(PRESENT))));
}

#[test]
fn a_service_with_many_parts_keeps_all_of_them() {
    let mut shop = form_shop::shop();
    let parts: Vec<PartQuantity> =
        (1..=7).map(|n| PartQuantity { part: format!("seal {n}"), quantity: f64::from(n) }).collect();
    let mut services = (*shop.services).clone();
    services[0].value.parts.clone_from(&parts);
    (shop.services, shop.parts) = (Arc::new(services), Arc::default());
    let mut window = Window::open_in(shop, Form::CorrectService(ServiceId::from_row(1)));
    assert_eq!((window.value("part 7"), window.value("quantity 7")), ("seal 7".into(), "7".into()));
    assert!(!window.is_enabled("Save the correction"), "nothing is changed yet");
    window.fill("part 8", "circlip");
    window.fill("note", "circlip was not noted");
    window.save();
    let Action::Service(Recording::Correct(_, service, _)) = window.action() else { panic!() };
    assert_eq!(service.parts[..7], parts);
    assert_eq!((service.parts.len(), service.parts[7].part.as_str()), (8, "circlip"));
}

/// A major service takes eight parts of the shop; a minor one the grease alone.
fn shop_with_long_kit() -> Shop {
    let mut shop = form_shop::shop();
    let (mut kit, mut parts) = ((*shop.kit_lines).clone(), (*shop.parts).clone());
    for n in 1..=8 {
        let name = format!("seal {n}");
        let line = KitLine { kind: Kind::Major, part: name.clone(), quantity: 2.0, ..kit[0].value.clone() };
        kit.push(Row { id: KitLineId::from_row(10 + n), value: line });
        parts.push(Row { id: PartId::from_row(10 + n), value: Part { name, on_hand: 5.0, ..parts[0].value.clone() } });
    }
    (shop.kit_lines, shop.parts) = (Arc::new(kit), Arc::new(parts));
    shop
}

#[test]
fn every_line_of_a_long_kit_is_recorded_and_taken_from_stock() {
    let mut window = Window::open_in(shop_with_long_kit(), Form::Service(S_0117));
    window.click(Role::RadioButton, "kind: major");
    window.click(Role::CheckBox, "Locked out, zero energy verified, before anything was opened");
    fill_service(&mut window, ["17.4", "17.3"]);
    window.save();
    let Action::Together(_, steps) = window.action() else { panic!() };
    let Some(Action::RecordService(service, _)) = steps.first() else { panic!("{steps:?}") };
    let used: Vec<&str> = service.parts.iter().map(|used| used.part.as_str()).collect();
    let names: Vec<String> = (1..=8).map(|n| format!("seal {n}")).collect();
    assert_eq!(used, names);
    let left = steps.iter().filter_map(|step| match step {
        Action::Part(Change::Set(_, part)) => Some((part.name.clone(), part.on_hand)),
        _ => None,
    });
    assert_eq!(left.collect::<Vec<_>>(), names.into_iter().map(|name| (name, 3.0)).collect::<Vec<_>>());
}

#[test]
fn another_kind_of_service_leaves_the_parts_that_were_typed() {
    let mut window = Window::open_in(shop_with_long_kit(), Form::Service(S_0117));
    assert_eq!(window.value("part 1"), "gripper grease");
    window.fill("part 2", "gripper set");
    window.key(Key::Tab);
    window.click(Role::RadioButton, "kind: major");
    assert_eq!((window.value("part 1"), window.value("part 8")), ("seal 1".into(), "seal 8".into()));
    assert_eq!(window.value("part 9"), "gripper set");
    window.click(Role::RadioButton, "kind: minor");
    assert_eq!((window.value("part 1"), window.value("part 2")), ("gripper grease".into(), "gripper set".into()));
}

#[test]
fn a_meter_reading_is_corrected_without_being_held_against_itself() {
    let mut window = Window::open(Form::CorrectMeter(MeterReadingId::from_row(2)));
    window.fill("run hours", "14,912");
    window.save();
    let Action::Meter(Recording::Correct(old, meter, _)) = window.action() else { panic!() };
    assert_eq!((old, meter.run_hours), (MeterReadingId::from_row(2), RunHours::new(14_912.0)));
}

#[test]
fn a_spindle_is_edited_beside_another_page() {
    let mut window = Window::open(Form::Row(RegisterKind::Spindles, Some(S_0104.row())));
    window.must_say("Spindle S-0104");
    window.must_say("service limit 80 %, built in: common practice, no source");
    assert!(!window.is_enabled("Save the spindle"));
    window.fill("service limit", "65");
    window.fill("stop limit", "70");
    window.must_say("stop limit 70 % is not below the service limit 65 %");
    window.fill("service limit", "82");
    window.save();
    let Action::Spindle(Change::Set(id, spindle)) = window.action() else { panic!() };
    assert_eq!((id, spindle.limits.service_limit), (S_0104, Percent::new(82.0)));
}

#[test]
fn what_the_keyboard_leads_to_is_typed_over() {
    let mut window = Window::open(Form::CorrectReading(ReadingId::from_row(2)));
    assert!(window.has_focus("stroke 1"));
    window.key(Key::Tab);
    window.type_text("10.4");
    assert_eq!(window.value("stroke 2"), "10.4", "not behind the 10.2 that stood there");
}

#[test]
fn the_first_field_of_a_correction_is_typed_over() {
    let mut window = Window::open(Form::CorrectReading(ReadingId::from_row(2)));
    assert!(window.has_focus("stroke 1"));
    window.type_text("10.4");
    assert_eq!(window.value("stroke 1"), "10.4", "not behind the 10.1 that stood there");
    window.key(Key::Escape);
    window.harness.state_mut().opening = Some(Form::CorrectMeter(MeterReadingId::from_row(2)));
    window.harness.run();
    window.type_text("15,013");
    assert_eq!(window.value("run hours"), "15,013");
}

#[test]
fn an_answer_is_wanted_once_its_question_stands_there() {
    let mut window = Window::open(Form::Reading(S_0117));
    window.type_text("169");
    assert!(!window.says("Answer the question"), "nobody is asked while still typing");
    assert!(!window.is_enabled("Save the reading"));
    window.key(Key::Enter);
    window.must_say("Answer the question on stroke 1 (169).");
    assert!(!window.says("Missing: an answer"));
}

#[test]
fn a_figure_far_above_is_asked_about_and_keeps_nothing_from_being_saved() {
    let mut window = Window::open(Form::Reading(S_0117));
    window.type_text("1");
    assert!(!window.says("expected here"), "1 may become 14.6");
    window.type_text("6.9");
    // the expected middle is 14.55 kN, the middle 80 % 1.2816 x 0.2 kN around it
    window.must_say("16.9 kN is far above the 14.3 to 14.8 kN expected here.");
    assert!(window.is_enabled("Save the reading"));
    window.key(Key::Space);
    assert_eq!(window.value("stroke 1"), "", "Space: enter again");
    assert!(window.has_focus("stroke 1"));
    window.type_text("16.9");
    window.key(Key::Enter);
    assert_eq!(window.value("stroke 1"), "16.9");
    assert!(window.has_focus("stroke 2"));
    window.must_say("expected here: kept as typed.");
    window.save();
    let reading = window.recorded();
    assert_eq!((reading.strokes[0].typed.as_str(), reading.doubt), ("16.9", None));
}

#[test]
fn a_far_figure_is_doubted_only_by_the_person() {
    let mut window = Window::open(Form::Reading(S_0117));
    window.type_text("16.9");
    window.harness.event(egui::Event::Text("d".to_owned()));
    window.key(Key::D);
    assert_eq!(window.value("stroke 1"), "16.9", "the letter answers and is not typed");
    window.must_say("kept as doubted");
    window.save();
    let doubt = window.recorded().doubt.unwrap();
    assert_eq!(doubt, "16.9 kN is far above the 14.3 to 14.8 kN expected here");
}

#[test]
fn a_drop_is_to_be_read_again_and_the_stop_limit_cautions_at_once() {
    let mut window = Window::open(Form::Reading(S_0117));
    window.type_text("1");
    assert!(!window.says("Below the stop limit"), "1 may become 14.6");
    window.type_text("3.0");
    window.must_say(
        "13.0 kN is far below the 14.3 to 14.8 kN expected here, a drop of 11 %: read again; if it stays, it may be a \
         step drop.",
    );
    assert!(!window.says("Below the stop limit"), "the stop limit is 12.6 kN");
    window.fill("stroke 1", "11");
    window.must_say("a drop of 24 %");
    window.must_say(drawbar_almanac::forms::cautions::BELOW_STOP);
    window.save();
    assert_eq!(window.recorded().doubt, None);
}
