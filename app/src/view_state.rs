//! How the user looks at the shop: the page and the way there.

use crate::pages::Page;

/// The open page and the pages before it.
#[derive(Debug)]
pub struct ViewState {
    page: Page,
    before: Vec<Page>,
    /// The list of keys stands in place of the page.
    pub keys_shown: bool,
    /// The day being typed in the head.
    pub typed_day: Option<TypedDay>,
}

/// A day being typed.
#[derive(Debug, Default, Clone, PartialEq, Eq)]
pub struct TypedDay {
    /// As typed so far.
    pub text: String,
    /// Why the last Enter was refused.
    pub error: Option<String>,
    /// The field has had the keyboard since it opened.
    pub had_focus: bool,
}

/// How far back one can go.
const BEFORE_MAX: usize = 50;

impl Default for ViewState {
    fn default() -> Self {
        Self { page: Page::Welcome, before: Vec::new(), keys_shown: false, typed_day: None }
    }
}

impl ViewState {
    /// The open page.
    #[must_use]
    pub const fn page(&self) -> Page {
        self.page
    }

    /// Goes to a page; the one left can be gone back to.
    pub fn go(&mut self, page: Page) {
        if page == self.page {
            return;
        }
        // From spindle to spindle one comes back to the list, not through all of them.
        let both_spindles = matches!((self.page, page), (Page::Spindle(_), Page::Spindle(_)));
        if !both_spindles {
            self.before.push(self.page);
            if self.before.len() > BEFORE_MAX {
                self.before.remove(0);
            }
        }
        self.page = page;
    }

    /// Back to the page before; without one, to the due page.
    pub fn back(&mut self) {
        self.page = self.before.pop().unwrap_or(match self.page {
            Page::Welcome => Page::Welcome,
            _ => Page::Due,
        });
    }

    /// Starts anew at a page, with nothing before it.
    pub fn start_at(&mut self, page: Page) {
        *self = Self { page, ..Self::default() };
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use almanac_core::ids::SpindleId;

    #[test]
    fn back_leads_to_the_list_from_which_one_came() {
        let mut view = ViewState::default();
        view.start_at(Page::Due);
        view.go(Page::Spindle(SpindleId::from_row(1)));
        view.go(Page::Spindle(SpindleId::from_row(2)));
        view.go(Page::Shop);
        view.back();
        assert_eq!(view.page(), Page::Spindle(SpindleId::from_row(2)));
        view.back();
        assert_eq!(view.page(), Page::Due);
        view.back();
        assert_eq!(view.page(), Page::Due);
    }
}
