// Timing lanes: one lane for each subject, instants at equal places of their own, not to scale.
// Height, hatching and words tell what colour tells, so that it can be read in grey.

import { element, shape } from "./dom.js";
import { duration, figure, height } from "./figures.js";

const TOP = 34;
const AXIS = 40;
const CHARACTER = 6.9;

/** On a narrow page each name stands above its line. */
export const narrow = matchMedia("(max-width: 36rem)");

const BESIDE = { label: 168, above: 0, lane: 34, bar: 15, words: 0 };
const ABOVE = { label: 0, above: 15, lane: 49, bar: 27, words: 13 };

/** Where things stand: names beside the lines, or above them. */
function plan() {
  return narrow.matches ? ABOVE : BESIDE;
}

/**
 * The picture in a box that scrolls sideways.
 *
 * `picture` has `instants` ({words, axis}), `lanes` ({label, kind, values, heights?}), `bars`
 * ({lane, from, to, left, what}), `marks` ({lane, instant, letter}), `cycle_from`. `current` is the
 * number of the instant that one looks at, `picked(number)` is told which one was pointed at.
 */
export function lanes(picture, { name, current = null, picked = null } = {}) {
  const set = plan();
  const xs = places(picture, set);
  const tops = [];
  let bottom = TOP;
  picture.lanes.forEach((lane, number) => {
    tops.push(bottom);
    bottom += set.lane + set.bar * (picture.bars ?? []).filter((bar) => bar.lane === number).length;
  });
  const width = Math.round(xs[xs.length - 1] + 20);
  const names = namesOf(picture, tops, bottom, set);
  const drawing = shape(
    "svg",
    { viewBox: `0 0 ${width} ${bottom + AXIS}`, width, height: bottom + AXIS, role: "img", "aria-label": told(picture, name), class: "lanes" },
    guides(picture, xs, bottom, current),
    picture.lanes.map((lane, number) => laneOf(lane, tops[number] + set.above, xs)),
    (picture.bars ?? []).map((bar) => barOf(picture, bar, tops, xs, set)),
    (picture.marks ?? []).map((mark) => markOf(picture, mark, tops, xs, set)),
    picture.cycle_from === null || picture.cycle_from === undefined ? null : cycle(xs[picture.cycle_from], xs[xs.length - 1], bottom),
    picked === null ? null : picture.instants.map((_, k) =>
      shape("rect", { x: xs[k], y: 0, width: xs[k + 1] - xs[k], height: bottom + AXIS, class: "pick", onclick: () => picked(k) }),
    ),
    names,
  );
  // The names stay where they are when the lines are scrolled.
  const stay = (event) => names.setAttribute("transform", `translate(${event.target.scrollLeft} 0)`);
  return element("div", { class: "scroll", "data-scroll": name, tabindex: "0", role: "group", "aria-label": `${name} (scrolls sideways)`, onscroll: stay }, drawing);
}

/** The names of the lanes and of what runs down, to lie over all else. */
function namesOf(picture, tops, bottom, set) {
  return shape(
    "g",
    { class: "names", "pointer-events": "none" },
    set.label ? shape("rect", { x: 0, y: TOP - 10, width: set.label, height: bottom - TOP + 12 }) : null,
    picture.lanes.map((lane, number) => nameOf(lane.label, tops[number], set)),
    set.label
      ? (picture.bars ?? []).map((bar) => shape("text", { x: set.label, y: barTop(picture, bar, tops, set) + set.bar - 6, "text-anchor": "end", class: "small" }, cut(bar.what, set.label - 4)))
      : null,
  );
}

function nameOf(label, top, set) {
  if (set.above) {
    return [
      shape("rect", { x: 11, y: top + 1, width: label.length * CHARACTER, height: 14 }),
      shape("text", { x: 12, y: top + 12, class: "label" }, label),
    ];
  }
  const lines = inTwo(label, Math.floor((set.label - 8) / CHARACTER));
  return [
    shape("path", { d: `M6 ${top + set.lane - 2}H${set.label}`, class: "ground" }),
    lines.map((words, k) => shape("text", { x: 6, y: top + (lines.length > 1 ? 12 + 14 * k : 20), class: "label" }, words, shape("title", {}, label))),
  ];
}

/** A name in one line, or in two where it is long. */
function inTwo(label, most) {
  if (label.length <= most) return [label];
  const words = label.split(" ");
  let first = words.shift();
  while (words.length && `${first} ${words[0]}`.length <= most) first = `${first} ${words.shift()}`;
  return [first, words.join(" ")].filter(Boolean).map((line) => cut(line, most * CHARACTER));
}

