// "Behaves": hands on. A picture of the room, everything that a person can do as buttons, time that
// runs, what happened and which rule reacted, and a requirement to break.

import { announce, button, element, refill, refillIfNew } from "./dom.js";
import { duration, figure, passing } from "./figures.js";
import { lanes, narrow, soFar } from "./lanes.js";
import { marked, withoutVerdict } from "./markup.js";
import { picture } from "./picture.js";
import { Room } from "./room.js";

const RATES = [[0, "Stop"], [1, "1 ×"], [10, "10 ×"], [100, "100 ×"]];
const STRETCHES = [[1, "1 s"], [10, "10 s"], [60, "1 min"], [600, "10 min"], [3600, "1 h"]];
const OWNERS = [
  ["people", "What people do"],
  ["sun", "The sun"],
  ["controller", "The controller"],
  ["faults", "What can fail"],
];
const SIGNS = { broken: ["✗", "bad"], reached: ["✓", "good"] };
const MOST_TOLD = 60;
const MOST_WIDE = 736;

export class Behaves {
  constructor(panel, job, light) {
    this.job = job;
    this.light = light;
    this.room = new Room(job.wire);
    this.requirement = "";
    this.gaveUp = false;
    this.wide = 0;
    this.places = Object.fromEntries(
      ["against", "picture", "time", "problem", "orders", "do", "lanes", "log", "rules", "refused"].map((name) => [
        name,
        element("div", { class: `behaves-${name}`, tabindex: "-1" }),
      ]),
    );
    this.makeTime();
    this.empty = element("p", {}, "The room can be operated once the text has no mistakes.");
    this.body = element("div", { hidden: true }, Object.values(this.places));
    panel.append(element("h2", {}, "Behaves: operate the room"), this.empty, this.body);
    this.panel = panel;
    this.room.listen((fresh) => this.show(fresh));
    new ResizeObserver(() => this.sized()).observe(this.places.picture);
    job.wire.on("connection", ({ state }) => {
      if (state === "closed") this.begun = false; // the room went with it
    });
    job.listen((what) => {
      if (what === "text" || what === "loaded") this.begun = false;
      if (what === "checked" && !panel.hidden) this.enter();
    });
  }

  /** The leaf is shown, or the text was checked anew: a room of the text as it is now. */
  enter() {
    if (this.begun || ["stale", "mistakes", ""].includes(this.job.judging)) {
      if (!this.begun) this.room.forget();
      return;
    }
    this.begun = true;
    this.gaveUp = false;
    this.room.start();
    if (this.requirement && this.job.requirements.some((r) => r.name === this.requirement)) this.watch(this.requirement);
    else this.requirement = "";
  }

  leave() {
    this.room.run(0);
    this.show([]);
  }

  /** Attaches a requirement that is to be broken. */
  watch(name) {
    this.requirement = name;
    this.gaveUp = false;
    if (this.begun) this.room.ask({ do: "against", requirement: name });
  }

  restart() {
    this.begun = false;
    this.enter();
    announce("From the start.");
  }

  show(fresh) {
    const { now } = this.room;
    this.empty.hidden = now !== null;
    this.empty.textContent = this.room.problem || "The room can be operated once the text has no mistakes.";
    this.body.hidden = now === null;
    if (now === null) return;
    this.showAgainst(now);
    this.showPicture(now);
    this.showTime(now);
    this.showProblem(now);
    this.showOrders(now);
    this.showActions(now);
    this.showLanes(now);
    this.showLog(now);
    this.showRules(now);
    this.showRefused(now);
    if (fresh.length) {
      this.light(fresh.flatMap((m) => m.lines));
      announce(fresh.map((m) => momentWords(m)).join(" "));
    }
  }

  // ------------------------------------------------------------ the picture

  /** The picture is as wide as its place, so that its words are as large as others on the page. */
  sized() {
    const wide = this.widthThere();
    if (wide === 0 || wide === this.wide) return;
    this.wide = wide;
    if (this.room.now !== null) this.show([]);
  }

