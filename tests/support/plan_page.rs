//! The week plan over [`crate::plan_view`], driven through the names that a screen reader reads.

use crate::due_list;
use crate::plan_view::{PlanFixture, plan_fixture};
use almanac_core::planning::proposal::BrokenRule;
use almanac_core::planning::week_view::WeekView;
use drawbar_almanac::pages::week_plan::{PlanShown, WeekPlanPage};
use drawbar_almanac::pages::{PageContext, Request, Requests};
use drawbar_almanac::planner::{Ask, Proposing, Weighings};
use drawbar_almanac::theme;
use eframe::egui::{self, Key};
use egui_kittest::Harness;
use egui_kittest::kittest::{NodeT as _, Queryable as _};

/// The page over a plan made by hand, and what it asked for.
#[derive(Debug)]
#[expect(missing_docs, reason = "the fields are what their names say")]
pub struct Screen {
    pub page: WeekPlanPage,
    pub fixture: PlanFixture,
    pub view: WeekView,
    pub revision: u64,
    pub weighed: Weighings,
    pub proposing: Option<Proposing>,
    pub entry_closed: Option<&'static str>,
    requests: Requests,
    pub asked: Vec<Request>,
}

impl Screen {
    fn ui(&mut self, ui: &mut egui::Ui) {
        let context = PageContext {
            shop: &self.fixture.due.shop,
            whole: &self.fixture.due.shop,
            forecast: Some(&self.fixture.due.forecast),
            due: Some(&self.fixture.due.due),
            fits: None,
            intervals: &[],
            revision: 1,
            figures_revision: 1,
            is_current: true,
            doing: None,
            as_of: due_list::as_of(),
            present: due_list::as_of(),
            entry_closed: self.entry_closed,
            journal: &[],
            what_if: None,
        };
        let shown = PlanShown {
            view: Some(&self.view),
            revision: self.revision,
            proposing: self.proposing.as_ref(),
            proposed_at: None,
            weighed: &self.weighed,
        };
        self.page.ui(ui, &context, &shown, &mut self.requests);
        self.asked.extend(self.requests.take());
    }

    /// What was asked about the plan, places to be weighed left out.
    #[must_use]
    pub fn plan_asked(&self) -> Vec<&Ask> {
        let asked = self.asked.iter().filter_map(|request| match request {
            Request::Plan(ask) => Some(ask),
            _ => None,
        });
        asked.filter(|ask| !matches!(ask, Ask::Weigh(..))).collect()
    }

    /// What was refused, in words.
    #[must_use]
    pub fn troubles(&self) -> Vec<&str> {
        let troubles = self.asked.iter().filter_map(|request| match request {
            Request::Trouble(sentence) => Some(sentence.as_str()),
            _ => None,
        });
        troubles.collect()
    }
}

/// The page without a display.
pub type PlanWindow = Harness<'static, Screen>;

/// The page over a fixture.
#[must_use]
pub fn window_of(fixture: PlanFixture, with_proposal: bool, size: [f32; 2]) -> PlanWindow {
    let view = fixture.view(with_proposal);
    let screen = Screen {
        page: WeekPlanPage::default(),
        fixture,
        view,
        revision: 1,
        weighed: Weighings::new(),
        proposing: None,
        entry_closed: None,
        requests: Requests::default(),
        asked: Vec::new(),
    };
    let mut window = Harness::builder()
        .with_size(size)
        .with_step_dt(1.0 / 60.0)
        .with_context_setup(theme::install)
        .build_ui_state(|ui, screen: &mut Screen| screen.ui(ui), screen);
    window.run();
    window
}

/// The page over the usual fixture.
#[must_use]
pub fn window(with_proposal: bool) -> PlanWindow {
    window_of(plan_fixture(), with_proposal, [1296.0, 776.0])
}

/// A key, and all that follows from it.
pub fn press(window: &mut PlanWindow, key: Key) {
    window.key_press(key);
    window.run();
}

/// All that is said on the page.
#[must_use]
pub fn names(window: &PlanWindow) -> Vec<String> {
    let named = window.query_all_by(|node| node.label().is_some());
    named.filter_map(|node| node.accesskit_node().label()).collect()
}

/// That something on the page says so.
///
/// # Panics
/// Nothing does.
#[track_caller]
pub fn must_say(window: &PlanWindow, part: &str) {
    assert!(window.query_all_by_label_contains(part).next().is_some(), "'{part}' is not in {:#?}", names(window));
}

/// Whether something on the page says so.
#[must_use]
pub fn says(window: &PlanWindow, part: &str) -> bool {
    window.query_all_by_label_contains(part).next().is_some()
}

/// The position of the chosen service.
///
/// # Panics
/// None is chosen, or its spindle sits nowhere.
#[must_use]
pub fn chosen(window: &PlanWindow) -> String {
    let screen = window.state();
    let spindle = screen.page.chosen().expect("it is there").spindle;
    screen.fixture.due.due.row(spindle).expect("it is there").position.clone().expect("it is there")
}

/// A place is weighed.
pub fn weigh(window: &mut PlanWindow, position: &str, tray: usize, broken: Vec<BrokenRule>) {
    let screen = window.state_mut();
    let service = screen.fixture.service(position);
    let weighed = screen.fixture.weighed(position, tray, broken);
    screen.weighed.insert((service, tray), Ok(weighed));
    window.run();
}

/// A click on the block or line of a position.
///
/// # Panics
/// There is none.
pub fn choose(window: &mut PlanWindow, position: &str) {
    window.get_all_by_label_contains(&format!("{position}, spindle")).next().expect("it is there").click();
    window.run();
}
