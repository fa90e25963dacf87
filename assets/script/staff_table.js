// The table library, extended in the way that it offers: a table's body is no stop of the keyboard by itself, and its
// headings sort by Enter or Space as by a click.
class Reach {
  static moduleName = "reach"

  constructor(table) {
    this.table = table
  }

  initialize() {
    const whole = this.table.setData.bind(this.table)
    this.table.setData = (data, ...more) => (this.same(data) ? this.table.updateData(data) : whole(data, ...more))
    for (const event of ["tableBuilt", "columnsLoaded"]) this.table.on(event, () => this.mend())
  }

  // The same rows in their order, with other texts: only those change, and the keyboard stays where it is.
  same(data) {
    const rows = this.table.initialized ? this.table.getRows() : []
    return Array.isArray(data) && rows.length > 0 && rows.length === data.length
      && !this.table.getSorters().length && !this.table.getHeaderFilters().length
      && rows.every((row, at) => row.getIndex() === data[at]._index)
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
