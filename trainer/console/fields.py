"""Fields of the page that are widgets of the library: they are searched and chosen from as such, in both editions.

A field is known by its name, as charts are: a patch sets its properties, and what is chosen goes the way of every
message, by the header board, which listens to both; a field's tag is the message's ``page``. No script is made of
text for that: the page's policy would not run it.
"""

from __future__ import annotations

from bokeh.models import AutocompleteInput, InlineStyleSheet, Select
from bokeh.models.ui import UIElement

from trainer import resources
from trainer.console.diagnosis import FAULT, FAULT_TITLE, PART, PART_TITLE, PLACEHOLDER


def fields() -> dict[str, UIElement]:
    """The fields of one page by name."""
    style = InlineStyleSheet(css=(resources.assets() / "style" / "fields.css").read_text("utf-8"))
    part = AutocompleteInput(
        name=PART,
        tags=["suspect", "seek"],
        title=PART_TITLE,
        placeholder=PLACEHOLDER,
        search_strategy="includes",
        case_sensitive=False,
        min_characters=1,
        sizing_mode="stretch_width",
        stylesheets=[style],
    )
    fault = Select(
        name=FAULT,
        tags=["suspect-fault"],
        title=FAULT_TITLE,
        options=[],
        sizing_mode="stretch_width",
        stylesheets=[style],
    )
    return {"diagnosis_part": part, "diagnosis_fault": fault}
