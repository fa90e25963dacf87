/* Measures a drawn page: text that is cut or overlaps, targets that are small, text that is faint. */
() => {
  const faults = []
  const seen = (el) => !el.closest(".sr") && el.checkVisibility({checkOpacity: true, checkVisibilityCSS: true})
  const say = (el) => (el.textContent || "").trim().replace(/\s+/g, " ").slice(0, 40)
  const texts = []
  const walker = document.createTreeWalker(document.querySelector(".deck"), NodeFilter.SHOW_TEXT)
  for (let node = walker.nextNode(); node; node = walker.nextNode()) {
    if (!node.data.trim() || !seen(node.parentElement) || node.parentElement.tagName === "title") continue
    const range = document.createRange()
    range.selectNodeContents(node)
    for (const box of range.getClientRects()) if (box.width > 1) texts.push({el: node.parentElement, box, text: node.data.trim()})
  }
  const over = (a, b) => Math.min(Math.min(a.right, b.right) - Math.max(a.left, b.left), Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top))
  /* Line boxes are taller than the letters: shrink them to what is inked. */
  const ink = (b) => ({left: b.left, right: b.right, top: b.top + b.height * 0.2, bottom: b.bottom - b.height * 0.2})
  for (let i = 0; i < texts.length; i++) {
    for (let j = i + 1; j < texts.length; j++) {
      if (texts[i].el === texts[j].el) continue
      if (over(ink(texts[i].box), ink(texts[j].box)) > 1) faults.push(`overlap: '${texts[i].text}' and '${texts[j].text}'`)
    }
  }
  const deck = document.querySelector(".deck")
  const frames = "button, .area, .gauge, .warning, .regulator, .readout, .holder, svg, .deck"
  for (const {el, box, text} of texts) {
    const frame = (el.closest("svg") ?? el).closest(frames).getBoundingClientRect()
    if (box.left < frame.left - 1 || box.right > frame.right + 1 || box.top < frame.top - 2 || box.bottom > frame.bottom + 2)
      faults.push(`cut: '${text}' leaves its frame by ${Math.round(Math.max(frame.left - box.left, box.right - frame.right, frame.top - box.top, box.bottom - frame.bottom))} px`)
  }
  const boxes = [...deck.querySelectorAll("button, input")].filter(seen)
  for (const el of boxes) {
    const box = el.getBoundingClientRect(), least = el.matches(".card-link") ? 24 : 44
    if (box.width < least - 0.6 || box.height < least - 0.6) faults.push(`small: '${say(el)}' is ${box.width.toFixed(0)} by ${box.height.toFixed(0)} px`)
    const own = el.closest(".area, .head, .regulator")?.getBoundingClientRect()
    if (own && (box.left < own.left - 1 || box.right > own.right + 1 || box.bottom > own.bottom + 1)) faults.push(`outside: '${say(el)}' leaves its area`)
  }
  for (let i = 0; i < boxes.length; i++) for (let j = i + 1; j < boxes.length; j++) {
    if (over(boxes[i].getBoundingClientRect(), boxes[j].getBoundingClientRect()) > 1) faults.push(`collide: '${say(boxes[i])}' and '${say(boxes[j])}'`)
  }
  const rgb = (c) => { const m = c.match(/[\d.]+/g).map(Number); return m.length > 3 && m[3] === 0 ? null : m.slice(0, 3) }
  const light = (c) => { const [r, g, b] = c.map((v) => { v /= 255; return v <= 0.03928 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4 }); return 0.2126 * r + 0.7152 * g + 0.0722 * b }
  const ratio = (a, b) => { const [x, y] = [light(a), light(b)].sort((p, q) => q - p); return (x + 0.05) / (y + 0.05) }
  const ground = (el) => { for (let e = el; e; e = e.parentElement) { const c = rgb(getComputedStyle(e).backgroundColor); if (c) return c } return [255, 255, 255] }
  for (const {el, text} of texts) {
    if (el.closest("svg")) continue
    const fine = ratio(rgb(getComputedStyle(el).color), ground(el))
    if (fine < 4.5) faults.push(`faint: '${text}' has ${fine.toFixed(2)} : 1`)
  }
  const tiny = texts.filter(({el}) => !el.closest(".dial") && parseFloat(getComputedStyle(el).fontSize) * (el.closest("svg") ? el.getScreenCTM?.().a ?? 1 : 1) < 10.9)
  for (const {text} of tiny) faults.push(`tiny: '${text}'`)
  const size = deck.getBoundingClientRect()
  if (size.right > innerWidth + 1 || size.bottom > innerHeight + 1) faults.push(`scroll: the board is ${size.width.toFixed(0)} by ${size.height.toFixed(0)} px`)
  return [...new Set(faults)]
}
