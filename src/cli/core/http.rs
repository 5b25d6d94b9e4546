//! The few words of HTTP that are spoken to a daemon on this machine.

use std::io::{BufRead as _, BufReader, Read as _, Write as _};
use std::net::{SocketAddr, TcpStream};
use std::time::Duration;

use serde_json::{Map, Value};

use super::super::Fail;
use super::Said;

/// Longer than the daemon itself waits.
const PATIENCE: Duration = Duration::from_secs(20);

/// Posts JSON as the page does.
pub(super) fn post(at: SocketAddr, path: &str, said: &Map<String, Value>) -> Result<Said, Fail> {
    let body = Value::Object(said.clone()).to_string();
    let request = format!(
        "POST {path} HTTP/1.0\r\nHost: {at}\r\nOrigin: http://{at}\r\nContent-Type: application/json\r\nContent-Length: {}\r\n\r\n{body}",
        body.len()
    );
    let mut answer = String::new();
    open(at, &request)
        .and_then(|mut stream| stream.read_to_string(&mut answer))
        .map_err(|e| gone(at, e))?;
    let status: Option<u16> = answer.split(' ').nth(1).and_then(|s| s.parse().ok());
    let body = answer.split_once("\r\n\r\n").map_or("", |(_, body)| body);
    let body: Value = serde_json::from_str(body).unwrap_or_default();
    let error = body["error"]
        .as_str()
        .unwrap_or("the daemon does not say why")
        .to_owned();
    match status {
        Some(200) => Ok(Said::Done {
            job: body["job"].as_str().map(str::to_owned),
            seq: body["seq"].as_u64(),
        }),
        Some(409) => Ok(Said::Refused(error)),
        Some(400..=499) => Err(Fail::asked(error)),
        _ => Err(Fail::around(error)),
    }
}

/// The event stream, behind its head. HTTP/1.0: it comes as it is, in one piece.
pub(super) fn events(at: SocketAddr) -> Result<BufReader<TcpStream>, Fail> {
    let request = format!("GET /api/events HTTP/1.0\r\nHost: {at}\r\n\r\n");
    let mut stream = open(at, &request)
        .map(BufReader::new)
        .map_err(|e| gone(at, e))?;
    let mut line = String::new();
    // The daemon has subscribed before it sends the head: nothing is missed from here on.
    while line != "\r\n" {
        line.clear();
        if stream.read_line(&mut line).map_err(|e| gone(at, e))? == 0 {
            return Err(gone(at, std::io::ErrorKind::UnexpectedEof.into()));
        }
    }
    Ok(stream)
}

fn open(at: SocketAddr, request: &str) -> std::io::Result<TcpStream> {
    let mut stream = TcpStream::connect_timeout(&at, PATIENCE)?;
    stream.set_read_timeout(Some(PATIENCE))?;
    stream.write_all(request.as_bytes())?;
    Ok(stream)
}

fn gone(at: SocketAddr, e: std::io::Error) -> Fail {
    Fail::Around(anyhow::Error::new(e).context(format!("the daemon at {at} does not answer")))
}
