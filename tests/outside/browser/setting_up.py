"""A meter is set up in the browser: listened to, written down, used."""

import os

from bench import Ohms
from checks import soon
from eyes import bench_path

COMMENT = "# the pond's own words, which stay"


def a_meter_is_set_up_and_used(checks, hall, eyes):
    check = checks.check
    path = hall.daemon.config
    # The program begins anew only when nobody is at work.
    for job in hall.state()["jobs"]:
        if job["state"] != "active":
            hall.post(f"/api/jobs/{job['job']}/go_on")
        hall.post(f"/api/jobs/{job['job']}/end")
    with open(path, encoding="utf-8") as f:
        before = f.read()
    with open(path, "a", encoding="utf-8") as f:
        f.write(f"\n{COMMENT}\n")
    meter = Ohms()
    meter.on("12.34")
    eyes.go("/meters")
    eyes.js("[...document.querySelectorAll('a')].find(a => a.textContent === 'Set up a meter').click()")
    check("the meters lead to it", soon(lambda: eyes.js("return location.pathname"), 5.0, lambda p: p == "/meters/new"), "/meters/new")
    soon(lambda: eyes.js("return document.querySelectorAll('#protocol option').length") > 3, 5.0)

    def fill(field, text):
        eyes.js("const e = document.getElementById(arguments[0]); e.value = arguments[1]; e.dispatchEvent(new Event('change'))", field, text)

    press = lambda css: eyes.js("document.querySelector(arguments[0]).click()", css)
    fill("port", hall.ohms["only"].port)
    fill("protocol", "text-line")
    press("#listen")
    said = soon(lambda: eyes.text("#port-wrong"), 5.0)
    check("a port that a meter has is not tried", "only ohms" in (said or "") and "share a port" in said, True)
    fill("port", meter.port)
    fill("protocol", "scpi-poll")
    press("#listen")
    soon(lambda: "open" in (eyes.text("#heard") or ""), 5.0)
    fill("protocol", "text-line")
    check("what the meter says is seen before anything is written", soon(lambda: eyes.text("#shown"), 8.0, lambda t: t == "12.34 Ω"), "12.34 Ω")
    meter.silent()
    check("a silent meter is blank", soon(lambda: eyes.text("#shown"), 5.0, lambda t: t == "–"), "–")
    meter.on("56.78")
    check("and comes back", soon(lambda: eyes.text("#shown"), 5.0, lambda t: t == "56.78 Ω"), "56.78 Ω")

    eyes.js("document.querySelector('.range [data-key=percent]').value = '-1'")
    press("#setup [type=submit]")
    marked = soon(lambda: eyes.js("return [...document.querySelectorAll('#setup [aria-invalid]')].map(e => e.id)"), 5.0)
    check("what is missing is said at its field", marked, ["name"])
    fill("name", "weir 7")
    press("#setup [type=submit]")
    check("a wrong accuracy is said at it", "percent" in (soon(lambda: eyes.text("#accuracy-wrong"), 5.0) or ""), True)
    check("what was typed stays", eyes.js("return ['name', 'port'].map(id => document.getElementById(id).value)"), ["weir 7", meter.port])
    eyes.js("document.querySelector('.range [data-key=percent]').value = '0.5'; document.querySelector('.range [data-key=counts]').value = '2'")
    fill("bench", "weir")
    press("#setup [type=submit]")
    saved = soon(lambda: eyes.text("#saved"), 5.0)
    check("it says where it is written", "weir 7 is written to" in (saved or ""), True)
    with open(path, encoding="utf-8") as f:
        after = f.read()
    check("what stood there stays byte for byte", after.startswith(before + f"\n{COMMENT}\n"), True)
    check("the accuracy stands there", "accuracy = [{ percent = 0.5, counts = 2 }]" in after, True)
    check("no half file is left", [n for n in os.listdir(os.path.dirname(path)) if n.endswith(".new")], [])
    there = lambda: any(m["name"] == "weir 7" for m in hall.state()["meters"])

    def tried():
        try:
            return there()
        except OSError:
            return False

    check("it is used without a start by hand", soon(tried, 15.0), True)
    eyes.go(bench_path("weir"))
    check("its bench shows what it says", soon(lambda: eyes.digits("weir 7"), 8.0, lambda d: d == "56.78 Ω"), "56.78 Ω")
    check("the log goes on whole", hall.daemon.run("verify", hall.daemon.data) is not None, True)


SETTING_UP = (a_meter_is_set_up_and_used,)
