/* Plays "Dead panel" to its end in Firefox, by what is visible: node firefox.mjs ADDRESS FIREFOX VARIATION. An address by
 * which a learning system launches it begins a check; after it the page goes back there.
 * puppeteer-core is found beside it; the last line written is the heading of the score sheet as JSON. */
import puppeteer from "puppeteer-core"

const [,, address, firefox, variation] = process.argv, BEAT = 200, PATIENCE = 180_000
const browser = await puppeteer.launch({browser: "firefox", executablePath: firefox, headless: true,
  defaultViewport: {width: 1280, height: 800}})
const page = await browser.newPage(), complaints = []
page.on("pageerror", (error) => complaints.push(error.message))

/* Boards lie in shadow roots: what is looked for is looked for in all of them. */
await page.evaluateOnNewDocument(() => {
  const walk = (root) => [...root.querySelectorAll("*")].flatMap((node) => [node, ...(node.shadowRoot ? walk(node.shadowRoot) : [])])
  const within = (node, place) => { for (let at = node; at; at = at.parentNode ?? at.host) if (at.matches?.(place)) return true; return false }
  window.seen = (what, place = "*") => walk(document).filter((node) => node.matches(what) && node.checkVisibility() && within(node, place))
  window.said = (node) => (node.getAttribute("aria-label") ?? node.textContent).replace(/\s+/g, " ").trim()
})
const pause = () => new Promise((done) => setTimeout(done, BEAT))
async function until(what, look) {
  for (const end = Date.now() + PATIENCE; Date.now() < end; await pause()) { const found = await look(); if (found) return found }
  throw new Error(`${what} never came; the page complains: ${complaints.join("; ") || "of nothing"}`)
}
const find = (what, name, place) => until(`${what} ${name}`, async () => (await page.evaluateHandle((what, name, place) =>
  window.seen(what, place).find((node) => new RegExp(name).test(window.said(node))) ?? null, what, name, place)).asElement())
const press = async (name, place) => (await find("button", name, place)).click()
const text = (what) => page.evaluate((what) => window.seen(what).map((node) => node.textContent).join(" "), what)
const shown = (tag) => text(`[data-text="${tag}"]`)
/* A gauge that has come to rest: the same over ten looks. */
const still = async (tag) => {
  let last = "", same = 0
  return until(`rest of ${tag}`, async () => {
    const now = (await shown(tag)).split("  ")[0]
    same = now === last ? same + 1 : 0
    last = now
    return same > 10 && now
  })
}
async function enter(what, value) {
  const list = await find("#read-what", ""), field = await find("#read-value", "")
  await list.select(await list.evaluate((list, what) => [...list.options].find(({textContent}) => textContent === what || textContent.startsWith(`${what} (`)).value, what))
  await field.click()
  await field.type(value.match(/[\d.,]+/)[0].replace(",", ""))
  await press("^Enter$")
}

async function choose() {
  const words = await find("input[type=search]", "")
  await words.click()
  await words.type("dead panel")
  const form = await find("form.drill-start", "^Dead panel$"), seed = await form.$("input[name=seed]")
  await seed.click()
  await seed.type(variation)
  await (await form.$("button[type=submit]")).click()
}

try {
  await page.goto(address)
  const launched = new URL(address).searchParams.has("registration")
  if (!launched) await choose()
  await press("^Begin$")
  if (!launched) await (await find("select", "Pace of the run")).select("5")
  await until("the loss", async () => /lights go out|panels are dead/.test(await text(".says-coach, .says-told")))
  await press("^Report …$")
  await press("^The panels are dead. I am going to the unit.$")
  await press("^Unit$")
  await press("^Lists$", ".view-picture")
  const [, ordered] = await until("the order", async () => (await text(".says-told")).match(/close the (upper annular|lower annular)/))
  await press(`^${ordered[0].toUpperCase()}${ordered.slice(1)}: Close$`, ".view-unit")
  await until("fluid that moves", async () => !/^0\.0 gal/.test(await shown("totaliser.count")))
  const count = await still("totaliser.count"), back = await still("annular_regulator.readback")
  await enter("Flow count", count)
  await enter("Annular read-back", back)
  await enter("Annular read-back for the log", back)
  await enter("Manifold read-back for the log", await still("manifold_regulator.readback"))
  await press("^Maintenance$")
  await enter("Tank level for the log", await still("tank.level"))
  await press("^Report …$")
  await press("^Toolpusher: both panels are lost")
  await press("^Report …$")
  await press("^Closed at the unit")
  await until("the score", async () => /Passed|Not passed/.test(await text(".sheet h2, .sheet p, .sheet strong, .sheet span")))
  const sheet = (await text(".sheet")).slice(0, 200)
  if (launched) {
    await press("^Choose another drill$")
    await until("the way back", () => page.url().endsWith("/back"))
  }
  console.log(JSON.stringify({browser: await browser.version(), sheet, complaints}))
} finally {
  await browser.close()
}
