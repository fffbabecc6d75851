//! Facts of the site: stated at a station or over the network, put right, restored, and what is asked of them.

use prost::Message as _;
use standpipe_proto::v1::job_service_client::JobServiceClient;
use standpipe_proto::v1::tally_service_client::TallyServiceClient;
use standpipe_proto::v1::{self, FoundWhat, ReadRequest, WatchRequest, fact::Kind, header::Subject};
use standpipe_server::Role;
use standpipe_tests::facts;
use standpipe_tests::process::Process;
use standpipe_tests::programs;
use standpipe_tests::sealed::{Sealed, Sealer};
use standpipe_tests::shop::{Home, Shop, bare, ended, words};
use standpipe_tests::site::{Shown, Site, append, journal, shown};
use standpipe_tests::told::{info, reason};
use std::net::SocketAddr;
use tonic::{Code, Status};

const LOT: &str = "add lot-received --lot L-2207 --what fluid --code LN-847 --volume 208L --container drum --expires-on 2028-05-31";

fn received(lot: &str) -> Kind {
    Kind::LotReceived(v1::LotReceived {
        lot: lot.to_owned(),
        what: v1::Supply::Fluid.into(),
        code: "LN-847".to_owned(),
        amount: Some(v1::lot_received::Amount::VolumeLitres(208.0)),
        ..v1::LotReceived::default()
    })
}

/// A fact of the site as a station seals it.
fn of_site(sealer: &mut Sealer, kind: Kind) -> Sealed {
    let entry = sealer.entry(Subject::SiteId("harbour-lane".to_owned()), kind, &[]);
    standpipe_proto::check::entry(&entry).unwrap();
    let entry_id = entry.header.as_ref().unwrap().entry_id.clone();
    Sealed { entry_id, bytes: entry.encode_to_vec().into() }
}

fn put_right(of: &Sealed, outcome: v1::correction::Outcome) -> Kind {
    Kind::Correction(Box::new(v1::Correction {
        corrected_entry_id: of.entry_id.clone(),
        reason: "misread".to_owned(),
        outcome: Some(outcome),
    }))
}

async fn tallies(address: SocketAddr, token: &str) -> TallyServiceClient<Shown> {
    TallyServiceClient::new(shown(address, token).await)
}

async fn found(client: &mut TallyServiceClient<Shown>, code: &str) -> Vec<v1::FoundCode> {
    let request = v1::FindCodeRequest { code: code.to_owned(), job: String::new() };
    client.find_code(request).await.unwrap().into_inner().found
}

fn told(status: &Status) -> (Code, String) {
    (status.code(), reason(status))
}

/// Place in the journal that a command said.
#[track_caller]
fn place(said: &str) -> i64 {
    let rest = said.split("place ").nth(1).unwrap_or_else(|| panic!("no place in: {said}"));
    rest.split(' ').next().unwrap().parse().unwrap()
}

