"use strict";
// Tones and speech for hands that are on the clips. Tones come only from rows,
// which are on the disk; speech only from a voice of this machine.

(() => {
  const page = document.getElementById("bench");
  const tones = document.getElementById("tones");
  const voice = document.getElementById("voice");
  if (!page || !tones || !voice) return;
  const bench = page.dataset.bench;
  const job = () => stillohm.view?.jobs.find((one) => one.bench === bench && one.state === "active");

  // Remembered for this browser; off until a person turns it on.
  function toggle(button, name, turned) {
    const show = (on) => button.setAttribute("aria-pressed", String(on));
    show(localStorage.getItem(name) === "on");
    button.addEventListener("click", () => {
      const on = button.getAttribute("aria-pressed") !== "true";
      localStorage.setItem(name, on ? "on" : "off");
      show(on);
      turned(on);
    });
  }
  const isOn = (button) => button.getAttribute("aria-pressed") === "true" && !button.disabled;

  // ---- tones: [Hz, start s, length s, wave]
  const TONES = {
    // Up, soft: it is on the disk, take the clips off.
    taken: [[660, 0, 0.12, "sine"], [990, 0.12, 0.22, "sine"]],
    // The same note thrice: once more, please.
    repeat: [[440, 0, 0.1, "triangle"], [440, 0.18, 0.1, "triangle"], [440, 0.36, 0.1, "triangle"]],
    // Down, rough and long: look at the screen.
    fault: [[392, 0, 0.25, "sawtooth"], [262, 0.27, 0.25, "sawtooth"], [165, 0.54, 0.5, "sawtooth"]],
  };
  const WORST_FIRST = ["fault", "repeat", "taken"];
  let context = null;
  let due = null;

  function awake() {
    context ??= new AudioContext();
    if (context.state === "suspended") context.resume();
  }

  function play(name) {
    if (!isOn(tones)) return;
    awake();
    const from = context.currentTime + 0.02;
    for (const [hertz, start, length, wave] of TONES[name]) {
      const source = new OscillatorNode(context, { frequency: hertz, type: wave });
      const level = new GainNode(context, { gain: 0 });
      // Without an edge at either end it does not click.
      level.gain.setValueAtTime(0, from + start);
      level.gain.linearRampToValueAtTime(0.25, from + start + 0.01);
      level.gain.setValueAtTime(0.25, from + start + length - 0.03);
      level.gain.linearRampToValueAtTime(0, from + start + length);
      source.connect(level).connect(context.destination);
      source.start(from + start);
      source.stop(from + start + length);
    }
  }

  // What a row sounds like; nothing for words and attestations.
  function tone(row) {
    if (row.event === "aborted") return "repeat";
    if (!["value", "over_range", "open", "judged"].includes(row.event)) return null;
    if (row.verdict === "fail") return "fault";
    if (row.verdict === "undecided") return "repeat";
    return "taken";
  }

  toggle(tones, "stillohm.tones", (on) => on && play("taken"));
  // A browser is silent until somebody has touched the page.
  for (const touched of ["keydown", "pointerdown"]) {
    document.addEventListener(touched, () => isOn(tones) && awake(), { passive: true });
  }

  // ---- speech
  const speech = window.speechSynthesis;
  const english = () => speech?.getVoices().find((one) => one.localService && one.lang.startsWith("en"));

  function offered() {
    const there = Boolean(english());
    voice.disabled = !there;
    voice.title = there ? "" : "This browser has no English voice of its own";
  }
  offered();
  speech?.addEventListener?.("voiceschanged", offered);

  const UNITS = { "GΩ": "gigohm", "MΩ": "megohm", "kΩ": "kilohm", "mΩ": "milliohm", "Ω": "ohm" };
  const spoken = (text) =>
    text.replace(/[GMkm]?Ω/g, (unit) => UNITS[unit]).replaceAll("_", " ");

  function speak(words) {
    const one = english();
    if (!isOn(voice) || !one || !words) return;
    // What was being said is about a step that is over.
    speech.cancel();
    const said = new SpeechSynthesisUtterance(spoken(words));
    said.voice = one;
    said.lang = one.lang;
    speech.speak(said);
  }

  let verdict = "";
  let said = null;
  let alone = 0;

  function next() {
    const ask = job()?.ask;
    const words = [verdict, ...(ask && ask.say !== said ? [...ask.cautions, ask.say] : [])];
    said = ask?.say ?? null;
    verdict = "";
    speak(words.filter(Boolean).join(" "));
  }

  toggle(voice, "stillohm.voice", (on) => {
    said = null;
    if (on) next();
    else speech?.cancel();
  });

  stillohm.events.on("row", (row) => {
    if (row.bench !== bench || !row.job || row.job !== job()?.job) return;
    const name = tone(row);
    if (!name) return;
    // Rows of one moment make one tone: the worst.
    if (!due) setTimeout(() => (play(due), (due = null)), 120);
    due = WORST_FIRST.find((one) => one === due || one === name);
    const found = row.finding || row.verdict || row.event;
    verdict = `${[row.shown, found.replaceAll("_", " ")].filter(Boolean).join(", ")}.`;
    // The next ask follows at once; if none does, the verdict goes alone.
    clearTimeout(alone);
    alone = setTimeout(next, 700);
  });
  stillohm.events.on("view", () => {
    const say = job()?.ask.say ?? null;
    if (say === said) return;
    clearTimeout(alone);
    next();
  });
})();
