//! What the owner offers, as a workshop would use it: the workshop's own settings stay, everything else is the owner's.
//!
//! Pure. Called by doctor and the office pages; adopting is an act of the site. Never here: where files lie.

use crate::catalogue::Files;
use standpipe_engine::catalogue::{RevisionId, WORKSHOP_FILE};

/// The files of an offered revision with the settings of the workshop that would use them.
pub(crate) fn here(offered: Files, own: &Files) -> Files {
    let is_own = |name: &str| name == WORKSHOP_FILE;
    let mut files: Files = offered.into_iter().filter(|(name, _)| !is_own(name)).collect();
    files.extend(own.iter().filter(|(name, _)| is_own(name)).cloned());
    files.sort();
    files
}

/// Whether an offered revision says something else than the files in use.
pub(crate) fn is_other(offered: Files, own: &Files) -> bool {
    RevisionId::of(&here(offered, own)).to_string() != RevisionId::of(own).to_string()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn files(workshop: &str, variant: &str) -> Files {
        vec![
            ("bellforth.toml".to_owned(), variant.as_bytes().to_vec()),
            (WORKSHOP_FILE.to_owned(), workshop.as_bytes().to_vec()),
        ]
    }

    #[test]
    fn forwarding_offers_everything_but_the_settings_of_a_workshop() {
        let (own, offered) = (files("own", "old"), files("owner", "new"));
        assert!(is_other(offered.clone(), &own));
        assert_eq!(here(offered, &own), files("own", "new"));
        assert!(!is_other(files("owner", "old"), &own));
    }
}
