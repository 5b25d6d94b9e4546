//! Serial lines: opened, lost, found again, asked.

use super::*;

#[test]
fn lines_come_in_and_an_unplugged_port_is_said_and_comes_back() {
    let folder = tempfile::tempdir().unwrap();
    let link = folder.path().join("blower-meter");
    let first = Pty::new();
    symlink(&first.path, &link).unwrap();
    let mut bench = Bench::new(vec![serial(link.to_str().unwrap())]);
    bench.running.as_ref().unwrap().all_tried();
    bench.expect(0, "opened");
    first.write(b"12.3 ohm\n");
    bench.expect(0, "opened\n12.3 ohm\\n");
    // The link goes with the device, as the system does it; left behind, it
    // would soon lead to somebody else's terminal of the same number.
    std::fs::remove_file(&link).unwrap();
    drop(first);
    bench.expect(0, "opened\n12.3 ohm\\n\nclosed: unplugged");
    // It fails a few times meanwhile, and that is no news.
    bench.listen_on(Duration::from_millis(700));
    let second = Pty::new();
    symlink(&second.path, &link).unwrap();
    bench.expect(0, "opened\n12.3 ohm\\n\nclosed: unplugged\nopened");
    second.write(b"12.4 ohm\n");
    bench.expect(
        0,
        "opened\n12.3 ohm\\n\nclosed: unplugged\nopened\n12.4 ohm\\n",
    );
    bench.assert_monotone();
}

#[test]
fn a_link_that_leads_elsewhere_is_followed_although_the_old_device_lives() {
    let folder = tempfile::tempdir().unwrap();
    let (link, new) = (folder.path().join("meter"), folder.path().join("new"));
    let (first, second) = (Pty::new(), Pty::new());
    symlink(&first.path, &link).unwrap();
    let mut bench = Bench::new(vec![serial(link.to_str().unwrap())]);
    bench.expect(0, "opened");
    bench.listen_on(Duration::from_millis(1500));
    assert_eq!(bench.story(0), "opened");
    symlink(&second.path, &new).unwrap();
    std::fs::rename(&new, &link).unwrap();
    let moved = "opened\nclosed: its path leads to another device now\nopened";
    bench.expect(0, moved);
    first.write(b"old\n");
    second.write(b"new\n");
    bench.expect(0, &format!("{moved}\nnew\\n"));
}

#[test]
fn a_line_is_raw_every_byte_comes_as_it_was_sent_and_nothing_is_echoed() {
    let pty = Pty::new();
    let mut bench = Bench::new(vec![serial(&pty.path)]);
    bench.expect(0, "opened");
    let all: Vec<u8> = (0..=255).collect();
    pty.write(&all);
    let came = |bench: &Bench| -> Vec<u8> {
        let chunks = bench.got.iter().filter_map(|input| match &input.what {
            What::Bytes { data, .. } => Some(data.to_vec()),
            _ => None,
        });
        chunks.flatten().collect()
    };
    bench.wait_for(|b| came(b) == all, |b| format!("{:?}", came(b)));
    rustix::io::ioctl_fionbio(&pty.master, true).unwrap();
    let echoed = rustix::io::read(&pty.master, &mut [0; 16]);
    assert_eq!(echoed, Err(rustix::io::Errno::AGAIN));
}

#[test]
fn a_missing_port_is_said_once_and_tried_on() {
    let folder = tempfile::tempdir().unwrap();
    let link = folder.path().join("pump-meter");
    let mut bench = Bench::new(vec![serial(link.to_str().unwrap())]);
    bench.running.as_ref().unwrap().all_tried();
    let missing = "closed: no such device: is it plugged in?";
    bench.expect(0, missing);
    bench.listen_on(Duration::from_secs(1));
    assert_eq!(bench.story(0), missing);
    let pty = Pty::new();
    symlink(&pty.path, &link).unwrap();
    bench.expect(0, &format!("{missing}\nopened"));
}

#[test]
fn what_is_no_serial_port_is_said() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("notes.txt");
    std::fs::write(&file, "12.3 ohm\n").unwrap();
    let mut bench = Bench::new(vec![serial(file.to_str().unwrap())]);
    bench.expect(0, "closed: not a serial port");
}

#[test]
fn a_taken_port_is_said_once_and_opened_when_it_is_let_go() {
    let pty = Pty::new();
    let flags = OFlags::RDWR | OFlags::NOCTTY | OFlags::CLOEXEC;
    let other = rustix::fs::open(&pty.path, flags, Mode::empty()).unwrap();
    rustix::fs::flock(&other, FlockOperation::LockExclusive).unwrap();
    let mut bench = Bench::new(vec![serial(&pty.path)]);
    bench.expect(0, "closed: taken by another program");
    bench.listen_on(Duration::from_secs(1));
    assert_eq!(bench.story(0), "closed: taken by another program");
    drop(other);
    bench.expect(0, "closed: taken by another program\nopened");
    // And now it is ours: a second source does not get it.
    let mut second = Bench::new(vec![serial(&pty.path)]);
    second.expect(0, "closed: taken by another program");
    // Once stopped it is free again, although the far end never closed.
    drop(bench.running.take());
    second.expect(0, "closed: taken by another program\nopened");
}

#[test]
fn a_usb_device_is_found_again_under_another_name() {
    let first = Pty::new();
    let plugged = Arc::new(Mutex::new(Some(first.path.clone())));
    let usb = Arc::clone(&plugged);
    let find = move |serial: &Text| {
        assert_eq!(serial.as_str(), "HATCH-7");
        usb.lock().unwrap().as_deref().map(Text::clean)
    };
    let address = Address::Usb {
        usb: Text::clean("HATCH-7"),
        line: Line::default(),
    };
    let mut bench = Bench::asking(vec![address], &[], Limit::default(), find);
    bench.expect(0, "opened");
    *plugged.lock().unwrap() = None;
    drop(first);
    bench.expect(0, "opened\nclosed: unplugged");
    let second = Pty::new();
    *plugged.lock().unwrap() = Some(second.path.clone());
    bench.expect(0, "opened\nclosed: unplugged\nopened");
}

#[test]
fn replayed_ports_are_left_alone() {
    let replay = Address::Replay {
        name: Text::clean("old.pcapng"),
    };
    let bench = Bench::new(vec![replay]);
    bench.running.as_ref().unwrap().all_tried();
    assert_eq!(bench.story(0), "");
}

#[test]
fn units_on_one_bus_are_asked_in_turn_and_each_answer_is_waited_for() {
    let pty = Pty::new();
    let hello = Request {
        to: None,
        name: Text::clean("hello"),
        data: Bytes::from_static(b"H"),
        when: When::Start,
    };
    let requests = [hello, poll("u1", b"a?"), poll("u2", b"b?")];
    let address = vec![serial(&pty.path)];
    let mut bench = Bench::asking(address, &requests, Limit::default(), |_| None);
    let mut asked = String::new();
    for answer in ["", "1.0\n", "2.0\n", "1.1\n", "2.1\n"] {
        asked.push_str(core::str::from_utf8(&pty.read()).unwrap());
        pty.write(answer.as_bytes());
    }
    assert_eq!(asked, "Ha?b?a?b?");
    let story =
        "opened\nsent H\nsent a?\n1.0\\n\nsent b?\n2.0\\n\nsent a?\n1.1\\n\nsent b?\n2.1\\n";
    bench.wait_for(|b| b.story(0).starts_with(story), |b| b.story(0));
    bench.assert_monotone();
}
