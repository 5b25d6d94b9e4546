//! Modbus answers, as the one who asks hears them.
//!
//! On a serial line only the request says what an answer looks like: unit,
//! function and length are expected, anything else is passed byte by byte.
//! Over TCP the header says the length and the transaction names the request.
//! Source: MODBUS Application Protocol V1.1b3; MODBUS over Serial Line V1.02;
//! MODBUS Messaging on TCP/IP Implementation Guide V1.0b (clauses from memory).

use super::{Rule, Step};

/// What was asked, and so what an answer looks like.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Expect {
    /// The transaction; on a serial line it means nothing.
    pub transaction: u16,
    /// The unit asked.
    pub unit: u8,
    /// The function.
    pub function: u8,
    /// The first register.
    pub register: u16,
    /// How many registers.
    pub count: u16,
}

impl Expect {
    /// The request without address and check.
    pub fn pdu(&self) -> [u8; 5] {
        let [r1, r0] = self.register.to_be_bytes();
        let [c1, c0] = self.count.to_be_bytes();
        [self.function, r1, r0, c1, c0]
    }

    /// The request over TCP.
    pub fn tcp(&self) -> [u8; 12] {
        let [t1, t0] = self.transaction.to_be_bytes();
        let [function, r1, r0, c1, c0] = self.pdu();
        [t1, t0, 0, 0, 0, 6, self.unit, function, r1, r0, c1, c0]
    }

    /// The request on a serial line, without its check.
    pub fn rtu(&self) -> [u8; 6] {
        let [function, r1, r0, c1, c0] = self.pdu();
        [self.unit, function, r1, r0, c1, c0]
    }

    /// Reads a request over TCP: a read of registers.
    pub fn from_tcp(data: &[u8]) -> Option<Self> {
        match *data {
            [t1, t0, 0, 0, 0, 6, unit, function @ (3 | 4), r1, r0, c1, c0] => Some(Self {
                transaction: u16::from_be_bytes([t1, t0]),
                unit,
                function,
                register: u16::from_be_bytes([r1, r0]),
                count: u16::from_be_bytes([c1, c0]),
            }),
            _ => None,
        }
    }

    /// Reads a request on a serial line, whose check was found to hold.
    pub fn from_rtu(data: &[u8]) -> Option<Self> {
        match *data {
            [unit, function @ (3 | 4), r1, r0, c1, c0, _, _] => Some(Self {
                transaction: 0,
                unit,
                function,
                register: u16::from_be_bytes([r1, r0]),
                count: u16::from_be_bytes([c1, c0]),
            }),
            _ => None,
        }
    }

    fn bytes(&self) -> usize {
        usize::from(self.count) * 2
    }

    /// How long an answer is that begins with unit, function and a byte; `None` if it is no answer.
    fn answer(&self, head: &[u8]) -> Option<Shape> {
        let &[unit, ref rest @ ..] = head else {
            return Some(Shape::Open);
        };
        if unit != self.unit {
            return None;
        }
        let &[function, ref rest @ ..] = rest else {
            return Some(Shape::Open);
        };
        if function == self.function | 0x80 {
            return Some(Shape::Whole(3));
        }
        if function != self.function {
            return None;
        }
        match rest {
            [] => Some(Shape::Open),
            [count, ..] if usize::from(*count) == self.bytes() => {
                Some(Shape::Whole(3 + self.bytes()))
            }
            _ => None,
        }
    }
}

enum Shape {
    /// Too short to say.
    Open,
    /// So many bytes from unit on, without a check.
    Whole(usize),
}

/// Answers on a serial line.
#[derive(Clone, Debug, Default)]
pub struct Rtu {
    /// What is expected: what was asked, or what may be heard before anything was asked.
    pub expect: Vec<Expect>,
    /// Nothing was asked yet, as in a capture of answers alone: what is expected stays so.
    pub listening: bool,
    /// The bytes asked, which some adapters give back.
    echo: Vec<u8>,
}

impl Rtu {
    /// A request went out.
    pub fn asked(&mut self, expect: Option<Expect>, sent: &[u8]) {
        self.listening = false;
        self.expect.clear();
        self.expect.extend(expect);
        self.echo.clear();
        self.echo.extend_from_slice(sent);
    }
}

impl Rule for Rtu {
    fn step(&mut self, window: &[u8]) -> Step {
        let mut open = false;
        if !self.echo.is_empty() {
            let seen = window.len().min(self.echo.len());
            if window[..seen] == self.echo[..seen] {
                if seen < self.echo.len() {
                    open = true;
                } else {
                    self.echo.clear();
                    return Step::Skip(seen);
                }
            }
        }
        for expect in &self.expect {
            match expect.answer(window) {
                // The check follows.
                Some(Shape::Whole(n)) if window.len() >= n + 2 => return Step::Frame(n + 2),
                Some(_) => open = true,
                None => {}
            }
        }
        if open { Step::More } else { Step::Noise(1) }
    }

    fn longest(&self) -> usize {
        // ADU: 256 bytes (MODBUS over Serial Line V1.02 2.5.1).
        256
    }

    fn stood(&mut self) {
        // One question, one answer.
        if !self.listening {
            self.expect.clear();
            self.echo.clear();
        }
    }
}

/// Answers over TCP.
#[derive(Clone, Debug, Default)]
pub struct Tcp {
    /// What is expected.
    pub expect: Vec<Expect>,
    /// Nothing was asked yet, as in a capture of answers alone: what is expected stays so.
    pub listening: bool,
}

impl Tcp {
    /// A request went out.
    pub fn asked(&mut self, expect: Option<Expect>) {
        self.listening = false;
        self.expect.clear();
        self.expect.extend(expect);
    }
}

impl Rule for Tcp {
    fn step(&mut self, window: &[u8]) -> Step {
        let Some(head) = window.first_chunk::<6>() else {
            return if window
                .get(2..)
                .is_some_and(|p| p.iter().take(2).any(|b| *b != 0))
            {
                Step::Noise(1)
            } else {
                Step::More
            };
        };
        let [t1, t0, 0, 0, l1, l0] = *head else {
            return Step::Noise(1);
        };
        let length = usize::from(u16::from_be_bytes([l1, l0]));
        // Unit, function and a byte at least; 260 bytes at most.
        if !(3..=254).contains(&length) {
            return Step::Refuse("a length outside the bounds of a frame");
        }
        let total = 6 + length;
        if window.len() < total {
            return Step::More;
        }
        let transaction = u16::from_be_bytes([t1, t0]);
        let mut asked = false;
        for expect in &self.expect {
            // In a recording of answers alone nobody knows the transaction.
            if expect.transaction != transaction && !self.listening {
                continue;
            }
            asked = true;
            if let Some(Shape::Whole(n)) = expect.answer(&window[6..total])
                && n == length
            {
                return Step::Frame(total);
            }
        }
        Step::Bad(
            total,
            if asked {
                "an answer of another form or unit than was asked for"
            } else {
                "an answer that nobody asked for"
            },
        )
    }

    fn longest(&self) -> usize {
        260
    }

    fn stood(&mut self) {
        if !self.listening {
            self.expect.clear();
        }
    }
}
