/* What the page does around its boards: the diagnosis panel takes the focus when it opens, and Escape closes it. */
(() => {
  function* deep(root) {
    for (const node of root.querySelectorAll("*")) {
      yield node
      if (node.shadowRoot) yield* deep(node.shadowRoot)
    }
  }
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
