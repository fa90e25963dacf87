/* What is heard at the unit: pumps, air that leaves an air motor, fluid through a relief valve. Made with Web Audio, off
 * until the sound is asked for, and never the only sign: a lamp, a needle or a spray shows the same. */
(() => {
  const RUNS = ["console", "replay"], AT = ["unit", "care", "picture"], RISE_S = 0.3, NOISE_S = 2
  const voices = new Map()
  let context = null, hiss = null

  function noise() {
    if (!hiss) {
      hiss = context.createBuffer(1, NOISE_S * context.sampleRate, context.sampleRate)
      const samples = hiss.getChannelData(0)
      for (let at = 0; at < samples.length; at++) samples[at] = 2 * Math.random() - 1
    }
    const source = context.createBufferSource()
    source.buffer = hiss
    source.loop = true
    return source
  }
  function tone(type, hertz) {
    const source = context.createOscillator()
    source.type = type
    source.frequency.value = hertz
    return source
  }
  /* A voice: its source through a filter, its loudness swung so often a second, as strokes swing it. */
  function voice(source, filter, hertz, loud, swing) {
    const pass = context.createBiquadFilter(), level = context.createGain(), sources = [source]
    pass.type = filter
    pass.frequency.value = hertz
    level.gain.value = 0
    level.gain.linearRampToValueAtTime(loud, context.currentTime + RISE_S)
    source.connect(pass).connect(level).connect(context.destination)
    if (swing) {
      const strokes = tone(swing.type, swing.hertz), depth = context.createGain()
      depth.gain.value = 0.6 * loud
      strokes.connect(depth).connect(level.gain)
      sources.push(strokes)
    }
    for (const one of sources) one.start()
    return () => {
      level.gain.cancelScheduledValues(context.currentTime)
      level.gain.setTargetAtTime(0, context.currentTime, RISE_S / 3)
      for (const one of sources) one.stop(context.currentTime + 2 * RISE_S)
    }
  }
  const MADE = {
    triplex: () => voice(tone("sawtooth", 49), "lowpass", 190, 0.07, {type: "sine", hertz: 6}),
    air: () => voice(noise(), "bandpass", 800, 0.05, {type: "square", hertz: 1.6}),
    relief: () => voice(noise(), "highpass", 3200, 0.02),
  }

  /* The voices that are to be heard now; those that are not fade away. */
  function listen() {
    const {page, view, noise: heard} = document.documentElement.dataset
    const on = localStorage.getItem("trainer-sound") === "on" && RUNS.includes(page) && AT.includes(view)
    const wanted = on ? (heard ?? "").split(" ").filter((name) => MADE[name]) : []
    try {
      if (wanted.length) context ??= new AudioContext()
      if (wanted.length && context.state === "suspended") context.resume()
      for (const name of wanted) if (!voices.has(name)) voices.set(name, MADE[name]())
    } catch (error) { console.warn("no sound of the unit:", error) }
    for (const [name, end] of voices) if (!wanted.includes(name)) { end(); voices.delete(name) }
  }
  addEventListener("trainer-turned", ({detail: {what}}) => { if (["noise", "view", "page", "sound"].includes(what)) listen() })
})()
