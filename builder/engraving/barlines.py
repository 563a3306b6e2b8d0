"""Bar lines as an editor chooses them: behind every bar, behind every second one, or as ticks."""

from __future__ import annotations

import xml.etree.ElementTree as ET

from builder.engraving.tree import NAMESPACE, text

OPEN = "open"
"""The type of a bar that has no line behind it, as the next one belongs to it."""
TICK = "tick"
"""The type of a bar that has a short stroke behind it instead of a line."""


def barred(mei: str, barring: str) -> str:
    """MEI with the bar lines of a choice for print (`builder.source.printing.BARRING`): `double` has one
    behind every second bar, `ticks` short strokes through the highest line of each stave. The last bar line,
    and one that is there for a reason of its own, stay.

    >>> from builder.engraving.keyboard import keyboard_mei
    >>> from builder.music import notated
    >>> from builder.source import EXAMPLE, parse
    >>> mei = keyboard_mei(notated(parse(EXAMPLE).score()))
    >>> [barred(mei, each).count('right="invis"') for each in ("every", "double", "ticks")]
    [0, 2, 0]
    >>> barred(mei, "ticks").count('type="tick"')
    3
    """
    if barring not in ("double", "ticks"):
        return mei
    root = ET.fromstring(mei.replace(f' xmlns="{NAMESPACE}"', "", 1))
    measures = list(root.iter("measure"))
    for n, measure in enumerate(measures[:-1]):
        if measure.get("right"):
            continue
        if barring == "ticks":
            measure.set("type", TICK)
        elif n % 2 == 0:
            measure.set("type", OPEN)
            measure.set("right", "invis")
    root.set("xmlns", NAMESPACE)
    return text(root)


def ticked(measure: ET.Element) -> None:
    """Make ticks of the bar line behind a measure that is drawn as SVG, in place: on each stave a stroke
    as high as a space, half of it above the highest line."""
    lines = [staff.findall("path")[:5] for staff in measure if staff.get("class") == "staff"]
    line = measure.find("g[@class='barLine']")
    if line is None:
        return
    drawn = line.findall("path")
    if not drawn:
        return
    x = drawn[0].attrib["d"].split()[0].removeprefix("M")
    thick = drawn[0].get("stroke-width", "")
    for path in drawn:
        line.remove(path)
    for stave in (each for each in lines if len(each) == 5):
        top, next_ = (float(path.attrib["d"].split()[1]) for path in stave[:2])
        half = (next_ - top) / 2
        stroke = {"d": f"M{x} {top - half:g} L{x} {top + half:g}", "stroke-width": thick}
        ET.SubElement(line, "path", stroke)
