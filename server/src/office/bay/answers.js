// What was answered in this job: a list by lines of the work, from which any answer is asked again or taken back. Only with
// the server, which alone knows what stands.
"use strict";

(() => {
  function answers({ job, say, button, command, head, part, shown, again, whole, goOn, wrong, isAway }) {
    let [all, steps, line] = [[], "", ""];
    const path = "/bay/" + encodeURIComponent(job) + "/answers";

    async function read(of) {
      if (isAway()) { wrong(say("needs-network")); return null; }
      const { status, text } = await standpipe.ask(of, {});
      if (status !== 200) { wrong(say("needs-network")); return null; }
      return { said: JSON.parse(text) };
    }

    async function open(of, named) {
      const told = await read(path);
      if (!told) return;
      [all, steps, line] = [told.said, of, named || ""];
      shown();
    }

    async function choose(answer) {
      const told = await read(path + "/" + encodeURIComponent(answer.id));
      if (!told) return;
      const step = told.said ? whole(told.said) : null;
      again({ id: answer.id, kind: answer.kind, stepName: answer.step, line: answer.said, step });
    }

    function show() {
      const own = steps.split(" ");
      const listed = all.filter((answer) => steps === "" || own.includes(answer.step));
      head(listed.length === 0 ? say("no-answers") : steps === "" ? say("which-answer") : say("which-of-line", { line }), "");
      part("ask").className = "list long";
      for (const answer of listed) {
        part("ask").append(button(answer.at + " – " + answer.said, () => choose(answer), { "data-word": answer.step || answer.kind, "data-id": answer.id }));
      }
      command("go-on", goOn, "back");
      if (steps !== "") command("all-answers", () => { [steps, line] = ["", ""]; shown(); }, "more");
    }

    return { open, show };
  }

  Object.assign(standpipe, { answers });
})();
