"""A daemon with simulated meters on pseudo-terminals, and a person's hands at them."""

import json
import os
import pty
import select
import subprocess
import sys
import threading
import time
import tty

sys.path.insert(0, os.path.dirname(os.path.dirname(os.path.abspath(__file__))))

from daemon import Daemon, need  # noqa: E402

MOTORS = (
    "model,kind,rated_v,reference_c,main_min_ohms,main_max_ohms,start_min_ohms,start_max_ohms,line_min_ohms,line_max_ohms,electronics,profile,source\n"
    "HB-CP 40,two_wire,230,25,38.0,44.0,,,,,no,machinery,plate of the ponds\n"
    "HB-CP 45,two_wire,230,20,38.0,44.0,,,,,yes,machinery,plate of the ponds\n"
    "HB-AB 7,three_phase,400,20,,,,,4.6,5.4,no,machinery,plate of the ponds\n"
)
HOSTILE = "<img src=x onerror=\"window.hurt=1\"><b id=hurt>&amp;'"


class Ohms:
    """An ohmmeter of lines on a pseudo-terminal, ten a second; `None` is a line that is silent."""

    PERIOD = 0.1

    def __init__(self):
        self.master, self.slave = pty.openpty()
        tty.setraw(self.slave)
        self.port, self.clips = os.ttyname(self.slave), "OL"
        threading.Thread(target=self._serve, daemon=True).start()

    def open(self):
        self.clips = "OL"

    def on(self, shown):
        """The clips on something that shows so many ohms, such as `41.30`."""
        self.clips = f"{shown} Ohm"

    def silent(self):
        self.clips = None

    def line(self):
        return self.clips

    def _serve(self):
        while True:
            line = self.line()
            # With nobody at the other end a write would wait for ever.
            if line is not None and select.select([], [self.master], [], 0)[1]:
                os.write(self.master, f"{line}\r\n".encode())
            time.sleep(self.PERIOD)


class Tester(Ohms):
    """An insulation tester of lines: resistance, test voltage, seconds under it."""

    def __init__(self):
        self.pressed = None
        super().__init__()

    def press(self, shown, volts):
        self.pressed = (time.monotonic(), shown, volts)

    def release(self):
        self.pressed = None

    def line(self):
        if self.clips is None:
            return None
        if self.pressed is None:
            return "---;0 V;0.0 s"
        since, shown, volts = self.pressed
        return f"{shown};{volts} V;{time.monotonic() - since:.1f} s"


class Hall:
    """One daemon, a pair of meters at each of its benches."""

    def __init__(self, stillohm, folder, benches, ohms=Ohms, rows=None):
        """`rows`: a program that makes a log, and how many rows it makes before the daemon starts."""
        os.makedirs(folder, exist_ok=True)
        with open(os.path.join(folder, "motors.csv"), "w", encoding="utf-8") as f:
            f.write(MOTORS)
        self.ohms, self.tester, tables = {}, {}, []
        for bench in benches:
            ohmmeter, tester = self.ohms[bench], self.tester[bench] = ohms(), Tester()
            for meter, name, protocol, more in (
                (ohmmeter, f"{bench} ohms", "text-line", {"accuracy": "[{ percent = 0.5, counts = 2 }]", "over_range_above_ohms": "40_000_000"}),
                (tester, f"{bench} megohms", "insulation-line", {"accuracy": "[{ percent = 5, counts = 3 }]", "measures": '["insulation"]'}),
            ):
                tables.append({"name": json.dumps(name), "bench": json.dumps(bench), "protocol": f'"{protocol}"', "serial": f'{{ path = "{meter.port}", baud = 9600 }}', **more})
        self.daemon = Daemon(stillohm, folder, tables, top='motors = "motors.csv"\n')
        if rows:
            subprocess.run([*rows, self.daemon.data], check=True, stderr=subprocess.DEVNULL)
        self.daemon.start()

    @property
    def address(self):
        return f"http://127.0.0.1:{self.daemon.web}"

    def state(self):
        return self.daemon.request("GET", "/api/state")[1]

    def post(self, path, **body):
        status, answer = self.daemon.request("POST", path, body)
        need(status == 200, f"POST {path} {body}: expected 200, found {status}: {answer}")
        return answer

    def start(self, bench, motor="HB-CP 40", asset="", **more):
        return self.post("/api/jobs", motor=motor, bench=bench, asset=asset or f"asset of {bench}", **more)["job"]

    def job(self, job):
        """The job as the API gives it; None when it has ended."""
        return next((j for j in self.state()["jobs"] if j["job"] == job), None)


# What a person's meter shows at each point of a motor with nothing wrong.
USUAL = {
    "leads before": "0.30",
    "ground_path path": "0.50",
    "winding main": "41.30",
    "winding line_12": "5.30",
    "winding line_23": "5.30",
    "winding line_31": "5.30",
    "ground all_to_ground": "60.0 M",
    "leads after": "0.30",
}


class Hands:
    """A person who does what one job asks for; `confirm` and `saw` are what eyes and keys do at the page."""

    def __init__(self, hall, bench, job, shows=(), confirm=None, saw=lambda ask: None):
        self.hall, self.bench, self.job, self.saw = hall, bench, job, saw
        self.shows = {**USUAL, **dict(shows)}
        self.confirm = confirm or (lambda ask: hall.post(f"/api/jobs/{job}/confirm", what=ask["confirm"]))
        self.asked = []

    def until(self, holds, steps=60):
        """Step by step until the job is as wanted, or has ended."""
        for _ in range(steps):
            view = self.hall.job(self.job)
            if view is None or holds(view):
                return view
            self.step(view)
        need(False, f"no end after {steps} steps; last asked for: {self.asked[-3:]}")

    def to(self, test):
        return self.until(lambda view: view["ask"]["test"] == test)

    def step(self, view):
        ask = view["ask"]
        self.asked.append(ask)
        self.saw(ask)
        if ask["confirm"] == "voltage_off":
            # The tester says so itself.
            self.moved(view, 5.0)
        elif ask["confirm"]:
            self.confirm(ask)
            self.moved(view, 5.0)
        elif ask["meter"].endswith("megohms"):
            # Joined, the tester has no voltage on its clips.
            joined = ask["test"] == "leads"
            self.press("0.00 MOhm" if joined else "550 MOhm", 1 if joined else 512, view)
        else:
            meter = self.hall.ohms[self.bench]
            meter.open()
            time.sleep(1.2)
            meter.on(self.shows[f"{ask['test']} {ask['point']}"])
            self.moved(view, 9.0)

    def press(self, shown, volts, view):
        tester = self.hall.tester[self.bench]
        tester.press(shown, volts)
        try:
            self.moved(view, 75.0)
        finally:
            tester.release()
        time.sleep(0.3)

    def moved(self, before, seconds):
        """Waits until what is asked for or taken has changed."""
        key = lambda job: job and (job["ask"], [(p["test"], p["point"], p["seq"]) for p in job["points"]])
        until = time.monotonic() + seconds
        while key(self.hall.job(self.job)) == key(before):
            need(time.monotonic() < until, f"nothing changed in {seconds} s after {before['ask']}")
            time.sleep(0.05)
