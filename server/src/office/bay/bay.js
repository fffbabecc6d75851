// The page beside the vehicle: asks the steps of a job one question at a time, keeps the answers, and shows what the
// server makes of them. The server's words come with the page; text is put in as text, never as markup.
"use strict";

(() => {
  const main = document.querySelector("main[data-job]");
  if (!main) return;
  const fixed = JSON.parse(document.getElementById("bay-fixed").textContent);
  const { words, rules } = fixed;
  const { Asked, remaining, standing, el } = standpipe;
  const job = main.dataset.job;
  const TRY_AGAIN_MILLISECONDS = 4000;
  // What was known when the steps were found out stays known as long as a temperature is fresh for the plug.
  const KNOWN_MILLISECONDS = 120000;
  // A second tap that was meant for the question before comes within this time.
  const SETTLES_MILLISECONDS = 250;
  const OWN = "now no-go-ahead go-ahead number curve steps points".split(" ");

  const part = (id) => document.getElementById(id);
  const say = (key, values) => (words[key] || key).replace(/\{(\w+)\}/g, (all, name) => (values && name in values ? values[name] : all));

  let data = readData();
  let found = performance.now();
  let offlineSince = "";
  let out = "";
  let stated = [];
  let later = [];
  let before = null;
  let asked = null;
  let view = "asking";
  let busy = false;
  let stream = null;
  let listed = [];

  // What is empty or not so is left out of the page.
  function readData() {
    const read = JSON.parse(part("bay-data").textContent);
    const field = (it) => Object.assign({ name: "", choices: [], units: [], proposal: "", why: "", needed: false, spare: false }, it);
    const step = (it) => Object.assign({ preset: [], gate: "", safety: false, repeats: false, caution: "", after: "" }, it,
      { fields: (it.fields || []).map(field) });
    read.steps = read.steps.map(step);
    return read;
  }

  // ---- words around the question

  // A tap counts once, and never for a question that came under the finger.
  function button(label, press, given) {
    const pressed = (event) => {
      if (busy || (event.detail > 0 && !part("ask").hasAttribute("data-open"))) return;
      press(event);
    };
    return el("button", Object.assign({ type: "button", press: pressed }, given), label);
  }

  function clock() {
    const [hours, minutes, past] = data.clock.split(":").map(Number);
    const seconds = hours * 3600 + minutes * 60 + past + (performance.now() - found) / 1000;
    const two = (value) => String(Math.floor(value)).padStart(2, "0");
    return two((seconds / 3600) % 24) + ":" + two((seconds / 60) % 60);
  }

  function tell(text) { part("told").textContent = text; }

  function state() {
    const count = standpipe.waiting().length;
    const kept = count === 1 ? say("kept-one") : say("kept-many", { count });
    if (out) return say("not-joined", { said: out });
    if (offlineSince) return say("offline", { time: offlineSince }) + (count ? ", " + kept : "");
    return count ? say("sending") + (count > 1 ? " " + kept : "") : say("all-sent");
  }

  function tick() {
    showPerson();
    part("clock").textContent = clock();
    const now = state();
    if (part("sent").textContent !== now) part("sent").textContent = now;
    main.classList.toggle("offline", offlineSince !== "");
  }

  // ---- what remains

  function since() {
    const unsent = standpipe.waiting().filter((item) => item.job === job).map((item) => JSON.parse(item.body));
    const sent = stated.filter((entry) => entry.seq > data.seq && !unsent.some((it) => it.entry_id === entry.entry_id));
    return standing(sent.concat(unsent));
  }

  function steps() {
    const own = since();
    return own.length === 0 && !offlineSince ? data.steps : remaining(data.steps, own, rules);
  }

  function pick() {
    listed = steps();
    later = later.filter((name) => listed.some((step) => step.name === name));
    if (listed.length === 0) { asked = null; view = "over"; show(); return; }
    let step = standpipe.unblocked(listed, later);
    if (!step) {
      later = [];
      before = null;
      tell(say("later-all"));
      step = listed[0];
    }
    begin(step);
  }

  function begin(step) {
    asked = new Asked(step, rules);
    asked.together = standpipe.confirmedWith(step, listed, later);
    view = "asking";
    show();
  }

  // ---- showing

  function show() {
    const ask = part("ask");
    ask.removeAttribute("data-open");
    window.setTimeout(() => ask.setAttribute("data-open", ""), SETTLES_MILLISECONDS);
    ask.replaceChildren();
    ask.className = "";
    part("why").replaceChildren();
    part("commands").replaceChildren();
    around();
    const step = asked ? asked.step : null;
    main.dataset.view = view;
    main.dataset.step = step ? step.name : "";
    main.dataset.field = step && view === "asking" && asked.field ? asked.field.name || "-" : "";
    VIEWS[view]();
  }

  // What stands around the question: the line of the step, its number and curve, its go-ahead, its cautions.
  function around() {
    const step = asked ? asked.step : null;
    const stale = offlineSince !== "" || since().length > 0;
    main.classList.toggle("looking", step !== null && step.kind === "exchange_reading" && asked.path.length > 0);
    for (const it of main.querySelectorAll("[data-steps]")) {
      const own = step !== null && it.dataset.steps.split(" ").includes(step.name);
      if (it.tagName !== "LI") it.hidden = !own;
      else if (own) it.setAttribute("aria-current", "step");
      else it.removeAttribute("aria-current");
    }
    for (const it of main.querySelectorAll("[data-gate]")) {
      it.hidden = step === null || view !== "asking" || it.dataset.gate !== step.gate || stale;
    }
    const unknown = step !== null && view === "asking" && step.gate !== "" && stale;
    part("no-gate").textContent = unknown ? say("offline-gate") : offlineSince ? say("offline-now") : "";
    const cautions = step ? [step].concat(asked.together || []).map((it) => it.caution).filter(Boolean) : [];
    part("caution").textContent = cautions.join(" ");
    part("foot-caution").hidden = cautions.length === 0;
    tick();
  }

  function head(question, context) {
    part("context").textContent = context || "";
    const title = part("question");
    const changed = title.textContent !== question;
    title.textContent = question;
    if (changed || document.activeElement === document.body || !document.activeElement) title.focus({ preventScroll: true });
  }

  function command(key, press) { part("commands").append(button(say(key), press, { class: "command", "data-key": key })); }

  const VIEWS = {
    person() {
      head(fixed.who, "");
      for (const [code, name] of fixed.persons) {
        part("ask").append(button(name, async () => { await standpipe.choosePerson(code); showPerson(); known(); }, { "data-word": code }));
      }
    },
    over() {
      head(data.closed ? fixed.closed : fixed.nothing, data.closed ? fixed.office : "");
      part("ask").append(el("a", { href: "/bay", class: "button" }, say("all-jobs")));
    },
    sending() { head(part("question").textContent, part("context").textContent); },
    asking: showAsking,
    skipping() { dialog(say("skip-why"), fixed.skip_reasons, skip, say("stay")); },
    listing() {
      dialog(say("which-step"), listed.map((step) => [step.name, step.question || step.fields[0].ask]), (name) => {
        later = later.filter((other) => other !== name);
        begin(listed.find((step) => step.name === name));
      }, say("go-on"));
      part("ask").classList.add("list");
      command("stop-job", () => { stop = {}; view = "stopping"; show(); });
      part("commands").append(el("a", { href: "/bay", class: "button command" }, say("all-jobs")));
    },
    former() {
      const again = before.step && before.step.fields.length > 0;
      const choices = [["withdraw", say("withdraw")]].concat(again ? [["again", say("answer-again")]] : []);
      dialog(say("former", { said: before.line }), choices, (word) => {
        if (word === "withdraw") { fixing = { of: before.id, kind: before.kind, step: before.stepName, fields: null }; view = "reason"; show(); return; }
        const former = before;
        begin(former.step);
        asked.corrects = former.id;
      }, say("leave"));
    },
    reason() { dialog(say("put-right-why"), fixed.correction_reasons, putRight, say("leave")); },
    stopping: showStopping,
    deciding() {
      const open = (data.gates[asked.step.gate] || {}).decidable || [];
      dialog(say("decide-what"), open, (key) => { deciding = key; view = "deciding-why"; show(); }, say("go-on"));
    },
    "deciding-why"() {
      head(say("decide-why"), "");
      typed("", (text) => { if (text) state_("decision", [["point", deciding], ["reason", text]], "", text); });
      command("go-on", goOn);
    },
    signing: showSigning,
  };

  function goOn() { if (asked) { view = "asking"; show(); } else pick(); }

  function dialog(question, choices, press, back) {
    head(question, "");
    part("ask").className = "";
    for (const [word, text] of choices) part("ask").append(button(text, () => press(word), { "data-word": word }));
    part("commands").append(button(back, goOn, { class: "command", "data-key": "go-on" }));
  }

  function showAsking() {
    const { step, field } = asked;
    const ask = part("ask");
    ask.className = "";
    if (!field) {
      head(step.question + (asked.together ? " " + asked.together.question : ""), "");
      const both = asked.together !== null;
      const label = step.caution === "" && !both ? say("yes") : both ? say("read-and-yes") : say("read-it");
      ask.append(button(label, () => { asked.told.push(say("confirmed")); complete(); }, { "data-word": "yes" }));
    } else {
      // What was answered so far stands where the step's own question stood.
      head(field.ask, asked.told.length > 0 ? asked.told.join(" · ") : step.question);
      if (asked.told.length > 0) tell("");
      if (field.input === "choice") showChoices(field);
      else if (field.input === "choices") showTicks(field);
      else showTyped(field);
    }
    if (asked.mayStayEmpty && field.input !== "choices") command("empty", () => { asked.leave(say("left-empty")); next(); });
    command("back", back);
    if (!asked.corrects) command("later", () => { later.push(step.name); before = { putOff: true }; pick(); });
    if (!asked.corrects && !step.safety) command("skip", () => { view = "skipping"; show(); });
    if (!asked.more && asked.untold(asked.at + 1).length > 0) command("more", more);
    const open = offlineSince === "" && since().length === 0 ? (data.gates[step.gate] || {}).decidable || [] : [];
    if (!asked.corrects && open.length > 0) command("decide", () => { view = "deciding"; show(); });
    if (!asked.corrects && standpipe.photos.isFor(step.name)) command("photo", photo);
    command("why", why);
    if (!asked.corrects) command("other", () => { view = "listing"; show(); });
  }

  // Few short choices stand side by side; long ones in two columns.
  function shape(texts) {
    const longest = Math.max(...texts.map((text) => text.length));
    const many = longest <= 16 && texts.length > 4 ? "thirds" : longest <= 30 || texts.length > 3 ? "columns" : "rows";
    part("ask").className = longest <= 9 && texts.length <= 7 ? "row" : many;
  }

  function showChoices(field) {
    shape(field.choices.map(([, text]) => text));
    const proposed = field.choices.filter(([word]) => word === field.proposal);
    for (const [word, text] of proposed.concat(field.choices.filter((choice) => !proposed.includes(choice)))) {
      const label = word === field.proposal ? say("proposed", { value: text, why: field.why }) : text;
      part("ask").append(button(label, () => { asked.take(word, text); next(); }, { "data-word": word }));
    }
  }

  function showTicks(field) {
    shape(field.choices.map(([, text]) => text));
    const ended = button("", () => {
      const alone = asked.tick(say("left-empty"));
      if (alone) tell(say("alone", { choice: alone })); else next();
    }, { class: "done", "data-word": "done" });
    const named = () => {
      ended.textContent = asked.chosen.size > 0 ? (field.proposal ? say("chosen") : say("done")) : say("none");
      ended.hidden = asked.chosen.size === 0 && !asked.mayStayEmpty;
    };
    field.choices.forEach(([word, text], at) => {
      const tick = button(text, () => {
        if (!asked.chosen.delete(at)) asked.chosen.add(at);
        tick.setAttribute("aria-pressed", String(asked.chosen.has(at)));
        named();
      }, { "data-word": word, "aria-pressed": String(asked.chosen.has(at)) });
      part("ask").append(tick);
    });
    named();
    part("ask").append(ended);
  }

  function showTyped(field) {
    if (field.proposal) {
      const label = say("proposed", { value: field.proposal, why: field.why });
      part("ask").append(button(label, () => { asked.take(field.proposal, field.proposal); next(); }, { "data-word": field.proposal, class: "proposal" }));
    }
    const take = (text) => { asked.take(text, text); next(); };
    if (field.input === "quantity" || field.input === "count") pad(field.units, field.ask, take);
    else typed(field.ask, take);
  }

  function typed(label, take) {
    const needed = () => tell(say("needed"));
    standpipe.box(part("ask"), { label: label || part("question").textContent, done: say("done"), needed, isBusy: () => busy, button, take });
  }

  function pad(units, label, take, secret) {
    standpipe.pad(part("ask"), { label, units, secret: secret === true, words: say, tell, button, take });
  }

  document.addEventListener("keydown", (event) => {
    const ask = part("ask");
    if (busy || event.ctrlKey || event.altKey || event.metaKey || !ask.onkeys || !ask.classList.contains("pad")) return;
    ask.onkeys(event);
  });

  // ---- commands

  function more() {
    const fields = asked.untold(asked.at).join(", ");
    asked.more = true;
    tell(fields ? say("more-asked", { fields }) : say("no-more"));
    show();
  }

  function why() {
    const lines = [];
    const { step, field } = asked;
    const gate = data.gates[step.gate];
    if (gate && offlineSince === "" && since().length === 0) lines.push(...gate.why);
    if (field && field.proposal) lines.push(say("proposed", { value: field.proposal, why: field.why }));
    else if (field) lines.push(say("nothing-proposed"));
    else lines.push(say("safety"));
    if (step.kind === "exchange_reading" && asked.path.length === 0 && !offlineSince) lines.push(...data.far);
    if (step.safety) lines.push(say("skip-never"));
    lines.push(say("steps-left", { count: listed.length }));
    part("why").replaceChildren(...lines.map((line) => el("p", {}, line)));
  }

  function photo() {
    if (isNobody()) { askWho(() => goOn()); return; }
    const step = asked.step.name;
    standpipe.photos.take({ job, step, person: person(), key: fixed.key, waits: say("photo-waits"), told: tell });
  }

  function back() {
    if (asked.back()) { show(); return; }
    if (asked.corrects) { pick(); return; }
    if (before && before.putOff) { later.pop(); before = null; pick(); }
    else if (before) { view = "former"; show(); }
    else tell(say("nothing-before"));
  }

  function skip(reason) {
    state_("skipped", [["step", asked.step.name], ["reason", reason]], asked.step.name, fixed.skip_reasons.find(([word]) => word === reason)[1]);
  }

  let [stop, fixing, deciding, signing] = [{}, null, "", ""];

  function showStopping() {
    if (stop.reason === undefined) {
      dialog(say("stop-why"), fixed.stop_reasons.map(([text], at) => [String(at), text]), (at) => { stop.reason = fixed.stop_reasons[at]; show(); }, say("stop-not"));
    } else if (stop.said === undefined) {
      dialog(say("stop-customer"), fixed.customer_said, (word) => { stop.said = word; show(); }, say("stop-not"));
    } else {
      dialog(say("stop-sure"), [["stop", say("stop-do")]], () => {
        const [why_, topic] = stop.reason;
        const facts = [["decision", [["point", "no-exchange"], ["reason", why_]]]];
        if (stop.said) facts.push(["customer_answer", [["topic", topic], ["said", stop.said]]]);
        facts.push(["closing", [["outcome", "no-exchange-done"]]]);
        stateAll(facts.map(([kind, fields]) => ({ kind, fields, step: "", shown: why_, asked: null })));
      }, say("stop-not"));
    }
  }

  // ---- answers

  function next() { if (asked.isComplete) complete(); else show(); }

  function complete() {
    const { step, together, corrects } = asked;
    if (corrects) { fixing = { of: corrects, kind: step.kind, step: step.name, fields: asked.stated }; view = "reason"; show(); return; }
    const facts = [{ kind: step.kind, fields: asked.stated, step: step.name, shown: asked.told.join(" · "), asked }];
    if (together) facts.push({ kind: together.kind, fields: together.preset, step: together.name, shown: say("confirmed"), asked: null });
    stateAll(facts);
  }

  function state_(kind, fields, step, shown) { stateAll([{ kind, fields, step, shown, asked: null }]); }

  async function stateAll(facts) {
    if (busy) return;
    if (isNobody()) { askWho(() => stateAll(facts)); return; }
    busy = true;
    view = "sending";
    show();
    const said = facts.map(({ step, kind, fields }) => ({ person: person(), step, kind, fields }));
    const items = await standpipe.keep(job, "/bay/" + encodeURIComponent(job) + "/state", said);
    if (!items) { busy = false; tell(say("full")); goOn(); return; }
    const kept = facts.map((fact, at) => [fact, items[at]]);
    const [{ asked: by, kind, shown, step }, { id }] = kept[kept.length - 1];
    const line = (by ? by.step.question + " " : "") + shown;
    before = { id, step: by ? by.step : null, kind, stepName: step, line };
    await goThrough(kept);
  }

  async function putRight(reason) {
    if (busy) return;
    if (isNobody()) { askWho(() => putRight(reason)); return; }
    busy = true;
    const shown = fixed.correction_reasons.find(([word]) => word === reason)[1];
    const said = { person: person(), step: fixing.step, kind: fixing.kind, corrected_entry_id: fixing.of, reason: shown };
    if (fixing.fields) said.fields = fixing.fields; else said.withdrawn = true;
    view = "sending";
    show();
    const items = await standpipe.keep(job, "/bay/" + encodeURIComponent(job) + "/correct", [said]);
    if (!items) { busy = false; tell(say("full")); goOn(); return; }
    const [item] = items;
    before = null;
    await goThrough([[{ kind: "correction", shown, asked: null, step: "" }, item]]);
  }

  // Sends what is kept and goes on with what the server makes of it, or without the server.
  async function goThrough(kept) {
    const own = kept.map(([, item]) => JSON.parse(item.body));
    if (!offlineSince) await send(); else window.setTimeout(tryAgain, 0);
    let wrong = null;
    let sign = null;
    const lines = [];
    kept.forEach(([fact, item], at) => {
      const fate = standpipe.fate(item.id);
      if (fate && fate.ok) {
        stated.push(Object.assign(own[at], { seq: fate.seq }));
        if (fate.line) lines.push(fate.line);
        if (fate.sign) sign = fate.id;
      } else if (fate && !wrong) {
        wrong = [fact, fate];
      } else if (!fate) {
        lines.push(fact.shown);
      }
    });
    if (!offlineSince && !wrong) await refresh(true);
    busy = false;
    tell(lines.join(" "));
    await tellRefused(wrong ? wrong[1].line : "");
    if (wrong) {
      const [fact, fate] = wrong;
      before = null;
      tell(fate.line);
      if (fact.asked) { asked = fact.asked; asked.again(fate.field); view = "asking"; show(); return; }
    }
    if (sign) { signing = sign; view = "signing"; show(); } else pick();
    if (missed) { missed = false; refresh(false); }
  }

  async function send() {
    tick();
    const { end, sentence } = await standpipe.send(fixed.key);
    if (end === "sent") { out = ""; setOnline(); }
    else if (end === "out") { out = sentence || "403"; setOffline(); }
    else setOffline();
    if (end === "sent" && sentence) tell(sentence);
    tick();
    return end;
  }

  // Refusals of this job that nobody was told of: of answers kept offline, of another page, of before this page was
  // loaded. Where it is asked again at once, the question says it.
  async function tellRefused(said) {
    const lines = (await standpipe.untold(job)).filter((line) => line !== said);
    if (lines.length > 0) tell(lines.map((line) => say("refused", { said: line })).join(" ") + " " + say("ask-again"));
  }

  function setOffline() { offlineSince = offlineSince || clock(); }
  function setOnline() { offlineSince = ""; }

  // Goes on trying while something waits or the server is away. What was refused meanwhile is told.
  let [trying, missed, asks, shownAsk] = [false, false, 0, 0];
  async function tryAgain() {
    if (trying || busy) return;
    trying = true;
    try {
      const waited = standpipe.waiting();
      const was = offlineSince !== "";
      if (waited.length > 0) await send();
      if ((was || waited.length > 0) && standpipe.waiting().length === 0 && !busy) {
        for (const item of waited) {
          const fate = standpipe.fate(item.id);
          if (!fate || !fate.ok || item.job !== job) continue;
          stated.push(Object.assign(JSON.parse(item.body), { seq: fate.seq }));
        }
        await refresh(false);
        if (!offlineSince) listen();
      }
      if (!busy) await tellRefused("");
      if (!offlineSince) await standpipe.photos.send(fixed.key, tell);
    } finally {
      trying = false;
    }
    tick();
  }

  // ---- what the server shows

  // Fetches the part again. What is being answered stays as long as it is still asked in the same way.
  async function refresh(own) {
    const ticket = asks += 1;
    const { status, text } = await standpipe.ask("/bay/" + encodeURIComponent(job) + "/part", {});
    if (status === 401 || status === 403) { out = out || "401"; setOffline(); tick(); return; }
    const fresh = status === 200 ? new DOMParser().parseFromString(text, "text/html") : null;
    // An answer that was overtaken by a later one is not shown any more.
    if (ticket < shownAsk) return;
    shownAsk = ticket;
    if (!fresh || !fresh.getElementById("bay-data")) { setOffline(); tick(); if (!own && !busy) looked(); return; }
    out = "";
    for (const id of OWN.concat("facts", "stops", "bay-data")) {
      const node = fresh.getElementById(id);
      if (node && !part(id).isEqualNode(node)) part(id).replaceWith(document.importNode(node, true));
    }
    data = readData();
    found = performance.now();
    stated = stated.filter((entry) => entry.seq > data.seq);
    setOnline();
    main.dataset.seq = String(data.seq);
    if (!own && !busy) looked();
  }

  const same = (one, other) => JSON.stringify([one.name, one.fields, one.preset, one.question]) === JSON.stringify([other.name, other.fields, other.preset, other.question]);

  // After a change from elsewhere: the question stays, or makes way for the one that is asked now. A button is never
  // moved away under a finger while its question is the same.
  function looked() {
    listed = steps();
    if (!asked || view === "over") { if (view !== "person") pick(); return; }
    const still = listed.find((step) => step.name === asked.step.name);
    if (asked.corrects || view === "signing") { around(); return; }
    if (!still) { tell(say("changed")); pick(); return; }
    const untouched = asked.path.length === 0 && asked.typed === "" && view === "asking";
    const other = later.length === 0 && listed[0].name !== asked.step.name;
    if (untouched && (other || !same(still, asked.step))) { pick(); return; }
    if (same(still, asked.step)) asked.step = still;
    around();
  }

  function listen() {
    if (stream || document.hidden) return;
    stream = new EventSource(data.live);
    stream.addEventListener("changed", () => { if (busy) missed = true; else refresh(false); });
    stream.addEventListener("open", () => { if (offlineSince) tryAgain(); });
    stream.addEventListener("error", () => {
      hush();
      if (!busy) refresh(false).then(() => { if (!offlineSince) window.setTimeout(listen, TRY_AGAIN_MILLISECONDS); });
    });
  }

  function hush() { if (stream) stream.close(); stream = null; }

  // ---- signing

  function showSigning() {
    const name = (fixed.persons.find(([code]) => code === person()) || ["", person()])[1];
    head(say("pin", { person: name }), "");
    part("ask").className = "";
    pad([], say("pin", { person: name }), async (pin) => {
      if (busy) return;
      busy = true;
      const { status, said } = await standpipe.post("/bay/" + encodeURIComponent(job) + "/sign", fixed.key, JSON.stringify({ entry_id: signing, person: person(), pin }));
      busy = false;
      if (status !== 200) { tell(said.sentence || String(status)); show(); return; }
      await refresh(true);
      tell(said.line || "");
      pick();
    }, true);
    command("sign-later", pick);
  }

  // ---- the person

  function person() { return fixed.person || standpipe.person(); }

  // A shift ends while a page stays open: who answers then is asked before the answer is written down, and the answer
  // waits for that.
  let answering = null;
  function isNobody() { return person() === "" && fixed.persons.length > 0; }
  function askWho(then) { answering = then; view = "person"; show(); }
  function known() {
    const then = answering;
    answering = null;
    if (then) then(); else pick();
  }

  function showPerson() {
    const code = person();
    const name = (fixed.persons.find(([own]) => own === code) || ["", code])[1];
    part("person").textContent = name || fixed.nobody;
    part("person").disabled = fixed.person !== "";
  }

  part("person").addEventListener("click", () => { if (!busy) { view = "person"; show(); } });

  // ---- beginning

  // A question that holds what was read before is asked again when that is too old.
  function age() {
    tick();
    if (busy || view !== "asking" || !asked || performance.now() - found < KNOWN_MILLISECONDS) return;
    if (asked.hasKnown) tell(say("too-old"));
    // A go-ahead ends with the next entry; a connection that died unnoticed would tell of none.
    if (asked.hasKnown || asked.step.gate !== "") refresh(false);
  }

  window.setInterval(age, 5000);
  window.setInterval(() => { if (standpipe.waiting().length > 0 || standpipe.photos.waiting() > 0 || offlineSince) tryAgain(); }, TRY_AGAIN_MILLISECONDS);
  for (const [event, work] of [["online", tryAgain], ["offline", () => { setOffline(); show(); }], ["storage", tick], ["pagehide", hush]]) window.addEventListener(event, work);
  document.addEventListener("visibilitychange", () => { if (document.hidden) hush(); else { refresh(false); listen(); } });
  window.addEventListener("pageshow", (event) => { if (event.persisted) { refresh(false); listen(); } });

  async function start() {
    showPerson();
    if (standpipe.keepsNothing()) tell(say("no-storage"));
    if (standpipe.waiting().length > 0 && await send() === "sent") await refresh(true);
    await tellRefused("");
    if (person() && fixed.persons.length > 0 && !fixed.persons.some(([code]) => code === person())) await standpipe.choosePerson("");
    if (person() === "" && fixed.persons.length > 0) { view = "person"; show(); } else pick();
    listen();
    main.dataset.ready = "yes";
  }
  start();
})();
