// The room as a picture: what is fitted, in rows; lamps at the ceiling, what sees and what is pressed
// on the wall, doors and people on the floor, the sun outside. Words stand at everything.

import { shape } from "./dom.js";

const CELL = 112;
const TALL = 112;
const EDGE = 22;
const SKY = 74;

const ROWS = [
  ["lamp", "dimmer", "load"],
  ["detector", "photocell", "button", "switch", "limit", "flag"],
  ["door", "contact", "room"],
];

/** The picture of the things (see `room.js`), in so many columns. */
export function picture(things, columns) {
  const rows = ROWS.flatMap((kinds) => chunks(things.filter((t) => kinds.includes(t.kind)), columns));
  const width = columns * CELL + 2 * EDGE;
  const height = SKY + Math.max(1, rows.length) * TALL + 30;
  const lamps = things.filter((t) => t.level !== null && t.kind !== "door" && t.kind !== "load");
  const bright = lamps.length ? lamps.reduce((sum, t) => sum + t.level, 0) / lamps.length : 0;
  const box = { x: EDGE / 2, y: SKY - 14, width: width - EDGE, height: height - SKY };
  return shape(
    "svg",
    { viewBox: `0 0 ${width} ${height}`, class: "room", role: "img", "aria-label": inWords(things) },
    sky(things, width),
    shape("rect", { ...box, class: "wall" }),
    shape("rect", { ...box, class: "light", "fill-opacity": (bright * 0.4).toFixed(2) }),
    shape("rect", { x: box.x, y: height - 26, width: box.width, height: 12, class: "floor" }),
    rows.map((row, r) => {
      const free = (width - 2 * EDGE) / row.length;
      return row.map((thing, k) => cell(thing, EDGE + free * (k + 0.5), SKY + r * TALL, Math.min(free, CELL * 1.6)));
    }),
  );
}

function chunks(all, size) {
  const found = [];
  for (let k = 0; k < all.length; k += size) found.push(all.slice(k, k + size));
  return found;
}

/** The picture in words. */
function inWords(things) {
  return `The room: ${things.map((t) => `${t.label} ${t.words}`).join(", ")}.`;
}

function sky(things, width) {
  const sun = things.find((t) => t.kind === "sun");
  const night = sun?.value === "night";
  const parts = [shape("rect", { x: 0, y: 0, width, height: SKY, class: night ? "sky dark" : "sky" })];
  if (sun) {
    parts.push(
      night
        ? shape("path", { d: `M${width - 60} 10a18 18 0 1 0 14 30a15 15 0 0 1 -14 -30Z`, class: "moon" })
        : shape("circle", { cx: width - 52, cy: 28, r: 17, class: "sun" }),
      ...plate(night ? "night" : "day", width - 100, 32, 60, "end"),
    );
  }
  const power = things.find((t) => t.kind === "power");
  if (power) parts.push(...plate(`power ${power.words}`, EDGE, 32, 200, "start"));
  return shape("g", {}, parts);
}

function cell(thing, x, y, room) {
  const draw = DRAWN[thing.kind] ?? DRAWN.switch;
  return shape(
    "g",
    {},
    draw(thing, x, y),
    twoLines(thing.label, room - 6).map((words, k, all) => plate(words, x, y + (all.length > 1 ? 66 + 15 * k : 74), room - 6, "middle")),
    thing.words ? plate(thing.words, x, y + 96, room - 6, "middle", true) : null,
  );
}

/** A label in one line, or in two where it is long. */
function twoLines(label, room) {
  const most = Math.floor(room / 6.9);
  if (label.length <= most) return [label];
  const words = label.split(" ");
  let first = words.shift();
  while (words.length && `${first} ${words[0]}`.length <= most) first = `${first} ${words.shift()}`;
  return words.length ? [first, words.join(" ")] : [first];
}

function plate(words, x, y, room, anchor, strong = false) {
  const most = Math.max(3, Math.floor(room / 6.9));
  const shown = words.length <= most ? words : `${words.slice(0, most - 1)}…`;
  const width = shown.length * 6.9 + 8;
  const left = anchor === "middle" ? x - width / 2 : anchor === "end" ? x - width + 4 : x - 4;
  return [
    shape("rect", { x: left, y: y - 12, width, height: 16, rx: 2, class: "plate" }),
    shape("text", { x, y, "text-anchor": anchor, "font-weight": strong ? "bold" : null }, shown),
  ];
}

