// "Papers": which commands write what one hands over. The page itself writes none of them.

import { button, element, announce } from "./dom.js";

const PAPERS = [
  ["promise", "-o promises.html", "What was agreed, in plain words, each with a run that keeps it and one that breaks it: for the client to sign."],
  ["report", "-o report.html", "What holds and on what ground, what fails and how, what was assumed and not checked."],
  ["testsheet", "-o sheet.html", "What to do on site, how long to wait, what to expect, row by row."],
  ["effects", "-o effects.html", "Each trigger and the end of each wait, and what it does to each output."],
  ["house-page", "-o house.html", "How the lights behave, in ten lines for the people of the house."],
  ["points", "-o points.csv", "The points schedule, with terminal and cable."],
  ["graph", "--format html -o graph.html", "Each rule as a picture of its places and ways."],
  ["energy", "", "What each lamp uses in a year, where the job states how the house is used."],
  ["prove", "--certificates proofs", "Each proof as texts that any solver can check."],
];

export class Papers {
  constructor(panel, job) {
    this.list = element("dl", { class: "papers" });
    panel.append(
      element("h2", {}, "Papers: what to hand over"),
      element("p", {}, "These commands write them from the job's folder. What was changed on this page has to be kept there first: “Keep these texts” saves the files that are shown."),
      this.list,
    );
    job.wire.on("hello", (m) => this.show(m.job));
    this.show("FOLDER");
  }

  show(name) {
    const folder = /^[\w./-]+$/.test(name ?? "") ? name : "FOLDER";
    this.list.replaceChildren(
      ...PAPERS.flatMap(([command, options, words]) => {
        const line = `duskproof ${command} ${folder} ${options}`.trim();
        return [
          element("dt", {}, element("code", {}, line), " ", button("Copy", () => this.copy(line), { class: "quiet", "aria-label": `Copy: ${line}` })),
          element("dd", {}, words),
        ];
      }),
    );
  }

  async copy(line) {
    try {
      await navigator.clipboard.writeText(line);
      announce("Copied.");
    } catch {
      announce("It could not be copied: select the line and copy it by hand.");
    }
  }
}
