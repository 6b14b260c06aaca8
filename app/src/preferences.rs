//! What the program remembers of its user: colours, scale, recent files. Never part of a shop.

use crate::pages::due::DueView;
use crate::pages::orders::OrdersView;
use serde::{Deserialize, Serialize};
use std::io;
use std::path::{Path, PathBuf};

/// Where the program keeps what is its own.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Folders {
    /// Preferences and recent files.
    pub config: PathBuf,
    /// Shops without a name, and drafts.
    pub data: PathBuf,
    /// What `~` stands for in typed paths.
    pub home: PathBuf,
    /// Where typed relative paths start.
    pub current: PathBuf,
}

impl Folders {
    /// The folders of the XDG base directory specification.
    ///
    /// Source: XDG Base Directory Specification 0.8: `$XDG_CONFIG_HOME` or `~/.config`,
    /// `$XDG_DATA_HOME` or `~/.local/share`; relative values are ignored.
    #[must_use]
    pub fn of_user(variable: impl Fn(&str) -> Option<PathBuf>) -> Self {
        let home = variable("HOME").unwrap_or_else(|| PathBuf::from("/"));
        let absolute = |name: &str| variable(name).filter(|path| path.is_absolute());
        Self {
            config: absolute("XDG_CONFIG_HOME").unwrap_or_else(|| home.join(".config")).join("drawbar-almanac"),
            data: absolute("XDG_DATA_HOME").unwrap_or_else(|| home.join(".local/share")).join("drawbar-almanac"),
            current: variable("PWD").filter(|path| path.is_absolute()).unwrap_or_else(|| home.clone()),
            home,
        }
    }

    /// A typed path: `~/…` from home, relative ones from the current folder.
    #[must_use]
    pub fn resolve(&self, typed: &str) -> PathBuf {
        let typed = typed.trim();
        match typed.strip_prefix('~') {
            Some("") => self.home.clone(),
            Some(rest) if rest.starts_with('/') => self.home.join(rest.trim_start_matches('/')),
            _ => self.current.join(typed),
        }
    }

    /// A path as it is shown: `~/…` inside home.
    #[must_use]
    pub fn shown(&self, path: &Path) -> String {
        match path.strip_prefix(&self.home) {
            Ok(rest) if rest.as_os_str().is_empty() => "~".to_owned(),
            Ok(rest) => format!("~/{}", rest.display()),
            Err(_) => path.display().to_string(),
        }
    }
}

/// Which colours are wanted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Colours {
    /// As the desktop has them.
    #[default]
    Automatic,
    /// Dark ink on light paper.
    Light,
    /// Light ink on dark paper.
    Dark,
}

/// The smallest scale, in percent.
pub const SCALE_MIN: u32 = 80;
/// The largest scale, in percent.
pub const SCALE_MAX: u32 = 160;
/// How many recent files are remembered.
const RECENT_MAX: usize = 8;

/// A file opened before.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(from = "KeptRecent")]
pub struct Recent {
    /// Where it lies.
    pub path: PathBuf,
    /// What the shop in it was called when it was last open; may be empty.
    pub name: String,
}

/// A recent file as it may stand in the preferences: earlier ones hold the path alone.
#[derive(Deserialize)]
#[serde(untagged)]
enum KeptRecent {
    Path(PathBuf),
    Named {
        path: PathBuf,
        #[serde(default)]
        name: String,
    },
}

impl From<KeptRecent> for Recent {
    fn from(kept: KeptRecent) -> Self {
        match kept {
            KeptRecent::Path(path) => Self { path, name: String::new() },
            KeptRecent::Named { path, name } => Self { path, name },
        }
    }
}

/// The preferences file.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default)]
pub struct Preferences {
    /// Colours.
    pub colours: Colours,
    /// Scale of everything, in percent.
    pub scale_percent: u32,
    /// Files opened before, the latest first.
    pub recent: Vec<Recent>,
    /// The folder in which the last path was chosen.
    pub last_folder: Option<PathBuf>,
    /// Order, groups and axis of the due page; its filter is forgotten on closing.
    pub due: DueView,
    /// Order of the orders page, and whether it lists closed ones.
    pub orders: OrdersView,
}

impl Default for Preferences {
    fn default() -> Self {
        Self {
            colours: Colours::Automatic,
            scale_percent: 100,
            recent: Vec::new(),
            last_folder: None,
            due: DueView::default(),
            orders: OrdersView::default(),
        }
    }
}

impl Preferences {
    const FILE: &str = "preferences.json";

