//! What the model learns from a generated fleet whose truth is known.

use almanac_core::forecast::fits::ShopFits;
use almanac_core::forecast::model::observed::Clock;
use almanac_core::forecast::{Cancelled, NoProgress, Progress};
use almanac_core::shop::Shop;
use almanac_tests::fleet::{fleet, last_day};

fn shop(spindles: usize, seed: u64) -> Shop {
    fleet(spindles, seed).apply_to(&Shop::default()).sorted()
}

#[test]
fn the_mean_loss_of_each_interface_is_found() {
    // the generator draws 0.0035 to 0.008 % an hour: 7 to 16 % in 2,000 h, on average 11.5 %
    let fits = ShopFits::fit(&shop(40, 3), last_day(), &NoProgress).unwrap();
    assert_eq!(fits.interfaces.len(), 5);
    for (interface, fit) in &fits.interfaces {
        assert_eq!(fit.spindles, 8, "{interface}");
        let per_2000_hours = match fit.counting.clock {
            Clock::Hours => fit.parameters.beta,
            Clock::Cycles => fit.parameters.beta * 2000.0 * fit.cycles_per_hour / fit.counting.reference,
        };
        assert!((8.5..15.0).contains(&per_2000_hours), "{interface}: {per_2000_hours}");
        assert!((0.2..2.0).contains(&fit.parameters.sb), "{interface}: {}", fit.parameters.sb);
        assert!((94.0..99.0).contains(&fit.parameters.a0), "{interface}: {}", fit.parameters.a0);
    }
    assert!((10.0..13.0).contains(&fits.all.parameters.beta), "{}", fits.all.parameters.beta);
}

#[test]
fn fewer_than_three_spindles_borrow_from_all() {
    let fits = ShopFits::fit(&shop(7, 5), last_day(), &NoProgress).unwrap();
    assert!(fits.interfaces.is_empty(), "two spindles an interface at most");
    assert_eq!(fits.all.spindles, 7);
}

#[test]
fn an_empty_shop_has_the_priors() {
    let fits = ShopFits::fit(&Shop::default(), last_day(), &NoProgress).unwrap();
    assert_eq!(fits.all.clock_objectives, None);
    assert!(fits.interfaces.is_empty());
}

#[test]
fn nothing_later_than_the_day_is_used() {
    let whole = shop(15, 9);
    let day = last_day() - chrono::Days::new(900);
    let then = ShopFits::fit(&whole.known_on(day), day, &NoProgress).unwrap();
    let mut cut = whole.clone();
    cut.readings = std::sync::Arc::new(cut.readings.iter().filter(|r| r.at.date <= day).cloned().collect());
    cut.meters = std::sync::Arc::new(cut.meters.iter().filter(|m| m.at.date <= day).cloned().collect());
    cut.services = std::sync::Arc::new(cut.services.iter().filter(|s| s.at.date <= day).cloned().collect());
    assert_eq!(then, ShopFits::fit(&cut, day, &NoProgress).unwrap());
}

#[test]
fn a_fit_can_be_stopped() {
    struct Never;
    impl Progress for Never {
        fn step(&self, _done: usize, _total: usize) -> bool {
            false
        }
    }
    assert_eq!(ShopFits::fit(&shop(5, 1), last_day(), &Never), Err(Cancelled));
}
