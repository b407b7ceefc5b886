// The page: text on the left, and on the right what one does with it, in the order of the work.

import { Agreed } from "./agreed.js";
import { Behaves } from "./behaves.js";
import { button, element, keepAsFile, refill } from "./dom.js";
import { Editor } from "./editor.js";
import { Fails } from "./fails.js";
import { Findings } from "./findings.js";
import { TheJob } from "./job.js";
import { Lessons } from "./lessons.js";
import { Papers } from "./papers.js";
import { Tabs } from "./tabs.js";
import { socketBeside, Wire } from "./wire.js";

const place = (id) => document.getElementById(id);

const wire = new Wire(socketBeside(location.href));
const job = new TheJob(wire);
const editor = new Editor(place("editor"), (file, text) => job.write(file, text));
const tabs = new Tabs(place("tabs"), place("leaves"), [
  ["text", "Text"],
  ["agreed", "Agreed"],
  ["behaves", "Behaves"],
  ["fails", "Fails"],
  ["papers", "Papers"],
  ["lessons", "Lessons"],
]);

function go({ file, from, to }) {
  if (file === undefined || from === undefined) return;
  tabs.text();
  editor.go(file, from, to);
  showFiles();
}

/** Lights lines in the text; `show` also shows the text where it is a leaf of its own. */
function light(places, show = false) {
  if (show) tabs.text();
  editor.light(places);
  showFiles();
}

const behaves = new Behaves(tabs.leaf("behaves"), job, light);
tabs.listen((name) => (name === "behaves" ? behaves.enter() : behaves.leave()));
const fails = new Fails(tabs.leaf("fails"), job, light);
tabs.listen((name) => name === "fails" && fails.enter());
new Agreed(tabs.leaf("agreed"), job, {
  story(name) {
    fails.ask(name);
    tabs.show("fails", true);
  },
  against(name) {
    tabs.show("behaves", true);
    behaves.watch(name);
  },
  go,
});
new Findings(place("findings"), job, go);
const lessons = new Lessons(tabs.leaf("lessons"), job, light, (name) => tabs.show(name, true));
tabs.listen((name) => name === "lessons" && lessons.enter());
new Papers(tabs.leaf("papers"), job);

function showFiles() {
  const names = Object.keys(job.files);
  refill(
    place("files"),
    names.length > 1
      ? names.map((name) =>
          button(name, () => { editor.show(name); showFiles(); }, { "aria-pressed": String(name === editor.file), "data-key": `file-${name}` }),
        )
      : null,
    button("Lay out", () => wire.send({ kind: "format", version: job.version, file: editor.file }), {
      "data-key": "format", class: "quiet", title: "Lays out this file: comments stay",
    }),
    button("Keep these texts", () => { for (const [name, text] of Object.entries(job.files)) keepAsFile(name, text); }, {
      "data-key": "keep", class: "quiet", title: "Saves the files on this machine",
    }),
  );
}

job.listen((what) => {
  if (what === "loaded") {
    editor.load(job.files, editor.file);
    showFiles();
  }
  if (what === "checked") editor.mark(job.diagnostics);
  if (what === "verdicts" && ["done", "mistakes", "stopped"].includes(job.judging)) editor.mark([...job.diagnostics, ...job.findings.filter((f) => f.from !== undefined)]);
});

let begun = false;
let shared = false;
wire.on("hello", (message) => {
  job.limits = message.limits ?? {};
  editor.know(message);
  if (message.classroom) {
    shared = true;
    wire.tell({ kind: "connection", state: "open" });
  }
  if (begun) {
    job.send();
    return;
  }
  begun = true;
  job.name = message.job;
  place("job").textContent = message.job ?? "";
  document.title = `${message.job} · Duskproof`;
  job.load(message.files ?? {});
});
wire.on("formatted", (message) => {
  if (message.version === job.version && typeof message.text === "string") editor.replace(message.file, message.text);
});
wire.on("connection", ({ state, words }) => {
  const told = {
    opening: begun ? "Connecting again …" : "Connecting …",
    open: shared ? "Shared in the local network: this page is your own, nobody else sees what you write." : "",
    closed: "The connection is gone; it is tried again. What you write stays here.",
    refused: `The server turned this page away. ${words ?? ""} Close another page, or open the address that the terminal shows.`,
  };
  place("connection").textContent = told[state];
  place("connection").className = state === "closed" || state === "refused" ? "gone" : "";
});
wire.open();
