"""All pages: what they show, whom they let in, how they fit."""

import http.client
import http.server
import re
import threading
import time

from bench import HOSTILE, Hands
from checks import soon
from eyes import REBOUND, Eyes, Keys, bench_path

NARROW = 360
FIRST_PAINT_BYTES = 60 * 1024


def pages(hall):
    """Every page: what it is, and where."""
    yield "the benches", "/"
    yield "a bench with a fault", bench_path("lines")
    yield "a bench at rest", bench_path("board")
    yield "a bench of hostile name in the middle of a job", bench_path(HOSTILE)
    yield "the start of a job", f"/start?bench={bench_path('board').removeprefix('/bench/')}"
    yield "the jobs", "/jobs"
    yield "a job with a fault", f"/jobs/{hall.faulty}"
    yield "a job of hostile name", f"/jobs/{hall.hostile}"
    yield "the meters", "/meters"
    yield "setting up a meter", "/meters/new"
    place = "model=HB-AB%207&test=winding&point=line_23"
    yield "what fails, reviewed", "/review"
    yield "what fails by asset, reviewed", "/review?by=asset&then=none"
    yield "which point is to be reviewed", "/review/values"
    yield "how values lie, reviewed", f"/review/values?{place}"
    yield "a control chart, reviewed", f"/review/chart?{place}"
    yield "what drifts, reviewed", "/review/meters"
    yield "insulation, reviewed", "/review/insulation"
    yield "rows, reviewed", "/review/rows"
    yield "what cannot be reviewed", "/review?since=March&verdict=good"


def a_second_viewer_sees_the_same_digits_and_points(checks, hall, eyes, _axe):
    hall.hostile = hall.start(HOSTILE, asset=HOSTILE, tester=HOSTILE)
    Hands(hall, HOSTILE, hall.hostile).to("winding")
    hall.ohms[HOSTILE].on("12.34")
    meter = f"{HOSTILE} ohms"
    with Eyes(hall.address) as other:
        for viewer in (eyes, other):
            viewer.go(bench_path(HOSTILE))
        for shown in ("12.34", "56.78"):
            hall.ohms[HOSTILE].on(shown)
            for who, viewer in (("the first", eyes), ("the second", other)):
                found = soon(lambda viewer=viewer: viewer.digits(meter), 3.0, lambda d, shown=shown: d == f"{shown} Ω")
                checks.check(f"digits of {who} viewer", found, f"{shown} Ω")
        hall.ohms[HOSTILE].open()
        time.sleep(1.0)
        checks.check("points of the second viewer", other.points(), eyes.points())
        checks.check("ask of the second viewer", other.text("#ask"), eyes.text("#ask"))
        checks.check("there are points", len(eyes.points()) > 3, True)


def a_three_phase_job_with_a_high_line_and_a_wet_winding_says_do_not_energize(checks, hall, eyes, _axe):
    hall.faulty = hall.start("lines", "HB-AB 7", asset="blower 2")
    eyes.go(bench_path("lines"))
    hands = Hands(hall, "lines", hall.faulty, {"winding line_23": "7.30", "ground all_to_ground": "0.20 M"})
    view = hands.to("ground")
    checks.check("the page asks for the next", eyes.asked(view["ask"]["say"]), view["ask"]["say"])
    points = {p[0]: p for p in eyes.points()}
    high = points.get("winding line 23") or next((p for name, p in points.items() if "line" in name and "23" in name), [""] * 4)
    checks.check("what the high line shows", high[1], "7.30 Ω")
    checks.check("the verdict of the high line, with its mark", ("✗" in high[3], "fail" in high[3]), (True, True))
    checks.check("a line that is within is no fault", [("fail" in p[3]) for n, p in points.items() if "12" in n], [False])
    # A winding out of its limits is a fault and no danger yet; a fail to ground is both.
    checks.check("DO NOT ENERGIZE before there is a reason", "DO NOT ENERGIZE" in eyes.body(), False)
    hands.until(lambda job: any(p["test"] == "ground" and p["seq"] for p in job["points"]))
    checks.check("DO NOT ENERGIZE after a fail to ground", soon(lambda: "DO NOT ENERGIZE" in eyes.body(), 3.0), True)
    checks.check("it is an alert", soon(lambda: any("DO NOT ENERGIZE" in t for t in eyes.texts("[role=alert]")), 1.0), True)


