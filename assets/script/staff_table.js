// The table library, extended in the way that it offers: a table's body is no stop of the keyboard by itself, and its
// headings sort by Enter or Space as by a click.
class Reach {
  static moduleName = "reach"

  constructor(table) {
    this.table = table
  }

  initialize() {
    for (const event of ["tableBuilt", "columnsLoaded"]) this.table.on(event, () => this.mend())
  }

  mend() {
    const root = this.table.element
    root.querySelector(".tabulator-tableholder")?.removeAttribute("tabindex")
    for (const head of root.querySelectorAll(".tabulator-col.tabulator-sortable:not([tabindex])")) {
      head.tabIndex = 0
      head.addEventListener("keydown", (pressed) => {
        if (pressed.target !== head || !["Enter", " "].includes(pressed.key)) return
        pressed.preventDefault()
        head.click()
      })
    }
  }
}
window.Tabulator?.registerModule(Reach)
