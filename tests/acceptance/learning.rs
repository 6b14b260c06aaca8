//! The window learns from a shop: first where nothing is kept, in the background where that is old;
//! what it learnt is kept, shown in words, and can be stopped and asked for.

use almanac_core::actions::Action;
use almanac_core::forecast::fits::ShopFits;
use almanac_core::forecast::{Cancelled, NoProgress, Progress};
use almanac_core::shop::Shop;
use almanac_core::store::{Access, StepStamp, Store};
use almanac_tests::fleet::{fleet, last_day};
use almanac_tests::harness::{Start, Window};
use chrono::{Days, NaiveDate};
use drawbar_almanac::results::Computed;
use drawbar_almanac::worker::{Doing, Job, Learning, News, Worker};
use eframe::egui::accesskit::Role;
use eframe::egui::{self, Key, Modifiers};
use egui_kittest::kittest::Queryable as _;
use std::cell::Cell;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::{Duration, Instant};

fn before(days: u64) -> NaiveDate {
    last_day() - Days::new(days)
}

fn shop(spindles: usize) -> Shop {
    fleet(spindles, 7).apply_to(&Shop::default()).sorted()
}

fn fit(shop: &Shop, day: NaiveDate) -> ShopFits {
    ShopFits::fit(&shop.known_on(day), day, &NoProgress).unwrap()
}

// ---- the thread ------------------------------------------------------------

fn job(known: &Arc<Shop>, fits: Option<ShopFits>, learning: Learning) -> Job {
    let fits = fits.map(Arc::new);
    Job { shop: 1, revision: 1, known: Arc::clone(known), as_of: last_day(), fits, learning }
}

/// All that comes of a job, in order.
fn all_news(job: Job) -> Vec<News> {
    let mut worker = Worker::start(&egui::Context::default()).unwrap();
    worker.request(job);
    let begun = Instant::now();
    let mut news = Vec::new();
    while worker.is_busy() {
        assert!(begun.elapsed() < Duration::from_secs(120), "it does not end");
        std::thread::sleep(Duration::from_millis(2));
        news.extend(worker.poll());
    }
    // figures come twice: dates at once, then the same with what follows from them
    news.dedup_by(|later, first| {
        figures_with(first).zip(figures_with(later)).is_some_and(|(first, later)| first == later)
    });
    news
}

fn figures_with(news: &News) -> Option<&ShopFits> {
    match news {
        News::Figures(Computed { figures: Ok(figures), .. }) => Some(&figures.fits),
        _ => None,
    }
}

#[test]
fn what_is_learnt_when() {
    let known = Arc::new(shop(9));
    let fresh = fit(&known, last_day());
    let old = ShopFits { fitted_on: before(40), ..fresh.clone() };

    // nothing kept: it learns, then projects
    let news = all_news(job(&known, None, Learning::AsNeeded));
    let [News::Learnt(learnt), first] = news.as_slice() else { panic!("{news:?}") };
    assert_eq!((&**learnt, figures_with(first)), (&fresh, Some(&fresh)));

    // a good one: only figures
    let news = all_news(job(&known, Some(fresh.clone()), Learning::AsNeeded));
    assert_eq!(news.iter().map(figures_with).collect::<Vec<_>>(), [Some(&fresh)]);

    // an old one: figures with it at once, then it learns and projects anew
    let news = all_news(job(&known, Some(old.clone()), Learning::AsNeeded));
    let [first, News::Learnt(learnt), second] = news.as_slice() else { panic!("{news:?}") };
    assert_eq!(figures_with(first), Some(&old));
    assert_eq!((&**learnt, figures_with(second)), (&fresh, Some(&fresh)));

    // stopped before: it makes do with what there is
    let news = all_news(job(&known, Some(old.clone()), Learning::Not));
    assert_eq!(news.iter().map(figures_with).collect::<Vec<_>>(), [Some(&old)]);
    let news = all_news(job(&known, None, Learning::Not));
    assert_eq!(news.iter().map(figures_with).collect::<Vec<_>>(), [Some(&ShopFits::weak(last_day()))]);

    // asked for: it learns although the old one would do
    let news = all_news(job(&known, Some(fresh.clone()), Learning::Anew));
    let [News::Learnt(_), first] = news.as_slice() else { panic!("{news:?}") };
    assert_eq!(figures_with(first), Some(&fresh));
}

