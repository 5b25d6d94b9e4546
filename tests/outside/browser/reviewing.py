"""A reviewer: from a number to its trace by keys alone, a filter that is wrong, a job signed off."""

from bench import HOSTILE, Hands
from checks import soon
from eyes import Keys

NAME, WORDS = "B. Brook", "traces looked at, line 23 is high"


def failing(hall):
    """A job with a winding that failed; the one of the round if there is one."""
    job = getattr(hall, "faulty", None)
    if job is None:
        job = hall.faulty = hall.start("lines", "HB-AB 7", asset="blower 2")
        hands = Hands(hall, "lines", job, {"winding line_23": "7.30", "ground all_to_ground": "0.20 M"})
        hands.until(lambda view: any(p["test"] == "ground" and p["seq"] for p in view["points"]))
    return job


def press(eyes, css):
    """The keyboard's way: focus and Enter."""
    eyes.js("document.querySelector(arguments[0]).focus()", css)
    eyes.enter()


def a_number_leads_by_keys_to_the_trace_behind_it(checks, hall, eyes, _axe):
    check, job = checks.check, failing(hall)
    row = next(r for r in hall.daemon.log() if r["job"] == job and r["verdict"] == "fail" and r["test"] == "winding" and r["point"] == "line_23")
    eyes.go("/review")
    press(eyes, ".top nav a[href='/review']")
    fail = "table.fails a[href*='HB-AB'][href*='verdict=fail']"
    check("what fails leads to its rows", soon(lambda: eyes.there(fail), 8.0), True)
    listed = [r for r in hall.daemon.log() if r["motor"] == "HB-AB 7" and r["verdict"] == "fail" and r["event"] in ("value", "open", "over_range", "aborted", "judged")]
    back = {r["of_seq"] for r in hall.daemon.log() if r["event"] == "withdrawn"}
    listed = [r for r in listed if r["seq"] not in back]
    check("the number is that of the log", eyes.text(fail), str(len(listed)))
    press(eyes, fail)
    check("the rows behind it are asked for", soon(lambda: eyes.js("return location.pathname"), 8.0, lambda p: p == "/review/rows"), "/review/rows")
    links = eyes.js("return [...document.querySelectorAll('table.rows tbody a')].map(a => a.getAttribute('href'))")
    check("these are the rows", sorted(links), sorted(f"/jobs/{r['job']}#row-{r['seq']}" for r in listed))
    press(eyes, f"a[href='/jobs/{job}#row-{row['seq']}']")
    check("a row leads to its job", soon(lambda: eyes.js("return location.pathname"), 8.0, lambda p: p == f"/jobs/{job}"), f"/jobs/{job}")
    check("the row is in sight", eyes.js("const r = document.querySelector(':target')?.getBoundingClientRect(); return !!r && r.top < innerHeight && r.bottom > 0"), True)
    check("its trace stands there", eyes.there(":target svg.curve"), True)


