"""The score report on paper: A4, PDF.

Where a DejaVu font is on the machine it is used and shows any name. Without it the built-in fonts show Latin
letters, and what they lack is written as near as they can.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Callable, Sequence
from datetime import UTC, datetime
from pathlib import Path

from fpdf import FPDF, XPos, YPos
from fpdf.fonts import FontFace

from trainer.console.in_language import teller
from trainer.drawing.markup import without_bidi
from trainer.reports.content import NOTES, Report, short

_FONTS = (
    Path("/usr/share/fonts/truetype/dejavu"),
    Path("/usr/share/fonts/dejavu-sans-fonts"),
    Path("/usr/share/fonts/TTF"),
)
_PLAIN = str.maketrans(
    {"–": "-", "—": "-", "…": "...", "‘": "'", "’": "'", "“": '"', "”": '"', "×": "x", "≤": "<=", "≥": ">="}
)

#: What the first page has room for.
MOST_CRITICAL = 3
MOST_MILESTONES = 9
SHORT = 300

TONES = {"passed": (207, 233, 215), "failed": (251, 220, 216), "unproven": (225, 229, 233)}
"""Behind the headline."""


class Paper(FPDF):
    """A4 with the page's number and whose report it is at the foot."""

    def __init__(self, foot: str, tell: Callable[[str], str] = str) -> None:
        super().__init__(format="A4")
        self._foot = foot
        self._tell = tell
        self.wide = self._fonts()
        self.set_auto_page_break(True, 18)
        self.alias_nb_pages()

    def _fonts(self) -> bool:
        for folder in _FONTS:
            plain, bold = folder / "DejaVuSans.ttf", folder / "DejaVuSans-Bold.ttf"
            if plain.is_file() and bold.is_file():
                self.add_font("report", "", plain)
                self.add_font("report", "B", bold)
                return True
        return False

    def use(self, size: float, bold: bool = False) -> None:
        """Write in this size (points) from now on, in the font that came with the report or the library's own."""
        self.set_font("report" if self.wide else "helvetica", "B" if bold else "", size)

    def plain(self, text: str) -> str:
        """The text in the language of the paper, with the letters that the font can show: with the library's own font
        an accent that it lacks is dropped, and another letter becomes a question mark."""
        text = "\n".join(map(self._tell, text.split("\n")))
        if self.wide:
            return "".join(letter for letter in text if letter == "\n" or letter.isprintable())
        text = unicodedata.normalize("NFKC", without_bidi(text).translate(_PLAIN))
        return "".join(map(_latin, text))

    def footer(self) -> None:
        """Write the foot of a page with its number; fpdf2 calls it by this name at the end of each page."""
        self.set_y(-12)
        self.use(7.5)
        self.cell(0, 5, self.plain(f"{self._foot}   {self.page_no()}/{{nb}}"), align="C")

    def line_of(self, text: str, size: float = 9.5, bold: bool = False) -> None:
        """Write a paragraph from the left margin in this size (points), and go on below it."""
        self.use(size, bold)
        self.multi_cell(0, size * 0.5, self.plain(text), align="L", new_x=XPos.LMARGIN, new_y=YPos.NEXT)

    def keep_together(self, tall: float) -> None:
        """Begin a page where what comes, so tall (mm), would not fit on this one."""
        if self.get_y() + tall > self.h - self.b_margin:
            self.add_page()

    def title_of(self, text: str) -> None:
        """Write the title of a part; less than 45 mm above the foot it begins a new page, so that it never stands
        alone."""
        if self.get_y() > self.h - 45:
            self.add_page()
        self.ln(3)
        self.line_of(text, 12, bold=True)
        self.ln(1)

    def bar(self, title: str, points: str, share: float, wide: float) -> None:
        """A line so wide with a name, what was earned, and a bar for the share of it, 0 to 1."""
        self.use(8.5)
        y = self.get_y()
        self.cell(32, 5, self.plain(title))
        self.cell(20, 5, self.plain(points))
        x, wide = self.get_x(), wide - 52
        self.set_fill_color(225, 229, 233)
        self.rect(x, y + 1, wide, 3.2, style="F")
        self.set_fill_color(71, 82, 94)
        if share > 0.0:
            self.rect(x, y + 1, wide * min(share, 1.0), 3.2, style="F")
        self.set_y(y + 5)

    def times(self, head: tuple[str, str, str], rows: Sequence[tuple[str, str, str]], x: float) -> None:
        """A small table from ``x`` to the right margin: two times and what came about, one line each."""
        self.use(8, bold=True)
        # As wide as its head, so that nothing is printed over anything; what comes about gets the rest.
        wide = self.get_string_width(self.plain(head[1])) + 4.0
        for n, (first, second, what) in enumerate((head, *rows)):
            self.set_x(x)
            self.use(8, bold=n == 0)
            self.cell(13, 4.4, self.plain(first))
            self.cell(wide, 4.4, self.plain(second))
            most, room = len(what) + 1, self.w - self.r_margin - self.get_x() - 2.0
            while most > 8 and self.get_string_width(self.plain(short(what, most))) > room:
                most -= 1
            self.cell(0, 4.4, self.plain(short(what, most)), new_x=XPos.LMARGIN, new_y=YPos.NEXT)

    def rows(
        self, head: Sequence[str], rows: Sequence[Sequence[str]], widths: tuple[int, ...], size: float = 8
    ) -> None:
        """Write a table, its columns as wide as ``widths`` tell (shares), whose head comes again on each page."""
        self.use(size)
        # A table's cells take the colour that was filled with last.
        self.set_fill_color(255, 255, 255)
        bold = FontFace(emphasis="BOLD", fill_color=(238, 241, 243))
        with self.table(
            col_widths=widths, headings_style=bold, line_height=4.2, text_align="LEFT", v_align="T"
        ) as table:
            for row in (head, *rows):
                line = table.row()
                for cell in row:
                    line.cell(self.plain(cell))


