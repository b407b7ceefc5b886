// The job as the page knows it: texts, what was checked, and how each requirement stands.

import { announce } from "./dom.js";

/** How a requirement stands, with a sign and a word: never told by colour alone. */
export const STANDS = {
  proved: { sign: "✓", word: "proved", tone: "good" },
  vacuous: { sign: "○", word: "proved, but never came into play", tone: "open" },
  refuted: { sign: "✗", word: "refuted", tone: "bad" },
  undecided: { sign: "?", word: "undecided", tone: "open" },
  answered: { sign: "=", word: "answered", tone: "good" },
  running: { sign: "…", word: "being proved", tone: "plain" },
  stale: { sign: "~", word: "the text has changed", tone: "plain" },
  stopped: { sign: "–", word: "not judged", tone: "plain" },
};

const PAUSE_MS = 120;

/** What stands in the page. Listeners are told what has changed: "text", "checked", "verdicts". */
export class TheJob {
  constructor(wire) {
    this.wire = wire;
    this.name = "";
    this.files = {};
    this.version = 0;
    this.sent = 0;
    this.limits = {};
    this.diagnostics = [];
    this.findings = [];
    this.requirements = [];
    this.judging = "";
    this.started = 0;
    this.listeners = [];
    this.timer = null;
    wire.on("checked", (m) => this.checked(m));
    wire.on("proving", (m) => this.proving(m));
    wire.on("verdict", (m) => this.verdict(m));
    wire.on("judged", (m) => this.judged(m));
    wire.on("limit", (m) => this.limited(m));
  }

  listen(heard) {
    this.listeners.push(heard);
  }

  changed(what) {
    for (const heard of this.listeners) heard(what);
  }

  /** Takes whole new texts, as at the beginning or for a lesson. */
  load(files) {
    this.files = { ...files };
    this.requirements = [];
    this.diagnostics = [];
    this.findings = [];
    this.changed("loaded");
    this.edited();
  }

  /** One file has a new text. */
  write(file, text) {
    if (this.files[file] === text) return;
    this.files[file] = text;
    this.edited();
  }

  edited() {
    this.version += 1;
    for (const requirement of this.requirements) requirement.stands = "stale";
    this.judging = "stale";
    this.changed("text");
    clearTimeout(this.timer);
    this.timer = setTimeout(() => this.send(), PAUSE_MS);
  }

  /** Sends the texts as they are now, unless they are too long. */
  send() {
    const most = this.limits.text_bytes ?? Infinity;
    const size = Object.values(this.files).reduce((sum, text) => sum + new Blob([text]).size, 0);
    if (size > most) {
      this.wire.tell({
        kind: "limit",
        what: "text",
        words: `The text has ${bytes(size)}; a page takes ${bytes(most)} at most. Nothing was sent: take some of it out.`,
      });
      return;
    }
    if (this.wire.send({ kind: "text", version: this.version, files: this.files })) {
      this.sent = this.version;
      this.started = performance.now();
    }
  }

  checked(message) {
    if (message.version !== this.version) return;
    this.diagnostics = message.diagnostics ?? [];
    this.findings = [];
    const broken = this.diagnostics.some((d) => d.severity === "error");
    // Where the text cannot be read as a job, the requirements that were there stay, unjudged.
    const asked = message.requirements?.length || !broken ? (message.requirements ?? []) : this.requirements;
    this.requirements = asked.map((r) => ({ ...r, stands: broken ? "stopped" : "running", reason: "", bound_s: null }));
    this.judging = broken ? "mistakes" : "proving";
    this.changed("checked");
  }

  proving(message) {
    if (message.version !== this.version) return;
    this.judging = "proving";
    this.changed("verdicts");
  }

  verdict(message) {
    if (message.version !== this.version) return;
    const requirement = this.requirements.find((r) => r.name === message.name);
    if (requirement === undefined) return;
    const stands = message.verdict === "proved" && message.vacuous ? "vacuous" : message.verdict;
    Object.assign(requirement, {
      stands: STANDS[stands] ? stands : "undecided",
      reason: message.reason ?? "",
      bound_s: message.bound_s ?? null,
      vacuous: Boolean(message.vacuous),
      after_ms: performance.now() - this.started,
    });
    this.changed("verdicts");
  }

  judged(message) {
    if (message.version !== this.version) return;
    this.findings = message.findings ?? [];
    for (const requirement of this.requirements) {
      // Rules that never settle make void what was proved before they were found.
      const isVoid = message.rejected && requirement.stands !== "refuted";
      if (isVoid || requirement.stands === "running") Object.assign(requirement, { stands: "stopped", bound_s: null });
      if (isVoid) requirement.reason = "";
    }
    // What the proofs themselves find wrong (rules that never settle) stops them for the whole job.
    this.judging = message.rejected ? "mistakes" : message.interrupted ? "stopped" : "done";
    this.changed("verdicts");
    announce(this.summary());
  }

  limited(message) {
    if (message.version !== undefined && message.version !== this.version) return;
    if (["text", "rules", "time", "memory"].includes(message.what)) {
      for (const requirement of this.requirements) {
        if (requirement.stands === "running" || requirement.stands === "stale") requirement.stands = "stopped";
      }
      this.judging = "stopped";
      this.changed("verdicts");
    }
  }

  /** How all of them stand, in a sentence. */
  summary() {
    if (this.judging === "mistakes") return "The text has mistakes: nothing is proved until they are mended.";
    if (this.judging === "stale") return "The text has changed: it is read again.";
    if (this.judging === "stopped") return `Proving was stopped. ${this.counts()}`;
    if (this.requirements.length === 0) return "No requirement is written yet.";
    return this.counts();
  }

  counts() {
    const counts = new Map();
    for (const { stands } of this.requirements) counts.set(stands, (counts.get(stands) ?? 0) + 1);
    const told = Object.keys(STANDS).filter((s) => counts.has(s)).map((s) => `${counts.get(s)} ${STANDS[s].word}`);
    return `${told.join(", ")}.`;
  }

  failing() {
    return this.requirements.filter(
      (r) => r.stands === "refuted" || (r.stands === "answered" && r.bound_s === "unbounded"),
    );
  }
}

function bytes(count) {
  return count >= 1_000_000 ? `${(count / 1_000_000).toFixed(1)} MB` : `${Math.ceil(count / 1000)} kB`;
}
