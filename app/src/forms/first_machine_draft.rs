//! A machine with its spindle from nothing, as typed, and the one step it becomes.

use super::draft::{Draft, FieldErrors, Key, Reader};
use crate::pages::shop::register::{check_unique, typed};
use crate::pages::shop::registers::{machines, spindles};
use almanac_core::actions::Action;
use almanac_core::interface::Interface;
use almanac_core::limits::{FROM_MEMORY, offered_nominal_force};
use almanac_core::machine::Machine;
use almanac_core::settings::ShopSettings;
use almanac_core::shop::Shop;
use almanac_core::spindle::Spindle;
use almanac_core::typed_date::Lean;
use chrono::NaiveDate;

/// The field of the shop's name.
pub const SHOP_NAME: Key = "name of the shop";
/// The field of the position in which the spindle sits.
pub const POSITION: Key = "position";
/// The field of the day since when it sits there.
pub const MOUNTED: Key = "mounted since";

/// Why a nominal force that was offered must be looked at.
pub const OFFERED: &str = FROM_MEMORY;

/// The action of a draft: the name of the shop, the machine, the spindle and its mounting.
///
/// # Errors
/// What is missing or wrong, field by field.
pub fn parse(draft: &Draft, shop: &Shop, today: NaiveDate) -> Result<Action, FieldErrors> {
    let mut reader = Reader::new(draft, today);
    let settings = settings(&mut reader, shop);
    let machine = machines::read(&mut reader, "machine");
    if let Some(machine) = &machine {
        let taken = shop.machines.iter().map(|(id, machine)| (id.row(), machine.name.as_str()));
        check_unique(&mut reader, "machine", &machine.name, None, taken);
    }
    let spindle = spindles::read(&mut reader, shop, None).map(|spindle| with_source(spindle, draft));
    if let Some(spindle) = &spindle {
        let taken = shop.spindles.iter().map(|(id, spindle)| (id.row(), spindle.name.as_str()));
        check_unique(&mut reader, "spindle", &spindle.name, None, taken);
    }
    let position = position(&mut reader, machine.as_ref());
    let mounted_on = reader.required_day(MOUNTED, Lean::Back);
    check_mounted(&mut reader, mounted_on, spindle.as_ref());
    let added = machine
        .zip(spindle)
        .zip(mounted_on)
        .map(|((machine, spindle), day)| Action::AddMachineWithSpindles(machine, vec![(spindle, position, day)]));
    let action = added.map(|added| match settings {
        Some(settings) => {
            Action::Together(format!("Begin the shop {}", settings.name), vec![Action::Settings(settings), added])
        }
        None => added,
    });
    reader.finish(action)
}

/// The settings with a new name; `None` where the shop keeps the one it has.
fn settings(reader: &mut Reader<'_>, shop: &Shop) -> Option<ShopSettings> {
    let name = if shop.settings.name.is_empty() {
        reader.required_text(SHOP_NAME)?
    } else {
        reader.optional_text(SHOP_NAME)?
    };
    (name != shop.settings.name).then(|| ShopSettings { name, ..ShopSettings::clone(&shop.settings) })
}

/// A force that was taken as offered carries where it comes from.
fn with_source(mut spindle: Spindle, draft: &Draft) -> Spindle {
    let is_offered = offered_nominal_force(&spindle.interface) == Some(spindle.nominal_force);
    if is_offered && draft.trimmed("source of limits").is_empty() {
        spindle.limits.source = Some(FROM_MEMORY.to_owned());
    }
    spindle
}

fn position(reader: &mut Reader<'_>, machine: Option<&Machine>) -> u32 {
    let number = crate::pages::shop::register::whole(reader, POSITION, 1).unwrap_or(1);
    if let Some(machine) = machine.filter(|machine| number > machine.positions) {
        reader.wrong(POSITION, format!("{} has {} spindle positions", machine.name, machine.positions));
    }
    number
}

