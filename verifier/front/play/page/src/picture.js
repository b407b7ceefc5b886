// The room as a picture: what is fitted, in rows; lamps at the ceiling, what sees and what is pressed
// on the wall, doors and people on the floor, the sun outside. Under each thing stands one plate with
// its label and how it is. By day the room is bright, by night dark, and lit lamps light it up.

import { shape } from "./dom.js";

const EDGE = 16;
const SKY = { seen: 78, bare: 26 };
const GAP = 14;
const FAMILY = '"Helvetica Neue", Arial, "Liberation Sans", sans-serif';

/** Rows of the picture: which kinds, and how tall their drawings are. */
const ROWS = [
  { kinds: ["lamp", "dimmer", "load"], tall: 68 },
  { kinds: ["detector", "photocell", "button", "switch", "limit", "flag"], tall: 66 },
  { kinds: ["door", "contact", "room"], tall: 96 },
];

/**
 * The picture of the things (see `room.js`), so many pixels wide. `pressable` are the names of what
 * can be pressed on, `pressed(name)` is told.
 */
export function picture(things, wide, { pressable = [], pressed = null } = {}) {
  const size = wide < 500 ? 13 : 14;
  const cell = wide < 500 ? 108 : 94;
  const most = Math.max(2, Math.floor((wide - 2 * EDGE) / cell));
  const night = things.some((t) => t.kind === "sun" && t.value === "night");
  const type = { size, press: (name) => (pressable.includes(name) && pressed ? () => pressed(name) : null) };
  const above = things.some((t) => ["sun", "power"].includes(t.kind)) ? SKY.seen : SKY.bare;
  const rows = [];
  let top = above;
  for (const { kinds, tall } of ROWS) {
    for (const row of evenly(things.filter((t) => kinds.includes(t.kind)), most)) {
      const free = (wide - 2 * EDGE) / row.length;
      const plates = row.map((thing) => plateOf(thing, Math.min(free - 6, 168), size));
      rows.push({ row, free, plates, top, tall });
      top += tall + Math.max(...plates.map((p) => p.height)) + GAP;
    }
  }
  const height = top + 14;
  const lamps = things.filter((t) => t.level !== null && t.kind !== "door" && t.kind !== "load");
  const bright = lamps.length ? lamps.reduce((sum, t) => sum + t.level, 0) / lamps.length : 0;
  const box = { x: 8, y: above - 12, width: wide - 16, height: height - above + 4 };
  return shape(
    "svg",
    { viewBox: `0 0 ${wide} ${height}`, class: night ? "room night" : "room", role: "img", "aria-label": inWords(things), "font-size": size },
    sky(things, wide, above, night, type),
    shape("rect", { ...box, class: "wall" }),
    shape("rect", { ...box, class: "light", "fill-opacity": (bright * 0.4).toFixed(2) }),
    shape("rect", { x: box.x, y: height - 18, width: box.width, height: 10, class: "floor" }),
    rows.map(({ row, free, plates, top: y, tall }) => row.map((thing, k) => cellOf(thing, plates[k], EDGE + free * (k + 0.5), y, tall, free, type))),
  );
}

/** As few rows as it takes, each about as long as the others. */
function evenly(all, most) {
  const count = Math.ceil(all.length / most);
  const found = [];
  for (let k = 0, from = 0; k < count; k += 1) {
    const size = Math.ceil((all.length - from) / (count - k));
    found.push(all.slice(from, from + size));
    from += size;
  }
  return found;
}

/** The picture in words. */
function inWords(things) {
  return `The room: ${things.map((t) => `${t.label} ${t.words}`.trim()).join(", ")}.`;
}

// ---------------------------------------------------------------- words

let measure = null;

/** How wide words are drawn. */
function widthOf(words, size, strong = false) {
  measure ??= document.createElement("canvas").getContext("2d");
  measure.font = `${strong ? "bold " : ""}${size}px ${FAMILY}`;
  return measure.measureText(words).width;
}

/** Words in lines that are not wider than the room there is; three at most. */
export function inLines(words, room, size, strong = false) {
  const lines = [];
  for (const word of String(words).split(" ")) {
    const longer = lines.length ? `${lines.at(-1)} ${word}` : word;
    if (lines.length && widthOf(longer, size, strong) <= room) lines[lines.length - 1] = longer;
    else lines.push(word);
  }
  const shown = lines.slice(0, 3);
  if (lines.length > 3) shown[2] = `${shown[2]} …`;
  return shown.map((line) => cut(line, room, size, strong));
}

function cut(line, room, size, strong) {
  if (widthOf(line, size, strong) <= room) return line;
  let most = line.length - 1;
  while (most > 1 && widthOf(`${line.slice(0, most)}…`, size, strong) > room) most -= 1;
  return `${line.slice(0, most)}…`;
}

