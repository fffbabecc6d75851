// What is typed: signs in a box, and numbers on keys of our own that are large enough for gloves.
"use strict";

(() => {
  const DIGITS_MOST = 12;
  const SIGNS_MOST = "400";

  function el(name, given, ...children) {
    const made = document.createElement(name);
    for (const [key, value] of Object.entries(given || {})) {
      if (key === "press") made.addEventListener("click", value);
      else if (value === true) made.setAttribute(key, "");
      else if (value !== false && value !== null && value !== undefined) made.setAttribute(key, value);
    }
    made.append(...children.filter((child) => child !== null));
    return made;
  }

  // A box for signs. What comes at once, as a scanner types it, ends with its own Enter.
  function box(ask, { label, given, done, needed, isBusy, button, take }) {
    ask.classList.add("text");
    const typed = el("input", {
      type: "text", maxlength: SIGNS_MOST, autocomplete: "off", autocapitalize: "characters",
      spellcheck: "false", enterkeyhint: "done", id: "typed",
    });
    const end = () => {
      const text = typed.value.trim();
      if (text) take(text); else needed();
    };
    typed.addEventListener("keydown", (event) => {
      if (event.key !== "Enter" || isBusy()) return;
      event.preventDefault();
      end();
    });
    ask.append(el("label", { for: "typed", class: "unseen" }, label), typed, button(done, end, { class: "done", "data-word": "done" }));
    typed.value = given || "";
    typed.focus({ preventScroll: true });
  }

  // Numbers by taps; the unit ends them, so that none is guessed.
  // What was given before stands there to be put right.
  function pad(ask, { label, units, given, secret, words, wrong, typing, button, take }) {
    ask.classList.add("pad");
    let number = (/^[-\d.]+/.exec(given || "") || [""])[0];
    const shown = el("output", { class: "shown", "aria-label": label, "aria-live": "off" });
    const show = () => { shown.textContent = secret ? "•".repeat(number.length) : number.replace("-", "−"); typing(number); };
    const add = (sign) => {
      if (sign === "-") number = number.startsWith("-") ? number.slice(1) : "-" + number;
      else if (number.length < DIGITS_MOST && !(sign === "." && number.includes("."))) number += sign;
      show();
    };
    const erase = () => { number = number.slice(0, -1); show(); };
    const end = (unit) => {
      if (/\d/.test(number)) take(unit ? number + " " + unit : number);
      else wrong(words("number-first", { unit: unit || words("done") }));
    };
    const signs = [..."1234567890"].concat(units.length > 0 ? ["."] : []);
    const key = (sign, shows, said) => button(shows || sign, () => add(sign), { "data-digit": sign, "aria-label": said || sign });
    const keys = el("div", { class: "keys" }, ...signs.map((sign) => key(sign)));
    keys.append(button(words("erase"), erase, { "data-digit": "erase" }));
    const ends = (units.length > 0 ? units : [""]).map((unit) =>
      button(unit || words("done"), () => end(unit), { class: "unit", "data-unit": unit }));
    const minus = units.includes("°C") ? [key("-", "−", words("minus"))] : [];
    ask.append(keys, el("div", { class: "ends" }, shown, el("div", { class: "units" }, ...minus, ...ends)));
    show();
    ask.onkeys = (event) => {
      const onButton = event.target.tagName === "BUTTON";
      if (signs.includes(event.key) || (event.key === "-" && minus.length > 0)) add(event.key);
      else if (event.key === "," && units.length > 0) add(".");
      else if (event.key === "Backspace") erase();
      else if (event.key === "Enter" && number !== "" && !onButton && units.length < 2) end(units[0] || "");
      else if (event.key === "Enter" && number !== "" && !onButton) wrong(words("one-unit"));
      else return;
      event.preventDefault();
    };
  }

  Object.assign(standpipe, { el, box, pad });
})();
