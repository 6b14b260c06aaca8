//! What the program has to say: one sentence at a time, until it is dismissed.

use crate::command::Command;

/// Whether a person must act.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Weight {
    /// Something could not be done.
    Trouble,
    /// Something was done.
    Said,
}

/// One sentence with its mend.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Notice {
    /// What happened and what to do about it.
    pub text: String,
    /// Whether a person must act.
    pub weight: Weight,
    /// The command that mends it, as a button.
    pub mend: Option<Command>,
}

/// The sentences not dismissed yet, oldest first.
#[derive(Debug, Default)]
pub struct Notices {
    list: Vec<Notice>,
}

impl Notices {
    /// Something could not be done: a message of the logic, or a sentence.
    pub fn trouble(&mut self, message: &str) {
        self.add(Notice { text: sentence(message), weight: Weight::Trouble, mend: None });
    }

    /// The same, with the command that mends it.
    pub fn trouble_with(&mut self, message: &str, mend: Command) {
        self.add(Notice { text: sentence(message), weight: Weight::Trouble, mend: Some(mend) });
    }

    /// Something was done. A newer one takes the place of an older one.
    pub fn said(&mut self, message: &str) {
        self.list.retain(|notice| notice.weight == Weight::Trouble);
        self.add(Notice { text: sentence(message), weight: Weight::Said, mend: None });
    }

    /// Something was done that can be done another way by this command.
    pub fn said_with(&mut self, message: &str, mend: Command) {
        self.list.retain(|notice| notice.weight == Weight::Trouble);
        self.add(Notice { text: sentence(message), weight: Weight::Said, mend: Some(mend) });
    }

    fn add(&mut self, notice: Notice) {
        self.list.retain(|other| other.text != notice.text);
        self.list.push(notice);
    }

    /// The one to show: the newest.
    #[must_use]
    pub fn current(&self) -> Option<&Notice> {
        self.list.last()
    }

    /// How many wait behind the current one.
    #[must_use]
    pub fn waiting(&self) -> usize {
        self.list.len().saturating_sub(1)
    }

    /// The current one was read.
    pub fn dismiss(&mut self) {
        self.list.pop();
    }

    /// What was merely said goes, as soon as something else is done.
    pub fn forget_said(&mut self) {
        self.list.retain(|notice| notice.weight == Weight::Trouble);
    }

    /// All go, with the shop they were about.
    pub fn clear(&mut self) {
        self.list.clear();
    }
}

/// Error messages begin in lower case; on the screen they are sentences.
fn sentence(message: &str) -> String {
    let mut letters = message.trim().chars();
    letters.next().map(|first| first.to_uppercase().chain(letters).collect()).unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_newest_stands_first_and_what_was_said_gives_way() {
        let mut notices = Notices::default();
        notices.said("wrote 3 rows");
        notices.trouble("no room on the disk");
        notices.said("wrote 4 rows");
        assert_eq!(notices.current().map(|n| n.text.as_str()), Some("Wrote 4 rows"));
        assert_eq!(notices.waiting(), 1, "the older message went, the trouble stays");
        notices.dismiss();
        assert_eq!(notices.current().map(|n| n.text.as_str()), Some("No room on the disk"));
    }
}
