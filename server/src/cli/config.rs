//! `config show`: every setting with its value and where that was said.

use super::shown::{Output, list, say};
use clap::Subcommand;
use serde_json::{Value, json};
use standpipe_server::config::{self, Flags, Origin, ShownSetting};
use standpipe_server::{ServerError, site_folder};
use std::path::PathBuf;

#[derive(Debug, Subcommand)]
pub(super) enum ConfigVerb {
    /// Shows each setting and where it was said: default, file, environment.
    #[command(after_help = "Example:\n  standpipe-server config show --dir shop")]
    Show {
        /// The site's folder; left out: STANDPIPE_SERVER_DIR, else the site here.
        #[arg(long, value_name = "DIR")]
        dir: Option<PathBuf>,
    },
}

impl ConfigVerb {
    pub(super) fn perform(self, output: Output) -> Result<(), ServerError> {
        let Self::Show { dir } = self;
        let settings = config::shown(&site_folder(dir)?, &Flags::default())?;
        if output == Output::Json {
            say(&Value::Array(settings.iter().map(object).collect()).to_string());
            return Ok(());
        }
        let rows = settings.iter().map(|shown| {
            let value = if shown.value.iter().all(String::is_empty) {
                "(none)".to_owned()
            } else {
                shown.value.join(", ")
            };
            vec![json!(shown.key), json!(value), json!(shown.origin.to_string())]
        });
        list(output, &["key", "value", "from"], &rows.collect::<Vec<_>>());
        Ok(())
    }
}

fn object(shown: &ShownSetting) -> Value {
    let value = match shown.value.as_slice() {
        [one] if !shown.is_list => json!(one),
        many => json!(many),
    };
    let mut object = json!({ "key": shown.key, "value": value });
    let (sort, more) = match &shown.origin {
        Origin::Default => ("default", json!({})),
        Origin::File { path, line } => ("file", json!({ "path": path, "line": line })),
        Origin::Environment { variable } => ("environment", json!({ "variable": variable })),
        Origin::Flag { flag } => ("flag", json!({ "flag": flag })),
    };
    if let (Value::Object(fields), Value::Object(more)) = (&mut object, more) {
        fields.insert("origin".to_owned(), json!(sort));
        fields.extend(more);
    }
    object
}
