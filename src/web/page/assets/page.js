"use strict";
// What every page shares: the one event stream, whether it still speaks,
// whether what is taken is recorded, and the door through which pages act.
//
//   stillohm.events.on("view" | "row" | "missed" | "line" | "hands", heard)
//   stillohm.view      the latest view, or null
//   stillohm.now()     engine time now in seconds, NaN before the first view
//   stillohm.lost()    whole seconds without a word, 0 while it speaks
//   stillohm.holds(bench)      "you", "another" or nothing: who works on a bench
//   stillohm.ask(path, said)   POST as JSON; gives {ok, status, answer}

const stillohm = (() => {
  const SILENT_MS = 2000; // digits older than this are not live
  const REOPEN_MS = 2500; // a stream that says nothing for this long is opened anew
  const listeners = new Map();
  const started = performance.now();
  let source = null;
  let opened = started;
  let last = null; // local time of the last event
  let at = NaN; // engine time of the last view, s
  let atLocal = 0;
  let saidLost = 0;

  let hands = {}; // who works on each bench: "you" or "another"

  // What this page calls itself: kept over a reload, another in each tab.
  const me = (() => {
    const kept = sessionStorage.getItem("stillohm.page");
    if (kept) return kept;
    const made = [...crypto.getRandomValues(new Uint8Array(16))].map((b) => b.toString(16).padStart(2, "0")).join("");
    sessionStorage.setItem("stillohm.page", made);
    return made;
  })();

  const self = { view: null, SILENT_S: SILENT_MS / 1000 };
  self.holds = (bench) => hands[bench];

  const tell = (kind, what) => {
    for (const heard of listeners.get(kind) ?? []) heard(what);
  };

  self.events = {
    on(kind, heard) {
      listeners.set(kind, [...(listeners.get(kind) ?? []), heard]);
      if (kind === "view" && self.view) heard(self.view);
    },
  };

  self.now = () => at + (performance.now() - atLocal) / 1000;

  self.lost = () => {
    const silent = performance.now() - (last ?? started);
    return silent > SILENT_MS ? Math.floor(silent / 1000) : 0;
  };

  self.ask = async (path, said) => {
    try {
      const response = await fetch(path, {
        method: "POST",
        headers: { "Content-Type": "application/json", "Stillohm-Page": me },
        body: JSON.stringify(said ?? {}),
      });
      const answer = await response.json().catch(() => ({}));
      const error = response.ok ? "" : answer.error || `refused (${response.status})`;
      return { ok: response.ok, status: response.status, answer, error };
    } catch {
      const error = "Stillohm did not answer: nothing was changed as far as this page knows";
      return { ok: false, status: 0, answer: {}, error };
    }
  };

  function open() {
    opened = performance.now();
    source?.close();
    source = new EventSource(`/api/events?page=${me}`);
    for (const kind of ["view", "row", "missed", "hands"]) {
      source.addEventListener(kind, (event) => {
        last = performance.now();
        const what = JSON.parse(event.data);
        if (kind === "view") {
          self.view = what;
          at = what.at / 1e9;
          atLocal = last;
          recording(what);
        }
        if (kind === "hands") hands = what;
        watch();
        tell(kind, what);
      });
    }
  }

  // The state of the record, always in sight.
  function recording(view) {
    const told = document.getElementById("recording");
    if (!told) return;
    const words = view.recording && !view.trouble ? "recorded" : view.trouble || "NOT RECORDED";
    put(told, words);
    document.body.classList.toggle("not-recorded", words !== "recorded");
  }

  // Whether the stream still speaks; it is opened anew when it does not.
  function watch() {
    const seconds = self.lost();
    if (seconds === saidLost && seconds === 0) return;
    document.body.classList.toggle("lost", seconds > 0);
    const line = document.getElementById("line") ?? document.getElementById("recording");
    if (seconds === 0) {
      if (line?.id === "line") line.replaceChildren();
      if (self.view) recording(self.view);
    } else if (line && saidLost === 0) {
      // The alert is spoken once; the count goes on beside it, unspoken.
      const count = document.createElement("span");
      count.className = "count";
      count.setAttribute("aria-hidden", "true");
      line.replaceChildren("no word from Stillohm", count, "; digits are blank");
    }
    if (seconds > 0 && line?.id === "line") {
      put(document.getElementById("recording"), "not known whether recorded");
    }
    const count = line?.querySelector(".count");
    if (count) put(count, ` for ${seconds} s`);
    const changed = seconds !== saidLost;
    saidLost = seconds;
    if (changed) tell("line", seconds);
  }

  // Text that changes only when it differs: screen readers hear changes.
  function put(element, text) {
    if (element && element.textContent !== text) element.textContent = text;
  }
  self.put = put;

  open();
  setInterval(() => {
    watch();
    const silent = performance.now() - Math.max(last ?? started, opened);
    if (source.readyState === EventSource.CLOSED ? silent > 1000 : silent > REOPEN_MS) open();
  }, 250);
  return self;
})();