#[test]
fn learning_stops_when_asked_and_figures_come_all_the_same() {
    let known = Arc::new(shop(400));
    let mut worker = Worker::start(&egui::Context::default()).unwrap();
    worker.request(job(&known, None, Learning::AsNeeded));
    while !matches!(worker.doing(), Some(Doing::Learning { interfaces: 1.., .. })) {
        assert!(worker.is_busy(), "it learnt before it could be stopped: {:?}", worker.poll());
        std::thread::sleep(Duration::from_millis(1));
    }
    let words = worker.doing().unwrap().in_words();
    assert!(words.starts_with("learning from ") && words.contains(" of 5 interfaces"), "{words}");
    worker.stop();
    let asked = Instant::now();
    let mut news = Vec::new();
    while news.is_empty() {
        assert!(asked.elapsed() < Duration::from_secs(30), "it goes on learning");
        std::thread::sleep(Duration::from_millis(1));
        news.extend(worker.poll());
    }
    // about 0.2 s on a machine of its own; tests share theirs
    assert!(asked.elapsed() < Duration::from_secs(2), "{:?}", asked.elapsed());
    assert!(matches!(news[0], News::LearningStopped), "{news:?}");
    while worker.is_busy() {
        std::thread::sleep(Duration::from_millis(2));
        news.extend(worker.poll());
    }
    news.extend(worker.poll());
    let last = news.iter().filter_map(figures_with).next_back().unwrap();
    assert!(last.is_weak());
}

#[test]
fn a_fit_asks_often_and_stops_at_any_of_its_steps() {
    struct Until {
        left: Cell<usize>,
        asked: Cell<usize>,
    }
    impl Progress for Until {
        fn step(&self, done: usize, total: usize) -> bool {
            assert!(done <= total, "{done} of {total}");
            self.asked.set(self.asked.get() + 1);
            self.left.set(self.left.get().saturating_sub(1));
            self.left.get() > 0
        }
    }
    let shop = shop(9);
    let run = |steps: usize| {
        let until = Until { left: Cell::new(steps), asked: Cell::new(0) };
        (ShopFits::fit(&shop, last_day(), &until).map(|_| ()), until.asked.get())
    };
    let (whole, steps) = run(usize::MAX);
    assert_eq!(whole, Ok(()));
    assert!(steps > 100, "asked only {steps} times");
    for stop in [1, 2, steps / 3, steps / 2, steps - 1, steps] {
        assert_eq!(run(stop), (Err(Cancelled), stop));
    }
}

// ---- the window ------------------------------------------------------------

fn file(folder: &Path, spindles: usize) -> (Store, PathBuf) {
    let path = folder.join("works.almanac");
    let mut store = Store::create(&path).unwrap();
    let stamp = StepStamp { at: last_day().and_hms_opt(12, 0, 0).unwrap(), who: "tester".to_owned() };
    store.perform(Action::Import(Box::new(fleet(spindles, 7))), &stamp).unwrap();
    (store, path)
}

fn window(folder: &Path, path: &Path) -> Window {
    let now = last_day().and_hms_opt(12, 0, 0).unwrap();
    Window::open_with(folder, Some(path.to_owned()), Start { now, ..Start::default() })
}

/// What a closed shop file keeps for a day.
fn kept(path: &Path, day: NaiveDate) -> Option<ShopFits> {
    Store::open(path, Access::ReadOnly).unwrap().shop_fits_known_on(day)
}

fn open_drift(window: &mut Window) {
    window.ctrl(Key::Num6);
    window.harness.get_by_role_and_label(Role::Tab, "drift by interface").click();
    window.settle();
}

