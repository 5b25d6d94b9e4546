"use strict";
// A meter is set up: what can be chosen, a trial that is looked at four times
// a second, and the door that writes it down.

(() => {
  const form = document.getElementById("setup");
  if (!form) return;
  const by = (id) => document.getElementById(id);
  const put = stillohm.put;
  const EVERY_MS = 250;
  const SILENT_S = 2;

  const option = (value, words) => Object.assign(document.createElement("option"), { value, textContent: words });

  async function offer() {
    const response = await fetch("/api/setup").catch(() => null);
    if (!response?.ok) return refuse("What can be chosen is not known: Stillohm did not answer. Load this page again.");
    const { ports, protocols, benches, file } = await response.json();
    put(by("file"), file);
    for (const { value, about, taken } of ports) by("port-list").append(option(value, taken ? `${about}: ${taken}` : about));
    for (const bench of benches) by("bench-list").append(option(bench, ""));
    for (const { value, about } of protocols) by("protocol").append(option(value, about ? `${value}: ${about}` : value));
  }

  function said() {
    const text = (id) => by(id).value.trim();
    const keys = ["name", "bench", "port", "protocol", "unit", "terminals", "over_range_above_ohms", "serial_number", "certificate", "calibrated_on", "calibration_due", "baud", "data_bits", "parity", "stop_bits"];
    const meter = Object.fromEntries(keys.map((key) => [key, text(key)]));
    meter.measures = [...form.querySelectorAll("[name=measures]:checked")].map((box) => box.value);
    meter.accuracy = [...form.querySelectorAll(".range")].map((row) =>
      Object.fromEntries([...row.querySelectorAll("input")].map((field) => [field.dataset.key, field.value.trim()])),
    );
    return meter;
  }

  // ---- refusals, each beside its field

  function refuse(words) {
    put(by("refused"), words);
  }
  function clear() {
    refuse("");
    for (const wrong of form.querySelectorAll(".wrong")) {
      wrong.hidden = true;
      put(wrong, "");
    }
    for (const field of form.querySelectorAll("[aria-invalid]")) field.removeAttribute("aria-invalid");
  }
  function mark(field, words) {
    const place = by(`${field}-wrong`);
    if (!place) return refuse(`${field}: ${words}`);
    place.hidden = false;
    put(place, words);
    by(field)?.setAttribute("aria-invalid", "true");
  }
  function wrong({ status, answer, error }) {
    for (const field of answer.missing ?? []) mark(field, "This is needed.");
    for (const { field, message } of answer.wrong ?? []) mark(field, message);
    if (!answer.missing && !answer.wrong) refuse(status ? error : "No answer came: look at the file before writing again.");
    (form.querySelector("[aria-invalid]") ?? by("refused")).focus();
  }

  // ---- the trial

  let looking = 0;
  let asked = 0; // the trial that is wanted, or 0: a later one takes the place of an earlier

  function quiet(words) {
    clearInterval(looking);
    looking = 0;
    put(by("shown"), "–");
    put(by("heard"), words);
    put(by("frames"), "");
    by("hush").hidden = true;
  }

  async function look() {
    const response = await fetch("/api/trial").catch(() => null);
    if (!looking) return;
    if (!response?.ok) return quiet(response ? "It is not listened to any more." : "No word from Stillohm.");
    const meter = await response.json();
    const age = meter.shown_at === null ? null : meter.shown_at / 1e9;
    const live = meter.connected && age !== null && age <= SILENT_S;
    put(by("shown"), live ? meter.shown || "–" : "–");
    put(
      by("heard"),
      !meter.connected ? `Not open: ${meter.trouble || "it is being tried"}`
        : age === null ? "It is open; no reading yet."
        : live ? "It is heard. Compare with the meter's own display."
        : `Silent for ${Math.floor(age)} s.`,
    );
    const bad = meter.bad_frames ? `, ${meter.bad_frames} not (the last: ${meter.last_bad})` : "";
    put(by("frames"), `${meter.good_frames} frames understood${bad}`);
  }

  async function listen() {
    clear();
    quiet("It is being opened.");
    const mine = (asked += 1);
    const meter = said();
    // A trial needs no name yet.
    meter.name ||= "trial";
    const told = await stillohm.ask("/api/trial", meter);
    if (mine !== asked) return;
    if (!told.ok) {
      asked = 0;
      quiet("Not listened to.");
      return wrong(told);
    }
    by("hush").hidden = false;
    looking ||= setInterval(look, EVERY_MS);
  }

  by("listen").addEventListener("click", listen);
  by("hush").addEventListener("click", () => {
    asked = 0;
    quiet("Not listened to.");
    stillohm.ask("/api/trial/end");
    by("listen").focus();
  });
  // Another choice is another trial.
  for (const id of ["port", "protocol", "baud", "data_bits", "parity", "stop_bits", "unit"]) {
    by(id).addEventListener("change", () => asked && listen());
  }

  // ---- ranges, and writing it down

  by("more").addEventListener("click", () => {
    const rows = form.querySelectorAll(".range");
    const row = rows[rows.length - 1].cloneNode(true);
    row.setAttribute("aria-label", `Range ${rows.length + 1}`);
    for (const field of row.querySelectorAll("input")) field.value = "";
    by("ranges").append(row);
    row.querySelector("input").focus();
  });

  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    const button = form.querySelector("[type=submit]");
    if (button.getAttribute("aria-disabled") === "true") return;
    clear();
    put(by("saved"), "");
    button.setAttribute("aria-disabled", "true");
    const told = await stillohm.ask("/api/meters", said());
    button.removeAttribute("aria-disabled");
    if (!told.ok) return wrong(told);
    asked = 0;
    quiet("Not listened to.");
    put(by("saved"), told.answer.saved);
    by("saved").focus();
  });

  // A scanner ends with Enter: it fills a field and writes nothing down.
  form.addEventListener("keydown", (event) => {
    if (event.key === "Enter" && event.target.matches("input")) event.preventDefault();
  });

  offer();
})();
