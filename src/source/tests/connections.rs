//! TCP: connected, refused, silent, asked.

use super::*;

#[test]
fn a_connection_that_ends_is_said_and_made_again() {
    let listener = TcpListener::bind("127.0.0.1:0").unwrap();
    let address = listener.local_addr().unwrap();
    let mut bench = Bench::new(vec![
        tcp(address),
        tcp(format!("localhost:{}", address.port())),
    ]);
    let mut streams: Vec<TcpStream> = (0..2).map(|_| listener.accept().unwrap().0).collect();
    for stream in &mut streams {
        stream.write_all(b"12.3\n").unwrap();
    }
    bench.expect(0, "opened\n12.3\\n");
    bench.expect(1, "opened\n12.3\\n");
    drop(streams);
    drop(listener);
    let ended = "opened\n12.3\\n\nclosed: the other side ended the connection";
    bench.expect(0, ended);
    bench.listen_on(Duration::from_millis(700));
    assert_eq!(bench.story(0), ended, "refused meanwhile: no news");
    let _listener = TcpListener::bind(address).unwrap();
    bench.expect(0, &format!("{ended}\nopened"));
}

#[test]
fn nothing_listening_and_no_address_are_said() {
    // Bound and closed again: nobody listens there now.
    let free = TcpListener::bind("127.0.0.1:0")
        .unwrap()
        .local_addr()
        .unwrap();
    let mut bench = Bench::new(vec![tcp(free), tcp("hatchery"), tcp("hatchery:port")]);
    bench.running.as_ref().unwrap().all_tried();
    bench.expect(0, "closed: connection refused: nothing listens there");
    bench.expect(1, "closed: expected HOST:PORT as address, found hatchery");
    bench.expect(
        2,
        "closed: expected HOST:PORT as address, found hatchery:port",
    );
}

#[test]
fn a_host_name_is_looked_up_without_holding_up_the_others() {
    let listener = TcpListener::bind("127.0.0.1:0").unwrap();
    let port = listener.local_addr().unwrap().port();
    let pty = Pty::new();
    // Both are for the system's look-up and need no network: the old short
    // form of an address, and a name that cannot exist (an empty label).
    let addresses = vec![
        tcp(format!("127.1:{port}")),
        tcp("pump..house:4001"),
        serial(&pty.path),
    ];
    let mut bench = Bench::new(addresses);
    bench.expect(2, "opened");
    bench.expect(0, "opened");
    bench.expect(1, "closed: the host name pump..house is not known");
}

#[test]
fn a_connection_is_asked_as_well_and_again_after_it_came_back() {
    let listener = TcpListener::bind("127.0.0.1:0").unwrap();
    let address = tcp(listener.local_addr().unwrap());
    let requests = [poll("read", b"READ?\n")];
    let mut bench = Bench::asking(vec![address], &requests, Limit::default(), |_| None);
    for _ in 0..2 {
        let (mut stream, _) = listener.accept().unwrap();
        let mut asked = [0; 6];
        stream.read_exact(&mut asked).unwrap();
        assert_eq!(&asked, b"READ?\n");
        stream.write_all(b"7\n").unwrap();
        stream.read_exact(&mut asked).unwrap();
    }
    let once = "opened\nsent READ?\\n\n7\\n\nsent READ?\\n";
    let story = format!("{once}\nclosed: the other side ended the connection\n{once}");
    bench.wait_for(|b| b.story(0).starts_with(&story), |b| b.story(0));
}

/// A listener whose waiting room is full answers nobody: the nearest thing
/// here to a machine that is switched off.
#[cfg(target_os = "linux")]
#[test]
fn an_address_that_does_not_answer_is_said_and_tried_on() {
    use rustix::net::{AddressFamily, SocketType, bind, getsockname, listen, socket};
    let silent = socket(AddressFamily::INET, SocketType::STREAM, None).unwrap();
    let any: std::net::SocketAddr = "127.0.0.1:0".parse().unwrap();
    bind(&silent, &any).unwrap();
    listen(&silent, 0).unwrap();
    let address = std::net::SocketAddr::try_from(getsockname(&silent).unwrap()).unwrap();
    let mut waiting = Vec::new();
    while let Ok(stream) = TcpStream::connect_timeout(&address, Duration::from_millis(300)) {
        waiting.push(stream);
    }
    let mut bench = Bench::new(vec![tcp(address)]);
    bench.running.as_ref().unwrap().all_tried();
    bench.expect(0, "closed: no answer from that address");
    for _ in &waiting {
        drop(rustix::net::accept(&silent).unwrap());
    }
    bench.expect(0, "closed: no answer from that address\nopened");
}