/** One plate: the label's lines, and how the thing is. */
function plateOf(thing, room, size) {
  const inside = room - 10;
  const lines = inLines(thing.label, inside, size).map((words) => ({ words, strong: false }));
  if (thing.words) lines.push(...inLines(thing.words, inside, size, true).map((words) => ({ words, strong: true })));
  const width = Math.max(...lines.map(({ words, strong }) => widthOf(words, size, strong))) + 10;
  return { lines, width, height: lines.length * (size + 3) + 7, size };
}

function drawPlate({ lines, width, height, size }, x, y) {
  return [
    shape("rect", { x: x - width / 2, y, width, height, rx: 3, class: "plate" }),
    lines.map(({ words, strong }, k) =>
      shape("text", { x, y: y + 1 + (k + 1) * (size + 3) - 2, "text-anchor": "middle", "font-weight": strong ? "bold" : null }, words),
    ),
  ];
}

// ---------------------------------------------------------------- what is drawn

function sky(things, wide, tall, night, type) {
  const sun = things.find((t) => t.kind === "sun");
  const parts = [shape("rect", { x: 0, y: 0, width: wide, height: tall, class: night ? "sky dark" : "sky" })];
  if (night) for (const [x, y] of [[0.3, 14], [0.42, 40], [0.55, 20], [0.66, 46]]) parts.push(shape("circle", { cx: wide * x, cy: y, r: 1.5, class: "moon" }));
  if (sun) {
    const plate = plateOf({ label: "It is", words: night ? "night" : "day" }, 90, type.size);
    parts.push(
      night
        ? shape("path", { d: `M${wide - 44} 12a20 20 0 1 0 16 33a17 17 0 0 1 -16 -33Z`, class: "moon" })
        : shape("circle", { cx: wide - 40, cy: 32, r: 19, class: "sun" }),
      drawPlate(plate, wide - 112, 12),
      pick(wide - 150, 2, 146, tall - 18, sun, type),
    );
  }
  const power = things.find((t) => t.kind === "power");
  if (power) {
    const plate = plateOf({ label: "Power", words: power.words }, 140, type.size);
    parts.push(drawPlate(plate, EDGE + plate.width / 2, 12), pick(EDGE, 2, plate.width, tall - 18, power, type));
  }
  return shape("g", {}, parts);
}

function pick(x, y, width, height, thing, type) {
  const press = type.press(thing.name);
  if (press === null) return null;
  return shape("rect", { x, y, width, height, rx: 4, class: "press", "data-thing": thing.name, onclick: press }, shape("title", {}, thing.label));
}

function cellOf(thing, plate, x, y, tall, free, type) {
  const draw = DRAWN[thing.kind] ?? DRAWN.switch;
  return shape(
    "g",
    {},
    draw(thing, x, y),
    drawPlate(plate, x, y + tall),
    pick(x - free / 2 + 3, y - 2, free - 6, tall + plate.height + 4, thing, type),
  );
}

