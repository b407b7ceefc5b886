// Making and refilling parts of the page. No text is ever read as HTML, no style is set inline.

const SVG = "http://www.w3.org/2000/svg";

/** An element; attributes that begin with `on` are listeners, `true` stands bare, others are text. */
export function element(tag, attributes = {}, ...children) {
  return dressed(document.createElement(tag), attributes, children);
}

/** The same for a part of a drawing. */
export function shape(tag, attributes = {}, ...children) {
  return dressed(document.createElementNS(SVG, tag), attributes, children);
}

function dressed(made, attributes, children) {
  for (const [name, value] of Object.entries(attributes)) {
    if (value === null || value === undefined || value === false) continue;
    if (name.startsWith("on")) made.addEventListener(name.slice(2), value);
    else made.setAttribute(name, value === true ? "" : String(value));
  }
  made.append(...present(children));
  return made;
}

function present(children) {
  return children.flat(Infinity).filter((child) => child !== null && child !== undefined && child !== false);
}

/** A button that does something. */
export function button(words, pressed, attributes = {}) {
  return element("button", { type: "button", onclick: pressed, ...attributes }, words);
}

/**
 * New content for a part of the page. What has the focus keeps it, by its `data-key`; how far
 * something was scrolled stays, too.
 */
export function refill(parent, ...children) {
  const focused = parent.contains(document.activeElement) ? document.activeElement : null;
  const key = focused?.dataset?.key;
  const scrolled = new Map();
  for (const box of parent.querySelectorAll("[data-scroll]")) {
    scrolled.set(box.dataset.scroll, [box.scrollLeft, box.scrollTop]);
  }
  parent.replaceChildren(...present(children));
  for (const box of parent.querySelectorAll("[data-scroll]")) {
    const [left, top] = scrolled.get(box.dataset.scroll) ?? [0, 0];
    box.scrollLeft = left;
    box.scrollTop = top;
  }
  if (key === undefined) return;
  const again = parent.querySelector(`[data-key="${CSS.escape(key)}"]`);
  if (again) again.focus({ preventScroll: true });
  else if (parent.hasAttribute("tabindex")) parent.focus({ preventScroll: true });
}

/** Refills only if `what` (any JSON value) is another than last time. */
export function refillIfNew(parent, what, children) {
  const seen = JSON.stringify(what);
  if (parent.dataset.seen === seen) return;
  refill(parent, ...[children()].flat());
  parent.dataset.seen = seen;
}

let told = null;

/** Has a screen reader say something, once it has said what it is saying. */
export function announce(words) {
  told ??= document.getElementById("told");
  told.textContent = "";
  requestAnimationFrame(() => {
    told.textContent = words;
  });
}

/** Saves a text as a file of the person's own. */
export function keepAsFile(name, text) {
  const address = URL.createObjectURL(new Blob([text], { type: "text/plain" }));
  const link = element("a", { href: address, download: name });
  document.body.append(link);
  link.click();
  link.remove();
  setTimeout(() => URL.revokeObjectURL(address), 10_000);
}
