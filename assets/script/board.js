/* One board: markup drawn by Python, readings bound by data attributes, commands sent back as messages.
 *
 *   data-text data-state data-title data-unit   readings[KEY].text / .state / .title / .unit (data-named: its own name)
 *   data-needle data-fill data-shift            readings[KEY].fraction, 0 to 1
 *   data-flow data-pressure                     readings[KEY].flow / .level
 *   data-html data-dialog                       page texts: escaped rows, a card that opens and closes
 *   data-download data-sound data-noise         a file to keep, the alarm horn, what is heard at the unit (noise.js);
 *                                               data-sound-switch lets them be heard
 *   data-look data-keep                         the window on a drawing, a text to keep in this browser
 *   data-send (data-hold, data-release) data-page data-choose data-load data-show data-open-card data-about     what a hand may do
 *   data-find data-found data-find-course data-find-clear data-vary     fields that narrow the list of drills, how many
 *                                               are left, what sets and clears them; what an empty variation means
 *   data-recall data-chosen                     a kept text, a field's value that goes with the message
 *   data-lift                                   a cover over the hands of a piece
 *   data-form                                   works the unit in its picture, or in lists
 *   data-first                                  takes the focus
 *
 * Every message goes to the server by the model and to the page as the DOM event "trainer-message", so the
 * edition without a server hears the same words. Nothing is decided here.
 */
const KINDS = ["text", "state", "title", "unit", "needle", "fill", "shift", "pick", "flow", "pressure", "html",
  "dialog", "sound", "noise", "look", "keep"]
const HOLD_MS = 250, LONG_MS = 400
/* More samples of a chart than this are not kept. */
const LONGEST = 14400
const number = (text, otherwise) => (text === undefined ? otherwise : Number(text))

const show = {
  text(el, r) { if (r.text !== undefined) el.textContent = r.text },
  unit(el, r) { if (r.unit !== undefined) { el.textContent = r.symbol ?? r.unit; el.dataset.value = r.unit } },
  state(el, r) {
    // The hand stays on the valve that it has turned: what turns it back stands in the same place.
    const turned = el.dataset.value !== r.state && el.matches(".piece:has(.hand-turn:focus)")
    el.dataset.value = r.state
    if (turned) [...el.querySelectorAll(".hand-turn")].find((hand) => hand.checkVisibility())?.focus({preventScroll: true})
    if (el.dataset.when === undefined) return
    el.toggleAttribute("data-on", r.state === el.dataset.when)
    if (el.hasAttribute("aria-pressed")) el.setAttribute("aria-pressed", String(r.state === el.dataset.when))
  },
  title(el, r) {
    // What has a name of its own keeps it: only the reading is taken from the sentence.
    const own = el.dataset.named, said = own === undefined ? r.title : `${own}: ${r.title.slice(r.title.lastIndexOf(": ") + 2)}`
    el.setAttribute("aria-label", said)
    const tip = el.querySelector(":scope > title")
    if (tip) tip.textContent = said
    else if (!(el instanceof SVGElement)) el.title = said
  },
  needle(el, r) {
    const from = number(el.dataset.sweepFrom, -130), to = number(el.dataset.sweepTo, 130)
    const centre = el.dataset.cx === undefined ? "" : ` ${el.dataset.cx} ${el.dataset.cy}`
    el.setAttribute("transform", `rotate(${(from + r.fraction * (to - from)).toFixed(2)}${centre})`)
  },
  fill(el, r) {
    const across = el.dataset.fillAxis === "x", size = across ? "width" : "height"
    if (el.dataset.full === undefined) { el.style[size] = `${100 * r.fraction}%`; return }
    const length = el.dataset.full * r.fraction
    el.setAttribute(size, length.toFixed(2))
    if (!across && el.dataset.bottom !== undefined) el.setAttribute("y", (el.dataset.bottom - length).toFixed(2))
  },
  shift(el, r) {
    const x = (el.dataset.dx ?? 0) * r.fraction, y = (el.dataset.dy ?? 0) * r.fraction
    el.setAttribute("transform", `translate(${x.toFixed(2)} ${y.toFixed(2)})`)
  },
  pick(el, r) {
    // A field that somebody is busy with is left alone; a slider follows again as soon as it is let go.
    if (el !== el.getRootNode().activeElement || (el.type === "range" && !el.matches(":active"))) el.value = r.text
  },
  flow(el, r) { el.dataset.flowing = r.flow },
  pressure(el, r) { el.dataset.level = r.level },
  html(el, r) {
    const held = el.getRootNode().activeElement, busy = el.contains(held)
    const typed = [...el.querySelectorAll("[data-typed]")], chosen = el.value
    el.innerHTML = r.html
    // What was chosen of a list stays chosen while it is there.
    if (el.tagName === "SELECT" && [...el.options].some(({value}) => value === chosen)) el.value = chosen
    // A figure that is half typed is typed on.
    for (const old of typed) {
      const field = el.querySelector(`[data-typed="${old.dataset.typed}"]`)
      if (field) field.value = old.value
      if (old === held) field?.focus()
    }
    // Whoever works from the keyboard stays where the news is.
    if (busy) [...el.querySelectorAll("[data-first]")].at(-1)?.focus()
  },
  look(el, r) { el.dispatchEvent(new CustomEvent("trainer-look", {bubbles: true, composed: true, detail: r})) },
  keep(el, r) {
    try { localStorage.setItem(r.state, r.add === undefined ? r.text : added(r)) } catch (error) { console.warn("not kept:", error) }
  },
  dialog(el, r) {
    const opens = r.state === "open" && !el.open
    if (opens) el.show()
    if (r.state !== "open" && el.open) el.close()
    if (el.open) el.focus({preventScroll: true})
    // A text is read from its beginning.
    if (opens) el.scrollTop = 0
  },
  download(el, r) {
    if (!r.content) return
    const link = document.createElement("a")
    link.href = URL.createObjectURL(new Blob([r.content], {type: r.type}))
    link.download = r.file
    link.click()
    setTimeout(() => URL.revokeObjectURL(link.href), 1000)
  },
  sound(el, r) { horn(r.state) },
  noise(el, r) { turn("noise", r.state) },
}

