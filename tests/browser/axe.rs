//! Pages held against the Web Content Accessibility Guidelines 2.2, levels A and AA, by axe-core (npm package `axe-core`,
//! MPL-2.0): others' reading of them, beside our own list in `pictures`. And what is left of a page on paper.
//!
//! `tests/browser/set_up.sh` brings the script (`bash tests/run.sh browser`); without it this part says 'skipped'.

use super::Office;
use super::driver::Browser;
use serde_json::json;
use std::path::PathBuf;
use std::sync::LazyLock;

/// Rules by what they hold: the guidelines 2.0, 2.1 and 2.2 as far as levels A and AA go.
const TAGS: [&str; 5] = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"];

/// Runs the rules and gives a line for each that is broken. The size of what is touched is a rule that is off by itself.
const RUN: &str = "const done = arguments[1]; axe.run(document, {runOnly: {type: 'tag', values: arguments[0]}, rules: \
    {'target-size': {enabled: true}}, resultTypes: ['violations']}).then((found) => done([found.passes.length, \
    found.violations.map((it) => it.id + ': ' + it.nodes.map((node) => node.target.join(' ') + ' (' + \
    node.failureSummary + ')').join('; '))]), (error) => done([0, ['axe: ' + error]]));";

/// What can be done on a page but not on paper, as far as it would be printed.
const CONTROLS: &str = "return [...document.querySelectorAll('button, header a, .skip, [type=search], [role=status]')]\
    .filter((it) => it.getClientRects().length > 0).map((it) => it.tagName + ' ' + it.textContent);";

/// The script, or nothing and a line that says so.
static SCRIPT: LazyLock<Option<String>> = LazyLock::new(|| {
    let folder = std::env::var_os("STANDPIPE_BROWSER").map(PathBuf::from);
    let script = folder.map(|folder| folder.join("node_modules/axe-core/axe.min.js"));
    let script = script.and_then(|script| std::fs::read_to_string(script).ok());
    if script.is_none() {
        println!("skipped: axe-core was not set up; run: bash tests/run.sh browser");
    }
    script
});

/// The page as it stands in a browser breaks no rule of the guidelines.
#[track_caller]
pub fn assert_accessible(browser: &Browser, name: &str) {
    let Some(script) = SCRIPT.as_deref() else { return };
    if browser.run("return typeof axe === 'undefined'", json!([])) == json!(true) {
        browser.run(script, json!([]));
    }
    let found = browser.run_on(RUN, json!([TAGS]));
    assert!(found[0].as_u64().unwrap() >= 5, "{name}: rules were looked at: {found}");
    assert_eq!(found[1], json!([]), "{name}");
}

impl Office {
    /// On paper there is nothing to press.
    #[track_caller]
    pub fn assert_words_only_on_paper(&self, name: &str) {
        self.browser.medium("print");
        let controls = self.browser.run(CONTROLS, json!([]));
        self.browser.medium("");
        assert_eq!(controls, json!([]), "{name} on paper");
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 4)]
async fn the_rules_of_the_guidelines_find_what_is_broken() {
    let Some(office) = Office::open().await else { return };
    let Some(script) = SCRIPT.as_deref() else { return };
    office.go("/login");
    // A box without a name, and words in a grey that is too light.
    let broken = "document.querySelector('main').innerHTML = '<input id=\"a\"><p>pale</p>'; \
        document.querySelector('p').style.color = '#bbb'";
    office.browser.run(broken, json!([]));
    office.browser.run(script, json!([]));
    let found = office.browser.run_on(RUN, json!([TAGS]))[1].to_string();
    assert!(found.contains("label: #a") && found.contains("color-contrast: "), "{found}");
    office.close().await;
}
