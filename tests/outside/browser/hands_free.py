"""A whole job with a key, hands and eyes."""

import glob
import os
import re
import threading
import time

from bench import Hands
from checks import soon
from eyes import bench_path


class Tail:
    """For each row the last time at which it was certainly not in the log file yet."""

    def __init__(self, daemon):
        self.pattern, self.absent, self.seen, self.stop = os.path.join(daemon.data, "log", "readings-*.csv"), {}, set(), False
        threading.Thread(target=self._read, daemon=True).start()

    def _read(self):
        size, last = -1, time.time()
        while not self.stop:
            began = time.time()
            paths = glob.glob(self.pattern)
            if sum(os.path.getsize(p) for p in paths) != size:
                text = b"".join(open(p, "rb").read() for p in paths)
                size = len(text)
                for seq in re.findall(rb"^(\d+),\d{4}-", text, re.M):
                    if int(seq) not in self.seen:
                        self.seen.add(int(seq))
                        self.absent[int(seq)] = last
            last = began
            time.sleep(0.002)


def a_whole_two_wire_job_needs_only_enter_and_hands(checks, hall, eyes):
    check = checks.check
    eyes.go(bench_path("hands"))
    tail = Tail(hall.daemon)
    job = hall.start("hands", asset="pump 7", tester="Ida")

    def saw(ask):
        check(f"the one next thing at {ask['test']} {ask['point']}", eyes.asked(ask["say"]), ask["say"])
        check(f"the cautions of {ask['test']} {ask['point']}", eyes.texts(".cautions li"), ask["cautions"])

    hands = Hands(hall, "hands", job, confirm=eyes.confirms(), saw=saw)
    hands.until(lambda view: False)
    found = soon(lambda: "no fault found" in eyes.body().lower(), 5.0)
    check("the page says `no fault found` when the job has ended", found, True)
    asked = [a["test"] for a in hands.asked]
    check("a two-wire job asks for its insulation", "insulation" in asked, True)

    rows = [r for r in hall.daemon.log() if r["job"] == job]
    ends = [r["reason"].split(":")[0] for r in rows if r["event"] == "job_end"]
    check("how the job ended in the log", ends, ["no_fault_found"])
    taken = {int(seq): at for seq, at in eyes.js("return window.taken").items()}
    values = [int(r["seq"]) for r in rows if r["event"] == "value" and r["test"]]
    # The last value ends the job: then it may never stand in the table of an active one.
    check("the page showed each value but the last as taken", [v for v in values[:-1] if v not in taken], [])
    time.sleep(0.1)
    early = {seq: round(tail.absent[seq] - at, 4) for seq, at in taken.items() if seq in tail.absent and at < tail.absent[seq]}
    check("values shown as taken before their row was in the log file, by seconds", early, {})
    check("rows on the page that are in no log", sorted(set(taken) - tail.seen), [])
    check("values in the table without a row", eyes.js("return window.loose"), [])
    check("times that anything was pointed at", eyes.js("return window.pointed"), 0)
    check("errors in the console during a whole job", eyes.wrong(), [])
    tail.stop = True
