// The engine's side of the take-away edition: starts Python, passes messages in and patches out, keeps the log.
// Texts go through as they are; what they mean is decided in Python (trainer/takeaway/browser_session.py) on this side and
// by the boards on the other.
import { given, remembers, unpack } from "./snapshot.js"

const BEAT_MS = 100
const SITE = "/lib/python3.14/site-packages"

const say = (message) => postMessage(message)
let desk = null, store = null, quick = false, last = 0, queue = Promise.resolve()

// The large files come compressed, since many web hosts compress nothing. The service worker keeps the largest
// unpacked; what it keeps is taken from its store, without a way through it.
async function large(address, options) {
  const packed = `${address}.gz`, kept = await self.caches?.match(packed).catch(() => null)
  const response = kept ?? await fetch(packed, options)
  if (!response.ok) throw new Error(`${address} is missing (${response.status})`)
  if (response.headers.has("trainer-unpacked")) return response
  const type = address.endsWith(".wasm") ? "application/wasm" : "application/zip"
  return new Response(response.body.pipeThrough(new DecompressionStream("gzip")), {headers: {"content-type": type}})
}

// Python starts from its memory, taken when the site was built, where there is one and no file of a person's own is
// kept: those need the library that the memory is without.
async function boot({runtime, code, data, memory, rest, env, desk: module = "trainer.takeaway.browser_session"}) {
  // The runtime comes and is compiled while the memory comes: Pyodide would ask for it later. It would also wait for
  // ever for a runtime that does not compile, as a damaged one.
  const plain = self.fetch, never = new Promise(() => {})
  const compiled = WebAssembly.compileStreaming(large(`${runtime}pyodide.asm.wasm`))
  compiled.catch(failed)
  WebAssembly.instantiateStreaming = async (_, imports) => {
    const module = await compiled
    return {module, instance: await WebAssembly.instantiate(module, imports)}
  }
  self.fetch = (what, options) => {
    if (/\.wasm$/.test(what)) return never
    return /\.zip$/.test(what) ? large(String(what), options) : plain(what, options)
  }
  say({stage: "runtime"})
  const bytes = (address) => large(address).then((response) => response.arrayBuffer())
  const packed = bytes(data), script = import(`${runtime}pyodide.mjs`), opened = open()
  // Pyodide would ask for these two one after the other.
  import(`${runtime}pyodide.asm.mjs`).catch(failed)
  const listed = plain(`${runtime}pyodide-lock.json`).then((response) => response.json())
  const kept = memory ? bytes(memory) : null
  kept?.catch(() => null)
  store = await opened
  const log = await stored(), {loadPyodide} = await script
  const own = Object.keys(log).some((key) => key.startsWith("~own/"))
  const options = {indexURL: runtime, env, lockFileContents: await listed}
  const little = {...options, stdLibURL: rest}
  let python = kept && !own ? await given(loadPyodide, little, kept).catch(refusal) : null
  quick = Boolean(python && await remembers(python, await packed))
  if (!quick) python = await loadPyodide(options)
  say({stage: "engine"})
  unpack(python, await packed, SITE)
  if (!quick) unpack(python, await bytes(code), SITE)
  say({stage: "drills"})
  desk = quick ? python.globals.get("desk") : python.pyimport(module).open_desk()
  desk.open(JSON.stringify(log))
  say({stage: "page", quick})
}

const refusal = (error) => { console.warn("starting without a memory:", error); return null }

// One thing after another: a beat never overtakes the storing of a command.
function later(act) { queue = queue.then(() => desk && act()).catch(failed) }

// The first message is the page's greeting: its answer draws the boards, and from then on the clock runs.
async function hear(message) {
  if (message.page === "load" && /\.json$/i.test(message.file)) message.signature = await signature(message.text)
  else if (quick && message.page === "load") { say({full: message}); return }
  await show(desk.handle(JSON.stringify(message)))
  if (last) return
  last = performance.now()
  say({stage: "ready"})
  setInterval(() => later(beat), BEAT_MS)
}

