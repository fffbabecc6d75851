//! The page beside the vehicle: what to know now, the number and the curve of the step, the work in a few lines.
//!
//! Everything that goes with the job stands in `main` and is made by one function, whole or as the part that the script
//! puts in after a change. The questions themselves are asked by the script from [`super::steps`], so that they go on
//! without the server. Never here: who stands at the page, or what an answer means.

use super::curve;
pub(super) use super::jobs::show as jobs;
use super::steps::{self, Data};
use super::{Bay, Office, SCRIPT, STYLE};
use crate::convert::{all_words, words};
use crate::office::frame::ICON;
use crate::office::jobs::clock;
use crate::office::trouble::{Trouble, capital};
use crate::workshop::{Computed, Workshop};
use axum::extract::{Path, State};
use axum::http::header::CONTENT_TYPE;
use axum::response::IntoResponse;
use jiff::tz::TimeZone;
use maud::{DOCTYPE, Markup, PreEscaped, html};
use standpipe_engine::gates::{Gate, GoAhead};
use standpipe_engine::steps::{AtBay, OverviewLine};
use standpipe_engine::text::{Language, Sentence, number, sentence};
use std::sync::{Arc, LazyLock};

/// Steps that the curve stands beside.
const WITH_CURVE: &str = "exchange";
/// Steps after which the car comes down, so that what is open before stands beside them.
const BEFORE_DOWN: &str = "level-added temperature plug leaks codes-after";
/// Half a minute, in microseconds.
const HALF_MINUTE_US: i64 = 30_000_000;
/// Most open points that are named.
const POINTS_MOST: usize = 3;

/// A job as it stands, in words of one language.
pub(super) struct Shown {
    pub(super) at: AtBay,
    pub(super) job: Arc<Computed>,
    pub(super) language: Language,
    /// Clock of the site at the reading: hours, minutes and seconds.
    pub(super) clock: String,
    /// The same as hours and minutes.
    pub(super) hours: String,
    zone: TimeZone,
}

impl Shown {
    pub(super) async fn read(workshop: &Workshop, bay: &Bay, job: &str) -> Result<Self, Trouble> {
        let row = workshop.find_for(&bay.who, job).await?;
        workshop.require_whole_site().await?;
        let zone = workshop.adopted(&row).revision.workshop().time_zone.clone();
        let language = workshop.language(&row);
        let reading = workshop.read(&row).await?;
        let (job, now_us) = (Arc::clone(&reading.job), reading.now_us);
        let at = reading.ask(standpipe_engine::steps::at_bay).await?;
        let hours = clock(now_us, &zone, "%H:%M");
        let clock = clock(now_us, &zone, "%H:%M:%S");
        Ok(Self { at, job, language, clock, hours, zone })
    }

    pub(super) fn words(&self, sentence: &Sentence) -> Result<String, Trouble> {
        Ok(words(self.language, sentence)?)
    }

    fn number(&self) -> &str {
        &self.at.view.head.number
    }
}

/// Shows the page of a job.
pub(super) async fn job(
    State(office): State<Arc<Office>>,
    bay: Bay,
    Path(job): Path<String>,
) -> Result<Markup, Trouble> {
    let shown = Shown::read(&office.workshop, &bay, &job).await?;
    let title = shown.words(&sentence::bay_title(shown.number()))?;
    let fixed = steps::fixed(&shown, &bay)?;
    let content = content(&shown)?;
    let content = html! {
        (content)
        script type="application/json" id="bay-fixed" { (PreEscaped(fixed)) }
    };
    Ok(framed(&title, shown.language, content))
}

/// What the script puts into the page after a change.
pub(super) async fn part(
    State(office): State<Arc<Office>>,
    bay: Bay,
    Path(job): Path<String>,
) -> Result<Markup, Trouble> {
    content(&Shown::read(&office.workshop, &bay, &job).await?)
}

/// The frame of a page at the bay.
pub(super) fn framed(title: &str, language: Language, content: Markup) -> Markup {
    html! {
        (DOCTYPE)
        html lang=(language.code()) {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                title { (title) }
                link rel="icon" href=(ICON);
                link rel="stylesheet" href=(STYLE);
                script src=(SCRIPT) defer {}
            }
            body { (content) }
        }
    }
}

