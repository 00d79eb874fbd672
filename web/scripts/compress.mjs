// Lays a .br and a .gz beside every file of the build, so that the server compresses nothing twice.
import { readdirSync, readFileSync, statSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { brotliCompressSync, constants, gzipSync } from "node:zlib";

const TEXT = /\.(html|js|css|svg|json|webmanifest|txt)$/;

function walk(folder) {
  return readdirSync(folder).flatMap((name) => {
    const path = join(folder, name);
    return statSync(path).isDirectory() ? walk(path) : [path];
  });
}

for (const path of walk("dist")) {
  if (!TEXT.test(path)) continue;
  const bytes = readFileSync(path);
  const params = { [constants.BROTLI_PARAM_QUALITY]: 11, [constants.BROTLI_PARAM_SIZE_HINT]: bytes.length };
  writeFileSync(`${path}.br`, brotliCompressSync(bytes, { params }));
  writeFileSync(`${path}.gz`, gzipSync(bytes, { level: 9 }));
}