def a_filter_is_typed_and_what_is_wrong_stands_beside_its_field(checks, hall, eyes, _axe):
    check = checks.check
    failing(hall)
    eyes.go("/review")
    press(eyes, "details.which summary")
    check("Enter opens the filter", eyes.js("return document.querySelector('details.which').open"), True)
    eyes.js("document.querySelector('#which-since').focus()")
    eyes.key("last week")
    eyes.enter()
    wrong = soon(lambda: eyes.text("#wrong-since"), 8.0)
    check("a date that is none is said beside its field", "expected a date" in (wrong or ""), True)
    check("the field points at the words", eyes.js("return document.querySelector('#which-since').getAttribute('aria-describedby')"), "wrong-since")
    check("nothing is asked", (eyes.there("table.fails"), "Nothing is asked" in eyes.body()), (False, True))
    eyes.js("document.querySelector('#which-since').focus()")
    eyes.key(Keys.CONTROL + "a" + Keys.NULL + "2020")
    check("what was wrong is typed over", eyes.js("return document.querySelector('#which-since').value"), "2020")
    eyes.js("document.querySelector('#which-model').focus()")
    eyes.key("HB-AB 7")
    eyes.enter()
    check("then it is asked", soon(lambda: eyes.there("table.fails"), 8.0) or eyes.js("return location.search + document.querySelector('main').innerText"), True)
    check("only that model is left", eyes.js("return [...document.querySelectorAll('tr.group th')].map(t => t.firstChild.textContent)"), ["HB-AB 7"])
    press(eyes, ".questions a[href^='/review/values']")
    soon(lambda: eyes.there(".choices"), 8.0)
    check("the next page keeps it", all("HB-AB 7" in t for t in eyes.texts(".choices a")), True)
    press(eyes, ".choices a[href*='line_23']")
    soon(lambda: eyes.there("svg.plot"), 8.0)
    named = eyes.js("const s = document.querySelector('svg.plot'); return s.getAttribute('aria-labelledby').split(' ').map(id => document.getElementById(id).textContent.length > 10)")
    check("a picture says what it is, and more", named, [True, True])
    check("and a table says the same", eyes.there("details table tbody tr"), True)


def a_job_is_signed_off_by_keys_and_says_so(checks, hall, eyes, _axe):
    check = checks.check
    job = hall.start("forms", asset=HOSTILE)
    eyes.go(f"/jobs/{job}")
    check("a job that runs is not signed off", eyes.there("form.sign"), False)
    hall.post(f"/api/jobs/{job}/end")
    eyes.go(f"/jobs/{job}")
    check("one that has ended may be", soon(lambda: eyes.js("const f = document.querySelector('form.sign'); return !!f && f.checkVisibility()"), 8.0), True)
    press(eyes, "form.sign button")
    check("without a name it is not signed", (eyes.js("return document.activeElement.id"), "Say who" in eyes.text("#sign-wrong")), ("sign-by", True))
    eyes.key(NAME)
    eyes.js("document.querySelector('#sign-words').focus()")
    eyes.key(WORDS + HOSTILE)
    press(eyes, "form.sign button")
    said = f"Reviewed by {NAME} on"
    check("the page says who", soon(lambda: said in eyes.body(), 8.0), True)
    check("and what", WORDS + HOSTILE in eyes.js("return document.body.textContent"), True)
    check("words are no markup", eyes.js("return [window.hurt || 0, document.querySelectorAll('#hurt, img[src=x]').length]"), [0, 0])
    rows = [(r["tester"], r["reason"]) for r in hall.daemon.log() if r["event"] == "reviewed"]
    check("a row of the log says so", (NAME, WORDS + HOSTILE) in rows, True)


def the_review_is_reached_by_tab_and_shows_where_one_is(checks, hall, eyes, _axe):
    failing(hall)
    for what, path in (("what fails", "/review"), ("a chart", "/review/chart?model=HB-AB%207&test=winding&point=line_23"), ("the rows", "/review/rows?verdict=fail")):
        eyes.go(path)
        wanted = eyes.js("return [...document.querySelectorAll('a[href], button, input, select, summary')].filter(e => e.checkVisibility()).length")
        eyes.js("document.activeElement.blur(); window.reached = new Set(); window.bare = []; document.addEventListener('focusin', e => { window.reached.add(e.target); const s = getComputedStyle(e.target); if (s.outlineStyle === 'none' && s.boxShadow === 'none') window.bare.push(e.target.outerHTML.slice(0, 80)); })")
        for _ in range(wanted + 3):
            eyes.key(Keys.TAB)
        checks.check(f"what Tab reaches on {what}", eyes.js("return window.reached.size") >= wanted, True)
        checks.check(f"what has the focus and no outline on {what}", eyes.js("return window.bare"), [])


REVIEWING = (
    a_number_leads_by_keys_to_the_trace_behind_it,
    a_filter_is_typed_and_what_is_wrong_stands_beside_its_field,
    the_review_is_reached_by_tab_and_shows_where_one_is,
    a_job_is_signed_off_by_keys_and_says_so,
)
