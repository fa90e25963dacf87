// Starts the browser's Python from the memory of a built site, under Node, and says what came of it.
// node remembering.mjs SNAPSHOT_JS RUNTIME SITE ENV MEMORY DATA REST PROGRAM
import { readFileSync } from "node:fs";
import { pathToFileURL } from "node:url";

const [script, runtime, site, env, memory, data, rest, program] = process.argv.slice(2);
const { given, remembers, taken, unpack } = await import(pathToFileURL(script));
const { loadPyodide } = await import(pathToFileURL(`${runtime}/pyodide.mjs`));
const options = { indexURL: `${runtime}/`, env: JSON.parse(env) };
const packed = readFileSync(data), told = {};

const little = { ...options, stdLibURL: rest };
const python = await given(loadPyodide, little, readFileSync(memory));
told.remembers = await remembers(python, packed);
told.other = await remembers(python, packed.subarray(1));
unpack(python, packed, site);
told.said = JSON.parse(python.runPython(readFileSync(program, "utf8")));

// One that outgrew what Python begins with.
const large = await taken(loadPyodide, options, (python) => python.runPython("much = b'x' * 20_000_000"));
told.large = large.length;
told.much = (await given(loadPyodide, options, large)).runPython("much.count(b'x')");

// With the names hidden that Pyodide calls experimental.
const without = ({ _loadSnapshot, _makeSnapshot, ...others }) => loadPyodide(others);
const refused = await given(without, little, readFileSync(memory)).catch(() => null);
told.little = Boolean(refused && await remembers(refused, packed));
told.hidden = await remembers(await given(without, options, readFileSync(memory)), packed);
told.untaken = await taken(without, options, () => {});
const lacking = async (given) => ({ ...await without(given), makeMemorySnapshot: undefined });
told.lacking = await taken(lacking, options, () => {});
console.log(JSON.stringify(told));
process.exit(0);
