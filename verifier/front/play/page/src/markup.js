// The little markup of lessons: `words of the language` and **what matters**; all else is text.

import { element } from "./dom.js";

/** A text as parts of a paragraph. */
export function marked(text) {
  return String(text)
    .split(/(`[^`]+`|\*\*[^*]+\*\*)/)
    .map((part) => {
      if (part.startsWith("`") && part.endsWith("`") && part.length > 2) return element("code", {}, part.slice(1, -1));
      if (part.startsWith("**") && part.endsWith("**") && part.length > 4) return element("strong", {}, part.slice(2, -2));
      return part;
    });
}

/** Words that do not say once more what the badge before them says. */
export function withoutVerdict(words, said) {
  const rest = words.replace(new RegExp(`^${said}\\b[.:,;]?\\s*`, "i"), "");
  return rest.charAt(0).toUpperCase() + rest.slice(1);
}
