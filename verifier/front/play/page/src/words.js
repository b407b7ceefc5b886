// How the language is coloured: comments, labels, figures, keywords. It only colours; what is right
// or wrong is the checker's to say.

import { StreamLanguage } from "@codemirror/language";

const FIGURE = /^-?\d+(?::\d{2}|(?:\.\d+)?(?:\s*(?:%|ms\b|s\b|min\b|h\b|W\b|kW\b|deg\b|x\b))?)/;
const NAME = /^[A-Za-z][A-Za-z0-9_]*(?:\.[A-Za-z][A-Za-z0-9_]*)*/;

/** The language with the keywords that the server tells. */
export function duskLanguage(keywords) {
  const known = new Set([...KEYWORDS, ...keywords].filter((word) => !VALUES.has(word)));
  return StreamLanguage.define({
    name: "dusk",
    token(stream) {
      if (stream.eatSpace()) return null;
      if (stream.peek() === "#") {
        stream.skipToEnd();
        return "comment";
      }
      if (stream.match(/^"[^"\n]*"?/)) return "string";
      if (stream.match(FIGURE)) return "number";
      if (stream.match(/^non-retriggerable\b/)) return "keyword";
      const name = stream.match(NAME);
      if (name) return VALUES.has(name[0]) ? "atom" : known.has(name[0]) ? "keyword" : "variableName";
      stream.next();
      return null;
    },
    languageData: { commentTokens: { line: "#" } },
  });
}

const VALUES = new Set(
  (
    "on off open closed shut reached clear occupied vacant pressed dark bright yes no raised lowered moving stopped peopled empty"
  ).split(" "),
);

/** Known without a server, for the first moment. */
export const KEYWORDS = (
  "site latitude longitude timezone night day below reaction within end contact limit detector button switch " +
  "photocell lamp dimmer load flag holds rearm wired normally open shut wireless starts with local power return " +
  "retained setting door raised lowered moving by travel to room entered seen still at most noticed rule " +
  "retriggerable once waiting oldest gives way upon provided do wait until fade over if then elsif else repeat " +
  "cancel run becomes pressed changes has stayed for begins returns ends is above least and or not implies " +
  "between running timed out assume always never stays consider cuts lost reports of bounce up stuck broken wire " +
  "both limits reached require when after last before no longer shorter than times in every trigger leads " +
  "possible measure longest while allowing typical apply on off yes usage as takes needs"
).split(" ");
