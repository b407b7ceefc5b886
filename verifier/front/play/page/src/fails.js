// "Fails": the story of a failing case. Its lanes lead; one steps through it, and the lines that
// acted are lit in the text.

import { announce, button, element, refill } from "./dom.js";
import { lineAt } from "./editor.js";
import { duration, figure, moment } from "./figures.js";
import { happenings, lanes, narrow, reveal } from "./lanes.js";

/** When verdicts are there to be told of. */
const SETTLED = new Set(["done", "stopped"]);

export class Fails {
  constructor(panel, job, light) {
    this.job = job;
    this.light = light;
    this.name = "";
    this.told = null;
    this.problem = "";
    this.at = 0;
    this.waiting = false;
    this.choice = element("select", { id: "story-of", onchange: () => this.ask(this.choice.value) });
    this.chooser = element("p", { class: "actions" }, element("label", { for: "story-of" }, "Failing requirement"), this.choice);
    this.place = element("div", { tabindex: "-1" });
    panel.append(element("h2", {}, "Fails: how, and why"), this.chooser, this.place);
    panel.addEventListener("keydown", (event) => this.key(event));
    job.wire.on("story", (m) => this.received(m));
    for (const kind of ["error", "limit"]) job.wire.on(kind, (m) => this.refused(m.words));
    job.wire.on("connection", ({ state }) => {
      if (state !== "closed" || !this.waiting) return;
      this.waiting = false; // it is asked for once more when the text has been judged again
      this.show();
    });
    job.listen((what) => {
      if (what === "text" || what === "loaded") this.forget();
      else this.offer();
      if (!this.told) this.show();
      this.first();
    });
    narrow.addEventListener("change", () => this.show());
    this.panel = panel;
    this.offer();
    this.show();
  }

  /** The leaf is shown. */
  enter() {
    if (this.told) this.lightNow();
    else this.first();
  }

  /** The first that fails is told of when nobody has chosen another. */
  first() {
    if (this.panel.hidden || this.told || this.waiting || this.problem || !SETTLED.has(this.job.judging)) return;
    const failing = this.job.failing();
    const again = failing.find((r) => r.name === this.name) ?? failing[0];
    if (again) this.ask(again.name);
  }

  forget() {
    if (this.told) this.light([]);
    this.problem = "";
    this.told = null;
    this.waiting = false;
    this.offer();
    this.show();
  }

  offer() {
    const failing = this.job.failing();
    this.chooser.hidden = failing.length === 0;
    const key = JSON.stringify([failing.map((r) => r.name), this.name]);
    if (this.choice.dataset.shown === key) return;
    this.choice.dataset.shown = key;
    const known = failing.some((r) => r.name === this.name);
    this.choice.replaceChildren(
      ...(known ? [] : [element("option", { value: "" }, "Choose …")]),
      ...failing.map((r) => element("option", { value: r.name, selected: r.name === this.name }, r.title || r.name)),
    );
    if (!this.told) this.show();
  }

  /** Asks for the story of a requirement. */
  ask(name) {
    if (!name) return;
    this.name = name;
    this.told = null;
    this.waiting = true;
    this.problem = "";
    this.job.wire.send({ kind: "story", version: this.job.version, requirement: name });
    this.offer();
    this.show();
  }

  refused(words) {
    if (!this.waiting) return;
    this.waiting = false;
    this.problem = words;
    this.show();
  }

  received(message) {
    if (message.name !== this.name || (message.version !== undefined && message.version !== this.job.version)) return;
    this.waiting = false;
    this.told = message;
    this.at = 0;
    this.show();
    this.lightNow();
    if (message.story) announce(`${message.story.title}. ${message.story.moments.length} moments. Step with the arrow keys.`);
  }

  key(event) {
    if (!this.told?.story || event.target.closest("input, select, textarea, .scroll")) return;
    const steps = { ArrowRight: this.at + 1, ArrowLeft: this.at - 1, Home: 0, End: this.moments() }[event.key];
    if (steps === undefined) return;
    event.preventDefault();
    this.step(steps);
  }

  moments() {
    return this.told.story.diagram.instants.length - 1;
  }

  step(to) {
    const next = Math.max(0, Math.min(this.moments(), to));
    if (next === this.at) return;
    this.at = next;
    this.show();
    this.lightNow();
    announce(next === this.moments() ? `${this.words()} ${this.told.story.ends}` : this.words());
  }

  moment() {
    return this.told.story.moments.find((m) => m.number === this.at) ?? null;
  }

  lines() {
    return this.moment()?.lines ?? [];
  }

  lightNow() {
    this.light(this.lines());
  }

  words() {
    const { story } = this.told;
    if (this.at === 0) return `At the start: ${story.start.join(", ")}.`;
    const now = this.moment();
    if (now === null) return `${this.at} of ${this.moments()}: ${story.diagram.instants[this.at].what || "the end"}.`;
    const changes = now.changes.length ? ` Then ${now.changes.join(", ")}.` : "";
    return `${this.at} of ${this.moments()}, ${now.clock || moment(now.at_s, now.just_after)}: ${now.what}.${changes}`;
  }

