import { createHash } from "node:crypto";
import { readdirSync, readFileSync, statSync } from "node:fs";
import { join } from "node:path";
import { VitePWA } from "vite-plugin-pwa";
import { defineConfig } from "vitest/config";

const { version } = JSON.parse(readFileSync("package.json", "utf8")) as { version: string };

function files(at: string): string[] {
  if (!statSync(at).isDirectory()) return [at];
  return readdirSync(at)
    .sort()
    .flatMap((name) => files(join(at, name)));
}

// The server is told which build speaks; the same sources give the same name.
const hash = createHash("sha256");
for (const file of ["package-lock.json", "index.html", "src", "locales"].flatMap(files))
  hash.update(readFileSync(file));
const build = hash.digest("hex").slice(0, 8);

/** Modules of the first screens; what is not here stays where the bundler puts it. */
const LATER =
  /\/src\/(model|photos|sw)\/|\/src\/api\/limits|\/src\/ui\/(desk|board|setup|photo|sheets(?!\/open)|session(?!\/session\.))\/|\/src\/ui\/shop\.|\/src\/ui\/kit\/(call|camera|caution|choices|copy|desk|draft|fields|options|photo|picture|placed|plate|print|shop|shop-sentences|signs|sister-shops|what-if-answer|why)\.|\/src\/ui\/floor\/(booth|cases|notices|tray|vehicle|vehicle-top|vehicle-work|vehicles)\.|\/src\/ui\/charts\/(axes|bundle|labels|row-name|scale|string-|trip-|use-|view)|\/src\/sync\/(engine|warned)|\/src\/core\/(booth|leaving|merge|next)|\/locales\//;
const first = (id: string): boolean =>
  /\/src\/|\/node_modules\/(preact|@preact|idb|@fluent)\//.test(id) && !LATER.test(id);

export default defineConfig({
  define: { __BUILD__: JSON.stringify(`${version}-${build}`) },
  build: {
    target: "es2022",
    // The content rules of the server allow no inline script or style, so nothing is inlined.
    assetsInlineLimit: 0,
    modulePreload: { polyfill: false },
    // What is read before anything is shown, in one piece: many small ones compress worse.
    rollupOptions: { output: { codeSplitting: { groups: [{ name: "first", test: first }] } } },
  },
  plugins: [
    VitePWA({
      strategies: "injectManifest",
      srcDir: "src/sw",
      filename: "sw.ts",
      injectRegister: false,
      includeManifestIcons: false,
      manifest: {
        name: "Turnbuckle",
        short_name: "Turnbuckle",
        description: "Hand-offs between the departments of a collision repair shop, also without a network.",
        start_url: "/",
        scope: "/",
        display: "standalone",
        background_color: "#faf8f2",
        theme_color: "#faf8f2",
        icons: [
          { src: "/icon-192.png", sizes: "192x192", type: "image/png" },
          { src: "/icon-512.png", sizes: "512x512", type: "image/png" },
          { src: "/icon-mask-512.png", sizes: "512x512", type: "image/png", purpose: "maskable" },
        ],
      },
      injectManifest: { globPatterns: ["**/*.{html,js,css,svg,png}"] },
    }),
  ],
  server: { proxy: { "/api": "http://127.0.0.1:8080", "/healthz": "http://127.0.0.1:8080" } },
  test: {
    include: ["src/**/*.test.{ts,tsx}", "test/**/*.test.{ts,tsx}"],
    environment: "node",
    setupFiles: ["test/setup.ts"],
  },
});
