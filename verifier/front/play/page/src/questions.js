// The questions of a lesson: a word, a figure, a choice, a lane to draw before it is run.

import { announce, button, element, refill } from "./dom.js";
import { marked, withoutVerdict } from "./markup.js";
import { Predict } from "./predict.js";

/** What was asked for could not be sent. */
export const GONE = "The connection is gone: nothing was sent. It is tried again by itself; then press once more.";

export class Question {
  constructor(lesson, question, actions) {
    this.lesson = lesson;
    this.question = question;
    this.actions = actions;
    this.id = `${lesson}-${question.number}`;
    this.came = element("div", { "aria-live": "polite" });
    this.answer = () => "";
    this.place = element(
      "fieldset",
      { class: "question" },
      element("legend", {}, `Question ${question.number}${question.kind === "predict" ? ": predict before you run" : ""}`),
      element("p", {}, marked(question.ask)),
      question.told?.length ? element("ul", { class: "plain" }, question.told.map((line) => element("li", {}, element("code", {}, line)))) : null,
      this.given(),
      element("p", { class: "actions" }, button("Answer", () => this.send(), { class: "strong", "data-key": `answer-${this.id}`, "aria-label": `Answer question ${question.number}` })),
      this.came,
    );
  }

  given() {
    const { question, id } = this;
    if (question.kind === "predict") {
      this.predict = new Predict(question, id);
      this.answer = () => this.predict.answer();
      return this.predict.place;
    }
    if (question.kind === "choose") {
      this.answer = () => this.place.querySelector("input:checked")?.value ?? "";
      return element("div", {}, question.options.map((option, k) =>
        element("p", {}, element("label", {}, element("input", { type: "radio", name: id, value: k + 1 }), " ", marked(option))),
      ));
    }
    const field = element("input", { type: "text", id: `field-${id}`, maxlength: 200, autocomplete: "off", onkeydown: (event) => event.key === "Enter" && this.send() });
    this.answer = () => field.value;
    return element("p", { class: "actions" }, element("label", { for: `field-${id}` }, question.kind === "figure" ? "A figure with its unit, such as 1 min 30 s" : "A word"), field);
  }

  send() {
    const answer = this.answer().trim();
    if (!answer) {
      refill(this.came, element("p", {}, "There is no answer yet."));
      return;
    }
    if (this.actions.answer(this.question.number, answer) === false) refill(this.came, element("p", {}, GONE));
  }

  graded(message) {
    const right = message.right;
    const [sign, word, tone] = right === null || right === undefined ? ["?", "not understood", "open"] : right ? ["✓", "right", "good"] : ["✗", "not right", "bad"];
    if (this.predict && right !== null && right !== undefined) this.predict.graded(message);
    refill(
      this.came,
      element("p", {}, element("span", { class: `badge ${tone}` }, element("span", { class: "sign", "aria-hidden": "true" }, sign), word), " ", marked(withoutVerdict(message.words ?? "", word))),
      message.why ? element("p", { class: "reason" }, marked(message.why)) : null,
      message.lines?.length ? button("Show the lines that acted", () => this.actions.light(message.lines), { class: "link" }) : null,
    );
    if (message.lines?.length && !right) this.actions.light(message.lines, false);
  }
}
