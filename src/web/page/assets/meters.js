"use strict";
// Meters and how they are, alive. Digits older than 2 s are blank, and so are
// all when no word comes; how old they are is then said.

(() => {
  const cards = [...document.querySelectorAll("[data-meter]")];
  const changed = document.getElementById("changed");

  // The same words as the page has when it arrives.
  function ago(seconds) {
    if (seconds < 60) return `${Math.floor(seconds)} s ago`;
    if (seconds < 3600) return `${Math.floor(seconds / 60)} min ago`;
    return `${Math.floor(seconds / 3600)} h ago`;
  }

  function put(card, field, text) {
    stillohm.put(card.querySelector(`[data-field=${field}]`), text);
  }

  function fill(card, meter, view) {
    put(card, "bench", meter.bench);
    put(card, "port", meter.port);
    put(card, "protocol", meter.protocol);
    put(card, "state", meter.connected ? "● connected" : "✗ not connected");
    put(card, "trouble", meter.trouble);
    put(card, "good", String(meter.good_frames));
    put(card, "bad", String(meter.bad_frames));
    put(card, "last_bad", meter.last_bad || "none yet");
    put(card, "last_bad_bytes", meter.last_bad_bytes);
    const battery = meter.battery_percent;
    put(card, "battery", battery === null ? "it does not say" : `${battery.toFixed(0)} %`);
    put(card, "notes", notes(meter, view));
  }

  // What jobs say of it all the time, and what a check asks for now.
  function notes(meter, view) {
    const said = view.jobs
      .flatMap((job) => job.banners)
      .filter((banner) => banner.startsWith(`${meter.name}: `))
      .map((banner) => banner.slice(meter.name.length + 2));
    for (const one of view.proving) {
      if (one.meter === meter.name) said.push(`being checked: ${one.say}`);
    }
    return [...new Set(said)].join("; ") || "nothing is said of it now";
  }

  function tick() {
    const view = stillohm.view;
    if (!view) return;
    const now = stillohm.now();
    for (const card of cards) {
      const meter = view.meters.find((one) => one.name === card.dataset.meter);
      const heard = meter && meter.shown_at !== null;
      const age = heard ? Math.max(0, now - meter.shown_at / 1e9) : NaN;
      const live = heard && meter.connected && age <= stillohm.SILENT_S && stillohm.lost() === 0;
      put(card, "shown", live ? [meter.shown, ...meter.flags].join(" ") : "–");
      put(card, "age", heard ? (live ? "now" : ago(age)) : "never");
    }
  }

  stillohm.events.on("view", (view) => {
    const names = new Set(cards.map((card) => card.dataset.meter));
    for (const meter of view.meters) {
      const card = cards.find((one) => one.dataset.meter === meter.name);
      if (card) fill(card, meter, view);
      names.delete(meter.name);
    }
    const other = names.size > 0 || view.meters.length !== cards.length;
    if (changed) changed.hidden = !other;
    tick();
  });
  setInterval(tick, 250);
})();