  widthThere() {
    return Math.floor(Math.min(this.places.picture.getBoundingClientRect().width, MOST_WIDE));
  }

  showPicture(now) {
    if (this.wide === 0) this.wide = this.widthThere();
    const pressable = [...new Set(now.possible.filter((a) => a.whose !== "faults").map((a) => a.thing))];
    refillIfNew(this.places.picture, [now.things, this.wide, pressable], () => [
      picture(now.things, this.wide || 360, { pressable, pressed: (name) => this.pressed(name) }),
      element("p", { class: "small" }, "Press on a door, a switch or the sun in the picture, or use the buttons below."),
    ]);
  }

  /** A thing of the picture was pressed on: the one thing that can be done with it, or its buttons. */
  pressed(name) {
    const actions = this.room.now.possible.filter((a) => a.thing === name && a.whose !== "faults");
    if (actions.length === 1) this.room.act(actions[0].key);
    else this.places.do.querySelector(`[data-key="act-${CSS.escape(name)}-0"]`)?.focus();
  }

  // ------------------------------------------------------------ a requirement to break

  showAgainst(now) {
    const { judged } = now;
    const required = this.job.requirements;
    const asked = required.find((r) => r.name === this.requirement);
    const [sign, tone] = SIGNS[judged?.standing] ?? ["…", "plain"];
    refillIfNew(this.places.against, [judged, this.requirement, required.map((r) => r.name), now.showing, asked?.stands, this.gaveUp], () => [
      element(
        "p",
        { class: "actions" },
        element("label", { for: "against" }, "Try to break"),
        element(
          "select",
          { id: "against", "data-key": "against", onchange: (event) => this.watch(event.target.value) },
          element("option", { value: "", selected: this.requirement === "" }, "nothing: only look"),
          required.map((r) => element("option", { value: r.name, selected: r.name === this.requirement }, r.title || r.name)),
        ),
        this.requirement && asked && ["refuted", "answered"].includes(asked.stands)
          ? button("Give up: show the shortest run", () => this.giveUp(), { "data-key": "give-up" })
          : null,
      ),
      asked?.plain ? element("p", { class: "small" }, asked.plain) : null,
      asked?.stands === "proved"
        ? element("p", { class: "small" }, "It is proved: nobody can break it, whatever they do here. Try all the same.")
        : null,
      judged
        ? element(
            "p",
            { id: "standing" },
            element("span", { class: `badge ${tone}` }, element("span", { class: "sign", "aria-hidden": "true" }, sign), judged.standing),
            ` ${withoutVerdict(judged.words ?? "", judged.standing)}`,
          )
        : null,
      now.showing ? this.shown(now.showing, now.moments.at(-1)) : null,
    ]);
    if (judged?.standing === "broken" && this.told !== "broken") announce(`Broken. ${judged.words ?? ""}`);
    this.told = judged?.standing;
  }

  giveUp() {
    this.gaveUp = true;
    this.room.run(0);
    this.room.ask({ do: "show_run", requirement: this.requirement });
  }

  /** A run of the tool's own, step by step. */
  shown({ step: at, of: last }, moment) {
    const told = at === 0 || !moment ? "So things stand as it begins." : momentWords(moment);
    return [element(
      "p",
      { class: "actions", role: "group", "aria-label": "The shortest run, step by step" },
      button("Back", () => this.room.ask({ do: "undo" }), { "data-key": "run-back", "aria-disabled": String(at === 0) }),
      button("Next", () => this.room.ask({ do: "due" }), { "data-key": "run-next", "aria-disabled": String(at === last) }),
      element("span", {}, `The shortest run: step ${at} of ${last}`),
    ), element("p", { class: "reason" }, told)];
  }

  // ------------------------------------------------------------ time

