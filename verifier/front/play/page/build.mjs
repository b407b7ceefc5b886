// Writes ../static: the bundled script, style and page, the licences of what is bundled, and the
// digests of the sources that it was built from (a test compares them: built files are committed).

import { build } from "esbuild";
import { createHash } from "node:crypto";
import { copyFile, mkdir, readdir, readFile, writeFile } from "node:fs/promises";
import { dirname, join, relative } from "node:path";
import { fileURLToPath } from "node:url";

const here = dirname(fileURLToPath(import.meta.url));
const there = join(here, "..", "static");

// Styles come as constructed sheets, in the document too: the content policy allows no style elements.
const constructed = {
  name: "constructed-sheets",
  setup(build) {
    build.onLoad({ filter: /style-mod\/src\/style-mod\.js$/ }, async ({ path }) => {
      const text = await readFile(path, "utf8");
      const asked = "if (!root.head && root.adoptedStyleSheets && win.CSSStyleSheet)";
      if (!text.includes(asked)) throw new Error("style-mod is another one: look at how it mounts its styles");
      return { contents: text.replace(asked, "if (root.adoptedStyleSheets && win.CSSStyleSheet)"), loader: "js" };
    });
  },
};

await mkdir(there, { recursive: true });
const result = await build({
  absWorkingDir: here,
  entryPoints: ["src/main.js"],
  outfile: join(there, "page.js"),
  bundle: true,
  format: "iife",
  target: "es2022",
  minify: true,
  legalComments: "none",
  plugins: [constructed],
  metafile: true,
  charset: "utf8",
  banner: { js: "/* Licences of what is bundled: licences.txt */" },
});
await copyFile(join(here, "page.css"), join(there, "page.css"));
await copyFile(join(here, "index.html"), join(there, "index.html"));

const packages = new Set();
for (const path of Object.keys(result.metafile.inputs)) {
  const found = /^node_modules\/((?:@[^/]+\/)?[^/]+)\//.exec(path);
  if (found) packages.add(found[1]);
}
const licences = [];
for (const name of [...packages].sort()) {
  const folder = join(here, "node_modules", name);
  const about = JSON.parse(await readFile(join(folder, "package.json"), "utf8"));
  if (about.license !== "MIT") throw new Error(`${name}: ${about.license} is not a licence that was agreed to`);
  const file = (await readdir(folder)).find((entry) => /^licen[cs]e/i.test(entry));
  const text = file ? await readFile(join(folder, file), "utf8") : "MIT License\n";
  licences.push(`${name} ${about.version} (${about.license})\n\n${text.trim()}\n`);
}
await writeFile(
  join(there, "licences.txt"),
  `What is bundled into page.js, and under which licences. style-mod is changed in one
line: it mounts its styles as constructed sheets. All else is Duskproof's own.\n\n${licences.join(`\n${"-".repeat(80)}\n\n`)}`,
);

const sources = ["index.html", "page.css", "package-lock.json", ...(await readdir(join(here, "src"))).map((name) => `src/${name}`)].sort();
const digests = {};
for (const name of sources) {
  digests[name] = createHash("sha256").update(await readFile(join(here, name))).digest("hex");
}
await writeFile(join(there, "built-from.json"), `${JSON.stringify({ bundled: [...packages].sort(), sources: digests }, null, 2)}\n`);
console.log(`${relative(here, there)}: ${(await readFile(join(there, "page.js"))).length} bytes of script`);