def _latin(letter: str) -> str:
    """A letter that the built-in fonts show: itself, itself without its accent, or a question mark."""
    try:
        return letter.encode("latin-1").decode("latin-1")
    except UnicodeEncodeError:
        bare = "".join(one for one in unicodedata.normalize("NFKD", letter) if not unicodedata.combining(one))
        return bare.encode("latin-1", "replace").decode("latin-1")


def _told(*parts: str, source: str) -> str:
    """What there is of these, one under the other, and the source last."""
    return "\n".join(part for part in (*parts, f"Source: {source}" if source else "") if part)


def pdf(report: Report) -> bytes:
    """The report as a PDF document; the same report gives the same bytes."""
    sheet = Paper(report.foot, teller(report.language, numbers=False))
    sheet.set_creation_date(datetime(2000, 1, 1, tzinfo=UTC))
    sheet.set_title(sheet.plain(f"{report.title}: score report"))
    sheet.add_page()
    sheet.line_of(report.title, 18, bold=True)
    sheet.ln(2)
    sheet.set_fill_color(*TONES[report.tone])
    sheet.use(13, bold=True)
    sheet.multi_cell(0, 9, sheet.plain(report.headline), fill=True, new_x=XPos.LMARGIN, new_y=YPos.NEXT)
    sheet.line_of(report.verdict)
    sheet.ln(2)
    _first_page(sheet, report)
    sheet.add_page()
    sheet.line_of("Details", 16, bold=True)
    if report.critical:
        sheet.title_of("Critical errors")
        sheet.rows(
            ("What", "What happened, what was seen, and the source"),
            [(line.title, _told(line.what, line.seen, source=line.source)) for line in report.critical],
            (30, 70),
        )
    sheet.title_of("Criteria")
    sheet.rows(
        ("What", "When", "Points", "What happened, what was seen, why it matters, and the source"),
        [
            (line.title, line.when, line.points, _told(line.what, line.marked, line.seen, line.why, source=line.source))
            for line in report.lines
        ],
        (24, 9, 12, 55),
    )
    if len(report.remarks) > SHORT:
        sheet.title_of("Remarks")
        sheet.line_of(report.remarks)
    if report.log:
        sheet.title_of("Actions")
        sheet.rows(("Time", "From", "What", "Refused because"), report.log, (10, 12, 48, 30))
    if report.notes:
        sheet.title_of(NOTES)
        for note in report.notes:
            sheet.line_of(note)
    if report.sources:
        sheet.title_of("Sources")
        for source in report.sources:
            sheet.line_of(f"- {source}", 8)
    sheet.title_of("Evidence")
    sheet.line_of(report.checked, 8)
    return bytes(sheet.output())


def _first_page(sheet: Paper, report: Report) -> None:
    """All that fits one page: the run, what failed, where the points are, what cost most, and who signs."""
    facts = [*report.facts, ("", "")] if len(report.facts) % 2 else list(report.facts)
    half = len(facts) // 2
    sheet.rows(
        ("About this run", "", "", ""),
        [(*left, *right) for left, right in zip(facts[:half], facts[half:], strict=True)],
        (20, 34, 20, 34),
    )
    if report.critical:
        sheet.title_of("Critical errors")
        told = report.critical[: MOST_CRITICAL - bool(report.remarks)]
        for line in told:
            sheet.line_of(short(f"{line.title}: {line.what}", 170), bold=True)
            sheet.line_of(short(_told(short(line.seen, 100), source=line.source), 210), 8)
        if len(report.critical) > len(told):
            sheet.line_of(f"and {len(report.critical) - len(told)} more, see the details", 8)
    _points_and_times(sheet, report)
    if report.lost:
        sheet.title_of("Points lost")
        # Critical errors and remarks need room too; what they push out is in the details.
        most = max(2, len(report.lost) - len(report.critical[:MOST_CRITICAL]) - (2 if report.remarks else 0))
        rows = [
            (lost.title, lost.points, _told(lost.what, lost.seen, source=lost.source)) for lost in report.lost[:most]
        ]
        more = report.more_lost + len(report.lost) - len(rows)
        if more:
            rows.append((f"and {more} more, see the details", "", ""))
        sheet.rows(("What", "Lost", "What happened, what was seen, and the source"), rows, (22, 6, 80), 7.2)
    if report.remarks:
        sheet.title_of("Remarks")
        sheet.line_of(short(report.remarks, SHORT))
    sheet.set_y(max(sheet.get_y() + 3, sheet.h - 40))
    unsigned = "Assessor's signature: ______________________________   Date: ________________"
    sheet.line_of(report.signed or unsigned, 9.5)
    sheet.ln(2)
    sheet.line_of(report.safety, 7.5)


def _points_and_times(sheet: Paper, report: Report) -> None:
    """Side by side: where the points are, and when things came about."""
    left, top = sheet.epw * 0.47, sheet.get_y()
    right = sheet.l_margin + sheet.epw * 0.52
    low = top
    if report.parts:
        sheet.title_of("Where the points are")
        for part in report.parts:
            sheet.bar(part.title, part.points, part.share, left)
        low = sheet.get_y()
    if report.milestones:
        sheet.set_xy(right, top + 3)
        sheet.use(12, bold=True)
        sheet.cell(0, 6, "When", new_x=XPos.LMARGIN, new_y=YPos.NEXT)
        sheet.ln(1)
        sheet.times(("You", "Reference run", "What"), report.milestones[:MOST_MILESTONES], right)
    sheet.set_y(max(low, sheet.get_y()))