  /** The buttons of time are made once: only their words change while it runs. */
  makeTime() {
    this.clock = element("strong");
    this.clockTime = element("span");
    this.rates = RATES.map(([rate, words]) =>
      button(words, () => { this.room.run(rate); this.show([]); }, { "data-key": `rate-${rate}` }),
    );
    this.due = button("", () => this.room.now?.due.length && this.room.ask({ do: "due" }), { "data-key": "due" });
    this.dueTold = element("p", { class: "small" });
    const row = (name, ...inside) => element("div", { class: "actions", role: "group", "aria-label": name }, inside);
    this.places.time.append(
      element("p", { class: "clock" }, this.clock, " from the start", this.clockTime),
      row("How fast time runs", element("span", { class: "small" }, "Time runs"), this.rates, element("span", { class: "small" }, "times as fast as in the house")),
      row(
        "Let time pass",
        element("span", { class: "small" }, "Let pass"),
        STRETCHES.map(([seconds, words]) => button(words, () => this.room.pass(seconds), { "data-key": `pass-${seconds}`, "aria-label": `Let ${words} pass` })),
        this.due,
      ),
      this.dueTold,
      row(
        "Begin again",
        button("Take back", () => this.room.ask({ do: "undo" }), { "data-key": "undo", class: "quiet" }),
        button("Start again", () => this.restart(), { "data-key": "restart", class: "quiet" }),
      ),
    );
  }

  showTime(now) {
    const due = now.due[0];
    say(this.clock, passing(now.now_s));
    say(this.clockTime, now.clock ? ` · ${now.clock}` : "");
    RATES.forEach(([rate], k) => this.rates[k].setAttribute("aria-pressed", String(this.room.rate === rate)));
    say(this.due, due ? "Go on to what is due" : "Nothing is due");
    this.due.setAttribute("aria-disabled", String(!due));
    const when = due && (figure(due.in_s) === 0 ? "now" : `in ${passing(due.in_s)}`);
    say(this.dueTold, due ? `Due ${when}: ${due.words}${due.outside ? " (from outside)" : ""}` : "");
  }

  showProblem(now) {
    const words = this.room.problem || now.stopped;
    const last = now.moments.at(-1);
    refillIfNew(this.places.problem, [words, last && momentWords(last)], () => [
      words ? element("p", { class: "limit", role: "alert" }, words) : null,
      last ? element("p", { class: "reason last" }, momentWords(last)) : null,
    ]);
  }

  showOrders(now) {
    refillIfNew(this.places.orders, now.orders, () =>
      now.orders.length < 2
        ? null
        : element(
            "fieldset",
            {},
            element("legend", {}, "Two things fell into one moment: both orders are possible"),
            now.orders.map((order) =>
              button(order.words, () => this.room.ask({ do: "choose", key: order.key }), {
                "aria-pressed": String(order.chosen), "data-key": `order-${order.key}`,
              }),
            ),
          ),
    );
  }

  // ------------------------------------------------------------ what can be done

  showActions(now) {
    refillIfNew(this.places.do, [now.possible, now.things.map((t) => [t.name, t.words, t.reported, t.faults])], () =>
      OWNERS.map(([whose, words]) => {
        const actions = now.possible.filter((a) => (a.whose ?? "people") === whose);
        if (!actions.length) return null;
        const names = [...new Set(actions.map((a) => a.thing))];
        const things = element("div", { class: "things" }, names.map((name) => this.thing(now, name, actions)));
        return whose === "faults"
          ? element("details", { "data-scroll": "faults" }, element("summary", {}, words), things)
          : [element("h3", {}, words), things];
      }),
    );
  }

  thing(now, name, actions) {
    const thing = now.things.find((t) => t.name === name);
    const label = thing?.label ?? "";
    return element(
      "div",
      { class: "thing" },
      label ? element("h4", {}, label) : null,
      thing?.words ? element("p", { class: "small" }, `now ${thing.words}${thing.reported ? `, reported ${thing.reported}` : ""}${(thing.faults ?? []).map((f) => `, ${f}`).join("")}`) : null,
      element(
        "div",
        { class: "actions" },
        actions.filter((a) => a.thing === name).map((action, k) => {
          const short = action.key.startsWith(`${name} `) ? action.key.slice(name.length + 1) : action.words;
          return button(short, () => this.room.act(action.key), { "data-key": `act-${name}-${k}`, "data-act": action.key, "aria-label": label ? `${label}: ${short}` : short });
        }),
      ),
    );
  }

