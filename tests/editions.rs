//! Issued records: numbered, kept as bytes, reprinted as they are, and never given to a bay with the customer's name.

use crate::record::{flowing, layout};
use standpipe_proto::v1::customer_service_client::CustomerServiceClient;
use standpipe_proto::v1::record_service_client::RecordServiceClient;
use standpipe_proto::v1::station_service_client::StationServiceClient;
use standpipe_proto::v1::{
    self, Customer, EraseCustomerRequest, IssueRequest, IssueResponse, PutCustomerRequest, ReadRequest,
    RenderRequest, fact::Kind,
};
use standpipe_server::{Desk, Role, RunningServer, SystemEntropy, kept_pin};
use standpipe_tests::blobs::{blobs, digest_of, get};
use standpipe_tests::facts;
use standpipe_tests::sealed::{Sealed, Sealer, uuid_v7};
use standpipe_tests::site::{Shown, Site, append, journal, shown};
use standpipe_tests::told::{info, reason};
use tonic::{Code, Status};

/// PIN of technician A.
const PIN: &str = "4711";

/// A site with one job, number 1, that was serviced and closed.
struct Closed {
    site: Site,
    server: RunningServer,
    sealer: Sealer,
    job: String,
    drained: Sealed,
}

impl Closed {
    async fn job() -> Self {
        let site = Site::with(&[("bay-1", Role::Bay), ("office", Role::Office)]).await;
        let mut desk = Desk::open(&site.dir()).await.unwrap();
        desk.set_pin("A", &kept_pin(PIN, &SystemEntropy).unwrap()).await.unwrap();
        desk.close().await.unwrap();
        let server = site.serve().await;
        let mut sealer = Sealer::new("bay-1", 1);
        let job = sealer.job(1);
        let mut bay = journal(server.addr, site.token("bay-1")).await;
        let mut drained = None;
        for kind in facts::whole_service() {
            let entry = match kind {
                Kind::Drain(_) => sealer.seal_typed(&job, kind, &[("mass_kilograms", "3.05 kg")]),
                kind => sealer.seal(&job, kind),
            };
            let is_drain = drained.is_none() && entry.bytes.windows(7).any(|window| window == b"3.05 kg");
            append(&mut bay, &entry).await.unwrap();
            if is_drain {
                drained = Some(entry);
            }
        }
        Self { site, server, sealer, job, drained: drained.unwrap() }
    }

    async fn state(&mut self, kind: Kind) {
        let mut bay = journal(self.server.addr, self.site.token("bay-1")).await;
        append(&mut bay, &self.sealer.seal(&self.job, kind)).await.unwrap();
    }

    /// Signs what waits for the PIN of technician A; says how much it was.
    async fn sign(&self) -> usize {
        let mut stations = StationServiceClient::new(shown(self.server.addr, self.site.token("bay-1")).await);
        let request = v1::SignRequest {
            job: self.job.clone(),
            person_code: "A".to_owned(),
            pin: PIN.to_owned(),
            entry_ids: Vec::new(),
        };
        stations.sign(request).await.unwrap().into_inner().entry_ids.len()
    }

    async fn records(&self, station: &str) -> RecordServiceClient<Shown> {
        RecordServiceClient::new(shown(self.server.addr, self.site.token(station)).await)
    }

    async fn issue(&self, station: &str, request: u64) -> Result<IssueResponse, Status> {
        self.records(station).await.issue(asked(request)).await.map(tonic::Response::into_inner)
    }

    async fn edition(&self, station: &str, edition: i32) -> Result<Vec<u8>, Status> {
        let request = RenderRequest { job: "1".into(), edition, annex: false };
        self.records(station).await.render(request).await.map(|answer| answer.into_inner().pdf)
    }

    async fn note_customer(&self) {
        let mut office = CustomerServiceClient::new(shown(self.server.addr, self.site.token("office")).await);
        let customer = Some(Customer { name: "Customer Wren".into(), telephone: String::new() });
        office.put_customer(PutCustomerRequest { job: "1".into(), customer }).await.unwrap();
    }

    async fn erase_customer(&self) {
        let mut office = CustomerServiceClient::new(shown(self.server.addr, self.site.token("office")).await);
        office.erase_customer(EraseCustomerRequest { job: "1".into() }).await.unwrap();
    }

    async fn tree_size(&self) -> i64 {
        let mut admin = journal(self.server.addr, &self.site.admin).await;
        admin.read(ReadRequest::default()).await.unwrap().into_inner().tree_size
    }

    /// The text of a record, and that it is laid out as it must be; nothing without poppler.
    fn read(&self, name: &str, pdf: &[u8]) -> Option<String> {
        let file = self.site.folder.path().join(name);
        std::fs::write(&file, pdf).unwrap();
        let pages = layout::pages(&file)?;
        layout::assert_laid_out(&file, pages);
        flowing(&file)
    }
}

fn asked(request: u64) -> IssueRequest {
    IssueRequest { job: "HL-26-0001".into(), request_id: uuid_v7(0xa0, request), person_code: "A".into() }
}

