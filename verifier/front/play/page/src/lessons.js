// "Lessons": the list, one lesson's text with its questions, and its challenge with three hints.

import { announce, button, element, keepAsFile, refill } from "./dom.js";
import { told } from "./fails.js";
import { counted } from "./figures.js";
import { marked } from "./markup.js";
import { Progress } from "./progress.js";
import { GONE, Question } from "./questions.js";

const CAME = {
  kept: ["✓", "good"], broken: ["✗", "bad"], open: ["?", "open"], "never in play": ["○", "open"], "too strict": ["✗", "bad"], "not noticed": ["✗", "bad"],
};

export class Lessons {
  constructor(panel, job, light, show) {
    this.job = job;
    this.light = light;
    this.show = show;
    this.progress = new Progress();
    this.list = [];
    this.lesson = null;
    this.questions = new Map();
    this.own = null;
    this.work = new Map();
    this.asked = false;
    this.place = element("div", { tabindex: "-1" });
    panel.append(element("h2", {}, "Lessons"), this.place);
    const { wire } = job;
    wire.on("lessons", (m) => { this.list = m.lessons ?? []; this.showList(); });
    wire.on("lesson", (m) => this.opened(m));
    wire.on("graded", (m) => this.graded(m));
    wire.on("hint", (m) => this.hinted(m));
    for (const kind of ["error", "limit"]) wire.on(kind, (m) => this.refused(m.words));
    wire.on("connection", ({ state }) => {
      if (state !== "closed") return;
      this.asked = false;
      this.refused("The connection is gone, and what was handed in with it. It is tried again by itself; then hand in once more.");
    });
    this.showList();
  }

  /** The leaf is shown. */
  enter() {
    if (this.asked) return;
    this.asked = this.job.wire.send({ kind: "lessons" });
  }

  // ------------------------------------------------------------ the list

  showList() {
    const done = this.list.filter((l) => this.standing(l)[1] === "done").length;
    refill(
      this.place,
      this.list.length
        ? element("p", {}, `${counted(this.list.length, "lesson")}, ${done} done. What you write in a lesson stays on this page.`)
        : element("p", {}, "The lessons are being fetched …"),
      element("ol", { class: "cards" }, this.list.map((lesson) => this.card(lesson))),
      element(
        "div",
        { class: "actions", role: "group", "aria-label": "Progress" },
        button("Export progress", () => keepAsFile("duskproof-progress.json", this.progress.text()), { "data-key": "export", class: "quiet" }),
        element("label", {}, "Take progress in ", element("input", { type: "file", accept: ".json,application/json", onchange: (event) => this.takeIn(event.target.files[0]) })),
        element("span", { class: "small" }, "It is kept in this browser alone; the next address may not find it: export it."),
      ),
      (this.said = element("p", { role: "status" })),
    );
  }

  card(lesson) {
    const [sign, word, tone] = this.standing(lesson);
    return element(
      "li",
      { class: "card" },
      element("h3", {}, element("span", { class: `badge ${tone}` }, element("span", { class: "sign", "aria-hidden": "true" }, sign), word), ` ${lesson.title}`, lesson.optional ? " (optional)" : ""),
      element("p", { class: "small" }, `${lesson.minutes} min`),
      element("ul", { class: "plain" }, (lesson.aims ?? []).map((aim) => element("li", {}, marked(aim)))),
      button("Open", () => this.open(lesson.name), { "data-key": `open-${lesson.name}`, class: "strong", "aria-label": `Open ${lesson.title}` }),
    );
  }

  standing(lesson) {
    const { read, answers, challenge } = this.progress.of(lesson.name);
    const right = Object.values(answers).filter((came) => came === "right").length;
    const all = lesson.questions ?? 0;
    if (challenge === "passed" && right >= all) return ["✓", "done", "good"];
    if (read || right || challenge) return ["…", "begun", "open"];
    return ["–", "new", "plain"];
  }

