// The leaves of the page, in the order of the work. Arrow keys go from one to the next.

import { element } from "./dom.js";

const NARROW = "(max-width: 60rem)";

export class Tabs {
  constructor(row, place, names) {
    this.narrow = matchMedia(NARROW);
    this.names = names.map(([name]) => name);
    this.tabs = new Map();
    this.panels = new Map();
    for (const [name, words] of names) {
      const tab = element("button", {
        type: "button", role: "tab", id: `tab-${name}`, "aria-controls": name === "text" ? "write" : `leaf-${name}`,
        onclick: () => this.show(name), onkeydown: (event) => this.key(event, name),
      }, words);
      this.tabs.set(name, tab);
      row.append(tab);
      if (name === "text") continue;
      const panel = element("section", { role: "tabpanel", id: `leaf-${name}`, "aria-labelledby": `tab-${name}`, tabindex: "-1" });
      this.panels.set(name, panel);
      place.append(panel);
    }
    this.listeners = [];
    this.scrolled = new Map();
    this.narrow.addEventListener("change", () => this.show(this.current));
    this.show(this.narrow.matches ? "text" : "agreed");
  }

  leaf(name) {
    return this.panels.get(name);
  }

  listen(heard) {
    this.listeners.push(heard);
  }

  /** Shows a leaf; `enter` puts the focus there. */
  show(name, enter = false) {
    const now = name === "text" && !this.narrow.matches ? "agreed" : name;
    const other = now !== this.current;
    if (other) this.scrolled.set(this.current, scrollY);
    this.current = now;
    document.body.dataset.leaf = now;
    for (const [each, tab] of this.tabs) {
      tab.setAttribute("aria-selected", String(each === now));
      tab.setAttribute("tabindex", each === now ? "0" : "-1");
    }
    for (const [each, panel] of this.panels) panel.hidden = each !== now;
    // Each leaf is found again as far down as one left it.
    if (other) scrollTo(0, this.scrolled.get(now) ?? 0);
    if (enter) {
      const panel = this.panels.get(now) ?? document.getElementById("write");
      panel.focus({ preventScroll: true });
      panel.scrollIntoView({ block: "nearest" });
    }
    for (const heard of this.listeners ?? []) heard(now);
  }

  /** Where the text can be seen: on a narrow page that is a leaf of its own. */
  text() {
    if (this.narrow.matches) this.show("text");
  }

  key(event, name) {
    const shown = this.names.filter((each) => each !== "text" || this.narrow.matches);
    const at = shown.indexOf(name);
    const next = { ArrowRight: at + 1, ArrowLeft: at - 1, Home: 0, End: shown.length - 1 }[event.key];
    if (next === undefined) return;
    event.preventDefault();
    const chosen = shown[(next + shown.length) % shown.length];
    this.show(chosen);
    this.tabs.get(chosen).focus();
  }
}
