//! How far the site's journal is at its owner's server, where it has joined one.

use super::{Check, Patient, span};
use crate::admin;
use crate::catalogue;
use crate::forwarding::{AtOwner, Course, OwnerLink, offer};
use crate::order::{Done, Order};
use standpipe_store::Store;
use std::time::Duration;

/// Longest time that a running server may take to answer.
const ANSWER_WITHIN: Duration = Duration::from_secs(5);
/// So long may the owner's server lack something before somebody should look.
const LACKS_SECONDS_MAX: u64 = 24 * 3_600;

/// How far the journal is there, and what the owner offers; or that the site has joined none.
pub(super) async fn checks(patient: &Patient<'_>, store: &dyn Store) -> Vec<Check> {
    let link = match OwnerLink::of(patient.folder.path()) {
        Ok(Some(link)) => link,
        Ok(None) if patient.is_owners() => return Vec::new(),
        Ok(None) => {
            // A journal that cannot be read is told by its own check.
            let site = store.head().await.map_or_else(|_| String::new(), |head| head.site);
            let sentence =
                format!("this site brings its journal to no owner's server; its identity is {site}");
            return vec![Check::well("owner", sentence)];
        }
        Err(error) => {
            return vec![Check::to_do("owner", error.to_string(), patient.command("station leave-owner"))];
        }
    };
    let Some(at_owner) = asked(patient).await else {
        let sentence = format!("joined with {}; entries go there while the server runs", link.address);
        return vec![Check::well("owner", sentence)];
    };
    let mut checks = vec![told(patient, &at_owner)];
    checks.extend(offered(patient, store, &at_owner).await);
    checks
}

async fn asked(patient: &Patient<'_>) -> Option<AtOwner> {
    // What is wrong with the server or its socket is told by its own check.
    let connection = admin::reach(patient.dir).await.ok().flatten()?;
    match connection.ask_within(&Order::AtOwner, ANSWER_WITHIN).await? {
        Ok(Done::AtOwner(at_owner)) => at_owner,
        _ => None,
    }
}

fn told(patient: &Patient<'_>, at: &AtOwner) -> Check {
    let reach = format!("at the owner's server {} up to entry {} of {}", at.address, at.kept, at.entries);
    let lacks = at.lacks_since(patient.now_us).map(|since| since.as_secs());
    let since = lacks.map_or_else(String::new, |seconds| {
        format!(", since {}", span(i64::try_from(seconds).unwrap_or(i64::MAX)))
    });
    match at.course {
        Course::Behind => {
            let next = patient.command("recover --from-owner");
            Check::to_do("owner", at.trouble.clone(), format!("stop the server, then: {next}"))
        }
        Course::Fork => {
            let next = patient.command("recover --from-owner");
            let next = format!(
                "find out which of the two copies is the right one; to bring this one's own entries after the owner's, stop \
                 the server, then: {next}"
            );
            Check::to_do("owner", at.trouble.clone(), next)
        }
        Course::Another => {
            let next = format!(
                "found this workshop with an identity of its own, standpipe-server init --dir DIR --site SITE, or leave the owner's \
                 server: {}; if it is the same workshop, founded a second time after its disk was lost, stop the server, then: {} \
                 --founded-anew",
                patient.command("station leave-owner"),
                patient.command("recover --from-owner")
            );
            Check::to_do("owner", at.trouble.clone(), next)
        }
        Course::Waiting if at.shut_out => {
            let sentence = format!(
                "{reach}, {} wait{since}: the owner's server does not let this site in any more; nothing is lost meanwhile",
                at.waiting()
            );
            let next = format!(
                "at the owner's server: standpipe-server station code {}; then here: {}; or, if it is meant to be so: {}",
                at.station,
                patient.command("station join-owner HOST CODE"),
                patient.command("station leave-owner")
            );
            Check::to_do("owner", sentence, next)
        }
        Course::Waiting if lacks.is_none_or(|seconds| seconds > LACKS_SECONDS_MAX) => {
            let sentence = format!("{reach}, {} wait{since}: {}", at.waiting(), at.trouble);
            Check::to_do(
                "owner",
                sentence,
                "look at the network and at the owner's server; nothing is lost meanwhile",
            )
        }
        Course::Waiting => {
            let sentence = format!(
                "{reach}, {} wait{since} ({}); it is tried again, and nothing is lost meanwhile",
                at.waiting(),
                at.trouble
            );
            Check::well("owner", sentence)
        }
        Course::Going => Check::well("owner", format!("{reach}, {} are on their way", at.waiting())),
        Course::Level => Check::well("owner", format!("{reach}, which is all")),
    }
}

/// What the owner offers and is not in use; adopting it is the site's own act.
async fn offered(patient: &Patient<'_>, store: &dyn Store, at: &AtOwner) -> Option<Check> {
    // A catalogue that cannot be read is told by its own check.
    let current = catalogue::adoptions(store).await.ok()?.pop();
    let own = match current {
        Some(current) => catalogue::kept_files(&patient.folder, &current.revision_id).ok()?,
        None => Vec::new(),
    };
    let is_other = |revision: &&String| {
        catalogue::kept_files(&patient.folder, revision).is_ok_and(|files| offer::is_other(files, &own))
    };
    let digits: String = at.offered.iter().find(is_other)?.chars().take(16).collect();
    let sentence = format!(
        "the owner offers revision {digits}; its files are in {}. It is used when somebody says so on the office page \
         Catalogue",
        patient.folder.catalogue().display()
    );
    Some(Check::well("offer", sentence))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::folder::{Folder, JOURNAL_FILE};
    use std::path::Path;

    #[test]
    fn forwarding_is_told_in_sentences_that_say_what_to_do() {
        let home = tempfile::tempdir().unwrap();
        std::fs::write(home.path().join(JOURNAL_FILE), b"").unwrap();
        let folder = Folder::find(home.path()).unwrap();
        let now_us = 1_773_831_600_000_000;
        let patient = Patient { dir: Path::new("shop"), folder, settings: None, now_us };
        let at = |course, hours: i64| AtOwner {
            address: "owner.lan:50551".to_owned(),
            station: "harbour-lane".to_owned(),
            entries: 12,
            kept: 9,
            course,
            level_us: Some(now_us - hours * 3_600_000_000),
            heard_us: None,
            tries: 4,
            trouble: "nothing listens at owner.lan:50551".to_owned(),
            shut_out: false,
            offered: Vec::new(),
        };
        let told = |course, hours| told(&patient, &at(course, hours));
        assert_eq!(told(Course::Level, 0).next, None);
        let waits = told(Course::Waiting, 3);
        assert!(waits.sentence.contains("up to entry 9 of 12, 3 wait, since 3 hours"), "{waits:?}");
        assert_eq!(waits.next, None);
        assert!(told(Course::Waiting, 50).next.unwrap().contains("nothing is lost"));
        // What passes only when somebody does something is to be done at once.
        let shut_out = super::told(&patient, &AtOwner { shut_out: true, ..at(Course::Waiting, 0) });
        assert!(!shut_out.sentence.contains("tried again"), "{shut_out:?}");
        let next = shut_out.next.unwrap();
        assert!(
            next.contains("station code harbour-lane") && next.contains("join-owner HOST CODE"),
            "{next}"
        );
        let next = told(Course::Another, 1).next.unwrap();
        assert!(next.ends_with("recover --from-owner --dir shop --founded-anew"), "{next}");
        for course in [Course::Behind, Course::Fork] {
            assert!(
                told(course, 1).next.unwrap().ends_with("standpipe-server recover --from-owner --dir shop")
            );
        }
    }
}
