"""What comes between a person and the end of a job."""

import time

from bench import Hands
from checks import soon
from eyes import bench_path, has_digit

# A lost line is unmistakable within 2 s; the rest is for the looking.
UNMISTAKABLE = 2.5
# The page itself notes when it has no digits and says so: asking it from here
# takes longer the busier the machine is.
NOTE_WHEN_LOST = """
window.lostAt = 0;
const quiet = arguments[0];
const timer = setInterval(() => {
  const lit = [...document.querySelectorAll(".shown")].some((e) => /[0-9]/.test(e.textContent));
  const line = document.querySelector("#line").textContent.trim();
  if (lit || line === "" || line === quiet) return;
  window.lostAt = Date.now();
  clearInterval(timer);
}, 10);
"""
OHMS = "only ohms"


def state(eyes):
    return eyes.text("#ask"), eyes.points()


def a_reload_in_the_middle_of_a_job_changes_nothing(checks, hall, eyes):
    eyes.go("/")
    checks.check("the only bench is where / leads", eyes.js("return location.pathname"), bench_path("only"))
    hall.job_now = hall.start("only", asset="pump 8")
    hands = Hands(hall, "only", hall.job_now)
    view = hands.to("winding")
    checks.check("the winding is asked for", eyes.asked(view["ask"]["say"]), view["ask"]["say"])
    before = state(eyes)
    checks.check("points on the page before", len(before[1]), len(view["points"]))
    eyes.driver.refresh()
    checks.check("ask and points after a reload", state(eyes), before)
    checks.check("ask and points after a reload and an event", (time.sleep(1.0), state(eyes))[1], before)


def a_line_that_falls_silent_blanks_its_digits(checks, hall, eyes):
    eyes.go(bench_path("only"))
    meter = hall.ohms["only"]
    meter.on("12.34")
    checks.check("digits of a meter that speaks", soon(lambda: eyes.digits(OHMS), 3.0, lambda d: "12.34" in (d or "")), "12.34 Ω")
    meter.silent()
    began = time.monotonic()
    found = soon(lambda: (eyes.digits(OHMS), has_digit(eyes.age(OHMS))), 6.0, lambda f: not has_digit(f[0]) and f[1])
    took = time.monotonic() - began
    checks.check("digits of a silent meter, and whether its age is shown", (has_digit(found[0]), found[1]), (False, True))
    checks.check(f"blank within {UNMISTAKABLE} s (after {took:.2f} s)", took <= UNMISTAKABLE, True)
    meter.open()
    back = soon(lambda: eyes.digits(OHMS), 3.0, lambda d: "over" in (d or "").lower())
    checks.check("the digits come back by themselves", back, "over-range")


def a_daemon_killed_and_started_again_is_gone_on_with(checks, hall, eyes):
    check = checks.check
    job = getattr(hall, "job_now", None) or hall.start("only", asset="pump 8")
    eyes.go(bench_path("only"))
    hall.ohms["only"].on("12.34")
    soon(lambda: eyes.digits(OHMS), 3.0, has_digit)
    check("digits before the kill", has_digit(eyes.digits(OHMS)), True)
    quiet = eyes.text("#line")
    eyes.js(NOTE_WHEN_LOST, quiet)
    hall.daemon.kill()
    began = time.time()
    look = lambda: ([d for d in eyes.texts(".shown") if has_digit(d)], eyes.text("#line") not in ("", None, quiet))
    found = soon(look, 6.0, lambda f: f == ([], True))
    took = eyes.js("return window.lostAt") / 1000 - began
    check("digits left on the page, and whether it says that its line is lost", found, ([], True))
    check(f"said within {UNMISTAKABLE} s (after {took:.2f} s)", 0 < took <= UNMISTAKABLE, True)
    hall.daemon.start()
    began = time.monotonic()
    check("the digits are there again, unasked", has_digit(soon(lambda: eyes.digits(OHMS), 12.0, has_digit)), True)
    check("the lost line is not said any more", soon(lambda: eyes.text("#line"), 3.0, lambda t: t == quiet), quiet)
    button = f'button[data-act="go_on"][data-job="{job}"]'
    check("the job is offered to go on with", soon(lambda: eyes.there(button), 5.0), True)
    print(f"    the page was whole again {time.monotonic() - began:.1f} s after `ready`")
    hall.ohms["only"].open()
    eyes.js("document.querySelector(arguments[0]).focus()", button)
    eyes.enter()
    view = soon(lambda: hall.job(job), 5.0, lambda j: j["state"] == "active")
    check("the job goes on by its button", view["state"], "active")
    check("the page asks for what is next", eyes.asked(view["ask"]["say"]), view["ask"]["say"])
    # What could not be fetched while nobody was there is no fault of the page.
    check("other errors in the console", eyes.wrong(but=("ERR_CONNECTION_REFUSED", "ERR_INCOMPLETE_CHUNKED", "ERR_CONNECTION_RESET", "ERR_EMPTY_RESPONSE")), [])


INTERRUPTED = (
    a_reload_in_the_middle_of_a_job_changes_nothing,
    a_line_that_falls_silent_blanks_its_digits,
    a_daemon_killed_and_started_again_is_gone_on_with,
)