#[test]
fn a_station_without_a_job_states_facts_of_the_site_and_is_told_their_place() {
    let shop = Shop::open();
    let bay = shop.station("bay-1", "A");
    let said = bay.say(LOT).fine();
    assert!(
        said.out.starts_with("site: lot-received, lot L-2207, what fluid, code LN-847, "),
        "{}",
        said.out
    );
    assert!(said.out.trim_end().ends_with(" in the journal"), "{}", said.out);
    for line in [
        "add stock-counted --what fluid --code LN-847 --volume 201.5L",
        "add tool-checked --tool W-3 --kind torque-tool --event checked --torque '10N·m 10.35N·m' --torque '20N·m 20.1N·m'",
        "add equipment-contents --equipment X-1 --held fluid --fluid-code LN-847 --held-volume 1.5L",
        "add waste-collected --waste-code '13 02 06*' --mass 180kg --carrier 'Harbour Recycling' --document N-1",
        "add lot-recalled --lot L-2207 --reason 'water in the drum'",
    ] {
        let said = bay.say(line).fine();
        assert!(said.out.starts_with("site: "), "{line}: {}", said.out);
    }
    let json = bay.say(&format!("{LOT} --output json")).fine().json();
    assert!(json["job"].is_null() && json["state"] == "sent" && json["kind"] == "lot_received", "{json}");
    let sent = bay.say("unsent --sent").fine();
    assert_eq!(sent.out.lines().filter(|line| line.contains("site  ")).count(), 7, "{}", sent.out);
    // What a row and a relation say is told by the flag that was typed.
    let refused = bay.say("add equipment-contents --equipment X-1 --held fluid").refused(65);
    assert!(refused.contains("--fluid-code"), "{refused}");
    let refused = bay.say("add tool-checked --tool W-3 --kind torque-tool --event checked").refused(65);
    assert!(refused.contains("--torque"), "{refused}");
    // They are listed apart from those of a job.
    let help = bay.say("add --help").fine().out;
    let (of_job, apart) = help.split_once("Facts of the site").unwrap();
    assert!(of_job.contains("drain") && !of_job.contains("lot-received"), "{help}");
    assert!(apart.contains("lot-received") && apart.contains("waste-collected"), "{help}");
}

#[test]
fn a_fact_of_the_site_is_put_right_by_its_place_also_from_another_station() {
    let shop = Shop::open();
    let (bay, office) = (shop.station("bay-1", "A"), shop.station("office", "B"));
    bay.say("open 'PH 482 K'").fine();
    let at = place(&bay.say(LOT).fine().out);
    let right = bay.say(&format!("correct {at} lot-received --volume 60L --reason 'a small drum'")).fine();
    assert!(right.out.starts_with("site: correction, put right lot received, volume 60"), "{}", right.out);
    assert!(right.out.contains("kept: lot L-2207"), "{}", right.out);
    // The office has no job in use and never stated it.
    let right = office.say(&format!("correct {at} lot-received --document N-7 --reason 'note found'")).fine();
    assert!(right.out.contains("kept: lot L-2207") && right.out.contains("volume 60L"), "{}", right.out);
    let other = office.say(&format!("correct {at} drain --volume 3L --reason 'mistyped'")).refused(65);
    assert!(other.contains("of the kind lot-received, not drain"), "{other}");
    let unknown = office.say("correct 999 lot-received --volume 3L --reason 'mistyped'").refused(65);
    assert!(unknown.contains("999"), "{unknown}");
    // A job is in use, so a bare place is one of the job; it may be mistyped.
    let bare = bay.say(&format!("correct {at} --withdraw --reason 'never came'")).refused(65);
    assert!(bare.contains("has no such entry") && bare.contains("--site"), "{bare}");
    let gone = bay.say(&format!("correct {at} --site --withdraw --reason 'never came'")).fine();
    assert!(gone.out.starts_with("site: correction, withdrawn lot received"), "{}", gone.out);
    let looked = bay.say("scan --look L-2207").ended(65);
    assert!(looked.out.contains("is not known here"), "{}", looked.out);
}

#[test]
fn without_the_server_facts_of_the_site_wait_and_come_later() {
    let shop = Shop::open();
    let bay = shop.station("bay-1", "A");
    shop.close();
    let said = bay.say(LOT).ended(75);
    assert!(said.out.starts_with("site: ") && said.out.contains("kept unsent (1 waiting)"), "{}", said.out);
    let waiting = bay.say("unsent").fine();
    assert!(waiting.out.contains("site  ") && waiting.out.contains("lot-received"), "{}", waiting.out);
    let looked = bay.say("scan L-2207").refused(75);
    assert!(looked.contains("L-2207 cannot be looked up") && looked.contains("nothing was kept"), "{looked}");
    assert_eq!(bay.unsent_files().len(), 1);
    let tally = bay.say("tally store").refused(75);
    assert!(tally.contains("does not answer"), "{tally}");
    shop.serve();
    shop.join(&bay);
    let sent = bay.say("send").fine();
    assert!(sent.out.starts_with("site: place "), "{}", sent.out);
}

