"use strict";
// A bench, alive: digits as the meter shows them, the job as it stands, and
// hands that act by one key, a foot switch or a large button.

(() => {
  const page = document.getElementById("bench");
  if (!page) return;
  const bench = page.dataset.bench;
  const part = document.getElementById("job");
  const put = stillohm.put;

  const el = (name, attributes = {}, ...inside) => {
    const element = document.createElement(name);
    for (const [key, value] of Object.entries(attributes)) element.setAttribute(key, value);
    element.append(...inside);
    return element;
  };

  const active = (view) => view?.jobs.find((job) => job.bench === bench && job.state === "active");

  // ---- meters

  const cards = new Map();
  for (const card of page.querySelectorAll(".meter")) cards.set(card.dataset.meter, card);

  const seconds = (s) => (s < 120 ? `${Math.floor(s)} s` : `${Math.floor(s / 60)} min`);

  // Why the digits are blank, or nothing.
  function blank(meter, view) {
    if (stillohm.lost()) return "no word from Stillohm";
    if (!meter.connected) return "not connected";
    if (meter.shown_at === null) return "no reading yet";
    const age = stillohm.now() - meter.shown_at / 1e9;
    return age > stillohm.SILENT_S ? `silent for ${seconds(age)}` : "";
  }

  function digits(card, shown) {
    const output = card.querySelector(".shown");
    if (output.textContent === shown) return;
    const cut = shown.search(/ \S+$/);
    const numeric = cut > 0 && /\d/.test(shown.slice(0, cut));
    const unit = numeric ? shown.slice(cut) : "";
    const number = numeric ? shown.slice(0, cut) : shown;
    output.replaceChildren(el("span", { class: "number" }, number), el("span", { class: "unit" }, unit));
    output.style.setProperty("--chars", Math.max(6.5, number.length + unit.length / 2));
  }

  function meters(view) {
    const ask = active(view)?.ask;
    const asked = ask?.meter;
    for (const meter of view.meters) {
      const card = cards.get(meter.name);
      if (!card) continue;
      const why = blank(meter, view);
      digits(card, why ? "–" : meter.shown || "–");
      put(card.querySelector(".age"), why);
      card.classList.toggle("blank", why !== "");
      card.classList.toggle("asked", meter.name === asked);
      card.classList.toggle("over", !why && meter.over_range);
      // Only the meter that is asked for says what to do.
      const idle = Boolean(ask) && (meter.name !== asked || (ask.confirm !== null && ask.confirm !== "voltage_off"));
      card.classList.toggle("idle", idle);
      card.dataset.settle = why || idle ? "" : meter.settle;
      put(card.querySelector(".word"), why ? "–" : idle ? "not asked for now" : meter.settle);
      card.querySelector("progress").value = why || idle ? 0 : meter.progress;
      const hold = !why && meter.hold;
      put(card.querySelector(".hold"), hold ? `${Math.floor(hold[0])} of ${Math.round(hold[1])} s` : "");
      const volts = !why && meter.test_volts !== null ? [`${Math.round(meter.test_volts)} V`] : [];
      put(card.querySelector(".flags"), why ? "" : [...volts, ...meter.flags].join(" · "));
      put(card.querySelector(".trouble"), meter.connected ? "" : meter.trouble || "its port is not open");
    }
  }

  // ---- the job

  let known = null;
  let fetching = false;

  const jobs = (view) => JSON.stringify([view.jobs.filter((job) => job.bench === bench), view.discharging]);

  async function renew() {
    if (fetching) return;
    fetching = true;
    const wanted = jobs(stillohm.view);
    try {
      const response = await fetch(`${page.dataset.address}/job`);
      if (response.ok) {
        const fresh = new DOMParser().parseFromString(await response.text(), "text/html").body;
        known = wanted;
        settleIn(fresh);
      }
    } catch {
      // The next view asks again.
    }
    fetching = false;
    if (stillohm.view && known !== null && jobs(stillohm.view) !== known) renew();
  }

  // The fresh part takes the place of the old; what stays the same is not
  // touched, so focus stays and nothing is announced twice.
  function settleIn(fresh) {
    const held = document.activeElement;
    const act = part.contains(held) ? held.dataset.act : undefined;
    become(part, fresh);
    if (act && document.activeElement !== held) {
      (part.querySelector(`[data-act="${act}"]`) ?? part.querySelector(".first"))?.focus();
    }
    countdown();
    gate();
  }

  const key = (node) =>
    node.nodeType === 1
      ? [node.nodeName, node.id, node.dataset.act, node.dataset.what, node.dataset.job].join("|")
      : node.nodeName;

  function become(old, fresh) {
    const mine = (node) => node.nodeType === 1 && node.hasAttribute("data-own");
    let here = old.firstChild;
    for (const wanted of [...fresh.childNodes]) {
      while (here && mine(here)) here = here.nextSibling;
      let same = here;
      while (same && (mine(same) || key(same) !== key(wanted))) same = same.nextSibling;
      if (!same) {
        old.insertBefore(wanted, here);
        continue;
      }
      while (here !== same) {
        const next = here.nextSibling;
        if (!mine(here)) here.remove();
        here = next;
      }
      here = same.nextSibling;
      if (same.isEqualNode(wanted)) continue;
      if (same.nodeType !== 1) {
        same.nodeValue = wanted.nodeValue;
        continue;
      }
      for (const { name } of [...same.attributes]) {
        if (!wanted.hasAttribute(name) && name !== "aria-disabled") same.removeAttribute(name);
      }
      for (const { name, value } of wanted.attributes) {
        if (same.getAttribute(name) !== value) same.setAttribute(name, value);
      }
      become(same, wanted);
    }
    while (here) {
      const next = here.nextSibling;
      if (!mine(here)) here.remove();
      here = next;
    }
  }

  function countdown() {
    for (const tag of part.querySelectorAll("[data-until]")) {
      const left = Math.ceil(Number(tag.dataset.until) - stillohm.now());
      if (Number.isNaN(left)) continue;
      const minutes = `${Math.floor(left / 60)}:${String(left % 60).padStart(2, "0")} min`;
      put(tag.querySelector(".left"), left > 0 ? ` for ${left < 60 ? `${left} s` : minutes} more` : ": time is over");
    }
  }

  // ---- who acts: one page at a time, and none without a line

  const watching = document.getElementById("watching");
  let held = false; // whether this page was the one that acts

  // Why nothing that is pressed here is done, or nothing.
  function barred() {
    const lost = stillohm.lost();
    if (lost) return `No word from Stillohm for ${lost} s: what is pressed here does not arrive.`;
    return stillohm.holds(bench) === "another" ? "You are watching: another page works on this bench. Take over first." : "";
  }

  function gate() {
    const whose = stillohm.holds(bench);
    const why = barred();
    page.classList.toggle("barred", why !== "");
    for (const button of part.querySelectorAll("[data-act]")) {
      if (why || busy) button.setAttribute("aria-disabled", "true");
      else button.removeAttribute("aria-disabled");
    }
    if (whose === "another") {
      put(watching.querySelector(".whose"), held ? "Another page has taken over this bench; you are watching." : "Another page works on this bench; you are watching.");
    } else {
      sure_of(false);
    }
    watching.hidden = whose !== "another";
    held = whose === "you" || (held && whose === "another");
  }

  // Taking over is asked twice: somebody's hands are on the clips.
  const takes = watching.querySelector(".takes");
  function sure_of(asked) {
    watching.querySelector(".sure").hidden = !asked;
    takes.hidden = asked;
  }
  takes.addEventListener("click", () => {
    sure_of(true);
    watching.querySelector(".keep").focus();
  });
  watching.querySelector(".keep").addEventListener("click", () => {
    sure_of(false);
    takes.focus();
  });
  watching.querySelector(".yes").addEventListener("click", async () => {
    const { ok, error } = await stillohm.ask(`/api/benches/${encodeURIComponent(bench)}/hands`);
    put(watching.querySelector(".failed"), ok ? "" : error);
  });

  // ---- acting

  const ONCE_MS = 350; // a second press sooner than this is the same press
  let pressed = -Infinity;
  let busy = false;
  let panel = null;

  // What was refused stands beside the button that asked.
  function say(beside, words) {
    part.querySelectorAll(".refused").forEach((old) => old.remove());
    if (!words) return;
    const refused = el("p", { class: "refused", role: "alert", "data-own": "" });
    beside.after(refused);
    refused.textContent = words;
  }

  async function send(button, job, act, said) {
    if (busy) return false;
    busy = true;
    button.setAttribute("aria-disabled", "true");
    say(button, "");
    const { ok, error } = await stillohm.ask(`/api/jobs/${encodeURIComponent(job)}/${act}`, said);
    busy = false;
    gate();
    if (!ok) say(button.isConnected ? button : part.querySelector(".acts") ?? part.lastElementChild, error);
    else renew();
    return ok;
  }

  function press(button) {
    const now = performance.now();
    if (busy || now - pressed < ONCE_MS) return;
    pressed = now;
    const why = barred();
    if (why) return say(button, why);
    const act = button.dataset.act;
    const job = button.dataset.job ?? button.closest("[data-job]")?.dataset.job;
    if (act === "confirm") send(button, job, act, { what: button.dataset.what });
    else if (act === "redo") ask(button, job, act, chooser(job));
    else if (button.dataset.reason) ask(button, job, act, reason());
    else if (act === "end" && !button.classList.contains("first")) ask(button, job, act, sure(job));
    else send(button, job, act, {});
  }

  // What a button still needs to know, asked in a line of its own beside it.
  function ask(button, job, act, { label, field, name }) {
    if (panel?.dataset.for === act) return close(true);
    close(false);
    const go = el("button", { type: "submit" }, button.firstChild.textContent.trim());
    const back = el("button", { type: "button" }, "Back");
    panel = el("form", { class: "panel", "data-own": "", "data-for": act });
    panel.append(el("label", field ? { for: "panel-field" } : {}, label), ...(field ? [field] : []), go, back);
    button.closest(".acts").append(panel);
    button.setAttribute("aria-expanded", "true");
    (field ?? go).focus();
    back.addEventListener("click", () => close(true));
    panel.addEventListener("submit", async (event) => {
      event.preventDefault();
      if (!panel || !(await send(go, job, act, name ? { [name]: field.value } : {}))) return;
      // It is done: the next press of a foot switch is for what comes next.
      close(false);
      part.querySelector(".first")?.focus();
    });
  }

  function close(refocus) {
    if (!panel) return;
    const button = part.querySelector(`[data-act="${panel.dataset.for}"]`);
    panel.remove();
    panel = null;
    button?.removeAttribute("aria-expanded");
    if (refocus) button?.focus();
  }

  function reason() {
    const field = el("input", { id: "panel-field", type: "text", required: "", autocomplete: "off" });
    return { label: "Reason", field, name: "reason" };
  }

  // The last one measured first: that is the one a person regrets.
  function chooser(job) {
    const points = stillohm.view?.jobs.find((one) => one.job === job)?.points ?? [];
    const taken = points.filter((point) => point.seq !== null && point.shown).sort((a, b) => b.seq - a.seq);
    if (!taken.length) return { label: "Nothing has been measured yet." };
    const field = el("select", { id: "panel-field" });
    for (const { test, point, shown } of taken) {
      const words = `${test} ${point}`;
      field.append(el("option", { value: words }, `${words.replaceAll("_", " ")}: ${shown}`));
    }
    return { label: "Which point", field, name: "point" };
  }

  function sure(job) {
    const why = stillohm.view?.jobs.find((one) => one.job === job)?.why;
    return { label: `End it now? ${(why ?? "").replaceAll("_", " ")}` };
  }

  part.addEventListener("click", (event) => {
    const button = event.target.closest("button[data-act]");
    if (button) press(button);
  });

  // After a touch the next press of a foot switch is for the next step again.
  page.addEventListener("click", (event) => {
    if (event.detail > 0) event.target.closest("button:not(.panel button)")?.blur();
  });

  // ---- keys

  const TYPED_MS = 80; // a scanner types faster than hands
  let typed = -Infinity;
  let waiting = 0;

  const keysOn = () => document.getElementById("keys")?.getAttribute("aria-pressed") !== "false";

  document.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.altKey || event.metaKey) return;
    const now = performance.now();
    const scanned = now - typed < TYPED_MS;
    if (event.key.length === 1 && event.key !== " ") typed = now;
    clearTimeout(waiting);
    const at = document.activeElement;
    if (event.key === "Escape" && panel) return close(true);
    if (at?.closest("input, select, textarea, [contenteditable]")) return;
    if (event.key === "Enter" || event.key === " ") {
      // A held key, or the end of a scanned code, is no press.
      if (event.repeat || scanned) return event.preventDefault();
      const first = part.querySelector(".first");
      const other = at?.closest("a, button, summary") && at !== first;
      if (other || !first) return;
      event.preventDefault();
      if (first.dataset.act) press(first);
      else first.click();
    } else if (keysOn() && !event.repeat && !scanned && /^[a-z]$/i.test(event.key)) {
      const button = part.querySelector(`[data-act][data-key="${event.key.toLowerCase()}"]`);
      // Alone, not the first letter of a scanned code.
      if (button) waiting = setTimeout(() => press(button), TYPED_MS);
    }
  });

  const keys = document.getElementById("keys");
  const remembered = localStorage.getItem("stillohm.keys") !== "off";
  keys?.setAttribute("aria-pressed", String(remembered));
  keys?.addEventListener("click", () => {
    const on = !keysOn();
    keys.setAttribute("aria-pressed", String(on));
    localStorage.setItem("stillohm.keys", on ? "on" : "off");
  });

  // ---- from the stream

  // ---- where the live value lies in the limits

  function live(view) {
    const marker = part.querySelector("g.live");
    if (!marker) return;
    const meter = view.meters.find((m) => m.name === active(view)?.ask.meter);
    const shows = meter && !blank(meter, view) && (meter.over_range || meter.ohms !== null);
    marker.setAttribute("visibility", shows ? "visible" : "hidden");
    if (!shows) return;
    const { axis, from, to } = marker.dataset;
    const [least, most] = [Number(from), Number(to)];
    let along = 1;
    if (!meter.over_range) {
      along = axis === "log"
        ? (meter.ohms > 0 ? Math.log(meter.ohms / least) / Math.log(most / least) : 0)
        : (meter.ohms - least) / (most - least);
    }
    marker.setAttribute("transform", `translate(${20 + 440 * Math.min(1, Math.max(0, along))} 0)`);
  }

  // ---- what a job came to, from its last row, which is on the disk

  stillohm.events.on("row", (row) => {
    const ended = document.getElementById("ended");
    if (row.bench !== bench) return;
    if (row.event === "job_start") ended.replaceChildren();
    if (row.event !== "job_end") return;
    const words = row.reason.replaceAll("_", " ");
    const whole = el("a", { href: `/jobs/${row.job}` }, `${row.job}, whole`);
    const keep = `keep elsewhere: ${row.seq}:${row.chain}`;
    ended.replaceChildren(
      el("h2", {}, `${row.asset}, ${row.motor}`),
      el("p", {}, words),
      el("p", {}, whole, ` · ${keep}`),
    );
  });

  stillohm.events.on("view", (view) => {
    meters(view);
    live(view);
    if (jobs(view) !== known) renew();
  });
  stillohm.events.on("hands", gate);
  stillohm.events.on("line", () => {
    if (stillohm.view) meters(stillohm.view);
    gate();
  });
  setInterval(() => {
    if (stillohm.view) meters(stillohm.view);
    countdown();
  }, 250);
})();
