"""Traces: a job's page that follows the job, its pictures, and the strip after a reload."""

from bench import Hands
from checks import soon
from eyes import bench_path

NARROW = 360
SVGS = "return [...document.querySelectorAll('svg.curve')].map(s => ({name: s.getAttribute('aria-label'), role: s.getAttribute('role'), wide: s.getBoundingClientRect().width, loud: [...s.querySelectorAll('text')].every(t => getComputedStyle(t).display !== 'none')}))"


def the_page_of_a_running_job_follows_it_with_its_traces(checks, hall, eyes, _axe):
    # Beside the others at a bench of their own, which one at a time has.
    view = hall.state()
    running = {job["bench"]: job["job"] for job in view["jobs"] if job["state"] == "active"}
    job = running.get("board") or hall.start("board", asset="feeder 9")
    eyes.go(f"/jobs/{job}")
    checks.check("values before any was taken", eyes.js(SVGS), [])
    eyes.js("window.sameWindow = true; document.querySelector('.told a[href=\"/jobs\"]').focus()")
    Hands(hall, "board", job).to("winding")
    checks.check("a trace comes by itself", soon(lambda: len(eyes.js(SVGS)) > 0, 4.0), True)
    checks.check("without a reload", eyes.js("return window.sameWindow === true"), True)
    checks.check("what had the focus has it again", eyes.js("return document.activeElement.getAttribute('href')"), "/jobs")
    for width in (NARROW, 1280):
        eyes.wide(width, 900)
        for svg in eyes.js(SVGS):
            checks.check(f"a picture at {width} says what it is", (svg["role"], svg["name"].startswith("Trace of ")), ("img", True))
            checks.check(f"a picture at {width} fits", 200 < svg["wide"] <= width, True)
            checks.check(f"all its words stand at {width}", svg["loud"], True)
    # Words that a person types are left alone while rows come.
    eyes.js("document.querySelector('.told [data-withdraw]').click(); document.activeElement.value = 'half a'")
    hall.post(f"/api/jobs/{job}/note", note="seen")
    soon(lambda: "seen" in eyes.body(), 1.0)
    checks.check("an open form is left alone", eyes.js("return document.querySelector('#reason')?.value"), "half a")
    eyes.js("[...document.querySelectorAll('.why-form button')].at(-1).click()")
    checks.check("what came meanwhile comes then", soon(lambda: "seen" in eyes.body(), 4.0), True)


def the_strip_has_its_minute_again_after_a_reload(checks, hall, eyes, _axe):
    eyes.go(bench_path("board"))
    ask = "const done = arguments[0]; fetch('/api/benches/board/minute').then(a => a.json()).then(m => done(m.samples.length), () => done(-1))"
    kept = soon(lambda: eyes.driver.execute_async_script(ask), 6.0, lambda n: n > 8)
    checks.check("samples that were seen are kept", kept > 8, True)
    eyes.go(bench_path("board"))
    checks.check("and are there again", eyes.driver.execute_async_script(ask) >= kept, True)


TRACES = (the_page_of_a_running_job_follows_it_with_its_traces, the_strip_has_its_minute_again_after_a_reload)
