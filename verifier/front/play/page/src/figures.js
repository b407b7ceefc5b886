// Figures in words: the tool sends exact ones ("62", "2.5", "20/3"), people read rounded ones.

/** The number that an exact figure stands for. */
export function figure(exact) {
  if (typeof exact === "number") return exact;
  const [above, below] = String(exact).split("/");
  return below === undefined ? Number(above) : Number(above) / Number(below);
}

function rounded(value) {
  return String(Math.round(value * 1000) / 1000);
}

/** A duration as the language writes one: "1 min 2 s". */
export function duration(exact) {
  const seconds = figure(exact);
  if (!Number.isFinite(seconds)) return "for ever";
  if (seconds < 0) return `-${duration(-seconds)}`;
  const whole = Math.round(seconds * 1000) / 1000;
  const hours = Math.floor(whole / 3600);
  const minutes = Math.floor((whole - hours * 3600) / 60);
  const rest = whole - hours * 3600 - minutes * 60;
  const parts = [];
  if (hours) parts.push(`${hours} h`);
  if (minutes) parts.push(`${minutes} min`);
  if (rest > 0.0005 && rest < 1) parts.push(`${rounded(rest * 1000)} ms`);
  else if (rest >= 1 || parts.length === 0) parts.push(`${rounded(rest)} s`);
  return parts.join(" ");
}

/** A duration that runs down or grows while one looks: to a tenth of a second. */
export function passing(exact) {
  return duration(Math.round(figure(exact) * 10) / 10);
}

/** A moment of a run: "at 1 min 2 s", "just after 1 min". */
export function moment(exact, justAfter = false) {
  return `${justAfter ? "just after" : "at"} ${duration(exact)}`;
}

/** "1 line", "2 lines". */
export function counted(count, noun, many = `${noun}s`) {
  return `${count} ${count === 1 ? noun : many}`;
}

/** How high a value stands in its lane: 0 at rest, 1 at most; null if it has no height. */
export function height(value) {
  const level = /^about (-?[\d.]+) %|^(-?[\d.]+) %/.exec(value);
  if (level) return Math.max(0, Math.min(1, Number(level[1] ?? level[2]) / 100));
  if (LOW.has(value)) return 0;
  if (HIGH.has(value)) return 1;
  return null;
}

const LOW = new Set(["off", "shut", "clear", "vacant", "bright", "no", "idle", "day", "empty", "lowered"]);
const HIGH = new Set([
  "on", "open", "reached", "occupied", "dark", "yes", "running", "night", "peopled", "raised", "pressed",
]);
