// The pages of planning without a server: Python in a worker of its own answers what the page asks (plan_session.py).
(() => {
  if (location.protocol === "file:") return // the page says what to do instead
  const site = JSON.parse(document.currentScript.dataset.site)
  const here = (path) => new URL(path, document.baseURI).href
  const $ = (id) => document.getElementById(id)
  const asked = new Map(), given = new URLSearchParams(location.search)
  let number = 0, unkept = "", broken = ""

  const worker = new Worker(here(site.worker), {type: "module"})
  worker.onmessage = ({data}) => {
    if (data.stage) $("plan-stage").textContent = site.stages[data.stage] ?? ""
    if (data.stage === "ready") $("plan-stage").hidden = true
    if (data.unkept) unkept = `${site.words.unkept} (${data.unkept})`
    if (data.fault) failed(data.fault)
    if (data.patch) answered(JSON.parse(data.patch))
  }
  worker.onerror = (event) => failed(event.message || "the engine could not be loaded")
  const [runtime, code, data, rest] = ["runtime", "code", "data", "rest"].map((name) => here(site[name]))
  worker.postMessage({boot: {runtime, code, data, memory: "", rest, env: site.env, desk: site.desk}})
  worker.postMessage({page: "hello"})

  function answered(said) {
    asked.get(said.plan)?.(said)
    asked.delete(said.plan)
  }
  function failed(fault) {
    const started = $("plan-stage").hidden
    broken = started ? `${site.words.fault} ${fault}` : `${site.words.unstarted} ${fault}`
    $("plan-stage").hidden = false
    $("plan-stage").textContent = broken
    for (const plan of [...asked.keys()]) answered({plan, wrong: broken})
  }
  const plan = window.trainerPlan = (what, {orders = [], ...words}) => new Promise((resolve) => {
    const wrong = what === "save" && unkept ? unkept : broken
    if (wrong) return resolve({wrong})
    asked.set(++number, resolve)
    worker.postMessage({page: "plan", number, what, words, orders})
  })

  // ---- rigs of one's own are known to Python only

  async function offerOwn(choice) {
    const {own = {}} = await plan("own", {})
    for (const [value, textContent] of Object.entries(own)) choice.append(Object.assign(document.createElement("option"), {value, textContent}))
    return own
  }
  async function fit(head) {
    head.dataset.own = JSON.stringify(await offerOwn(head.elements.base))
    if (!given.has("base")) return
    head.elements.base.value = given.get("base")
    if (head.elements.base.selectedIndex < 0) head.elements.base.selectedIndex = 0
    head.elements.base.dispatchEvent(new Event("change", {bubbles: true}))
  }

  async function sheet(form) {
    await offerOwn(form.elements.plant)
    for (const [name, value] of given) if (form.elements[name]) form.elements[name].value = value
    if (form.elements.plant.selectedIndex < 0) form.elements.plant.selectedIndex = 0
    const words = () => Object.fromEntries(new FormData(form))
    async function show() {
      $("sheet-told").textContent = site.words.working
      $("sheet").replaceChildren()
      $("sheet-files").hidden = true
      const said = await plan("sheet", words())
      $("sheet-told").textContent = said.wrong ?? ""
      if (said.wrong !== undefined) return
      document.querySelector("h1").textContent = `Planning sheet of ${said.title}`
      $("sheet").innerHTML = said.content
      $("sheet-fit").href = `fit.html?base=${encodeURIComponent(words().plant)}`
      $("sheet-files").hidden = false
    }
    form.addEventListener("submit", (event) => { event.preventDefault(); show() })
    $("sheet-print").addEventListener("click", () => window.print())
    $("sheet-csv").addEventListener("click", async () => {
      const said = await plan("csv", words())
      if (said.wrong !== undefined) { $("sheet-told").textContent = said.wrong; return }
      const href = URL.createObjectURL(new Blob([said.csv], {type: "text/csv"}))
      Object.assign(document.createElement("a"), {href, download: `planning-${words().plant}.csv`}).click()
      URL.revokeObjectURL(href)
    })
    await show()
  }

  // Once somebody plans, what that needs is kept for the next time without a network, by the keeper of the site.
  const keeper = navigator.serviceWorker
  const kept = () => site.later.forEach((path) => fetch(here(path)).catch(() => null))
  if (keeper?.controller) kept()
  else keeper?.addEventListener("controllerchange", kept, {once: true})

  addEventListener("DOMContentLoaded", () => {
    if ($("fit-head")) fit($("fit-head"))
    if ($("sheet-form")) sheet($("sheet-form"))
  })
})()
