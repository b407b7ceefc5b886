// Drawing a lane: what will this thing do? Each change is a moment and a value, given by keyboard; the
// lane is drawn as it grows, and a place of it can be pointed at. What is right is laid over it.

import { button, element, refill, shape } from "./dom.js";
import { duration, figure, height } from "./figures.js";

const WIDEST = 560;
const LEFT = 10;
const TALL = 34;
const ROW = 56;

/** How wide a lane can be drawn without being cut: on a wide page the text takes the other half. */
function widthThere() {
  const column = matchMedia("(max-width: 60rem)").matches ? innerWidth : innerWidth / 2;
  return Math.max(240, Math.min(WIDEST, Math.floor(column) - 84));
}

export class Predict {
  /** `question` has thing, label, values, until_s, given ({label, lane: [{from_s, value}]}). */
  constructor(question, id) {
    this.question = question;
    this.id = id;
    this.wide = widthThere();
    this.until = figure(question.until_s ?? 60);
    this.values = question.values?.length ? question.values : ["off", "on"];
    this.changes = [{ at: 0, value: question.first ?? this.values[0] }];
    this.right = null;
    this.differs = null;
    this.drawing = element("div", { class: "scroll", tabindex: "0", role: "group", "aria-label": `Your lane of ${question.label || question.thing} (scrolls sideways)`, "data-scroll": id });
    this.rows = element("div", {});
    this.place = element("div", {}, this.drawing, this.rows);
    this.show();
  }

  /** The answer as text: "off; 10 s on". */
  answer() {
    return this.sorted().map(({ at, value }, k) => (k === 0 ? value : `${duration(at)} ${value}`)).join("; ");
  }

  sorted() {
    return [...this.changes].sort((a, b) => a.at - b.at);
  }

  /** Lays what is right over what was drawn. */
  graded(message) {
    this.right = (message.right_lane ?? []).map((p) => ({ at: figure(p.from_s), value: p.value }));
    this.differs = message.differs_s === null || message.differs_s === undefined ? null : figure(message.differs_s);
    this.show();
  }

  show() {
    this.draw();
    refill(
      this.rows,
      this.changes.map((change, k) => this.row(change, k)),
      element("p", { class: "small" }, "Press on your lane where it changes, or add the changes here."),
      element("p", { class: "actions" }, button("Add a change", () => this.add(), { "data-key": `${this.id}-add` })),
    );
  }

  row(change, k) {
    const value = element(
      "select",
      { "data-key": `${this.id}-value-${k}`, "aria-label": k === 0 ? "At the start it is" : `Change ${k}: it is`, onchange: (event) => { change.value = event.target.value; this.changed(); } },
      this.values.map((each) => element("option", { value: each, selected: each === change.value }, each)),
    );
    if (k === 0) return element("p", { class: "actions" }, "At the start it is ", value);
    const at = (unit, label, most) => {
      const now = unit === 60 ? Math.floor(change.at / 60) : Math.round((change.at % 60) * 1000) / 1000;
      return element("input", {
        type: "number", min: 0, max: most, step: unit === 60 ? 1 : "any", value: now, size: 4, "data-key": `${this.id}-${unit}-${k}`, "aria-label": `Change ${k}: ${label}`,
        onchange: (event) => {
          const asked = Math.max(0, Number(event.target.value) || 0);
          const seconds = unit === 60 ? asked * 60 + (change.at % 60) : Math.floor(change.at / 60) * 60 + asked;
          change.at = Math.min(seconds, this.until);
          this.changed();
        },
      });
    };
    return element(
      "p",
      { class: "actions" },
      "From ", at(60, "minutes", 9999), " min ", at(1, "seconds", 9999), " s on it is ", value,
      button("Remove", () => { this.changes.splice(k, 1); this.changed(); }, { "data-key": `${this.id}-remove-${k}`, class: "quiet", "aria-label": `Remove change ${k}` }),
    );
  }

  changed() {
    this.right = null;
    this.differs = null;
    this.show();
  }

