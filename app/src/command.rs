//! Gestures that carry no data: their words, keys, and when they can be used.

use eframe::egui::{Key, KeyboardShortcut, Modifiers};

/// A gesture of the program, from a key, the menu or a page.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Command {
    /// To the due page.
    GoDue,
    /// To the week plan.
    GoPlan,
    /// To the orders page.
    GoOrders,
    /// To the shop page.
    GoShop,
    /// A new, empty shop.
    NewShop,
    /// Open a shop file.
    Open,
    /// Open a shop folder as a shop without a name yet.
    OpenFolder,
    /// Import CSV files or a folder into the open shop.
    Import,
    /// Open the invented shop that comes with the program.
    OpenSample,
    /// Say that all is saved, or ask for a name where there is none yet.
    Save,
    /// Go on under another name and place.
    SaveAs,
    /// Write a checked copy.
    Backup,
    /// Write the work-order list.
    ExportList,
    /// Write the booked services as a calendar.
    ExportCalendar,
    /// Write the shop as a folder of CSV files.
    ExportFolder,
    /// Leave the shop.
    CloseShop,
    /// Leave the program.
    Quit,
    /// Take the last step back.
    Undo,
    /// Do the last step taken back again.
    Redo,
    /// Type the day at which the shop is looked at.
    TypeDay,
    /// One day earlier.
    DayBack,
    /// One day later.
    DayForward,
    /// One month earlier.
    MonthBack,
    /// One month later.
    MonthForward,
    /// Back to the present.
    Present,
    /// Compute the figures anew.
    Renew,
    /// Stop computing; the old figures stay.
    StopUpdating,
    /// Learn from all readings anew.
    LearnAnew,
    /// Light to dark and back.
    SwitchTheme,
    /// Colours as the desktop has them.
    ThemeAutomatic,
    /// Light colours.
    ThemeLight,
    /// Dark colours.
    ThemeDark,
    /// Everything larger.
    Larger,
    /// Everything smaller.
    Smaller,
    /// Everything in its usual size.
    UsualSize,
    /// Open or close the menu.
    Menu,
    /// Show or hide the list of keys.
    Keys,
}

/// What decides whether a command can be used.
#[derive(Debug, Clone, Copy, Default)]
pub struct Situation {
    /// A shop is open.
    pub shop: bool,
    /// It can be changed: not read only, and looked at in the present.
    pub entry: bool,
    /// There is a step to take back.
    pub undo: bool,
    /// There is a step to do again.
    pub redo: bool,
    /// The shop is looked at on a day before the present.
    pub past: bool,
}

impl Command {
    /// All commands, in the order of the menu and of the list of keys.
    pub const ALL: [Self; 37] = [
        Self::NewShop,
        Self::Open,
        Self::OpenFolder,
        Self::OpenSample,
        Self::Save,
        Self::SaveAs,
        Self::Backup,
        Self::Import,
        Self::ExportFolder,
        Self::ExportList,
        Self::ExportCalendar,
        Self::Undo,
        Self::Redo,
        Self::GoDue,
        Self::GoPlan,
        Self::GoOrders,
        Self::GoShop,
        Self::TypeDay,
        Self::DayBack,
        Self::DayForward,
        Self::MonthBack,
        Self::MonthForward,
        Self::Present,
        Self::Renew,
        Self::StopUpdating,
        Self::LearnAnew,
        Self::SwitchTheme,
        Self::ThemeAutomatic,
        Self::ThemeLight,
        Self::ThemeDark,
        Self::Larger,
        Self::Smaller,
        Self::UsualSize,
        Self::Menu,
        Self::Keys,
        Self::CloseShop,
        Self::Quit,
    ];