#[test]
fn a_shop_is_learnt_from_once_and_what_was_learnt_is_kept() {
    let folder = tempfile::tempdir().unwrap();
    let (store, path) = file(folder.path(), 20);
    let whole = store.load_shop().unwrap();
    drop(store);
    window(folder.path(), &path).close();
    let fresh = fit(&whole, last_day());
    assert_eq!(kept(&path, last_day()), Some(fresh.clone()));

    // the next start takes it as it is, also a strange one, as long as it does
    let mut strange = fresh.clone();
    for of in strange.interfaces.values_mut() {
        of.parameters.beta = 40.0;
        of.parameters.cvu = 1e-6;
    }
    Store::open(&path, Access::ReadWrite).unwrap().save_shop_fits(&strange).unwrap();
    let mut second = window(folder.path(), &path);
    open_drift(&mut second);
    second.must_say("loses 20.0 % per 1,000 h, half of the spindles between 20.0 and 20.0");
    // asked for anew it learns what the readings say
    second.key(Key::F);
    second.must_not_say("loses 20.0 %");
    second.close();
    assert_eq!(kept(&path, last_day()), Some(fresh));
}

#[test]
fn what_is_old_is_learnt_anew_and_a_past_day_keeps_its_own() {
    let folder = tempfile::tempdir().unwrap();
    let (mut store, path) = file(folder.path(), 12);
    let whole = store.load_shop().unwrap();
    let old = fit(&whole, before(60));
    store.save_shop_fits(&old).unwrap();
    drop(store);
    let mut window = window(folder.path(), &path);
    // before the day of the old one: a fit of what was known then
    for _ in 0..3 {
        window.keys(Modifiers::ALT, Key::PageUp);
    }
    let then = window.harness.state().document().unwrap().snapshot().as_of;
    window.keys(Modifiers::ALT, Key::Home);
    window.close();
    assert_eq!(kept(&path, last_day()), Some(fit(&whole, last_day())));
    assert!(then < before(60));
    assert_eq!(kept(&path, then), Some(fit(&whole, then)));
    assert_eq!(kept(&path, before(60)), Some(old));
}

#[test]
fn a_file_that_another_one_writes_is_learnt_from_but_left_alone() {
    let folder = tempfile::tempdir().unwrap();
    let (store, path) = file(folder.path(), 12);
    let mut window = window(folder.path(), &path);
    window.must_say("read only");
    open_drift(&mut window);
    window.must_say("loses ");
    window.close();
    drop(store);
    assert_eq!(kept(&path, last_day()), None);
}

#[test]
fn the_page_says_what_was_learnt() {
    let folder = tempfile::tempdir().unwrap();
    let (store, path) = file(folder.path(), 21);
    let whole = store.load_shop().unwrap();
    drop(store);
    let fits = fit(&whole, last_day());
    let learnt = almanac_core::forecast::learnt::learnt(&fits, &whole, last_day());
    let mut window = window(folder.path(), &path);
    open_drift(&mut window);
    assert_eq!(learnt.interfaces.len(), 5);
    for of in &learnt.interfaces {
        window.must_say(&format!("{}.", of.sentence()));
        window.must_say(&of.service_sentence());
        window.must_say(&format!("{}; spindles {}, readings ", of.name(), of.spindles));
    }
    window.must_say(&format!("{}.", learnt.sentence(last_day())));
    window.must_say(&learnt.usage[0].sentence());
    window.must_say("Fit anew");

    // the sentences of what the keys choose stand where they can be read
    let seen = |window: &Window, part: &str| {
        let rect = window.harness.get_by_label_contains(part).rect();
        rect.top() > 200.0 && rect.bottom() < 790.0
    };
    let usage = learnt.usage[0].sentence();
    let first = learnt.interfaces[0].sentence();
    window.key(Key::End);
    assert!(seen(&window, &usage) && !seen(&window, &first), "the last row is chosen");
    window.key(Key::Home);
    assert!(seen(&window, &first), "the first row is chosen");
}
