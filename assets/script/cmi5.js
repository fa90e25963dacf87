// One session of a learning system that launched the page: cmi5 (Quartz, first edition) over xAPI 1.0.3. Loaded only
// then. What a run earned comes from the page; here stands only which statement says it, and when none may.
const CMI5 = "https://w3id.org/xapi/cmi5/context"
const ADL = "http://adlnet.gov/expapi/verbs"
const GIVEN = ["endpoint", "fetch", "actor", "registration", "activityId"]
const DONE = "panel-trainer.done"

export const launched = (address) => GIVEN.every((name) => address.searchParams.has(name))

export async function session(address) {
  const [endpoint, fetchUrl, agent, registration, activityId] = GIVEN.map((name) => address.searchParams.get(name))
  const drill = address.searchParams.get("drill"), began = Date.now()
  const pass = await (await fetch(fetchUrl, {method: "POST"})).json()
  if (!pass["auth-token"]) throw new Error(pass["error-text"] ?? "the learning system gave no token")
  const headers = {"Authorization": `Basic ${pass["auth-token"]}`, "X-Experience-API-Version": "1.0.3"}

  async function ask(path, query, options = {}) {
    const body = options.body && {"Content-Type": "application/json"}
    const at = `${endpoint.replace(/\/?$/, "/")}${path}?${new URLSearchParams(query)}`
    const answer = await fetch(at, {...options, headers: {...headers, ...body}})
    if (!answer.ok && answer.status !== 404) throw new Error(`the learning record store answers ${answer.status} to ${path}`)
    return answer.ok && answer.status !== 204 ? await answer.json() : null
  }
  const kept = (stateId) => ({activityId, agent, registration, stateId})
  const launch = await ask("activities/state", kept("LMS.LaunchData"))
  if (!launch) throw new Error("the learning system keeps no launch data")
  await ask("agents/profile", {agent, profileId: "cmi5LearnerPreferences"})
  const done = await ask("activities/state", kept(DONE)) ?? {}
  const mastery = launch.masteryScore, normal = launch.launchMode === "Normal"
  let over = false, judged = false, queue = Promise.resolve()

  function statement(verb, name, {moves = false, allowed = false, object = {}, result} = {}) {
    const context = structuredClone(launch.contextTemplate ?? {})
    const category = [...context.contextActivities?.category ?? []]
    if (!allowed) category.push({objectType: "Activity", id: `${CMI5}/categories/cmi5`})
    if (moves) category.push({objectType: "Activity", id: `${CMI5}/categories/moveon`})
    if (category.length) context.contextActivities = {...context.contextActivities, category}
    if (moves && mastery !== undefined && result.success !== undefined)
      context.extensions = {...context.extensions, [`${CMI5}/extensions/masteryscore`]: mastery}
    return {id: crypto.randomUUID(), actor: JSON.parse(agent), verb: {id: verb, display: {"en-US": name}},
      object: {objectType: "Activity", id: activityId, ...object}, ...(result && {result}),
      context: {...context, registration}, timestamp: new Date().toISOString(), version: "1.0.3"}
  }
  const lasted = () => `PT${((Date.now() - began) / 1000).toFixed(2)}S`
  const post = (statements, more = {}) => {
    queue = queue.then(() => ask("statements", {}, {method: "POST", body: JSON.stringify(statements), ...more}))
    return queue
  }
  await post([statement(`${ADL}/initialized`, "initialized")])

  // By learning point: statements that cmi5 allows beside its own.
  const points = ({points: earned, title}) => Object.entries(earned ?? {}).filter(([, [, most]]) => most > 0).map(([name, [got, most]], at) =>
    statement(`${ADL}/scored`, "scored", {allowed: true, result: {score: {scaled: +(got / most).toFixed(4), raw: got, min: 0, max: most}},
      object: {id: `${activityId}/learning-point/${at + 1}`, definition: {name: {"en-US": name.slice(0, 200)}, description: {"en-US": title}}}}))

  // A check of the drill that was launched passes or fails it; a pass is said once a registration, a verdict once a session.
  function verdict({score, passed: ok}) {
    const scaled = +(score / 100).toFixed(4), passed = ok && (mastery === undefined || scaled >= mastery)
    const fits = mastery === undefined || passed === scaled >= mastery
    const found = [], result = {success: passed, duration: lasted(), ...(fits && {score: {scaled, raw: score, min: 0, max: 100}})}
    if (!done.completed) found.push(statement(`${ADL}/completed`, "completed", {moves: true, result: {completion: true, duration: lasted()}}))
    if (!done.passed) found.push(statement(`${ADL}/${passed ? "passed" : "failed"}`, passed ? "passed" : "failed", {moves: true, result}))
    Object.assign(done, {completed: true, passed: Boolean(done.passed || passed)})
    judged = true
    return found
  }

  return {
    drill, back: launch.returnURL ?? "",
    async attempted(record) {
      if (over || !normal) return
      const judges = record.drill === drill && record.mode === "check" && !judged
      const found = [...points(record), ...(judges ? verdict(record) : [])]
      if (found.length) await post(found)
      if (judges) await ask("activities/state", kept(DONE), {method: "PUT", body: JSON.stringify(done)})
    },
    async end() {
      if (over) return
      over = true
      await post([statement(`${ADL}/terminated`, "terminated", {result: {duration: lasted()}})], {keepalive: true})
    },
  }
}