    /// What stands on its button; `…` where it asks for more.
    #[must_use]
    pub const fn label(self) -> &'static str {
        match self {
            Self::GoDue => "Due",
            Self::GoPlan => "Week plan",
            Self::GoOrders => "Orders",
            Self::GoShop => "Shop",
            Self::NewShop => "New shop",
            Self::Open => "Open …",
            Self::OpenFolder => "Open a shop folder …",
            Self::Import => "Import into this shop …",
            Self::OpenSample => "Try the sample shop",
            Self::Save => "Save",
            Self::SaveAs => "Save as …",
            Self::Backup => "Back up …",
            Self::ExportList => "Export work-order list …",
            Self::ExportCalendar => "Export calendar …",
            Self::ExportFolder => "Export shop folder …",
            Self::CloseShop => "Close shop",
            Self::Quit => "Leave",
            Self::Undo => "Undo",
            Self::Redo => "Redo",
            Self::TypeDay => "Look as of a day …",
            Self::DayBack => "A day back",
            Self::DayForward => "A day forward",
            Self::MonthBack => "A month back",
            Self::MonthForward => "A month forward",
            Self::Present => "Back to the present",
            Self::Renew => "Renew figures",
            Self::StopUpdating => "Stop updating",
            Self::LearnAnew => "Fit anew",
            Self::SwitchTheme => "Light or dark",
            Self::ThemeAutomatic => "Automatic colours",
            Self::ThemeLight => "Light colours",
            Self::ThemeDark => "Dark colours",
            Self::Larger => "Larger",
            Self::Smaller => "Smaller",
            Self::UsualSize => "Usual size",
            Self::Menu => "Menu",
            Self::Keys => "Keys",
        }
    }

    /// What it does, in one sentence without a full stop.
    #[must_use]
    pub const fn tooltip(self) -> &'static str {
        match self {
            Self::GoDue => "What needs service before when",
            Self::GoPlan => "Where each service goes, and what that costs",
            Self::GoOrders => "What is ordered and what is to book",
            Self::GoShop => "Registers and settings",
            Self::NewShop => "Start an empty shop; it is kept at once and gets its name by Save as",
            Self::Open => "Open a shop file (.almanac) or a shop folder",
            Self::OpenFolder => "Open a folder of CSV files as a shop without a name; the folder is not written to",
            Self::Import => "Read CSV files or a shop folder into this shop, after looking them through",
            Self::OpenSample => "Open the invented shop that comes with the program",
            Self::Save => "Everything is saved as it is typed; a shop without a name gets one here",
            Self::SaveAs => "Go on with this shop under another name and place",
            Self::Backup => "Write a checked copy of the shop file",
            Self::ExportList => "Write the work-order list as CSV",
            Self::ExportCalendar => "Write the booked services as iCalendar",
            Self::ExportFolder => "Write the whole shop as a folder of CSV files",
            Self::CloseShop => "Leave this shop; everything is saved",
            Self::Quit => "Leave the program; everything is saved",
            Self::Undo => "Take the last step back",
            Self::Redo => "Do the step taken back again",
            Self::TypeDay => "Look at the shop as it was known on a day",
            Self::DayBack => "Look one day earlier",
            Self::DayForward => "Look one day later, up to the present",
            Self::MonthBack => "Look one month earlier",
            Self::MonthForward => "Look one month later, up to the present",
            Self::Present => "Look at the shop as it is known now",
            Self::Renew => "Compute the figures anew",
            Self::StopUpdating => "Keep the old figures for now",
            Self::LearnAnew => "Learn from all readings anew how each tool interface drifts",
            Self::SwitchTheme => "Change between light and dark colours",
            Self::ThemeAutomatic => "Colours as the desktop has them",
            Self::ThemeLight => "Dark ink on light paper",
            Self::ThemeDark => "Light ink on dark paper",
            Self::Larger => "Everything larger, up to 160 %",
            Self::Smaller => "Everything smaller, down to 80 %",
            Self::UsualSize => "Everything at 100 %",
            Self::Menu => "Open or close the menu",
            Self::Keys => "Show or hide all keys",
        }
    }

    /// Its keys; `None`: menu or page only.
    #[must_use]
    pub const fn shortcut(self) -> Option<KeyboardShortcut> {
        const CTRL_SHIFT: Modifiers = Modifiers::COMMAND.plus(Modifiers::SHIFT);
        let (modifiers, key) = match self {
            Self::GoDue => (Modifiers::COMMAND, Key::Num1),
            Self::GoPlan => (Modifiers::COMMAND, Key::Num3),
            Self::GoOrders => (Modifiers::COMMAND, Key::Num4),
            Self::GoShop => (Modifiers::COMMAND, Key::Num6),
            Self::NewShop => (Modifiers::COMMAND, Key::N),
            Self::Open => (Modifiers::COMMAND, Key::O),
            Self::OpenFolder => (CTRL_SHIFT, Key::O),
            Self::Import => (Modifiers::COMMAND, Key::I),
            Self::Save => (Modifiers::COMMAND, Key::S),
            Self::SaveAs => (CTRL_SHIFT, Key::S),
            Self::Backup => (CTRL_SHIFT, Key::B),
            Self::ExportList => (Modifiers::COMMAND, Key::E),
            Self::ExportFolder => (CTRL_SHIFT, Key::E),
            Self::CloseShop => (Modifiers::COMMAND, Key::W),
            Self::Quit => (Modifiers::COMMAND, Key::Q),
            Self::Undo => (Modifiers::COMMAND, Key::Z),
            Self::Redo => (Modifiers::COMMAND, Key::Y),
            Self::TypeDay => (Modifiers::COMMAND, Key::D),
            Self::DayBack => (Modifiers::ALT, Key::ArrowLeft),
            Self::DayForward => (Modifiers::ALT, Key::ArrowRight),
            Self::MonthBack => (Modifiers::ALT, Key::PageUp),
            Self::MonthForward => (Modifiers::ALT, Key::PageDown),
            Self::Present => (Modifiers::ALT, Key::Home),
            Self::SwitchTheme => (Modifiers::COMMAND, Key::T),
            Self::Larger => (Modifiers::COMMAND, Key::Plus),
            Self::Smaller => (Modifiers::COMMAND, Key::Minus),
            Self::UsualSize => (Modifiers::COMMAND, Key::Num0),
            Self::Menu => (Modifiers::NONE, Key::F10),
            Self::Keys => (Modifiers::NONE, Key::F1),
            Self::OpenSample
            | Self::ExportCalendar
            | Self::Renew
            | Self::StopUpdating
            | Self::LearnAnew
            | Self::ThemeAutomatic
            | Self::ThemeLight
            | Self::ThemeDark => return None,
        };
        Some(KeyboardShortcut::new(modifiers, key))
    }

    /// Its keys as they are printed, such as `Ctrl Shift E`; empty where it has none.
    #[must_use]
    pub fn printed_keys(self) -> String {
        let Some(shortcut) = self.shortcut() else { return String::new() };
        let mut words = Vec::new();
        if shortcut.modifiers.command {
            words.push("Ctrl");
        }
        if shortcut.modifiers.alt {
            words.push("Alt");
        }
        if shortcut.modifiers.shift {
            words.push("Shift");
        }
        words.push(match shortcut.logical_key {
            Key::Plus => "+",
            Key::Minus => "\u{2212}",
            Key::ArrowLeft => "Left",
            Key::ArrowRight => "Right",
            Key::PageUp => "Page Up",
            Key::PageDown => "Page Down",
            key => key.name(),
        });
        words.join(" ")
    }

    /// Whether its keys belong to a text field while one is being typed in.
    #[must_use]
    pub const fn yields_to_fields(self) -> bool {
        matches!(
            self,
            Self::CloseShop
                | Self::Undo
                | Self::Redo
                | Self::DayBack
                | Self::DayForward
                | Self::MonthBack
                | Self::MonthForward
        )
    }

    /// Whether it can be used now.
    #[must_use]
    pub const fn is_enabled(self, now: Situation) -> bool {
        match self {
            Self::Undo => now.undo,
            Self::Redo => now.redo,
            Self::Import => now.entry,
            Self::Present => now.shop && now.past,
            Self::DayForward | Self::MonthForward => now.shop && now.past,
            Self::GoDue
            | Self::GoPlan
            | Self::GoOrders
            | Self::GoShop
            | Self::Save
            | Self::SaveAs
            | Self::Backup
            | Self::ExportList
            | Self::ExportCalendar
            | Self::ExportFolder
            | Self::CloseShop
            | Self::TypeDay
            | Self::DayBack
            | Self::MonthBack
            | Self::Renew
            | Self::StopUpdating
            | Self::LearnAnew => now.shop,
            _ => true,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeMap;

    #[test]
    fn no_two_commands_share_their_keys() {
        let mut taken: BTreeMap<String, Command> = BTreeMap::new();
        for command in Command::ALL {
            let keys = command.printed_keys();
            if let Some(other) = (!keys.is_empty()).then(|| taken.insert(keys.clone(), command)).flatten() {
                panic!("{keys} is taken by {other:?} and {command:?}");
            }
        }
        assert_eq!(taken.len(), 29, "commands with keys");
    }

    #[test]
    fn every_command_is_listed_once_and_says_what_it_does() {
        for (index, command) in Command::ALL.iter().enumerate() {
            assert!(!Command::ALL.iter().skip(index + 1).any(|other| other == command), "{command:?} twice");
            assert!(!command.label().is_empty() && !command.label().ends_with('.'), "{command:?}");
            assert!(!command.tooltip().is_empty() && !command.tooltip().ends_with('.'), "{command:?}");
        }
    }

    #[test]
    fn without_a_shop_only_ways_to_get_one_can_be_used() {
        let nothing = Situation::default();
        assert!(Command::Open.is_enabled(nothing) && Command::NewShop.is_enabled(nothing));
        assert!(!Command::ExportList.is_enabled(nothing) && !Command::Undo.is_enabled(nothing));
    }
}