  showRefused(now) {
    refillIfNew(this.places.refused, now.refused, () =>
      now.refused.length
        ? element(
            "details",
            {},
            element("summary", {}, "What cannot be done now, and why"),
            element("ul", {}, now.refused.map((r) => element("li", {}, `${r.words}: ${r.why}`, r.hint ? element("span", { class: "small" }, ` ${r.hint}`) : null))),
          )
        : null,
    );
  }

  // ------------------------------------------------------------ what happened

  showLanes(now) {
    refillIfNew(this.places.lanes, [narrow.matches, now.moments.map((m) => [m.number, m.at, m.changes])], () => {
      const picture = soFar(now.lanes, now.moments);
      return picture.lanes.length ? [element("h3", {}, "So far"), lanes(picture, { name: "What changed so far" })] : null;
    });
    const box = this.places.lanes.querySelector(".scroll");
    if (box) box.scrollLeft = box.scrollWidth;
  }

  showLog(now) {
    refillIfNew(this.places.log, now.moments.map((m) => [m.number, m.what, m.at]), () => [
      element("h3", {}, "What happened"),
      now.moments.length
        ? element("ol", { class: "log", tabindex: "0", "aria-label": "What happened, the last first", reversed: true, start: now.moments.length },
            now.moments.slice(-MOST_TOLD).reverse().map((m) => this.moment(m)))
        : element("p", {}, "Nothing yet. Do something, or let time pass."),
    ]);
  }

  moment(m) {
    return element(
      "li",
      {},
      element("strong", {}, `${m.clock || duration(m.at)}: ${m.what}`),
      m.told.length ? `. Then ${m.told.join(", ")}.` : ".",
      m.reactions.length ? element("ul", { class: "plain" }, m.reactions.map((r) => element("li", {}, marked(r.words)))) : null,
      m.lines.length ? button("Show the lines", () => this.light(m.lines, true), { class: "link", "data-key": `lines-${m.number}`, "aria-label": `Show the lines that acted at ${duration(m.at)}` }) : null,
    );
  }

  showRules(now) {
    refillIfNew(
      this.places.rules,
      now.rules.map((r) => [r.name, r.value, r.runs.map((run) => run.waits)]),
      () => {
        this.left = [];
        return [
          element("h3", {}, "The rules"),
          element(
            "table",
            {},
            element("thead", {}, element("tr", {}, ["Rule", "Now", "Where it is"].map((w) => element("th", { scope: "col" }, w)))),
            element("tbody", {}, now.rules.map((rule) => this.rule(rule))),
          ),
        ];
      },
    );
    const runs = now.rules.flatMap((rule) => rule.runs);
    runs.forEach((run, k) => say(this.left[k], run.left_s === null ? "" : `${passing(run.left_s)} left`));
  }

  rule(rule) {
    return element(
      "tr",
      {},
      element("th", { scope: "row" }, rule.label || rule.name),
      element("td", {}, rule.value),
      element("td", {}, rule.runs.map((run, k) => this.run(rule, run, k))),
    );
  }

  run(rule, run, k) {
    const left = element("span");
    this.left.push(left);
    return element(
      "div",
      {},
      `${run.waits} `,
      button("line", () => this.light([run.line], true), { class: "link", "data-key": `rule-${rule.name}-${k}`, "aria-label": `Show the line at which ${rule.name} waits` }),
      " ",
      left,
    );
  }
}

/** New words for a part, if they are other words. */
function say(part, words) {
  if (part.textContent !== words) part.textContent = words;
}

/** A moment in a sentence. */
function momentWords(m) {
  const then = m.told.length ? ` Then ${m.told.join(", ")}.` : "";
  return `${duration(m.at)}: ${m.what}.${then}`;
}
