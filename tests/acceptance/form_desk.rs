//! A form panel over a small shop, driven by the accessible names of its fields.

use almanac_core::actions::{Action, Recording};
use almanac_core::forecast::ShopForecast;
use almanac_core::reading::Reading;
use almanac_core::shop::Shop;
use almanac_tests::form_shop::{self, PRESENT, day};
use drawbar_almanac::forms::FormPanel;
use drawbar_almanac::pages::{Form, PageContext, Request, Requests};
use drawbar_almanac::theme;
use eframe::egui::{self, Key, Modifiers, Role};
use egui_kittest::Harness;
use egui_kittest::kittest::{NodeT as _, Queryable as _};

/// A panel over the small shop; what it asks for is kept.
pub(crate) struct Desk {
    pub(crate) shop: Shop,
    pub(crate) forecast: ShopForecast,
    pub(crate) panel: FormPanel,
    pub(crate) opening: Option<Form>,
    pub(crate) asked: Vec<Request>,
    pub(crate) closed: Option<&'static str>,
}

impl Desk {
    pub(crate) fn ui(&mut self, ui: &mut egui::Ui) {
        let Self { shop, forecast, panel, opening, asked, closed } = self;
        let context = PageContext {
            shop,
            whole: shop,
            forecast: Some(forecast),
            due: None,
            revision: 1,
            figures_revision: 1,
            is_current: true,
            doing: None,
            fits: None,
            intervals: &[],
            as_of: day(PRESENT),
            present: day(PRESENT),
            entry_closed: *closed,
            journal: &[],
            what_if: None,
        };
        if let Some(form) = opening.take() {
            panel.open(form, &context);
        }
        let mut requests = Requests::default();
        panel.ui(ui, &context, &mut requests);
        let new = requests.take();
        if new.contains(&Request::CloseForm) {
            panel.close();
        }
        asked.extend(new);
    }
}

pub(crate) struct Window {
    pub(crate) harness: Harness<'static, Desk>,
}

impl Window {
    pub(crate) fn open(form: Form) -> Self {
        Self::open_in(form_shop::shop(), form)
    }

    pub(crate) fn open_in(shop: Shop, form: Form) -> Self {
        let forecast = form_shop::forecast(&shop);
        let panel = FormPanel::default();
        let desk = Desk { shop, forecast, panel, opening: Some(form), asked: Vec::new(), closed: None };
        // tall, so that every field is in sight
        let mut harness = Harness::builder()
            .with_size([440.0, 2200.0])
            .with_context_setup(theme::install)
            .build_ui_state(|ui, desk: &mut Desk| desk.ui(ui), desk);
        harness.run();
        Self { harness }
    }

    pub(crate) fn change_to(&mut self, form: Form) {
        self.harness.state_mut().opening = Some(form);
        self.harness.run();
    }

    #[track_caller]
    pub(crate) fn focus(&mut self, field: &str) {
        self.harness.get_by(|node| node.is_text_input() && node.label().as_deref() == Some(field)).focus();
        self.harness.run();
    }

    /// Types into the field that has the focus.
    #[track_caller]
    pub(crate) fn type_text(&mut self, text: &str) {
        self.harness.event(egui::Event::Text(text.to_owned()));
        self.harness.run();
    }

    #[track_caller]
    pub(crate) fn fill(&mut self, field: &str, text: &str) {
        self.focus(field);
        self.harness.key_press_modifiers(Modifiers::COMMAND, Key::A);
        self.harness.key_press(Key::Delete);
        self.harness.run();
        self.type_text(text);
    }

    pub(crate) fn key(&mut self, key: Key) {
        self.harness.key_press(key);
        self.harness.run();
    }

    pub(crate) fn save(&mut self) {
        self.harness.key_press_modifiers(Modifiers::COMMAND, Key::Enter);
        self.harness.run();
    }

    #[track_caller]
    pub(crate) fn click(&mut self, role: Role, name: &str) {
        self.harness.get_by_role_and_label(role, name).click();
        self.harness.run();
    }

    #[track_caller]
    pub(crate) fn value(&self, field: &str) -> String {
        self.harness.get_by_role_and_label(Role::TextInput, field).value().unwrap_or_default()
    }

    #[track_caller]
    pub(crate) fn has_focus(&self, field: &str) -> bool {
        self.harness.get_by_role_and_label(Role::TextInput, field).is_focused()
    }

    #[track_caller]
    pub(crate) fn must_say(&self, part: &str) {
        let all: Vec<String> = self
            .harness
            .query_all_by(|node| node.label().is_some() || node.value().is_some())
            .filter_map(|node| node.accesskit_node().label().or_else(|| node.accesskit_node().value()))
            .collect();
        assert!(all.iter().any(|name| name.contains(part)), "nothing says '{part}': {all:#?}");
    }

    pub(crate) fn says(&self, part: &str) -> bool {
        self.harness.query_all_by_label_contains(part).next().is_some()
    }

    #[track_caller]
    pub(crate) fn is_enabled(&self, button: &str) -> bool {
        !self.harness.get_by_role_and_label(Role::Button, button).accesskit_node().is_disabled()
    }

    /// The one action that was asked for.
    #[track_caller]
    pub(crate) fn action(&self) -> Action {
        let actions: Vec<&Action> = self
            .harness
            .state()
            .asked
            .iter()
            .filter_map(|request| if let Request::Perform(action) = request { Some(&**action) } else { None })
            .collect();
        assert_eq!(actions.len(), 1, "{actions:?}");
        actions[0].clone()
    }

    #[track_caller]
    pub(crate) fn recorded(&self) -> Reading {
        match self.action() {
            Action::Reading(Recording::Record(reading)) => reading,
            other => panic!("{other:?}"),
        }
    }
}