// Python here has no library for signatures (Ed25519, RFC 8032); the browser may have one. It stands over the seal's text.
async function signature(text) {
  const bytes = (hex) => Uint8Array.from(hex.match(/../g), (pair) => parseInt(pair, 16))
  try {
    const {seal, signature: signed} = JSON.parse(text)
    const key = await crypto.subtle.importKey("raw", bytes(signed.public_key), "Ed25519", false, ["verify"])
    const holds = await crypto.subtle.verify("Ed25519", key, bytes(signed.signature), new TextEncoder().encode(seal.whole))
    return holds ? "valid" : "invalid"
  } catch { return "unknown" }
}

async function beat() {
  const now = performance.now()
  const reply = desk.tick((now - last) / 1000)
  last = now
  await show(reply)
}

// What the screen shows is stored before it is shown, so a page that dies has nothing more to lose.
async function show(text) {
  if (!text) return
  const cut = text.indexOf("\n")
  await keep(text.slice(0, cut))
  if (cut + 1 < text.length) say({patch: text.slice(cut + 1)})
}

// ---- the log in IndexedDB: one store of texts; a refusal is told once and the run goes on unkept

function done(request) {
  return new Promise((resolve, reject) => {
    request.oncomplete = request.onsuccess = () => resolve(request.result)
    request.onerror = request.onabort = () => reject(request.error ?? new Error("the browser gave no reason"))
  })
}

// One tab keeps the log: two would write over each other. A page just closed may need a moment to let go, on a busy
// machine some seconds, and answers no more; a tab that lives answers, and then there is no use in waiting.
async function alone() {
  const held = (answer) => (lock) => { answer(lock !== null); return lock && new Promise(() => {}) }
  const others = new BroadcastChannel("trainer-log")
  let lives = false
  others.onmessage = ({data}) => { lives ||= data === "kept here" }
  for (let turn = 0; navigator.locks && turn < 40; turn += 1) {
    const free = await new Promise((answer, refuse) => {
      navigator.locks.request("trainer-log", {ifAvailable: true}, held(answer)).catch(refuse)
    })
    if (free) break
    if (turn === 39 || lives && turn >= 4) { others.close(); throw new Error("the trainer is open in another tab") }
    others.postMessage("who keeps?")
    await new Promise((resolve) => setTimeout(resolve, 250))
  }
  others.onmessage = ({data}) => { if (data === "who keeps?") others.postMessage("kept here") }
}

async function open() {
  try {
    await alone()
    const request = indexedDB.open("trainer", 1)
    request.onupgradeneeded = () => request.result.createObjectStore("log")
    return await done(request)
  } catch (error) { return refused(error) }
}

function refused(error) {
  store?.close()
  store = null
  say({unkept: `${error?.name ?? "error"}: ${error?.message ?? error}`})
  return null
}

async function stored() {
  if (!store) return {}
  try {
    const log = store.transaction("log").objectStore("log")
    const [keys, values] = await Promise.all([done(log.getAllKeys()), done(log.getAll())])
    return Object.fromEntries(keys.map((key, at) => [key, values[at]]))
  } catch (error) { refused(error); return {} }
}

async function keep(text) {
  if (!store || !text) return
  const {clear, put} = JSON.parse(text)
  try {
    const write = store.transaction("log", "readwrite", {durability: "relaxed"})
    const log = write.objectStore("log")
    if (clear) log.delete(IDBKeyRange.upperBound(clear, true))
    for (const [key, value] of Object.entries(put)) value === null ? log.delete(key) : log.put(value, key)
    await done(write)
  } catch (error) { refused(error) }
}

// The last line of what Python tells is what is wrong; the whole of it is for developers.
function failed(error) {
  console.error(error)
  say({fault: String(error?.message ?? error).trim().split("\n").pop()})
}

onmessage = ({data}) => {
  if (data.boot) queue = boot(data.boot).catch(failed)
  else later(() => hear(data))
}
