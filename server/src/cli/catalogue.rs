//! `catalogue`: check a folder, compare two, import, export, list; and what came of it, as an office person reads it.

use super::shown::{Output, say};
use super::{FolderArgument, absolute, verbs};
use clap::Subcommand;
use serde_json::{Value, json};
use standpipe_engine::catalogue::{Change, Difference, Otherwise, VariantChange};
use standpipe_server::{
    CheckedCatalogue, ComparedCatalogues, Order, ServerError, check_catalogue, compare_catalogues,
    export_catalogue,
};
use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

#[derive(Debug, Subcommand)]
pub(super) enum CatalogueVerb {
    /// Reads a folder as a catalogue: every mistake, or what is worth a look. Needs no site.
    #[command(after_help = "Example:\n  standpipe-server catalogue check deploy/catalogue")]
    Check {
        /// Folder with workshop.toml and one file for each transmission.
        from: PathBuf,
    },
    /// Says what is different between two catalogues, and which VINs are decided otherwise. Needs no running site.
    #[command(
        after_help = "Examples:\n  standpipe-server catalogue diff deploy/catalogue new-catalogue\n  standpipe-server catalogue diff 3be8ddad new-catalogue --dir shop"
    )]
    Diff {
        /// The old one: a folder or, with --dir, a revision by its identity or its first 8 digits.
        old: PathBuf,
        /// The new one, the same way.
        new: PathBuf,
        /// The folder of the site whose revisions are meant.
        #[arg(long, value_name = "DIR")]
        dir: Option<PathBuf>,
    },
    /// Reads the TOML files of a folder and makes them the current catalogue.
    #[command(after_help = "Example:\n  standpipe-server catalogue import deploy/catalogue --dir shop")]
    Import {
        /// Folder with workshop.toml and one file for each transmission.
        from: PathBuf,
        #[command(flatten)]
        folder: FolderArgument,
    },
    /// Writes the files of a revision into a new or empty folder, byte for byte as they were imported.
    #[command(
        after_help = "Example:\n  standpipe-server catalogue export catalogue-copy --dir shop --revision 3be8ddad"
    )]
    Export {
        /// The folder.
        to: PathBuf,
        #[command(flatten)]
        folder: FolderArgument,
        /// The revision, by its identity or its first 8 digits; the current one if it is left out.
        #[arg(long, value_name = "ID")]
        revision: Option<String>,
    },
    /// Offers a catalogue to the workshops whose journals an owner's server keeps; each adopts it or not.
    #[command(
        after_help = "Examples:\n  standpipe-server catalogue offer deploy/catalogue --dir owner\n  standpipe-server catalogue offer 3be8ddad --withdraw --dir owner"
    )]
    Offer {
        /// Folder with workshop.toml and one file for each transmission, or a revision that is kept here, by its identity or
        /// its first 8 digits.
        what: PathBuf,
        /// Takes the offer back.
        #[arg(long)]
        withdraw: bool,
        #[command(flatten)]
        folder: FolderArgument,
    },
    /// Lists the adopted catalogue revisions; the last one is current.
    #[command(after_help = "Example:\n  standpipe-server catalogue list --dir shop")]
    List {
        #[command(flatten)]
        folder: FolderArgument,
    },
}

impl CatalogueVerb {
    pub(super) async fn perform(self, output: Output) -> Result<(), ServerError> {
        match self {
            Self::Check { from } => checked(output, &from, &check_catalogue(&from)?),
            Self::Diff { old, new, dir } => {
                let compared = compare_catalogues(&old, &new, dir.as_deref())?;
                match output {
                    Output::Json => say(&compared_parts(&compared).to_string()),
                    Output::Text | Output::Csv => compared_in_words([&old, &new], &compared),
                }
            }
            Self::Import { from, folder } => {
                verbs::give(&folder.find()?, Order::ImportCatalogue { from: absolute(&from)? }, output)
                    .await?;
            }
            Self::Export { to, folder, revision } => {
                let (revision_id, files) =
                    export_catalogue(&to, &folder.find()?, revision.as_deref()).await?;
                let sentence = format!(
                    "catalogue revision {revision_id} is in {}: {files} files, byte for byte as they were imported",
                    to.display()
                );
                let parts =
                    [("revision_id", json!(revision_id)), ("files", json!(files)), ("path", json!(to))];
                super::shown::answer(output, &sentence, &parts);
            }
            Self::Offer { what, withdraw, folder } => {
                let order = Order::OfferCatalogue { what: absolute(&what)?, offered: !withdraw };
                verbs::give(&folder.find()?, order, output).await?;
            }
            Self::List { folder } => verbs::give(&folder.find()?, Order::ListCatalogues, output).await?,
        }
        Ok(())
    }
}

