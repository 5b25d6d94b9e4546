"use strict";
// The form that starts a job. It sends what was typed and says beside each
// field what the program answers; the checks are all the program's.
(() => {
  const form = document.getElementById("start");
  if (!form) return;
  const by = (id) => document.getElementById(id);
  const one = (name) => form.querySelector(`[name="${name}"]:checked`).value;
  const KEPT = "stillohm.tester";
  let chosen = null; // The model that was picked, as the API lists it.

  // Parts that what was chosen before them makes needless.
  function parts() {
    const model = one("by") === "model";
    by("by-model").hidden = !model;
    by("by-nameplate").hidden = model;
    by("cable-part").hidden = one("measured_at") === by("cable-part").dataset.without;
    const connected = by("connected");
    const ends = connected.dataset.ends.split(" ");
    const dual = (m) => m.kind === connected.dataset.threePhase ||
      m.limits.some((l) => ends.some((end) => l.point.endsWith(`_${end}`)));
    // A model that is typed and not picked may have two voltages: the program says so.
    if (!model || chosen || by("motor").value.trim() === "") {
      connected.hidden = !(model && chosen && dual(chosen));
    }
    const profile = by("profile").value;
    for (const group of by("condition").querySelectorAll("optgroup")) {
      const other = profile !== "" && group.label !== profile;
      group.hidden = other;
      group.disabled = other;
      if (other && group.contains(by("condition").selectedOptions[0])) by("condition").value = "";
    }
  }

  // Messages beside the fields.
  function clear(name) {
    const message = by(`${name}-wrong`);
    if (message) {
      message.hidden = true;
      message.textContent = "";
    }
    by(name)?.removeAttribute("aria-invalid");
  }
  function say(name, words) {
    const field = by(name);
    const message = by(`${name}-wrong`);
    if (!field || !message) return false;
    // A part that was folded away comes back with its message.
    for (let at = field; at && at !== form; at = at.parentElement) {
      if (at.tagName === "DETAILS") at.open = true;
      else at.hidden = false;
    }
    message.textContent = message.textContent ? `${message.textContent} ${words}` : words;
    message.hidden = false;
    field.setAttribute("aria-invalid", "true");
    return true;
  }
  const names = () => [...form.querySelectorAll(".wrong")].map((p) => p.id.slice(0, -"-wrong".length));
  function refuse(words) {
    by("refused").textContent = words;
  }

  // What is sent: only what was said, and nothing that is folded away.
  function said() {
    const job = {};
    const put = (into, key, name) => {
      const field = by(name);
      const value = field.value.trim();
      const folded = field.closest("[hidden]");
      if (value !== "" && (!folded || field.type === "hidden")) into[key] = value;
    };
    if (one("by") === "model") put(job, "motor", "motor");
    else {
      job.motor = {};
      for (const key of ["model", "kind", "rated_v", "electronics"]) put(job.motor, key, `motor.${key}`);
    }
    for (const name of ["bench", "asset", "tester", "stage", "temperature", "connection", "cable",
      "cable_ohms", "cable_doubt_percent", "ground_reference", "acceptance", "profile", "condition",
      "sheet"]) put(job, name, name);
    job.measured_at = one("measured_at");
    return job;
  }

  // The answer, beside the fields; what belongs to none stands above the button.
  function wrong(answer) {
    const left = [];
    for (const name of answer.missing || []) {
      if (!say(name, "This is needed.")) left.push(`${name} is needed`);
    }
    for (const { field, message } of answer.wrong || []) {
      if (!say(field, message)) left.push(`${field}: ${message}`);
    }
    if (left.length) refuse(left.join("; "));
    const first = form.querySelector("[aria-invalid]");
    (first || by("refused")).focus();
  }

  const button = form.querySelector("button[type=submit]");
  let busy = false;
  async function start() {
    if (busy) return;
    busy = true;
    names().forEach(clear);
    refuse("");
    button.setAttribute("aria-disabled", "true");
    const { ok, status, answer, error } = await stillohm.ask("/api/jobs", said());
    busy = false;
    button.removeAttribute("aria-disabled");
    if (ok) {
      remember();
      const bench = by("bench");
      location.assign((bench.selectedOptions ? bench.selectedOptions[0] : bench).dataset.address);
    } else if (status === 422 && (answer.missing || answer.wrong)) {
      wrong(answer);
    } else {
      refuse(status === 0 ? "No answer came from the program. Whether the job was started shows on the bench; look before starting again." : error);
      by("refused").focus();
    }
  }

  // The tester, kept on this screen. A browser may forbid that; then it is typed.
  function remember() {
    try {
      sessionStorage.removeItem(DRAFT);
      localStorage.setItem(KEPT, by("tester").value.trim());
    } catch { /* Typed again next time. */ }
  }
  function recall() {
    try {
      if (!by("tester").value) by("tester").value = localStorage.getItem(KEPT) || "";
    } catch { /* Typed this time. */ }
  }

  // What was typed, until the job starts: a reload loses none of it.
  const DRAFT = `stillohm.start ${by("bench").dataset.address || ""}`;
  const fields = () => [...form.querySelectorAll("[name]")].filter((f) => f.type !== "hidden");
  function draft() {
    const typed = fields().filter((f) => f.type !== "radio" || f.checked);
    try {
      sessionStorage.setItem(DRAFT, JSON.stringify(typed.map((f) => [f.name, f.value])));
    } catch { /* A reload then begins anew. */ }
  }
  function undraft() {
    let typed = [];
    try {
      typed = JSON.parse(sessionStorage.getItem(DRAFT)) || [];
    } catch { /* Nothing was kept. */ }
    for (const [name, value] of typed) {
      for (const field of fields().filter((f) => f.name === name)) {
        if (field.type === "radio") field.checked = field.value === value;
        else field.value = value;
      }
    }
  }

  // Enter in a line of text goes to the next field: a scanner ends with it.
  function next(from) {
    const all = [...form.querySelectorAll("input:not([type=hidden]), select, button")];
    // What is folded away is passed by, and how the motor is told: that is seldom changed.
    const open = all.filter((field) => field.getClientRects().length > 0 && field.name !== "by" &&
      !field.closest("details:not([open])") && (field.type !== "radio" || field.checked));
    (open[open.indexOf(from) + 1] || button).focus();
  }

  // Finding a model.
  const motor = by("motor");
  const list = by("motor-list");
  const found = by("motor-found");
  let models = [];
  let listed = ""; // What they were found by.
  let at = -1;
  let timer = 0;
  let asking = null;

  const ohms = ({ point, min_ohms: min, max_ohms: max }) => {
    const words = min === null ? `up to ${max}` : max === null ? `from ${min}` : `${min} to ${max}`;
    return `${point.replaceAll("_", " ")} ${words} Ω`;
  };
  const element = (tag, name, words) => {
    const made = document.createElement(tag);
    made.className = name;
    made.textContent = words;
    return made;
  };
  function card(into, model) {
    const plate = [model.kind.replaceAll("_", "-")];
    if (model.rated_v !== null) plate.push(`${model.rated_v} V`);
    into.append(element("strong", "model", model.model), " ", element("span", "plate", plate.join(", ")));
    into.append(" ", element("span", "limits", model.limits.map(ohms).join(", ") || "no winding limits"));
    for (const problem of model.problems) {
      into.append(" ", element("span", "problem", `Not usable, so not judged: ${problem}`));
    }
  }
  function close() {
    list.hidden = true;
    at = -1;
    motor.setAttribute("aria-expanded", "false");
    motor.removeAttribute("aria-activedescendant");
    found.textContent = "";
  }
  function show(answer, words) {
    models = answer;
    listed = words.trim();
    // Whoever has gone on is not called back.
    if (document.activeElement !== motor) return;
    at = -1;
    motor.removeAttribute("aria-activedescendant");
    list.replaceChildren(...models.map((model, index) => {
      const option = document.createElement("li");
      option.id = `motor-${index}`;
      option.setAttribute("role", "option");
      option.setAttribute("aria-selected", "false");
      card(option, model);
      return option;
    }));
    list.hidden = models.length === 0;
    motor.setAttribute("aria-expanded", String(!list.hidden));
    const count = models.length === 1 ? "1 model fits" : `${models.length} models fit`;
    if (models.length === 0) found.textContent = "Nothing fits, and nothing is near. Say its kind and nameplate instead.";
    else if (!models[0].fits) found.textContent = "Nothing fits. These are the nearest:";
    else found.textContent = `${count}.`;
  }
  // Whether the answer came, and nothing else was asked meanwhile.
  function look(words) {
    asking?.abort();
    const mine = new AbortController();
    asking = mine;
    return (async () => {
      try {
        const answer = await fetch(`/api/motors?q=${encodeURIComponent(words)}`, { signal: mine.signal });
        const told = await answer.json();
        if (asking !== mine) return false;
        if (answer.ok) show(told, words);
        else found.textContent = told.error;
        return answer.ok;
      } catch {
        if (asking !== mine) return false;
        models = [];
        found.textContent = "No answer came from the program; the model can still be typed whole.";
        return false;
      }
    })();
  }
  function move(to) {
    if (list.hidden || models.length === 0) return;
    list.children[at]?.setAttribute("aria-selected", "false");
    at = (to + models.length) % models.length;
    const option = list.children[at];
    option.setAttribute("aria-selected", "true");
    motor.setAttribute("aria-activedescendant", option.id);
    option.scrollIntoView({ block: "nearest" });
  }
  function choose(model) {
    clearTimeout(timer);
    asking?.abort();
    asking = null;
    chosen = model;
    if (model) {
      motor.value = model.model;
      draft();
    }
    const box = by("motor-chosen");
    box.replaceChildren();
    if (model) {
      card(box, model);
      clear("motor");
      close();
    }
    parts();
  }
  const fit = (words, oneIsEnough) =>
    models.find((m) => m.model.toLowerCase() === words.toLowerCase()) ||
    (oneIsEnough && models.length === 1 && models[0].fits ? models[0] : null);
  // The one that is marked, the one that was typed whole, or the only one that fits.
  function enter() {
    const words = motor.value.trim();
    if (at >= 0) choose(models[at]);
    else if (words !== "" && !chosen) {
      // A scanner does not wait for a list: its next letters belong to the next field.
      if (list.hidden || listed !== words) {
        next(motor);
        recognise(true);
        return;
      }
      const model = fit(words, true);
      if (!model) return move(0);
      choose(model);
    }
    close();
    next(motor);
  }
  motor.addEventListener("input", () => {
    if (chosen) choose(null);
    clearTimeout(timer);
    const words = motor.value;
    if (words.trim() === "") return asking?.abort(), asking = null, close();
    timer = setTimeout(() => {
      timer = 0;
      look(words);
    }, 120);
  });
  motor.addEventListener("keydown", (event) => {
    if (event.isComposing) return;
    if (event.key === "ArrowDown" || event.key === "ArrowUp") {
      event.preventDefault();
      const step = event.key === "ArrowDown" ? 1 : -1;
      if (list.hidden) look(chosen ? "" : motor.value).then(() => move(step > 0 ? 0 : -1));
      else move(at < 0 && step < 0 ? -1 : at + step);
    } else if (event.key === "Enter") {
      event.preventDefault();
      enter();
    } else if (event.key === "Escape" && !list.hidden) {
      event.preventDefault();
      close();
    }
  });
  // A model that was typed and left; where it is none, that is said at once.
  async function recognise(oneIsEnough) {
    clearTimeout(timer);
    timer = 0;
    const words = motor.value.trim();
    if (chosen || words === "") return;
    if (!(await look(words))) return;
    if (chosen || motor.value.trim() !== words || document.activeElement === motor) return;
    const model = fit(words, oneIsEnough);
    if (model) choose(model);
    else if (models.length && models[0].fits) found.textContent = `Not one model yet: ${models.length} fit. Choose one.`;
    else found.textContent = "Nothing in the catalogue fits.";
  }
  motor.addEventListener("blur", () => {
    close();
    recognise(false);
  });
  // A press on the list keeps the cursor in the field.
  list.addEventListener("pointerdown", (event) => event.preventDefault());
  list.addEventListener("mousedown", (event) => event.preventDefault());
  list.addEventListener("click", (event) => {
    const option = event.target.closest("[role=option]");
    if (option) choose(models[[...list.children].indexOf(option)]);
  });

  form.addEventListener("keydown", (event) => {
    if (event.key !== "Enter" || event.isComposing || event.target === motor) return;
    if (event.target.matches("input, select")) {
      event.preventDefault();
      next(event.target);
    }
  });
  form.addEventListener("input", (event) => {
    const name = event.target.name;
    if (name && name !== "by") clear(name);
  });
  form.addEventListener("input", draft);
  form.addEventListener("change", () => {
    parts();
    draft();
  });
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    start();
  });

  undraft();
  recall();
  parts();
  recognise(false);
  button.disabled = false;
  // A scanner types at once; the cautions stay in sight.
  by("asset").focus({ preventScroll: true });
})();
