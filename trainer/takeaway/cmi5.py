"""The offline edition as a cmi5 package: a ZIP file that a learning system imports, a unit for every drill of a course.

Source: the cmi5 specification, Quartz, first edition: course structure (section 13), launch (8), statements (9). What
the page reports to the learning record store stands in ``assets/script/cmi5.js``.
"""

from __future__ import annotations

import tempfile
import zipfile
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from urllib.parse import urlencode
from xml.etree import ElementTree

from trainer import naming, resources
from trainer.drills import library
from trainer.drills.schema import Drill
from trainer.learn import courses
from trainer.learn.courses import Course
from trainer.records.xapi import HOME
from trainer.takeaway.build import build
from trainer.takeaway.errors import SiteError
from trainer.takeaway.page import TITLE

SPACE = "https://w3id.org/xapi/profiles/cmi5/v1/CourseStructure.xsd"
STRUCTURE = "cmi5.xml"
ABOUT = "Practise on a computed control system of blowout preventers, and be checked without help."


def structure(ordered: Sequence[Course], drills: Mapping[str, Drill]) -> bytes:
    """The course structure: a block for each course, a unit for each of its drills, passed by a check."""
    ElementTree.register_namespace("", SPACE)
    root = ElementTree.Element(f"{{{SPACE}}}courseStructure")
    _said(ElementTree.SubElement(root, f"{{{SPACE}}}course", {"id": f"{HOME}/courses"}), TITLE, ABOUT)
    for course in ordered:
        block = ElementTree.SubElement(root, f"{{{SPACE}}}block", {"id": f"{HOME}/courses/{course.id}"})
        _said(block, f"{naming.title(course.rig)}: {course.title}", course.purpose)
        for name in dict.fromkeys(course.drills):
            drill = drills[name]
            unit = {
                "id": f"{HOME}/courses/{course.id}/{name}",
                "moveOn": "Passed",
                "masteryScore": f"{drill.pass_mark / 100.0:g}",
                "launchMethod": "AnyWindow",
            }
            au = ElementTree.SubElement(block, f"{{{SPACE}}}au", unit)
            _said(au, drill.title, drill.purpose)
            ElementTree.SubElement(au, f"{{{SPACE}}}url").text = f"index.html?{urlencode({'drill': name})}"
    ElementTree.indent(root)
    return bytes(ElementTree.tostring(root, encoding="utf-8", xml_declaration=True))


def _said(element: ElementTree.Element, title: str, description: str) -> None:
    for name, text in (("title", title), ("description", description)):
        inside = ElementTree.SubElement(element, f"{{{SPACE}}}{name}")
        ElementTree.SubElement(inside, f"{{{SPACE}}}langstring", {"lang": "en-US"}).text = text


def package(out: Path, say: Callable[[str], None] = lambda _: None) -> str:
    """Write the package to the file ``out``; what was written, in words. SiteError where it cannot be."""
    drills = library.all_drills()
    ordered = courses.offered(drills, list(resources.plant_files()))
    with tempfile.TemporaryDirectory() as scratch:
        site = Path(scratch) / "site"
        build(site, say=say, course=True)
        try:
            with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
                archive.writestr(STRUCTURE, structure(ordered, drills))
                for path in sorted(path for path in site.rglob("*") if path.is_file()):
                    packed = zipfile.ZIP_STORED if path.suffix == ".gz" else zipfile.ZIP_DEFLATED
                    archive.write(path, path.relative_to(site).as_posix(), packed)
        except OSError as error:
            raise SiteError(f"{out} cannot be written: {error.strerror or error}; name a file in a folder.") from error
    units = sum(len(set(course.drills)) for course in ordered)
    return f"{out}: cmi5 package, {len(ordered)} courses, {units} units, {out.stat().st_size * 1e-6:.1f} MB"
