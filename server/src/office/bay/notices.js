// What stands around the question: cautions at the foot, stops and reasons against, each said once, and all of it made to
// fit beside the keys. What does not fit is one tap away and never cut off.
"use strict";

(() => {
  const part = (id) => document.getElementById(id);
  const seen = (it) => it.getClientRects().length > 0;
  // From what is missed least to what is missed most.
  const TIGHTER = ["tight-told", "tight-points", "tight-picture", "tight-basis", "tight-stops", "tight-now", "tight-curve", "tight-gates", "tight-choices", "tight-answer"];
  const FOLDED = { "tight-stops": "#stops", "tight-now": "#now", "tight-gates": "#go-ahead ul", "tight-answer": "#go-ahead ul" };
  const LEFT = { "tight-gates": 2 };

  const groupOf = (step) => (step.preset.find(([name]) => name === "group") || ["", ""])[1];

  // Name of the group whose cautions one of these steps has read; empty if none has.
  function groupRead(steps, known) {
    const read = steps.find((step) => step.kind === "caution_read");
    const named = read ? known.find(([name]) => name === groupOf(read)) : null;
    return named ? named[1].toLowerCase() : "";
  }

  // The groups of what is asked, each once; one whose whole text is read above is not named again at the foot.
  function cautions(steps, reads, { cautions: known, maker }) {
    const read = reads ? steps.filter((step) => step.kind === "caution_read") : [];
    // What the vehicle's maker warns of stands by itself: it is not of this group alone.
    const lines = read.flatMap((step) => step.caution.split(maker).map((line, at) => (at > 0 ? maker : "") + line));
    part("reading").replaceChildren(...lines.map((line) => standpipe.el("p", {}, line.trim())));
    const above = read.map(groupOf);
    const groups = [...new Set(steps.flatMap((step) => step.groups))].filter((group) => !above.includes(group));
    const own = groups.map((group) => known.find(([name]) => name === group)).filter(Boolean);
    part("cautions").replaceChildren(...own.map(([, name, said]) => standpipe.el("li", {}, standpipe.el("strong", {}, name + ": "), said)));
  }

  // The answer of the gate of the step, whole: the sentence, what it rests on, and each reason against.
  function goAhead(gate, against) {
    const { el } = standpipe;
    const line = ([text, kind]) => el("li", { class: kind === "stops" ? "stop" : "", "data-said": text },
      kind ? against[kind].replace("{said}", () => text) : text);
    const lines = gate ? [el("p", { class: "answer" }, gate.said)] : [];
    if (gate && gate.basis) lines.push(el("p", { class: "basis" }, gate.basis));
    if (gate && gate.missing.length > 0) lines.push(el("ul", {}, ...gate.missing.map(line)));
    part("go-ahead").replaceChildren(...lines);
  }

  // Why something was not taken: of the question that stands here, and of other answers until somebody has read it.
  function refusals(job, here, { say, button, again }) {
    const news = standpipe.untold(job).filter((told) => told.line !== here);
    const lines = (here ? [here] : []).concat(news.map((told) => say("refused", { said: told.line })));
    const shown = lines.map((line) => standpipe.el("p", {}, line));
    const read = () => standpipe.read(news.map((told) => told.id)).then(again);
    if (news.length > 0) shown.push(button(say("noticed"), read, { "data-key": "noticed" }));
    part("refused").replaceChildren(...shown);
  }

  // What the question, a stop or the go-ahead said already is not said again.
  function once(main, say) {
    const plain = (text) => text.toLowerCase().replace(/[.\s]+$/, "");
    let said = [plain(part("question").textContent), plain(part("context").textContent)];
    let whole_ = [];
    for (const it of main.querySelectorAll(".again")) it.remove();
    for (const line of main.querySelectorAll("#stops li, #go-ahead li, #now li")) {
      line.dataset.whole = line.dataset.whole || line.textContent;
      const bare = line.dataset.said || line.dataset.whole;
      const own = plain(bare);
      line.hidden = said.some((earlier) => earlier.includes(own));
      if (line.hidden) continue;
      said = said.concat(own);
      // One that holds another as a part of it refers to that.
      line.textContent = whole_.reduce((text, earlier) => text.replace(earlier, say("as-above")), line.dataset.whole);
      whole_ = whole_.concat(bare);
    }
    for (const list of main.querySelectorAll("#go-ahead ul")) {
      if ([...list.children].every((line) => line.hidden)) list.append(standpipe.el("li", { class: "again" }, say("see-above")));
    }
  }

  // Hides what stands behind the first lines of a list; gives how many.
  function folded(list, keep) {
    const lines = list ? [...list.children].filter((line) => !line.hidden) : [];
    lines.forEach((line, at) => line.classList.toggle("folded", at >= keep));
    return Math.max(0, lines.length - keep);
  }

  // What is open before the car comes down, as far as it fits beside the work.
  function foldPoints(main, say) {
    const [aside, points] = [main.querySelector("aside"), [...main.querySelectorAll("#points li")]];
    if (getComputedStyle(aside).overflowY === "visible") return;
    let more = Number((main.querySelector("#points ul") || { dataset: {} }).dataset.more || 0);
    while (points.length > 0 && aside.scrollHeight > aside.clientHeight + 1) {
      points.pop().classList.add("folded");
      more += 1;
      for (const it of main.querySelectorAll("#points .again")) it.remove();
      main.querySelector("#points ul").append(standpipe.el("li", { class: "again" }, say("n-more", { count: more })));
    }
  }

  // Makes everything of the question fit; a page that scrolls as a whole, on a small window, is left alone.
  function fit(main, { say, button, all }) {
    const left = main.querySelector(".left");
    main.classList.remove(...TIGHTER);
    for (const line of main.querySelectorAll(".folded")) line.classList.remove("folded");
    part("more-notices").replaceChildren();
    foldPoints(main, say);
    if (getComputedStyle(left).overflowY === "visible") return;
    const tooHigh = () => left.scrollHeight > left.clientHeight + 1;
    const aside = main.querySelector("aside");
    const asideCut = () => getComputedStyle(aside).overflowY !== "visible" && aside.scrollHeight > aside.clientHeight + 1;
    const behind = {};
    for (const tighter of TIGHTER) {
      if (!tooHigh() && !(tighter === "tight-stops" && asideCut())) continue;
      main.classList.add(tighter);
      const list = FOLDED[tighter] ? main.querySelector(FOLDED[tighter]) : null;
      if (list && seen(list)) behind[FOLDED[tighter]] = folded(list, LEFT[tighter] || 1);
      const hidden = Object.values(behind).reduce((sum, lines) => sum + lines, 0);
      if (hidden > 0) part("more-notices").replaceChildren(button(say("n-more", { count: hidden }), all, { class: "more-notices", "data-key": "notices" }));
    }
  }

  // All of it, whole, for the view that shows nothing else.
  function whole(main) {
    const lines = main.querySelectorAll("#stops li:not([hidden]), #go-ahead p, #go-ahead li:not([hidden]), #now li:not([hidden])");
    const looking = main.classList.contains("looking");
    return [...lines].filter((line) => !looking || !line.closest("#now") || line.classList.contains("alarm")).map((line) => [line.textContent, line.closest("#stops") !== null || line.classList.contains("stop")]);
  }

  Object.assign(standpipe, { notices: { cautions, groupRead, goAhead, refusals, once, fit, whole } });
})();
