//! Where the value of a setting was said, and which known key an unknown one is meant for.

use super::ENVIRONMENT_PREFIX;
use std::collections::BTreeSet;
use std::fmt;
use std::path::PathBuf;

/// How like an unknown key must be to a known one to be named for it, from 0 to 1 (Jaro-Winkler).
const LIKENESS_LEAST: f64 = 0.8;

/// A setting as it holds, for showing.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ShownSetting {
    /// Its key.
    pub key: &'static str,
    /// Whether its value is a list; else `value` has one text.
    pub is_list: bool,
    /// Its value.
    pub value: Vec<String>,
    /// Where that was said.
    pub origin: Origin,
}

/// Where a value was said.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Origin {
    /// Nowhere.
    Default,
    /// In the settings file of the site's folder.
    File {
        /// The file.
        path: PathBuf,
        /// Its line, where the key begins one.
        line: Option<usize>,
    },
    /// In the environment.
    Environment {
        /// Name of the variable.
        variable: String,
    },
    /// On the command line.
    Flag {
        /// The flag.
        flag: String,
    },
}

impl fmt::Display for Origin {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Default => write!(out, "default"),
            Self::File { path, line: Some(line) } => write!(out, "{}, line {line}", path.display()),
            Self::File { path, line: None } => write!(out, "{}", path.display()),
            Self::Environment { variable } => write!(out, "environment, {variable}"),
            Self::Flag { flag } => write!(out, "flag {flag}"),
        }
    }
}

/// Which keys each source names.
pub(super) struct Said {
    pub(super) flags: BTreeSet<&'static str>,
    pub(super) environment: BTreeSet<String>,
    pub(super) file: BTreeSet<String>,
    pub(super) path: PathBuf,
}

impl Said {
    /// The source that wins for a key.
    pub(super) fn origin(&self, key: &str) -> Origin {
        if self.flags.contains(key) {
            Origin::Flag { flag: format!("--{}", key.replace('_', "-")) }
        } else if self.environment.contains(key) {
            Origin::Environment { variable: format!("{ENVIRONMENT_PREFIX}_{}", key.to_uppercase()) }
        } else if self.file.contains(key) {
            Origin::File { path: self.path.clone(), line: self.line(key) }
        } else {
            Origin::Default
        }
    }

    /// The line of the settings file that begins with the key.
    fn line(&self, key: &str) -> Option<usize> {
        let text = std::fs::read_to_string(&self.path).ok()?;
        let begins = |line: &str| {
            line.trim_start().strip_prefix(key).is_some_and(|rest| rest.trim_start().starts_with('='))
        };
        text.lines().position(begins).map(|before| before + 1)
    }
}

/// The known key that an unknown one is most like, if one is like it at all.
pub(super) fn nearest<'a>(unknown: &str, known: &[&'a str]) -> Option<&'a str> {
    // Two letters changed about, or one too many, too few or wrong, are a slip however short the key is.
    let likeness = |key: &&str| match strsim::damerau_levenshtein(unknown, key) {
        0..=1 => 1.0,
        _ => strsim::jaro_winkler(unknown, key),
    };
    let nearest = known.iter().max_by(|one, other| likeness(one).total_cmp(&likeness(other)))?;
    (likeness(nearest) >= LIKENESS_LEAST).then_some(*nearest)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_slip_of_the_keyboard_is_told_from_another_word() {
        let known = ["listen", "names", "stop_seconds", "log"];
        assert_eq!(nearest("lisen", &known), Some("listen"));
        assert_eq!(nearest("stop_second", &known), Some("stop_seconds"));
        assert_eq!(nearest("lgo", &known), Some("log"));
        assert_eq!(nearest("port", &known), None);
    }
}
