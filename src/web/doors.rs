//! Who may come in: Host, token, Origin; and what every answer carries.
//!
//! The reasons: a name that a stranger makes point here (rebinding) is stopped
//! at Host, a page of another site that posts here at Origin, another machine
//! at the token. There is no CORS: no other page may read an answer.

use std::net::{IpAddr, SocketAddr};
use std::sync::Arc;

use axum::extract::{ConnectInfo, Request, State};
use axum::http::{HeaderMap, HeaderValue, Method, StatusCode, Uri, header};
use axum::middleware::Next;
use axum::response::{IntoResponse as _, Response};
use base64::Engine as _;

use super::routes::refused;
use super::socket::Ends;
use crate::text::Text;

/// Whether the address that a page is asked for at may do more than look.
#[derive(Clone, Copy, Debug)]
pub(super) struct MayAct(pub(super) bool);

/// What is let in at one address.
#[derive(Clone, Debug)]
pub struct Doors(Arc<Rules>);

#[derive(Debug)]
struct Rules {
    listening: SocketAddr,
    token: Option<Text>,
    commands: bool,
}

impl Doors {
    /// The doors of an address. Loopback needs no token and may act; at another
    /// one everybody shows the token, and acts only if `commands` says so.
    pub(super) fn new(listening: SocketAddr, token: Option<Text>, commands: bool) -> Self {
        Self(Arc::new(Rules {
            listening,
            token,
            commands,
        }))
    }

    pub(super) fn listening(&self) -> SocketAddr {
        self.0.listening
    }

    /// Whether an address may do more than look.
    fn may_act(&self) -> bool {
        self.local_only() || self.0.commands
    }

    fn local_only(&self) -> bool {
        self.0.listening.ip().is_loopback()
    }

    /// Why a request is not let in.
    fn refuses(
        &self,
        Ends { local, peer }: Ends,
        method: &Method,
        uri: &Uri,
        headers: &HeaderMap,
    ) -> Option<(StatusCode, String)> {
        let host = match one(headers, header::HOST) {
            Some(host) if self.knows(local, host) => host,
            host => {
                let message = format!(
                    "host {:?} is not this program: expected localhost or the address listened on, with port {}",
                    host.unwrap_or_default(),
                    self.0.listening.port()
                );
                return Some((StatusCode::MISDIRECTED_REQUEST, message));
            }
        };
        if let Some(authority) = uri.authority()
            && !self.knows(local, authority.as_str())
        {
            let message = format!("the address asked for, {authority}, is not this program");
            return Some((StatusCode::MISDIRECTED_REQUEST, message));
        }
        if !self.local_only() && !self.shows_token(headers) {
            let message = "expected the token of stillohm.toml: Authorization: Bearer TOKEN, or in a browser as the password of any name";
            return Some((StatusCode::UNAUTHORIZED, message.to_owned()));
        }
        if of_this_machine(uri.path()) && !(self.local_only() && peer.ip().is_loopback()) {
            let message = "a meter is set up on the machine that it is plugged into: open this page there, by the loopback address";
            return Some((StatusCode::FORBIDDEN, message.to_owned()));
        }
        if method == Method::GET || method == Method::HEAD {
            return None;
        }
        let own = format!("http://{host}");
        if one(headers, header::ORIGIN) != Some(own.as_str()) {
            let message = format!("expected the page's own origin, Origin: {own}");
            return Some((StatusCode::FORBIDDEN, message));
        }
        let site = headers.get("sec-fetch-site");
        if site.is_some_and(|site| site != "same-origin") {
            let message = "expected a request of the page itself, found one of another site";
            return Some((StatusCode::FORBIDDEN, message.to_owned()));
        }
        if !self.may_act() {
            let message = "this address may look and not act: commands = true in [web] allows it";
            return Some((StatusCode::FORBIDDEN, message.to_owned()));
        }
        None
    }

