//! The due list of the demo and of shops made for it.

use almanac_core::due::{due_list, to_table};
use almanac_core::forecast::{ForecastConfig, NoProgress, forecast_shop};
use almanac_core::import::import_paths;
use almanac_core::moment::parse_iso_date;
use almanac_core::shop::Shop;
use std::path::Path;

fn demo() -> Shop {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../sample-shop");
    let today = parse_iso_date("2026-03-02").unwrap();
    let outcome = import_paths(&[folder], &Shop::default(), today, &NoProgress).unwrap();
    outcome.batch.apply_to(&Shop::default())
}

#[test]
fn show() {
    let shop = demo();
    let as_of = parse_iso_date("2026-03-02").unwrap();
    let forecast = forecast_shop(&shop, as_of, &ForecastConfig::of(&shop), &NoProgress).unwrap();
    let list = due_list(&shop, &forecast);
    println!("{}", to_table(&shop, &list));
    for row in &list.rows {
        let f = &row.forecast;
        println!("{} {:?} {}", row.name, row.position, almanac_core::due::row_sentence(row, as_of));
        println!(
            "     now {:.2} sd {:.2} loss {:?} last read {:?} major {:?} n {:?}",
            f.force_now.mean.get(),
            f.force_now.sd.get(),
            f.loss_per_1000_h.map(|l| (l.mean.get(), l.sd.get())),
            f.last_service,
            f.major_service_by,
            f.intervals.last().map(|i| i.readings)
        );
        for w in &f.warnings {
            println!("     ! {w}");
        }
    }
}

#[test]
fn show_orders() {
    let shop = demo();
    let as_of = parse_iso_date("2026-03-02").unwrap();
    let forecast = forecast_shop(&shop, as_of, &ForecastConfig::of(&shop), &NoProgress).unwrap();
    let list = due_list(&shop, &forecast);
    let lines = almanac_core::orders_list::order_lines(&shop, &list, false);
    println!("{}", almanac_core::orders_list::to_table(&lines, as_of));
    println!("{}", almanac_core::orders_list::to_csv(&lines, as_of));
    println!("{}", &almanac_core::orders_list::to_json(&lines, as_of).unwrap()[..1200]);
    println!("{}", &almanac_core::due::to_json(&shop, &forecast, &list).unwrap()[..2600]);
    println!("{}", &almanac_core::due::to_csv(&list)[..1600]);
}