#[test]
fn a_scanned_code_states_a_part_takes_a_job_or_tells_of_a_tool() {
    let shop = Shop::open();
    let (bay, office) = (shop.station("bay-1", "A"), shop.station("office", "B"));
    bay.say(LOT).fine();
    bay.say("add tool-checked --tool W-3 --kind torque-tool --event taken-out").fine();
    let no_job = bay.say("scan L-2207").refused(64);
    assert!(no_job.contains("no job is set"), "{no_job}");
    office.say("open 'PH 482 K'").fine();
    let taken = bay.say("scan HL-26-0001").fine();
    assert!(taken.out.contains("PH 482 K: what is added next belongs to it"), "{}", taken.out);
    let read = bay.say("scan L-2207").fine();
    let stated = "part-checked, part fluid container, code LN-847, lot L-2207, read by scanner; place ";
    assert!(read.out.contains(stated), "{}", read.out);
    let entries = shop.entries();
    let looked = bay.say("scan --look L-2207").fine();
    assert!(looked.out.contains("lot L-2207: "), "{}", looked.out);
    let tool = bay.say("scan W-3").fine();
    assert!(tool.out.starts_with("Tool W-3: "), "{}", tool.out);
    let unknown = bay.say("scan NO-SUCH-CODE").ended(65);
    assert!(unknown.out.contains("NO-SUCH-CODE is not known here; nothing was changed"), "{}", unknown.out);
    assert_eq!(shop.entries(), entries, "looking and not knowing state nothing");
    // Line by line, as a scanner types them, and each is answered.
    let each = bay.fed("scan", "W-3\n\nNO-SUCH-CODE\r\nL-2207\n").ended(65);
    let lines: Vec<_> = each.out.lines().collect();
    assert!(
        lines[0].starts_with("Tool W-3: ") && lines[1].starts_with("NO-SUCH-CODE is not"),
        "{}",
        each.out
    );
    assert!(lines[2].contains("lot L-2207") && lines[3].contains(stated), "{}", each.out);
    assert_eq!(shop.entries(), entries + 1);
    let json = bay.fed("scan --look --output json", "W-3\nL-2207\n").fine();
    for line in json.out.lines() {
        let told: serde_json::Value = serde_json::from_str(line).unwrap();
        assert_eq!(told["found"].as_array().unwrap().len(), 1, "{line}");
    }
}

#[test]
fn codes_after_the_code_of_a_job_are_stated_for_that_job_also_where_another_was_named() {
    let shop = Shop::open();
    let bay = shop.station("bay-1", "A");
    bay.say(LOT).fine();
    bay.say("open 'PH 482 K'").fine();
    bay.say("open 'WR 118 T'").fine();
    let each = bay.fed("scan --job HL-26-0001", "L-2207\nHL-26-0002\nL-2207\n").fine();
    let lines: Vec<_> = each.out.lines().filter(|line| line.contains("part-checked")).collect();
    assert!(lines[0].contains("HL-26-0001") && lines[1].contains("HL-26-0002"), "{}", each.out);
    let hyphen = bay.say("scan -X-1").ended(65);
    assert!(hyphen.out.contains("-X-1 is not known here"), "{}", hyphen.out);
}

#[test]
fn a_tally_that_is_not_known_is_refused_with_those_that_are() {
    let shop = Shop::open();
    let bay = shop.station("bay-1", "A");
    let refused = bay.say("tally no-such-tally").refused(65);
    assert!(refused.contains("there is no tally 'no-such-tally'; there are:"), "{refused}");
    let office = shop.station("office", "B");
    for owners in ["tally owner", "tally --months 12", "tally owner-jobs --months 12 --output csv"] {
        let refused = office.say(owners).refused(65);
        assert!(refused.contains("this is no owner's server"), "{owners}: {refused}");
    }
    let refused = bay.say("tally 'NOT A NAME'").refused(65);
    assert!(refused.contains("tally"), "{refused}");
}

