// How one field is answered: by taps on choices, on keys of numbers, or by signs in a box. Every answer is held against its
// bounds before it is taken. Never here: which field is asked.
"use strict";

(() => {
  function inputs({ part, say, button, wrong, job, question, next, isBusy }) {
    // What goes with the answer stands with its keys.
    function beside(key, values, press) {
      const made = button(say(key, values), press, { class: "beside", "data-key": key });
      (part("ask").querySelector(".ends") || part("ask")).append(made);
    }

    // Few short choices stand side by side; long ones in two columns; whole sentences below each other.
    function shape(texts) {
      const longest = Math.max(...texts.map((text) => text.length));
      const many = longest <= 16 && texts.length > 4 ? "thirds" : longest <= 30 || texts.length > 3 ? "columns" : "rows";
      part("ask").className = longest > 40 && texts.length > 3 ? "list" : longest <= 9 && texts.length <= 7 ? "row" : many;
    }

    function showChoices(field) {
      shape(field.choices.map(([, text]) => text));
      const proposed = field.choices.filter(([word]) => word === field.proposal);
      for (const [word, text] of proposed.concat(field.choices.filter((choice) => !proposed.includes(choice)))) {
        const label = word === field.proposal ? say("proposed", { value: text, why: field.why }) : text;
        part("ask").append(button(label, () => { chose(field, word); question().take(word, text); next(); }, { "data-word": word }));
      }
    }

    // Said once a job in this browser, and shown beside every later answer.
    function chose(field, word) { if (field.remembered) standpipe.note("means", job, word); }

    function showTicks(field) {
      shape(field.choices.map(([, text]) => text));
      const ended = button("", () => {
        const alone = question().tick(say("left-empty"));
        if (alone) wrong(say("alone", { choice: alone })); else next();
      }, { class: "done", "data-word": "done" });
      const named = () => {
        ended.textContent = question().chosen.size > 0 ? (field.proposal ? say("chosen") : say("done")) : say("none");
        ended.hidden = question().chosen.size === 0 && !question().mayStayEmpty;
      };
      field.choices.forEach(([word, text], at) => {
        const tick = button(text, () => {
          if (!question().chosen.delete(at)) question().chosen.add(at);
          tick.setAttribute("aria-pressed", String(question().chosen.has(at)));
          named();
        }, { "data-word": word, "aria-pressed": String(question().chosen.has(at)) });
        part("ask").append(tick);
      });
      named();
      part("ask").append(ended);
    }

    function showTyped(field) {
      if (field.proposal) {
        const label = say("proposed", { value: field.proposal, why: field.why });
        part("ask").append(button(label, () => { question().take(field.proposal, field.proposal); next(); }, { "data-word": field.proposal, class: "proposal" }));
      }
      const take = (text) => {
        const outside = standpipe.outside(field, text, say);
        if (outside) { wrong(outside); return; }
        question().take(text, text);
        next();
      };
      if (field.input === "quantity" || field.input === "count") pad(field.units, field.ask, take);
      else typed(field.ask, take, question().given[question().at]);
    }

    function showField(field) {
      if (field.input === "choice") showChoices(field);
      else if (field.input === "choices") showTicks(field);
      else showTyped(field);
    }

    function typed(label, take, given) {
      const needed = () => wrong(say("needed"));
      standpipe.box(part("ask"), { label: label || part("question").textContent, given: given || "", done: say("done"), needed, isBusy, button, take });
    }

    function pad(units, label, take, secret) {
      standpipe.pad(part("ask"), { label, units, given: secret ? "" : question().given[question().at], secret: secret === true, words: say, wrong, typing: (text) => { if (question() && !secret) question().typed = text; }, button, take });
    }

    document.addEventListener("keydown", (event) => {
      const ask = part("ask");
      if (isBusy() || event.ctrlKey || event.altKey || event.metaKey || !ask.onkeys || !ask.classList.contains("pad")) return;
      ask.onkeys(event);
    });

    return { beside, shape, showField, typed, pad };
  }

  Object.assign(standpipe, { inputs });
})();
