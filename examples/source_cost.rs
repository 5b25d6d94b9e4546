//! What it costs to listen: CPU a line, from the kernel's buffer into the queue and out of it.
//!
//! `cargo run --release --example source_cost -- [PORTS] [LINES A SECOND] [SECONDS]`
//!
//! The lines are written by a second process onto pseudo-terminals, so that
//! only the listening is counted. Unix only.

#![expect(clippy::print_stdout, reason = "it is a report")]

#[cfg(unix)]
fn main() -> std::process::ExitCode {
    unix::main()
}

#[cfg(not(unix))]
fn main() {
    println!("there are no pseudo-terminals here to measure with");
}

#[cfg(unix)]
mod unix {
    use std::io::{BufRead, BufReader, Write};
    use std::process::{Command, ExitCode, Stdio};
    use std::time::Duration;

    use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};
    use rustix::time::{ClockId, clock_gettime};
    use stillohm::clock::Clock;
    use stillohm::input::What;
    use stillohm::meter::{Address, Line, PortId};
    use stillohm::source::queue::{Limit, Woken, queue};
    use stillohm::source::{PortPlan, start};
    use stillohm::text::Text;

    pub(super) fn main() -> ExitCode {
        let mut words: Vec<String> = std::env::args().skip(1).collect();
        let feeds = words.first().is_some_and(|w| w == "feed");
        if feeds {
            words.remove(0);
        }
        let number = |place: usize, usual: u64| match words.get(place) {
            Some(word) => word.parse().expect("a whole number"),
            None => usual,
        };
        let (ports, rate, seconds) = (number(0, 200), number(1, 20), number(2, 10));
        if feeds {
            feed(ports, rate, seconds);
            return ExitCode::SUCCESS;
        }
        measure(ports, rate, seconds)
    }

    /// Opens pseudo-terminals, names them, and on a word from stdin writes a line to each in turn.
    fn feed(ports: u64, rate: u64, seconds: u64) {
        let mut masters = Vec::new();
        for _ in 0..ports {
            let flags = OpenptFlags::RDWR | OpenptFlags::NOCTTY;
            let master = openpt(flags).expect("a pseudo-terminal");
            grantpt(&master).expect("granted");
            unlockpt(&master).expect("unlocked");
            let path = ptsname(&master, Vec::new()).expect("a name");
            println!("{}", path.to_string_lossy());
            masters.push(master);
        }
        let mut line = String::new();
        std::io::stdin().read_line(&mut line).expect("a word");
        let clock = Clock::start();
        let total = ports * rate * seconds;
        for count in 0..total {
            let due = count as f64 / (ports * rate) as f64;
            let now = clock.now().seconds();
            if due > now {
                std::thread::sleep(Duration::from_secs_f64(due - now));
            }
            let master = &masters[(count % ports) as usize];
            rustix::io::write(master, b"+1.2345E+01 OHM\r\n").expect("written");
        }
        std::io::stdin().read_line(&mut line).expect("a word");
    }

    fn measure(ports: u64, rate: u64, seconds: u64) -> ExitCode {
        let own = std::env::current_exe().expect("own path");
        let mut feeder = Command::new(own)
            .args([
                "feed",
                &ports.to_string(),
                &rate.to_string(),
                &seconds.to_string(),
            ])
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .spawn()
            .expect("a second process");
        let mut go = feeder.stdin.take().expect("its stdin");
        let names = BufReader::new(feeder.stdout.take().expect("its stdout")).lines();
        let plans = (0..)
            .zip(names.take(ports as usize))
            .map(|(id, path)| PortPlan {
                id: PortId(id),
                address: Address::Serial {
                    path: Text::clean(&path.expect("a path")),
                    line: Line::default(),
                },
                requests: Vec::new(),
                gatt: None,
            });
        let plans: Vec<PortPlan> = plans.collect();
        let clock = Clock::start();
        let (sender, receiver) = queue(Limit::default());
        let running = start(plans, clock, sender).expect("listening");
        running.all_tried();
        println!(
            "{ports} ports open after {:.1} ms",
            clock.now().seconds() * 1e3
        );

        let total = ports * rate * seconds;
        let (mut lines, mut chunks, mut rounds) = (0u64, 0u64, 0u64);
        let mut inputs = Vec::new();
        go.write_all(b"go\n").expect("told");
        let before = cpu();
        let began = clock.now();
        while lines < total {
            if receiver.recv_all(Some(Duration::from_secs(5)), &mut inputs) != Woken::Inputs {
                break;
            }
            rounds += 1;
            for input in inputs.drain(..) {
                if let What::Bytes { data, .. } = input.what {
                    chunks += 1;
                    lines += data.iter().filter(|b| **b == b'\n').count() as u64;
                }
            }
        }
        let used = cpu() - before;
        let took = clock.now().since(began).as_secs_f64();
        println!("{lines} of {total} lines in {took:.1} s, {chunks} chunks, {rounds} rounds");
        println!("{:.2} µs CPU a line", used * 1e6 / lines.max(1) as f64);
        go.write_all(b"done\n").expect("told");
        feeder.wait().expect("it ends");
        running.stop();
        if lines == total {
            ExitCode::SUCCESS
        } else {
            ExitCode::FAILURE
        }
    }

    /// Seconds of CPU, user and kernel, that this process used.
    fn cpu() -> f64 {
        let at = clock_gettime(ClockId::ProcessCPUTime);
        at.tv_sec as f64 + at.tv_nsec as f64 / 1e9
    }
}