/// Everything that goes with the job.
fn content(shown: &Shown) -> Result<Markup, Trouble> {
    let at = &shown.at;
    let first = at.steps.first();
    let question = match first {
        Some(step) => step.question.clone(),
        None if at.view.head.closed => sentence::bay_closed(),
        None => sentence::bay_nothing_left(),
    };
    let question = shown.words(&question)?;
    let marks = shown.words(&sentence::bay_caution_marks())?;
    let unscripted = shown.words(&sentence::bay_unscripted())?;
    Ok(html! {
        main data-job=(shown.number()) data-seq=(shown.job.row.last_seq) data-view="" {
            (head(shown)?)
            (stops(shown)?)
            div.work {
                div.left {
                    p #context {}
                    div.title { h1 #question tabindex="-1" { (question) } (numbers(shown)?) }
                    div #reading {}
                    section.gates #go-ahead {}
                    p #no-gate {}
                    div #more-notices {}
                    (exchange(shown)?)
                    (now(shown)?)
                    p #told role="status" aria-live="polite" {}
                    div #refused role="alert" {}
                    section #ask aria-labelledby="question" {}
                    noscript { p.stop { (unscripted) } }
                }
                aside { (overview(shown)?) (points(shown)?) }
            }
            footer {
                ul #cautions aria-label=(marks) {}
                div #commands {}
            }
            script type="application/json" id="bay-data" { (PreEscaped(Data::of(shown)?.json()?)) }
        }
    })
}

fn head(shown: &Shown) -> Result<Markup, Trouble> {
    let view = &shown.at.view;
    let variant = match &view.vehicle.variant {
        Some(variant) => variant.clone(),
        None => shown.words(&sentence::bay_variant_open())?,
    };
    let fluid = shown.at.fluid.as_ref().map(|fluid| shown.words(&sentence::bay_fluid(fluid))).transpose()?;
    let sent = shown.words(&sentence::bay_word_all_sent())?;
    Ok(html! {
        header {
            p #facts {
                a href="/bay" { strong { (shown.number()) } }
                " " span { (view.vehicle.plate) } " " span { (variant) }
                @if let Some(fluid) = fluid { " " span { (fluid) } }
            }
            p.here {
                button #person type="button" {} " " span #clock { (shown.hours) } " "
                span #sent role="status" { (sent) }
            }
        }
    })
}