/// What a restored site knows of a code.
#[track_caller]
fn look(home: &Home, code: &str) -> String {
    home.say(&format!("scan --look {code}")).fine().out
}

#[test]
fn a_backup_keeps_facts_of_the_site_and_accounts_of_jobs() {
    let shop = Shop::open();
    let bay = shop.station("bay-1", "A");
    bay.say("open 'PH 482 K'").fine();
    bay.say(LOT).fine();
    let known = look(&bay, "L-2207");
    let backup = shop.path("backup");
    shop.verb(&format!("backup '{}'", backup.display())).fine();
    shop.close();
    let again = shop.path("site-again");
    let mut restore = bare(&programs::server());
    restore.args(words(&format!("restore '{}'", backup.display()))).arg("--dir").arg(&again);
    ended(restore, "").fine();
    let server = Process::start(bare(&programs::server()), &again).unwrap();
    bay.fed(&format!("join {} -", server.address), shop.token("bay-1")).fine();
    assert_eq!(look(&bay, "L-2207"), known);
    assert!(look(&bay, "HL-26-0001").starts_with("Job HL-26-0001, "), "the account was computed again");
    assert_eq!(server.terminate(), (Some(0), String::new()));
}

#[tokio::test]
async fn over_the_network_a_bay_states_corrects_and_reads_facts_of_the_site() {
    let site = Site::with(&[("bay-1", Role::Bay), ("office", Role::Office)]).await;
    let server = site.serve().await;
    let mut bay = journal(server.addr, site.token("bay-1")).await;
    let mut asked = tallies(server.addr, site.token("office")).await;
    let mut sealer = Sealer::new("bay-1", 1);
    assert_eq!(found(&mut asked, "L-1").await, []);
    let stated = of_site(&mut sealer, received("L-1"));
    let taken = append(&mut bay, &stated).await.unwrap();
    assert_eq!((taken.job_number.as_str(), taken.plate.as_str(), taken.repeated), ("", "", false));
    assert!(append(&mut bay, &stated).await.unwrap().repeated);
    let known = found(&mut asked, "l-1").await;
    assert_eq!(known.len(), 1, "{known:?}");
    assert_eq!((known[0].what(), known[0].lot.as_str()), (FoundWhat::Lot, "L-1"));
    assert_eq!(known[0].part(), v1::Part::FluidContainer);
    // Another number, then withdrawn.
    let fact = Box::new(v1::Fact { kind: Some(received("L-2")) });
    let right = of_site(&mut sealer, put_right(&stated, v1::correction::Outcome::Replacement(fact)));
    append(&mut bay, &right).await.unwrap();
    assert_eq!((found(&mut asked, "L-1").await.len(), found(&mut asked, "L-2").await.len()), (0, 1));
    let gone = of_site(&mut sealer, put_right(&stated, v1::correction::Outcome::Withdrawn(true)));
    append(&mut bay, &gone).await.unwrap();
    assert_eq!(found(&mut asked, "L-2").await, []);
    // The bay reads the facts of the site, in pages, and not the rest of it.
    let job = sealer.job(1);
    append(&mut bay, &sealer.seal(&job, facts::arrival("PH 482 K"))).await.unwrap();
    let (mut seqs, mut page_token) = (Vec::new(), String::new());
    loop {
        let request = ReadRequest { job: "harbour-lane".to_owned(), page_size: 2, page_token };
        let page = bay.read(request).await.unwrap().into_inner();
        seqs.extend(page.entries.iter().map(|entry| entry.seq));
        page_token = page.next_page_token;
        if page_token.is_empty() {
            break;
        }
    }
    assert!(seqs.is_sorted() && seqs.ends_with(&[taken.seq, taken.seq + 1, taken.seq + 2]), "{seqs:?}");
    // A fact of a job is none of the site, nor the other way round.
    let of_job = sealer.entry(Subject::JobId(job), received("L-3"), &[]);
    let of_job = Sealed { entry_id: String::new(), bytes: of_job.encode_to_vec().into() };
    let refused = append(&mut bay, &of_job).await.unwrap_err();
    assert_eq!(told(&refused), (Code::InvalidArgument, "OUTSIDE_BOUNDS".into()));
    server.shutdown();
    server.join().await.unwrap();
    // Read again from the beginning by the next server.
    let server = site.serve().await;
    let mut asked = tallies(server.addr, site.token("office")).await;
    assert_eq!(found(&mut asked, "L-2").await, []);
    assert_eq!(found(&mut asked, "HL-26-0001").await[0].job, "HL-26-0001");
}

