//! Tool interfaces by the names of their standards.

use std::fmt;

/// A tool interface, such as `HSK-A63`. Two are equal when they differ only in case and spaces.
#[derive(Debug, Clone)]
pub struct Interface {
    text: String,
    key: String,
}

/// What a standard's name says.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum StandardInterface {
    /// ISO 12164: form A to F or T, flange size in mm.
    Hsk {
        /// Form letter.
        form: char,
        /// Nominal size.
        size: u32,
    },
    /// 7/24 taper (ISO 7388, ASME B5.50), size 30 to 60.
    SteepTaper {
        /// Nominal size.
        size: u32,
    },
    /// ISO 26623.
    Psc {
        /// Nominal size.
        size: u32,
    },
    /// ISO 26622.
    Ts {
        /// Nominal size.
        size: u32,
    },
}

impl Interface {
    /// The interface of that text, in the spelling of its standard where it is one; `None` if empty.
    #[must_use]
    pub fn parse(text: &str) -> Option<Self> {
        let collapsed = text.split_whitespace().collect::<Vec<_>>().join(" ");
        if collapsed.is_empty() {
            return None;
        }
        let key = compact(&collapsed);
        let text = standard_spelling(&key).unwrap_or(collapsed);
        let key = compact(&text);
        Some(Self { text, key })
    }

    /// As printed.
    #[must_use]
    pub fn as_str(&self) -> &str {
        &self.text
    }

    /// What its standard's name says; `None` for any other text.
    #[must_use]
    pub fn standard(&self) -> Option<StandardInterface> {
        parse_key(&self.key).map(|(interface, _)| interface)
    }
}

fn compact(text: &str) -> String {
    text.chars().filter(|c| !c.is_whitespace()).flat_map(char::to_uppercase).collect()
}

fn standard_spelling(key: &str) -> Option<String> {
    parse_key(key).map(|(_, spelling)| spelling)
}

/// The interface of a compact upper-case text and its usual spelling.
fn parse_key(key: &str) -> Option<(StandardInterface, String)> {
    if let Some(rest) = key.strip_prefix("HSK") {
        let rest = rest.trim_start_matches('-');
        let form = rest.chars().next().filter(|c| "ABCDEFT".contains(*c))?;
        let size = size(rest.get(1..)?.trim_start_matches('-'))?;
        return Some((StandardInterface::Hsk { form, size }, format!("HSK-{form}{size}")));
    }
    if let Some(rest) = key.strip_prefix("7/24") {
        let size = size(rest)?;
        return Some((StandardInterface::SteepTaper { size }, format!("7/24 {size}")));
    }
    if let Some(rest) = key.strip_prefix("ISO7388") {
        let form: String = rest.chars().take_while(char::is_ascii_alphabetic).collect();
        let size = size(rest.get(form.len()..)?)?;
        if !["", "A", "AD", "AF", "U", "UD", "UF", "J", "JD", "JF"].contains(&form.as_str()) {
            return None;
        }
        let spelling = if form.is_empty() { format!("ISO 7388 {size}") } else { format!("ISO 7388 {form} {size}") };
        return Some((StandardInterface::SteepTaper { size }, spelling));
    }
    if let Some(rest) = key.strip_prefix("ASMEB5.50") {
        let size = size(rest)?;
        return Some((StandardInterface::SteepTaper { size }, format!("ASME B5.50 {size}")));
    }
    if let Some(rest) = key.strip_prefix("PSC") {
        let size = size(rest.trim_start_matches('-'))?;
        return Some((StandardInterface::Psc { size }, format!("PSC {size}")));
    }
    if let Some(rest) = key.strip_prefix("TS") {
        let size = size(rest.trim_start_matches('-'))?;
        return Some((StandardInterface::Ts { size }, format!("TS {size}")));
    }
    None
}

fn size(digits: &str) -> Option<u32> {
    let plain = (1..=3).contains(&digits.len()) && digits.chars().all(|c| c.is_ascii_digit());
    if plain { digits.parse().ok().filter(|size| *size > 0) } else { None }
}

impl PartialEq for Interface {
    fn eq(&self, other: &Self) -> bool {
        self.key == other.key
    }
}
impl Eq for Interface {}
impl PartialOrd for Interface {
    fn partial_cmp(&self, other: &Self) -> Option<std::cmp::Ordering> {
        Some(self.cmp(other))
    }
}
impl Ord for Interface {
    fn cmp(&self, other: &Self) -> std::cmp::Ordering {
        self.key.cmp(&other.key)
    }
}
impl std::hash::Hash for Interface {
    fn hash<H: std::hash::Hasher>(&self, state: &mut H) {
        self.key.hash(state);
    }
}
impl fmt::Display for Interface {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.text)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn check(typed: &str, expected: &str) {
        assert_eq!(Interface::parse(typed).unwrap().as_str(), expected);
    }

    #[test]
    fn spelling_follows_the_standard() {
        check("hsk a 63", "HSK-A63");
        check("HSK-F63", "HSK-F63");
        check("7/24 40", "7/24 40");
        check("iso 7388 ad 40", "ISO 7388 AD 40");
        check("asme b5.50 40", "ASME B5.50 40");
        check("psc63", "PSC 63");
        check("  own  taper ", "own taper");
        assert!(Interface::parse("own taper").unwrap().standard().is_none());
        assert_eq!(Interface::parse("Own  Taper"), Interface::parse("own taper"));
        assert!(Interface::parse("  ").is_none());
    }
}