const DRAWN = {
  lamp: (thing, x, y) => {
    const level = thing.level ?? 0;
    const parts = [
      level > 0
        ? shape("path", { d: `M${x - 9} ${y + 28}L${x - 44} ${y + 96}H${x + 44}L${x + 9} ${y + 28}Z`, class: "light", "fill-opacity": (0.2 + level * 0.5).toFixed(2) })
        : null,
      shape("path", { d: `M${x} ${y - 14}V${y + 8}`, class: "cord" }),
      shape("circle", { cx: x, cy: y + 22, r: 15, class: level > 0 ? "bulb lit" : "bulb" }),
    ];
    if (level > 0) {
      for (const [dx, dy] of [[-24, -4], [24, -4], [-25, 10], [25, 10], [-15, 22], [15, 22]]) {
        const far = 0.35 * level;
        parts.push(shape("path", { d: `M${x + dx} ${y + 22 + dy}l${dx * far} ${dy * far}`, class: "ray" }));
      }
    }
    return parts;
  },
  load: (thing, x, y) => [
    shape("circle", { cx: x, cy: y + 26, r: 22, class: thing.value === "on" ? "device on" : "device" }),
    ...[0, 120, 240].map((turn) =>
      shape("path", { d: `M${x} ${y + 26}c4 -8 12 -12 8 -18c-6 -2 -10 8 -8 18Z`, class: "cord", fill: "none", transform: `rotate(${turn} ${x} ${y + 26})` }),
    ),
  ],
  detector: (thing, x, y) => {
    const seeing = thing.value === "occupied";
    return [
      seeing ? shape("path", { d: `M${x} ${y + 16}L${x - 46} ${y + 60}H${x + 46}Z`, class: "view" }) : null,
      shape("path", { d: `M${x - 17} ${y + 4}h34a17 17 0 0 1 -34 0Z`, class: seeing ? "eye seeing" : "eye" }),
      seeing ? person(x, y + 22, 0.75) : null,
    ];
  },
  photocell: (thing, x, y) => [
    shape("path", { d: `M${x - 18} ${y + 46}a18 18 0 0 1 36 0Z`, class: "device" }),
    thing.value === "dark"
      ? shape("path", { d: `M${x - 4} ${y + 2}a10 10 0 1 0 9 16a8 8 0 0 1 -9 -16Z`, class: "moon" })
      : shape("circle", { cx: x, cy: y + 12, r: 9, class: "sun" }),
  ],
  button: (thing, x, y) => [
    shape("rect", { x: x - 20, y: y + 6, width: 40, height: 44, rx: 5, class: "device" }),
    shape("circle", { cx: x, cy: y + 28, r: 11, class: "device on" }),
  ],
  switch: (thing, x, y) => {
    const on = thing.value === "on";
    return [
      shape("rect", { x: x - 18, y: y + 4, width: 36, height: 48, rx: 5, class: "device" }),
      shape("rect", { x: x - 9, y: on ? y + 10 : y + 28, width: 18, height: 18, rx: 2, class: on ? "device on" : "device" }),
    ];
  },
  limit: (thing, x, y) => {
    const reached = thing.value === "reached";
    return [
      shape("rect", { x: x - 22, y: y + 22, width: 44, height: 26, rx: 3, class: reached ? "device on" : "device" }),
      shape("path", { d: reached ? `M${x - 14} ${y + 19}H${x + 20}` : `M${x - 14} ${y + 19}L${x + 18} ${y + 4}`, class: "cord" }),
    ];
  },
  flag: (thing, x, y) => [
    shape("path", { d: `M${x - 14} ${y + 54}V${y + 4}`, class: "cord" }),
    thing.value === "yes"
      ? shape("path", { d: `M${x - 14} ${y + 6}h34l-8 11l8 11h-34Z`, class: "device on" })
      : shape("path", { d: `M${x - 14} ${y + 32}h34l-8 9l8 9h-34Z`, class: "device" }),
  ],
  door: (thing, x, y) => {
    const shut = 58 * (1 - (thing.level ?? (thing.value === "raised" ? 1 : 0)));
    const slats = [];
    for (let down = shut; down > 0; down -= 8) slats.push(shape("path", { d: `M${x - 34} ${y + 2 + down}h68`, class: "cord" }));
    return [
      shape("rect", { x: x - 34, y: y + 2, width: 68, height: 58, class: "hole" }),
      shut > 0 ? shape("rect", { x: x - 34, y: y + 2, width: 68, height: shut, class: "leaf" }) : null,
      ...slats,
    ];
  },
  contact: (thing, x, y) => {
    const open = thing.value === "open";
    return [
      shape("rect", { x: x - 20, y: y + 2, width: 40, height: 58, class: "hole" }),
      open
        ? shape("path", { d: `M${x - 20} ${y + 2}L${x - 36} ${y + 10}V${y + 66}L${x - 20} ${y + 60}Z`, class: "leaf" })
        : shape("rect", { x: x - 20, y: y + 2, width: 40, height: 58, class: "leaf" }),
      shape("circle", { cx: open ? x - 31 : x + 13, cy: y + 34, r: 3, class: "cord" }),
    ];
  },
  room: (thing, x, y) =>
    thing.value === "peopled"
      ? [person(x - 14, y + 6, 1), person(x + 16, y + 10, 0.9)]
      : shape("path", { d: `M${x - 30} ${y + 58}h60`, class: "cord", "stroke-dasharray": "4 4" }),
};
DRAWN.dimmer = DRAWN.lamp;

function person(x, y, size) {
  return shape(
    "g",
    { transform: `translate(${x} ${y}) scale(${size})` },
    shape("circle", { cx: 0, cy: 7, r: 8, class: "person" }),
    shape("path", { d: "M-11 46V27a11 11 0 0 1 22 0V46Z", class: "person" }),
  );
}