  add(at = null) {
    const last = this.sorted().at(-1);
    const moment = at ?? Math.min(this.until, last.at + Math.max(1, Math.round(this.until / 10)));
    const before = this.sorted().filter((c) => c.at <= moment).at(-1);
    const next = this.values[(this.values.indexOf(before.value) + 1) % this.values.length];
    this.changes.push({ at: moment, value: next });
    const [first, ...rest] = this.changes;
    this.changes = [first, ...rest.sort((a, b) => a.at - b.at)];
    this.changed();
    const k = this.changes.findIndex((c) => c.at === moment && c.value === next);
    this.rows.querySelector(`[data-key="${this.id}-1-${k}"]`)?.focus();
  }

  // ------------------------------------------------------------ the drawing

  draw() {
    const given = (this.question.given ?? []).map((g) => ({ label: g.label || g.name, kind: "outside", lane: g.lane.map((p) => ({ at: figure(p.from_s), value: p.value })) }));
    const label = this.question.label || this.question.thing;
    const lanes = [...given, { label: `${label}: yours`, kind: "output", lane: this.sorted(), own: true }];
    if (this.right) lanes.push({ label: `${label}: what the interpreter says`, kind: "output", lane: this.right });
    const tall = lanes.length * ROW + 26;
    const drawing = shape(
      "svg",
      { viewBox: `0 0 ${this.wide + 20} ${tall}`, width: this.wide + 20, height: tall, class: "lanes", role: "img", "aria-label": this.inWords(lanes) },
      lanes.map((lane, k) => this.lane(lane, 18 + k * ROW)),
      this.ticks().map((at) => [
        shape("path", { d: `M${this.x(at)} 6V${tall - 20}`, class: "guide" }),
        shape("text", { x: Math.min(this.x(at), this.wide - 10), y: tall - 6, class: "axis" }, duration(at)),
      ]),
      this.differs === null ? null : [
        shape("path", { d: `M${this.x(this.differs)} 6V${tall - 20}`, class: "guide broken" }),
        shape("text", { x: Math.min(this.x(this.differs) + 4, this.wide - 70), y: 12, class: "letter" }, "✗ differs"),
      ],
    );
    this.drawing.replaceChildren(drawing);
  }

  lane({ label, kind, lane, own }, top) {
    const [high, low] = [top + 14, top + 14 + TALL - 8];
    let line = "";
    const parts = [shape("text", { x: LEFT + 4, y: top + 8, class: "label" }, label)];
    lane.forEach(({ at, value }, k) => {
      const [left, right] = [this.x(at), this.x(lane[k + 1]?.at ?? this.until)];
      const up = height(value);
      const y = up === null ? (high + low) / 2 : low - up * (low - high);
      if (up === null || up > 0) parts.push(shape("rect", { x: left, y, width: Math.max(0, right - left), height: low - y, class: `area ${kind}` }));
      line += `${line ? "L" : "M"}${left} ${y}H${right}`;
      if (value.length * 6.5 + 6 <= right - left) parts.push(shape("text", { x: left + 4, y: low - 4, class: "value" }, value));
    });
    parts.push(shape("path", { d: line, class: `edge ${kind}` }));
    if (own) {
      parts.push(shape("rect", {
        x: LEFT, y: top, width: this.wide - LEFT, height: ROW, class: "pick",
        onclick: (event) => this.add(this.snapped(event)),
      }));
    }
    return shape("g", {}, parts);
  }

  snapped(event) {
    const box = this.drawing.querySelector("svg").getBoundingClientRect();
    const at = ((event.clientX - box.left - LEFT) / (this.wide - LEFT)) * this.until;
    const step = this.until <= 180 ? 5 : this.until <= 1200 ? 10 : 60;
    return Math.max(step, Math.min(this.until, Math.round(at / step) * step));
  }

  x(at) {
    return LEFT + (Math.min(at, this.until) / this.until) * (this.wide - LEFT);
  }

  ticks() {
    const steps = [1, 5, 10, 30, 60, 120, 300, 600, 1800, 3600, 7200, 21600, 86400];
    const step = steps.find((each) => this.until / each <= Math.floor(this.wide / 66)) ?? this.until / 6;
    const found = [];
    for (let at = 0; at <= this.until + 1e-9; at += step) found.push(at);
    return found;
  }

  inWords(lanes) {
    return lanes.map(({ label, lane }) => `${label}: ${lane.map((p) => `${p.at ? `${duration(p.at)} ` : ""}${p.value}`).join("; ")}`).join(". ");
  }
}
