//! How a code to join is shown: one line to paste after `standpipe join`, and a picture of it for tablets.

use super::shown::{Output, complain, say};
use clap::Args;
use qrcode::QrCode;
use qrcode::render::unicode::Dense1x2;
use serde_json::json;
use standpipe_proto::check::Violation;
use standpipe_proto::limits::JOIN_CODE_SECONDS;
use standpipe_server::{Done, Order, ServerError, order as give_order, time_in_words};
use std::io::IsTerminal as _;
use std::net::{IpAddr, Ipv6Addr, SocketAddr};
use std::path::Path;

/// How a code is shown.
#[derive(Debug, Args)]
pub(super) struct CodeArguments {
    /// Address of the shop server as the new station reaches it, with or without the port. [default: the server's own]
    #[arg(long, value_name = "HOST")]
    host: Option<String>,
    /// Shows address and code as a picture for the camera of a tablet also where the output is no terminal.
    #[arg(long)]
    qr: bool,
}

/// Gives an order of which a code comes, and shows it.
pub(super) async fn invite(
    dir: &Path,
    order: Order,
    output: Output,
    shown: &CodeArguments,
) -> Result<(), ServerError> {
    // Before the order: a station that is enrolled stays enrolled.
    if let Some(host) = &shown.host {
        check_host(host)?;
    }
    let done = give_order(dir, order).await?;
    let Done::Invited { station_id, hosts, code, ends_us, new, site, beside } = done else {
        super::told::done(output, done);
        return Ok(());
    };
    let own = hosts.first().map_or("", String::as_str);
    let host = shown.host.as_deref().map_or_else(|| own.to_owned(), |host| with_port(host, own));
    say_code(output, (&station_id, &site), &host, &code, ends_us);
    if output == Output::Json {
        return Ok(());
    }
    let what = if new { "is enrolled" } else { "keeps its token until somebody joins with the new code" };
    let how = if site.is_empty() {
        format!("at the machine: standpipe join {host} {code}; or on a tablet: {}", url(&host, &code))
    } else {
        format!(
            "at the shop server of site '{site}': standpipe-server station join-owner {host} {code} --dir DIR, with the folder \
             of that site"
        )
    };
    let minutes = JOIN_CODE_SECONDS / 60;
    complain(&format!("station '{station_id}' {what}; within {minutes} minutes, once, {how}"));
    if new && !beside.is_empty() {
        complain(&format!(
            "the journal of '{site}' may be brought by {} as well, which is right only where that journal was moved or recovered to \
             another machine: another workshop needs an identity of its own, which it is founded with, standpipe-server init --site SITE; where \
             this was a mistake: standpipe-server station revoke {station_id} --dir {}",
            beside.join(", "),
            dir.display()
        ));
    }
    if shown.host.is_none() {
        complain_of_hosts(&hosts, dir, &station_id);
    }
    // No tablet brings a journal.
    if site.is_empty() && (shown.qr || std::io::stdout().is_terminal()) {
        picture(&url(&host, &code));
    }
    Ok(())
}

/// Says address and code in one line, or with what belongs to them.
///
/// * `site` – the site whose journal the station brings; empty for one of this site, which a browser may be
pub(super) fn say_code(
    output: Output,
    (station_id, site): (&str, &str),
    host: &str,
    code: &str,
    ends_us: i64,
) {
    match output {
        Output::Json => {
            let (key, value) =
                if site.is_empty() { ("url", url(host, code)) } else { ("site", site.to_owned()) };
            say(&json!({
                "station_id": station_id, "host": host, "code": code, "ends": time_in_words(ends_us), key: value,
            })
            .to_string());
        }
        _ => say(&format!("{host} {code}")),
    }
}

/// Requires a name or an address, with or without a port.
fn check_host(host: &str) -> Result<(), ServerError> {
    let fits = |letter: char| letter.is_ascii_alphanumeric() || ".-:[]".contains(letter);
    if !host.is_empty() && host.chars().all(fits) {
        return Ok(());
    }
    let what = format!(
        "is '{host}'; write name or address alone, with or without a port, such as shop.lan or 192.0.2.7:50551"
    );
    Err(ServerError::OutsideBounds(vec![Violation { field: "--host".to_owned(), what }]))
}

fn complain_of_hosts(hosts: &[String], dir: &Path, station_id: &str) {
    let is_here = |host: &String| host.parse().is_ok_and(|address: SocketAddr| address.ip().is_loopback());
    if hosts.iter().all(is_here) {
        let dir = dir.display();
        complain(&format!(
            "only this machine reaches that address; for others set listen = \"0.0.0.0:50551\" in \
             {dir}/standpipe-server.toml, start the server again, and ask for a new code: standpipe-server station code \
             {station_id} --dir {dir}"
        ));
    } else if let [_, others @ ..] = hosts
        && !others.is_empty()
    {
        complain(&format!("if that address is not reached, another one may be: {}", others.join(", ")));
    }
}

/// A host with the port of another one unless it has a port itself.
fn with_port(host: &str, other: &str) -> String {
    let has_port = |(name, port): (&str, &str)| {
        port.parse::<u16>().is_ok() && (!name.contains(':') || name.ends_with(']'))
    };
    if host.rsplit_once(':').is_some_and(has_port) {
        return host.to_owned();
    }
    let port = other.rsplit_once(':').map_or("50551", |(_, port)| port);
    match host.parse::<Ipv6Addr>().map(IpAddr::V6) {
        Ok(address) => format!("[{address}]:{port}"),
        Err(_) => format!("{host}:{port}"),
    }
}

/// The page that shows how to join; what follows the number sign stays in the browser.
fn url(host: &str, code: &str) -> String {
    format!("https://{host}/join#{code}")
}

/// Draws a text for a camera: light parts as blocks, since most terminals write light on dark.
fn picture(text: &str) {
    match QrCode::new(text) {
        Ok(drawn) => {
            let drawn =
                drawn.render::<Dense1x2>().dark_color(Dense1x2::Light).light_color(Dense1x2::Dark).build();
            say(&drawn);
        }
        Err(error) => complain(&format!("the picture for cameras is left out ({error}); type the line")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_host_with_more_than_name_and_port_is_refused_by_a_sentence() {
        for host in ["http://x", "shop.lan/join", "", "a b"] {
            let told = check_host(host).unwrap_err().to_string();
            assert!(told.starts_with("--host") && told.contains("192.0.2.7:50551"), "{told}");
        }
        for host in ["shop.lan", "[2001:db8::7]:443", "192.0.2.7"] {
            assert!(check_host(host).is_ok(), "{host}");
        }
    }

    #[test]
    fn a_named_host_keeps_its_port_or_gets_the_servers() {
        for (named, shown) in [
            ("shop.lan", "shop.lan:7000"),
            ("shop.lan:443", "shop.lan:443"),
            ("192.0.2.7", "192.0.2.7:7000"),
            ("2001:db8::7", "[2001:db8::7]:7000"),
            ("[2001:db8::7]", "[2001:db8::7]:7000"),
            ("[2001:db8::7]:443", "[2001:db8::7]:443"),
        ] {
            assert_eq!(with_port(named, "127.0.0.1:7000"), shown);
        }
    }
}
