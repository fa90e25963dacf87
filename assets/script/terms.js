/* A word of the trade says what it means while the pointer or the focus is on it; Escape puts that away.
 * Boards say which word is met ("trainer-met", null for none): such events do not leave a board by themselves. */
(() => {
  const MEET_MS = 80, LEAVE_MS = 200, GAP = 6
  const box = () => document.querySelector(".term-says")
  const opened = () => box()?.matches(":popover-open")
  let term = null, waiting

  function show() {
    const says = box()
    if (!term?.isConnected) return
    says.textContent = term.getAttribute("aria-description")
    says.showPopover()
    const at = term.getBoundingClientRect(), {width, height} = says.getBoundingClientRect()
    const under = at.bottom + GAP + height < innerHeight
    says.style.left = `${Math.max(8, Math.min(at.left, innerWidth - width - 8))}px`
    says.style.top = `${under ? at.bottom + GAP : Math.max(8, at.top - GAP - height)}px`
  }
  function hide() {
    clearTimeout(waiting)
    term = null
    if (opened()) box().hidePopover()
  }
  function leave() {
    if (!term || term.matches(":focus")) return
    clearTimeout(waiting)
    waiting = setTimeout(hide, LEAVE_MS)
  }
  addEventListener("trainer-met", ({detail: met}) => {
    if (!met) { leave(); return }
    clearTimeout(waiting)
    term = met
    waiting = setTimeout(show, MEET_MS)
  })
  // Who reads the sentence itself may stay on it.
  addEventListener("pointerover", (event) => {
    if (event.target === box()) clearTimeout(waiting)
    else if (!event.composedPath().includes(term)) leave()
  })
  for (const moved of ["scroll", "trainer-turned"]) addEventListener(moved, () => { if (opened()) hide() }, true)
  addEventListener("keydown", (event) => {
    if (event.key !== "Escape" || !opened()) return
    // Only the sentence goes, not the card or the briefing that the word stands in.
    event.stopPropagation()
    event.preventDefault()
    hide()
  }, true)
})()
