"""What a person does beside the straight way: a clip that fell, a row taken back, a form by keys, two screens."""

import time

from bench import Hands
from checks import soon
from eyes import READS, Eyes, Keys, bench_path

PAGE_AWAY = 5.0  # seconds after which a closed page has let go


def point(eyes, name):
    return next((p for p in eyes.points() if p[0] == name), [name, "", "", ""])


def a_fallen_clip_is_left_undecided_and_then_proven(checks, hall, eyes):
    check, ground = checks.check, "ground all to ground"
    job = hall.start("clip", "HB-CP 45", asset="feeder 9")
    eyes.go(bench_path("clip"))
    hands = Hands(hall, "clip", job, confirm=eyes.confirms())
    view, meter = hands.to("ground"), hall.ohms["clip"]

    def over_range():
        """Clips on, nothing read: Enter says so, and the row is there."""
        meter.open()
        soon(lambda: eyes.there('button.first[data-act="clips_on"]'), 5.0)
        time.sleep(READS)
        eyes.enter()
        soon(lambda: "second lead" in (eyes.text("#ask") or ""), 8.0)
        return soon(lambda: point(eyes, ground), 3.0, lambda p: p[1] == "over-range")

    check("the page asks for the ground", eyes.asked(view["ask"]["say"]), view["ask"]["say"])
    found = over_range()
    check("over-range with nothing proven is undecided", ("?" in found[3], "leads unproven" in found[3], "pass" in found[3]), (True, True, False))
    check("the second lead is asked for", soon(lambda: "second lead" in (eyes.text("#ask") or ""), 3.0), True)
    # The clip lies on the floor: the winding does not come back, however long one waits.
    time.sleep(4.0)
    check("nothing passes while the clip lies there", "pass" in point(eyes, ground)[3], False)
    eyes.key("r")
    check("what to measure again is asked", soon(lambda: eyes.there(".panel select"), 3.0), True)
    check("the last one measured comes first", (eyes.texts(".panel option") or [""])[0].startswith(ground), True)
    eyes.key(Keys.TAB)
    time.sleep(READS)
    eyes.enter()
    check("the ground is asked for again", eyes.asked(view["ask"]["say"], 5.0), view["ask"]["say"])
    over_range()
    meter.on("41.30")
    check("the leads are asked for last", soon(lambda: "once more" in (eyes.text("#ask") or ""), 10.0), True)
    check("before they are proven it does not pass", "pass" in point(eyes, ground)[3], False)
    meter.open()
    time.sleep(1.2)
    meter.on("0.30")
    # The view is ahead of the disk; the log is not.
    ended = lambda: any(r["job"] == job and r["event"] == "job_end" for r in hall.daemon.log())
    check("the job ends", soon(ended, 15.0), True)
    last = [r for r in hall.daemon.log() if r["job"] == job and r["test"] == "ground" and r["point"] == "all_to_ground" and r["event"] in ("open", "judged")][-1]
    check(f"proven before and after it passes ({last['reason']})", (last["verdict"], last["finding"]), ("pass", "no_fault_seen"))
    eyes.go(f"/jobs/{job}")
    check("the job's page keeps the first one", "Measured again" in eyes.body(), True)


def a_row_is_withdrawn_with_a_reason(checks, hall, eyes):
    check = checks.check
    job = hall.start("clip", asset="pump 4")
    view = Hands(hall, "clip", job).to("ground")
    seq = next(p["seq"] for p in view["points"] if p["test"] == "winding")
    eyes.go(f"/jobs/{job}")
    button = f'[data-withdraw="{seq}"]'
    check("the row can be withdrawn", soon(lambda: eyes.there(button), 3.0), True)
    eyes.js("document.querySelector(arguments[0]).focus()", button)
    eyes.enter()
    eyes.enter()
    check("without a reason nothing is withdrawn", [r for r in hall.daemon.log() if r["event"] == "withdrawn"], [])
    eyes.key("the clip was on the paint")
    eyes.enter()
    taken = soon(lambda: [r for r in hall.daemon.log() if r["event"] == "withdrawn" and r["of_seq"] == str(seq)], 5.0)
    check("a row says so, with the reason", [r["reason"] for r in taken], ["the clip was on the paint"])
    check("the page says so", soon(lambda: "Withdrawn in" in eyes.body(), 5.0), True)
    again = soon(lambda: hall.job(job), 5.0, lambda j: j["ask"]["test"] == "winding")
    check("its point is asked for again", again["ask"]["test"], "winding")
    check("nothing is deleted", any(r["seq"] == str(seq) for r in hall.daemon.log()), True)
    hall.post(f"/api/jobs/{job}/end")


