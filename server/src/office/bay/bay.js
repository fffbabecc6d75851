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
  const OWN = "now number curve steps points".split(" ");
  // Each command has its own place, which it never leaves: what goes back far from what leaves out.
  const PLACES = "back why more photo other decide later skip".split(" ");

  const part = (id) => document.getElementById(id);
  const say = (key, values) => (words[key] || key).replace(/\{(\w+)\}/g, (all, name) => (values && name in values ? values[name] : all));

  let data = readData();
  let found = performance.now();
  let offlineSince = "";
  let out = "";
  let stated = [];
  let later = standpipe.noted("later", job) || [];
  let before = null;
  let asked = null;
  let view = "asking";
  let busy = false;
  let stream = null;
  let listed = [];
  // Why what was typed for the question that stands here was not taken.
  let wrongHere = "";

  function readData() { return standpipe.unfolded(JSON.parse(part("bay-data").textContent)); }

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

  // A refusal stands large beside what it is about, and stays.
  function wrong(text) { wrongHere = text; showRefused(); }

  function showRefused() {
    standpipe.notices.refusals(job, wrongHere, { say, button, again: showRefused });
    fit();
  }

  function fit() {
    standpipe.notices.once(main, say);
    standpipe.notices.fit(main, { say, button, all: () => { view = "noticing"; show(); } });
  }

  function putOff(names) {
    later = names;
    standpipe.note("later", job, names.length > 0 ? names : null);
  }

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
    const open = later.filter((name) => listed.some((step) => step.name === name));
    if (open.length !== later.length) putOff(open);
    if (listed.length === 0) { asked = null; view = "over"; show(); return; }
    let step = standpipe.unblocked(listed, later);
    if (!step) {
      putOff([]);
      before = null;
      tell(say("later-all"));
      step = listed[0];
    }
    begin(step);
  }

  function begin(step) {
    asked = new Asked(step, rules, step.means ?? standpipe.noted("means", job));
    asked.together = standpipe.confirmedWith(step, listed, later, rules.together);
    wrongHere = "";
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
    ask.onkeys = null;
    part("commands").replaceChildren(...PLACES.map((place) => el("span", { "data-place": place })));
    const step = asked ? asked.step : null;
    main.dataset.view = view;
    main.classList.toggle("apart", !["asking", "sending", "over"].includes(view));
    main.dataset.step = step ? step.name : "";
    main.dataset.field = step && view === "asking" && asked.field ? asked.field.name || "-" : "";
    VIEWS[view]();
    around();
    showRefused();
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
    const gate = step === null || view !== "asking" || stale ? null : data.gates[step.gate] || null;
    // A yes was read before the first answer of the step; a no stands until the last.
    standpipe.notices.goAhead(gate && gate.yes && asked.path.length > 0 ? null : gate, fixed.against);
    const unknown = step !== null && view === "asking" && step.gate !== "" && stale;
    part("no-gate").textContent = unknown ? say("offline-gate") : offlineSince ? say("offline-now") : "";
    const both = step ? [step].concat(asked.together || []) : [];
    standpipe.notices.cautions(both, view === "asking" && !asked.corrects, fixed);
    tick();
    fit();
  }

  function head(question, context) {
    part("context").textContent = context || "";
    const title = part("question");
    const changed = title.textContent !== question;
    title.textContent = question;
    if (changed || document.activeElement === document.body || !document.activeElement) title.focus({ preventScroll: true });
  }

  function place(made, at) {
    const place_ = part("commands").querySelector("[data-place=" + at + "]");
    if (place_) place_.replaceWith(made); else part("commands").append(made);
    return made;
  }

  function command(key, press, at) { place(button(say(key), press, { class: "command", "data-key": key, "data-at": at || key }), at || key); }

  const VIEWS = {
    person() {
      head(fixed.persons.length > 0 ? fixed.who : fixed.no_persons, "");
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
        putOff(later.filter((other) => other !== name));
        begin(listed.find((step) => step.name === name));
      }, say("go-on"));
      part("ask").className = "list";
      command("answered", () => answers.open(""), "more");
      place(el("a", { href: "/bay", class: "button command" }, say("all-jobs")), "other");
      command("stop-job", asides.beginStop, "skip");
    },
    answers() { answers.show(); },
    noticing() {
      head(say("all-notices"), "");
      part("ask").className = "said";
      for (const [line, stops] of standpipe.notices.whole(main)) part("ask").append(el("p", { class: stops ? "stop" : "" }, line));
      command("go-on", goOn, "back");
    },
    why: () => asides.showWhy(),
    former() {
      const again = before.step && before.step.fields.length > 0;
      const choices = (again ? [["again", say("answer-again")]] : []).concat([["withdraw", say("withdraw")]]);
      dialog(say("former", { said: before.line }), choices, (word) => {
        if (word === "withdraw") { fixing = { of: before.id, kind: before.kind, step: before.stepName, fields: null }; view = "reason"; show(); return; }
        const former = before;
        begin(former.step);
        asked.corrects = former.id;
        asked.together = null;
        show();
      }, say("leave"));
    },
    reason() { dialog(say("put-right-why"), fixed.correction_reasons, putRight, say("leave")); },
    stopping: () => asides.showStopping(),
    deciding: () => asides.showDeciding(),
    "deciding-why": () => asides.showDecidingWhy(),
    signing: showSigning,
  };

  function goOn() { if (asked) { view = "asking"; show(); } else pick(); }

  function dialog(question, choices, press, back) {
    head(question, "");
    shape(choices.map(([, text]) => text));
    for (const [word, text] of choices) part("ask").append(button(text, () => press(word), { "data-word": word }));
    place(button(back, goOn, { class: "command wide", "data-key": "go-on", "data-at": "back" }), "back");
    part("commands").querySelector("[data-place=why]").remove();
  }

  function showAsking() {
    const { step, field } = asked;
    const ask = part("ask");
    ask.className = "";
    if (!field) {
      const both = asked.together !== null;
      const [lead, main_] = both && asked.together.kind === "caution_read" ? [asked.together, step] : [step, asked.together || step];
      head(main_.question, both ? lead.question : "");
      const read = standpipe.notices.groupRead([step].concat(asked.together || []), fixed.cautions);
      const label = !read ? say("yes") : say(both ? "read-and-yes" : "read-it", { group: read });
      ask.append(button(label, () => { asked.told.push(say("confirmed")); complete(); }, { "data-word": "yes" }));
    } else {
      // What was answered so far stands where the step's own question stood.
      head(field.ask, asked.told.length > 0 ? asked.told.join(" · ") : step.question);
      if (asked.told.length > 0) tell("");
      showField(field);
    }
    if (asked.mayStayEmpty && field.input !== "choices") beside("empty", {}, () => { asked.leave(say("left-empty")); next(); });
    if (asked.remembered && field) beside("read-with", { value: asked.remembered.text }, () => { asked.reopen(asked.remembered.at); show(); });
    command("back", back);
    if (!asked.corrects) command("later", () => { putOff(later.concat(step.name)); before = { putOff: true }; pick(); });
    if (!asked.corrects && !step.safety) command("skip", () => { view = "skipping"; show(); });
    if (!asked.more && asked.untold(asked.at + 1).length > 0) command("more", more);
    const open = offlineSince === "" && since().length === 0 ? (data.gates[step.gate] || {}).decidable || [] : [];
    if (!asked.corrects && open.length > 0) command("decide", () => { view = "deciding"; show(); });
    if (!asked.corrects && standpipe.photos.isFor(step.name)) command("photo", photo);
    command("why", () => { view = "why"; show(); });
    if (!asked.corrects) command("other", () => { view = "listing"; show(); });
  }

  const { beside, shape, showField, typed, pad } = standpipe.inputs({
    part, say, button, wrong, job, question: () => asked, next, isBusy: () => busy,
  });

  // ---- commands

  function more() {
    const fields = asked.untold(asked.at).join(", ");
    asked.more = true;
    tell(fields ? say("more-asked", { fields }) : say("no-more"));
    show();
  }

  function photo() {
    if (isNobody()) { askWho(() => goOn()); return; }
    const step = asked.step.name;
    standpipe.photos.take({ job, step, person: person(), key: fixed.key, label: say("photo"), waits: say("photo-waits"), told: tell });
  }

  function back() {
    if (asked.back()) { show(); return; }
    if (asked.corrects) { pick(); return; }
    if (before && before.putOff) { putOff(later.slice(0, -1)); before = null; pick(); }
    else if (before) { view = "former"; show(); }
    else tell(say("nothing-before"));
  }

  function skip(reason) {
    state_("skipped", [["step", asked.step.name], ["reason", reason]], asked.step.name, fixed.skip_reasons.find(([word]) => word === reason)[1]);
  }

  let [fixing, signing] = [null, ""];

  const asides = standpipe.asides({
    fixed, part, say, dialog, head, command, typed, goOn, stateAll,
    open: (of) => { view = of; show(); },
    question: () => asked,
    known: () => {
      const counts = offlineSince === "" && since().length === 0;
      return { gate: counts ? data.gates[asked.step.gate] : null, far: offlineSince ? [] : data.far, left: listed.length };
    },
  });

  // ---- answers

  function next() { wrongHere = ""; if (asked.isComplete) complete(); else show(); }

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
    let refused = null;
    let sign = null;
    const lines = [];
    kept.forEach(([fact, item], at) => {
      const fate = standpipe.fate(item.id);
      if (fate && fate.ok) {
        stated.push(Object.assign(own[at], { seq: fate.seq }));
        if (fate.line) lines.push(fate.line);
        if (fate.sign) sign = fate.id;
      } else if (fate && !refused) {
        refused = [fact, fate];
      } else if (!fate) {
        lines.push(fact.shown);
      }
    });
    if (!offlineSince && !refused) await refresh(true);
    busy = false;
    tell(lines.join(" "));
    if (refused) {
      const [fact, fate] = refused;
      before = null;
      if (fact.asked) {
        // The question itself says it, and what was typed stands there to be put right.
        await standpipe.read([fate.id]);
        asked = fact.asked;
        asked.again(fate.field);
        wrongHere = fate.line;
        view = "asking";
        show();
        return;
      }
    }
    if (sign) { signing = sign; view = "signing"; show(); } else pick();
    if (missed) { missed = false; refresh(false); }
  }

  async function send() {
    tick();
    const { end, sentence } = await standpipe.send(fixed.key);
    if (end === "sent") { out = ""; offlineSince = ""; }
    else if (end === "out") { out = sentence || "403"; setOffline(); }
    else setOffline();
    if (end === "sent" && sentence) tell(sentence);
    tick();
    return end;
  }

  function setOffline() { offlineSince = offlineSince || clock(); }

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
      if (!busy) showRefused();
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
    offlineSince = "";
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
    const untouched = asked.path.length === 0 && asked.typed === "" && wrongHere === "" && view === "asking";
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
      if (status !== 200) { wrongHere = said.sentence || String(status); show(); return; }
      wrongHere = "";
      await refresh(true);
      tell(said.line || "");
      pick();
    }, true);
    command("sign-later", () => { wrongHere = ""; pick(); }, "later");
  }

  // ---- what was answered before

  const answers = standpipe.answers({
    job, say, button, command, head, part,
    shown: () => { view = "answers"; show(); },
    again: (answer) => { before = answer; view = "former"; show(); },
    whole: standpipe.wholeStep, goOn, tell, wrong,
    isAway: () => offlineSince !== "",
  });

  main.addEventListener("click", (event) => {
    const line = event.target.closest ? event.target.closest("#steps li") : null;
    if (line && !busy && view !== "person" && view !== "over") answers.open(line.dataset.steps, line.firstElementChild.textContent);
  });

  // ---- the person

  function person() { return fixed.person || standpipe.person(); }

  // A shift ends while a page stays open: who answers then is asked before the answer is written down, and the answer
  // waits for that.
  let answering = null;
  function isNobody() { return person() === ""; }
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
  for (const [event, work] of [["online", tryAgain], ["offline", () => { setOffline(); show(); }], ["storage", tick], ["resize", fit], ["pagehide", hush]]) window.addEventListener(event, work);
  // Without the server this page cannot be loaded again: whoever would leave it is asked by the browser.
  window.addEventListener("beforeunload", (event) => { if (offlineSince) { event.preventDefault(); event.returnValue = ""; } });
  document.addEventListener("visibilitychange", () => { if (document.hidden) hush(); else { refresh(false); listen(); } });
  window.addEventListener("pageshow", (event) => { if (event.persisted) { refresh(false); listen(); } });

  async function start() {
    showPerson();
    if (standpipe.keepsNothing()) tell(say("no-storage"));
    if (standpipe.waiting().length > 0 && await send() === "sent") await refresh(true);
    if (person() && fixed.persons.length > 0 && !fixed.persons.some(([code]) => code === person())) await standpipe.choosePerson("");
    if (isNobody()) { view = "person"; show(); } else pick();
    listen();
    main.dataset.ready = "yes";
  }
  start();
})();
