// Rules beyond types: what is unused, undefined or surprising, and what the client's policy and the privacy of children
// rule out.

import js from "@eslint/js";
import globals from "globals";

export default [
  js.configs.recommended,
  {
    languageOptions: { ecmaVersion: 2024, sourceType: "module", globals: globals.browser },
    linterOptions: { reportUnusedDisableDirectives: "error" },
    rules: {
      eqeqeq: "error",
      "max-lines": ["error", 400],
      "max-lines-per-function": ["error", 70],
      "no-console": "error",
      "no-eval": "error",
      "no-implicit-coercion": ["error", { boolean: false }],
      "no-implied-eval": "error",
      "no-restricted-properties": [
        "error",
        { property: "innerHTML", message: "text becomes text nodes: screens/dom.js" },
        { property: "outerHTML", message: "text becomes text nodes: screens/dom.js" },
        { property: "insertAdjacentHTML", message: "text becomes text nodes: screens/dom.js" },
        { object: "window", property: "localStorage", message: "what is kept is encrypted: lib/person.js" },
      ],
      "no-var": "error",
      "prefer-const": "error",
      "no-restricted-globals": ["error", { name: "sessionStorage", message: "what is kept is encrypted: lib/person.js" }],
    },
  },
  { files: ["**/sw.js"], languageOptions: { globals: { ...globals.serviceworker, VERSION: "readonly", FILES: "readonly" } } },
];
