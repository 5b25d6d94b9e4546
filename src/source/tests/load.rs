//! Many ports, floods, a full queue, a stop.

use super::*;

#[test]
fn a_device_that_takes_nothing_is_said_and_does_not_stop_the_others() {
    let (stuck, other) = (Pty::new(), Pty::new());
    let eager = Request {
        to: None,
        name: Text::clean("ask"),
        data: Bytes::from_static(&[b'?'; 4000]),
        when: When::Poll {
            every: Duration::ZERO,
            timeout: Duration::from_millis(5),
            quiet: Duration::ZERO,
        },
    };
    let addresses = vec![serial(&stuck.path), serial(&other.path)];
    let mut bench = Bench::asking(addresses, &[eager], Limit::default(), |_| None);
    let listens = rustix::io::fcntl_dupfd_cloexec(&other.master, 0).unwrap();
    std::thread::spawn(move || while rustix::io::read(&listens, &mut [0; 4096]).is_ok() {});
    let closed = "closed: it takes nothing of what is sent to it";
    let last = |bench: &Bench, id| bench.story(id).lines().last().unwrap_or("").to_owned();
    bench.wait_for(|b| b.story(0).contains(closed), |b| last(b, 0));
    other.write(b"12.3\n");
    bench.wait_for(|b| b.story(1).contains("\n12.3\\n"), |b| last(b, 1));
    assert!(!bench.story(1).contains("closed"));
    // It is opened again, and asked once it listens.
    rustix::io::ioctl_fionbio(&stuck.master, true).unwrap();
    let again = format!("{closed}\nopened\nsent ?");
    let asked = |bench: &Bench| {
        while rustix::io::read(&stuck.master, &mut [0; 4096]).is_ok_and(|n| n > 0) {}
        bench.story(0).contains(&again)
    };
    bench.wait_for(asked, |b| last(b, 0));
}

#[test]
fn fifty_lines_at_once_each_keep_their_order() {
    let ptys: Vec<Pty> = (0..50).map(|_| Pty::new()).collect();
    let mut bench = Bench::new(ptys.iter().map(|p| serial(&p.path)).collect());
    bench.running.as_ref().unwrap().all_tried();
    for line in 0..40 {
        for (id, pty) in ptys.iter().enumerate() {
            pty.write(format!("{id}.{line}\n").as_bytes());
        }
    }
    for id in 0..50 {
        let lines: String = (0..40).map(|line| format!("{id}.{line}\\n")).collect();
        bench.expect(id, &format!("opened\n{lines}"));
    }
    bench.assert_monotone();
}

#[test]
fn a_flood_of_garbage_is_passed_on_whole_and_the_line_beside_it_is_unharmed() {
    const FLOOD: usize = 400_000;
    let (noisy, quiet) = (Pty::new(), Pty::new());
    let mut bench = Bench::new(vec![serial(&noisy.path), serial(&quiet.path)]);
    bench.expect(1, "opened");
    let flood = std::thread::spawn(move || {
        noisy.write(&vec![0xA5; FLOOD]);
        noisy
    });
    quiet.write(b"12.3\n");
    bench.expect(1, "opened\n12.3\\n");
    let count = |bench: &Bench| -> usize {
        let sizes = bench.got.iter().map(|input| match &input.what {
            What::Bytes { port, data } if port.0 == 0 => data.len(),
            _ => 0,
        });
        sizes.sum()
    };
    bench.wait_for(|b| count(b) == FLOOD, |b| count(b).to_string());
    drop(flood.join().unwrap());
}

#[test]
fn a_full_queue_holds_bytes_back_and_says_what_may_be_lost() {
    let pty = Pty::new();
    let limit = Limit {
        inputs: 1,
        bytes: 1_000_000,
    };
    let mut bench = Bench::asking(vec![serial(&pty.path)], &[], limit, |_| None);
    bench.running.as_ref().unwrap().all_tried();
    // `opened` fills the queue; a first line makes the round that cannot be
    // put in; then more than the kernel holds is written, by one who can wait.
    pty.write(b"first\n");
    let clock = Clock::start();
    let written = std::thread::spawn(move || {
        std::thread::sleep(Duration::from_millis(300));
        pty.write(&[b'x'; 30_000]);
        pty
    });
    std::thread::sleep(Duration::from_secs(1));
    assert!(clock.now().seconds() >= 1.0);
    let whole = |bench: &Bench| bench.story(0).matches('x').count() == 30_000;
    bench.wait_for(whole, |b| b.story(0).matches('x').count().to_string());
    let story = bench.story(0);
    assert!(story.starts_with("opened\nfirst\\n\nlost\nxxx"));
    drop(written.join().unwrap());
}

#[test]
fn what_arrived_before_the_stop_is_still_handed_over() {
    let pty = Pty::new();
    // `opened` fills the queue, so the line is still in the source's hands.
    let limit = Limit {
        inputs: 1,
        bytes: 1_000_000,
    };
    let mut bench = Bench::asking(vec![serial(&pty.path)], &[], limit, |_| None);
    bench.running.as_ref().unwrap().all_tried();
    pty.write(b"last words\n");
    std::thread::sleep(Duration::from_millis(300));
    let running = bench.running.take().unwrap();
    assert!(running.listens());
    let stopped = std::thread::spawn(move || running.stop());
    std::thread::sleep(Duration::from_millis(100));
    while bench.receiver.recv_all(None, &mut bench.got) != Woken::Closed {}
    assert_eq!(bench.story(0), "opened\nlast words\\n");
    stopped.join().unwrap();
}
