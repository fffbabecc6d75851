// Photos beside the answers. They are too large for the browser's storage, so one that cannot be sent waits while the page
// is open, with the same identity.
"use strict";

(() => {
  const SHOWS = {
    vin: "body-plate", variant: "transmission-plate", "sample-before": "sample-before", pan: "magnets", "old-filter": "filter",
  };
  const POST_MILLISECONDS = 60000;
  const waiting = [];
  const ascii = (text) => text.replace(/[^\x20-\x7e]/g, (sign) => "\\u" + sign.charCodeAt(0).toString(16).padStart(4, "0"));

  async function post(photo, key) {
    const headers = { "Content-Type": photo.file.type, "X-Form-Key": key, "X-Entry": ascii(JSON.stringify(photo.entry)) };
    const { status, text } = await standpipe.ask(photo.path, { method: "POST", headers, body: photo.file }, POST_MILLISECONDS);
    let said = {};
    try { said = JSON.parse(text) || {}; } catch (none) { said = {}; }
    return { status, line: status === 200 ? said.line || "" : said.sentence || String(status) };
  }

  const isAway = (status) => status === 0 || status >= 500 || status === 401 || status === 429;

  // Asks for a photo of what the step shows and sends it; gives what became of it in words.
  function take({ job, step, person, key, label, waits, told }) {
    for (const old of document.querySelectorAll("input.photo")) old.remove();
    const input = standpipe.el("input", { type: "file", class: "photo", "aria-label": label, accept: "image/jpeg,image/png", capture: "environment", hidden: true });
    // Some browsers tell nothing of a chooser that stands in no page.
    document.body.append(input);
    input.addEventListener("change", async () => {
      const file = input.files[0];
      input.remove();
      if (!file) return;
      const path = "/bay/" + encodeURIComponent(job) + "/photo?subject=" + SHOWS[step];
      const photo = { file, path, entry: await standpipe.envelope({ person, step, kind: "photo" }) };
      const { status, line } = await post(photo, key);
      if (isAway(status)) waiting.push(photo);
      told(isAway(status) ? waits : line);
    });
    input.click();
  }

  async function sendPhotos(key, told) {
    while (waiting.length > 0) {
      const { status, line } = await post(waiting[0], key);
      if (isAway(status)) return;
      waiting.shift();
      told(line);
    }
  }

  Object.assign(standpipe, { photos: { isFor: (step) => step in SHOWS, take, send: sendPhotos, waiting: () => waiting.length } });
})();