#[track_caller]
fn names_customer(refused: &Status) {
    assert_eq!(
        (refused.code(), reason(refused).as_str()),
        (Code::PermissionDenied, "RECORD_NAMES_CUSTOMER"),
        "{refused:?}"
    );
    assert_eq!(info(refused).unwrap().metadata["job"], "HL-26-0001");
    assert!(refused.message().contains("print it in the office"), "{}", refused.message());
}

#[tokio::test]
async fn an_edition_is_kept_as_bytes_and_reprinted_as_them_whatever_comes_after_it() {
    let mut closed = Closed::job().await;
    let first = closed.issue("office", 1).await.unwrap();
    assert_eq!((first.edition, first.file_name.as_str()), (1, "HL-26-0001-1.pdf"));
    let digest = digest_of(&first.pdf);
    let kept = closed.site.dir().join("blobs").join(&digest[..2]).join(&digest);
    assert_eq!(std::fs::read(&kept).unwrap(), first.pdf);
    let mut files = blobs(closed.server.addr, closed.site.token("office")).await;
    assert_eq!(get(&mut files, &digest).await.unwrap(), first.pdf);
    // The same request again is the same answer, and states nothing.
    let size = closed.tree_size().await;
    assert_eq!(closed.issue("office", 1).await.unwrap(), first);
    assert_eq!(closed.tree_size().await, size);
    closed.state(Kind::Handover(v1::Handover { edition: 1 })).await;
    closed.state(facts::temperature(41.0)).await;
    assert_eq!(closed.edition("office", 1).await.unwrap(), first.pdf);
    assert_eq!(closed.issue("office", 1).await.unwrap(), first, "also after later entries");
    closed.server.shutdown();
    closed.server.join().await.unwrap();
    closed.server = closed.site.serve().await;
    assert_eq!(closed.edition("office", 1).await.unwrap(), first.pdf);
    assert_eq!(closed.issue("office", 1).await.unwrap(), first, "also after a restart");
    let unknown = closed.edition("office", 2).await.unwrap_err();
    assert_eq!((unknown.code(), reason(&unknown).as_str()), (Code::NotFound, "EDITION_UNKNOWN"));
}

#[tokio::test]
async fn the_record_of_an_open_job_is_a_draft_only() {
    let mut closed = Closed::job().await;
    let job = closed.sealer.job(2);
    let mut bay = journal(closed.server.addr, closed.site.token("bay-1")).await;
    append(&mut bay, &closed.sealer.seal(&job, facts::arrival("PH 482 L"))).await.unwrap();
    let size = closed.tree_size().await;
    for station in ["office", "bay-1"] {
        let request = IssueRequest { job: job.clone(), ..asked(1) };
        let refused = closed.records(station).await.issue(request).await.unwrap_err();
        assert_eq!(
            (refused.code(), reason(&refused).as_str()),
            (Code::FailedPrecondition, "JOB_NOT_CLOSED"),
            "{refused:?}"
        );
        assert_eq!(
            refused.message(),
            "job HL-26-0002 is not closed; close it, then issue its record (a draft can be printed at any time)"
        );
    }
    assert_eq!(closed.tree_size().await, size, "nothing was issued");
    let request = RenderRequest { job, ..RenderRequest::default() };
    assert!(closed.records("bay-1").await.render(request).await.is_ok());
}

#[tokio::test]
async fn what_was_changed_after_an_edition_stands_in_the_next_one_with_the_old_value_and_the_reason() {
    let mut closed = Closed::job().await;
    let first = closed.issue("office", 1).await.unwrap();
    let right = v1::Fact { kind: Some(facts::drained(3.25)) };
    let correction = v1::Correction {
        corrected_entry_id: closed.drained.entry_id.clone(),
        reason: "scale read upside down".to_owned(),
        outcome: Some(v1::correction::Outcome::Replacement(Box::new(right))),
    };
    closed.state(Kind::Correction(Box::new(correction))).await;
    assert_eq!(closed.sign().await, 1, "after the record a correction counts once it is signed");
    let second = closed.issue("office", 2).await.unwrap();
    assert_eq!((second.edition, second.file_name.as_str()), (2, "HL-26-0001-2.pdf"));
    assert!(second.pdf != first.pdf && second.check_value != first.check_value);
    assert_eq!(closed.edition("office", 1).await.unwrap(), first.pdf);
    assert_eq!(closed.edition("office", 2).await.unwrap(), second.pdf);
    if let Some(text) = closed.read("first.pdf", &first.pdf) {
        assert!(text.contains("edition 1") && !text.contains("Changed afterwards"), "{text}");
    }
    if let Some(text) = closed.read("second.pdf", &second.pdf) {
        for part in ["edition 2", "Changed afterwards", "3.05", "3.25", "scale read upside down"] {
            assert!(text.contains(part), "'{part}' is missing in\n{text}");
        }
    }
    // Of two at once one is the next edition, and the other has nothing new to say.
    closed.state(facts::temperature(41.0)).await;
    let (one, other) = tokio::join!(closed.issue("office", 3), closed.issue("office", 4));
    let (issued, refused) = match (one, other) {
        (Ok(issued), Err(refused)) | (Err(refused), Ok(issued)) => (issued, refused),
        both => panic!("{both:?}"),
    };
    assert_eq!((issued.edition, reason(&refused).as_str()), (3, "RECORD_UNCHANGED"));
    assert_eq!(info(&refused).unwrap().metadata["edition"], "3");
}

