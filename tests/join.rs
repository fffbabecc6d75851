//! Becoming a station: by a code over TLS, whoever stands between; and how a token ends, is renewed and is replaced.

mod between;
mod codes;
mod path;
mod renewal;

use standpipe_proto::join::{JoinCode, SECRET_LENGTH};
use standpipe_proto::v1::station_service_client::StationServiceClient;
use standpipe_proto::v1::{DescribeRequest, JoinRequest, JoinResponse};
use standpipe_server::{Desk, Done, Order, Role, order};
use standpipe_tests::site::{Site, channel, shown};
use std::net::SocketAddr;
use std::path::Path;
use tonic::Status;

/// A code for a station, made as the verb makes it.
async fn code(dir: &Path, station: &str) -> JoinCode {
    let done = order(dir, Order::OpenCode { name: station.into() }).await.unwrap();
    let Done::Invited { code, .. } = done else { panic!("{done:?}") };
    JoinCode::read(&code).unwrap()
}

/// Shows a code to the server in the words of the protocol.
async fn join(address: SocketAddr, secret: &str, token: &str) -> Result<JoinResponse, Status> {
    let request =
        JoinRequest { secret: secret.to_owned(), token: token.to_owned(), ..JoinRequest::default() };
    let mut client = StationServiceClient::new(channel(address).await);
    client.join(request).await.map(tonic::Response::into_inner)
}

/// A token of a caller's own making.
fn token(digit: char) -> String {
    digit.to_string().repeat(64)
}

/// The station that a token is good for, or the refusal.
async fn who(address: SocketAddr, token: &str) -> Result<String, Status> {
    let mut client = StationServiceClient::new(shown(address, token).await);
    let answer = client.describe(DescribeRequest {}).await?.into_inner();
    Ok(answer.station.unwrap().station_id)
}

/// A secret like this one but for its last character.
fn guess(secret: &str, number: usize) -> String {
    let letters = b"0123456789ABCDEFGHJKMNPQRSTVWXYZ";
    let own = secret.as_bytes()[SECRET_LENGTH - 1];
    let others: Vec<u8> = letters.iter().copied().filter(|letter| *letter != own).collect();
    format!("{}{}", &secret[..SECRET_LENGTH - 1], char::from(others[number]))
}

/// A site with bay-1, which has a token, and bay-2, which is enrolled and has none.
async fn site() -> Site {
    let site = Site::bare(&[("bay-1", Role::Bay)]).await;
    let mut desk = Desk::open(&site.dir()).await.unwrap();
    desk.invite_station("bay-2", Role::Bay).await.unwrap();
    desk.close().await.unwrap();
    site
}
