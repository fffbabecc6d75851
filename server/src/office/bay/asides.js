// What is asked beside the questions of the steps: why a step is left out or a job ends, what somebody decides by name, and
// why a question is asked at all.
"use strict";

(() => {
  const { el } = standpipe;

  // `question` is the step that is asked; `known` what the server said of it, nothing while that does not count any more.
  function asides({ fixed, part, say, dialog, head, command, typed, goOn, open, question, known, stateAll }) {
    let [stop, deciding] = [{}, ""];

    function showWhy() {
      const lines = [];
      const { step, field, path } = question();
      const { gate, far, left } = known();
      if (field && field.proposal) lines.push(say("proposed", { value: field.proposal, why: field.why }));
      else if (field) lines.push(say("nothing-proposed"));
      else lines.push(say("safety"));
      if (step.caution) lines.push(step.caution);
      if (gate) lines.push(...gate.why.filter((line) => !lines.includes(line)));
      if (step.kind === "exchange_reading" && path.length === 0) lines.push(...far);
      if (step.safety) lines.push(say("skip-never"));
      lines.push(say("steps-left", { count: left }));
      head(part("question").textContent, "");
      part("ask").className = "said";
      part("ask").append(...lines.map((line) => el("p", {}, line)));
      command("go-on", goOn, "back");
    }

    function showStopping() {
      if (stop.reason === undefined) {
        dialog(say("stop-why"), fixed.stop_reasons.map(([text], at) => [String(at), text]), (at) => { stop.reason = fixed.stop_reasons[at]; open("stopping"); }, say("stop-not"));
      } else if (stop.said === undefined) {
        dialog(say("stop-customer"), fixed.customer_said, (word) => { stop.said = word; open("stopping"); }, say("stop-not"));
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

    function showDeciding() {
      const { gate } = known();
      dialog(say("decide-what"), gate ? gate.decidable : [], (key) => { deciding = key; open("deciding-why"); }, say("go-on"));
    }

    function showDecidingWhy() {
      head(say("decide-why"), "");
      typed("", (text) => stateAll([{ kind: "decision", fields: [["point", deciding], ["reason", text]], step: "", shown: text, asked: null }]));
      command("go-on", goOn, "back");
    }

    return { showWhy, showStopping, beginStop: () => { stop = {}; open("stopping"); }, showDeciding, showDecidingWhy };
  }

  Object.assign(standpipe, { asides });
})();
