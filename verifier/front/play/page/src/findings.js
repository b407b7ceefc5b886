// What the checker and the proofs found wrong with the text, below the editor.

import { button, element, refillIfNew } from "./dom.js";
import { counted } from "./figures.js";
import { marked } from "./markup.js";

const SIGNS = { error: ["✗", "mistake", "bad"], warning: ["!", "warning", "open"], note: ["i", "note", "plain"] };
const MOST = 50;

export class Findings {
  constructor(place, job, go) {
    this.place = place;
    this.job = job;
    this.go = go;
    this.words = "";
    job.listen((what) => {
      if (what === "loaded") this.words = "";
      this.show();
    });
    job.wire.on("limit", (m) => this.say(m.words));
    job.wire.on("error", (m) => this.say(m.words));
    job.wire.on("checked", () => this.say(""));
  }

  /** A sentence of the server's: a limit that was met, a message that it does not know. */
  say(words) {
    this.words = words ?? "";
    this.show();
  }

  show() {
    const all = [...this.job.diagnostics, ...this.job.findings.filter((f) => f.from !== undefined)];
    refillIfNew(this.place, [all, this.words, this.job.judging === "stale"], () => [
      this.words ? element("p", { class: "limit", role: "alert" }, this.words) : null,
      all.length === 0 ? null : element("h3", {}, counted(all.length, "finding")),
      all.length === 0 ? null : element("ol", { class: "findings" }, all.slice(0, MOST).map((d) => this.line(d))),
      all.length > MOST ? element("p", {}, `and ${all.length - MOST} more`) : null,
    ]);
  }

  line(found) {
    const [sign, word, tone] = SIGNS[found.severity] ?? SIGNS.note;
    const where = found.line ? `${found.file}, line ${found.line}` : found.file || "the job";
    return element(
      "li",
      {},
      element("span", { class: `badge ${tone}` }, element("span", { "aria-hidden": "true", class: "sign" }, sign), word),
      " ",
      found.line
        ? button(where, () => this.go(found), { class: "link", "data-key": `${found.code}-${found.file}-${found.from}` })
        : where,
      ": ",
      marked(found.message),
      found.hint ? element("p", { class: "hint" }, marked(found.hint)) : null,
    );
  }
}
