//! Every method of every service, of health and of reflection, for every kind of caller. The list of methods is the
//! generated one, so a new method is asked for without being named here; what a bay may not is written out once more.

use standpipe_proto::{Bytes, METHODS};
use standpipe_server::{Desk, Role, Rule, TABLE};
use standpipe_tests::site::{Site, channel, shown};
use standpipe_tests::told::{call, info, reason};
use std::collections::BTreeSet;
use std::net::SocketAddr;
use tonic::{Code, Status};

/// What only the office and the administrator may.
const NOT_THE_BAY: [&str; 5] = [
    "/standpipe.v1.CustomerService/PutCustomer",
    "/standpipe.v1.CustomerService/GetCustomer",
    "/standpipe.v1.CustomerService/EraseCustomer",
    "/standpipe.v1.StationService/ListStations",
    "/standpipe.v1.TallyService/PrintTally",
];
const HEALTH: [&str; 2] = ["/grpc.health.v1.Health/Check", "/grpc.health.v1.Health/Watch"];
const REFLECTION: [&str; 2] = [
    "/grpc.reflection.v1.ServerReflection/ServerReflectionInfo",
    "/grpc.reflection.v1alpha.ServerReflection/ServerReflectionInfo",
];
/// Reasons that mean that the caller may not, whatever the message says.
const MAY_NOT: [&str; 2] = ["TOKEN_NOT_GOOD", "ROLE_NOT_PERMITTED"];

struct Callers {
    site: Site,
    revoked: String,
}

impl Callers {
    async fn enrolled() -> Self {
        let site = Site::with(&[("bay-1", Role::Bay), ("bay-2", Role::Bay), ("office", Role::Office)]).await;
        let mut desk = Desk::open(&site.dir()).await.unwrap();
        desk.revoke_station("bay-2").await.unwrap();
        desk.close().await.unwrap();
        let revoked = site.token("bay-2").to_owned();
        Self { site, revoked }
    }

    /// Callers whose token is not good, in every way in which it may be so.
    fn strangers(&self) -> Vec<Option<String>> {
        let good = self.site.token("bay-1");
        let mut strangers: Vec<_> = [
            "",
            " ",
            "0",
            "garbage",
            &"0".repeat(64),
            &self.revoked,
            &good[1..],
            &format!("{good}0"),
            &format!("{good} {good}"),
            "admin",
            "bay-1",
        ]
        .map(|token| Some(token.to_owned()))
        .into();
        strangers.push(None);
        strangers
    }

    fn stations(&self) -> [(Role, &str); 3] {
        let token = |station| self.site.token(station);
        [(Role::Bay, token("bay-1")), (Role::Office, token("office")), (Role::Admin, &self.site.admin)]
    }
}

fn all_methods() -> Vec<&'static str> {
    METHODS.iter().copied().chain(HEALTH).chain(REFLECTION).collect()
}

/// Calls a method with an empty message; health is asked for the server as a whole.
async fn ask(address: SocketAddr, token: Option<&str>, method: &str) -> Result<(), Status> {
    let answered = match token {
        Some(token) => call(shown(address, token).await, method, Bytes::new()).await,
        None => call(channel(address).await, method, Bytes::new()).await,
    };
    answered.map(drop)
}

#[test]
fn the_generated_list_names_every_method_of_the_descriptor() {
    let pool = prost_reflect::DescriptorPool::decode(standpipe_proto::DESCRIPTOR_SET).unwrap();
    let services: Vec<_> = pool.services().collect();
    let methods = services.iter().flat_map(|service| service.methods().collect::<Vec<_>>());
    let paths: BTreeSet<String> =
        methods.map(|method| format!("/{}/{}", method.parent_service().full_name(), method.name())).collect();
    assert_eq!(paths, METHODS.iter().map(|path| (*path).to_owned()).collect());
}

#[test]
fn the_published_table_says_the_same_as_this_one() {
    let rows: BTreeSet<&str> = TABLE.iter().map(|(path, _)| *path).collect();
    assert_eq!(rows, all_methods().into_iter().collect());
    for (path, rule) in TABLE {
        let expected: &[Role] = match *path {
            path if HEALTH.contains(&path) => &[],
            path if NOT_THE_BAY.contains(&path) => &[Role::Office, Role::Admin],
            _ => &Role::ALL,
        };
        let roles: &[Role] = match rule {
            Rule::Anybody => &[],
            Rule::Stations(roles) => roles,
        };
        assert_eq!(roles, expected, "{path}");
    }
}