def a_motor_with_electronics_is_asked_for_no_insulation_test(checks, hall, eyes, _axe):
    job = hall.start("board", "HB-CP 45", asset="feeder 4")
    eyes.go(bench_path("board"))
    asked, named = [], set()

    def saw(ask):
        asked.append(eyes.asked(ask["say"]))
        checks.check(f"the page asks at {ask['test']}", asked[-1], ask["say"])
        named.update(p[0] for p in eyes.points())

    Hands(hall, "board", job, saw=saw).until(lambda view: False)
    checks.check("points of insulation", [n for n in named if "insulation" in n], [])
    checks.check("points of another kind", any("winding" in n for n in named), True)
    checks.check("what is asked for with a test voltage", [a for a in asked if a and re.search(r"press|test voltage|insulation|\d V\b", a, re.I)], [])
    end = next(r["reason"] for r in hall.daemon.log() if r["job"] == job and r["event"] == "job_end")
    checks.check("the job ends by saying so", "insulation not tested" in end, True)
    checks.check("the page says so", soon(lambda: "insulation not tested" in eyes.body(), 3.0), True)


def hostile_names_are_text_on_every_page(checks, hall, eyes, _axe):
    named = ("benches", "hostile", "the jobs", "meters")
    hall.post(f"/api/jobs/{hall.hostile}/note", note=HOSTILE)
    for what, path in (*pages(hall), ("no bench", bench_path(HOSTILE + "2")), ("no job", "/jobs/" + bench_path(HOSTILE).removeprefix("/bench/"))):
        eyes.go(path)
        time.sleep(0.5)
        checks.check(f"markup made of a name: {what}", eyes.js("return [window.hurt || 0, document.querySelectorAll('#hurt, img[src=x]').length]"), [0, 0])
        if any(word in what for word in named):
            checks.check(f"the name stands there as it is: {what}", HOSTILE in eyes.js("return document.body.textContent"), True)


def no_page_scrolls_sideways_on_a_narrow_screen(checks, hall, eyes, _axe):
    eyes.wide(NARROW, 740)
    for what, path in pages(hall):
        eyes.go(path)
        time.sleep(0.4)
        wide, room = eyes.js("const e = document.scrollingElement; return [e.scrollWidth, e.clientWidth]")
        checks.check(f"width of {what} at {NARROW}", wide, room)
        checks.check(f"room of {what} at {NARROW}", NARROW - 20 <= room <= NARROW, True)
    eyes.wide(1280, 900)


def a_wall_of_4k_is_read_from_afar_and_nothing_moves_that_need_not(checks, hall, eyes, _axe):
    eyes.wide(3840, 2160)
    for what, path in pages(hall):
        eyes.go(path)
        time.sleep(0.4)
        wide, room = eyes.js("const e = document.scrollingElement; return [e.scrollWidth, e.clientWidth]")
        checks.check(f"width of {what} at 3840", wide, room)
    eyes.go(bench_path("lines"))
    time.sleep(1.0)
    # From two metres a digit is read at 1/25 of the height (own).
    share = eyes.js("return Math.max(...[...document.querySelectorAll('.shown')].map(e => parseFloat(getComputedStyle(e).fontSize))) / innerHeight")
    checks.check(f"the largest digits are a 25th of a wall's height ({share:.3f})", share >= 0.04, True)
    small = eyes.js("return [...document.querySelectorAll('main *')].filter(e => e.childElementCount === 0 && e.textContent.trim() && parseFloat(getComputedStyle(e).fontSize) < 13).map(e => e.className || e.tagName)")
    checks.check("text below 13 pixels", small, [])
    eyes.tell("Emulation.setEmulatedMedia", features=[{"name": "prefers-reduced-motion", "value": "reduce"}])
    for what, path in pages(hall):
        eyes.go(path)
        time.sleep(0.4)
        checks.check(f"what moves on {what}, although less motion is wanted", eyes.js("return document.getAnimations().length"), 0)
    eyes.scheme(False)
    eyes.wide(1280, 900)


