// What the browser's scripts are held to. No rule set is imported, so that the linter alone has to be there.
const known = (names) => Object.fromEntries(names.split(" ").map((name) => [name, "readonly"]))
const both = "console URL Response Request fetch setTimeout clearTimeout setInterval clearInterval performance Blob " +
  "DecompressionStream TextDecoder TextEncoder navigator indexedDB IDBKeyRange WebAssembly crypto BroadcastChannel postMessage self caches btoa "
const page = both + "window document localStorage sessionStorage location addEventListener Worker CustomEvent WebSocket FormData URLSearchParams structuredClone " +
  "SVGElement AbortController AudioContext HTMLElement Event Node NodeFilter MutationObserver ResizeObserver requestAnimationFrame cancelAnimationFrame " +
  "getComputedStyle matchMedia innerWidth innerHeight scrollTo scrollY XMLSerializer DOMPoint process"

export default [
  {
    files: ["**/*.js", "**/*.mjs"],
    languageOptions: {ecmaVersion: 2024, sourceType: "module", globals: {...known(page), onmessage: "writable"}},
    rules: {
      "no-undef": "error", "no-unused-vars": "error", "no-redeclare": "error", "no-var": "error",
      "prefer-const": "error", "eqeqeq": "error", "no-unreachable": "error", "no-dupe-keys": "error",
      "no-const-assign": "error", "no-self-assign": "error", "no-empty": "error", "no-fallthrough": "error",
      "no-cond-assign": "error", "no-constant-condition": "error", "no-eval": "error", "no-implied-eval": "error",
      "no-async-promise-executor": "error", "no-unsafe-finally": "error", "use-isnan": "error", "valid-typeof": "error",
      "no-use-before-define": ["error", {functions: false, variables: false}],
    },
  },
]
