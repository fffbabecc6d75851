//! The site's authority and the certificate that its server shows.

use super::{Check, Patient, span};
use crate::authority::RENEWED_BEFORE_END_DAYS;
use crate::authority::look::{Looked, look};

/// With less left something is wrong: a running server renews it 30 days before its end.
const LEFT_SECONDS_LEAST: i64 = 14 * 86_400;

/// The check, and what a server can be asked with.
pub(super) fn check(patient: &Patient<'_>) -> (Check, Option<Looked>) {
    let further = patient.settings.as_ref().map(|settings| settings.names.as_slice()).unwrap_or_default();
    match look(patient.folder.path(), further) {
        Ok(looked) => (told(patient, &looked), Some(looked)),
        Err(error) => {
            let next = "put the folder tls back from a backup; a site that never had one gets it with the next serve";
            (Check::to_do("certificate", error.to_string(), next), None)
        }
    }
}

fn told(patient: &Patient<'_>, looked: &Looked) -> Check {
    let renew = "start the server again, or send it SIGHUP: it makes a new one";
    let Some(ends) = looked.ends.and_then(|ends| i64::try_from(ends).ok()) else {
        return Check::to_do("certificate", "the server's certificate is not of the site's authority", renew);
    };
    let left = ends - patient.now_us / 1_000_000;
    if left < 0 {
        return Check::to_do("certificate", format!("it ended {} ago", span(-left)), renew);
    }
    let sentence = format!("good for {} more", span(left));
    if left < LEFT_SECONDS_LEAST {
        return Check::to_do("certificate", format!("{sentence}, and was not renewed"), renew);
    }
    if !looked.lacking.is_empty() {
        let lacking = looked.lacking.join(", ");
        return Check::to_do("certificate", format!("{sentence}, but it lacks {lacking}"), renew);
    }
    Check::well(
        "certificate",
        format!(
            "{sentence}, under every name and address of this machine; a running server renews it by itself {} days \
             before its end",
            RENEWED_BEFORE_END_DAYS
        ),
    )
}
