// Which room of src may import which. ESLint refuses an import that is not here (eslint.config.js), and
// test/layers.test.ts counts what is left. A new arrow between rooms is a design change: propose it by itself.
import { dirname, join, relative, sep } from "node:path";

const under = ["api", "core", "db", "model", "outlook", "photos", "room", "state", "sync", "text"];

/** Screens, each for itself: what two of them need goes down to sheets, charts, kit, text or model. */
export const SCREENS = ["ui/board", "ui/desk", "ui/floor", "ui/photo", "ui/session", "ui/setup"];

const shared = [...under, "ui/kit", "ui/charts", "ui/sheets"];

/**
 * Room → what its files may import besides each other.
 * @type {Record<string, readonly string[]>}
 */
export const MAY = {
  api: [],
  core: ["api"],
  db: ["api", "core"],
  text: ["api", "core"],
  model: ["api", "core", "text"],
  state: ["api", "core", "db", "text"],
  room: ["db", "state"],
  outlook: ["api"],
  photos: ["api", "core", "db", "room", "state"],
  sync: ["api", "core", "db", "photos", "room", "state"],
  sw: ["api", "text"],
  "ui/kit": under,
  "ui/charts": [...under, "ui/kit"],
  "ui/sheets": [...under, "ui/kit", "ui/charts"],
  ...Object.fromEntries(SCREENS.map((screen) => [screen, shared])),
  // What puts the screens together.
  ui: [...shared, ...SCREENS],
  start: [...shared, "ui/session", "ui"],
  main: ["start", "ui", ...shared, "ui/floor"],
};

const src = join(import.meta.dirname, "src");

/**
 * The room of a file: its folder, below `ui` the folder in it; a file of no folder is a room of its own.
 * @param {string} file with or without its ending
 */
export function roomOf(file) {
  const [first = "", second = "", third] = relative(src, file).split(sep);
  if (first === "..") return undefined;
  if (second === "") return first.replace(/\.tsx?$/, "");
  return first === "ui" && (third !== undefined || `ui/${second}` in MAY) ? `ui/${second}` : first;
}

/**
 * What is wrong with importing `what` into `file`, if anything is.
 * @param {string} file
 * @param {string} what as it stands in the import
 */
export function refused(file, what) {
  const from = roomOf(file);
  if (!what.startsWith(".") || from === undefined) return undefined;
  const to = roomOf(join(dirname(file), what));
  return to === undefined || to === from || MAY[from]?.includes(to)
    ? undefined
    : `${from} does not import ${to} (layers.js)`;
}
