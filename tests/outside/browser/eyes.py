"""A Chromium and what is seen on its pages."""

import time
import base64
import contextlib
import os
import shutil
import tempfile

from selenium import webdriver
from selenium.webdriver.chrome.service import Service
from selenium.webdriver.common.keys import Keys

from checks import soon

FLAGS = (
    "--headless=new --no-sandbox --disable-gpu --disable-background-networking --disable-component-update --disable-sync "
    "--disable-dev-shm-usage --no-proxy-server --no-first-run --mute-audio"
).split()
# A name that a stranger makes point here.
REBOUND = "ponds.example"
# In every page before its own script: when a row first stood as taken on it, and whether anything was pointed at.
WATCH = """
window.taken = {}; window.pointed = 0; window.loose = []; window.broken = [];
window.addEventListener("securitypolicyviolation", e => broken.push("refused by the policy: " + e.violatedDirective + " " + e.blockedURI));
window.addEventListener("error", e => broken.push(e.message || "not loaded: " + (e.target.src || e.target.href)), true);
window.addEventListener("unhandledrejection", e => broken.push("rejected: " + e.reason));
for (const kind of ["pointerdown", "mousedown", "touchstart"]) window.addEventListener(kind, () => pointed++, true);
const look = () => {
  for (const row of document.querySelectorAll(".points tbody tr")) {
    const seq = row.dataset.seq, shown = row.cells[1] ? row.cells[1].textContent.trim() : "";
    if (seq && !(seq in taken)) taken[seq] = Date.now() / 1000;
    if (!seq && /\\d/.test(shown) && !loose.includes(row.textContent)) loose.push(row.textContent);
  }
};
new MutationObserver(look).observe(document, {subtree: true, childList: true, attributes: true, characterData: true});
"""

# Seconds in which a person reads what is asked.
READS = 0.9


class Eyes:
    """One Chromium with a profile of its own, closed at the end."""

    def __init__(self, address):
        self.address, self.profile = address, tempfile.mkdtemp(prefix="stillohm-chromium-")
        options = webdriver.ChromeOptions()
        options.binary_location = shutil.which("chromium") or "chromium"
        for flag in (*FLAGS, f"--user-data-dir={self.profile}", f"--host-resolver-rules=MAP {REBOUND} 127.0.0.1"):
            options.add_argument(flag)
        options.set_capability("goog:loggingPrefs", {"browser": "ALL"})
        self.driver = webdriver.Chrome(options=options, service=Service(shutil.which("chromedriver") or "chromedriver"))
        self.driver.set_page_load_timeout(20)
        self.driver.set_script_timeout(30)
        self.tell("Page.addScriptToEvaluateOnNewDocument", source=WATCH)
        self.wide(1280, 900)

    def __enter__(self):
        return self

    def __exit__(self, *_):
        with contextlib.suppress(Exception):
            self.driver.quit()
        shutil.rmtree(self.profile, ignore_errors=True)

    def tell(self, command, **parameters):
        return self.driver.execute_cdp_cmd(command, parameters)

    def wide(self, width, height):
        self.tell("Emulation.setDeviceMetricsOverride", width=width, height=height, deviceScaleFactor=1, mobile=False)

    def scheme(self, dark):
        self.tell("Emulation.setEmulatedMedia", features=[{"name": "prefers-color-scheme", "value": "dark" if dark else "light"}])

    def go(self, path):
        self.driver.get(self.address + path)

    def js(self, script, *arguments):
        return self.driver.execute_script(script, *arguments)

    def text(self, css):
        """The text of the first that is so; None where there is none."""
        return self.js("const e = document.querySelector(arguments[0]); return e && e.textContent.trim()", css)

    def texts(self, css):
        return self.js("return [...document.querySelectorAll(arguments[0])].map(e => e.textContent.trim())", css)

    def body(self):
        return self.js("return document.body.innerText")

    def there(self, css):
        return self.js("return document.querySelector(arguments[0]) !== null", css)

    def digits(self, meter):
        return self.js("const e = [...document.querySelectorAll('.meter')].find(m => m.dataset.meter === arguments[0]); return e && e.querySelector('.shown').textContent.trim()", meter)

    def age(self, meter):
        return self.js("const e = [...document.querySelectorAll('.meter')].find(m => m.dataset.meter === arguments[0]); return e && e.querySelector('.age').textContent.trim()", meter)

    def points(self):
        """The points as they stand: name, shown, limits, verdict."""
        return self.js("return [...document.querySelectorAll('.points tbody tr')].map(r => [...r.cells].map(c => c.textContent.trim().replace(/\\s+/g, ' ')))")

    def key(self, key):
        self.driver.switch_to.active_element.send_keys(key)

    def enter(self):
        self.key(Keys.ENTER)

    def asked(self, say, seconds=3.0):
        """What stands as the one next thing, once it is as wanted."""
        return soon(lambda: self.text("#ask"), seconds, lambda found: found == say)

    def confirms(self):
        """Eyes that wait for the key's name on the page and press Enter."""

        def confirm(ask):
            css = f'button.first[data-act="confirm"][data-what="{ask["confirm"]}"]'
            if not soon(lambda: self.there(css), 3.0):
                raise AssertionError(f"no button says that Enter confirms {ask['confirm']}")
            # A person reads first; two presses within a moment count as one.
            time.sleep(READS)
            self.enter()

        return confirm

    def wrong(self, but=()):
        """What the console and the page itself call an error, except what has one of the words."""
        lines = [e["message"] for e in self.driver.get_log("browser") if e["level"] == "SEVERE"]
        lines += self.js("return window.broken || []")
        return [line for line in lines if not any(word in line for word in but)]

    def axe(self, script):
        """What axe-core finds: its rule, and the first places."""
        self.js(script)
        found = self.driver.execute_async_script(
            "const done = arguments[0]; axe.run(document, {resultTypes: ['violations'], rules: {'target-size': {enabled: true}}}).then(r => done(r.violations.map(v => v.id + ': ' + v.nodes.slice(0, 3).map(n => n.target.join(' ')).join(', '))), e => done(['axe broke: ' + e]))"
        )
        return found

    def picture(self, path):
        """The whole page, not only what is in the window; without scroll bars, which the picture would cut off."""
        self.tell("Emulation.setScrollbarsHidden", hidden=True)
        shot = self.tell("Page.captureScreenshot", format="png", captureBeyondViewport=True)
        with open(path, "wb") as f:
            f.write(base64.b64decode(shot["data"]))


def axe_script(folder):
    with open(os.path.join(folder, "node_modules", "axe-core", "axe.min.js"), encoding="utf-8") as f:
        return f.read()


def bench_path(bench):
    """Where a bench's page is: every byte that is no letter, digit, - _ or . as %XX."""
    plain = b"abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789-_."
    return "/bench/" + "".join(chr(b) if b in plain else f"%{b:02X}" for b in bench.encode())


def has_digit(text):
    return any(c.isdigit() for c in text or "")
