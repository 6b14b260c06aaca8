//! One spindle from its own rows alone is the same as in a run over the whole shop.

use almanac_core::exposure::ExposureBook;
use almanac_core::forecast::HORIZON_DAYS;
use almanac_core::import::import_paths;
use almanac_core::moment::parse_iso_date;
use almanac_core::shop::Shop;
use almanac_tests::random_shop::random_shop;
use chrono::{Days, NaiveDate};
use proptest::prelude::*;
use std::path::Path;

#[track_caller]
fn check(shop: &Shop, day: NaiveDate) {
    let known = shop.known_on(day);
    let book = ExposureBook::of(&known, day, HORIZON_DAYS);
    for id in shop.spindles.keys() {
        let own = shop.known_of(*id, day);
        assert_eq!(own.readings_of(*id), known.readings_of(*id));
        assert_eq!(own.services_of(*id), known.services_of(*id));
        assert_eq!(own.mountings_of(*id), known.mountings_of(*id));
        let alone = ExposureBook::of_spindle(&own, day, HORIZON_DAYS, *id, &book.usual);
        assert_eq!(alone.calendar, book.calendar);
        assert_eq!(alone.spindles.get(id), book.spindles.get(id), "spindle {}", id.row());
    }
}

#[test]
fn its_rows_tell_its_exposure_in_the_demo() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../sample-shop");
    let day = parse_iso_date("2026-03-02").unwrap();
    let outcome = import_paths(&[folder], &Shop::default(), day, &almanac_core::forecast::NoProgress).unwrap();
    let shop = outcome.batch.apply_to(&Shop::default()).sorted();
    for back in [0, 200, 700] {
        check(&shop, day - Days::new(back));
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    /// Spindles that change places, meters that are exchanged, corrections.
    #[test]
    fn its_rows_tell_its_exposure_in_any_shop(seed in any::<u64>(), back in 0_u64..2000) {
        check(&random_shop(seed).sorted(), almanac_tests::fleet::last_day() - Days::new(back));
    }
}