def keys_reach_everything_and_show_where_they_are(checks, hall, eyes, _axe):
    """Tab goes through all that can be pressed, and what has the focus is outlined."""
    for what, path in (("a bench with a fault", bench_path("lines")), ("the start of a job", "/start?bench=board"), ("setting up a meter", "/meters/new")):
        eyes.go(path)
        time.sleep(0.6)
        wanted = eyes.js("return [...document.querySelectorAll('a[href], button, input:not([type=hidden]), select, summary')].filter(e => e.checkVisibility() && !e.disabled && !(e.type === 'radio' && !e.checked)).length")
        eyes.js("document.activeElement.blur(); window.reached = new Set(); window.bare = []; document.addEventListener('focusin', e => { window.reached.add(e.target); const s = getComputedStyle(e.target); if (s.outlineStyle === 'none' && s.boxShadow === 'none') window.bare.push(e.target.outerHTML.slice(0, 80)); })")
        for _ in range(wanted + 3):
            eyes.key(Keys.TAB)
        checks.check(f"what Tab reaches on {what}", eyes.js("return window.reached.size") >= wanted, True)
        checks.check(f"what has the focus and no outline on {what}", eyes.js("return window.bare"), [])


def no_page_has_an_error_in_the_console(checks, hall, eyes, _axe):
    eyes.wrong()
    for what, path in pages(hall):
        eyes.go(path)
        time.sleep(0.6)
        checks.check(f"errors of {what}", eyes.wrong(), [])
        checks.check(f"{what} is a page of this program", (eyes.there("main h1"), "Stillohm" in eyes.driver.title, eyes.text("h1") != "Nothing is here"), (True, True, True))


def axe_finds_nothing_on_any_page_dark_or_light(checks, hall, eyes, axe):
    for dark in (False, True):
        eyes.scheme(dark)
        for what, path in (*pages(hall), ("a page that is not there", "/bench/nowhere")):
            eyes.go(path)
            time.sleep(0.4)
            checks.check(f"{what}, {'dark' if dark else 'light'}", eyes.axe(axe), [])
    eyes.scheme(False)


def ask_raw(hall, method, path, body=None, **headers):
    """A request with headers as forged as wanted: status and the first of its answer."""
    connection = http.client.HTTPConnection("127.0.0.1", hall.daemon.web, timeout=10)
    connection.putrequest(method, path, skip_host=True)
    for name, value in headers.items():
        connection.putheader(name.replace("_", "-"), value)
    if body is not None:
        connection.putheader("Content-Length", str(len(body)))
    connection.endheaders(body)
    answer = connection.getresponse()
    text = answer.read(4096) if answer.status != 200 else b""
    connection.close()
    return answer.status, text.decode(errors="replace")


def each_forged_host_and_origin_is_refused(checks, hall, eyes, _axe):
    port = hall.daemon.web
    own = f"127.0.0.1:{port}"
    hosts = (REBOUND, f"{REBOUND}:{port}", "127.0.0.1", f"127.0.0.1:{port + 1}", f"127.0.0.1.{REBOUND}:{port}", f"127.0.0.1@{REBOUND}:{port}", f"192.0.2.7:{port}", f"0.0.0.0:{port}", "")
    looked = [path for _, path in pages(hall)] + ["/assets/style.css", "/assets/bench.js", bench_path("lines") + "/job", "/api/state", "/api/events", "/api/motors?q=HB"]
    posted = (("/api/jobs", b'{"motor":"HB-CP 40","asset":"forged"}'), (f"/api/jobs/{hall.faulty}/park", b'{"reason":"forged"}'), ("/api/commands", b'{"act":"note","note":"forged"}'))
    rows = len(hall.daemon.log())
    let_in = [path for path in looked if ask_raw(hall, "GET", path, Host=own)[0] != 200]
    checks.check("pages that do not come to their own host", let_in, [])
    for host in hosts:
        statuses = {path: ask_raw(hall, "GET", path, Host=host)[0] for path in looked}
        statuses |= {path: ask_raw(hall, "POST", path, body, Host=host, Origin=f"http://{host}", Content_Type="application/json")[0] for path, body in posted}
        checks.check(f"let in by Host {host!r}", [p for p, s in statuses.items() if not 400 <= s < 500], [])
    origins = ("null", f"http://{REBOUND}", f"http://{REBOUND}:{port}", f"http://127.0.0.1:{port + 1}", "http://127.0.0.1", f"https://{own}", f"http://localhost:{port}", f"http://{own}.{REBOUND}", "", None)
    for origin in origins:
        more = {} if origin is None else {"Origin": origin}
        statuses = {path: ask_raw(hall, "POST", path, body, Host=own, Content_Type="application/json", **more)[0] for path, body in posted}
        checks.check(f"let in by Origin {origin!r}", [p for p, s in statuses.items() if s != 403], [])

    # The same by a browser: a name that is made to point here, and a page of another site.
    eyes.driver.get(f"http://{REBOUND}:{port}/")
    checks.check("a page under another name", (eyes.there("main"), "is not this program" in eyes.body()), (False, True))
    with http.server.ThreadingHTTPServer(("127.0.0.1", 0), Stranger) as stranger:
        threading.Thread(target=stranger.serve_forever, daemon=True).start()
        eyes.driver.get(f"http://127.0.0.1:{stranger.server_port}/")
        found = eyes.driver.execute_async_script(STRANGE, f"http://{own}", posted[0][1].decode())
        stranger.shutdown()
    checks.check("what a page of another site can read", found, ["refused"] * 4)
    rows_now = [r for r in hall.daemon.log()[rows:] if "forged" in str(r)]
    checks.check("rows that were forged", rows_now, [])
    eyes.wrong()


