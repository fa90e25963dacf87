/* What does not fit on the page in sight, its boards included: text cut, overlapping or tiny, anything that scrolls
 * sideways. Gives one line a fault. What lies in front of the rest (cards, briefings, and the lid and the entries that
 * stay in sight while a zoomed page scrolls) is held against itself only. */
() => {
  const faults = [], texts = [], fields = []
  const up = (el) => el.parentElement ?? el.getRootNode().host ?? null
  const chain = (el) => { const found = []; for (let e = el; e; e = up(e)) found.push(e); return found }
  // Chromium calls a drawing's words visible, and gives their range a place, though the group around them is not
  // displayed; the element itself has no box then.
  const seen = (el) => !el.closest(".sr, title, style, script, option")
    && el.checkVisibility({checkOpacity: true, checkVisibilityCSS: true}) && el.getClientRects().length > 0
  const words = (node) => node.textContent.trim().replace(/\s+/g, " ").slice(0, 50)
  const FRONT = "dialog, .card-place, .brief-place, .room-place, .offline, .lid, .entries-place"

  function walk(root) {
    const walker = document.createTreeWalker(root, NodeFilter.SHOW_ELEMENT | NodeFilter.SHOW_TEXT)
    for (let node = walker.nextNode(); node; node = walker.nextNode()) {
      if (node.nodeType === Node.TEXT_NODE) {
        const el = node.parentElement
        if (!el || !node.data.trim() || !seen(el)) continue
        const range = document.createRange(), parents = chain(el)
        range.selectNodeContents(node)
        const front = parents.find((e) => e.matches(FRONT))
        for (const box of range.getClientRects())
          if (box.width > 1) texts.push({node, el, parents, front, box})
      } else {
        if (node.matches("select, input:not([type=range]):not([type=file])") && seen(node)) fields.push(node)
        if (node.shadowRoot) walk(node.shadowRoot)
      }
    }
  }
  walk(document.body)

  const scale = (el) => (el instanceof SVGElement ? el.getScreenCTM?.()?.a ?? 1 : 1)
  const live = []
  for (const text of texts) {
    const {node, el, parents, box} = text
    let hidden = false
    for (const parent of parents) {
      if (parent === document.documentElement || parent === document.body) break
      const style = getComputedStyle(parent)
      if (parent instanceof SVGElement && parent.ownerSVGElement) continue
      if (style.overflowX === "visible" && style.overflowY === "visible") continue
      const room = parent.getBoundingClientRect()
      const scrolls = /auto|scroll/.test(style.overflowY)
      const off = box.bottom < room.top + 1 || box.top > room.bottom - 1
      if (scrolls && (off || box.bottom > room.bottom || box.top < room.top)) hidden = true
      const past = Math.max(room.left - box.left, box.right - room.right)
      const low = scrolls ? 0 : Math.max(room.top - box.top, box.bottom - room.bottom) - 0.22 * box.height
      if (!hidden && Math.max(past, low) > 1) faults.push(`cut: '${words(node)}' by ${Math.max(past, low).toFixed(0)} px`)
      if (/line-clamp|ellipsis/.test(style.textOverflow) && parent.scrollWidth > parent.clientWidth + 1) faults.push(`cut: '${words(parent)}' ends in dots`)
      if (style.webkitLineClamp !== "none" && parent.scrollHeight > parent.clientHeight + 2) faults.push(`cut: '${words(parent)}' ends in dots`)
    }
    if (box.right > innerWidth + 1 || box.left < -1) faults.push(`sideways: '${words(node)}'`)
    // On the glass: a page zoomed to 125 % shows what it showed before at the same size. The drawing has a zoom of its own.
    const size = parseFloat(getComputedStyle(el).fontSize) * scale(el) * Math.min(devicePixelRatio, 1.25)
    if (size < 10.9 && !(devicePixelRatio > 1.3 && el.closest(".schematic")) && !el.closest(".dial")) faults.push(`tiny: '${words(node)}' at ${size.toFixed(1)} px`)
    if (!hidden) live.push(text)
  }
  const ink = (b) => ({left: b.left, right: b.right, top: b.top + b.height * 0.2, bottom: b.bottom - b.height * 0.2})
  live.sort((a, b) => a.box.top - b.box.top)
  for (let i = 0; i < live.length; i++) {
    const a = ink(live[i].box)
    for (let j = i + 1; j < live.length && live[j].box.top < live[i].box.bottom; j++) {
      if (live[i].node === live[j].node || live[i].front !== live[j].front) continue
      const b = ink(live[j].box)
      const over = Math.min(Math.min(a.right, b.right) - Math.max(a.left, b.left), Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top))
      if (over > 1) faults.push(`overlap: '${words(live[i].node)}' and '${words(live[j].node)}'`)
    }
  }
  const pen = document.createElement("canvas").getContext("2d")
  for (const field of fields) {
    const style = getComputedStyle(field), list = field.matches("select")
    const shown = list ? field.selectedOptions[0]?.textContent ?? "" : field.value || field.placeholder
    pen.font = style.font
    const room = field.clientWidth - parseFloat(style.paddingLeft) - parseFloat(style.paddingRight) - (list ? 16 : 0)
    if (pen.measureText(shown).width > room + 1) faults.push(`cut: '${shown}' in its field of ${room.toFixed(0)} px`)
  }
  const root = document.documentElement
  if (root.scrollWidth > innerWidth + 1) faults.push(`the page scrolls sideways by ${root.scrollWidth - innerWidth} px`)
  return [...new Set(faults)]
}
