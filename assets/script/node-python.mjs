// Runs one Python file in the browser's Python runtime, but under Node: to compile and check what the site ships.
// node node-python.mjs RUNTIME PYTHON_FILE [MOUNT=FOLDER…]   stdin: text for the Python name `argument`;
// each FOLDER of this machine shows up inside as MOUNT; stdout: what the Python file prints.
import { readFileSync } from "node:fs";
import { pathToFileURL } from "node:url";

const [runtime, program, ...mounts] = process.argv.slice(2);
try {
  const { loadPyodide } = await import(pathToFileURL(`${runtime}/pyodide.mjs`));
  const python = await loadPyodide({ indexURL: `${runtime}/`, env: { PYDANTIC_DISABLE_PLUGINS: "__all__" } });
  for (const mount of mounts) {
    const [inside, folder] = mount.split(/=(.*)/s);
    python.FS.mkdirTree(inside);
    python.FS.mount(python.FS.filesystems.NODEFS, { root: folder }, inside);
  }
  python.globals.set("argument", readFileSync(0, "utf8"));
  python.runPython(readFileSync(program, "utf8"), { filename: program });
} catch (fault) {
  // Only the message: Node would print the whole minified line of the runtime that threw.
  console.error(fault.message);
  process.exitCode = 1;
}
