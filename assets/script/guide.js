/* What the page does around its boards: it lights what the coach speaks of, on the board and on the tab where it is;
 * the diagnosis panel takes the focus when it opens, and Escape closes it. */
(() => {
  function* deep(root) {
    for (const node of root.querySelectorAll("*")) {
      yield node
      if (node.shadowRoot) yield* deep(node.shadowRoot)
    }
  }
  /* The coach points: targets by name, each with the views where it stands ("" is always in sight). */
  const said = (node) => JSON.parse(node.dataset.send)
  const ROW = ".keys, .choice-row, .post > .row"
  const amongOthers = (node) => node.parentElement?.matches(ROW)
  const isOf = {
    tag: (node, name) => node.dataset.tag === name || (node.dataset.text === name && !node.closest("[data-tag]")),
    control: (node, name) => {
      const [target, value] = name.split("=")
      if (node.dataset.send !== undefined) return said(node).target === target && (value === undefined ? !amongOthers(node) : said(node).value === value)
      // Of a control with several positions none of which is meant alone, the row of them is lit as one.
      return value === undefined && node.matches(ROW) && [...node.children].some((one) => one.dataset.send !== undefined && said(one).target === target)
    },
    say: (node, name) => node.dataset.send !== undefined && said(node).do === "say" && (name === "" || [name, undefined].includes(said(node).target)),
    read: (node, name) => node.dataset.send !== undefined && said(node).do === "read" && [name, undefined].includes(said(node).target),
    // The document's own element tells by the same attribute which page is in sight, as a plain word.
    name: (node) => node.matches("button[data-page]") && names(JSON.parse(node.dataset.page)),
    // Only the tab of the station is lit; what comes next is not lit yet.
    at: () => false,
    ahead: () => false,
  }
  // The way into the diagnosis and the report in it, not the way out.
  const names = ({page, value}) => page === "report-fault" || page === "diagnosis" && value === "open"
  function point() {
    const root = document.documentElement.dataset
    const where = root.point ? JSON.parse(root.point) : {}
    const tabs = new Set()
    // At the unit the way leads to its picture, where that is how it is worked, and from there to the lists for the rest.
    const LISTS = ["unit", "care"], pictured = root.unit === "picture"
    const apart = Object.values(where).filter((places) => !places.includes("") && !places.includes(root.view))
    for (const [first] of apart) tabs.add(pictured && LISTS.includes(first) ? "picture" : first)
    const listed = root.view === "picture" && apart.some(([first]) => LISTS.includes(first))
    const inSight = Object.keys(where).filter((target) => where[target].includes("") || where[target].includes(root.view))
    const targets = inSight.map((target) => [target.split(":")[0], target.slice(target.indexOf(":") + 1)])
    const nodes = [...deep(document)].filter((node) => node.dataset !== undefined)
    const lit = new Set(nodes.filter((node) => node.dataset.show !== undefined ? tabs.has(node.dataset.show)
      : node.dataset.form !== undefined ? listed && node.dataset.form === "list"
      : targets.some(([kind, name]) => isOf[kind](node, name))))
    // Of several reports that are asked for, the one that stands first: they are in the order of the work.
    if (targets.filter(([kind, name]) => kind === "say" && name).length > 1)
      for (const late of [...lit].filter((node) => node.matches(".report")).slice(1)) lit.delete(late)
    // What lies behind a button lights the button that opens it.
    const panels = new Set([...lit].map((node) => node.closest("[popover]")).filter(Boolean))
    for (const panel of panels)
      for (const button of panel.getRootNode().querySelectorAll(`[popovertarget="${panel.id}"]`))
        if (!panel.contains(button)) lit.add(button)
    for (const node of nodes) {
      if (lit.has(node)) node.dataset.pointed = ""
      else if (node.dataset.pointed !== undefined) delete node.dataset.pointed
    }
  }
  /* The list of readings stands on the one that the coach asks for, unless somebody is busy with it. */
  function follow(news) {
    const asked = Object.keys(JSON.parse(document.documentElement.dataset.point || "{}"))
      .map((target) => target.split(":")).filter(([kind]) => kind === "read" || kind === "ahead").map(([, name]) => name)
    const list = asked.length ? [...deep(document)].find((node) => node.id === "read-what") : undefined
    if (!list || list.getRootNode().activeElement === list || list.form.elements.value.value !== "") return
    const offered = asked.map((name) => [...list.options].find((option) => option.value === name)).filter(Boolean)
    // Of several that are asked for, the first that was not entered yet: the coach names them in this order.
    const due = offered.find((option) => option.dataset.entered === undefined) ?? (news ? offered[0] : undefined)
    if (!due) return
    list.value = due.value
    list.dispatchEvent(new Event("change", {bubbles: true}))
  }
  addEventListener("trainer-turned", ({detail: {what}}) => { if (["point", "view", "page"].includes(what)) point() })
  addEventListener("trainer-turned", ({detail: {what}}) => { if (what === "point") follow(true) })
  addEventListener("trainer-entered", () => follow(false))
  addEventListener("trainer-drawn", () => { if (document.documentElement.dataset.point) point() })

  // A page that waits in vain says so.
  const SLOW_MS = 20_000
  setTimeout(() => {
    const line = document.querySelector(".waiting")
    if (line && document.documentElement.dataset.told === undefined)
      line.textContent = "The trainer has not answered yet. Your run is kept. Wait a little, then load the page again."
  }, SLOW_MS)

  const panel = () => document.querySelector(".diagnosis-place")
  addEventListener("trainer-turned", ({detail: {what, value}}) => {
    if (what !== "diagnosis" || value !== "open") return
    for (const node of deep(panel())) if (node.matches("input")) { requestAnimationFrame(() => node.focus()); return }
  })
  addEventListener("keydown", (event) => {
    if (event.key !== "Escape" || !event.composedPath().includes(panel())) return
    window.dispatchEvent(new CustomEvent("trainer-say", {detail: {page: "diagnosis", value: ""}}))
  })
})()
