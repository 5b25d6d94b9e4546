"""What was checked and what did not hold, from several threads."""

import threading
import time
import traceback


class Checks:
    """Counts what held and keeps what did not, each with the case that it belongs to."""

    def __init__(self):
        self.lock, self.held, self.failed = threading.Lock(), 0, []
        self.case = threading.local()

    def check(self, what, found, expected):
        if found == expected:
            with self.lock:
                self.held += 1
            return True
        return self.fails(f"{what}: expected {expected!r}, found {found!r}")

    def fails(self, words):
        with self.lock:
            self.failed.append(f"{getattr(self.case, 'name', '')}: {words[:1500]}")
        return False

    def run(self, case, *arguments):
        """One case; what it throws is a failure of it."""
        self.case.name = case.__name__.replace("_", " ")
        began, before = time.monotonic(), len(self.failed)
        try:
            case(*arguments)
        except Exception as why:  # a case that breaks must not hide the others
            at = traceback.extract_tb(why.__traceback__)
            ours = next((f for f in reversed(at) if "outside" in f.filename and "site-packages" not in f.filename), at[-1])
            self.fails(f"{type(why).__name__} at line {ours.lineno} ({ours.line}): {str(why).split('Stacktrace')[0]}")
        mine = [f for f in self.failed[before:] if f.startswith(self.case.name + ":")]
        print(f"{'FAILS' if mine else 'holds'}  {time.monotonic() - began:5.1f} s  {self.case.name}", flush=True)


def soon(look, seconds, holds=bool, every=0.05):
    """What is found as soon as it is as wanted; else the last that was found."""
    until = time.monotonic() + seconds
    while True:
        found = look()
        if holds(found) or time.monotonic() > until:
            return found
        time.sleep(every)
