//! What every page looks like, and the parts that forms are made of.
//!
//! Pages are words and tables in black on white; the one style sheet and the one script come from the server itself. Everything that is put in is escaped by the templates. Never here: what a page says.

use super::guard::SignedIn;
use super::language::{Words, language, say, word};
use axum::http::StatusCode;
use axum::http::header::CONTENT_TYPE;
use axum::response::IntoResponse;
use maud::{DOCTYPE, Markup, html};
use standpipe_engine::text::sentence;

/// Where the style sheet is.
pub(super) const STYLE: &str = "/office.css";
/// Where the script is.
pub(super) const SCRIPT: &str = "/office.js";
/// Where a browser looks for a picture of the site by itself.
pub(super) const ICON: &str = "/favicon.ico";
/// A page that shows what changes asks for itself again after so many seconds where scripts do not run.
const ASK_AGAIN_SECONDS: u32 = 10;

/// Where every page leads to.
const NAVIGATION: [(&str, Words); 6] = [
    ("/", sentence::page_jobs),
    ("/store", sentence::page_store),
    ("/tools", sentence::page_tools),
    ("/waste", sentence::page_waste),
    ("/month", sentence::page_month),
    ("/catalogue", sentence::page_catalogue),
];

/// Where every page of an owner's server leads to.
const OWNER_NAVIGATION: [(&str, Words); 3] = [
    ("/", sentence::page_workshops),
    ("/jobs", sentence::page_jobs),
    ("/catalogue", sentence::page_catalogue),
];

/// The frame of a page.
pub(super) struct Frame<'a> {
    pub(super) workshop: &'a str,
    pub(super) title: &'a str,
    /// Who is signed in; nobody on the login page.
    pub(super) person: Option<&'a SignedIn>,
    /// Whether this is an owner's server.
    pub(super) owner: bool,
    /// Path of the stream that says when the page has changed.
    pub(super) live: Option<&'a str>,
}

impl Frame<'_> {
    fn navigation(&self) -> &'static [(&'static str, Words)] {
        if self.owner { &OWNER_NAVIGATION } else { &NAVIGATION }
    }

    /// The whole page around its content.
    pub(super) fn around(&self, content: Markup) -> Markup {
        html! {
            (DOCTYPE)
            html lang=(language().code()) {
                head {
                    meta charset="utf-8";
                    meta name="viewport" content="width=device-width, initial-scale=1";
                    title { (self.title) " – " (self.workshop) }
                    link rel="stylesheet" href=(STYLE);
                    @if self.live.is_some() {
                        noscript { meta http-equiv="refresh" content=(ASK_AGAIN_SECONDS); }
                        script src=(SCRIPT) defer {}
                    }
                }
                body {
                    @if self.person.is_some() { a.skip href="#content" { (say!(page_to_the_content)) } }
                    header {
                        strong { (self.workshop) }
                        @if let Some(person) = self.person {
                            @for (address, words) in self.navigation() { a href=(address) { (word(*words)) } }
                            form method="post" action="/logout" {
                                (person.key_box())
                                button.plain type="submit" { (say!(page_sign_out, &person.name)) }
                            }
                        }
                    }
                    main #content tabindex="-1" data-live=[self.live] { (content) }
                    @if self.live.is_some() {
                        p.quiet.only-screen #live-note role="status" data-kept=(say!(page_kept_up_to_date))
                            data-silent=(say!(page_live_silent, "{time}")) {}
                    }
                }
            }
        }
    }
}

/// One box of a form: its label above, its unit beside, what is wrong beside it.
pub(super) struct TextBox<'a> {
    pub(super) name: &'a str,
    pub(super) label: &'a str,
    pub(super) unit: &'a str,
    pub(super) hint: &'a str,
    pub(super) value: &'a str,
    pub(super) wrong: Option<&'a str>,
    pub(super) kind: &'a str,
    pub(super) length: usize,
    pub(super) first: bool,
}

impl TextBox<'_> {
    /// A box for text, empty.
    pub(super) const PLAIN: Self = TextBox {
        name: "",
        label: "",
        unit: "",
        hint: "",
        value: "",
        wrong: None,
        kind: "text",
        length: 80,
        first: false,
    };

    pub(super) fn show(&self) -> Markup {
        let about = format!("{}-about", self.name);
        html! {
            div.box {
                label for=(self.name) { (self.label) }
                input type=(self.kind) id=(self.name) name=(self.name) value=(self.value) maxlength=(self.length)
                    autocomplete="off" autofocus[self.first]
                    aria-describedby=(about) aria-invalid[self.wrong.is_some()];
                span { (self.unit) }
                span.wrong id=(about) { @if let Some(wrong) = self.wrong { (wrong) } }
                @if !self.hint.is_empty() { span.hint { (self.hint) } }
            }
        }
    }
}

/// There is no picture of the site, and that is no page to sign in for.
pub(super) async fn icon() -> StatusCode {
    StatusCode::NO_CONTENT
}

/// The script.
pub(super) async fn script() -> impl IntoResponse {
    ([(CONTENT_TYPE, "text/javascript; charset=utf-8")], include_str!("office.js"))
}

/// The style sheet.
pub(super) async fn style() -> impl IntoResponse {
    ([(CONTENT_TYPE, "text/css; charset=utf-8")], include_str!("office.css"))
}