/// What nobody can override, above everything.
fn stops(shown: &Shown) -> Result<Markup, Trouble> {
    let stops = shown.at.view.findings.iter().filter(|finding| finding.stands);
    let said = stops.map(|stop| shown.words(&stop.text)).collect::<Result<Vec<_>, _>>()?;
    let said = said.into_iter().map(|said| match said.contains("Stop") {
        true => Ok((None, said)),
        false => Ok((Some(said.clone()), shown.words(&sentence::bay_stop(said))?)),
    });
    let said = said.collect::<Result<Vec<_>, Trouble>>()?;
    Ok(html! { ul.stops #stops { @for (bare, shown) in said { li data-said=[bare] { (shown) } } } })
}

/// What changes what the bay does next; how far to go stands with the curve.
fn now(shown: &Shown) -> Result<Markup, Trouble> {
    let view = &shown.at.view;
    let is_stop =
        |line: &Sentence| view.findings.iter().any(|finding| finding.stands && finding.text == *line);
    let estimates = how_far(shown);
    let alarms =
        view.exchange.as_ref().map(|exchange| exchange.progress.alarms.as_slice()).unwrap_or_default();
    let lines = view.now.iter().filter(|line| !is_stop(line) && !estimates.contains(line));
    let lines = lines.map(|line| Ok((alarms.contains(line), shown.words(line)?)));
    let lines = lines.collect::<Result<Vec<_>, Trouble>>()?;
    let label = shown.words(&sentence::bay_now())?;
    Ok(html! {
        ul #now aria-label=(label) {
            // Only an alarm is shown while a look is asked: whatever else is known would talk the look into it.
            @for (alarm, line) in lines { li.alarm[alarm] { (capital(&line)) } }
        }
    })
}

/// How far to go and what came of it: what is not read while a look is asked.
pub(super) fn how_far(shown: &Shown) -> Vec<Sentence> {
    let Some(exchange) = &shown.at.view.exchange else { return Vec::new() };
    exchange.advice.iter().filter(|line| !exchange.progress.alarms.contains(line)).cloned().collect()
}

/// What a yes rests on.
pub(super) fn rests_on(shown: &Shown, answer: &GoAhead) -> Result<String, Trouble> {
    let basis = all_words(shown.language, &answer.basis)?.join(" ");
    shown.words(&sentence::bay_rests_on(basis))
}

/// One number of the step, large: litres pushed, the temperature, when to read it again, what to refill.
fn numbers(shown: &Shown) -> Result<Markup, Trouble> {
    let (view, steps) = (&shown.at.view, &shown.at.steps);
    let mut told: Vec<(&str, String, Sentence)> = Vec::new();
    if let Some(exchange) = view.exchange.as_ref().filter(|exchange| exchange.litres_in > 0.0) {
        told.push(("exchange", number::litres(exchange.litres_in, 1), sentence::bay_pushed_so_far()));
    }
    let again = view.level.forecast.as_ref().map(|forecast| forecast.read_again_us);
    if let Some(again) = again {
        // To the nearest minute, as the sentence beside it says it.
        let again = again.saturating_add(HALF_MINUTE_US);
        told.push(("temperature", clock(again, &shown.zone, "%H:%M"), sentence::bay_read_again()));
    }
    let step = |name: &str| steps.iter().find(|step| step.name == name);
    let known =
        step("level").and_then(|step| step.preset.iter().find(|(name, _)| *name == "temperature_celsius"));
    if let Some((_, celsius)) = known {
        told.push(("level", celsius.replace(' ', "\u{a0}"), sentence::bay_read_last()));
    }
    let refill = step("refill").and_then(|step| step.fields.iter().find_map(|field| field.proposal.as_ref()));
    if let Some(proposal) = refill {
        told.push(("refill", proposal.value.replace(' ', "\u{a0}"), sentence::bay_to_refill()));
    }
    let first = steps.first().map(|step| step.name);
    let told = told.into_iter().map(|(step, value, what)| Ok((step, value, shown.words(&what)?)));
    let told = told.collect::<Result<Vec<_>, Trouble>>()?;
    Ok(html! {
        div #number {
            @for (step, value, what) in told {
                p.number data-steps=(step) hidden[first != Some(step)] { strong { (value) } " " span { (what) } }
            }
        }
    })
}

/// The curve with what it means; both stay hidden while a look is asked.
fn exchange(shown: &Shown) -> Result<Markup, Trouble> {
    let first = shown.at.steps.first().map_or("", |step| step.name);
    let exchange = shown.at.view.exchange.as_ref();
    let Some(exchange) = exchange.filter(|it| it.litres_in > 0.0 || !it.looks.is_empty()) else {
        return Ok(html! { figure #curve hidden data-steps="" {} });
    };
    let share = exchange.curve.last().filter(|_| exchange.progress.withheld.is_none());
    let parts = |share: f64| number::fixed(share * 100.0, 0);
    let share = share.filter(|last| last.litres > 0.0);
    let share = share.map(|at| sentence::bay_estimate(parts(at.greatest), parts(at.least), parts(at.share)));
    let share = share.map(|share| shown.words(&share)).transpose()?;
    // The rest of it is for whoever asks why.
    let far = how_far(shown).into_iter().take(1).collect::<Vec<_>>();
    let far: Vec<String> = all_words(shown.language, &far)?.iter().map(|line| capital(line)).collect();
    let hidden = shown.words(&sentence::bay_looks_hidden())?;
    let (across, up) = (shown.words(&sentence::bay_chart_across())?, shown.words(&sentence::bay_chart_up())?);
    let chart = curve::Words { across: &across, up: &up, named: &shown.words(&sentence::bay_chart())? };
    Ok(html! {
        figure #curve data-steps=(WITH_CURVE) hidden[!WITH_CURVE.split(' ').any(|step| step == first)] {
            (curve::drawn(exchange, &chart))
            figcaption {
                p.estimate { @if let Some(share) = share { strong { (share) } } " " (far.join(" ")) }
                p.instead { (hidden) }
            }
        }
    })
}

/// The work in a few lines.
fn overview(shown: &Shown) -> Result<Markup, Trouble> {
    let line = |line: &OverviewLine| {
        let found = line.found.as_ref().map(|found| shown.words(found)).transpose()?;
        Ok((line.steps.join(" "), shown.words(&line.label)?, found, line.current))
    };
    let lines = shown.at.overview.iter().map(line).collect::<Result<Vec<_>, Trouble>>()?;
    let label = shown.words(&sentence::bay_steps())?;
    Ok(html! {
        ol #steps aria-label=(label) {
            @for (steps, label, found, current) in lines {
                li data-steps=(steps) aria-current=[current.then_some("step")] {
                    span { (label) } " " span.found { (found.unwrap_or_default()) }
                }
            }
        }
    })
}

