"use strict";
// The last minute of a bench's meters: resistance above, the test voltage below
// it while there is one. A plateau is thicker, over-range is hatched at the
// top, what was taken is marked from its row.

(() => {
  const page = document.getElementById("bench");
  const canvas = document.getElementById("trace");
  if (!page || !canvas) return;
  const bench = page.dataset.bench;
  const paint = canvas.getContext("2d");
  const SPAN = 60; // s
  const FRAME_MS = 50; // at most 20 pictures a second
  const LOG_FROM = 20; // ratio of largest to smallest from which the axis is logarithmic
  const FLOOR = 1e-3; // ohms: less is drawn here on a logarithmic axis
  const FLAT = ["steady", "taken", "remove the clips", "holding"];
  const still = matchMedia("(prefers-reduced-motion: reduce)");

  const traces = new Map(); // meter → [{t, ohms, over, flat, volts}]
  let marks = []; // {t, ohms, over, text, verdict}
  let limits = [];
  let latest = -Infinity;

  stillohm.events.on("view", (view) => {
    const t = view.at / 1e9;
    if (t < latest) {
      // Another run: its time begins anew.
      traces.clear();
      marks = [];
    }
    latest = t;
    for (const meter of view.meters) {
      if (meter.bench !== bench) continue;
      const fresh = meter.connected && meter.shown_at !== null && t - meter.shown_at / 1e9 <= stillohm.SILENT_S;
      const trace = traces.get(meter.name) ?? [];
      traces.set(meter.name, trace);
      trace.push({
        t,
        ohms: fresh && Number.isFinite(meter.ohms) ? meter.ohms : null,
        over: fresh && meter.over_range,
        flat: FLAT.includes(meter.settle),
        volts: fresh ? meter.test_volts : null,
        hold: fresh && meter.hold !== null,
      });
      while (trace.length && trace[0].t < t - SPAN - 1) trace.shift();
    }
    marks = marks.filter((mark) => mark.t >= t - SPAN);
    const job = view.jobs.find((one) => one.bench === bench && one.state === "active");
    const point = job?.points.find((one) => one.state === "now");
    limits = [
      ["at least", point?.lower_ohms, 0.7],
      ["at most", point?.upper_ohms, -0.7],
    ].filter(([, ohms]) => Number.isFinite(ohms));
  });

  // A page that opens asks once for the minute before it.
  fetch(`/api/benches/${encodeURIComponent(bench)}/minute`)
    .then((answer) => (answer.ok ? answer.json() : { samples: [], takes: [] }))
    .then((minute) => {
      if (minute.samples.some((s) => Number.isFinite(latest) && s.t > latest + SPAN)) return;
      const before = new Map();
      for (const s of minute.samples) {
        const own = traces.get(s.meter)?.[0]?.t ?? Infinity;
        if (s.t >= own) continue;
        before.set(s.meter, [...(before.get(s.meter) ?? []), { ...s, flat: FLAT.includes(s.settle) }]);
      }
      for (const [meter, samples] of before) traces.set(meter, [...samples, ...(traces.get(meter) ?? [])]);
      const first = Math.min(Infinity, ...marks.map((one) => one.t));
      marks = [...minute.takes.filter((take) => take.t < first).map((take) => mark(take, take.t)), ...marks];
    })
    .catch(() => {}); // the strip fills by itself

  function mark(row, t) {
    const ohms = row.value_ohms === "" ? null : Number(row.value_ohms);
    const sign = { pass: "✓", fail: "✗", undecided: "?" }[row.verdict] ?? "·";
    const text = `${sign} ${row.shown || row.event.replaceAll("_", " ")}`;
    return { t, ohms, over: ohms === null, text, verdict: row.verdict };
  }

  stillohm.events.on("row", (row) => {
    if (row.bench !== bench || !["value", "open", "over_range", "aborted"].includes(row.event)) return;
    marks.push(mark(row, stillohm.now()));
  });

  // ---- axes

  function axis(top, bottom) {
    const seen = limits.map(([, ohms]) => ohms);
    for (const trace of traces.values()) for (const s of trace) if (s.ohms !== null) seen.push(s.ohms);
    if (!seen.length) seen.push(0, 1);
    let low = Math.min(...seen);
    let high = Math.max(...seen);
    const small = Math.max(FLOOR, Math.min(...seen.filter((o) => o > 0), high));
    if (high / small > LOG_FROM) {
      low = Math.floor(Math.log10(small) * 2 - 0.2) / 2;
      high = Math.ceil(Math.log10(high) * 2 + 0.2) / 2;
      const place = (ohms) => {
        const at = (Math.log10(Math.max(ohms, FLOOR)) - low) / (high - low);
        return bottom - Math.min(1, Math.max(0, at)) * (bottom - top);
      };
      const ticks = [];
      const every = Math.max(1, Math.ceil((high - low) / 5));
      for (let e = Math.ceil(low); e <= high; e += every) ticks.push(10 ** e);
      return { place, ticks };
    }
    const pad = Math.max((high - low) * 0.15, Math.abs(high) * 0.05, 0.01);
    low = low >= 0 ? Math.max(0, low - pad) : low - pad;
    high += pad;
    const rough = (high - low) / 4;
    const power = 10 ** Math.floor(Math.log10(rough));
    const step = power * [1, 2, 5, 10].find((n) => n * power >= rough);
    const ticks = [];
    for (let n = Math.ceil(low / step); n * step <= high; n += 1) ticks.push(n * step);
    return { place: (ohms) => bottom - ((ohms - low) / (high - low)) * (bottom - top), ticks };
  }

  function words(ohms) {
    const size = Math.abs(ohms);
    const [by, unit] = [[1e9, "GΩ"], [1e6, "MΩ"], [1e3, "kΩ"]].find(([n]) => size >= n) ?? [1, "Ω"];
    return `${Number((ohms / by).toPrecision(3))} ${unit}`;
  }

  // ---- the picture

  const colour = {};
  function colours() {
    const style = getComputedStyle(document.documentElement);
    for (const name of ["ink", "dim", "line", "panel", "pass", "fail", "undecided", "water", "volt"]) {
      colour[name] = style.getPropertyValue(`--${name}`).trim();
    }
  }

  function line(x0, y0, x1, y1, ink, width, dash = []) {
    paint.strokeStyle = ink;
    paint.lineWidth = width;
    paint.setLineDash(dash);
    paint.beginPath();
    paint.moveTo(x0, y0);
    paint.lineTo(x1, y1);
    paint.stroke();
    paint.setLineDash([]);
  }

  function write(text, x, y, ink, align = "left", baseline = "middle") {
    paint.fillStyle = ink;
    paint.textAlign = align;
    paint.textBaseline = baseline;
    paint.fillText(text, x, y);
  }

  function hatch(x0, x1, y0, y1, ink, step) {
    paint.save();
    paint.beginPath();
    paint.rect(x0, y0, Math.max(1, x1 - x0), y1 - y0);
    paint.clip();
    const height = y1 - y0;
    for (let x = Math.floor((x0 - height) / step) * step; x < x1; x += step) {
      line(x, y1, x + height, y0, ink, 1.5);
    }
    paint.restore();
  }

  // One line through what follows without a break; `pick` gives a height or null.
  function curve(trace, x, pick, ink, width) {
    paint.strokeStyle = ink;
    paint.lineWidth = width;
    paint.lineJoin = "round";
    paint.beginPath();
    let before = null;
    for (const s of trace) {
      const y = pick(s);
      if (y === null || (before && s.t - before.t > 1)) before = null;
      if (y !== null) {
        if (before) paint.lineTo(x(s.t), y);
        else paint.moveTo(x(s.t), y);
        before = s;
      }
    }
    paint.stroke();
  }

  function draw() {
    const ratio = window.devicePixelRatio || 1;
    const { clientWidth: width, clientHeight: height } = canvas;
    if (!width || !height) return;
    if (canvas.width !== Math.round(width * ratio) || canvas.height !== Math.round(height * ratio)) {
      canvas.width = Math.round(width * ratio);
      canvas.height = Math.round(height * ratio);
    }
    paint.setTransform(ratio, 0, 0, ratio, 0, 0);
    paint.clearRect(0, 0, width, height);
    const em = parseFloat(getComputedStyle(canvas).fontSize);
    paint.font = `${em}px ${getComputedStyle(canvas).fontFamily}`;

    const all = [...traces.values()];
    const hold = all.some((trace) => trace.some((s) => s.volts !== null && (s.hold || Math.abs(s.volts) > 1)));
    const left = em * 4.6;
    const right = width - em * 0.6;
    const band = em * 1.1; // over-range
    const foot = height - em * 1.5;
    const bottom = hold ? foot - Math.max(em * 3, height * 0.2) : foot;
    const now = still.matches ? latest : Math.max(latest, stillohm.now() || 0);
    const x = (t) => right - ((now - t) / SPAN) * (right - left);
    const placed = texts(x, left, right, em);
    const top = band + em * (1.8 + 1.3 * Math.max(0, ...placed.map((mark) => mark.level)));
    const { place, ticks } = axis(top, bottom);

    for (let s = 0; s <= SPAN; s += 15) {
      line(x(now - s), band, x(now - s), foot, colour.line, 1);
      const align = s === 0 ? "right" : "center";
      write(s === 0 ? "now" : `−${s} s`, x(now - s), foot + em * 0.9, colour.dim, align);
    }
    for (const tick of ticks) {
      line(left, place(tick), right, place(tick), colour.line, 1);
      write(words(tick), left - em * 0.5, place(tick), colour.dim, "right");
    }
    paint.save();
    paint.beginPath();
    paint.rect(left, 0, right - left, height);
    paint.clip();
    for (const [word, ohms, beside] of limits) {
      const y = place(ohms);
      line(left, y, right, y, colour.ink, 1.5, [em * 0.6, em * 0.4]);
      write(`${word} ${words(ohms)}`, left + em * 0.4, y + beside * em, colour.ink);
    }
    for (const trace of all) {
      trace.forEach((s, n) => {
        const until = trace[n + 1]?.t ?? s.t;
        if (s.over && until - s.t < 1) hatch(x(s.t), x(until), 0, band, colour.dim, em * 0.5);
      });
      const height = (s) => (s.ohms === null ? null : place(s.ohms));
      curve(trace, x, height, colour.water, 1.5);
      curve(trace, x, (s) => (s.flat ? height(s) : null), colour.water, 4.5);
    }
    if (hold) volts(all, x, bottom + em * 0.8, foot, left, em);
    takes(placed, x, place, band, em);
    paint.restore();
    write("over", left - em * 0.5, band / 2, colour.dim, "right");
    if (hold) write("test V", left - em * 0.5, (bottom + em * 0.8 + foot) / 2, colour.dim, "right");
  }

  function volts(all, x, top, foot, left, em) {
    const seen = all.flat().map((s) => s.volts ?? 0);
    const most = Math.max(10, ...seen) * 1.1;
    const y = (s) => (s.volts === null ? null : foot - (s.volts / most) * (foot - top));
    line(left, top, x(latest), top, colour.line, 1);
    for (const trace of all) curve(trace, x, y, colour.volt, 2);
    const last = all.flat().findLast((s) => s.volts !== null);
    if (last) write(`${Math.round(Math.max(...seen))} V at most`, left + em * 0.4, top + em * 0.8, colour.ink);
  }

  const LEVELS = 3; // lines of texts above the trace

  // Where the text of each take stands: a text that would cover another goes
  // below it, and the older one goes when there is no room for both.
  function texts(x, left, right, em) {
    const placed = [];
    for (const mark of marks) {
      const wide = paint.measureText(mark.text).width;
      const from = Math.max(left, Math.min(x(mark.t) + em * 0.4, right - wide));
      const beside = placed.filter((other) => other.until > from - em);
      const taken = new Set(beside.map((other) => other.level));
      let level = [...Array(LEVELS).keys()].find((n) => !taken.has(n));
      if (level === undefined) {
        level = beside[0].level;
        placed.splice(placed.indexOf(beside[0]), 1);
      }
      placed.push({ ...mark, from, until: from + wide, level });
    }
    return placed;
  }

  function takes(placed, x, place, band, em) {
    for (const mark of marks) {
      const ink = colour[mark.verdict] || colour.ink;
      const y = mark.over ? band / 2 : place(mark.ohms);
      line(x(mark.t), band, x(mark.t), y, ink, 1);
      paint.fillStyle = ink;
      paint.beginPath();
      paint.arc(x(mark.t), y, em * 0.35, 0, 2 * Math.PI);
      paint.fill();
    }
    for (const { text, verdict, from, until, level } of placed) {
      const y = band + em * (0.9 + level * 1.3);
      paint.fillStyle = colour.panel;
      paint.fillRect(from - 2, y - em * 0.6, until - from + 4, em * 1.2);
      write(text, from, y, colour[verdict] || colour.ink);
    }
  }

  let drawn = -Infinity;
  let drawnAt = null;
  function frame(moment) {
    requestAnimationFrame(frame);
    if (moment - drawn < FRAME_MS || (still.matches && drawnAt === latest)) return;
    drawn = moment;
    drawnAt = latest;
    draw();
  }
  colours();
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", colours);
  addEventListener("resize", () => (drawnAt = null));
  requestAnimationFrame(frame);
})();
