//! The workshop of the demo: a new site, its server, two bays and an office.

use crate::cable::Cable;
use crate::inputs::Seeded;
use crate::{DemoError, START_US, SimulatedClock, folder};
use jiff::tz::TimeZone;
use jiff::{Timestamp, ToSpan as _};
use standpipe_client::{Deadlines, Station, StationOptions, disk::SystemDisk};
use standpipe_proto::v1;
use standpipe_server::{Desk, Done, InitOptions, Order, Role, RunningServer, Server, ServerOptions, order};
use std::io::Write;
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// The files of the demo's catalogue, as they lie in the repository.
const CATALOGUE: [(&str, &str); 2] = [
    ("workshop.toml", include_str!("../../catalogue/workshop.toml")),
    ("alder-8.toml", include_str!("../../catalogue/alder-8.toml")),
];

/// Stations of the demo, in the order in which they come back when it stays.
pub(crate) const STATIONS: [&str; 3] = ["office", "bay-1", "bay-2"];
/// Station of whoever opens the link to join when the demo stays.
const TABLET: &str = "tablet-1";
/// VIN of the second vehicle, with its check digit (ISO 3779): a second-series transmission by the catalogue's rules.
const SECOND_VIN: &str = "AZTWA8M49LA044120";
/// PIN of person B on the office pages of the demo; it guards nothing but invented data.
pub(crate) const OFFICE_PIN: &str = "2468";

/// A workshop as it is founded.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Place {
    /// Identity of the site.
    pub(crate) id: &'static str,
    pub(crate) name: &'static str,
    pub(crate) address: &'static str,
    /// First letters of the numbers of its jobs.
    pub(crate) prefix: &'static str,
    /// When the work begins, microseconds since 1970.
    pub(crate) start_us: i64,
    /// What its identities are drawn with.
    pub(crate) seed: u64,
}

impl Place {
    /// The workshop of the demo of one.
    pub(crate) const HARBOUR_LANE: Self = Self {
        id: "harbour-lane",
        name: "Harbour Lane",
        address: "12 Harbour Lane",
        prefix: "HL",
        start_us: START_US,
        seed: 0,
    };

    /// Last day on which the fluid that comes in is good: the end of a month, more than two years on.
    fn expires_on(&self) -> Result<String, DemoError> {
        let wrong = |error: jiff::Error| DemoError::Wrong(format!("the day on which fluid expires: {error}"));
        let start = Timestamp::from_microsecond(self.start_us).map_err(wrong)?;
        let day = start.to_zoned_datetime(TimeZone::UTC).date().checked_add(27.months()).map_err(wrong)?;
        Ok(day.last_of_month().to_string())
    }
}

/// A running workshop.
pub(crate) struct Scene {
    pub(crate) dir: PathBuf,
    pub(crate) clock: SimulatedClock,
    pub(crate) bay_1: Station,
    pub(crate) bay_2: Station,
    pub(crate) office: Station,
    pub(crate) cable: Cable,
    /// Last day on which the fluid that comes in is good.
    pub(crate) expires_on: String,
    server: RunningServer,
}

impl Scene {
    /// Founds the site of the demo of one workshop in a folder of its own.
    pub(crate) async fn build(dir: &Path, tell: &mut dyn Write) -> Result<Self, DemoError> {
        folder::clear(dir)?;
        Self::of(&Place::HARBOUR_LANE, dir, tell).await
    }

