// Keeps one whole version of the site in the browser and serves it without a network. A newer version is fetched
// beside it, checked file by file against its hashes, and takes over at once or not at all. What is kept is checked
// again after each start, so that no start waits for it.
const VERSION = "@VERSION@"
const FILES = @FILES@
// Runtime and memory are stored unpacked, under their packed names: by these, their hashes as they lie in the store.
const UNPACKED = @UNPACKED@
// What most starts do without: it comes with the first that asks for it, and stays.
const LATER = @LATER@
const ENTRY = "index.html"
const CACHE = `trainer ${VERSION}`
const url = (path) => new URL(path, self.registration.scope).href
const paths = new Map(Object.keys(FILES).map((path) => [url(path), path]))

async function sound(response, digest) {
  const bytes = await response.arrayBuffer()
  const found = new Uint8Array(await crypto.subtle.digest("SHA-256", bytes))
  return btoa(String.fromCharCode(...found)) === digest ? bytes : null
}

function shelved(response, bytes, path) {
  const type = path.endsWith(".wasm.gz") ? "application/wasm" : response.headers.get("content-type")
  const headers = {"content-type": type ?? "application/octet-stream"}
  if (!UNPACKED[path]) return new Response(bytes, {headers})
  const body = new Blob([bytes]).stream().pipeThrough(new DecompressionStream("gzip"))
  return new Response(body, {headers: {...headers, "trainer-unpacked": "yes"}})
}

async function bring(cache, path) {
  for (const mode of ["default", "reload"]) {
    const response = await fetch(new Request(url(path), {cache: mode, credentials: "same-origin"}))
    const bytes = response.ok && await sound(response.clone(), FILES[path])
    if (bytes) return cache.put(url(path), shelved(response, bytes, path))
  }
  throw new Error(`${path} is not the one of version ${VERSION}`)
}

async function install() {
  const cache = await caches.open(CACHE)
  for (const path of Object.keys(FILES)) {
    if (!LATER.includes(path) && !await cache.match(url(path))) await bring(cache, path)
  }
}

// Whatever is missing or not as it was is fetched again; tells how many files are whole again, and how many are not.
async function mend() {
  const cache = await caches.open(CACHE), told = {mended: 0, lost: 0}
  for (const path of Object.keys(FILES)) {
    const kept = await cache.match(url(path))
    if (!kept && LATER.includes(path) || kept && await sound(kept, UNPACKED[path] ?? FILES[path])) continue
    await bring(cache, path).then(() => { told.mended += 1 }, () => { told.lost += 1 })
  }
  return told
}

async function answer(request) {
  const cache = await caches.open(CACHE)
  const asked = request.url.split(/[?#]/)[0], target = request.mode === "navigate" && !paths.has(asked) ? url(ENTRY) : asked
  const path = paths.get(target)
  if (!path) return fetch(request)
  const kept = await cache.match(target)
  if (kept) return kept
  try { await bring(cache, path) } catch {
    const words = LATER.includes(path) ? `This page (${path}) is not in this browser's store yet. Open it once with the network; then it stays.`
      : `A part of the trainer (${path}) was lost from this browser's store. Connect to the network and reload.`
    return new Response(words, {status: 503, headers: {"content-type": "text/plain; charset=utf-8"}})
  }
  return cache.match(target)
}

self.addEventListener("install", (event) => event.waitUntil(install()))
self.addEventListener("activate", (event) => event.waitUntil((async () => {
  for (const name of await caches.keys()) if (name.startsWith("trainer ") && name !== CACHE) await caches.delete(name)
  await self.clients.claim()
})()))
self.addEventListener("message", (event) => event.waitUntil((async () => {
  if (event.data === "take over") await self.skipWaiting()
  if (event.data === "mend") event.source.postMessage(await mend())
})()))
self.addEventListener("fetch", (event) => {
  const {request} = event
  if (request.method === "GET" && request.url.startsWith(self.registration.scope)) event.respondWith(answer(request))
})
