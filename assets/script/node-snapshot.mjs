// Takes the memory of the browser's Python with the trainer in it, under Node:
// node node-snapshot.mjs RUNTIME SITE ENV PROGRAM OUT ARCHIVE…   stdin: text for the Python name `argument`; the
// archives are unpacked into SITE, ENV is the environment as JSON. OUT is not written where no memory can be taken.
// stdout: the program's last value, a text.
import { readFileSync, writeFileSync } from "node:fs";
import { pathToFileURL } from "node:url";
import { taken, unpack } from "./snapshot.js";

const [runtime, site, env, program, out, ...archives] = process.argv.slice(2);
let last;
try {
  const { loadPyodide } = await import(pathToFileURL(`${runtime}/pyodide.mjs`));
  const options = { indexURL: `${runtime}/`, env: JSON.parse(env) };
  const memory = await taken(loadPyodide, options, (python) => {
    for (const archive of archives) unpack(python, readFileSync(archive), site);
    python.globals.set("argument", readFileSync(0, "utf8"));
    last = python.runPython(readFileSync(program, "utf8"), { filename: program });
  });
  if (memory) writeFileSync(out, memory);
  console.log(last);
} catch (fault) {
  console.error(fault.message);
  process.exitCode = 1;
}