/// What is open before the car comes down.
fn points(shown: &Shown) -> Result<Markup, Trouble> {
    let first = shown.at.steps.first().map_or("", |step| step.name);
    let before = [Gate::Level, Gate::RoadTest].map(Gate::name);
    let open = shown.at.view.open_points.iter().filter(|point| before.contains(&point.gate));
    let open = open.map(|point| shown.words(&point.text)).collect::<Result<Vec<_>, _>>()?;
    let left = open.len().saturating_sub(POINTS_MOST);
    let more = u64::try_from(left).unwrap_or_default();
    let more = (more > 0).then(|| shown.words(&sentence::bay_more_points(more))).transpose()?;
    let label = shown.words(&sentence::bay_before_down())?;
    let hidden = open.is_empty() || !BEFORE_DOWN.split(' ').any(|step| step == first);
    let steps = if open.is_empty() { "" } else { BEFORE_DOWN };
    Ok(html! {
        section #points data-steps=(steps) hidden[hidden] {
            h2 { (label) }
            ul data-more=(left) {
                @for point in open.iter().take(POINTS_MOST) { li { (capital(point)) } }
                @if let Some(more) = more { li.again { (more) } }
            }
        }
    })
}

/// The script, in the parts it is kept in.
pub(super) async fn script() -> impl IntoResponse {
    static ALL: LazyLock<String> = LazyLock::new(|| {
        lean(concat!(
            include_str!("kept.js"),
            include_str!("keys.js"),
            include_str!("asked.js"),
            include_str!("photo.js"),
            include_str!("bounds.js"),
            include_str!("notices.js"),
            include_str!("answers.js"),
            include_str!("inputs.js"),
            include_str!("asides.js"),
            include_str!("bay.js")
        ))
    });
    ([(CONTENT_TYPE, "text/javascript; charset=utf-8")], ALL.as_str())
}

/// The style sheet.
pub(super) async fn style() -> impl IntoResponse {
    static ALL: LazyLock<String> = LazyLock::new(|| {
        // No text of the style has these signs; what they are written with is for whoever reads it.
        let tight = [(" {\n", "{"), (" { ", "{"), (" }", "}"), ("; ", ";"), (": ", ":"), (";}", "}")];
        tight.iter().fold(lean(include_str!("bay.css")), |style, (wide, tight)| style.replace(wide, tight))
    });
    ([(CONTENT_TYPE, "text/css; charset=utf-8")], ALL.as_str())
}

/// Without what only somebody needs who reads it: lines of comment and what a line is set in by. No text of script or style
/// goes over a line, so that no line means anything by its beginning.
fn lean(source: &str) -> String {
    let lines =
        source.lines().map(str::trim_start).filter(|line| !line.is_empty() && !line.starts_with("//"));
    lines.flat_map(|line| [line, "\n"]).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_of_comment_is_not_sent_and_a_line_of_script_is_sent_whole() {
        assert_eq!(
            lean("// why\n  const one = 1; // kept\n\n\treturn one;\n"),
            "const one = 1; // kept\nreturn one;\n"
        );
    }
}
