// Whether what was typed for a field is inside its bounds, by the table that comes with the page, so that it is refused
// beside its keys and at once, also without the server. Gives the sentence, or nothing.
"use strict";

(() => {
  const MISTAKEN = { I: "1", O: "0", Q: "0" };
  const number = (value) => String(value).replace("-", "−");
  const bare = (text) => text.replace(/[\s‐-―−-]/g, "").toUpperCase();

  function ofVin(text, greatest, say) {
    const vin = bare(text);
    for (const sign of vin) {
      if (MISTAKEN[sign]) return say("vin-letter", { value: sign, digit: MISTAKEN[sign] });
      if (!/[A-Z0-9]/.test(sign)) return say("vin-sign", { value: sign });
    }
    return vin.length === greatest ? "" : say("vin-length", { value: vin.length, greatest });
  }

  function outside(field, text, say) {
    const bounds = field.bounds || [];
    const name = field.ask.replace(/[?:]$/, "");
    if (field.input === "quantity" || field.input === "count") {
      const [, amount, unit] = /^(\S+) ?(.*)$/.exec(text) || ["", text, ""];
      const row = bounds.length === 1 && unit === "" ? bounds[0] : bounds.find(([own]) => own === unit);
      if (!row) return "";
      const [, least, greatest] = row;
      const value = Number(amount.replace("−", "-"));
      if (value >= least && value <= greatest) return "";
      const with_ = (it) => number(it) + (unit ? "\u00a0" + unit : "");
      return say("outside", { field: name, value: with_(amount), least: number(least), greatest: with_(greatest) });
    }
    if (field.input !== "text" || bounds.length === 0) return "";
    const [form, , greatest] = bounds[0];
    if (form === "vin") return ofVin(text, greatest, say);
    return text.length > greatest ? say("too-long", { field: name, value: text.length, greatest }) : "";
  }

  Object.assign(standpipe, { outside });
})();
