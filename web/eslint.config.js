import js from "@eslint/js";
import ts from "typescript-eslint";
import { refused } from "./layers.js";

/** Each room of src imports what layers.js says, and nothing else. */
const layers = {
  create(context) {
    const look = (what) => {
      const message = typeof what?.value === "string" ? refused(context.filename, what.value) : undefined;
      if (message) context.report({ node: what, message });
    };
    const from = ({ source }) => look(source);
    return {
      ImportDeclaration: from,
      ImportExpression: from,
      ExportNamedDeclaration: from,
      ExportAllDeclaration: from,
    };
  },
};

export default ts.config(
  { ignores: ["dist", "node_modules", "src/api/schema.d.ts"] },
  js.configs.recommended,
  ...ts.configs.strict,
  {
    files: ["**/*.{ts,tsx}"],
    languageOptions: { parserOptions: { projectService: true, tsconfigRootDir: import.meta.dirname } },
    rules: {
      // What fails must be seen: awaited, handled, or `void` where it handles its own failures.
      "@typescript-eslint/no-floating-promises": "error",
      "@typescript-eslint/no-misused-promises": "error",
      // Only null and undefined may be taken for each other.
      eqeqeq: ["error", "always", { null: "ignore" }],
      "no-console": "error",
      "@typescript-eslint/no-non-null-assertion": "error",
      "@typescript-eslint/consistent-type-imports": "error",
      "@typescript-eslint/no-invalid-void-type": ["error", { allowInGenericTypeArguments: true }],
      "@typescript-eslint/no-unused-vars": ["error", { varsIgnorePattern: "^_", argsIgnorePattern: "^_" }],
    },
  },
  {
    files: ["src/**"],
    ignores: ["**/*.test.{ts,tsx}"],
    plugins: { house: { rules: { layers } } },
    rules: { "house/layers": "error" },
  },
  {
    // The core is pure: time, ids and documents are arguments.
    files: ["src/core/**/*.ts"],
    ignores: ["**/*.test.ts"],
    rules: {
      "no-restricted-globals": [
        "error",
        { name: "Date", message: "time is an argument" },
        { name: "fetch", message: "the core does not speak" },
        { name: "indexedDB", message: "the core keeps nothing" },
      ],
      "no-restricted-properties": ["error", { object: "Math", property: "random", message: "seeds are arguments" }],
      "no-restricted-imports": [
        "error",
        { patterns: ["../db*", "../sync*", "../ui*", "../state*", "preact*", "@preact/*"] },
      ],
    },
  },
  // Positions known to be there: tests and drawing arithmetic.
  {
    files: ["**/*.test.{ts,tsx}", "src/ui/charts/**", "src/model/itinerary.ts"],
    rules: { "@typescript-eslint/no-non-null-assertion": "off" },
  },
  {
    files: ["scripts/**"],
    languageOptions: { globals: { process: "readonly", console: "readonly", Buffer: "readonly" } },
    rules: { "no-console": "off" },
  },
);
