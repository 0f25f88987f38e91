// Rules for the page of the bench: what is wrong or never used, no taste.
import js from "@eslint/js";
import globals from "globals";

export default [
  js.configs.recommended,
  {
    languageOptions: { ecmaVersion: 2022, sourceType: "module", globals: globals.browser },
    linterOptions: { reportUnusedDisableDirectives: "error" },
    rules: {
      eqeqeq: "error",
      "no-implicit-globals": "error",
      "no-unused-vars": ["error", { args: "after-used", caughtErrors: "all" }],
      "no-var": "error",
      "prefer-const": "error",
    },
  },
];
