// Answers that are kept in this browser until the server has them, and what identifies them: epoch, number, identity,
// times. An answer is written down once and posted as these very bytes until the server takes or refuses it. All pages
// of one browser share one list. Never here: what is asked, or how it looks.
"use strict";

var standpipe = {};

(() => {
  const PLACE = "standpipe-bay";
  const WAITING_MOST = 400;
  const TOLD_MOST = 500;
  const NOTES_MOST = 40;
  const POST_MILLISECONDS = 8000;
  const LEASE_MILLISECONDS = 12000;
  const SHIFT_MILLISECONDS = 12 * 60 * 60 * 1000;
  let memory = null;

  const pause = (milliseconds) => new Promise((go) => { window.setTimeout(go, milliseconds); });

  function hex(bytes) {
    const drawn = crypto.getRandomValues(new Uint8Array(bytes));
    return [...drawn].map((byte) => byte.toString(16).padStart(2, "0")).join("");
  }

  // RFC 9562, section 5.7: 48 bits of milliseconds, then random bits.
  function uuid7() {
    const time = Date.now().toString(16).padStart(12, "0");
    const rest = hex(10);
    const variant = "89ab"[parseInt(rest[3], 16) & 3];
    return time.slice(0, 8) + "-" + time.slice(8) + "-7" + rest.slice(0, 3) + "-" + variant + rest.slice(4, 7) + "-" +
      rest.slice(8, 20);
  }

  // A page that is loaded anew has a clock of its own that only goes forward.
  const boot = hex(16);

  function read(place) {
    try { return JSON.parse(localStorage.getItem(place)); } catch (broken) { return null; }
  }

  const isGood = (state) => state !== null && typeof state === "object" && /^[0-9a-f]{32}$/.test(state.epoch) &&
    Number.isSafeInteger(state.number) && Array.isArray(state.waiting) && Array.isArray(state.told);

  function load() {
    const state = memory || read(PLACE);
    return isGood(state) ? state : { epoch: hex(16), number: 0, waiting: [], told: [], person: null };
  }

  function save(state) {
    if (memory) { memory = state; return; }
    try {
      localStorage.setItem(PLACE, JSON.stringify(state));
      if (localStorage.getItem(PLACE) === null) throw new Error("nothing is kept");
    } catch (full) {
      memory = state;
    }
  }

  // One page of this browser at a time.
  function alone(name, work) {
    if (navigator.locks) return navigator.locks.request(PLACE + name, work);
    return leased(PLACE + "-lease" + name, work);
  }

  async function leased(place, work) {
    const own = hex(8);
    const lease = () => localStorage.setItem(place, JSON.stringify({ own, until: Date.now() + LEASE_MILLISECONDS }));
    if (memory) return work();
    for (;;) {
      const held = read(place);
      if (held && held.until > Date.now()) { await pause(40); continue; }
      try { lease(); } catch (full) { memory = load(); return work(); }
      // Who wrote at the same moment has written by now, and it has come through to this tab.
      await pause(300);
      const now = read(place);
      if (now && now.own === own) break;
    }
    const beat = window.setInterval(lease, LEASE_MILLISECONDS / 3);
    try {
      return await work();
    } finally {
      window.clearInterval(beat);
      const now = read(place);
      if (now && now.own === own) localStorage.removeItem(place);
    }
  }

  // How far the numbers were, in a second place: a storage that was set back, or taken from another browser, does not
  // agree with it, and its numbers were used already.
  function isBehind(state) {
    const mark = /(?:^|; )standpipe-bay-mark=([0-9a-f]{32})\.(\d+)/.exec(document.cookie);
    return mark !== null && (mark[1] !== state.epoch || Number(mark[2]) > state.number);
  }

  function mark(state) {
    const end = "; Path=/bay; SameSite=Strict; Max-Age=31536000";
    document.cookie = "standpipe-bay-mark=" + state.epoch + "." + state.number + end;
  }

  const change = (work) => alone("", async () => {
    const state = load();
    if (isBehind(state)) Object.assign(state, { epoch: hex(16), number: 0 });
    const made = work(state);
    save(state);
    mark(state);
    return made;
  });

  function enveloped(state, said) {
    state.number += 1;
    return Object.assign({ entry_id: uuid7(), epoch: state.epoch, number: state.number }, said);
  }

  const times = () => ({
    time_us: Date.now() * 1000, monotonic_us: Math.floor(performance.now() * 1000), boot_id: boot,
  });

  // What identifies a photo, which is too large to be kept here.
  const envelope = (said) => {
    const whole = Object.assign(times(), said);
    return change((state) => enveloped(state, whole));
  };

  // Writes answers down, all of them or, when too many wait, none.
  function keep(job, path, answers) {
    const whole = answers.map((said) => Object.assign(times(), said));
    return change((state) => {
      if (state.waiting.length + whole.length > WAITING_MOST) return null;
      return whole.map((said) => {
        const entry = enveloped(state, said);
        const item = { id: entry.entry_id, job, path, body: JSON.stringify(entry) };
        state.waiting.push(item);
        return item;
      });
    });
  }

  // What became of an answer. A refusal stays until somebody was told of it.
  function settle(item, told) {
    return change((state) => {
      state.waiting = state.waiting.filter((waiting) => waiting.id !== item.id);
      state.told.push(Object.assign({ id: item.id, job: item.job, untold: !told.ok }, told));
      while (state.told.length > TOLD_MOST) {
        const at = state.told.findIndex((one) => !one.untold);
        state.told.splice(Math.max(0, at), 1);
      }
    });
  }

  // The refusals of a job that nobody has read yet.
  const untold = (job) => load().told.filter((told) => told.untold && told.job === job);

  // Somebody has read these.
  function read_(ids) {
    return change((state) => {
      for (const told of state.told) if (ids.includes(told.id)) told.untold = false;
    });
  }

  // What a page notes of a job in this browser: what was put off, and what was said once. Of the latest jobs only.
  function noted(what, job) {
    const all = memory ? [] : read(PLACE + "-" + what);
    const own = Array.isArray(all) ? all.find((note) => Array.isArray(note) && note[0] === job) : null;
    return own ? own[1] : null;
  }

  function note(what, job, value) {
    const all = read(PLACE + "-" + what);
    const others = (Array.isArray(all) ? all : []).filter((note) => Array.isArray(note) && note[0] !== job);
    const kept = value === null ? others : others.concat([[job, value]]);
    try { localStorage.setItem(PLACE + "-" + what, JSON.stringify(kept.slice(-NOTES_MOST))); } catch (full) { /* The page itself still knows it. */ }
  }

  async function ask(path, options, milliseconds) {
    const stop = new AbortController();
    const timer = window.setTimeout(() => stop.abort(), milliseconds || POST_MILLISECONDS);
    try {
      const answer = await fetch(path, Object.assign(
        { credentials: "same-origin", cache: "no-store", redirect: "manual", signal: stop.signal }, options));
      const text = answer.type === "opaqueredirect" ? "" : await answer.text();
      return { status: answer.type === "opaqueredirect" ? 401 : answer.status, text };
    } catch (away) {
      return { status: 0, text: "" };
    } finally {
      window.clearTimeout(timer);
    }
  }

  async function post(path, key, body) {
    const headers = { "Content-Type": "application/json", "X-Form-Key": key };
    const { status, text } = await ask(path, { method: "POST", headers, body });
    let said = {};
    try { said = JSON.parse(text) || {}; } catch (none) { said = {}; }
    return { status, said };
  }

  // Posts what waits, in its order. Says how it ended: "sent", "away", or "out" for who may not. An answer of somebody
  // else than is signed in stays for them, and holds up nobody.
  function send(key) {
    return alone("-send", async () => {
      const left = new Set();
      let others = "";
      for (;;) {
        const item = load().waiting.find((waiting) => !left.has(waiting.id));
        if (!item) return { end: "sent", sentence: others };
        const { status, said } = await post(item.path, key, item.body);
        const sentence = said.sentence || "";
        if (status === 200) {
          const { line, seq, signature_needed: sign } = said;
          await settle(item, { ok: true, line: line || "", seq: seq || 0, sign: Boolean(sign) });
        } else if (status === 403 && said.field === "person") {
          left.add(item.id);
          others = sentence;
        } else if (status === 401 || status === 403) {
          return { end: "out", sentence };
        } else if (status >= 400 && status < 500 && status !== 408 && status !== 429) {
          await settle(item, { ok: false, line: sentence || String(status), field: said.field || "" });
        } else {
          return { end: "away", sentence };
        }
      }
    });
  }

  const fate = (id) => load().told.find((told) => told.id === id) || null;

  // The person until the shift is over: midnight or twelve hours, whichever comes first.
  function person() {
    const chosen = load().person;
    return chosen && chosen.until > Date.now() ? chosen.code : "";
  }

  function choosePerson(code) {
    const midnight = new Date();
    midnight.setHours(24, 0, 0, 0);
    const until = Math.min(midnight.getTime(), Date.now() + SHIFT_MILLISECONDS);
    return change((state) => { state.person = code ? { code, until } : null; });
  }

  Object.assign(standpipe, {
    ask, post, keep, envelope, send, fate, untold, read: read_, noted, note, person, choosePerson, pause,
    waiting: () => load().waiting,
    keepsNothing: () => { save(load()); return memory !== null; },
  });
})();
