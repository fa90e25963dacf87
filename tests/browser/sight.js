/* What can be seen and reached on the page: only what lies in the window, or scrolls into it, and is not covered.
 * Installed as window.sight; each function gives plain data. */
(() => {
  const boards = new Map()
  function* deep(root) {
    for (const node of root.querySelectorAll("*")) {
      yield node
      if (node.shadowRoot) yield* deep(node.shadowRoot)
    }
  }
  function known() {
    if (!boards.size || [...boards.values()].some((board) => !board.isConnected)) {
      boards.clear()
      for (const node of deep(document)) if (node.dataset?.name !== undefined && node.classList.contains("board")) boards.set(node.dataset.name, node)
    }
    return boards
  }
  const parent = (node) => node.assignedSlot ?? node.parentNode ?? node.host ?? null
  function within(node, outer) {
    for (let at = node; at; at = at instanceof ShadowRoot ? at.host : parent(at)) if (at === outer) return true
    return false
  }
  function under(x, y) {
    let hit = document.elementFromPoint(x, y)
    while (hit?.shadowRoot) {
      const inner = hit.shadowRoot.elementFromPoint(x, y)
      if (!inner || inner === hit) break
      hit = inner
    }
    return hit
  }
  const told = (node) => node ? `${node.tagName.toLowerCase()}.${[...node.classList].join(".")}` : "nothing"
  const drawn = (node) => node.checkVisibility({opacityProperty: true, visibilityProperty: true})
  function middle(node) {
    const box = node.getBoundingClientRect()
    return [box.left + box.width / 2, box.top + box.height / 2, box.width, box.height]
  }
  const inside = (x, y) => x >= 0 && y >= 0 && x < innerWidth && y < innerHeight

  /* Why a person cannot press something; an empty text where they can. */
  function barred(node) {
    if (!node?.isConnected) return "it is not on the page"
    if (!drawn(node)) return "it is hidden"
    if (node.disabled || node.closest("[aria-disabled=true]")) return "it is disabled"
    let [x, y, w, h] = middle(node)
    if (w < 1 || h < 1) return "it has no size"
    if (!inside(x, y)) {
      node.scrollIntoView({block: "center", inline: "center"});
      [x, y] = middle(node)
    }
    if (!inside(x, y)) return `its middle (${x.toFixed(0)}, ${y.toFixed(0)}) lies outside the window`
    if (!within(under(x, y), node)) {
      // It may be scrolled out of a list that stands in the window itself.
      node.scrollIntoView({block: "center", inline: "center"});
      [x, y] = middle(node)
    }
    const hit = under(x, y)
    return within(hit, node) ? "" : `at its middle a click reaches ${told(hit)}`
  }

  /* The same for what is only looked at: what holds it may be on top of it, nothing else. */
  function unseen(node) {
    // A number that was not measured yet has words in its place.
    const words = node.closest('.tested[data-level="dead"]')?.querySelector(":scope > span")
    if (words && words !== node && !drawn(node) && !unseen(words)) return "not measured yet"
    if (!drawn(node)) return "hidden"
    let [x, y, w, h] = middle(node)
    if (w < 1 || h < 1) return "without size"
    if (!inside(x, y)) {
      node.scrollIntoView({block: "center", inline: "center"});
      [x, y] = middle(node)
    }
    if (!inside(x, y)) return "outside the window"
    const hit = under(x, y), face = node.closest("[data-name] *:not(span):not(b):not(strong):not(p)") ?? node
    return within(hit, face) || within(node, hit) && hit !== document.body ? "" : `covered by ${told(hit)}`
  }

  const forReaders = (node) => node.closest(".sr") !== null

  /* What is shown of a reading: {text}, or {state}, or where it is hidden: {at: [board, ...], why}. */
  function read(tag, state) {
    const at = [], why = []
    const look = (nodes, give) => {
      for (const [name, node] of nodes) {
        const bar = unseen(node)
        if (!bar) return give(node)
        at.push(name)
        why.push(`${name}: ${bar}`)
      }
      return null
    }
    const all = (selector) => [...known()].flatMap(([name, board]) =>
      [...board.querySelectorAll(selector)].filter((node) => !forReaders(node)).map((node) => [name, node]))
    const quoted = CSS.escape(tag)
    const seen = look(all(`[data-text=${quoted}]`), (node) => ({text: node.textContent}))
      ?? look(all(`[data-pick=${quoted}]`), (node) => ({text: node.value}))
      ?? (state ? look(all(`[data-state=${quoted}]`), (node) => ({state: node.dataset.value ?? ""})) : null)
    return seen ?? {at: [...new Set(at)], why: why.join("; ")}
  }

  /* What stands at the edges of the page at this moment. */
  function glance() {
    const page = document.documentElement.dataset
    const text = (key, part) => {
      for (const board of known().values()) {
        for (const node of board.querySelectorAll(`[data-${part}="${key}"]`)) {
          if (drawn(node) && node.innerText.trim()) return node.innerText
        }
      }
      return ""
    }
    return {
      page: page.page, view: page.view, unit: page.unit, clock: text("page.clock", "text"), told: text("page.told", "text"),
      situation: text("page.situation", "html"), refusal: text("page.refusal", "html"),
    }
  }

  function focused() {
    let at = document.activeElement
    while (at?.shadowRoot?.activeElement) at = at.shadowRoot.activeElement
    return at
  }
  /* How many presses of the tab key lead from the focus to a control; less than none leads backwards. */
  function tabs(node) {
    const order = [...deep(document)].filter((at) =>
      at.matches("button, input, select, textarea, a[href], summary, [tabindex]")
      && at.tabIndex >= 0 && !at.disabled && drawn(at))
    const there = order.indexOf(node)
    return there < 0 ? null : there - order.indexOf(focused())
  }
  window.sight = {tabs, barred, unseen, read, glance, focused}
})()
