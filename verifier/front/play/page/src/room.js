// The room as the page knows it: what the server told last, brought to one shape, and the time that
// runs in it.

import { figure } from "./figures.js";

const TICK_MS = 250;

const NAMES = { sun: "The sun", clock: "The clock", power: "The mains" };

/** A room that is operated. Listeners are told of each change; `moments` are those that are new. */
export class Room {
  constructor(wire) {
    this.wire = wire;
    this.now = null;
    this.rate = 0;
    this.waiting = false;
    this.last = 0;
    this.listeners = [];
    this.problem = "";
    wire.on("room", (m) => this.received(m));
    wire.on("error", (m) => {
      if (this.waiting) this.refused(m.words);
    });
    wire.on("limit", (m) => {
      if (this.waiting) this.refused(m.words);
    });
    wire.on("connection", ({ state }) => {
      if (state !== "closed") return;
      this.waiting = false;
      this.rate = 0;
    });
  }

  listen(heard) {
    this.listeners.push(heard);
  }

  tell(fresh) {
    for (const heard of this.listeners) heard(fresh);
  }

  ask(message) {
    this.waiting = true;
    this.problem = "";
    if (!this.wire.send({ kind: "room", ...message })) this.waiting = false;
  }

  start() {
    this.run(0);
    this.now = null;
    this.ask({ do: "start" });
  }

  forget() {
    this.run(0);
    this.now = null;
    this.waiting = false;
    this.problem = "";
    this.tell([]);
  }

  act(key) {
    this.ask({ do: "act", key });
  }

  pass(seconds) {
    this.ask({ do: "pass", seconds: Math.round(seconds * 1000) / 1000 });
  }

  refused(words) {
    this.waiting = false;
    this.rate = 0;
    this.problem = words;
    this.tell([]);
  }

  received(message) {
    this.waiting = false;
    if (message.words && !message.things) {
      this.refused(message.words);
      return;
    }
    const before = this.now?.moments.length ?? 0;
    const same = this.now !== null && message.now_s !== undefined && figure(message.now_s) >= this.now.now_s;
    this.now = shapeOf(message, this.now?.moments.slice(0, message.kept ?? 0) ?? []);
    const fresh = same ? this.now.moments.slice(before) : [];
    if (this.now.stopped || this.now.orders.length) this.rate = 0;
    if (message.why) this.problem = [message.why, message.hint].filter(Boolean).join(". ");
    this.tell(fresh);
  }

  /** Lets time run so many times as fast as it does; 0 stops it. */
  run(rate) {
    this.rate = rate;
    this.last = performance.now();
    if (rate > 0 && this.timer === undefined) {
      this.timer = setInterval(() => this.tick(), TICK_MS);
    } else if (rate === 0 && this.timer !== undefined) {
      clearInterval(this.timer);
      this.timer = undefined;
    }
  }

  /** A stretch of time passes: one question at a time, however slow the answers come. */
  tick() {
    if (this.rate === 0) {
      this.run(0);
      return;
    }
    if (this.waiting || this.now === null) return;
    const at = performance.now();
    const seconds = ((at - this.last) / 1000) * this.rate;
    this.last = at;
    this.pass(Math.min(seconds, this.rate));
  }
}

/** What the server told, with numbers for exact figures and nothing left out, after the moments known before. */
function shapeOf(message, known) {
  const told = (message.moments ?? []).map((m) => ({
    ...m,
    at: figure(m.at_s),
    told: m.told ?? [],
    reactions: m.reactions ?? [],
    lines: m.lines ?? [],
    orders: m.orders ?? [],
  }));
  const moments = [...known, ...told];
  return {
    now_s: figure(message.now_s ?? 0),
    clock: message.clock ?? "",
    things: (message.things ?? []).map((t) => ({
      ...t,
      label: t.label || NAMES[t.name] || t.name,
      level: t.level === null || t.level === undefined ? null : figure(t.level),
      words: t.words || t.value || "",
    })),
    rules: message.rules ?? [],
    possible: message.possible ?? [],
    refused: message.refused ?? [],
    due: message.due ?? [],
    stopped: message.stopped ?? "",
    judged: message.judged ?? null,
    showing: message.showing ?? null,
    lanes: (message.lanes ?? []).map((lane) => ({
      label: lane.label && lane.label !== lane.name ? lane.label : (NAMES[lane.name] ?? lane.name),
      kind: lane.kind,
      name: lane.name,
      first: lane.values[0]?.value ?? "",
    })),
    moments,
    orders: moments.at(-1)?.orders ?? [],
  };
}
