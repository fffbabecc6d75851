//! Whether a server runs, and whether it answers where it listens.

use super::{Check, Patient};
use crate::admin;

pub(super) async fn checks(patient: &Patient<'_>) -> Vec<Check> {
    vec![server(patient).await]
}

async fn server(patient: &Patient<'_>) -> Check {
    match admin::reach(patient.dir).await {
        Ok(Some(_)) => Check::well("server", "one runs and takes orders"),
        Ok(None) => {
            let sentence = "none runs on this folder";
            match patient.folder.clone().lock() {
                Ok(_) => Check::to_do("server", sentence, patient.command("serve")),
                Err(error) => Check::to_do(
                    "server",
                    format!("one holds the folder, but takes no orders: {error}"),
                    "look at its log, then stop and start it",
                ),
            }
        }
        Err(error) => Check::to_do("server", error.to_string(), patient.command("serve")),
    }
}
