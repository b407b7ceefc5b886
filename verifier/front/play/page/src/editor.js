// The editor. Its styles come as constructed sheets (see build.mjs): the page's content policy allows no
// style elements.

import { defaultKeymap, history, historyKeymap } from "@codemirror/commands";
import { bracketMatching, HighlightStyle, indentUnit, syntaxHighlighting } from "@codemirror/language";
import { forceLinting, lintGutter, setDiagnostics } from "@codemirror/lint";
import { Compartment, EditorState, StateEffect, StateField } from "@codemirror/state";
import {
  Decoration,
  drawSelection,
  EditorView,
  highlightActiveLine,
  highlightActiveLineGutter,
  keymap,
  lineNumbers,
} from "@codemirror/view";
import { tags } from "@lezer/highlight";
import { duskLanguage } from "./words.js";

const light = StateEffect.define();

const lit = StateField.define({
  create: () => Decoration.none,
  update(shown, transaction) {
    let now = shown.map(transaction.changes);
    for (const effect of transaction.effects) {
      if (effect.is(light)) now = decorations(transaction.state, effect.value);
    }
    return now;
  },
  provide: (field) => EditorView.decorations.from(field),
});

function decorations(state, places) {
  const length = state.doc.length;
  const lines = new Set();
  const all = [];
  for (const { from, to } of places) {
    const start = Math.min(Math.max(from, 0), length);
    const end = Math.min(Math.max(to, start), length);
    const line = state.doc.lineAt(start);
    if (!lines.has(line.from)) all.push(Decoration.line({ class: "lit-line" }).range(line.from));
    lines.add(line.from);
    // What goes over several lines is lit in its first one: the rest is its body.
    const stop = Math.min(end, line.to);
    if (stop > start) all.push(Decoration.mark({ class: "lit" }).range(start, stop));
  }
  return Decoration.set(all, true);
}

const colours = HighlightStyle.define([
  { tag: tags.keyword, color: "var(--code-keyword)", fontWeight: "600" },
  { tag: tags.comment, color: "var(--code-comment)", fontStyle: "italic" },
  { tag: tags.string, color: "var(--code-label)" },
  { tag: [tags.number, tags.atom], color: "var(--code-figure)" },
]);

const look = EditorView.theme({
  "&": { height: "100%", backgroundColor: "var(--paper)", color: "var(--ink)", fontSize: "0.95rem" },
  ".cm-scroller": { fontFamily: '"DejaVu Sans Mono", Menlo, Consolas, monospace', lineHeight: "1.5" },
  "&.cm-focused": { outline: "3px solid var(--focus)", outlineOffset: "-3px" },
  ".cm-gutters": { backgroundColor: "var(--wall)", color: "var(--faint)", borderRight: "1px solid var(--line)" },
  ".cm-activeLine": { backgroundColor: "var(--active)" },
  ".cm-activeLineGutter": { backgroundColor: "var(--active)", color: "var(--ink)" },
  "&.cm-focused > .cm-scroller > .cm-selectionLayer .cm-selectionBackground, .cm-selectionBackground": {
    background: "var(--chosen)",
  },
  ".cm-cursor": { borderLeftColor: "var(--ink)", borderLeftWidth: "2px" },
  ".lit-line": { backgroundColor: "var(--lit)", boxShadow: "inset 5px 0 0 var(--lit-edge)" },
  ".lit": { textDecoration: "underline 2px var(--lit-edge)", textUnderlineOffset: "3px" },
  ".cm-tooltip": { backgroundColor: "var(--paper)", color: "var(--ink)", border: "1px solid var(--line)" },
  ".cm-diagnostic": { fontFamily: '"Helvetica Neue", Arial, sans-serif', maxWidth: "36rem" },
});

/** The editor of one job: several files, one of them shown. */
export class Editor {
  constructor(host, changed) {
    this.changed = changed;
    this.states = new Map();
    this.file = "";
    this.language = new Compartment();
    this.words = { keywords: [], values: [] };
    this.view = new EditorView({ parent: host, state: EditorState.create({ doc: "" }) });
  }