    /// Reads them; what cannot be read is as in a first start, and said.
    ///
    /// # Errors
    /// A sentence for the user; the preferences of a first start go with it.
    pub fn load(folders: &Folders) -> Result<Self, String> {
        let path = folders.config.join(Self::FILE);
        let text = match std::fs::read_to_string(&path) {
            Ok(text) => text,
            Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(Self::default()),
            Err(error) => return Err(format!("the preferences could not be read: {error}: {}", path.display())),
        };
        let mut read: Self = serde_json::from_str(&text).map_err(|error| {
            format!("the preferences could not be read and start anew: {error}: {}", path.display())
        })?;
        read.scale_percent = read.scale_percent.clamp(SCALE_MIN, SCALE_MAX);
        read.due.weeks = read.due.weeks.clamp(13, 104);
        Ok(read)
    }

    /// Writes them through a temporary file, so that a crash leaves the old ones.
    ///
    /// # Errors
    /// What the disk says.
    pub fn store(&self, folders: &Folders) -> io::Result<()> {
        std::fs::create_dir_all(&folders.config)?;
        let path = folders.config.join(Self::FILE);
        let beside = folders.config.join("preferences.json.new");
        std::fs::write(&beside, serde_json::to_string_pretty(self)?)?;
        std::fs::rename(&beside, &path)
    }

    /// A file was opened or named: it comes first.
    pub fn remember(&mut self, path: &Path, name: &str) {
        self.forget(path);
        self.recent.insert(0, Recent { path: path.to_owned(), name: name.to_owned() });
        self.recent.truncate(RECENT_MAX);
    }

    /// The shop in a remembered file is called so by now; answers whether that is new.
    pub fn rename(&mut self, path: &Path, name: &str) -> bool {
        let Some(known) = self.recent.iter_mut().find(|known| known.path == path && known.name != name) else {
            return false;
        };
        name.clone_into(&mut known.name);
        true
    }

    /// A file is gone.
    pub fn forget(&mut self, path: &Path) {
        self.recent.retain(|known| known.path != path);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn folders(home: &str) -> Folders {
        Folders::of_user(|name| (name == "HOME").then(|| PathBuf::from(home)))
    }

    #[test]
    fn typed_paths_start_at_home_or_at_the_current_folder() {
        let folders = Folders { current: PathBuf::from("/srv"), ..folders("/home/w") };
        assert_eq!(folders.resolve(" ~/a.csv"), PathBuf::from("/home/w/a.csv"));
        assert_eq!(folders.resolve("a.csv"), PathBuf::from("/srv/a.csv"));
        assert_eq!(folders.resolve("/tmp/a.csv"), PathBuf::from("/tmp/a.csv"));
        assert_eq!(folders.shown(Path::new("/home/w/x/a.csv")), "~/x/a.csv");
        assert_eq!(folders.shown(Path::new("/tmp/a.csv")), "/tmp/a.csv");
    }

    #[test]
    fn relative_xdg_folders_are_ignored() {
        let folders = Folders::of_user(|name| match name {
            "HOME" => Some(PathBuf::from("/home/w")),
            "XDG_DATA_HOME" => Some(PathBuf::from("rel")),
            "XDG_CONFIG_HOME" => Some(PathBuf::from("/cfg")),
            _ => None,
        });
        assert_eq!(folders.data, PathBuf::from("/home/w/.local/share/drawbar-almanac"));
        assert_eq!(folders.config, PathBuf::from("/cfg/drawbar-almanac"));
    }

    #[test]
    fn the_latest_file_stands_first_and_once() {
        let mut preferences = Preferences::default();
        for name in ["/a", "/b", "/a"] {
            preferences.remember(Path::new(name), "Works");
        }
        let paths: Vec<&Path> = preferences.recent.iter().map(|recent| recent.path.as_path()).collect();
        assert_eq!(paths, [Path::new("/a"), Path::new("/b")]);
        assert!(preferences.rename(Path::new("/b"), "Mill"));
        assert!(!preferences.rename(Path::new("/b"), "Mill"), "it is called so already");
        assert_eq!(preferences.recent.last().map(|recent| recent.name.as_str()), Some("Mill"));
    }

    #[test]
    fn recent_files_are_read_with_and_without_their_names() {
        let text = r#"{"recent": ["/a.almanac", {"path": "/b.almanac", "name": "Works"}]}"#;
        let read: Preferences = serde_json::from_str(text).unwrap();
        let named: Vec<(&Path, &str)> =
            read.recent.iter().map(|recent| (recent.path.as_path(), recent.name.as_str())).collect();
        assert_eq!(named, [(Path::new("/a.almanac"), ""), (Path::new("/b.almanac"), "Works")]);
        let again: Preferences = serde_json::from_str(&serde_json::to_string(&read).unwrap()).unwrap();
        assert_eq!(again, read);
    }
}
