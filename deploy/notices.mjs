// What other people wrote and our binary carries: their notices and licences, and a bill of materials.
//
//   node deploy/notices.mjs            writes deploy/licenses/THIRD-PARTY.txt
//   node deploy/notices.mjs --check    fails if that file is not what it would write
//   node deploy/notices.mjs --sbom F   writes the bill of materials (CycloneDX 1.5, JSON) to F; "-" is the screen
//
// Needs what a build needs: the crates' sources (cargo fetch) and web/node_modules (npm ci).
import { execFileSync } from "node:child_process";
import { createHash } from "node:crypto";
import { existsSync, readFileSync, readdirSync, statSync, writeFileSync } from "node:fs";
import { dirname, join } from "node:path";
import { fileURLToPath } from "node:url";

const root = dirname(dirname(fileURLToPath(import.meta.url)));
const kept = join(root, "deploy/licenses/THIRD-PARTY.txt");
// One platform, so that every machine writes the same; others differ in the binding to their system.
const PLATFORM = "x86_64-unknown-linux-gnu";
const NOTICE = /^(licen[cs]e|licenses|licences|copying|notice|unlicense|copyright)/i;

function crates() {
  const asked = ["metadata", "--locked", "--offline", "--format-version", "1", "--filter-platform", PLATFORM];
  const told = JSON.parse(execFileSync("cargo", asked, { cwd: root, maxBuffer: 1 << 28 }));
  const nodes = new Map(told.resolve.nodes.map((node) => [node.id, node]));
  const seen = new Set();
  const visit = (id) => {
    if (seen.has(id)) return;
    seen.add(id);
    // What builds or tests the binary is not in it.
    for (const { pkg, dep_kinds } of nodes.get(id).deps) if (dep_kinds.some(({ kind }) => kind === null)) visit(pkg);
  };
  visit(told.packages.find(({ name, source }) => name === "turnbuckle" && !source).id);
  const sums = new Map();
  for (const block of readFileSync(join(root, "Cargo.lock"), "utf8").split("[[package]]")) {
    const field = (name) => new RegExp(`^${name} = "(.*)"$`, "m").exec(block)?.[1];
    sums.set(`${field("name")} ${field("version")}`, field("checksum"));
  }
  return told.packages
    .filter(({ id, source }) => seen.has(id) && source)
    .map(({ name, version, license, authors, manifest_path, repository }) => ({
      name,
      repository,
      version,
      licence: license?.replaceAll("/", " OR ").replace(/ +/g, " ") ?? "",
      authors: authors.map((author) => author.replace(/ *<.*>/, "")),
      at: dirname(manifest_path),
      purl: `pkg:cargo/${name}@${version}`,
      hash: { alg: "SHA-256", content: sums.get(`${name} ${version}`) },
    }));
}

/** Packages whose code is in the app: those that its own need, but of the uploader only what runs in a browser. */
function packages() {
  const { packages: locked } = JSON.parse(readFileSync(join(root, "web/package-lock.json"), "utf8"));
  const inBrowser = (name, needs) => {
    if (name !== "tus-js-client") return needs;
    const at = join(root, "web/node_modules/tus-js-client/lib.esm");
    const files = [at, join(at, "browser")].flatMap((dir) => readdirSync(dir).map((file) => join(dir, file)));
    const code = files.filter((file) => file.endsWith(".js")).map((file) => readFileSync(file, "utf8")).join("\n");
    return needs.filter((need) => new RegExp(`from ['"]${need}['"]`).test(code));
  };
  const seen = new Set();
  const visit = (name) => {
    const about = locked[`node_modules/${name}`];
    if (!about || seen.has(name)) return;
    seen.add(name);
    inBrowser(name, Object.keys(about.dependencies ?? {})).forEach(visit);
  };
  Object.keys(locked[""].dependencies).forEach(visit);
  return [...seen].map((name) => {
    const { version, license, integrity } = locked[`node_modules/${name}`];
    const content = Buffer.from(integrity.replace("sha512-", ""), "base64").toString("hex");
    const purl = `pkg:npm/${name.replace("@", "%40")}@${version}`;
    const at = join(root, "web/node_modules", name);
    return { name, version, licence: license, authors: [], at, purl, hash: { alg: "SHA-512", content } };
  });
}

function texts(at) {
  const found = [];
  for (const name of readdirSync(at).sort()) {
    const path = join(at, name);
    if (!NOTICE.test(name) || /\.(rs|js|toml|tmpl|hbs)$/i.test(name)) continue;
    const files = statSync(path).isDirectory() ? readdirSync(path).sort().map((one) => join(path, one)) : [path];
    for (const file of files) {
      if (statSync(file).isFile()) found.push(readFileSync(file, "utf8").replaceAll("\r\n", "\n").trim());
    }
  }
  return found;
}