/** The picture in words, for those who do not see it. */
function told(picture, name) {
  const instants = picture.instants.map((i, k) => (i.words ? `${k}, ${i.axis}: ${i.words}` : "")).filter(Boolean);
  return `${name}. ${instants.join("; ")}`;
}

/** What happens at each numbered instant, for a picture beside which nothing else tells it. */
export function happenings(picture) {
  const told = picture.instants.map((i, k) => [k, i]).filter(([k, i]) => k > 0 && i.words);
  if (!told.length) return null;
  return element("ol", { class: "happenings small", start: told[0][0] }, told.map(([k, i]) => element("li", { value: k }, `${i.axis}: ${i.words}`)));
}

/** Scrolls so that an instant can be seen. */
export function reveal(box, picture, current) {
  const set = plan();
  const xs = places(picture, set);
  const left = xs[current] - set.label - 20;
  if (xs[current + 1] > box.scrollLeft + box.clientWidth || left < box.scrollLeft) box.scrollLeft = Math.max(0, left);
}

function places(picture, set) {
  const xs = [set.label + 8];
  picture.instants.forEach((instant, k) => {
    let asked = 40;
    picture.lanes.forEach((lane, number) => {
      const word = newWord(lane, k);
      const marks = (picture.marks ?? []).filter((m) => m.lane === number && m.instant === k).length;
      asked = Math.max(asked, word.length * CHARACTER + 16 + 20 * marks);
    });
    asked = Math.max(asked, (instant.axis ?? "").length * 3.6 + 12);
    xs.push(xs[xs.length - 1] + asked);
  });
  return set.above ? spread(xs) : xs;
}

/** A short story takes the width that a narrow page has. */
function spread(xs) {
  const free = Math.min(innerWidth, 480) - 48 - xs.at(-1);
  const each = Math.min(60, Math.max(0, free / (xs.length - 1)));
  return xs.map((x, k) => x + each * k);
}

function newWord(lane, k) {
  return k === 0 || lane.values[k] !== lane.values[k - 1] ? String(lane.values[k]) : "";
}

function guides(picture, xs, bottom, current) {
  const broken = picture.lanes.some((lane) => lane.kind === "claim" && String(lane.values.at(-1)).startsWith("broken"));
  return picture.instants.flatMap((instant, k) => {
    const last = broken && k === picture.instants.length - 1;
    const parts = [];
    if (k === current) {
      parts.push(shape("rect", { x: xs[k], y: 4, width: xs[k + 1] - xs[k], height: bottom - 4, class: "now" }));
    }
    parts.push(shape("path", { d: `M${xs[k]} ${TOP - 8}V${bottom}`, class: last ? "guide broken" : "guide" }));
    parts.push(
      shape("circle", { cx: xs[k] + 10, cy: 16, r: 10, class: k === current ? "ring now" : "ring" }),
      shape("text", { x: xs[k] + 10, y: 20, "text-anchor": "middle", class: k === current ? "number now" : "number" }, String(k)),
      shape("text", { x: xs[k], y: bottom + (k % 2 ? 30 : 15), "text-anchor": "start", class: "axis" }, instant.axis ?? ""),
    );
    return parts;
  });
}

function laneOf(lane, top, xs) {
  const high = top + 6;
  const low = top + BESIDE.lane - 8;
  const parts = [
    shape("path", { d: `M6 ${top + BESIDE.lane - 2}H${xs[xs.length - 1]}`, class: "ground" }),
  ];
  let line = "";
  lane.values.forEach((raw, k) => {
    const value = String(raw);
    const [left, right] = [xs[k], xs[k + 1]];
    if (lane.kind === "claim") {
      // What stays as it is, is one stretch with its word once.
      if (k > 0 && value === String(lane.values[k - 1])) return;
      let last = k;
      while (last + 1 < lane.values.length && String(lane.values[last + 1]) === value) last += 1;
      parts.push(...claimed(value, left, xs[last + 1], high, low));
      return;
    }
    const up = lane.heights ? exactly(lane.heights[k]) : height(value);
    if (up === null || up === undefined) {
      parts.push(shape("rect", { x: left, y: high, width: right - left, height: low - high, class: `stretch ${lane.kind}` }));
      return;
    }
    const y = low - up * (low - high);
    if (up > 0) {
      parts.push(shape("rect", { x: left, y, width: right - left, height: low - y, class: `area ${lane.kind}` }));
      if (lane.kind === "rule") parts.push(hatched(left, y, right, low, 7, "hatch"));
    }
    line += `${line ? "L" : "M"}${left} ${y}H${right}`;
  });
  if (line) parts.push(shape("path", { d: line, class: `edge ${lane.kind}` }));
  lane.values.forEach((_, k) => {
    const word = newWord(lane, k);
    if (word && lane.kind !== "claim") parts.push(wordAt(word, xs[k] + 5, top + 21));
  });
  return shape("g", {}, parts);
}

