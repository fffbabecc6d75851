//! Cookies over TLS: they are kept for encrypted connections to this very host only.
//!
//! The pages know their cookies by plain names. Over TLS each carries the prefix `__Host-` outside, which makes a
//! browser refuse it from any other host and from a plain connection (RFC 6265bis, section 4.1.3.2), and one that came
//! without the prefix is not looked at. Called by [`super::guard`] only.

use axum::http::HeaderMap;
use axum::http::header::{self, HeaderValue};

const PREFIX: &str = "__Host-";

/// Leaves of a request's cookies those that were set over TLS, under their plain names.
pub(super) fn taken_in(headers: &mut HeaderMap) {
    let lines = headers.get_all(header::COOKIE).into_iter().filter_map(|line| line.to_str().ok());
    let pairs = lines.flat_map(|line| line.split(';')).filter_map(|pair| pair.trim().strip_prefix(PREFIX));
    let own = pairs.collect::<Vec<_>>().join("; ");
    headers.remove(header::COOKIE);
    if let Ok(own) = HeaderValue::from_str(&own)
        && !own.is_empty()
    {
        headers.insert(header::COOKIE, own);
    }
}

/// Makes the cookies of an answer such that only TLS to this host brings them back.
pub(super) fn sent_out(headers: &mut HeaderMap) {
    let set: Vec<HeaderValue> = headers.get_all(header::SET_COOKIE).into_iter().cloned().collect();
    headers.remove(header::SET_COOKIE);
    for cookie in set.iter().filter_map(|cookie| cookie.to_str().ok()) {
        if let Ok(cookie) = HeaderValue::from_str(&format!("{PREFIX}{cookie}; Secure")) {
            headers.append(header::SET_COOKIE, cookie);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_cookie_set_over_tls_comes_back_under_its_plain_name() {
        let mut answer = HeaderMap::new();
        answer.append(header::SET_COOKIE, HeaderValue::from_static("standpipe-session=k3y; Path=/"));
        answer.append(header::SET_COOKIE, HeaderValue::from_static("standpipe-login=; Path=/"));
        sent_out(&mut answer);
        let sent: Vec<_> = answer.get_all(header::SET_COOKIE).into_iter().collect();
        assert_eq!(sent[0], "__Host-standpipe-session=k3y; Path=/; Secure");
        assert_eq!(sent[1], "__Host-standpipe-login=; Path=/; Secure");
        let mut request = HeaderMap::new();
        request.append(header::COOKIE, HeaderValue::from_static("a=1; __Host-standpipe-session=k3y"));
        taken_in(&mut request);
        assert_eq!(request.get(header::COOKIE).unwrap(), "standpipe-session=k3y");
    }

    #[test]
    fn a_cookie_without_the_prefix_is_not_looked_at() {
        let mut request = HeaderMap::new();
        request.append(header::COOKIE, HeaderValue::from_static("standpipe-session=k3y"));
        taken_in(&mut request);
        assert_eq!(request.get(header::COOKIE), None);
    }
}