#[tokio::test]
async fn what_cannot_be_asked_of_a_tally_is_refused_with_a_reason() {
    let site = Site::with(&[("bay-1", Role::Bay), ("office", Role::Office)]).await;
    let server = site.serve().await;
    let mut bay = tallies(server.addr, site.token("bay-1")).await;
    let mut office = tallies(server.addr, site.token("office")).await;
    let asked =
        |tally: &str| v1::GetTallyRequest { tally: tally.to_owned(), ..v1::GetTallyRequest::default() };
    let refused = bay.get_tally(asked("no-such-tally")).await.unwrap_err();
    assert_eq!(told(&refused), (Code::NotFound, "TALLY_UNKNOWN".into()));
    assert_eq!(info(&refused).unwrap().metadata["name"], "no-such-tally");
    let refused = bay.get_tally(asked("")).await.unwrap_err();
    assert_eq!(told(&refused), (Code::InvalidArgument, "OUTSIDE_BOUNDS".into()));
    let print = |tally: &str| v1::PrintTallyRequest { tally: tally.to_owned(), ..Default::default() };
    let refused = office.print_tally(print("no-such-tally")).await.unwrap_err();
    assert_eq!(told(&refused), (Code::NotFound, "TALLY_UNKNOWN".into()));
    let refused = bay.print_tally(print("store")).await.unwrap_err();
    assert_eq!(told(&refused), (Code::PermissionDenied, "ROLE_NOT_PERMITTED".into()));
    let request = v1::FindCodeRequest { code: "LN-847".to_owned(), job: "HL-26-0099".to_owned() };
    let refused = bay.find_code(request).await.unwrap_err();
    assert_eq!(told(&refused), (Code::NotFound, "JOB_UNKNOWN".into()));
}

#[tokio::test]
async fn a_watch_of_a_job_looks_again_when_a_fact_of_the_site_comes() {
    let site = Site::with(&[("bay-1", Role::Bay)]).await;
    let server = site.serve().await;
    let mut bay = journal(server.addr, site.token("bay-1")).await;
    let mut jobs = JobServiceClient::new(shown(server.addr, site.token("bay-1")).await);
    let mut sealer = Sealer::new("bay-1", 1);
    let job = sealer.job(1);
    append(&mut bay, &sealer.seal(&job, facts::arrival("PH 482 K"))).await.unwrap();
    let mut states = jobs.watch(WatchRequest { job: job.clone(), after_seq: 0 }).await.unwrap().into_inner();
    let first = states.message().await.unwrap().unwrap();
    // Nothing that is said of this job changes by it, so nothing is told; the next entry of the job is.
    append(&mut bay, &of_site(&mut sealer, received("L-1"))).await.unwrap();
    let taken = append(&mut bay, &sealer.seal(&job, facts::temperature(20.0))).await.unwrap();
    let next = states.message().await.unwrap().unwrap();
    assert_eq!((next.last_seq, first.last_seq), (taken.seq, taken.seq - 2));
    // The record's view of a job ends with its last entry: the same before and after facts that came later.
    let get = || v1::GetRequest { job: job.clone() };
    let before = jobs.get(get()).await.unwrap().into_inner().job.unwrap();
    append(&mut bay, &of_site(&mut sealer, received("L-2"))).await.unwrap();
    let after = jobs.get(get()).await.unwrap().into_inner().job.unwrap();
    assert_eq!((before.check_value, before.findings), (after.check_value, after.findings));
}
