"""Tables of the staff's pages: Panel's Tabulator, only read, sorted and filtered in the browser."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping

import pandas
import panel as pn

from trainer.drawing.markup import el, without_bidi

_TARGET = "_to"
"""The hidden column with the places that the links of a row lead to: ``_to`` and the name of the column."""


Cell = str | tuple[str, str]
"""What stands in a row: a text, or a text and where it leads."""


def table(
    titles: Mapping[str, str],
    *,
    links: Collection[str] = (),
    filters: Collection[str] = (),
    long: Collection[str] = (),
    widths: Mapping[str, str] | None = None,
    empty: str = "Nothing here yet.",
    tones: Mapping[str, Mapping[str, str]] | None = None,
    new_tab: bool = False,
) -> pn.widgets.Tabulator:
    """An empty table with these columns, by name with their titles.

    ``links`` are columns whose texts lead somewhere, ``filters`` those with a field that looks for a part of the text,
    ``long`` those with more than a line; ``empty`` stands where there are no rows, ``tones``
    names colors of the style sheet by column and text, and ``new_tab`` lets links open beside the page.
    """
    target = "_blank" if new_tab else "_self"
    link = {name: {"type": "link", "urlField": _TARGET + name, "labelField": name, "target": target} for name in links}
    made = pn.widgets.Tabulator(
        pandas.DataFrame(columns=[*titles, *(_TARGET + name for name in links)], dtype=str),
        titles={name: _text(title) for name, title in titles.items()},
        formatters=link | {name: {"type": "textarea"} for name in long},
        header_filters={
            name: {"type": "input", "func": "like", "placeholder": f"Find: {titles[name]}"} for name in filters
        },
        hidden_columns=[_TARGET + name for name in links],
        widths=dict(widths or {}),
        configuration={
            "placeholder": empty,
            "headerSortTristate": True,
            # A title that is wider than its column goes on in the next line.
            "columnDefaults": {"headerWordWrap": True},
        },
        show_index=False,
        disabled=True,
        selectable=False,
        container_popup=False,
        layout="fit_columns",
        theme="simple",
        sizing_mode="stretch_width",
    )
    for name, colors in (tones or {}).items():
        made.style.map(lambda text, colors=colors: _toned(colors, text), subset=[name])
    return made


def _toned(colors: Mapping[str, str], text: str) -> str:
    return f"background-color: var({colors[text]})" if text in colors else ""


def fill(shown: pn.widgets.Tabulator, rows: Iterable[Mapping[str, Cell]]) -> None:
    """Show these rows, each by the names of the columns; a cell is a text, or (text, where it leads)."""
    columns = list(shown.value.columns)
    found = []
    for row in rows:
        cells: dict[str, str] = {}
        for name, cell in row.items():
            if isinstance(cell, tuple):
                cell, cells[_TARGET + name] = cell
            cells[name] = without_bidi(str(cell))
        found.append([cells.get(name, "") for name in columns])
    new = pandas.DataFrame(found, columns=columns, dtype=str)
    if not new.equals(shown.value):
        shown.value = new


def _text(title: str) -> str:
    """A title as the library takes it, which is as markup."""
    return el("t", {}, title)[3:-4]
