// How the language is coloured: comments, labels, figures, words. It only colours; what is right or
// wrong is the checker's to say. The words are the grammar's: the server tells them.

import { StreamLanguage } from "@codemirror/language";

const FIGURE = /^-?\d+(?::\d{2}|(?:\.\d+)?(?:\s*(?:%|ms\b|s\b|min\b|h\b|W\b|kW\b|deg\b|x\b))?)/;
const NAME = /^[A-Za-z][A-Za-z0-9_]*(?:\.[A-Za-z][A-Za-z0-9_]*)*/;
const NOTHING = /^(?!)/;

/** What matches one of some words, the longest first; a word of several has any blanks between. */
function oneOf(words) {
  if (!words.length) return NOTHING;
  const ordered = [...words].sort((a, b) => b.length - a.length);
  return new RegExp(`^(?:${ordered.map((word) => word.replaceAll(" ", "[ \\t]+")).join("|")})(?![A-Za-z0-9_.-])`);
}

/** The language with its keywords (phrases, too) and its values. */
export function duskLanguage({ keywords, values }) {
  const keyword = oneOf(keywords);
  const value = oneOf(values);
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
      if (stream.match(keyword)) return "keyword";
      if (stream.match(value)) return "atom";
      if (stream.match(NAME)) return "variableName";
      stream.next();
      return null;
    },
    languageData: { commentTokens: { line: "#" } },
  });
}
