// How far a learner has come. It stays in this browser, and is exported and taken in as a file; the
// terminal reads the same text. What was right once stays so.

const KEY = "duskproof-progress";
const KIND = "duskproof progress, 1";
const LONGEST = 1_000_000;

export class Progress {
  constructor() {
    this.lessons = {};
    try {
      this.take(localStorage.getItem(KEY) ?? "");
    } catch {
      // nothing was kept, or nothing can be: then it lasts as long as the page
    }
  }

  of(name) {
    return Object.hasOwn(this.lessons, name) ? this.lessons[name] : { read: false, answers: {}, challenge: "" };
  }

  read(name) {
    this.put(name, { ...this.of(name), read: true });
  }

  answered(name, number, right) {
    const before = this.of(name);
    const came = right || before.answers[number] === "right" ? "right" : "wrong";
    this.put(name, { ...before, answers: { ...before.answers, [number]: came } });
  }

  challenged(name, passed) {
    const before = this.of(name);
    this.put(name, { ...before, challenge: passed || before.challenge === "passed" ? "passed" : "tried" });
  }

  put(name, now) {
    // Another page of this browser may have got further meanwhile.
    this.lessons = together(kept(), { ...this.lessons, [name]: now });
    this.kept();
  }

  text() {
    return `${JSON.stringify({ kind: KIND, lessons: this.lessons }, null, 1)}\n`;
  }

  /** Takes in a text. Throws an error that says what is wrong with it. */
  take(text) {
    if (text.length > LONGEST) throw new Error("the file is too long");
    this.lessons = lessonsOf(text);
    this.kept();
  }

  kept() {
    try {
      localStorage.setItem(KEY, this.text());
    } catch {
      // it lasts as long as the page
    }
  }
}

/** The lessons of a text. Throws an error that says what is wrong with it. */
function lessonsOf(text) {
  const whole = JSON.parse(text);
  if (whole?.kind !== KIND || typeof whole.lessons !== "object" || whole.lessons === null) {
    throw new Error("the file holds no progress of lessons");
  }
  const found = {};
  for (const [name, one] of Object.entries(whole.lessons)) {
    const answers = {};
    for (const [number, came] of Object.entries(one?.answers ?? {})) {
      if (/^\d{1,5}$/.test(number) && ["right", "wrong"].includes(came)) answers[number] = came;
    }
    const challenge = ["passed", "tried"].includes(one?.challenge) ? one.challenge : "";
    found[name] = { read: one?.read === true, answers, challenge };
  }
  return found;
}

/** What this browser has kept; nothing if it keeps nothing. */
function kept() {
  try {
    return lessonsOf(localStorage.getItem(KEY) ?? "");
  } catch {
    return {};
  }
}

/** Both of them, lesson by lesson: what was read, right or passed in one is so. */
function together(one, other) {
  const found = { ...one };
  for (const [name, now] of Object.entries(other)) {
    const before = Object.hasOwn(one, name) ? one[name] : { read: false, answers: {}, challenge: "" };
    const right = Object.entries(before.answers).filter(([, came]) => came === "right");
    found[name] = {
      read: before.read || now.read,
      answers: { ...before.answers, ...now.answers, ...Object.fromEntries(right) },
      challenge: before.challenge === "passed" ? "passed" : now.challenge || before.challenge,
    };
  }
  return found;
}