/* A kept list with one more record, once, and the day it came. */
function added(r) {
  let list = []
  try { list = JSON.parse(localStorage.getItem(r.state) ?? "[]") } catch { /* damaged: begin anew */ }
  if (!Array.isArray(list)) list = []
  if (!list.some((one) => one?.id === r.add.id)) list.push({...r.add, at: new Date().toISOString().slice(0, 10)})
  return JSON.stringify(list.slice(-r.most))
}

/* The kept attempts as a message has room for them: every text once, the oldest left out where there are too many. */
const ATTEMPTS = "trainer-attempts", LEARNT = "trainer-learnt-", LONGEST_TOLD = 17_000
function attempts() {
  let list = []
  try { list = JSON.parse(localStorage.getItem(ATTEMPTS) ?? "[]") } catch { /* damaged: begin anew */ }
  list = Array.isArray(list) ? list.filter((one) => one?.points) : []
  for (;; list = list.slice(Math.ceil(list.length / 10))) {
    const texts = new Map(), place = (text) => texts.get(text) ?? texts.set(text, texts.size).get(text)
    const rows = list.map(({id, title, mode, score, passed, at, points}) => [id, place(title), mode, score, +passed, at ?? "",
      Object.entries(points).flatMap(([name, pair]) => [place(name), ...pair])])
    const text = JSON.stringify({texts: [...texts.keys()], rows})
    if (!rows.length || JSON.stringify(text).length <= LONGEST_TOLD) return text
  }
}
const recalled = (name) => name === ATTEMPTS ? attempts() : localStorage.getItem(name) ?? ""

/* What is kept here of whoever practises: it goes with the greeting, so that the first page can say what comes next. */
function brought() {
  const rigs = Object.keys(localStorage).filter((name) => name.startsWith(LEARNT)).slice(0, 100)
  const day = new Date(Date.now() - new Date().getTimezoneOffset() * 60_000).toISOString().slice(0, 10)
  return {attempts: attempts(), first_run: localStorage.getItem("trainer-first-run") === "done", today: day,
    language: localStorage.getItem("trainer-language") ?? navigator.language,
    learnt: Object.fromEntries(rigs.map((name) => [name.slice(LEARNT.length), localStorage.getItem(name).split("\n")[0]]))}
}

let context = null, ringing = null, rang = "off"
function horn(state) {
  rang = state
  if (ringing) { clearInterval(ringing); ringing = null }
  if ((state !== "on" && state !== "urgent") || localStorage.getItem("trainer-sound") !== "on") return
  const beep = () => {
    context ??= new AudioContext()
    if (context.state !== "running") { context.resume(); return }
    const tone = context.createOscillator(), level = context.createGain()
    tone.frequency.value = state === "urgent" ? 880 : 660
    level.gain.value = 0.05
    tone.connect(level).connect(context.destination)
    tone.start()
    tone.stop(context.currentTime + 0.18)
  }
  try { beep(); ringing = setInterval(beep, state === "urgent" ? 450 : 900) } catch (error) { console.warn("no alarm sound:", error) }
}

