// Plays two sessions of a learning system against the record store at the given address; prints nothing.
import { launched, session } from "./cmi5.mjs"

const [base, registration] = process.argv.slice(2)
const address = new URL(`${base}/index.html?drill=close-one`)
const agent = {objectType: "Agent", account: {homePage: "https://learn.invalid", name: "4711"}}
const given = {endpoint: `${base}/xapi/`, fetch: `${base}/fetch`, actor: JSON.stringify(agent), registration, activityId: "https://trainer.invalid/courses/a/close-one"}
if (launched(address)) throw new Error("an ordinary address is no launch")
for (const [name, value] of Object.entries(given)) address.searchParams.set(name, value)
if (!launched(address)) throw new Error("a launch is not known")

const record = (more) => ({drill: "close-one", title: "Close one", mode: "check", score: 40, passed: false,
  points: {"Close it": [2, 10], "Read it": [5, 5]}, ...more})
const first = await session(address)
if (first.drill !== "close-one" || first.back !== "https://learn.invalid/back") throw new Error("not as launched")
await first.attempted(record({mode: "practice", score: 90, passed: true}))
await first.attempted(record({drill: "another", score: 90, passed: true}))
await first.attempted(record({}))
await first.attempted(record({score: 95, passed: true}))
await first.end()
await first.attempted(record({score: 95, passed: true}))
const second = await session(address)
await second.attempted(record({score: 95, passed: true}))
await second.end()
const third = await session(address)
await third.attempted(record({}))
await third.end()