/** Who published no text with it means the standard one, which then stands under its name. */
const standard = (licence) => {
  if (/MIT/.test(licence)) return readFileSync(join(root, "deploy/licenses/MIT.txt"), "utf8").replace(/^Copyright.*$/m, "Copyright (c) its authors").trim();
  if (/Apache-2\.0/.test(licence)) return readFileSync(join(root, "deploy/licenses/APACHE-2.0.txt"), "utf8").trim();
  return undefined;
};

function thirdParty(all) {
  const byText = new Map();
  const missing = [];
  for (const one of all) {
    let own = texts(one.at);
    // Several crates of one source: the text is published with one of them.
    const beside = all.filter(({ repository, licence }) => repository && repository === one.repository && licence === one.licence);
    for (const other of beside) if (!own.length) own = texts(other.at);
    if (!own.length) own = [standard(one.licence)].filter(Boolean);
    if (!own.length) missing.push(`${one.name} ${one.version} (${one.licence}) has no licence text; add one to standard()`);
    for (const text of own) {
      const key = createHash("sha256").update(text.replace(/\s+/g, " ")).digest("hex");
      const entry = byText.get(key) ?? { text, of: [] };
      entry.of.push(`${one.name} ${one.version}`);
      byText.set(key, entry);
    }
  }
  if (missing.length) throw new Error(missing.join("\n"));
  const list = all.map(({ name, version, licence, authors }) => [`${name} ${version}`, licence, authors.join(", ")].filter(Boolean).join("; "));
  const parts = [...byText.values()].map(({ text, of }) => `${"=".repeat(78)}\n${of.join(", ")}\n${"-".repeat(78)}\n${text}\n`);
  return `What other people wrote and this program carries, with their notices and licences.
Their sources are at the public registries under the same names and versions; of those under MPL-2.0 the
source as used is there unchanged. Made by deploy/notices.mjs.

${list.join("\n")}

${parts.join("\n")}`;
}

function sbom(all) {
  const component = ({ name, version, licence, purl, hash }) => ({
    type: "library",
    "bom-ref": purl,
    name,
    version,
    hashes: hash.content ? [hash] : [],
    licenses: licence ? [{ expression: licence }] : [],
    purl,
  });
  const version = /^version = "(.*)"$/m.exec(readFileSync(join(root, "Cargo.toml"), "utf8"))[1];
  const own = "pkg:generic/turnbuckle@" + version;
  return JSON.stringify(
    {
      bomFormat: "CycloneDX",
      specVersion: "1.5",
      version: 1,
      metadata: { component: { type: "application", "bom-ref": own, name: "turnbuckle", version } },
      components: all.map(component),
      dependencies: [{ ref: own, dependsOn: all.map(({ purl }) => purl) }],
    },
    undefined,
    1,
  );
}

/** Of every expression one choice must be among what deploy/deny.toml allows (SPDX: OR is a choice, AND is all). */
function refused(all) {
  const allowed = new Set(/allow = \[([^\]]*)\]/.exec(readFileSync(join(root, "deploy/deny.toml"), "utf8"))[1].match(/[\w.+-]+/g));
  const fits = (expression) => {
    const inner = /\(([^()]*)\)/.exec(expression);
    if (inner) return fits(expression.replace(inner[0], fits(inner[1]) ? "MIT" : "none"));
    return expression.split(" OR ").some((all) => all.split(" AND ").every((one) => allowed.has(one.trim())));
  };
  return all.filter(({ licence }) => !fits(licence));
}

const all = [...crates(), ...packages()].sort((a, b) => (a.purl < b.purl ? -1 : 1));
const [asked, to] = process.argv.slice(2);
if (asked === "--sbom") {
  if (to === "-") console.log(sbom(all));
  else writeFileSync(to, sbom(all));
} else if (asked === "--check") {
  for (const { name, version, licence } of refused(all)) {
    console.error(`${name} ${version} has the licence ${licence}, which deploy/deny.toml does not allow.`);
    process.exitCode = 1;
  }
  if (!existsSync(kept) || readFileSync(kept, "utf8") !== thirdParty(all)) {
    console.error("deploy/licenses/THIRD-PARTY.txt is not what the build carries: node deploy/notices.mjs");
    process.exit(1);
  }
} else {
  writeFileSync(kept, thirdParty(all));
}
