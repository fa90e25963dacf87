// A Python that has been started already: its memory, taken when the site is built and given back in the browser.
// This is the one place that uses what Pyodide 314.0.7 calls experimental. Where a name is gone, nothing is taken, or
// Python starts as ever; whoever asks sees by `remembers` which it was.

// What Python's program begins with stands in its own file, so the memory goes without it: each word of it crossed with
// what a fresh program has there, which leaves nothing where nothing changed. Crossed again, it is whole.
const OWN = 4 * 1024 * 1024, HEAD = 1, PAGE = 65536

const own = (memory) => new Uint32Array(memory.buffer, 0, OWN >> 2)

function crossed(memory, fresh) {
  const words = new Uint32Array(memory.buffer, memory.byteOffset, memory.byteLength >> 2)
  const from = words[HEAD] >> 2
  for (let at = 0; at < fresh.length; at += 1) words[from + at] ^= fresh[at]
}

// What `act` gives, with `seen` given the first program's memory before it runs.
async function beginning(act, seen) {
  const {instantiate, instantiateStreaming} = WebAssembly
  let first = true
  const watched = (make) => async (...asked) => {
    const made = await make.apply(WebAssembly, asked), {memory} = (made.instance ?? made).exports
    if (memory && first) { first = false; await seen(memory) }
    return made
  }
  Object.assign(WebAssembly, {instantiate: watched(instantiate), instantiateStreaming: watched(instantiateStreaming)})
  try { return await act() } finally { Object.assign(WebAssembly, {instantiate, instantiateStreaming}) }
}

// The memory of a Python in which `ready` was done; null where none can be taken.
export async function taken(loadPyodide, options, ready) {
  let fresh
  const started = () => loadPyodide({...options, _makeSnapshot: true})
  const python = await beginning(started, (memory) => { fresh = own(memory).slice() })
  await ready(python)
  try {
    const memory = python.makeMemorySnapshot()
    crossed(memory, fresh)
    return memory
  } catch (error) { console.warn(`no memory: ${error.message}`); return null }
}

// A Python started from a memory, or from the promise of one. It may have another archive of its library beside it than
// the one it remembers. A memory that outgrew what Python begins with (30 MiB) needs the room before it comes in.
export async function given(loadPyodide, options, memory) {
  const whole = Promise.resolve(memory).then((bytes) => new Uint8Array(bytes))
  const started = () => loadPyodide({...options, _loadSnapshot: whole})
  return beginning(started, async (memory) => {
    const bytes = await whole, size = bytes.length - new Uint32Array(bytes.buffer, bytes.byteOffset, 2)[HEAD]
    const short = Math.ceil((size - memory.buffer.byteLength) / PAGE)
    if (short > 0) memory.grow(short)
    crossed(bytes, own(memory))
  })
}

// Whether a Python has the desk in its memory, and belongs with this data.
export async function remembers(python, data) {
  if (!crypto.subtle) return false
  const digest = new Uint8Array(await crypto.subtle.digest("SHA-256", data))
  const known = python.globals.get("data")
  return python.globals.has("desk") && known === Array.from(digest, (byte) => byte.toString(16).padStart(2, "0")).join("")
}

// Writes an archive whose files are not compressed into a folder, without asking Python: it may not be there yet.
export function unpack(python, packed, folder) {
  const bytes = new Uint8Array(packed), view = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength)
  const text = new TextDecoder(), made = new Set()
  let at = view.getUint32(bytes.length - 6, true)
  for (let left = view.getUint16(bytes.length - 12, true); left; left -= 1) {
    const [method, size, name, extra, comment] = [
      view.getUint16(at + 10, true), view.getUint32(at + 24, true), view.getUint16(at + 28, true),
      view.getUint16(at + 30, true), view.getUint16(at + 32, true)]
    const path = `${folder}/${text.decode(bytes.subarray(at + 46, at + 46 + name))}`
    const head = view.getUint32(at + 42, true)
    const from = head + 30 + view.getUint16(head + 26, true) + view.getUint16(head + 28, true)
    if (method) throw new Error(`${path} is compressed inside its archive`)
    const room = path.slice(0, path.lastIndexOf("/"))
    if (!made.has(room)) { python.FS.mkdirTree(room); made.add(room) }
    python.FS.writeFile(path, bytes.subarray(from, from + size))
    at += 46 + name + extra + comment
  }
}