#[tokio::test]
async fn a_laboratory_s_letter_after_the_closing_stands_in_a_new_edition_and_its_numbers_on_later_pages_only()
{
    let mut closed = Closed::job().await;
    let first = closed.issue("office", 1).await.unwrap();
    let letter = v1::FluidSample {
        moment: v1::SampleTime::Before.into(),
        laboratory_report: "L-77".into(),
        particles_4_per_millilitre: Some(2_600.0),
        particles_6_per_millilitre: Some(640.0),
        particles_14_per_millilitre: Some(80.0),
        crackle: v1::Crackle::Fine.into(),
        ..Default::default()
    };
    closed.state(Kind::FluidSample(letter)).await;
    let second = closed.issue("office", 2).await.unwrap();
    assert_eq!(second.edition, 2);
    closed.read("first.pdf", &first.pdf);
    if closed.read("second.pdf", &second.pdf).is_none() {
        return;
    }
    let file = |name: &str| closed.site.folder.path().join(name);
    let page = |name: &str, page| {
        let text = layout::page_text(&file(name), page).unwrap();
        text.split_whitespace().collect::<Vec<_>>().join(" ")
    };
    // One sentence of advice on the customer's page, without a number of the laboratory.
    let customer = page("second.pdf", 1);
    assert_eq!(customer.matches("The fluid before the service: this speaks for changing it (").count(), 1);
    assert!(customer.contains("water on the hot plate of the laboratory"), "{customer}");
    assert!(
        !customer.contains("ISO 4406") && !customer.contains("2 600") && !customer.contains("µm"),
        "{customer}"
    );
    let expert: String =
        (2..=layout::pages(&file("second.pdf")).unwrap()).map(|at| page("second.pdf", at)).collect();
    for part in [
        "Condition of the fluid",
        "code 19/16/13 (ISO 4406)",
        "no limit is stated",
        "(rule 2: two kinds",
        "Stated after the job was closed",
    ] {
        assert!(expert.contains(part), "'{part}' is missing in\n{expert}");
    }
    assert!(!page("first.pdf", 2).contains("ISO 4406"));
}

#[tokio::test]
async fn a_bay_issues_and_reprints_a_record_that_names_nobody() {
    let closed = Closed::job().await;
    let first = closed.issue("bay-1", 1).await.unwrap();
    assert_eq!(closed.edition("bay-1", 1).await.unwrap(), first.pdf);
    // A customer who is noted later does not make the edition that names nobody a secret.
    closed.note_customer().await;
    assert_eq!(closed.edition("bay-1", 1).await.unwrap(), first.pdf);
    assert_eq!(closed.issue("bay-1", 1).await.unwrap(), first);
}

#[tokio::test]
async fn a_record_that_names_the_customer_is_not_given_to_a_bay_also_after_the_customer_was_erased() {
    let closed = Closed::job().await;
    closed.note_customer().await;
    let size = closed.tree_size().await;
    names_customer(&closed.issue("bay-1", 1).await.unwrap_err());
    assert_eq!(closed.tree_size().await, size, "nothing was issued");
    let first = closed.issue("office", 1).await.unwrap();
    if let Some(text) = closed.read("named.pdf", &first.pdf) {
        assert!(text.contains("Customer Wren"), "{text}");
    }
    names_customer(&closed.edition("bay-1", 1).await.unwrap_err());
    names_customer(&closed.issue("bay-1", 1).await.unwrap_err());
    closed.erase_customer().await;
    names_customer(&closed.edition("bay-1", 1).await.unwrap_err());
    names_customer(&closed.issue("bay-1", 1).await.unwrap_err());
    assert_eq!(closed.edition("office", 1).await.unwrap(), first.pdf);
    // What the bay gets of the next one names nobody.
    let second = closed.issue("bay-1", 2).await.unwrap();
    assert_eq!((second.edition, closed.edition("bay-1", 2).await.unwrap()), (2, second.pdf.clone()));
    if let Some(text) = closed.read("nameless.pdf", &second.pdf) {
        assert!(!text.contains("Wren"), "{text}");
    }
    // The journal itself, which a bay reads, holds no name either.
    let mut bay = journal(closed.server.addr, closed.site.token("bay-1")).await;
    let request = ReadRequest { job: closed.job.clone(), ..ReadRequest::default() };
    let entries = bay.read(request).await.unwrap().into_inner().entries;
    assert!(entries.iter().all(|entry| !entry.entry.windows(4).any(|window| window == b"Wren")));
}
