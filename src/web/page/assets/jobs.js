"use strict";
// A job's page: a row is withdrawn, or a place measured again, with a reason.
(() => {
  const told = document.querySelector(".told");
  if (!told) return;
  const job = told.dataset.job;
  let open = null;

  const make = (tag, props = {}, ...inside) => {
    const made = Object.assign(document.createElement(tag), props);
    made.append(...inside);
    return made;
  };

  // Throws what is to stand beside the field.
  const post = async (path, said) => {
    const { ok, answer, error } = await stillohm.ask(path, said);
    if (!ok) throw new Error(error);
    return answer;
  };

  const act = async (button, reason) => {
    if (button.dataset.withdraw) {
      const seq = Number(button.dataset.withdraw);
      await post("/api/commands", { act: "withdraw", seq, reason });
      return;
    }
    const point = button.dataset.redo;
    const at = `/api/jobs/${encodeURIComponent(job)}`;
    await post(`${at}/redo`, { point });
    // Only what is done has a reason to be noted.
    await post(`${at}/note`, { note: `${point} is measured again: ${reason}` });
  };

  const close = () => {
    if (!open) return;
    open.form.remove();
    open.button.setAttribute("aria-expanded", "false");
    open.button.focus();
    open = null;
    told.dispatchEvent(new Event("closed"));
  };

  const ask = (button) => {
    if (open && open.button === button) return close();
    close();
    const field = make("input", { id: "reason", autocomplete: "off", maxLength: 200, required: true });
    const wrong = make("p", { className: "wrong", id: "reason-wrong" });
    wrong.setAttribute("role", "alert");
    const go = make("button", { className: "first", textContent: button.textContent });
    const keep = make("button", { type: "button", textContent: "Leave it" });
    const label = make("label", { htmlFor: "reason", textContent: button.dataset.ask });
    const form = make("form", { className: "why-form", noValidate: true }, label, field, wrong, make("p", {}, go, " ", keep));
    const refuse = (words) => {
      wrong.textContent = words;
      field.setAttribute("aria-invalid", "true");
      field.setAttribute("aria-describedby", "reason-wrong");
      field.focus();
    };
    form.addEventListener("submit", async (event) => {
      event.preventDefault();
      const reason = field.value.trim();
      if (!reason) return refuse("Say why: it is kept with the row.");
      go.disabled = true;
      wrong.textContent = "";
      try {
        await act(button, reason);
        location.reload();
      } catch (e) {
        refuse(e.message);
      } finally {
        go.disabled = false;
      }
    });
    keep.addEventListener("click", close);
    form.addEventListener("keydown", (event) => {
      if (event.key === "Escape") close();
      // A foot switch that acts as a key is not meant while words are typed.
      event.stopPropagation();
    });
    button.closest(".acts").after(form);
    button.setAttribute("aria-expanded", "true");
    open = { button, form };
    field.focus();
  };

  // Somebody signs the job off: a row of the log, and the page is asked for anew.
  const wakeSign = (sign) => {
    const wrong = sign.querySelector(".wrong");
    const { by, words } = sign.elements;
    const refuse = (field, why) => {
      wrong.textContent = why;
      field.setAttribute("aria-invalid", "true");
      field.setAttribute("aria-describedby", wrong.id);
      field.focus();
    };
    sign.hidden = false;
    // A foot switch that acts as a key is not meant while words are typed.
    sign.addEventListener("keydown", (event) => event.stopPropagation());
    sign.addEventListener("submit", async (event) => {
      event.preventDefault();
      for (const field of [by, words]) field.removeAttribute("aria-invalid");
      wrong.textContent = "";
      if (!by.value.trim()) return refuse(by, "Say who reviews: a review is signed with a name.");
      if (!words.value.trim()) return refuse(words, "Say what was looked at, and what it came to.");
      const go = sign.querySelector("button");
      go.disabled = true;
      try {
        const said = { act: "review", seq: Number(sign.dataset.seq), words: words.value.trim(), by: by.value.trim() };
        await post("/api/commands", said);
        location.reload();
      } catch (e) {
        refuse(words, e.message);
      } finally {
        go.disabled = false;
      }
    });
  };
  const signing = () => [...told.querySelectorAll(".sign :is(input, textarea)")].some((field) => field.value);

  const wake = () => {
    for (const sign of told.querySelectorAll(".sign")) wakeSign(sign);
    for (const acts of told.querySelectorAll(".acts")) {
      acts.hidden = false;
      for (const button of acts.querySelectorAll("button")) {
        button.setAttribute("aria-expanded", "false");
        button.addEventListener("click", () => ask(button));
      }
    }
  };
  wake();

  // A job that runs is followed: its page is asked for again when a row of it
  // comes. Never under somebody's hands: an open form is waited for, and what
  // had the focus has it again.
  if (!("runs" in told.dataset)) return;
  let asked = false;
  let again = false;
  const same = (now) => {
    const it = document.activeElement;
    if (!told.contains(it)) return null;
    if (it.id) return now.querySelector(`#${CSS.escape(it.id)}`);
    for (const key of ["withdraw", "redo"]) {
      if (it.dataset[key]) return now.querySelector(`[data-${key}="${CSS.escape(it.dataset[key])}"]`);
    }
    const at = it.getAttribute("href");
    return at && now.querySelector(`a[href="${CSS.escape(at)}"]`);
  };
  const follow = async () => {
    if (asked || open || signing()) {
      again = true;
      return;
    }
    [asked, again] = [true, false];
    try {
      const answer = await fetch(location.pathname);
      const page = new DOMParser().parseFromString(await answer.text(), "text/html");
      const now = page.querySelector(".told");
      if (open || signing()) again = true;
      else if (answer.ok && now) {
        const focus = same(now);
        // The style stays where it is: a page without it would jump.
        const parts = (of) => [...of.childNodes].filter((part) => part.nodeName !== "LINK");
        for (const part of parts(told)) part.remove();
        told.append(...parts(now));
        wake();
        focus?.focus({ preventScroll: true });
      }
    } catch {
      // The next row asks again.
    } finally {
      asked = false;
      if (again && !open && !signing()) follow();
    }
  };
  stillohm.events.on("row", (row) => {
    if (row.job === job || row.event === "withdrawn") follow();
  });
  stillohm.events.on("missed", follow);
  told.addEventListener("closed", () => again && follow());
})();