  state(file, text) {
    return EditorState.create({
      doc: text,
      extensions: [
        lineNumbers(),
        lintGutter(),
        highlightActiveLine(),
        highlightActiveLineGutter(),
        history(),
        drawSelection(),
        bracketMatching(),
        EditorView.lineWrapping,
        indentUnit.of("  "),
        lit,
        this.language.of(duskLanguage(this.words)),
        syntaxHighlighting(colours),
        look,
        keymap.of([...defaultKeymap, ...historyKeymap]),
        EditorView.contentAttributes.of({ "aria-label": `Text of ${file}`, spellcheck: "false", tabindex: "0" }),
        EditorView.updateListener.of((update) => {
          if (update.docChanged) this.changed(file, update.state.doc.toString());
        }),
      ],
    });
  }

  /** Takes whole new files, and shows one of them. */
  load(files, shown) {
    this.states = new Map(Object.entries(files).map(([file, text]) => [file, this.state(file, text)]));
    this.file = "";
    this.show(this.states.has(shown) ? shown : (this.states.keys().next().value ?? ""));
  }

  show(file) {
    const next = this.states.get(file);
    if (next === undefined || file === this.file) return;
    if (this.file) this.states.set(this.file, this.view.state);
    this.file = file;
    this.view.setState(next);
  }

  /** Takes the words of the language; texts that come later are coloured by them. */
  know({ keywords = [], values = [] }) {
    this.words = { keywords, values };
  }

  /** What the checker found, in the files that it is about. */
  mark(diagnostics) {
    for (const file of this.states.keys()) {
      const state = file === this.file ? this.view.state : this.states.get(file);
      const length = state.doc.length;
      const found = diagnostics
        .filter((d) => d.file === file)
        .map((d) => ({
          from: Math.min(d.from, length),
          to: Math.min(Math.max(d.to, d.from), length),
          severity: d.severity === "note" ? "info" : d.severity,
          message: d.hint ? `${d.message}\n${d.hint}` : d.message,
        }));
      this.apply(file, setDiagnostics(state, found));
    }
    forceLinting(this.view);
  }

  /** Lights what acted; places of other files wait until those are shown. */
  light(places) {
    for (const file of this.states.keys()) {
      this.apply(file, { effects: light.of(places.filter((p) => p.file === file)) });
    }
    const first = places.find((p) => this.states.has(p.file));
    if (first === undefined) return;
    this.show(first.file);
    const at = Math.min(first.from, this.view.state.doc.length);
    this.view.dispatch({ effects: EditorView.scrollIntoView(at, { y: "center" }) });
  }

  apply(file, specification) {
    if (file === this.file) this.view.dispatch(specification);
    else this.states.set(file, this.states.get(file).update(specification).state);
  }

  /** Puts the cursor at a place and goes there. */
  go(file, from, to = from) {
    this.show(file);
    const length = this.view.state.doc.length;
    const selection = { anchor: Math.min(from, length), head: Math.min(to, length) };
    this.view.dispatch({ selection, effects: EditorView.scrollIntoView(selection.anchor, { y: "center" }) });
    this.view.focus();
  }

  /** A new text of one file that keeps the history. */
  replace(file, text) {
    const state = file === this.file ? this.view.state : this.states.get(file);
    if (state === undefined || state.doc.toString() === text) return;
    const changes = { from: 0, to: state.doc.length, insert: text };
    if (file === this.file) this.view.dispatch({ changes });
    else {
      this.states.set(file, state.update({ changes }).state);
      this.changed(file, text);
    }
  }
}

/** The line of a text that a place begins in: its number, its words, and where the place is in it. */
export function lineAt(text, from, to) {
  const start = text.lastIndexOf("\n", from - 1) + 1;
  const found = text.indexOf("\n", from);
  const end = found < 0 ? text.length : found;
  const number = text.slice(0, start).split("\n").length;
  return { number, before: text.slice(start, from), lit: text.slice(from, Math.min(to, end)), after: text.slice(Math.min(to, end), end) };
}