function exactly(height) {
  return height === null ? null : figure(height);
}

function claimed(value, left, right, high, low) {
  if (!value) return [shape("path", { d: `M${left} ${(high + low) / 2}H${right}`, class: "silent" })];
  const broken = value.startsWith("broken");
  const parts = [shape("rect", { x: left, y: high, width: right - left, height: low - high, class: broken ? "claim broken" : "claim" })];
  if (broken) parts.push(hatched(left, high, right, low, 8, "hatch broken"));
  return [...parts, wordAt(value, left + 5, high + 15)];
}

function hatched(left, top, right, bottom, gap, name) {
  const tall = bottom - top;
  let strokes = "";
  for (let x = left - tall + gap; x < right; x += gap) {
    const [begin, end] = [Math.max(x, left), Math.min(x + tall, right)];
    strokes += `M${begin} ${bottom - (begin - x)}L${end} ${bottom - (end - x)}`;
  }
  return shape("path", { d: strokes, class: name });
}

function wordAt(word, x, y) {
  return shape(
    "g",
    {},
    shape("rect", { x: x - 2, y: y - 11, width: word.length * CHARACTER + 4, height: 14, rx: 2, class: "plate" }),
    shape("text", { x, y, class: "value" }, word),
  );
}

function cut(text, room) {
  const most = Math.floor(room / CHARACTER);
  return text.length <= most ? text : `${text.slice(0, most - 1)}…`;
}

function barTop(picture, bar, tops, set) {
  const before = picture.bars.slice(0, picture.bars.indexOf(bar)).filter((other) => other.lane === bar.lane).length;
  return tops[bar.lane] + set.lane + set.bar * before - 3;
}

function barOf(picture, bar, tops, xs, set) {
  const begin = barTop(picture, bar, tops, set);
  const top = begin + set.words;
  const full = BESIDE.bar - 6;
  const under = top + full;
  return shape(
    "g",
    {},
    shape("path", { d: `M${xs[bar.from]} ${top}L${xs[bar.to]} ${under - full * bar.left}V${under}H${xs[bar.from]}Z`, class: "bar" }),
    set.words ? shape("text", { x: xs[bar.from], y: begin + 11, class: "small" }, bar.what) : null,
  );
}

function markOf(picture, mark, tops, xs, set) {
  const others = picture.marks.filter((m) => m.lane === mark.lane && m.instant === mark.instant);
  const x = xs[mark.instant + 1] - 11 - 20 * (others.length - 1 - others.indexOf(mark));
  const y = tops[mark.lane] + set.above + 16;
  return shape("g", {}, shape("circle", { cx: x, cy: y, r: 8.5, class: "mark" }), shape("text", { x, y: y + 4, "text-anchor": "middle", class: "letter" }, mark.letter));
}

function cycle(left, right, bottom) {
  return shape(
    "g",
    {},
    shape("path", { d: `M${left} ${bottom + 2}v4H${right}v-4`, class: "guide" }),
    shape("text", { x: right, y: bottom + 36, "text-anchor": "end", class: "small" }, "… and so on, for ever"),
  );
}

/**
 * A picture of what happened: an instant for the start and for each of the last moments ({at_s,
 * clock, what, changes: [{name, value}]}), a lane for each of what changed.
 */
export function soFar(all, moments, most = 14) {
  const skipped = Math.max(0, moments.length - most);
  const values = new Map(all.map((lane) => [lane.name, [lane.first]]));
  const changed = new Set();
  moments.forEach((moment) => {
    for (const { name, value } of moment.changes) {
      changed.add(name);
      if (values.has(name)) values.get(name).push(value);
    }
    for (const each of values.values()) if (each.length < moment.number + 1) each.push(each.at(-1));
  });
  const instants = [{ axis: "0 s", words: "" }, ...moments.map((m) => ({ axis: m.clock || duration(m.at_s), words: m.what }))];
  return {
    instants: instants.slice(skipped),
    lanes: all
      .filter((lane) => changed.has(lane.name))
      .map((lane) => ({ label: lane.label, kind: lane.kind, values: values.get(lane.name).slice(skipped) })),
  };
}
