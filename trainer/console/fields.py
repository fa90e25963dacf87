"""Fields of the page that are widgets of the library: they are searched and chosen from as such, in both editions.

A field is known by its name, as charts are: a patch sets its properties, and what is chosen goes the way of every
message, by the header board, which hears the event ``trainer-say``.
"""

from __future__ import annotations

from bokeh.models import AutocompleteInput, CustomJS, InlineStyleSheet, Select
from bokeh.models.ui import UIElement

from trainer.console.diagnosis import FAULT, PART

_STYLE = """
:host { width: 100%; font-size: 14px; color: var(--page-ink) }
label { color: var(--page-ink); font-weight: 600 }
.bk-input { min-height: 44px; background-color: var(--page-panel); color: var(--page-ink); border-color: var(--page-ink) }
.bk-input:focus-visible { outline: 3px solid var(--page-focus, #1467c8); outline-offset: 1px }
.bk-menu { background: var(--page-panel); color: var(--page-ink); border: 1px solid var(--page-ink); max-height: 40vh; overflow: auto }
.bk-menu > * { padding: 8px; white-space: normal }
"""


def _says(page: str) -> CustomJS:
    return CustomJS(
        # Behind the change itself, so that the server knows the field's value before it hears of it.
        code=f"""const detail = {{page: "{page}", value: cb_obj.value}}
setTimeout(() => window.dispatchEvent(new CustomEvent("trainer-say", {{detail}})))"""
    )


def fields() -> dict[str, UIElement]:
    """The fields of one page by name."""
    style = InlineStyleSheet(css=_STYLE)
    part = AutocompleteInput(
        name=PART,
        title="Part",
        placeholder="Type a piece of its name, or of the fault",
        search_strategy="includes",
        case_sensitive=False,
        min_characters=1,
        max_completions=40,
        sizing_mode="stretch_width",
        stylesheets=[style],
    )
    fault = Select(name=FAULT, title="What is wrong with it", options=[], sizing_mode="stretch_width", stylesheets=[style])
    part.js_on_change("value", _says("suspect"))
    fault.js_on_change("value", _says("suspect-fault"))
    return {"diagnosis_part": part, "diagnosis_fault": fault}
