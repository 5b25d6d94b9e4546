#!/usr/bin/env python3
"""The pages in Chromium, against a running daemon with simulated meters on pseudo-terminals.

    main.py STILLOHM FOLDER-OF-AXE [WORDS]    only the cases whose name has the words

Four people at once, each with a Chromium: one measures a whole job with Enter
alone, one is interrupted in the middle of hers and sets up a meter, one does what is
beside the straight way, one goes round all pages and reviews what was measured. Exit 1 with a list of what did not hold. FOLDER-OF-AXE has node_modules/axe-core.
"""

import os
import sys
import tempfile
import threading
import time

from acting import ACTING
from bench import HOSTILE, Hall
from checks import Checks
from eyes import Eyes, axe_script
from hands_free import a_whole_two_wire_job_needs_only_enter_and_hands
from interrupted import INTERRUPTED
from everywhere import ROUND
from reviewing import REVIEWING
from setting_up import SETTING_UP
from traces import TRACES

BENCHES = ("hands", "lines", "board", "clip", "forms", HOSTILE)


def main():
    if len(sys.argv) not in (3, 4):
        print(__doc__, file=sys.stderr)
        return 2
    stillohm, axe = os.path.abspath(sys.argv[1]), axe_script(sys.argv[2])
    words = sys.argv[3] if len(sys.argv) == 4 else ""
    checks, began = Checks(), time.monotonic()
    wanted = lambda case: words in case.__name__.replace("_", " ")

    def with_eyes(hall, cases, *more):
        if not any(map(wanted, cases)):
            return
        with Eyes(hall.address) as eyes:
            for case in filter(wanted, cases):
                checks.run(case, checks, hall, eyes, *more)

    with tempfile.TemporaryDirectory(prefix="stillohm-browser-") as folder:
        hall, single = Hall(stillohm, os.path.join(folder, "several"), BENCHES), Hall(stillohm, os.path.join(folder, "one"), ["only"])
        people = [
            threading.Thread(target=with_eyes, args=(hall, [a_whole_two_wire_job_needs_only_enter_and_hands])),
            threading.Thread(target=with_eyes, args=(single, INTERRUPTED + SETTING_UP)),
            threading.Thread(target=with_eyes, args=(hall, ACTING)),
            threading.Thread(target=with_eyes, args=(hall, ROUND + TRACES + REVIEWING, axe)),
        ]
        for person in people:
            person.start()
        for person in people:
            person.join()
        for one in (hall, single):
            one.daemon.put_down()
    for failure in checks.failed:
        print(f"browser: {failure}", file=sys.stderr)
    print(f"{checks.held} checks hold, {len(checks.failed)} do not, {time.monotonic() - began:.0f} s")
    return 1 if checks.failed or not checks.held else 0


if __name__ == "__main__":
    sys.exit(main())