#[tokio::test]
async fn every_role_may_call_what_the_table_says_and_nothing_else() {
    let callers = Callers::enrolled().await;
    let server = callers.site.serve().await;
    let (mut may, mut may_not) = (0, 0);
    for method in all_methods() {
        for (role, token) in callers.stations() {
            let refused = ask(server.addr, Some(token), method).await.err();
            let told = refused.as_ref().and_then(|status| info(status).ok());
            // Reading the whole site is closed to a bay for another reason than the method.
            let by_method = |told: &tonic_types::ErrorInfo| {
                MAY_NOT.contains(&told.reason.as_str())
                    && told.metadata.get("method").is_none_or(|it| it == method)
            };
            let closed = told.as_ref().is_some_and(by_method);
            assert_eq!(
                closed,
                role == Role::Bay && NOT_THE_BAY.contains(&method),
                "{method} {role:?}: {refused:?}"
            );
            if closed {
                let status = refused.unwrap();
                assert_eq!(status.code(), Code::PermissionDenied);
                assert_eq!(told.unwrap().metadata["role"], role.name());
                may_not += 1;
            } else {
                may += 1;
            }
        }
    }
    assert_eq!((may + may_not, may_not), (all_methods().len() * 3, NOT_THE_BAY.len()));
}

#[tokio::test]
async fn whoever_has_no_good_token_gets_one_and_the_same_answer_everywhere_but_at_health() {
    let callers = Callers::enrolled().await;
    let server = callers.site.serve().await;
    let mut told = BTreeSet::new();
    for method in all_methods() {
        for stranger in callers.strangers() {
            let answer = ask(server.addr, stranger.as_deref(), method).await;
            if HEALTH.contains(&method) {
                answer.unwrap();
                continue;
            }
            let status = answer.expect_err(method);
            assert_eq!(status.code(), Code::Unauthenticated, "{method} {stranger:?}");
            told.insert((status.message().to_owned(), status.details().to_vec()));
        }
    }
    assert_eq!(told.len(), 1, "{told:?}");
}

#[tokio::test]
async fn a_path_that_is_not_in_the_table_is_closed_to_everybody() {
    let callers = Callers::enrolled().await;
    let server = callers.site.serve().await;
    let unknown = [
        "/standpipe.v1.JournalService/Delete",
        "/standpipe.v1.JournalService/append",
        "/standpipe.v1.JournalService",
        "/standpipe.v2.JournalService/Append",
        "//standpipe.v1.JournalService/Append",
        "/standpipe.v1.JournalService/Append/",
        "/grpc.health.v1.Health/List",
        "/",
    ];
    for path in unknown {
        for (role, token) in callers.stations() {
            let status = ask(server.addr, Some(token), path).await.expect_err(path);
            assert_eq!(
                (status.code(), reason(&status).as_str()),
                (Code::PermissionDenied, MAY_NOT[1]),
                "{path}"
            );
            let told = info(&status).unwrap().metadata;
            assert_eq!((told["role"].as_str(), told["method"].as_str()), (role.name(), path));
        }
        let status = ask(server.addr, None, path).await.expect_err(path);
        assert_eq!(status.code(), Code::Unauthenticated, "a stranger does not learn what there is: {path}");
    }
    let long = format!("/{}", "x".repeat(8_000));
    let status = ask(server.addr, Some(&callers.site.admin), &long).await.unwrap_err();
    assert_eq!(status.code(), Code::PermissionDenied);
    assert!(status.message().len() < 300, "{}", status.message().len());
}

#[tokio::test]
async fn only_the_form_bearer_is_a_token() {
    let callers = Callers::enrolled().await;
    let server = callers.site.serve().await;
    let good = callers.site.token("bay-1").to_owned();
    let method = "/standpipe.v1.StationService/Describe";
    for (form, taken) in
        [("Bearer TOKEN", true), ("bearer TOKEN", false), ("Basic TOKEN", false), ("TOKEN", false)]
    {
        let value: tonic::metadata::MetadataValue<_> = form.replace("TOKEN", &good).parse().unwrap();
        let add = move |mut request: tonic::Request<()>| {
            request.metadata_mut().insert("authorization", value.clone());
            Ok(request)
        };
        let service = tonic::service::interceptor::InterceptedService::new(channel(server.addr).await, add);
        assert_eq!(call(service, method, Bytes::new()).await.is_ok(), taken, "{form}");
    }
}
