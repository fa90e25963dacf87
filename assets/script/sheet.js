/* The window on the schematic: subsystems, pan, zoom, and the present view as a file. It changes the drawing's
 * viewBox and marks the part whose card is open; it knows nothing of the plant.
 *
 *   data-window="x y w h"   show this part of the sheet      data-zoom="0.8"   nearer or farther
 *   data-save="name.svg"    keep the present view as a file
 *   "trainer-look"          the event by which the page asks for a window around some parts
 *
 * With the mouse: wheel and drag. By touch: drag and pinch. From the keyboard, with a part in focus: arrows, + - 0.
 */
(() => {
  const NEAREST = 12, STEP = 0.8, SLACK = 6, MARGIN = 20
  const met = (event, selector) => event.composedPath().find((node) => node.matches?.(selector))
  const sheetOf = (node) => node.closest(".deck").querySelector("svg.schematic")
  const numbers = (text) => text.split(" ").map(Number)
  const whole = (svg) => numbers(svg.dataset.whole ??= svg.getAttribute("viewBox"))

  /* ``at`` says on which side of the window there is more to see beside what it is about. */
  function show(svg, [x, y, w, h], at = "xMidYMid") {
    svg.setAttribute("preserveAspectRatio", at)
    const [, , W, H] = whole(svg)
    const fit = Math.min(1, W / w, H / h) * Math.max(1, W / NEAREST / w)
    x += w * (1 - fit) / 2; y += h * (1 - fit) / 2; w *= fit; h *= fit
    x = Math.min(Math.max(x, -w / 2), W - w / 2); y = Math.min(Math.max(y, -h / 2), H - h / 2)
    const text = (w >= W || h >= H ? whole(svg) : [x, y, w, h]).map((n) => +n.toFixed(1)).join(" ")
    svg.setAttribute("viewBox", text)
    for (const button of svg.closest(".deck").querySelectorAll("[data-window]"))
      button.setAttribute("aria-pressed", String(button.dataset.window === text))
    reach(svg)
    tidy(svg)
  }
  /* On a picture of the unit hands work where they are large enough to hit; from farther off a click brings a part near. */
  function reach(svg) {
    const from = Number(svg.dataset.nearFrom)
    if (from) svg.toggleAttribute("data-near", svg.getScreenCTM().a >= from)
  }
  const side = (svg) => svg.getAttribute("preserveAspectRatio") ?? undefined
  const far = (svg) => svg?.dataset.nearFrom !== undefined && svg.dataset.near === undefined
  /* The window of a button that shows a point; nothing where none does. */
  function windowOn(svg, at) {
    whole(svg)
    const named = [...svg.closest(".deck").querySelectorAll("[data-window]")].slice(1)
    return named.map((button) => [numbers(button.dataset.window), button.dataset.side])
      .find(([[x, y, wide, tall]]) => at.x >= x && at.x <= x + wide && at.y >= y && at.y <= y + tall)
  }
  const middle = (svg, part) => {
    const box = part.getBoundingClientRect()
    return new DOMPoint(box.left + box.width / 2, box.top + box.height / 2).matrixTransform(svg.getScreenCTM().inverse())
  }
  function approach(svg, part, taken = true) {
    const [w, h] = numbers(svg.dataset.nearBox), at = middle(svg, part)
    show(svg, ...(windowOn(svg, at) ?? [[at.x - w / 2, at.y - h / 2, w, h]]))
    if (taken) part.focus({preventScroll: true})
  }
  /* No half words at the edge of the window: a part shows all of its words or none. */
  function tidy(svg) {
    const room = svg.getBoundingClientRect()
    const past = (b) => b.left < room.left + 2 || b.right > room.right - 2 || b.top < room.top - 1 || b.bottom > room.bottom + 1
    const texts = [...svg.querySelectorAll("text")].map((text) => [text, text.closest(".piece") ?? text])
    const cut = new Set(texts.filter(([text]) => text.getClientRects().length && past(text.getBoundingClientRect())).map(([, whose]) => whose))
    for (const [text, whose] of texts) text.classList.toggle("past", cut.has(whose))
    // What lies wholly outside a picture's window is out of the tab key's way as well.
    const away = (b) => b.right < room.left || b.left > room.right || b.bottom < room.top || b.top > room.bottom
    const pieces = [...svg.querySelectorAll(".piece")], gone = pieces.map((piece) => away(piece.firstElementChild.getBoundingClientRect()))
    pieces.forEach((piece, at) => piece.classList.toggle("past", gone[at]))
  }
  /* A window; where a part that it is about would lie outside, one of at least its size around all of them. */
  function around(svg, [x, y, w, h], names) {
    const back = svg.getScreenCTM().inverse(), [X, Y, W, H] = whole(svg)
    let left = Infinity, top = Infinity, right = -Infinity, low = -Infinity
    for (const part of svg.querySelectorAll(".part")) {
      if (!names.includes(part.dataset.component)) continue
      const box = part.getBoundingClientRect()
      const a = new DOMPoint(box.left, box.top).matrixTransform(back), z = new DOMPoint(box.right, box.bottom).matrixTransform(back)
      left = Math.min(left, a.x); top = Math.min(top, a.y); right = Math.max(right, z.x); low = Math.max(low, z.y)
    }
    if (left > right || (left >= x && top >= y && right <= x + w && low <= y + h)) return [x, y, w, h]
    const wide = Math.min(Math.max(w, right - left + 2 * MARGIN), W), tall = Math.min(Math.max(h, low - top + 2 * MARGIN), H - 1)
    const within = (middle, size, from, room) => Math.min(Math.max(middle - size / 2, from), from + room - size)
    return [within((left + right) / 2, wide, X, W), within((top + low) / 2, tall, Y, H), wide, tall]
  }
  function zoom(svg, factor, at) {
    const [x, y, w, h] = numbers(svg.getAttribute("viewBox"))
    whole(svg)
    const {x: px, y: py} = at ?? {x: x + w / 2, y: y + h / 2}
    show(svg, [px - (px - x) * factor, py - (py - y) * factor, w * factor, h * factor], side(svg))
  }
  function pan(svg, dx, dy) {
    const [x, y, w, h] = numbers(svg.getAttribute("viewBox"))
    if (w < whole(svg)[2]) show(svg, [x + dx, y + dy, w, h], side(svg))
  }
  const point = (svg, event) => new DOMPoint(event.clientX, event.clientY).matrixTransform(svg.getScreenCTM().inverse())

  function save(svg, name) {
    const copy = svg.cloneNode(true), root = svg.getRootNode(), box = numbers(svg.getAttribute("viewBox"))
    const style = document.createElementNS(svg.namespaceURI, "style")
    const sheets = [...root.styleSheets, ...(root.adoptedStyleSheets ?? [])]
    style.textContent = sheets.flatMap((sheet) => [...sheet.cssRules]).map((rule) => rule.cssText).join("\n")
    copy.prepend(style)
    for (const part of copy.querySelectorAll(".chosen")) part.classList.remove("chosen")
    copy.setAttribute("class", "schematic board deck")
    copy.dataset.theme = "light"
    copy.setAttribute("style", `width:${box[2]}px;height:${box[3]}px;min-width:0;max-height:none;padding:0;background:#fff;--bg:#fff`)
    const link = document.createElement("a")
    link.href = URL.createObjectURL(new Blob([new XMLSerializer().serializeToString(copy)], {type: "image/svg+xml"}))
    link.download = name
    link.click()
    setTimeout(() => URL.revokeObjectURL(link.href), 1000)
  }

  const down = new Map()
  let moved = false
  const apart = () => { const [a, b] = [...down.values()]; return Math.hypot(a.clientX - b.clientX, a.clientY - b.clientY) }
  addEventListener("pointerdown", (event) => {
    const svg = met(event, "svg.schematic")
    if (!svg || event.button !== 0) return
    if (down.size === 0) moved = false
    down.set(event.pointerId, event)
  }, true)
  addEventListener("pointermove", (event) => {
    const before = down.get(event.pointerId), svg = before && met(event, "svg.schematic")
    if (!svg) return
    // A release that happened outside the window was never told.
    if (!event.buttons) { down.delete(event.pointerId); return }
    const dx = event.clientX - before.clientX, dy = event.clientY - before.clientY
    if (!moved && Math.hypot(dx, dy) < SLACK) return
    moved = true
    const gap = down.size === 2 ? apart() : 0
    down.set(event.pointerId, event)
    if (down.size === 2) { if (apart() > 0) zoom(svg, gap / apart(), point(svg, event)) }
    else { const scale = svg.getScreenCTM().a; pan(svg, -dx / scale, -dy / scale) }
  }, true)
  for (const end of ["pointerup", "pointercancel"]) addEventListener(end, (event) => down.delete(event.pointerId), true)
  addEventListener("wheel", (event) => {
    const svg = met(event, "svg.schematic")
    if (!svg) return
    event.preventDefault()
    zoom(svg, event.deltaY < 0 ? STEP : 1 / STEP, point(svg, event))
  }, {passive: false, capture: true})
  addEventListener("click", (event) => {
    // The end of a drag opens no card.
    if (moved && met(event, "svg.schematic")) { event.stopPropagation(); moved = false; return }
    const seen = met(event, "svg.schematic"), part = met(event, ".part")
    if (part && far(seen)) { event.stopPropagation(); approach(seen, part); return }
    const button = met(event, "[data-window], [data-zoom], [data-save]")
    if (!button) return
    const svg = sheetOf(button)
    if (button.dataset.window) { whole(svg); show(svg, numbers(button.dataset.window), button.dataset.side) }
    else if (button.dataset.zoom) zoom(svg, Number(button.dataset.zoom))
    else save(svg, button.dataset.save)
  }, true)
  addEventListener("keydown", (event) => {
    const svg = met(event, "svg.schematic")
    if (!svg || event.ctrlKey || event.metaKey || event.altKey) return
    const [, , w, h] = numbers(svg.getAttribute("viewBox")), whole0 = whole(svg), chosen = met(event, ".part")
    if (chosen && far(svg) && ["Enter", " "].includes(event.key)) {
      event.preventDefault(); event.stopPropagation()
      approach(svg, chosen)
      return
    }
    const acts = {
      "+": () => zoom(svg, STEP), "=": () => zoom(svg, STEP), "-": () => zoom(svg, 1 / STEP), "0": () => show(svg, whole0),
      ArrowLeft: () => pan(svg, -w / 10, 0), ArrowRight: () => pan(svg, w / 10, 0),
      ArrowUp: () => pan(svg, 0, -h / 10), ArrowDown: () => pan(svg, 0, h / 10),
    }
    if (acts[event.key]) { event.preventDefault(); acts[event.key]() }
  }, true)

  addEventListener("trainer-look", (event) => {
    const svg = met(event, "svg.schematic"), {text, around: names} = event.detail
    show(svg, around(svg, numbers(text), (names ?? "").split(" ")))
  })

  addEventListener("resize", () => {
    // What comes into sight beside another view has news to catch up with.
    window.dispatchEvent(new CustomEvent("trainer-turned", {detail: {what: "size"}}))
    for (const svg of sheets(document)) if (svg.checkVisibility()) { reach(svg); tidy(svg) }
  })

  /* The part whose card is open stays marked, and with it the fluid's path to it. */
  function* sheets(root) {
    for (const node of root.querySelectorAll("*")) {
      if (node.matches("svg.schematic")) yield node
      if (node.shadowRoot) yield* sheets(node.shadowRoot)
    }
  }
  // A part chosen on the schematic is brought near when the picture comes in sight.
  addEventListener("trainer-turned", ({detail: {what, value}}) => {
    if (what !== "split" && (what !== "view" || value !== "picture")) return
    requestAnimationFrame(() => {
      for (const svg of sheets(document)) {
        if (what === "split" && svg.checkVisibility()) { reach(svg); tidy(svg) }
        const part = svg.matches(".picture") && svg.checkVisibility() && svg.querySelector(".part.chosen")
        if (part && far(svg)) approach(svg, part)
      }
    })
  })
  addEventListener("trainer-message", ({detail}) => {
    if (detail.page !== "card") return
    document.documentElement.dataset.cardSide = "right"
    for (const svg of sheets(document)) {
      const same = alike(svg, detail.value), room = svg.closest(".deck").getBoundingClientRect()
      for (const part of svg.querySelectorAll(".part")) {
        part.classList.toggle("chosen", same.includes(part))
        if (!part.matches(".chosen:is(:hover, :focus)")) continue
        const box = part.getBoundingClientRect()
        if (box.left + box.width / 2 > room.left + room.width / 2) document.documentElement.dataset.cardSide = "left"
      }
      // Beside each other, the one follows to what was chosen in the other.
      const {view, split} = document.documentElement.dataset
      if (!same[0] || view !== "picture" || split === "off" || !svg.checkVisibility() || same.some((part) => part.matches(":hover, :focus"))) continue
      if (!svg.matches(".picture")) show(svg, ...(windowOn(svg, middle(svg, same[0])) ?? [whole(svg)]))
      else if (far(svg) || same[0].closest(".piece.past")) approach(svg, same[0], false)
    }
  })
  /* The unit is worked in its picture where a hand can hit what stands in it, in a small window or at high zoom in lists;
   * what a person has chosen stays. */
  const room = matchMedia("(min-width: 1280px) and (min-height: 780px)"), root = document.documentElement
  const form = () => localStorage.getItem("trainer-unit") ?? (room.matches ? "picture" : "list")
  root.dataset.unit = form()
  room.addEventListener("change", () => {
    root.dataset.unit = form()
    window.dispatchEvent(new CustomEvent("trainer-turned", {detail: {what: "unit", value: form()}}))
  })
  /* The parts of a sheet that a name means: that part, its lever, else what it belongs to. */
  function alike(svg, name) {
    const base = name.split(".")[0], parts = [...svg.querySelectorAll(".part")]
    const called = (...names) => parts.filter((part) => names.includes(part.dataset.component))
    const own = called(name, `${name}.lever`)
    return own.length || !name ? own : called(base)
  }
})()