    /// Whether `host`, with its port, is a name of this program.
    fn knows(&self, local: SocketAddr, host: &str) -> bool {
        let (name, port) = match host.rsplit_once(':') {
            Some((name, port)) if !port.contains(']') => (name, port.parse().ok()),
            _ => (host, Some(80)),
        };
        if port != Some(self.0.listening.port()) {
            return false;
        }
        let bare = name.strip_prefix('[').and_then(|n| n.strip_suffix(']'));
        let address: Option<IpAddr> = bare.unwrap_or(name).parse().ok();
        // An IPv6 address stands in brackets, and nothing else does.
        if address.is_some_and(|a| a.is_ipv6()) != bare.is_some() {
            return false;
        }
        match address {
            // The end of the connection is the address listened on when all are.
            Some(address) => {
                address.is_loopback() && (name == "127.0.0.1" || name == "[::1]")
                    || address == self.0.listening.ip()
                    || address == local.ip().to_canonical()
            }
            None => name.eq_ignore_ascii_case("localhost"),
        }
    }

    fn shows_token(&self, headers: &HeaderMap) -> bool {
        let shown = one(headers, header::AUTHORIZATION).and_then(shown);
        match (&self.0.token, shown) {
            (Some(token), Some(shown)) => same(token.as_str().as_bytes(), &shown),
            _ => false,
        }
    }
}

/// What opens ports or writes the configuration: no path, port or address to
/// open ever comes from another machine's page.
fn of_this_machine(path: &str) -> bool {
    ["/meters/new", "/api/setup", "/api/trial", "/api/meters"]
        .iter()
        .any(|own| {
            path.strip_prefix(own)
                .is_some_and(|rest| rest.is_empty() || rest.starts_with('/'))
        })
}

/// What an authorization shows: a bearer's token, or the password that a
/// browser has asked for, whatever name came with it (RFC 7617).
fn shown(authorization: &str) -> Option<Vec<u8>> {
    if let Some(token) = authorization.strip_prefix("Bearer ") {
        return Some(token.as_bytes().to_vec());
    }
    let pair = authorization.strip_prefix("Basic ")?;
    let pair = base64::engine::general_purpose::STANDARD
        .decode(pair)
        .ok()?;
    let colon = pair.iter().position(|byte| *byte == b':')?;
    Some(pair[colon + 1..].to_vec())
}

/// The value of a header that is there exactly once.
fn one(headers: &HeaderMap, name: header::HeaderName) -> Option<&str> {
    let mut all = headers.get_all(name).iter();
    let first = all.next()?.to_str().ok()?;
    all.next().is_none().then_some(first)
}

/// Compares without telling by its time how much is right.
fn same(a: &[u8], b: &[u8]) -> bool {
    a.len() == b.len() && a.iter().zip(b).fold(0, |off, (x, y)| off | (x ^ y)) == 0
}

/// Lets a request in or not, and dresses the answer.
pub(super) async fn guard(
    State(doors): State<Doors>,
    ConnectInfo(ends): ConnectInfo<Ends>,
    mut request: Request,
    next: Next,
) -> Response {
    let refusal = doors.refuses(ends, request.method(), request.uri(), request.headers());
    let mut answer = match refusal {
        Some((status, message)) => refused(status, message).into_response(),
        None => {
            request.extensions_mut().insert(MayAct(doors.may_act()));
            next.run(request).await
        }
    };
    let asks = answer.status() == StatusCode::UNAUTHORIZED;
    let headers = answer.headers_mut();
    if asks {
        let how = HeaderValue::from_static("Basic realm=\"stillohm\", charset=\"UTF-8\"");
        headers.insert(header::WWW_AUTHENTICATE, how);
    }
    for (name, value) in [
        (
            header::CONTENT_SECURITY_POLICY,
            "default-src 'self'; frame-ancestors 'none'",
        ),
        (header::X_CONTENT_TYPE_OPTIONS, "nosniff"),
        (header::REFERRER_POLICY, "no-referrer"),
        (header::CACHE_CONTROL, "no-store"),
    ] {
        headers.insert(name, HeaderValue::from_static(value));
    }
    answer
}