  async takeIn(file) {
    if (!file) return;
    try {
      this.progress.take(await file.text());
      this.showList();
      this.said.textContent = "The progress was taken in.";
    } catch (problem) {
      this.said.textContent = `It was not taken in: ${problem.message}.`;
    }
  }

  // ------------------------------------------------------------ one lesson

  open(name) {
    this.job.wire.send({ kind: "lesson", name });
  }

  opened(lesson) {
    this.leaveText();
    this.lesson = lesson;
    this.progress.read(lesson.name);
    this.load(this.work.get(lesson.name) ?? lesson.files ?? {});
    this.questions = new Map((lesson.questions ?? []).map((q) => [q.number, new Question(lesson.name, q, {
      answer: (number, answer) => this.job.wire.send({ kind: "answer", lesson: lesson.name, question: String(number), answer }),
      light: (lines, show = true) => this.light(lines, show),
    })]));
    this.hints = element("div", { "aria-live": "polite" });
    this.result = element("div", { "aria-live": "polite" });
    refill(
      this.place,
      element(
        "p",
        { class: "actions" },
        button("All lessons", () => this.back(), { "data-key": "back", class: "quiet" }),
        button("The lesson's text anew", () => this.load(lesson.files), { "data-key": "anew", class: "quiet", title: "Puts the job back as the lesson gives it" }),
      ),
      element("h3", { class: "title", tabindex: "-1" }, lesson.title),
      element("p", { class: "small" }, `${lesson.minutes} min`),
      element("ul", { class: "plain" }, (lesson.aims ?? []).map((aim) => element("li", {}, marked(aim)))),
      (lesson.blocks ?? []).map((block) => this.block(block)),
      element("p", { class: "actions" }, this.next()),
    );
    this.place.querySelector("h3").focus();
    this.place.scrollIntoView({ block: "start" });
  }

  next() {
    const at = this.list.findIndex((l) => l.name === this.lesson.name);
    const after = this.list[at + 1];
    return after ? button(`Next: ${after.title}`, () => this.open(after.name), { "data-key": "next-lesson" }) : null;
  }

  block(block) {
    switch (block.kind) {
      case "heading":
        return element("h4", {}, block.text);
      case "prose":
        return element("p", {}, marked(block.text));
      case "items":
        return element(block.numbered ? "ol" : "ul", {}, block.items.map((item) => element("li", {}, marked(item))));
      case "listing":
        return [
          element("pre", { tabindex: "0", class: block.of === "console" || !block.of ? "output" : null, "aria-label": block.of === "dusk" ? "Rules" : "Lines" }, element("code", {}, block.text)),
          this.here(block),
        ];
      case "form":
        return this.form(block);
      case "question":
        return this.questions.get(block.number)?.place ?? null;
      case "challenge":
        return this.challenge();
      default:
        return null;
    }
  }

  /** Where the page has what a command would tell. */
  here({ of, text }) {
    const [, command] = /^(?:\$ )?duskproof (prove|explain)\b/.exec(text) ?? [];
    if (of !== "console" || command === undefined) return null;
    const [leaf, words] = command === "prove" ? ["agreed", "Agreed"] : ["fails", "Fails"];
    return element(
      "p",
      { class: "small" },
      "That is for the terminal. On this page it is done as you type: look under ",
      button(words, () => this.show(leaf), { class: "link", "aria-label": `Show ${words}` }),
      ".",
    );
  }

  form(block) {
    return element(
      "div",
      { class: "now-told" },
      element("p", {}, element("code", {}, block.form)),
      element("p", {}, block.plain ?? ""),
      (block.runs ?? []).map((run) => [
        element("p", { class: "small" }, run.caption),
        run.diagram ? told(run.diagram, run.caption) : null,
      ]),
    );
  }