    /// Founds a site, starts its server and joins three stations over the network.
    pub(crate) async fn of(place: &Place, dir: &Path, tell: &mut dyn Write) -> Result<Self, DemoError> {
        let clock = SimulatedClock::at(place.start_us);
        let tokens = found(place, dir, &clock).await?;
        let listen = std::net::SocketAddr::from(([127, 0, 0, 1], 0));
        let options = ServerOptions { listen, clock: Arc::new(clock.clone()), ..ServerOptions::new(dir) };
        let server = Server::start(options).await?;
        let cable = Cable::plug(server.addr).await?;
        say(
            tell,
            &format!(
                "{} serves on {}; bay-1 reaches it through a cable that can be pulled.",
                place.name, server.addr
            ),
        )?;
        let mut stations = Vec::new();
        for (number, (name, person)) in
            [("bay-1", "A"), ("bay-2", "A"), ("office", "B")].into_iter().enumerate()
        {
            let options = StationOptions {
                clock: Arc::new(clock.clone()),
                entropy: Seeded::number(100 + number as u64 + place.seed),
                disk: Arc::new(SystemDisk),
                deadlines: Deadlines::default(),
                name: "demo".to_owned(),
            };
            let mut station = Station::open(&dir.join(name), options)?;
            let address = if name == "bay-1" { cable.address } else { server.addr };
            let token = tokens.iter().find(|(station, _)| station == name).map(|(_, token)| token.as_str());
            station.join(&address.to_string(), token.unwrap_or_default()).await?;
            station.set_person(person)?;
            stations.push(station);
        }
        let [bay_1, bay_2, office] = <[Station; 3]>::try_from(stations)
            .map_err(|stations| DemoError::Wrong(format!("{} stations joined, not 3", stations.len())))?;
        let expires_on = place.expires_on()?;
        Ok(Self { dir: dir.to_owned(), clock, bay_1, bay_2, office, cable, expires_on, server })
    }

    /// Puts the customer beside the journal, as the office's pages do.
    pub(crate) async fn customer(&self, job: &str) -> Result<(), DemoError> {
        let told = |error: &dyn std::fmt::Display| DemoError::Wrong(format!("the customer: {error}"));
        let channel = tonic::transport::Endpoint::from_shared(format!("http://{}", self.server.addr))
            .map_err(|error| told(&error))?
            .connect_lazy();
        let customer = v1::Customer { name: "Customer C".to_owned(), telephone: "0555 0199".to_owned() };
        let request = v1::PutCustomerRequest { job: job.to_owned(), customer: Some(customer) };
        let mut request = tonic::Request::new(request);
        let token = format!("Bearer {}", self.office.joined()?.token);
        let token =
            token.parse().map_err(|error: tonic::metadata::errors::InvalidMetadataValue| told(&error))?;
        request.metadata_mut().insert("authorization", token);
        let mut client = v1::customer_service_client::CustomerServiceClient::new(channel);
        client.put_customer(request).await.map_err(|error| told(&error))?;
        Ok(())
    }

    /// Stops the server in order.
    pub(crate) async fn end(self) -> Result<(), DemoError> {
        self.server.shutdown();
        Ok(self.server.join().await?)
    }
}

/// Founds the site and enrols its stations; gives their tokens.
async fn found(
    place: &Place,
    dir: &Path,
    clock: &SimulatedClock,
) -> Result<Vec<(String, String)>, DemoError> {
    let entropy = Seeded::number(1 + place.seed);
    let options = InitOptions {
        site_id: place.id.to_owned(),
        site_name: place.name.to_owned(),
        clock: Arc::new(clock.clone()),
        entropy: entropy.clone(),
    };
    standpipe_server::init(dir, options).await?;
    folder::mark(dir)?;
    let mut desk = Desk::open_with(dir, Arc::new(clock.clone()), entropy.clone()).await?;
    let mut tokens = Vec::new();
    for (name, role) in [("bay-1", Role::Bay), ("bay-2", Role::Bay), ("office", Role::Office)] {
        tokens.push((name.to_owned(), desk.add_station(name, role).await?.token.to_string()));
    }
    desk.add_person("A", Some("technician A")).await?;
    desk.add_person("B", Some("office B")).await?;
    desk.set_pin("B", &standpipe_server::kept_pin(OFFICE_PIN, &*entropy)?).await?;
    let files = dir.join("catalogue-of-the-demo");
    std::fs::create_dir(&files).map_err(DemoError::io("writing the catalogue"))?;
    for (name, text) in CATALOGUE {
        let text = text
            .replace("\"HL\"", &format!("\"{}\"", place.prefix))
            .replace("12 Harbour Lane", place.address);
        std::fs::write(files.join(name), text).map_err(DemoError::io("writing the catalogue"))?;
    }
    desk.import_catalogue(&files).await?;
    desk.close().await?;
    Ok(tokens)
}

