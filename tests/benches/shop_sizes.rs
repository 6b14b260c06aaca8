//! How long a shop takes to import, load, project and paint, as ratios to reading the same rows
//! straight from SQLite in the same run.
//!
//! `cargo bench`; a number behind `--` limits the sizes, as in `cargo bench -- 300`.

use almanac_core::actions::Action;
use almanac_core::due::due_list;
use almanac_core::export::folder::folder_files;
use almanac_core::forecast::{ForecastConfig, NoProgress, forecast_shop};
use almanac_core::import::{Source, import};
use almanac_core::shop::Shop;
use almanac_core::store::{Access, StepStamp, Store};
use almanac_tests::fleet::{fleet, last_day};
use almanac_tests::measure::{least_elapsed, median_time, read_rows};
use drawbar_almanac::pages::due::DuePage;
use drawbar_almanac::pages::{PageContext, Requests};
use drawbar_almanac::theme;
use eframe::egui;
use std::error::Error;
use std::hint::black_box;

const SIZES: [usize; 3] = [30, 300, 3000];

/// One frame of the due page with everything at hand: layout and tessellation.
fn paint(shop: &Shop) -> Result<impl FnMut(), Box<dyn Error>> {
    let config = ForecastConfig::of(shop);
    let forecast = forecast_shop(shop, last_day(), &config, &NoProgress)?;
    let due = due_list(shop, &forecast);
    let shop = shop.clone();
    Ok(move || {
        let ctx = egui::Context::default();
        theme::install(&ctx);
        let input = egui::RawInput {
            screen_rect: Some(egui::Rect::from_min_size(egui::Pos2::ZERO, egui::vec2(1280.0, 800.0))),
            ..egui::RawInput::default()
        };
        let mut page = DuePage::default();
        let mut requests = Requests::default();
        let context = PageContext {
            shop: &shop,
            whole: &shop,
            forecast: Some(&forecast),
            due: Some(&due),
            revision: 1,
            figures_revision: 1,
            is_current: true,
            doing: None,
            fits: None,
            intervals: &[],
            as_of: last_day(),
            present: last_day(),
            entry_closed: None,
            journal: &[],
            what_if: None,
        };
        let mut output = ctx.run_ui(input, |ui| page.ui(ui, &context, &mut requests));
        let shapes = std::mem::take(&mut output.shapes);
        black_box(ctx.tessellate(shapes, output.pixels_per_point));
        output.drop_without_applying_deltas();
    })
}

fn measure(size: usize, out: &mut impl std::io::Write) -> Result<(), Box<dyn Error>> {
    let runs = if size >= 3000 { 3 } else { 7 };
    let folder = tempfile::tempdir()?;
    let path = folder.path().join("shop.almanac");
    let stamp = StepStamp { at: last_day().and_hms_opt(8, 0, 0).unwrap_or_default(), who: "bench".to_owned() };
    let mut store = Store::create(&path)?;
    store.perform(Action::Import(Box::new(fleet(size, 1))), &stamp)?;
    let shop = store.load_shop()?;
    drop(store);

    let files: Vec<Source> =
        folder_files(&shop).into_iter().map(|(name, bytes)| Source::from_bytes(name, bytes)).collect();
    let values = read_rows(&path)?;
    let straight = median_time(runs, || {
        black_box(read_rows(&path).unwrap_or_default());
    });
    let parse = median_time(runs, || {
        black_box(import(&files, &Shop::default(), last_day(), &NoProgress).is_ok());
    });
    let batch = import(&files, &Shop::default(), last_day(), &NoProgress)?.batch;
    let mut number = 0;
    let write = median_time(runs, || {
        number += 1;
        let written = Store::create(&folder.path().join(format!("written-{number}.almanac")))
            .map_err(|error| error.to_string())
            .and_then(|mut store| {
                store.perform(Action::Import(Box::new(batch.clone())), &stamp).map_err(|error| error.to_string())
            });
        black_box(written.is_ok());
    });
    let load = median_time(runs, || {
        black_box(Store::open(&path, Access::ReadOnly).and_then(|store| store.load_shop()).is_ok());
    });
    let config = ForecastConfig::of(&shop);
    // spread over the processors
    let project = least_elapsed(runs, || {
        black_box(forecast_shop(&shop, last_day(), &config, &NoProgress).is_ok());
    });
    let mut frame = paint(&shop)?;
    let painted = median_time(runs, &mut frame);

    writeln!(out, "\n{size} spindles, ten years, {values} values; read straight from SQLite: {straight:.1?} = 1")?;
    let rows = [
        ("import: CSV to rows", parse),
        ("import: rows to the shop file", write),
        ("load: shop file to snapshot", load),
        ("project the whole shop, by the clock", project),
        ("first paint of the due page", painted),
    ];
    for (what, time) in rows {
        let ratio = time.as_secs_f64() / straight.as_secs_f64();
        writeln!(out, "  {what:<32} {ratio:>8.2}   ({time:.1?})")?;
    }
    Ok(())
}

fn main() -> Result<(), Box<dyn Error>> {
    let most = std::env::args().filter_map(|word| word.parse::<usize>().ok()).next_back().unwrap_or(usize::MAX);
    let mut out = std::io::stdout().lock();
    for size in SIZES.into_iter().filter(|size| *size <= most) {
        measure(size, &mut out)?;
    }
    Ok(())
}
