// One step while it is asked: which field comes next, what an answer means for the others, and what remains of the
// last answer of the server without it. The same rules as in a terminal; their tables come with the page.
"use strict";

(() => {
  class Asked {
    // `remembered` is what was said in this job before of a field that is asked once a job.
    constructor(step, rules, remembered) {
      this.step = step;
      this.rules = rules;
      const empty = (value) => step.fields.map(() => value);
      this.answers = empty(null);
      // The word chosen for each field, by which others depend on it.
      this.words = empty("");
      // For a field that a choice of another stated too: that other.
      this.settled = empty(-1);
      this.told = [];
      this.path = [];
      this.at = 0;
      this.typed = "";
      this.chosen = new Set();
      this.more = false;
      this.corrects = "";
      this.together = null;
      // What was typed for each field, so that a refusal loses nothing of it; and the fields that need no second answer.
      this.given = empty("");
      this.kept = empty(false);
      step.fields.forEach((field, at) => {
        if (!field.remembered || !remembered) return;
        this.set(at, remembered, remembered);
        this.settled[at] = at;
      });
      this.advance();
    }

    // The field that was said before in this job, with what was said.
    get remembered() {
      const at = this.step.fields.findIndex((field, index) => field.remembered && this.settled[index] === index);
      const choice = at < 0 ? null : this.step.fields[at].choices.find(([word]) => word === this.answers[at]);
      return choice ? { at, text: choice[1] } : null;
    }

    // Asks a field that is settled.
    reopen(at) {
      this.settled[at] = -1;
      this.at = at;
      this.path = [];
      this.told = [];
      this.forget();
    }

    get field() { return this.step.fields[this.at] || null; }
    get isComplete() { return this.at >= this.step.fields.length; }
    get mayStayEmpty() { return this.field !== null && !this.isNeeded(this.field); }

    // True when a field is not asked because it was known when the step was found out.
    get hasKnown() {
      return this.step.fields.some((field) => this.step.preset.some(([name]) => name === field.name));
    }

    untold(from) { return this.step.fields.slice(from).filter((field) => field.spare).map((field) => field.ask); }

    // What the step knows and what was answered, as flags take it.
    get stated() {
      const named = this.step.fields.map((field, at) => [field.name, this.answers[at]]);
      const answered = named.filter(([name, value]) => name !== "" && value !== null);
      return this.step.preset.concat(answered);
    }

    dependence(field) {
      const row = this.rules.only_with.find(([kind, name]) => kind === this.step.kind && name === field.name);
      if (!row) return null;
      const at = this.step.fields.findIndex((other) => other.name === row[2]);
      return at < 0 ? null : { fits: this.words[at] === row[3], needed: row[4] };
    }

    isNeeded(field) {
      const depends = this.dependence(field);
      return field.needed || (depends !== null && depends.fits && depends.needed);
    }

    // A field that is not asked: known or stated already, depending on another answer, or asked only on request.
    isPassed(at) {
      const field = this.step.fields[at];
      if (this.step.preset.some(([name]) => name === field.name) || this.settled[at] >= 0) return true;
      if (this.kept[at] && this.depends(at)) return true;
      const depends = this.dependence(field);
      return depends === null ? !this.more && field.spare : !depends.fits;
    }

    // False for a field that another answer has made meaningless.
    depends(at) {
      const depends = this.dependence(this.step.fields[at]);
      return depends === null || depends.fits;
    }

    set(at, answer, word) { this.answers[at] = answer; this.words[at] = word; }

    advance() {
      while (this.at < this.step.fields.length && this.isPassed(this.at)) {
        // An answer from before something was changed does not stay unseen.
        if (this.settled[this.at] < 0 && !(this.kept[this.at] && this.depends(this.at))) this.set(this.at, null, "");
        this.at += 1;
      }
      this.enter();
    }

    // What is proposed among several choices is chosen already.
    enter() {
      this.typed = "";
      this.chosen = new Set();
      const field = this.field;
      if (!field || field.input !== "choices" || !field.proposal) return;
      const proposed = field.proposal.split(",");
      field.choices.forEach(([word], at) => { if (proposed.includes(word)) this.chosen.add(at); });
    }

    put(answer, word, shown) {
      this.told.push(shown);
      this.set(this.at, answer, word);
      this.path.push(this.at);
      this.at += 1;
      this.advance();
    }

    take(text, shown) {
      const field = this.field;
      this.given[this.at] = text;
      const choice = field.choices.find(([word]) => word === text);
      if (choice) {
        for (const [name, value] of choice[2] || []) {
          const at = this.step.fields.findIndex((later) => later.name === name);
          if (at < 0) continue;
          this.set(at, value === "" ? null : value, value);
          this.settled[at] = this.at;
        }
      }
      this.put(field.name === "" ? null : text, text, shown);
    }

    leave(shown) { this.put(null, "", shown); }

    // Several chosen words; the one that denies all others, where it stands beside another.
    tick(shownNone) {
      const chosen = [...this.chosen].sort((one, other) => one - other).map((at) => this.field.choices[at]);
      if (chosen.length === 0) { this.leave(shownNone); return ""; }
      const row = this.rules.alone.find(([kind, name]) => kind === this.step.kind && name === this.field.name);
      const alone = row && chosen.length > 1 ? chosen.find(([word]) => word === row[2]) : null;
      if (alone) return alone[1];
      this.take(chosen.map(([word]) => word).join(","), chosen.map(([, text]) => text).join(", "));
      return "";
    }

    // Forgets the answer of the field that is asked again, and of those behind it that no earlier one stated.
    forget() {
      for (let at = this.at; at < this.step.fields.length; at += 1) {
        if (this.settled[at] >= 0 && this.settled[at] < this.at) continue;
        this.set(at, null, "");
        this.settled[at] = -1;
        this.kept[at] = false;
      }
      this.enter();
    }

    back() {
      if (this.path.length === 0) return false;
      this.at = this.path.pop();
      this.told.pop();
      this.forget();
      return true;
    }

    // Asks the field again that a refusal is about, or the first one. Answers behind it stay as they were given.
    again(name) {
      const wrong = Math.max(0, this.step.fields.findIndex((field) => field.name === name));
      this.at = this.settled[wrong] >= 0 ? this.settled[wrong] : wrong;
      const answered = this.path.filter((at) => at > this.at);
      if (this.settled[this.at] === this.at) this.settled[this.at] = -1;
      this.path = this.path.filter((at) => at < this.at);
      this.told.length = this.path.length;
      for (const at of answered) this.kept[at] = true;
      this.set(this.at, null, "");
      this.enter();
    }
  }

  // What is empty or not so is left out of the page's data.
  const wholeField = (it) => Object.assign({ name: "", input: "choice", choices: [], units: [], proposal: "", why: "", needed: false, spare: false, bounds: [], remembered: false }, it);
  const wholeStep = (it) => Object.assign({ question: "", preset: [], gate: "", safety: false, repeats: false, caution: "", groups: [], after: "" }, it,
    { fields: (it.fields || []).map(wholeField) });

  // The data of the page as it is used: texts that stand in several places stand once in it.
  function unfolded(read) {
    for (const it of read.steps) if (typeof it.caution === "number") it.caution = read.texts[it.caution];
    for (const gate of Object.values(read.gates)) {
      gate.why = gate.why.map((at) => read.texts[at]);
      gate.basis = gate.basis === null ? "" : read.texts[gate.basis];
      for (const line of gate.missing) line[0] = read.texts[line[0]];
      for (const line of gate.decidable) line[1] = read.texts[line[1]];
    }
    read.steps = read.steps.map(wholeStep);
    return read;
  }

  const CONTENTS = "equipment_contents";
  const without = (pairs, name) => pairs.filter(([own]) => own !== name);
  const valueOf = (fields, name) => (fields.find(([own]) => own === name) || ["", ""])[1];

  // Which equipment is meant is what was hooked up last, also without the server.
  function hookedUp(step, since) {
    const named = since.filter((entry) => entry.kind === "hookup" && valueOf(entry.fields, "equipment"));
    if (step.kind !== CONTENTS || named.length === 0) return step.preset;
    const value = valueOf(named[named.length - 1].fields, "equipment");
    return without(step.preset, "equipment").concat([["equipment", value]]);
  }

  // Whether later entries answered a step; the last one that is about it decides. What repeats without an end of its own
  // counts until the next entry, so that the question behind it comes.
  function isAnswered(step, since, rules) {
    let answered = false;
    for (let at = 0; at < since.length; at += 1) {
      const entry = since[at];
      if (entry.kind === "skipped" && valueOf(entry.fields, "step") === step.name && !step.safety) return true;
      const fits = entry.kind === step.kind &&
        step.preset.every(([name, value]) => valueOf(entry.fields, name) === value);
      if (!fits) continue;
      const has = step.fields.some((field) => field.name === "last");
      const ends = !step.repeats || (has ? valueOf(entry.fields, "last") === "yes" : at + 1 === since.length);
      const must = rules.must_say.filter(([kind]) => kind === step.kind);
      answered = ends && must.every(([, name, word]) => valueOf(entry.fields, name) === word);
    }
    return answered;
  }

  // The steps of the last answer less those that later entries answered. Proposals end with the next entry of the job,
  // and what was known while the answer was fresh is looked at again.
  function remaining(steps, since, rules) {
    const left = [];
    for (const known of steps) {
      const asked = known.fields.map((field) => field.name);
      const preset = hookedUp(known, since).filter(([name]) => !asked.includes(name));
      const plain = (field) => Object.assign({}, field, { proposal: "", why: "" });
      const fields = since.length > 0 ? known.fields.map(plain) : known.fields;
      // A question that speaks of a reading is not asked in those words when the reading counts no more.
      const rests = preset.length < known.preset.length || (known.repeats && since.some((it) => it.kind === known.kind));
      const question = rests && fields.length > 0 ? "" : known.question;
      const step = Object.assign({}, known, { preset, fields, question });
      if (!isAnswered(step, since, rules)) left.push(step);
    }
    return left;
  }

  // What was stated here, with what was put right or withdrawn of it since.
  function standing(entries) {
    const standing = [];
    for (const entry of entries) {
      const of = standing.findIndex((other) => other.entry_id === entry.corrected_entry_id);
      if (!entry.corrected_entry_id) standing.push(entry);
      else if (of >= 0 && entry.withdrawn) standing.splice(of, 1);
      else if (of >= 0) standing[of] = Object.assign({}, standing[of], { fields: entry.fields });
    }
    return standing;
  }

  // The first step that was not put off, nor comes after one that was.
  function unblocked(listed, later) {
    const blocked = later.slice();
    for (const step of listed) {
      const waits = step.after !== "" && blocked.includes(step.after);
      if (!waits && !blocked.includes(step.name)) return step;
      blocked.push(step.name);
    }
    return null;
  }

  // The step behind one that is only confirmed, where it is only confirmed too and both are true of the same state: one
  // tap says both.
  function confirmedWith(step, listed, later, pairs) {
    const only = (it) => it.fields.length === 0 && it.gate === "";
    const next = listed[listed.findIndex((it) => it.name === step.name) + 1];
    if (!next || !only(step) || !only(next) || later.includes(next.name)) return null;
    return pairs.some(([one, other]) => one === step.name && other === next.name) ? next : null;
  }

  Object.assign(standpipe, { Asked, wholeStep, unfolded, remaining, standing, unblocked, confirmedWith });
})();