/// Serves a finished demo on the machine's clock, with a second job open and a link for its tablet.
pub(crate) async fn stay(dir: &Path, tell: &mut dyn Write) -> Result<(), DemoError> {
    folder::expect(dir)?;
    // By the machine's clock the tokens of the played day may have ended long ago.
    let mut desk = Desk::open(dir).await?;
    let mut tokens = Vec::new();
    for name in STATIONS {
        tokens.push(desk.renew_token(name).await?.token.to_string());
    }
    desk.close().await?;
    let listen = std::net::SocketAddr::from(([127, 0, 0, 1], 0));
    let server = Server::start(ServerOptions { listen, ..ServerOptions::new(dir) }).await?;
    let mut job = None;
    for (name, token) in STATIONS.into_iter().zip(tokens) {
        let mut station = Station::open(&dir.join(name), StationOptions::of_this_machine()?)?;
        station.join(&server.addr.to_string(), &token).await?;
        match &job {
            None => {
                let arrival = v1::Arrival {
                    plate: "QR 207 T".to_owned(),
                    odometer_kilometres: Some(86_410.0),
                    reasons: vec![v1::VisitReason::ServiceDue.into()],
                    vehicle_maker: "Tarnwick".to_owned(),
                    vehicle_model: "Fell".to_owned(),
                    high_voltage: v1::Answer::No.into(),
                    ..v1::Arrival::default()
                };
                station.open_job(arrival, Vec::new(), None)?;
                station.send().await?;
                job = Some(station.current_job()?.number);
            }
            Some(number) => {
                station.use_job(number).await?;
            }
        }
    }
    let number = job.unwrap_or_default();
    say(tell, &format!("Serving on {} with job {number} open. Stop with Ctrl-C.", server.addr))?;
    say(tell, &format!("Office pages: http://{}/ as person B with PIN {OFFICE_PIN}", server.addr))?;
    say_bay_page(dir, &server, &number, tell).await?;
    say_what_is_read(&number, tell)?;
    say(
        tell,
        &format!(
            "The job that was played is months old by this machine's clock, so a bay does not show it any more: see it on the office pages, or with STANDPIPE_HOME={} and standpipe show 1",
            dir.join("office").display()
        ),
    )?;
    say(tell, &format!("export STANDPIPE_HOME={}", dir.join("bay-1").display()))?;
    let stopper = server.stopper();
    tokio::spawn(async move {
        if tokio::signal::ctrl_c().await.is_ok() {
            stopper.in_order();
        }
    });
    Ok(server.join().await?)
}

/// Says where the page of the bay is and how a browser of this machine gets in: as the tablet, or by signing in.
async fn say_bay_page(
    dir: &Path,
    server: &RunningServer,
    number: &str,
    tell: &mut dyn Write,
) -> Result<(), DemoError> {
    let add = Order::AddStation { name: TABLET.to_owned(), role: Role::Bay, kinds: Vec::new() };
    let Done::Invited { code, .. } = order(dir, add).await? else {
        return Err(DemoError::Wrong(format!("{TABLET} was enrolled without a code")));
    };
    let addr = server.addr;
    say(tell, &format!("Bay page of job {number}: http://{addr}/bay/{number}"))?;
    say(tell, &format!("To be its tablet, open within ten minutes: http://{addr}/join#{code}"))?;
    say(
        tell,
        &format!(
            "Later, for a new code: standpipe-server station code {TABLET} --dir '{}'; or sign in as on the office pages.",
            dir.display()
        ),
    )
}

/// Says what somebody reads at the second vehicle and at the bench, to answer the questions of its job with.
fn say_what_is_read(number: &str, tell: &mut dyn Write) -> Result<(), DemoError> {
    let (_, last_eight) = SECOND_VIN.split_at(SECOND_VIN.len() - 8);
    say(tell, &format!("What there is to read for job {number}:"))?;
    for (what, read) in [
        ("papers, VIN", SECOND_VIN),
        ("body plate, last 8 characters", last_eight),
        ("plate on the transmission", "A8 0238"),
        ("container of the fluid", "LN-847, lot L-2209"),
        ("new filter", "F8-20, in kit K8-20, lot K-77"),
        ("standpipe", "SP-68"),
        ("exchange equipment, torque tool", "EX-1, TW-1"),
        ("in the driver's seat", "technician A"),
    ] {
        say(tell, &format!("  {what}: {read}"))?;
    }
    Ok(())
}

/// Tells one line.
pub(crate) fn say(tell: &mut dyn Write, line: &str) -> Result<(), DemoError> {
    writeln!(tell, "{line}").and_then(|()| tell.flush()).map_err(DemoError::io("telling"))
}