class Stranger(http.server.BaseHTTPRequestHandler):
    """A page of another site."""

    def do_GET(self):
        self.send_response(200)
        self.send_header("Content-Type", "text/html")
        self.end_headers()
        self.wfile.write(b"<!doctype html><title>elsewhere</title>")

    def log_message(self, *_):
        pass


STRANGE = """
const [to, body, done] = arguments;
const ask = (path, how) => fetch(to + path, how).then(a => a.type === "opaque" ? "refused" : "read " + a.status, () => "refused");
Promise.all([
  ask("/api/state", {}),
  ask("/api/jobs", {method: "POST", body, headers: {"Content-Type": "application/json"}}),
  ask("/api/jobs", {method: "POST", body, mode: "no-cors"}),
  ask("/", {}),
]).then(done);
"""


def a_bench_page_weighs_little(checks, hall, eyes, _axe):
    sizes, path = {}, bench_path("lines")
    status, page = hall.daemon.request("GET", path)
    checks.check("the bench page", status, 200)
    sizes[path] = len(page.encode())
    for asset in set(re.findall(r'(?:src|href)="(/assets/[^"]+)"', page)):
        sizes[asset] = len(hall.daemon.request("GET", asset)[1].encode())
    checks.check("it has a style and scripts", (any(".css" in s for s in sizes), sum(".js" in s for s in sizes) >= 2), (True, True))
    checks.check(f"first paint within {FIRST_PAINT_BYTES} bytes ({sizes})", sum(sizes.values()) <= FIRST_PAINT_BYTES, True)
    paints = []
    for _ in range(5):
        eyes.go(path)
        soon(lambda: eyes.js("return performance.getEntriesByName('first-contentful-paint').length"), 3.0)
        paints.append(eyes.js("return Math.round((performance.getEntriesByName('first-contentful-paint')[0] || {startTime: NaN}).startTime)"))
    print(f"    a bench page is {sum(sizes.values())} bytes with its assets; first paint after {sorted(paints)} ms, with everything else going on")


ROUND = (
    a_second_viewer_sees_the_same_digits_and_points,
    a_three_phase_job_with_a_high_line_and_a_wet_winding_says_do_not_energize,
    hostile_names_are_text_on_every_page,
    no_page_scrolls_sideways_on_a_narrow_screen,
    a_wall_of_4k_is_read_from_afar_and_nothing_moves_that_need_not,
    keys_reach_everything_and_show_where_they_are,
    no_page_has_an_error_in_the_console,
    axe_finds_nothing_on_any_page_dark_or_light,
    each_forged_host_and_origin_is_refused,
    a_bench_page_weighs_little,
    a_motor_with_electronics_is_asked_for_no_insulation_test,
)