fn checked(output: Output, from: &Path, checked: &CheckedCatalogue) {
    let (revision, remarks) = (&checked.revision, &checked.remarks);
    let variants = revision.variants();
    let transmissions: BTreeSet<_> = variants.iter().map(|variant| &variant.transmission).collect();
    let fluids: BTreeSet<_> = variants.iter().map(|variant| &variant.fluid.code).collect();
    let rules: usize = variants.iter().map(|variant| variant.vin_rules.len()).sum();
    let counts = [
        ("files", checked.files),
        ("transmissions", transmissions.len()),
        ("variants", variants.len()),
        ("vin_rules", rules),
        ("fluids", fluids.len()),
    ];
    let found = [
        ("overlaps", "rules of unlike variants that fit the same VIN", sentences(&remarks.overlaps)),
        ("gaps", "serial numbers in no window", sentences(&remarks.gaps)),
        ("shared_codes", "codes that do not tell unlike fluids apart", sentences(&remarks.shared_codes)),
        ("left_out", "what is left out, and what that means", sentences(&remarks.left_out)),
    ];
    if output == Output::Json {
        let counts = counts.iter().map(|(name, count)| ((*name).to_owned(), json!(count)));
        let found = found.iter().map(|(name, _, lines)| ((*name).to_owned(), json!(lines)));
        let id = ("revision_id".to_owned(), json!(revision.id().to_string()));
        say(&Value::Object(std::iter::once(id).chain(counts).chain(found).collect()).to_string());
        return;
    }
    say(&format!("{} can be imported; it would be revision", from.display()));
    say(&revision.id().to_string());
    for (name, count) in counts {
        say(&format!("{:13} {count:>6}", name.replace("vin_", "VIN ").replace('_', " ")));
    }
    for (_, title, lines) in found {
        say("");
        if lines.is_empty() {
            say(&format!("{}: none", capital(title)));
        } else {
            say(&format!("{}:", capital(title)));
            lines.iter().for_each(|line| say(&format!("  {line}")));
        }
    }
}

fn sentences<T: ToString>(all: &[T]) -> Vec<String> {
    all.iter().map(ToString::to_string).collect()
}

fn capital(title: &str) -> String {
    let mut letters = title.chars();
    letters
        .next()
        .map_or_else(String::new, |first| first.to_uppercase().collect::<String>() + letters.as_str())
}

fn compared_in_words([old, new]: [&Path; 2], compared: &ComparedCatalogues) {
    let Difference { settings, variants, vins } = &compared.difference;
    say(&format!("old  {}  {}", compared.old, old.display()));
    say(&format!("new  {}  {}", compared.new, new.display()));
    if compared.old == compared.new {
        say("the same files");
        return;
    }
    if !settings.is_empty() {
        say("\nSettings of the workshop");
        settings.iter().for_each(change);
    }
    for VariantChange { code, name, was_there, is_there, changes } in variants {
        let state = match (was_there, is_there) {
            (true, true) => "",
            (true, false) => ": not in the new one; it was",
            (false, _) => ": not in the old one; it is",
        };
        say(&format!("\n{code}, {name}{state}"));
        for stated in changes {
            match (was_there, is_there) {
                (true, true) => change(stated),
                _ => {
                    let value = stated.now.as_ref().or(stated.before.as_ref());
                    say(&format!("  {}: {}", stated.what, value.map_or("", String::as_str)));
                }
            }
        }
    }
    if settings.is_empty() && variants.is_empty() {
        say("\nNothing that is read is different, only how the files are written.");
    }
    say("\nVINs that are decided otherwise, an example for each way");
    if vins.is_empty() {
        say("  none");
    }
    for Otherwise { vin, before, now } in vins {
        say(&format!("  {}  {}, now {}", vin.as_str(), decided(before), decided(now)));
    }
}

fn change(Change { what, before, now }: &Change) {
    say(&match (before, now) {
        (Some(before), Some(now)) => format!("  changed  {what}: {before}, now {now}"),
        (None, now) => format!("  added    {what}: {}", now.as_deref().unwrap_or_default()),
        (Some(before), None) => format!("  removed  {what}: {before}"),
    });
}

/// What the rules say of a VIN.
fn decided(variants: &[String]) -> String {
    match variants {
        [] => "no rule".to_owned(),
        [only] => only.clone(),
        several => format!("{} all fit", several.join(" and ")),
    }
}

fn compared_parts(compared: &ComparedCatalogues) -> Value {
    let changes = |all: &[Change]| -> Vec<Value> {
        let of = |it: &Change| json!({ "what": it.what, "before": it.before, "now": it.now });
        all.iter().map(of).collect()
    };
    let Difference { settings, variants, vins } = &compared.difference;
    let variants = variants.iter().map(|it| {
        json!({
            "code": it.code, "name": it.name, "was_there": it.was_there, "is_there": it.is_there,
            "changes": changes(&it.changes),
        })
    });
    let vins = vins.iter().map(|it| json!({ "vin": it.vin.as_str(), "before": it.before, "now": it.now }));
    json!({
        "old": compared.old, "new": compared.new, "settings": changes(settings),
        "variants": variants.collect::<Vec<_>>(), "vins": vins.collect::<Vec<_>>(),
    })
}