const DRAWN = {
  lamp: (thing, x, y) => {
    const level = thing.level ?? 0;
    const parts = [
      level > 0
        ? shape("path", { d: `M${x - 10} ${y + 26}L${x - 50} ${y + 68}H${x + 50}L${x + 10} ${y + 26}Z`, class: "light", "fill-opacity": (0.25 + level * 0.5).toFixed(2) })
        : null,
      shape("path", { d: `M${x} ${y - 12}V${y + 8}`, class: "cord" }),
      shape("circle", { cx: x, cy: y + 24, r: 17, class: level > 0 ? "bulb lit" : "bulb", "fill-opacity": level > 0 ? (0.45 + 0.55 * level).toFixed(2) : null }),
    ];
    if (level > 0) {
      for (const [dx, dy] of [[-27, -6], [27, -6], [-29, 8], [29, 8], [-18, 22], [18, 22]]) {
        const far = 0.2 + 0.3 * level;
        parts.push(shape("path", { d: `M${x + dx} ${y + 24 + dy}l${dx * far} ${dy * far}`, class: "ray" }));
      }
    }
    return parts;
  },
  load: (thing, x, y) => [
    shape("circle", { cx: x, cy: y + 32, r: 26, class: thing.value === "on" ? "device on" : "device" }),
    ...[0, 120, 240].map((turn) =>
      shape("path", { d: `M${x} ${y + 32}c5 -10 14 -14 9 -22c-7 -2 -11 10 -9 22Z`, class: "drawn", transform: `rotate(${turn + (thing.value === "on" ? 40 : 0)} ${x} ${y + 32})` }),
    ),
    thing.value === "on"
      ? shape("path", { d: `M${x + 30} ${y + 16}q8 4 0 10M${x + 32} ${y + 36}q8 4 0 10M${x - 30} ${y + 16}q-8 4 0 10M${x - 32} ${y + 36}q-8 4 0 10`, class: "drawn" })
      : null,
  ],
  detector: (thing, x, y) => {
    const seeing = thing.value === "occupied";
    return [
      shape("path", { d: `M${x} ${y + 10}L${x - 46} ${y + 64}H${x + 46}Z`, class: seeing ? "view seeing" : "view" }),
      shape("path", { d: `M${x - 18} ${y}h36a18 18 0 0 1 -36 0Z`, class: seeing ? "eye seeing" : "eye" }),
      seeing ? person(x, y + 24, 0.88) : null,
    ];
  },
  photocell: (thing, x, y) => [
    shape("path", { d: `M${x - 20} ${y + 58}a20 20 0 0 1 40 0Z`, class: "device" }),
    thing.value === "dark"
      ? shape("path", { d: `M${x - 4} ${y + 6}a12 12 0 1 0 10 19a10 10 0 0 1 -10 -19Z`, class: "moon" })
      : shape("circle", { cx: x, cy: y + 18, r: 11, class: "sun" }),
  ],
  button: (thing, x, y) => [
    shape("rect", { x: x - 22, y: y + 8, width: 44, height: 50, rx: 6, class: "device" }),
    shape("circle", { cx: x, cy: y + 33, r: 13, class: "device on" }),
  ],
  switch: (thing, x, y) => {
    const on = thing.value === "on";
    return [
      shape("rect", { x: x - 20, y: y + 4, width: 40, height: 56, rx: 6, class: "device" }),
      shape("rect", { x: x - 11, y: on ? y + 10 : y + 32, width: 22, height: 22, rx: 3, class: on ? "device on" : "device" }),
    ];
  },
  limit: (thing, x, y) => {
    const reached = thing.value === "reached";
    return [
      shape("rect", { x: x - 24, y: y + 30, width: 48, height: 28, rx: 3, class: reached ? "device on" : "device" }),
      shape("path", { d: reached ? `M${x - 15} ${y + 26}H${x + 24}` : `M${x - 15} ${y + 26}L${x + 20} ${y + 6}`, class: "cord" }),
    ];
  },
  flag: (thing, x, y) => [
    shape("path", { d: `M${x - 16} ${y + 62}V${y + 4}`, class: "cord" }),
    thing.value === "yes"
      ? shape("path", { d: `M${x - 16} ${y + 6}h38l-9 12l9 12h-38Z`, class: "device on" })
      : shape("path", { d: `M${x - 16} ${y + 36}h38l-9 11l9 11h-38Z`, class: "device" }),
  ],
  door: (thing, x, y) => {
    const raised = thing.level ?? (thing.value === "raised" ? 1 : 0);
    const tall = 82;
    const shut = tall * (1 - raised);
    const slats = [];
    for (let up = shut; up > 0; up -= 10) slats.push(shape("path", { d: `M${x - 46} ${y + 4 + up}h92`, class: "slat" }));
    return [
      shape("rect", { x: x - 46, y: y + 4, width: 92, height: tall, class: "hole" }),
      shut > 0 ? shape("rect", { x: x - 46, y: y + 4, width: 92, height: shut, class: "leaf" }) : null,
      ...slats,
      arrow(thing, x, y + 4 + tall / 2),
    ];
  },
  contact: (thing, x, y) => {
    const open = thing.value === "open";
    return [
      shape("rect", { x: x - 26, y: y + 4, width: 52, height: 84, class: "hole" }),
      open
        ? shape("path", { d: `M${x - 26} ${y + 4}L${x - 50} ${y + 12}V${y + 94}L${x - 26} ${y + 88}Z`, class: "leaf" })
        : shape("rect", { x: x - 26, y: y + 4, width: 52, height: 84, class: "leaf" }),
      shape("circle", { cx: open ? x - 44 : x + 18, cy: y + 50, r: 4, class: "knob" }),
    ];
  },
  room: (thing, x, y) =>
    thing.value === "peopled"
      ? [person(x - 20, y + 14, 1.5), person(x + 22, y + 22, 1.3)]
      : [
          shape("path", { d: `M${x - 42} ${y + 88}h84`, class: "drawn", "stroke-dasharray": "5 5" }),
          shape("path", { d: `M${x - 16} ${y + 86}V${y + 54}h32v32M${x - 22} ${y + 66}h44M${x - 16} ${y + 54}V${y + 34}`, class: "drawn" }),
        ],
};
DRAWN.dimmer = DRAWN.lamp;

/** Which way a door is going. */
function arrow(thing, x, y) {
  if (thing.value !== "moving") return null;
  const up = /\bup\b/.test(thing.words);
  const down = /\bdown\b/.test(thing.words);
  if (up === down) return null;
  const way = up ? -1 : 1;
  return [
    shape("circle", { cx: x, cy: y, r: 20, class: "way-ground" }),
    shape("path", { d: `M${x} ${y + 13 * way}l-11 ${-12 * way}h7v${-13 * way}h8v${13 * way}h7Z`, class: "way" }),
  ];
}

function person(x, y, size) {
  return shape(
    "g",
    { transform: `translate(${x} ${y}) scale(${size})` },
    shape("circle", { cx: 0, cy: 7, r: 8, class: "person" }),
    shape("path", { d: "M-11 46V27a11 11 0 0 1 22 0V46Z", class: "person" }),
  );
}
