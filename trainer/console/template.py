"""The page's template, made a document without looking all models through anew for each of its roots."""

from __future__ import annotations

import panel as pn
from bokeh.document import Document


class Template(pn.Template):
    """A Panel template whose thirty roots are added in one go: a second less for each page that opens."""

    def __repr__(self) -> str:
        # Asked for at every root that is added; the library's own spells out the whole page.
        return f"{type(self).__name__}()"

    def _init_doc(self, doc: Document | None = None, *given: object, **more: object) -> Document:
        if doc is None:
            return super()._init_doc(doc, *given, **more)
        with doc.models.freeze():
            return super()._init_doc(doc, *given, **more)
