// "Agreed": what was promised, in plain words, with the verdict as it arrives.

import { button, element, refill } from "./dom.js";
import { duration } from "./figures.js";
import { STANDS } from "./job.js";

/** A verdict as sign and word. */
export function badge(stands) {
  const { sign, word, tone } = STANDS[stands];
  return element("span", { class: `badge ${tone}` }, element("span", { "aria-hidden": "true", class: "sign" }, sign), word);
}

export class Agreed {
  constructor(panel, job, actions) {
    this.job = job;
    this.actions = actions;
    this.summary = element("p", { class: "lead", id: "summary" });
    this.stop = button("Stop proving", () => job.wire.send({ kind: "stop" }), { class: "quiet" });
    this.list = element("ol", { class: "cards" });
    this.cards = new Map();
    panel.append(
      element("h2", {}, "Agreed: what was promised"),
      this.summary,
      this.stop,
      this.list,
    );
    job.listen(() => this.show());
    this.show();
  }

  show() {
    const words = this.job.summary();
    if (this.summary.textContent !== words) this.summary.textContent = words;
    document.body.dataset.judging = this.job.judging;
    this.stop.hidden = this.job.judging !== "proving";
    const names = this.job.requirements.map((r) => r.name);
    if (names.join() !== [...this.cards.keys()].join()) {
      this.cards = new Map(names.map((name) => [name, element("li", { class: "card" })]));
      refill(this.list, [...this.cards.values()]);
    }
    for (const requirement of this.job.requirements) this.card(this.cards.get(requirement.name), requirement);
  }

  /** One requirement; left alone if nothing about it has changed. */
  card(card, requirement) {
    const seen = JSON.stringify([requirement.stands, requirement.reason, requirement.title, requirement.plain, requirement.bound_s]);
    if (card.dataset.seen === seen) return;
    card.dataset.seen = seen;
    const { name } = requirement;
    const failing = this.job.failing().includes(requirement);
    const settled = requirement.stands !== "stale";
    refill(
      card,
      element("h3", {}, badge(requirement.stands), " ", requirement.title || name),
      requirement.plain ? element("p", {}, requirement.plain) : null,
      requirement.reason && settled ? element("p", { class: "reason" }, requirement.reason) : null,
      requirement.bound_s && requirement.bound_s !== "unbounded"
        ? element("p", { class: "reason" }, `At most ${duration(requirement.bound_s)}.`)
        : null,
      element(
        "p",
        { class: "actions" },
        failing
          ? button("Why it fails", () => this.actions.story(name), { "data-key": `story-${name}`, class: "strong", "aria-label": `Why it fails: ${name}` })
          : null,
        button("Try to break it", () => this.actions.against(name), { "data-key": `break-${name}`, "aria-label": `Try to break it: ${name}` }),
        button("Show it in the text", () => this.actions.go(requirement), { "data-key": `go-${name}`, class: "quiet", "aria-label": `Show it in the text: ${name}` }),
      ),
    );
  }
}