  challenge() {
    const { lesson } = this;
    return element(
      "fieldset",
      { class: "question" },
      element("legend", {}, "Challenge"),
      element("p", {}, marked(lesson.challenge?.ask ?? "")),
      element(
        "p",
        { class: "actions" },
        this.ownStart() ? button("Put the challenge's job into the text", () => this.load(lesson.challenge.files), { "data-key": "start", class: "quiet" }) : null,
        button("Go to the text", () => this.show("text"), { "data-key": "to-text", class: "quiet narrow-only" }),
        button("Hand in what stands in the text", () => this.handIn(), { class: "strong", "data-key": "hand-in" }),
      ),
      this.result,
      element("p", { class: "actions" }, [1, 2, 3].map((step) =>
        button(`Hint ${step}: ${["where to look", "when it goes wrong", "the run"][step - 1]}`, () => this.job.wire.send({ kind: "hint", lesson: lesson.name, step }) || refill(this.hints, element("p", {}, GONE)), { "data-key": `hint-${step}` }),
      )),
      this.hints,
    );
  }

  /** Whether the challenge begins with another job than the lesson. */
  ownStart() {
    const { files, challenge } = this.lesson;
    return Boolean(challenge?.files) && JSON.stringify(challenge.files) !== JSON.stringify(files);
  }

  handIn() {
    refill(this.hints);
    this.handing = this.job.wire.send({ kind: "challenge", lesson: this.lesson.name, files: this.job.files });
    refill(this.result, element("p", {}, this.handing ? "It is being judged …" : GONE));
  }

  // ------------------------------------------------------------ what comes back

  /** What was handed in could not be judged, or was too much: the words of the server say why. */
  refused(words) {
    if (!this.handing) return;
    this.handing = false;
    refill(this.result, element("p", {}, words));
  }

  graded(message) {
    if (this.lesson === null || message.lesson !== this.lesson.name) return;
    if (message.question !== undefined && message.question !== null) {
      const number = Number(message.question);
      if (typeof message.right === "boolean") this.progress.answered(this.lesson.name, number, message.right);
      this.questions.get(number)?.graded(message);
      return;
    }
    this.handing = false;
    this.progress.challenged(this.lesson.name, Boolean(message.passed));
    refill(
      this.result,
      message.passed
        ? element("p", {}, element("span", { class: "badge good" }, element("span", { class: "sign", "aria-hidden": "true" }, "✓"), "passed"), " All that was asked for is kept.")
        : element("p", {}, element("span", { class: "badge bad" }, element("span", { class: "sign", "aria-hidden": "true" }, "✗"), "not yet")),
      (message.wrong ?? []).map((w) => element("p", {}, `${w.file ? `${w.file}, line ${w.line}: ` : ""}${w.message}`)),
      (message.moved ?? []).map((words) => element("p", {}, words)),
      element("ul", { class: "plain" }, (message.parts ?? []).map((part) => {
        const [sign, tone] = CAME[part.came] ?? ["?", "open"];
        return element("li", {}, element("span", { class: `badge ${tone}` }, element("span", { class: "sign", "aria-hidden": "true" }, sign), part.came), ` ${part.title || part.name}`, part.words ? `: ${part.words}` : "");
      })),
    );
  }

  hinted(message) {
    if (this.lesson === null || message.lesson !== this.lesson.name) return;
    refill(
      this.hints,
      element("h4", {}, `Hint ${message.step}`),
      String(message.words ?? "").split("\n").filter(Boolean).map((line) => element("p", {}, marked(line))),
      message.story?.diagram ? told(message.story.diagram, "The run") : null,
    );
    if (message.lines?.length) this.light(message.lines, false);
    announce(`Hint ${message.step}. ${message.words ?? ""}`);
  }

  // ------------------------------------------------------------ texts that come and go

  load(files) {
    if (Object.keys(files ?? {}).length) this.job.load(files);
  }

  /** What stands in the text is kept, for when one comes back. */
  leaveText() {
    if (this.lesson === null) this.own = { ...this.job.files };
    else this.work.set(this.lesson.name, { ...this.job.files });
  }

  back() {
    this.leaveText();
    this.lesson = null;
    if (this.own) this.load(this.own);
    this.showList();
    this.place.focus();
  }
}
