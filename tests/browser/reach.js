/* What a person cannot reach or keep in sight on the console, however far the page is zoomed: the keys that end a run,
 * set its speed and enter a reading, and the well's instruments, at both ends of the scroll; every control of the view
 * after scrolling to it; and scrolling in more than one direction. */
() => {
  const faults = [], all = []
  const walk = (root) => {
    for (const el of root.querySelectorAll("*")) { all.push(el); if (el.shadowRoot) walk(el.shadowRoot) }
  }
  walk(document)
  const room = document.querySelector(".console")
  const name = (el) => (el.getAttribute("aria-label") ?? el.textContent).trim().replace(/\s+/g, " ").slice(0, 40)
  const seen = (selector) => all.filter((el) => el.matches(selector) && el.checkVisibility() && room.contains(hostOf(el)))
  const hostOf = (el) => { let e = el; while (e.getRootNode() !== document) e = e.getRootNode().host; return e }
  const deepest = (x, y) => {
    let found = document.elementFromPoint(x, y)
    while (found?.shadowRoot) {
      const inside = found.shadowRoot.elementFromPoint(x, y)
      if (!inside || inside === found) break
      found = inside
    }
    return found
  }
  const hit = (el) => {
    const box = el.getBoundingClientRect(), x = (box.left + box.right) / 2, y = (box.top + box.bottom) / 2
    if (x < 0 || y < 0 || x > innerWidth || y > innerHeight) return false
    const found = deepest(x, y)
    return !!found && (el === found || el.contains(found) || found.contains(el) && !found.matches("main, body, html"))
  }
  const ALWAYS = ".tool-finish, .tool-pause, .pace, .tab, .entries .tool, .entries select, .entries input, .says-all, "
    + ".watch-big, .watch-value, .alarm-keys .push"
  for (const end of [0, room.scrollHeight]) {
    room.scrollTop = end
    for (const el of seen(ALWAYS)) if (!hit(el)) faults.push(`out of sight: '${name(el)}'`)
  }
  for (const el of seen("button, select, input")) {
    el.scrollIntoView({block: "center", inline: "nearest", behavior: "instant"})
    if (!hit(el)) faults.push(`out of reach: '${name(el)}'`)
  }
  room.scrollTop = 0
  for (const el of [room, document.querySelector(".stations"), document.documentElement])
    if (el.scrollWidth > el.clientWidth + 1) faults.push(`scrolls sideways by ${el.scrollWidth - el.clientWidth} px`)
  return [...new Set(faults)]
}