/* What the page itself turns on and off: the page in view, the station in view, the theme. */
const KEPT_TURNS = ["theme", "split", "unit"]
/* What stands at the control unit is worked in its picture or in lists: the one chosen (sheet.js has it begin). */
const UNIT = ["unit", "care", "picture"]
const formed = (view) => !UNIT.includes(view) ? view
  : document.documentElement.dataset.unit === "picture" ? "picture" : view === "picture" ? "unit" : view
function turn(what, value) {
  if (what === "view") value = formed(value)
  const root = document.documentElement, before = root.dataset[what]
  if (before === value) return
  root.dataset[what] = value
  // A run begins at the driller's panel; which view is in sight after that is the reader's own choice.
  if (what === "page" && (value === "chooser" || before === "sheet" && value === "console")) turn("view", "driller")
  if (KEPT_TURNS.includes(what)) localStorage.setItem(`trainer-${what}`, value)
  window.dispatchEvent(new CustomEvent("trainer-turned", {detail: {what, value}}))
}

/* The language of the page: boards come in it; the page's own texts are known by their English. */
const english = new WeakMap()
function speak({state, direction, said}) {
  const root = document.documentElement
  root.lang = state
  root.dir = direction
  localStorage.setItem("trainer-language", state)
  document.cookie = `trainer-language=${state}; path=/; max-age=31536000; SameSite=Lax` // for a server's plain pages
  const tell = (node, now, put) => {
    const own = english.get(node) ?? now.trim()
    if (!(own in said) && !english.has(node)) return
    english.set(node, own)
    put(said[own] ?? own)
  }
  for (const node of document.querySelectorAll("[aria-label]"))
    tell(node, node.getAttribute("aria-label"), (text) => node.setAttribute("aria-label", text))
  const title = document.querySelector("title")
  if (title?.firstChild) tell(title.firstChild, title.textContent, (text) => { title.textContent = text })
  const texts = document.createTreeWalker(document.body, 4 /* texts */)
  while (texts.nextNode()) { const node = texts.currentNode; tell(node, node.data, (text) => { node.data = text }) }
}

/* One run a browser tab: a page loaded again takes its run up where it stood. */
function token() {
  const kept = sessionStorage.getItem("trainer-seat")
  const own = kept ?? Array.from(crypto.getRandomValues(new Uint8Array(16)), (b) => b.toString(16).padStart(2, "0")).join("")
  sessionStorage.setItem("trainer-seat", own)
  return own
}

/* A line has a gap where nothing was recorded. */
const gaps = (columns) => Object.fromEntries(Object.entries(columns).map(([name, column]) => [name, column.map((value) => value ?? NaN)]))

/* In a classroom the readings of all boards and what charts gain come over a socket of their own, and what hands do
 * goes it. Until it is open, and while it is not, all that goes with the page's; each message has a number, so that
 * nothing older takes the place of something newer. */
function join({text: ticket, title: lost}, page) {
  const at = new URL("readings", document.baseURI)
  at.protocol = at.protocol === "https:" ? "wss:" : "ws:"
  const line = document.querySelector(".offline")
  let leaving = false
  let socket = null
  window.addEventListener("pagehide", () => { leaving = true })
  window.addEventListener("trainer-say", (event) => {
    if (socket?.readyState !== WebSocket.OPEN) return
    socket.send(JSON.stringify(event.detail))
    event.preventDefault()
  })
  const open = () => {
    socket = new WebSocket(at)
    socket.onopen = () => { socket.send(ticket) }
    socket.onmessage = ({data}) => {
      line.hidden = true
      const told = JSON.parse(data)
      for (const [name, {stream, data: whole}] of Object.entries(told.charts)) {
        const source = page.get_model_by_name(name)
        if (whole) source.data = gaps(whole)
        else source.stream(gaps(stream), LONGEST)
      }
      window.dispatchEvent(new CustomEvent("trainer-readings", {detail: told}))
    }
    socket.onclose = ({code}) => {
      if (leaving) return
      line.textContent = lost
      line.hidden = false
      // Another server, or another person by now: only loading the page anew helps.
      if (code < 4000) setTimeout(open, 2000)
    }
  }
  open()
}

/* What was typed into a form that was sent last: it stands there again when that is refused. */
let typed = null
function refused() {
  typed?.()
  typed = null
}

