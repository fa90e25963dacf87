/* The page that fits a plant file to a rig. It keeps the list of orders, sends all of them after each change, and shows
 * what comes back; what is right or wrong is decided by the server, in the plant's own words. */
(() => {
  const $ = (id) => document.getElementById(id)
  const head = $("fit-head"), token = document.querySelector("input[name=_xsrf]")?.value
  let orders = [], waiting = 0, edits = 0, wanted = "", running = false, tentative = []

  const words = () => ({
    base: head.elements.base.value, id: head.elements.id.value.trim(), title: head.elements.title.value.trim(),
    board: $("fit-board").value, theme: matchMedia("(prefers-color-scheme: dark)").matches ? "dark" : "light", orders,
  })
  // Where there is no server, Python in the browser is asked (plan.js).
  const asked = window.trainerPlan ?? (async (what, said) => {
    try {
      const answer = await fetch(`/fit/${what}`, {
        method: "POST", headers: {"Content-Type": "application/json", "X-XSRFToken": token}, body: JSON.stringify(said),
      })
      if (answer.ok) return await answer.json()
    } catch { /* told below */ }
    return {wrong: "The server did not answer as it should. Reload the page and try again."}
  })
  const ask = (what, more) => asked(what, {...words(), ...more})
  function list(id, lines) {
    $(id).replaceChildren(...lines.map((line) => Object.assign(document.createElement("li"), {textContent: line})))
  }
  function tell(id, text, bad) {
    const line = Object.assign(document.createElement("p"), {textContent: text, className: bad ? "told told-alert" : "told told-good"})
    $(id).replaceChildren(...(text ? [line] : []))
  }
  /* A rule of the whole rig names part and key in its sentence: "bank bank_a: precharge ...". */
  function means(fault, place) {
    const steps = place.split("."), key = steps.pop()
    return fault.place === place || (steps.length > 0 && fault.text.startsWith(`${steps.join(" ")}: `) && fault.text.split(/\W+/).includes(key))
  }
  function show(said) {
    if (said.form !== undefined) {
      const open = new Set([...document.querySelectorAll("#fit-form details[open] > summary")].map((s) => s.textContent.replace(/ \(\d+\)$/, "")))
      $("fit-form").innerHTML = said.form
      for (const summary of document.querySelectorAll("#fit-form summary"))
        if (open.has(summary.textContent.replace(/ \(\d+\)$/, ""))) summary.parentElement.open = true
    }
    const faults = said.wrong !== undefined ? said.wrong.split("\n").map((text) => ({place: "", text})) : said.faults ?? []
    const heading = Object.assign(document.createElement("p"), {textContent: "Not sound yet:"})
    const lines = document.createElement("ul")
    lines.append(...faults.map((f) => Object.assign(document.createElement("li"), {textContent: f.text})))
    $("fit-faults").className = faults.length ? "told told-alert" : ""
    $("fit-faults").replaceChildren(...(faults.length ? [heading, lines] : []))
    for (const field of document.querySelectorAll("[data-place]")) {
      if (said.given !== undefined) field.dataset.given = String(said.given.includes(field.dataset.place))
      field.setAttribute("aria-invalid", String(faults.some((f) => means(f, field.dataset.place))))
    }
    if (said.differences !== undefined) list("fit-differences", said.differences.length ? said.differences : ["none"])
    for (const option of $("fit-board").options) option.hidden = said.boards !== undefined && !said.boards.includes(option.value)
    if (said.drawing) $("fit-drawing").srcdoc = said.drawing
    document.body.dataset.fit = faults.length ? "faulty" : "sound"
    $("fit-stale").textContent = said.wrong !== undefined ? "Not checked: see what is wrong."
      : faults.length ? "Not sound: the preview is older than your last change." : "Checked: what stands here is your rig as it is now."
  }
  function edited() {
    edits++
    document.body.dataset.fit = "asking"
    $("fit-stale").textContent = "Checking… what stands here is older than your last change."
  }
  // One question at a time. What is edited meanwhile overtakes its answer and is asked in one more, with all of it.
  async function renew(what) {
    clearTimeout(waiting)
    edited()
    wanted = wanted === "form" ? "form" : what
    $("fit-drills").replaceChildren()
    $("fit-try-all").hidden = true
    if (running) return
    running = true
    while (wanted) {
      const now = wanted, at = edits
      wanted = ""
      const said = await ask(now)
      if (edits !== at) {
        wanted = now === "form" ? "form" : wanted || "check"
        continue
      }
      if (said.wrong !== undefined) orders = orders.filter((order) => !tentative.includes(order))
      tentative = []
      show(said)
    }
    running = false
  }
  function change(order) {
    orders.push(order)
    tentative.push(order)
    renew("form")
  }

  function put(place, value) {
    // What was put before a part was added or taken out may have meant another place of the same name.
    const from = orders.findLastIndex((order) => order[0] !== "put") + 1
    orders = orders.filter((order, at) => at < from || order[1] !== place)
    orders.push(["put", place, value])
  }
  // Enter says that the value that stands in a field is this rig's own.
  $("fit-form").addEventListener("keydown", (event) => {
    const place = event.target.dataset?.place
    if (event.key !== "Enter" || place === undefined || !event.target.value.trim()) return
    event.preventDefault()
    put(place, event.target.value)
    renew("check")
  })
  document.addEventListener("input", (event) => {
    const place = event.target.dataset?.place
    if (place === undefined && event.target.form !== head) return
    if (event.target.name === "base") return
    if (place !== undefined) put(place, event.target.value)
    edited()
    tell("fit-told", "")
    clearTimeout(waiting)
    waiting = setTimeout(() => renew("check"), 200)
  })
  head.elements.base.addEventListener("change", () => {
    // A rig of one's own goes on under its own id.
    const own = JSON.parse(head.dataset.own), base = head.elements.base.value
    head.elements.id.value = base in own ? base : "my_rig"
    head.elements.title.value = own[base] ?? "My rig"
    orders = []
    renew("form")
  })
  $("fit-board").addEventListener("change", () => renew("check"))
  $("fit-undo").addEventListener("click", () => { orders.pop(); renew("form") })
  $("fit-form").addEventListener("submit", (event) => {
    event.preventDefault()
    const form = event.target
    change(["add", form.dataset.add, form.elements.new.value.trim(), form.elements.like.value])
  })
  $("fit-form").addEventListener("click", (event) => {
    const button = event.target.closest("[data-remove], [data-order]")
    if (button?.dataset.order) change(JSON.parse(button.dataset.order))
    else if (button) change(["remove", button.dataset.remove, button.dataset.part])
  })
  head.addEventListener("submit", async (event) => {
    event.preventDefault()
    const said = await ask("save")
    tell("fit-told", said.saved ?? said.wrong, said.saved === undefined)
    if (said.saved === undefined) return
    const link = (href, textContent) => Object.assign(document.createElement("a"), {href, textContent})
    const {home, sheet} = head.dataset
    $("fit-told").append(link(home, "To the drills"), " · ", link(`${sheet}${encodeURIComponent(words().id)}`, "Its planning sheet"))
  })
  function drill(item, row) {
    item.dataset.outcome = row.outcome
    const said = document.createElement("span")
    said.textContent = `${row.outcome}: ${row.title} `
    item.replaceChildren(said)
    if (row.why.length) {
      const why = document.createElement("ul")
      why.append(...row.why.map((text) => Object.assign(document.createElement("li"), {textContent: text})))
      item.append(why)
    }
    if (row.outcome !== "not tried yet") return
    const button = Object.assign(document.createElement("button"), {type: "button", textContent: "Try it"})
    button.setAttribute("aria-label", `Try ${row.title}`)
    button.addEventListener("click", () => tryIt(item, row))
    item.append(button)
  }
  async function tryIt(item, row) {
    item.dataset.outcome = "trying"
    item.replaceChildren(`trying: ${row.title}`)
    const said = await ask("try", {drill: row.id})
    if (said.drills !== undefined) return drill(item, said.drills[0])
    drill(item, row)
    item.append(` ${said.wrong}`)
  }
  $("fit-ask-drills").addEventListener("click", async () => {
    list("fit-drills", ["Working it out…"])
    const said = await ask("drills")
    $("fit-try-all").hidden = said.drills === undefined
    if (said.drills === undefined) return list("fit-drills", [said.wrong ?? "Not now."])
    $("fit-drills").replaceChildren(...said.drills.map((row) => {
      const item = document.createElement("li")
      drill(item, row)
      return item
    }))
  })
  $("fit-try-all").addEventListener("click", async () => {
    $("fit-try-all").hidden = true
    for (const item of [...$("fit-drills").children]) {
      const button = item.querySelector("button")
      if (button === null || !item.isConnected) continue
      button.click()
      while (item.isConnected && item.dataset.outcome === "trying") await new Promise((go) => setTimeout(go, 100))
    }
  })
  renew("form")
})()
