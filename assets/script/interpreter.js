// Tells the page that it stands on in another language: asks Python once for each text that people read, and writes what
// it is told in the text's place, also in the roots of components.
const NAMES = ["aria-label", "title", "placeholder", "aria-description"]
const SILENT = new Set(["SCRIPT", "STYLE", "TEXTAREA", "NOSCRIPT"])
const PAUSE_MS = 60

export function render({model}) {
  const told = new Map(), asked = new Set(), watched = new WeakSet()
  const written = new WeakMap() // what stands in a node's places by our hand
  let fresh = [], due = 0

  const watch = new MutationObserver(() => later())
  const later = () => { due ||= setTimeout(look, PAUSE_MS) }

  const say = (text) => {
    const bare = text.trim()
    if (!/[A-Za-z]{2}/.test(bare)) return text
    if (told.has(bare)) return text.replace(bare, () => told.get(bare))
    if (!asked.has(bare)) {
      asked.add(bare)
      fresh.push(bare)
    }
    return text
  }

  const put = (node, place, now, write) => {
    const own = written.get(node) ?? {}
    if (own[place] === now) return
    const said = say(now)
    if (said === now) return
    own[place] = said
    written.set(node, own)
    write(said)
  }

  const walk = (root) => {
    if (!watched.has(root)) {
      watched.add(root)
      watch.observe(root, {subtree: true, childList: true, characterData: true, attributes: true, attributeFilter: NAMES})
    }
    const nodes = document.createTreeWalker(root, NodeFilter.SHOW_ELEMENT | NodeFilter.SHOW_TEXT)
    for (let node = nodes.nextNode(); node; node = nodes.nextNode()) {
      if (node.nodeType === Node.TEXT_NODE) {
        const place = node.parentNode
        if (SILENT.has(place.nodeName)) continue
        // What is chosen keeps its own word.
        if (place.nodeName === "OPTION" && !place.hasAttribute("value")) place.value = place.text
        put(node, "text", node.data, (said) => { node.data = said })
        continue
      }
      for (const name of NAMES) {
        const now = node.getAttribute(name)
        if (now) put(node, name, now, (said) => node.setAttribute(name, said))
      }
      if (node.shadowRoot) walk(node.shadowRoot)
    }
  }

  const look = () => {
    due = 0
    walk(document.documentElement)
    if (fresh.length) model.send_msg(fresh)
    fresh = []
  }

  const heard = () => {
    for (const [text, said] of Object.entries(model.said)) told.set(text, said)
    later()
  }

  document.documentElement.lang = model.language
  document.documentElement.dir = model.direction
  model.on("change:said", heard)
  model.on("remove", () => { watch.disconnect(); clearTimeout(due) })
  later()
}