def a_job_is_started_by_keys_and_a_scanner(checks, hall, eyes):
    check = checks.check
    eyes.wide(360, 640)
    eyes.go("/start?bench=forms")
    low = eyes.js("return document.getElementById('asset').getBoundingClientRect().bottom")
    check("the first field is in sight at 360 by 640", low <= 640, True)
    eyes.wide(1280, 900)
    eyes.js("document.getElementById('asset').focus()")
    # A scanner types fast and ends with Enter.
    eyes.key("PUMP-0815" + Keys.ENTER)
    time.sleep(0.5)
    check("a scanned code starts nothing", (eyes.js("return location.pathname"), hall.state()["jobs"] and [j for j in hall.state()["jobs"] if j["bench"] == "forms"]), ("/start", []))
    check("the scanned code stays", eyes.js("return document.getElementById('asset').value"), "PUMP-0815")
    eyes.js("document.getElementById('temperature').focus()")
    eyes.key("warm")
    eyes.js("document.querySelector('#start button[type=submit]').focus()")
    eyes.enter()
    wrong = soon(lambda: eyes.js("return [...document.querySelectorAll('[aria-invalid]')].map(e => e.id)"), 5.0)
    check("what is missing or wrong is marked at its field", sorted(wrong), ["motor", "temperature"])
    check("the first of them has the focus", eyes.js("return document.activeElement.id"), "motor")
    check("what was typed stays", eyes.js("return ['asset', 'temperature'].map(id => document.getElementById(id).value)"), ["PUMP-0815", "warm"])
    eyes.key("cp 40")
    soon(lambda: eyes.js("return document.querySelectorAll('#motor-list [role=option]').length"), 5.0)
    eyes.key(Keys.ARROW_DOWN)
    eyes.enter()
    check("a model is chosen by arrow and Enter", eyes.js("return document.getElementById('motor').value"), "HB-CP 40")
    eyes.js("const t = document.getElementById('temperature'); t.focus(); t.select()")
    eyes.key("18C")
    eyes.js("document.getElementById('tester').focus()")
    eyes.key("Ida")
    eyes.js("document.querySelector('#start button[type=submit]').focus()")
    eyes.enter()
    check("the job is on its bench", soon(lambda: eyes.js("return location.pathname"), 5.0, lambda p: p == "/bench/forms"), "/bench/forms")
    job = soon(lambda: next((j for j in hall.state()["jobs"] if j["bench"] == "forms"), None), 5.0)
    check("it is what was typed", (job["asset"], job["motor"], job["tester"]), ("PUMP-0815", "HB-CP 40", "Ida"))

    # Set aside and gone on with, by keys.
    soon(lambda: eyes.there('[data-act="park"]'), 3.0)
    eyes.js("document.activeElement.blur()")
    eyes.key("p")
    soon(lambda: eyes.there(".panel input"), 3.0)
    eyes.key("it cools")
    eyes.enter()
    check("it is set aside", soon(lambda: hall.job(job["job"]), 5.0, lambda j: j["state"] == "parked")["state"], "parked")
    go_on = f'button[data-act="go_on"][data-job="{job["job"]}"]'
    check("it is offered to go on with", soon(lambda: eyes.there(go_on), 3.0), True)
    eyes.js("document.querySelector(arguments[0]).focus()", go_on)
    time.sleep(READS)
    eyes.enter()
    check("it goes on", soon(lambda: hall.job(job["job"]), 5.0, lambda j: j["state"] == "active")["state"], "active")
    hall.post(f"/api/jobs/{job['job']}/end")


def one_page_acts_and_another_watches_until_it_takes_over(checks, hall, eyes):
    check = checks.check
    job = hall.start("forms", asset="blower 3")
    whose = lambda viewer: viewer.js("const w = document.getElementById('watching'); return w.hidden ? '' : w.querySelector('.whose').textContent")
    parked = lambda: hall.job(job)["state"] == "parked"
    eyes.go(bench_path("forms"))
    with Eyes(hall.address) as other:
        other.go(bench_path("forms"))
        check("who does not watch is told nothing", whose(eyes), "")
        soon(lambda: eyes.there("button.first[data-act=confirm]"), 3.0)
        eyes.js("document.activeElement.blur()")
        time.sleep(READS)
        eyes.enter()
        check("the second page is told that it watches", soon(lambda: "you are watching" in whose(other), 3.0), True)
        check("the first is not", whose(eyes), "")
        check("its buttons are not to be pressed", other.js("return [...document.querySelectorAll('#job [data-act]')].every(b => b.getAttribute('aria-disabled') === 'true')"), True)
        other.js("document.activeElement.blur()")
        other.key("p")
        check("a press says why", soon(lambda: "Take over first" in other.body(), 3.0), True)
        check("and does nothing", (parked(), other.there(".panel")), (False, False))
        eyes.driver.refresh()
        time.sleep(1.0)
        check("a reload keeps the bench", (whose(eyes), "you are watching" in whose(other)), ("", True))
        other.js("document.querySelector('.takes').focus()")
        other.enter()
        check("taking over is asked twice", other.js("return document.activeElement.textContent"), "Keep watching")
        other.js("document.querySelector('#watching .yes').focus()")
        other.enter()
        check("who has lost it hears it", soon(lambda: "has taken over" in whose(eyes), 3.0), True)
        check("who has it may act", soon(lambda: whose(other) == "", 3.0), True)
        other.js("document.activeElement.blur()")
        time.sleep(READS)
        other.key("p")
        soon(lambda: other.there(".panel input"), 3.0)
        other.key("lunch")
        other.enter()
        check("and its acts are done", soon(parked, 5.0), True)
    check("a closed page lets go", soon(lambda: whose(eyes) == "", PAGE_AWAY + 5.0), True)
    hall.post(f"/api/jobs/{job}/go_on")
    hall.post(f"/api/jobs/{job}/end")


ACTING = (
    a_fallen_clip_is_left_undecided_and_then_proven,
    a_row_is_withdrawn_with_a_reason,
    a_job_is_started_by_keys_and_a_scanner,
    one_page_acts_and_another_watches_until_it_takes_over,
)
