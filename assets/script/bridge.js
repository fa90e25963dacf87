// The page's side of the take-away edition: starts the engine's worker, hands it what hands do, and hands the patches
// that come back to the page's pieces (pieces.js). Nothing is decided here.
(() => {
  if (location.protocol === "file:") return // the page says what to do instead
  const site = JSON.parse(document.currentScript.dataset.site)
  const here = (path) => new URL(path, document.baseURI).href
  let worker

  // ---- the start, told in the stages it really has

  let stage = "", quick = true
  const marks = (window.trainerMarks = {})
  const element = (id) => document.getElementById(id)

  function progress() {
    const bar = element("start-bar"), word = element("start-stage")
    if (!bar) { addEventListener("DOMContentLoaded", progress, {once: true}); return }
    const at = site.stages.findIndex(([name]) => name === stage)
    bar.value = at + 1
    word.textContent = at < 0 ? "" : site.stages[at][1]
  }

  function reached(next) {
    stage = next
    marks[stage] = performance.now()
    progress()
  }

  async function ready() {
    // A run that was taken up shows boards at once.
    const pieces = window.trainerPieces
    if (pieces.lacking()) await pieces.furnish()
    else pieces.furnish().catch(unstarted)
    reached("ready")
    document.documentElement.dataset.engine = "ready"
    element("start").hidden = true
    offline()
    if (site.cmi5 && !course) launch().catch(unheard)
  }

  // ---- launched by a learning system: the drill of its unit begins as a check, and what comes of it is reported

  let course = null
  const unheard = (error) => tell(`${site.words.unheard} ${error.message}`)
  async function launch() {
    const {launched, session} = await import(here(site.cmi5)), address = new URL(location.href)
    if (!launched(address)) return
    course = await session(address)
    const seed = String(crypto.getRandomValues(new Uint32Array(1))[0] % 10_000)
    if (course.drill) worker.postMessage({page: "start", drill: course.drill, mode: "check", seed})
  }
  addEventListener("pagehide", () => course?.end())
  window.addEventListener("trainer-message", ({detail}) => {
    if (course && detail.page === "leave") course.end().then(() => course.back && location.assign(course.back)).catch(unheard)
  })

  function tell(text, act, word) {
    const bar = element("notice")
    if (!bar) { addEventListener("DOMContentLoaded", () => tell(text, act, word), {once: true}); return }
    const told = bar.querySelector("p")
    // What is told while another notice still stands is told beside it.
    told.textContent = bar.hidden || told.textContent.includes(text) ? text : `${told.textContent} ${text}`
    const button = bar.querySelector(".act")
    button.hidden = !act
    button.textContent = word ?? ""
    button.onclick = act
    bar.querySelector(".close").onclick = () => { bar.hidden = true }
    bar.hidden = false
  }

  // Files of a person's own are held against all rules, by a Python that starts with the library for that: `then` is
  // what it hears first. The run that was under way is taken up from the store.
  function start(full, then) {
    worker?.terminate()
    worker = new Worker(here(site.worker), {type: "module"})
    const [runtime, code, data, rest] = ["runtime", "code", "data", "rest"].map((name) => here(site[name]))
    const memory = site.memory && !full ? here(site.memory) : ""
    worker.postMessage({boot: {runtime, code, data, memory, rest, env: site.env}})
    worker.onmessage = hear
    worker.onerror = (event) => failed(event.message || "the engine could not be loaded")
    if (!full) return
    document.documentElement.dataset.engine = "starting"
    element("start").hidden = false
    worker.postMessage({page: "hello", theme: document.documentElement.dataset.theme})
    worker.postMessage(then)
  }

  // What a plain start needs more than one from a memory.
  const more = () => Promise.all([site.code, site.library].map((path) => fetch(`${here(path)}.gz`)))

  // Only once that is at hand: without a network the run under way goes on as it is.
  async function full(message) {
    const found = await more().catch(() => [{ok: false}])
    if (found.every(({ok}) => ok)) start(true, message)
    else tell(site.words.later)
  }

  function shown(patch) {
    const done = patch.sheet?.readings?.["page.attempt"]?.add
    if (done) course?.attempted(done).catch(unheard)
    window.trainerPieces.apply(patch)
  }

  function hear({data}) {
    if (data.full) full(data.full)
    if (data.patch) shown(JSON.parse(data.patch))
    quick = data.quick ?? quick
    if (data.stage === "ready") ready().catch(unstarted)
    else if (data.stage) reached(data.stage)
    if (data.unkept) tell(`${site.words.unkept} (${data.unkept})`)
    if (data.fault) failed(data.fault)
  }
  start(false)
  window.addEventListener("trainer-message", (event) => worker.postMessage(event.detail))

  addEventListener("DOMContentLoaded", () => window.trainerPieces.draw("first").catch(unstarted), {once: true})
  const unstarted = (error) => failed(error.message)
  async function failed(fault) {
    document.documentElement.dataset.engine = "failed"
    if (stage === "ready") { tell(`${site.words.fault} ${fault}`, () => location.reload(), site.words.reload); return }
    // A damaged copy in the browser's store is the one cause that mends itself: fetch what is wrong, once.
    const keeper = navigator.serviceWorker?.controller
    if (keeper && !sessionStorage.getItem("trainer-mended")) {
      sessionStorage.setItem("trainer-mended", "1")
      navigator.serviceWorker.addEventListener("message", () => location.reload(), {once: true})
      keeper.postMessage("mend")
      return
    }
    element("start-stage").textContent = `${site.words.unstarted} ${fault}`
    element("start").dataset.failed = ""
  }

  // ---- offline use, and the change to a newer version between two visits

  // No start waits until the store is held against its hashes: that is done now.
  const CHECK_AFTER_MS = 5000
  function check() {
    navigator.serviceWorker.addEventListener("message", ({data: {mended, lost}}) => {
      if (lost) tell(site.words.damaged)
      else if (mended) tell(site.words.mended, () => location.reload(), site.words.reload)
    }, {once: true})
    navigator.serviceWorker.controller?.postMessage("mend")
  }

  async function offline() {
    sessionStorage.removeItem("trainer-mended")
    if (!navigator.serviceWorker) { tell(site.words.insecure); return }
    try {
      const keeper = await navigator.serviceWorker.register(here("service-worker.js"))
      const first = keeper.active ? null : keeper.installing
      first?.addEventListener("statechange", () => first.state === "redundant" && tell(site.words.unoffline))
      await navigator.serviceWorker.ready
      await navigator.storage?.persist?.()
      setTimeout(check, CHECK_AFTER_MS)
      // A plain start needs as much without a network too.
      if (!quick) await more()
      document.documentElement.dataset.offline = "ready"
      const renew = () => keeper.waiting && keeper.active && tell(site.words.newer, () => {
        navigator.serviceWorker.addEventListener("controllerchange", () => location.reload(), {once: true})
        keeper.waiting.postMessage("take over")
      }, site.words.reload)
      renew()
      keeper.addEventListener("updatefound", () => keeper.installing.addEventListener("statechange", renew))
    } catch (error) { tell(`${site.words.unoffline} (${error.message})`) }
  }
})()
