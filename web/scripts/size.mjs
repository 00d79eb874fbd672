// What a phone fetches before it shows anything: the page, its scripts and styles, and the words of one
// language; compressed as they are served. Fails past the budget.
import { existsSync, readdirSync, readFileSync } from "node:fs";
import { brotliCompressSync, gzipSync } from "node:zlib";

const BUDGET = 60 * 1024;
const page = readFileSync("dist/index.html", "utf8");
const first = [...page.matchAll(/(?:src|href)="(\/assets\/[^"]+\.(?:js|css))"/g)].map((found) => `dist${found[1]}`);
const assets = readdirSync("dist/assets");
// The app asks for the words of its language at once.
const words = assets.filter((name) => /^app-.*\.js$/.test(name)).map((name) => `dist/assets/${name}`);
const sizes = words.map((path) => gzipSync(readFileSync(path)).length);
const all = [...first, ...(words.length ? [words[sizes.indexOf(Math.max(...sizes))]] : [])];
if (!existsSync("dist/index.html") || first.length === 0) throw new Error("Build the app first: npm run build");

let [gz, br] = [0, 0];
for (const path of all) {
  const bytes = readFileSync(path);
  const [g, b] = [gzipSync(bytes, { level: 9 }).length, brotliCompressSync(bytes).length];
  gz += g;
  br += b;
  console.log(
    `${path.padEnd(44)} ${String(bytes.length).padStart(8)} B  gzip ${String(g).padStart(6)}  brotli ${String(b).padStart(6)}`,
  );
}
console.log(
  `first load: gzip ${(gz / 1024).toFixed(1)} KB, brotli ${(br / 1024).toFixed(1)} KB, budget ${BUDGET / 1024} KB`,
);
if (gz > BUDGET) {
  console.error("The first load is over its budget.");
  process.exit(1);
}