  show() {
    if (this.told === null) {
      refill(this.place, element("p", {}, this.empty()));
      return;
    }
    const { story } = this.told;
    if (!story) {
      refill(this.place, element("p", {}, "There is no run to show: what was asked for is never reached, however long it runs."));
      return;
    }
    const picture = pictureOf(story.diagram);
    const box = lanes(picture, { name: `Timing of ${this.name}`, current: this.at, picked: (k) => this.step(k) });
    refill(
      this.place,
      element("h3", {}, story.title),
      box,
      this.steps(),
      element("p", { class: "small" }, "What could follow at once is told a little apart here, so that it can be read; a verdict names the earliest moment."),
      this.now(story),
      this.causes(story),
      this.well(),
      this.told.other ? [element("h3", {}, "Another case"), element("p", {}, this.told.other.title), told(this.told.other.diagram, "Another case")] : null,
    );
    reveal(box, picture, this.at);
  }

  empty() {
    if (this.problem) return this.problem;
    if (this.waiting) return "The story is being worked out …";
    if (this.job.judging === "stale" || this.job.judging === "proving") return "It is being judged: the first that fails is shown here as soon as all are.";
    if (this.job.judging === "mistakes") return "The text has mistakes: nothing is judged until they are mended.";
    return this.job.failing().length ? "The connection is gone: it is shown as soon as it is back." : "Nothing fails that was judged.";
  }

  steps() {
    const last = this.moments();
    const to = (words, at, key, sign) =>
      button([element("span", { "aria-hidden": "true" }, sign), ` ${words}`], () => this.step(at), { "data-key": key, "aria-disabled": String(at < 0 || at > last || at === this.at) });
    return element(
      "div",
      { class: "actions", role: "group", "aria-label": "Step through" },
      to("Start", 0, "first", "|◀"),
      to("Back", this.at - 1, "back", "◀"),
      to("Next", this.at + 1, "next", "▶"),
      to("End", last, "last", "▶|"),
      element("span", { class: "small" }, `${this.at} of ${last} · arrow keys step, too`),
    );
  }

  now(story) {
    const now = this.moment();
    return element(
      "div",
      { class: "now-told" },
      element("p", {}, element("strong", {}, this.words())),
      now === null
        ? null
        : element("ul", { class: "plain" }, now.reactions.map((r) => element("li", {}, `${r.rule} acted: `, element("code", {}, r.line)))),
      this.lines().map((place) => this.source(place)),
      this.at === this.moments() ? element("p", { class: "reason bad" }, story.ends) : null,
    );
  }

  /** The line that acted, here too: on a narrow page the text is on another leaf. */
  source(place) {
    const text = this.job.files[place.file];
    if (text === undefined) return null;
    const line = lineAt(text, place.from, place.to);
    return element(
      "p",
      { class: "source" },
      element("span", { class: "small" }, `▸ ${place.file}, line ${line.number} `),
      element("code", {}, line.before, element("mark", {}, line.lit), line.after),
    );
  }

  causes(story) {
    if (!story.causes.length) return null;
    return [
      element("h3", {}, "What made it fail"),
      element("ul", { class: "plain" }, story.causes.map((c) =>
        element("li", {}, element("span", { class: "ring-letter" }, c.letter), ` ${c.at}: ${c.words}`, c.because ? ` (${c.because})` : ""),
      )),
      story.could_be_anything?.length ? element("p", { class: "small" }, `It does not matter what is so of: ${story.could_be_anything.join(", ")}.`) : null,
    ];
  }

  well() {
    const { contrast, goes_well: rules } = this.told;
    if (!contrast && !rules?.length) return null;
    return [
      element("h3", {}, "What would have gone well"),
      contrast ? element("p", {}, contrast.words) : null,
      contrast ? told(contrast.diagram, "The nearest case that goes well") : null,
      rules?.length ? element("ul", { class: "plain" }, rules.map((b) => element("li", {}, b.if))) : null,
    ];
  }
}

/** A run drawn, and what happens in it. */
export function told(diagram, name) {
  const picture = pictureOf(diagram);
  return [lanes(picture, { name }), happenings(picture)];
}

/** A diagram as the server tells it, ready to be drawn. */
export function pictureOf(diagram) {
  return {
    instants: diagram.instants.map((i) => ({ words: i.what, axis: i.clock || (i.just_after ? "after " : "") + duration(i.at_s) })),
    lanes: diagram.lanes,
    bars: diagram.running_down.map((b) => ({ lane: b.lane, from: b.from, to: b.to, left: figure(b.left), what: b.what })),
    marks: diagram.marks,
    cycle_from: diagram.cycle_from,
  };
}