fn check_mounted(reader: &mut Reader<'_>, mounted_on: Option<NaiveDate>, spindle: Option<&Spindle>) {
    let Some(day) = mounted_on else { return };
    let today = reader.today();
    if day > today {
        reader.wrong(MOUNTED, format!("{day} lies after today, {today}"));
    }
    if let Some(installed) = spindle.and_then(|spindle| spindle.installed_on).filter(|installed| day < *installed) {
        reader.wrong(MOUNTED, format!("{day} lies before it was installed on {installed}"));
    }
}

/// The nominal force that may be offered for what stands in the interface field, as typed: the
/// shop's own value for the interface, else what is remembered of its standard.
#[must_use]
pub fn offered(draft: &Draft, shop: &Shop) -> Option<String> {
    let interface = Interface::parse(draft.get("tool interface"))?;
    let own = shop.interface_limits.iter().find(|row| row.interface.as_ref() == Some(&interface));
    let force = own.and_then(|row| row.values.nominal_force).or_else(|| offered_nominal_force(&interface))?;
    Some(typed(force.get(), shop.settings.force_unit))
}

#[cfg(test)]
mod tests {
    use super::*;
    use almanac_core::units::Kilonewtons;

    fn today() -> NaiveDate {
        NaiveDate::from_ymd_opt(2026, 3, 2).unwrap()
    }

    fn filled() -> Draft {
        Draft::default()
            .with(SHOP_NAME, "Weir & Daughters")
            .with("machine", "R-01")
            .with("hall", "Router hall")
            .with("spindle positions", "2")
            .with("spindle", "S-0001")
            .with("tool interface", "hsk a 63")
            .with("nominal force", "18")
            .with(POSITION, "2")
            .with(MOUNTED, "2024-01-10")
    }

    #[test]
    fn one_step_names_the_shop_and_mounts_the_spindle() {
        let Action::Together(what, steps) = parse(&filled(), &Shop::default(), today()).unwrap() else { panic!() };
        assert_eq!(what, "Begin the shop Weir & Daughters");
        let [Action::Settings(settings), Action::AddMachineWithSpindles(machine, spindles)] = steps.as_slice() else {
            panic!("{steps:?}")
        };
        assert_eq!(settings.name, "Weir & Daughters");
        assert_eq!((machine.name.as_str(), machine.positions), ("R-01", 2));
        let (spindle, number, day) = &spindles[0];
        assert_eq!(spindle.interface.as_str(), "HSK-A63");
        assert_eq!(spindle.nominal_force, Kilonewtons::new(18.0).unwrap());
        assert_eq!((*number, day.to_string().as_str()), (2, "2024-01-10"));
    }

    #[test]
    fn an_offered_force_says_that_it_is_from_memory() {
        // 18 kN for HSK size 63: offered from memory, to be confirmed
        assert_eq!(offered(&filled(), &Shop::default()).as_deref(), Some("18"));
        let Action::Together(_, steps) = parse(&filled(), &Shop::default(), today()).unwrap() else { panic!() };
        let Action::AddMachineWithSpindles(_, spindles) = &steps[1] else { panic!() };
        assert_eq!(spindles[0].0.limits.source.as_deref(), Some("from memory, to be confirmed"));
        let own = filled().with("nominal force", "17.5");
        let Action::Together(_, steps) = parse(&own, &Shop::default(), today()).unwrap() else { panic!() };
        let Action::AddMachineWithSpindles(_, spindles) = &steps[1] else { panic!() };
        assert_eq!(spindles[0].0.limits.source, None);
    }

    #[test]
    fn a_position_that_the_machine_lacks_is_refused_in_words() {
        let errors = parse(&filled().with(POSITION, "3"), &Shop::default(), today()).unwrap_err();
        assert_eq!(errors.of(POSITION), Some("R-01 has 2 spindle positions"));
        let errors = parse(&filled().with(MOUNTED, "2026-03-09"), &Shop::default(), today()).unwrap_err();
        assert_eq!(errors.of(MOUNTED), Some("2026-03-09 lies after today, 2026-03-02"));
        let errors = parse(&Draft::default(), &Shop::default(), today()).unwrap_err();
        assert_eq!(
            errors.missing,
            ["name of the shop", "machine", "hall", "spindle", "tool interface", "nominal force", "mounted since"]
        );
    }
}
