// What is seen of the take-away edition: the saved page's boards, drawn piece by piece, and the patches that are put into
// their models by name.
window.trainerPieces = (() => {
  const models = new Map(), held = []
  let furnished = false

  function find(name) {
    if (!models.has(name)) {
      for (const doc of window.Bokeh?.documents ?? []) {
        for (const model of doc._all_models.values()) {
          const called = model.data?.name ?? model.name
          if (called) models.set(called, model)
        }
      }
    }
    return models.get(name)
  }

  // A line has a gap where nothing was recorded.
  const gaps = (columns) => Object.fromEntries(Object.entries(columns).map(([name, column]) => [name, column.map((value) => value ?? NaN)]))

  // What is told of a board that is not drawn yet waits for it.
  function apply(patch) {
    for (const [name, change] of Object.entries(patch)) {
      const model = find(name)
      if (!model) { // not every chart has every part
        if (!furnished) held.push({[name]: change})
        continue
      }
      const {stream, rollover, ...values} = change
      if (stream) model.stream(gaps(stream), rollover)
      if (values.data) values.data = gaps(values.data)
      // The figures of an axis go by their values.
      const figures = values.major_label_overrides
      if (figures) values.major_label_overrides = new Map(Object.entries(figures).map(([value, text]) => [Number(value), text]))
      if (!Object.keys(values).length) continue
      // A board keeps its parameters in a model of its own; a chart's source carries them itself.
      const carrier = model.data && "name" in model.data ? model.data : model
      carrier.setv(values)
    }
    window.dispatchEvent(new CustomEvent("trainer-patched"))
  }

  // Each piece in a task of its own: between two the browser hears what a hand did.
  async function draw(pieces) {
    const read = (name, revive) => JSON.parse(document.getElementById(name).textContent, revive)
    const texts = read("folds"), fold = /^@fold (\d+)$/
    const whole = (_, value) => { const found = fold.exec(value); return found ? texts[found[1]] : value }
    for (const [documents, items] of read(pieces, whole)) {
      await new Promise((resolve) => setTimeout(resolve))
      await window.Bokeh.embed.embed_items(documents, items)
    }
  }

  // The boards behind the first page.
  async function furnish() {
    await draw("later")
    furnished = true
    for (const patch of held.splice(0)) apply(patch)
    document.documentElement.dataset.furnished = ""
  }

  return {apply, draw, furnish, lacking: () => held.length > 0}
})()
