// Keeps a page up to date: when the server says that something has changed, the page is fetched again and only what is
// different is put in its place, so that focus, selection, place on the page and typed text stay.
// What it says stands in the page, so that the language is the page's.
// Without this script the page asks for itself again by its own head.
"use strict";

(() => {
  const main = document.querySelector("main[data-live]");
  const note = document.getElementById("live-note");
  if (!main || !note || !window.EventSource) return;

  const TRY_AGAIN_MILLISECONDS = 5000;
  let stream = null;
  let timer = 0;
  let fetching = false;
  let changedMeanwhile = false;

  const say = (text) => { if (note.textContent !== text) note.textContent = text; };
  const now = () => new Date().toLocaleTimeString(document.documentElement.lang, { hour: "2-digit", minute: "2-digit", hourCycle: "h23" });
  const cannot = () => say(note.dataset.silent.replace("{time}", now()));

  // Listens while the page is looked at. A hidden page holds no connection; it catches up when it is shown again.
  function listen() {
    if (stream || document.hidden) return;
    window.clearTimeout(timer);
    stream = new EventSource(main.dataset.live);
    stream.addEventListener("open", () => say(note.dataset.kept));
    stream.addEventListener("changed", fetchAgain);
    stream.addEventListener("error", () => {
      cannot();
      if (stream && stream.readyState === EventSource.CLOSED) {
        hush();
        timer = window.setTimeout(() => { fetchAgain(); listen(); }, TRY_AGAIN_MILLISECONDS);
      }
    });
  }

  function hush() {
    if (stream) stream.close();
    stream = null;
    window.clearTimeout(timer);
  }

  async function fetchAgain() {
    if (fetching) { changedMeanwhile = true; return; }
    fetching = true;
    try {
      const answer = await fetch(location.href, { cache: "no-store", credentials: "same-origin" });
      // Somebody who was signed out must not go on reading.
      if (answer.redirected) { location.assign(answer.url); return; }
      if (!answer.ok) throw new Error(String(answer.status));
      const page = new DOMParser().parseFromString(await answer.text(), "text/html");
      const fresh = page.querySelector("main");
      if (fresh) {
        const focused = document.activeElement;
        become(main, fresh);
        document.title = page.title;
        if (focused && focused.isConnected && document.activeElement !== focused) {
          focused.focus({ preventScroll: true });
        }
      }
    } catch {
      cannot();
    } finally {
      fetching = false;
      if (changedMeanwhile) { changedMeanwhile = false; fetchAgain(); }
    }
  }

  // Makes an old node say what a fresh one says. Nodes with an identity are found again wherever they moved to.
  function become(old, fresh) {
    if (old.isEqualNode(fresh)) return;
    if (!(old instanceof Element)) { old.data = fresh.data; return; }
    // What somebody unfolded stays so.
    const stays = (name) => name === "open" && old.nodeName === "DETAILS";
    for (const { name } of [...old.attributes]) if (!fresh.hasAttribute(name) && !stays(name)) old.removeAttribute(name);
    for (const { name, value } of fresh.attributes) if (old.getAttribute(name) !== value) old.setAttribute(name, value);
    const known = new Map([...old.children].filter((child) => child.id).map((child) => [child.id, child]));
    let at = old.firstChild;
    for (const next of [...fresh.childNodes]) {
      const match = next.id ? known.get(next.id) : at && !at.id && at.nodeName === next.nodeName ? at : null;
      if (!match) { old.insertBefore(next, at); continue; }
      if (match === at) at = at.nextSibling; else old.insertBefore(match, at);
      become(match, next);
    }
    while (at) { const gone = at; at = at.nextSibling; gone.remove(); }
  }

  document.addEventListener("visibilitychange", () => {
    if (document.hidden) { hush(); } else { fetchAgain(); listen(); }
  });
  window.addEventListener("pagehide", hush);
  window.addEventListener("pageshow", (event) => { if (event.persisted) { fetchAgain(); listen(); } });
  listen();
})();