export function render({model, el, view: own}) {
  const full = {}
  const told = new Map()
  const late = new Set()
  let view = ""
  let bound = new Map()
  const board = document.createElement("div")
  board.className = "board"
  board.dataset.name = model.name
  el.replaceChildren(board)

  /* By the channel, unless it has to come behind something that goes the page library's way. */
  function send(message, behind = false) {
    const said = {...message}
    typed = null
    if (said.page === undefined) said.from = model.station
    if (behind || window.dispatchEvent(new CustomEvent("trainer-say", {detail: said, cancelable: true}))) model.send_msg(said)
    window.dispatchEvent(new CustomEvent("trainer-message", {detail: said}))
  }

  function dress() {
    board.dataset.theme = document.documentElement.dataset.theme ?? "light"
    board.dataset.unit = document.documentElement.dataset.unit
    for (const button of board.querySelectorAll("[data-sound-switch]"))
      button.setAttribute("aria-pressed", String(localStorage.getItem("trainer-sound") === "on"))
    for (const button of board.querySelectorAll("[data-split-switch]"))
      button.setAttribute("aria-pressed", String(document.documentElement.dataset.split !== "off"))
    for (const button of board.querySelectorAll("[data-show]")) {
      const here = button.dataset.show === document.documentElement.dataset.view
      if (here) button.setAttribute("aria-current", "page")
      else button.removeAttribute("aria-current")
    }
  }

  function draw() {
    board.innerHTML = model.markup
    bound = new Map()
    for (const kind of KINDS) {
      for (const target of board.querySelectorAll(`[data-${kind}]`)) {
        const key = target.dataset[kind]
        if (!bound.has(key)) bound.set(key, [])
        bound.get(key).push([show[kind], target, kind])
      }
    }
    // A header with many tabs takes two rows where they do not fit into one (page.css).
    if (model.name === "header") document.documentElement.dataset.tabs = board.querySelectorAll(".tab").length > 13 ? "many" : "few"
    dress()
    back()
    for (const list of board.querySelectorAll(".entry-read select")) inUnits(list)
    apply(Object.keys(full))
    window.dispatchEvent(new CustomEvent("trainer-drawn"))
  }

  const seen = () => board.isConnected && board.checkVisibility()

  function apply(keys) {
    if (!keys.length) return // whether it is seen costs the browser a layout
    const visible = seen()
    for (const key of keys) {
      const targets = bound.get(key)
      if (targets === undefined) continue
      if (!visible) late.add(key)
      for (const [act, target, kind] of targets) {
        if (visible || kind === "sound" || kind === "noise") act(target, full[key])
      }
    }
  }

  function take({"page.order": order, "page.channel": channel, ...news}, number = order?.n ?? 0) {
    const keys = Object.keys(news).filter((key) => number >= (told.get(key) ?? 0))
    for (const key of keys) { full[key] = {...full[key], ...news[key]}; told.set(key, number) }
    if (news["page.refusal"]?.html && keys.includes("page.refusal")) refused()
    if (keys.includes("page.page")) { turn("page", news["page.page"].state); document.documentElement.dataset.told = "" }
    // What was said before and is said again must not turn back a view that was chosen meanwhile.
    if (keys.includes("page.view") && news["page.view"].state !== view) {
      view = news["page.view"].state
      // Whoever watches sees the unit in the form in which it is worked.
      if (UNIT.includes(view) && document.querySelector(".only-watching"))
        document.documentElement.dataset.unit = view === "picture" ? "picture" : "list"
      turn("view", view)
    }
    if (keys.includes("page.language")) speak(news["page.language"])
    if (keys.includes("page.point")) turn("point", news["page.point"].state)
    if (keys.includes("page.crew")) turn("crew", news["page.crew"].state)
    if (keys.includes("page.diagnosis")) turn("diagnosis", news["page.diagnosis"].state)
    apply(keys)
    if (channel) join(channel, own.model.document)
    // A file is handed over once, not again whenever the board is drawn anew; its button may have come with a text.
    for (const key of keys) {
      if (full[key].content) { show.download(board, full[key]); delete full[key].content }
    }
  }

  function turned({detail: {what, value}}) {
    dress()
    // Whoever watches looks where this page does.
    if (what === "view" && model.name === "header") send({page: "looks", value})
    if (what === "page" && value === "chooser") requestAnimationFrame(land)
    if (late.size && seen()) { const keys = [...late]; late.clear(); apply(keys) }
  }

  /* Holding raise or lower repeats a short step, so the regulator follows the hand. A lever runs until it is let go:
   * meanwhile the page says that the hand is still there, so that a page that was lost stops it as well. */
  let holding = null
  function release() {
    if (holding) {
      clearInterval(holding.timer)
      holding.target.classList.remove("held")
      if (holding.stop) send(holding.stop)
    }
    holding = null
  }
  function hold(target) {
    release()
    const step = {value: HOLD_MS / 1000, ...JSON.parse(target.dataset.send)}
    const stop = target.dataset.release && JSON.parse(target.dataset.release)
    send(stop ? {...step, until: stop} : step)
    target.classList.add("held")
    holding = {target, stop, timer: setInterval(() => send(stop ? {page: "holding"} : step), HOLD_MS)}
  }

  /* Enable is held by one hand while the other presses a function. A short press of it is a push, which lasts a few
   * seconds: for whoever has one hand, or one pointer. Only the pointer or key that holds it lets it go. */
  let enabling = null
  function free() {
    if (!enabling) return
    const {target, soon, beat, ends} = enabling
    enabling = null
    clearTimeout(soon)
    clearInterval(beat)
    ends.abort()
    target.classList.remove("held")
    if (beat) send(JSON.parse(target.dataset.release))
  }
  function enable(target, hand) {
    free()
    send(JSON.parse(target.dataset.send))
    target.classList.add("held")
    const own = enabling = {target, ends: new AbortController()}
    own.soon = setTimeout(() => {
      send({...JSON.parse(target.dataset.held), until: JSON.parse(target.dataset.release)})
      own.beat = setInterval(() => send({page: "holding"}), HOLD_MS)
    }, LONG_MS)
    const gone = (event) => { if ((event.pointerId ?? event.key) === hand) free() }
    for (const end of ["pointerup", "pointercancel", "keyup"]) window.addEventListener(end, gone, {signal: own.ends.signal})
    window.addEventListener("blur", free, {signal: own.ends.signal})
  }

  function act(target) {
    if (target.getAttribute("aria-disabled") === "true") return
    if (target.dataset.form !== undefined) {
      turn("unit", target.dataset.form)
      // Whoever is alone walks there, by what the button sends; others have it in sight at once, from any station.
      const {view: now} = document.documentElement.dataset
      turn("view", UNIT.includes(now) || target.dataset.page !== undefined ? formed(now) : target.dataset.form)
    }
    if (target.dataset.send !== undefined) {
      send(JSON.parse(target.dataset.send))
      if (target.matches(".hand.act")) done(target)
    }
    else if (target.dataset.page !== undefined) {
      const {recall, chosen} = target.dataset
      send({...JSON.parse(target.dataset.page), ...(recall && {kept: recalled(recall)}),
        // The choice itself goes another way and may come later than the button.
        ...(chosen && {value: own.model.document?.get_model_by_name(chosen)?.value ?? ""})})
    }
    else if (target.dataset.openCard !== undefined) send({page: "card", value: target.dataset.openCard})
    else if (target.dataset.about !== undefined) send({page: "card", value: `board:${document.documentElement.dataset.view}`})
    else if (target.dataset.lift !== undefined) lift(target)
    else if (target.dataset.show !== undefined) turn("view", target.dataset.show)
    else if (target.dataset.soundSwitch !== undefined) {
      localStorage.setItem("trainer-sound", localStorage.getItem("trainer-sound") === "on" ? "off" : "on")
      window.dispatchEvent(new CustomEvent("trainer-turned", {detail: {what: "sound"}}))
      horn(rang)
    }
    else if (target.dataset.splitSwitch !== undefined) turn("split", document.documentElement.dataset.split === "off" ? "on" : "off")
    else if (target.dataset.themeSwitch !== undefined) {
      turn("theme", document.documentElement.dataset.theme === "dark" ? "light" : "dark")
      send({page: "theme", value: document.documentElement.dataset.theme})
    }
  }

  /* A cover over a lever: once it is lifted the hand is on the lever, and when the hand goes elsewhere it falls. */
  function lift(target) {
    const piece = target.closest(".piece")
    piece.toggleAttribute("data-lifted", true)
    const hands = [...piece.querySelectorAll(".hand:not(.lift)")];
    (hands.find((hand) => hand.hasAttribute("data-on")) ?? hands.find((hand) => hand.checkVisibility())).focus({preventScroll: true})
  }
  /* Once the job under it is done the cover falls, so that the part itself is seen again. */
  function done(target) {
    const piece = target.closest("[data-lifted]")
    piece?.removeAttribute("data-lifted")
    piece?.querySelector(".lift")?.focus({preventScroll: true})
  }
  const fall = ({target}) => {
    for (const piece of board.querySelectorAll("[data-lifted]")) if (!piece.contains(target)) piece.removeAttribute("data-lifted")
  }
  for (const elsewhere of ["focusin", "pointerdown"]) board.addEventListener(elsewhere, fall)

  /* Files of a person's own, as texts; whatever is far too long for one is cut, which is told on the other side. */
  async function hand(input) {
    for (const file of [...input.files]) {
      send({...JSON.parse(input.dataset.load), file: file.name, text: await file.slice(0, 1e6 + 1).text()})
    }
    input.value = ""
  }

  const ACTS = "[data-send], [data-page], [data-show], [data-open-card], [data-about], [data-theme-switch], [data-sound-switch], [data-lift], [data-form], [data-split-switch]"
  const acting = (event) => {
    const target = event.target.closest(ACTS)
    return target && target.tagName !== "FORM" && target !== board ? target : null
  }
  board.addEventListener("click", (event) => {
    const target = acting(event)
    // What a hand has held is not pressed as well; other ways to press a button send a click alone.
    if (target?.dataset.held !== undefined && event.detail > 0) return
    // Two clicks in a row on a part choose it, no more: what cannot be taken back takes a press of its own.
    if (target && !("hold" in target.dataset) && !(event.detail > 1 && target.matches(".act"))) act(target)
  })
  // A second finger makes no click of its own while the first one holds.
  let second = null
  board.addEventListener("pointerdown", (event) => {
    const target = acting(event)
    second = target && event.pointerType === "touch" && !event.isPrimary ? {target, pointer: event.pointerId} : null
    if (!target || event.button !== 0) return
    if ("held" in target.dataset) enable(target, event.pointerId)
    else if ("hold" in target.dataset) hold(target)
  })
  board.addEventListener("pointerup", (event) => {
    const pressed = second?.pointer === event.pointerId ? second.target : null
    if (pressed && pressed === acting(event) && !("hold" in pressed.dataset || "held" in pressed.dataset)) act(pressed)
  })
  // A long press of a finger is a hold here, and not the browser's menu.
  board.addEventListener("contextmenu", (event) => {
    const {hold, held} = acting(event)?.dataset ?? {}
    if (hold !== undefined || held !== undefined) event.preventDefault()
  })
  for (const end of ["pointerup", "pointercancel", "pointerleave", "keyup"]) board.addEventListener(end, release)
  // The press itself takes the focus from another button: only losing the held one lets go.
  board.addEventListener("focusout", (event) => { if (event.target === holding?.target) release() })
  board.addEventListener("keydown", (event) => {
    const target = acting(event)
    if (!target || !["Enter", " "].includes(event.key)) return
    if ("hold" in target.dataset || "held" in target.dataset) {
      event.preventDefault()
      if (!event.repeat) "held" in target.dataset ? enable(target, event.key) : hold(target)
    } else if (target.tagName !== "BUTTON" && target.tagName !== "INPUT") {
      event.preventDefault()
      if (!event.repeat) act(target)
    }
  })
  board.addEventListener("keydown", (event) => {
    const card = event.key === "Escape" ? event.target.closest("dialog[open]") : null
    if (card?.dataset.dialog === "page.brief") {
      // The clock of a run that has not begun waits for its button.
      const key = card.querySelector("[data-text='page.begin']")
      if (key.textContent !== "Begin") key.click()
    }
    else if (card) send({page: card.dataset.dialog === "page.sequences" ? "sequences" : "card", value: ""})
    const corner = event.key === "Escape" ? event.target.closest("details.room[open]") : null
    if (corner) {
      corner.open = false
      corner.querySelector("summary").focus()
    }
  })
  // A word of the trade that the pointer or the focus meets: the page says what it means (terms.js).
  const meets = (term) => window.dispatchEvent(new CustomEvent("trainer-met", {detail: term}))
  for (const met of ["focusin", "pointerover"]) board.addEventListener(met, ({target}) => meets(target.closest(".term")))
  for (const gone of ["focusout", "pointerleave"]) board.addEventListener(gone, () => meets(null))
  // A slider that is dragged: the boards follow, some times a second.
  let dragging
  board.addEventListener("input", ({target}) => {
    if (target.type !== "range" || target.dataset.choose === undefined) return
    dragging ??= setTimeout(() => {
      dragging = undefined
      send({...JSON.parse(target.dataset.choose), value: target.value})
    }, 80)
  })
  /* A drill whose title has the words stands before one that has them elsewhere; else the list keeps its order. */
  const places = new WeakMap()
  const ranker = (words, sought) => (row) => {
    const title = words ? plain(row.querySelector("h3").textContent) : ""
    return !words || title.includes(words) ? 0 : sought.every((word) => title.includes(word)) ? 1 : 2
  }
  function sort(nodes, rank) {
    nodes.forEach((node, at) => { if (!places.has(node)) places.set(node, at) })
    const wanted = nodes.toSorted((a, b) => rank(a) - rank(b) || places.get(a) - places.get(b))
    if (wanted.every((node, at) => node === nodes[at])) return
    const end = nodes.at(-1).nextSibling
    for (const node of wanted) node.parentNode.insertBefore(node, end)
  }
  /* The list of drills shows what fits the words and every choice; a heading without drills goes too. */
  const FIELDS = "[data-find], [data-vary]", SOUGHT = "trainer-sought", FROM = "trainer-from", OPENED = "trainer-opened"
  const opened = () => { try { return JSON.parse(sessionStorage.getItem(OPENED) ?? "[]") } catch { return [] } }
  const plain = (text) => text.toLowerCase().normalize("NFD").replace(/\p{M}/gu, "")
  function find() {
    const asked = {}
    for (const field of board.querySelectorAll("[data-find]")) asked[field.dataset.find] = plain(field.value.trim())
    const {words, ...choices} = asked, sought = words.split(/[\s-]+/)
    const seeks = Object.values(asked).some(Boolean), open = opened()
    // A drill for several rigs starts on the one that is sought, or on that of the course.
    const rig = choices.rig || board.querySelector("[data-find=course]")?.selectedOptions[0]?.dataset.on
    for (const choice of rig ? board.querySelectorAll(".drill-start select[name=plant]") : []) choice.value = rig
    let found = 0
    const rank = ranker(words, sought)
    const sections = [...board.querySelectorAll(".choose-section")]
    for (const section of sections) {
      let some = 0
      for (const row of section.querySelectorAll(".drill")) {
        const has = (name, value) => !value || row.dataset[name] === value || row.dataset[name].split(" ").includes(value)
        // Drills are sought by their own words, and by those that are shown, in whatever language.
        const known = `${row.dataset.words} ${plain(row.textContent)}`
        const fits = sought.every((word) => known.includes(word))
          && Object.entries(choices).every(([name, value]) => has(name, value))
        row.hidden = !fits
        some += fits ? 1 : 0
      }
      section.hidden = some === 0
      const [all, fits] = ["all", "fits"].map((name) => section.querySelector(`[data-${name}]`))
      all.hidden = seeks
      fits.hidden = !seeks
      fits.lastElementChild.textContent = some
      // What is sought is shown; without a search the groups are as they were left.
      section.open = seeks ? some > 0 : open.includes(section.dataset.group)
      found += some
      sort([...section.querySelectorAll(".drill")], rank)
    }
    sort(sections, (section) => Math.min(...[...section.querySelectorAll(".drill:not([hidden])")].map(rank), 2))
    board.querySelector("[data-found]").textContent = found
    board.querySelector(".library-none").hidden = found > 0
    board.querySelector("[data-find-clear]").hidden = !seeks
  }
  function sought() {
    const values = [...board.querySelectorAll(FIELDS)].map((field) => field.value)
    sessionStorage.setItem(SOUGHT, JSON.stringify(values))
    const empty = board.querySelector("[data-vary]").selectedOptions[0].textContent
    for (const field of board.querySelectorAll(".drill input[name=seed]")) field.placeholder = empty
    find()
  }
  /* Whoever comes back from a drill finds the list as it was left, at the drill. */
  function back() {
    if (!board.querySelector(".choose-find")) return
    try {
      const values = JSON.parse(sessionStorage.getItem(SOUGHT) ?? "[]")
      board.querySelectorAll(FIELDS).forEach((field, at) => { if (values[at] !== undefined) field.value = values[at] })
    } catch { /* damaged: as it stands */ }
    if (board.querySelector("[data-vary]").selectedIndex < 0) board.querySelector("[data-vary]").selectedIndex = 0
    sought()
    requestAnimationFrame(land)
  }
  function land() {
    const from = sessionStorage.getItem(FROM)
    if (!from || document.documentElement.dataset.page !== "chooser" || !board.querySelector(".choose-find")) return
    sessionStorage.removeItem(FROM)
    const {drill, top} = JSON.parse(from)
    const row = board.querySelector(`.drill[data-drill="${drill}"]`)
    if (row) row.closest("details").open = true
    scrollTo(0, top)
    row?.querySelector("button[type=submit]").focus({preventScroll: true})
  }
  board.addEventListener("click", ({target}) => {
    const {group} = target.closest(".choose-section > summary")?.parentElement.dataset ?? {}
    if (!group || !board.querySelector("[data-find-clear]").hidden) return
    const open = opened()
    sessionStorage.setItem(OPENED, JSON.stringify(open.includes(group) ? open.filter((one) => one !== group) : [...open, group]))
  })
  board.addEventListener("click", ({target}) => {
    const course = target.closest("[data-find-course]"), clear = target.closest("[data-find-clear]")
    if (!course && !clear) return
    for (const field of board.querySelectorAll("[data-find]")) field.value = ""
    if (course) {
      board.querySelector("[data-find=course]").value = course.dataset.findCourse
      board.querySelector(".choose-find").scrollIntoView()
    }
    sought()
    board.querySelector(course ? "[data-find=course]" : "[data-find=words]").focus({preventScroll: true})
  })
  /* An empty field of the variation: practice takes one by lot or the last again; a check takes a new one by itself. */
  const lot = () => board.querySelector("[data-vary]")?.value === "same" ? "same"
    : String(crypto.getRandomValues(new Uint32Array(1))[0] % 10_000)
  board.addEventListener("input", ({target: {dataset}}) => { if ((dataset.find ?? dataset.vary) !== undefined) sought() })
  board.addEventListener("change", (event) => {
    const choose = event.target.dataset.choose
    if (choose !== undefined) send({...JSON.parse(choose), value: event.target.value})
    if (event.target.matches(".entry-read select")) inUnits(event.target)
    if (event.target.dataset.load !== undefined) hand(event.target)
  })
  board.addEventListener("submit", (event) => {
    event.preventDefault()
    const form = event.target
    const fields = Object.fromEntries(new FormData(form))
    if (form.dataset.page !== undefined) {
      const asks = {...JSON.parse(form.dataset.page), ...fields}
      if (asks.page === "start" && asks.drill) {
        sessionStorage.setItem(FROM, JSON.stringify({drill: asks.drill, top: scrollY}))
        if (!asks.seed && asks.mode !== "check") asks.seed = lot()
      }
      send(asks)
      // What was asked for stands in the list above the field, which is free for the next.
      if (asks.page === "request") form.reset()
      return
    }
    const said = {...JSON.parse(form.dataset.send), ...fields}
    const unit = form.querySelector("[data-unit]")?.dataset.value
    if (unit && said.value) said.value = `${said.value} ${unit}`
    send(said)
    const list = form.querySelector("select"), chosen = list?.selectedOptions[0]
    const inputs = [...form.querySelectorAll("input")], values = inputs.map(({value}) => value)
    for (const field of inputs) field.value = ""
    if (list) goOn(list)
    typed = () => {
      inputs.forEach((field, at) => { field.value ||= values[at] })
      if (!list) return
      delete chosen.dataset.entered
      list.value = chosen.value
      inUnits(list)
    }
    window.dispatchEvent(new CustomEvent("trainer-entered"))
  })
  /* A list of what is to be entered asks anew which reading the next one is; what is for the log goes on in its order. */
  function goOn(list) {
    const chosen = list.selectedOptions[0], all = [...list.options]
    chosen.dataset.entered = ""
    const row = chosen.parentElement === list && all[0].value === "" ? [] : all
    const at = row.indexOf(chosen)
    const next = [...row.slice(at + 1), ...row.slice(0, at)].find(({value, dataset}) => value && dataset.entered === undefined)
    list.value = next?.value ?? all[0].value
    inUnits(list)
  }
  /* The field beside the list shows in which unit the chosen reading is entered. */
  function inUnits(list) {
    const field = list.form.elements.value
    field.dataset.bare ??= field.placeholder
    field.placeholder = list.selectedOptions[0]?.dataset.in || field.dataset.bare
  }
  // What opens by a button that stands at an edge opens beside it, wherever the view has put that.
  board.addEventListener("beforetoggle", ({target, newState}) => {
    const button = target.matches(".reports") && board.querySelector(`[popovertarget="${target.id}"]`)
    if (!button || newState !== "open") return
    const {top, bottom, right} = button.getBoundingClientRect(), below = bottom < innerHeight / 2
    target.style.inset = `${below ? `${bottom + 4}px` : "auto"} ${Math.max(8, innerWidth - right)}px ${below ? "auto" : `${innerHeight - top + 4}px`} auto`
  }, true)

  const changed = () => take(model.readings)
  const given = ({detail: {n, boards}}) => { const own = boards[model.name]; if (own) take(own, n) }
  model.on("change:readings", changed)
  model.on("change:markup", draw)
  window.addEventListener("trainer-turned", turned)
  window.addEventListener("trainer-readings", given)
  model.on("remove", () => { release(); horn(false); window.removeEventListener("trainer-turned", turned); window.removeEventListener("trainer-readings", given) })
  draw()
  changed()
  // What is chosen in a widget of the page library goes the way of every message, behind the change itself, so that
  // the server knows the field's value before it hears of it.
  for (const name of model.name === "diagnosis" ? ["diagnosis.part", "diagnosis.fault"] : []) {
    const field = own.model.document?.get_model_by_name(name)
    field?.properties.value.change.connect(() => setTimeout(() => send({page: field.tags[0], value: field.value}, true)))
    // A field to search in tells what is typed as well.
    if (field?.tags.length > 1)
      field.properties.value_input.change.connect(() => setTimeout(() => send({page: field.tags[1], value: field.value_input}, true)))
  }
  if (model.name === "header")
    send({page: "hello", value: token(), theme: document.documentElement.dataset.theme, ...brought()})
}
