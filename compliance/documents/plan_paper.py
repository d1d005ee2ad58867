"""The hazard plan on paper: flow diagram, hazard analysis, control table, forms to fill in.

After the twelve steps of Codex CXC 1-1969 (from memory).
"""

from __future__ import annotations

from itertools import chain

from reportlab.graphics.shapes import Drawing, Line, Polygon, Rect
from reportlab.lib.colors import white
from reportlab.lib.units import mm
from reportlab.platypus import Flowable, PageBreak, Spacer

from brewlog.charts.ink import words
from brewlog.fonts import BOLD, REGULAR, printable, use_fonts, width_of
from compliance.documents.as_read import as_read
from compliance.documents.page import (
    ACCENT,
    BODY,
    BOLD_BODY,
    SMALL,
    SOFT,
    Column,
    Row,
    heading,
    lacking_note,
    paragraph,
    render,
    section,
    table,
    title_block,
)
from compliance.documents.plan_packet import PlanPacket, PlanRow
from compliance.documents.to_write_on import signatures, to_sign

EXAMPLE = (
    "An example, approved by nobody. Adapt it to your product, your equipment and your law, and "
    "have it approved by a process authority or whoever your authority accepts."
)
ADVICE = "A limit here is never legal advice; its source and how surely it was read stand with it."
# Boxes of one drawing: what fits under its heading on a Letter page.
MOST_BOXES = 15
WIDTH = 180 * mm
BOX_WIDTH, BOX_HEIGHT, GAP = 76 * mm, 8.4 * mm, 4.6 * mm
# What is left of a Letter page under its heads.
_LINES_OF_A_FORM = 20


def plan_paper(packet: PlanPacket, paper: str = "a4") -> bytes:
    """The PDF of the plan. `paper` is `a4` or `letter`."""
    return render(packet.head, plan_story(packet), paper)


def plan_story(packet: PlanPacket) -> list[Flowable]:
    """The parts of the plan, as it stands by itself or in a binder."""
    packet = as_read(packet)
    parts = (
        _top(packet),
        _texts(packet),
        _flow(packet),
        section("Hazard analysis", _hazards(packet)),
        section("Control points", _controls(packet)),
        section("Where the limits come from", paragraph(ADVICE, SMALL), _limits(packet)),
        to_sign(
            "Approved and confirmed on site",
            ("Flow walked through on site by", "Plan approved by"),
        ),
        *(_form(row) for row in packet.controls),
    )
    return list(chain.from_iterable(parts))


def _top(packet: PlanPacket) -> list[Flowable]:
    found = title_block(packet.name, [f"Hazard plan, version {packet.number}"], packet.head.state)
    found.append(Spacer(1, 3))
    if packet.is_example:
        found.append(paragraph(EXAMPLE, BOLD_BODY))
    if packet.signed:
        found.append(paragraph(f"Signed: {packet.signed}", BODY))
    if packet.changes:
        changed = "; ".join(packet.changes)
        found.append(paragraph(f"Differs from what was signed: {changed}.", BOLD_BODY))
    found += lacking_note(packet.to_json())
    found += [paragraph(f"Lacking: {each}", BODY) for each in packet.lacking]
    return found


def _texts(packet: PlanPacket) -> list[Flowable]:
    parts = []
    for pair in packet.texts:
        parts += section(pair.label, paragraph(pair.value or "Not written.", BODY))
    return parts


# The flow --------------------------------------------------------------------------------


def _flow(packet: PlanPacket) -> list[Flowable]:
    steps = packet.flow
    if not steps:
        return section("Flow", paragraph("No step is written yet.", SMALL))
    parts: list[Flowable] = []
    for first in range(0, len(steps), MOST_BOXES):
        drawing = flow_drawing(packet, steps[first : first + MOST_BOXES])
        title = "Flow" if first == 0 else "Flow, continued"
        parts += [*heading(title, needs=drawing.height + 14 * mm), Spacer(1, 4), drawing]
    return parts


def flow_drawing(packet: PlanPacket, steps: tuple[str, ...]) -> Drawing:
    """The steps from top to bottom, and beside each the control points it holds."""
    use_fonts()
    height = len(steps) * (BOX_HEIGHT + GAP)
    drawing = Drawing(WIDTH, height)
    for number, step in enumerate(steps):
        bottom = height - (number + 1) * (BOX_HEIGHT + GAP) + GAP
        controls = [row for row in packet.controls if row.step == step]
        _box(drawing, bottom, step, any(row.number.startswith("CCP") for row in controls))
        _beside(drawing, bottom, controls)
        if number + 1 < len(steps):
            _arrow(drawing, bottom)
    return drawing


def _box(drawing: Drawing, bottom: float, step: str, is_critical: bool) -> None:
    drawing.add(
        Rect(0, bottom, BOX_WIDTH, BOX_HEIGHT, rx=2, ry=2, fillColor=white,
             strokeColor=ACCENT if is_critical else SOFT, strokeWidth=1.4 if is_critical else 0.6)
    )  # fmt: skip
    shown = _fitted(step, BOLD, 9, BOX_WIDTH - 8)
    drawing.add(words((4, bottom + 3 * mm), shown, 9, is_bold=True))


def _beside(drawing: Drawing, bottom: float, controls: list[PlanRow]) -> None:
    """`CCP 1: pH ≤ 4.2; CP 1`, on as many lines as stand beside a box, joined to it by a line."""
    if not controls:
        return
    middle = bottom + BOX_HEIGHT / 2
    left = BOX_WIDTH + 8 * mm
    drawing.add(Line(BOX_WIDTH, middle, left - 2, middle, strokeColor=ACCENT, strokeWidth=0.6))
    said = [
        f"{row.number}: {row.limit.title} {row.limit.comparison}".strip()
        if row.limit
        else row.number
        for row in controls
    ]
    lines = _beside_lines(said, WIDTH - left)
    top = middle + (len(lines) - 1) * _BESIDE_LEADING / 2 - 3
    for number, shown in enumerate(lines):
        drawing.add(words((left, top - number * _BESIDE_LEADING), shown, _BESIDE_SIZE))


_BESIDE_SIZE, _BESIDE_LEADING = 8.0, 9.4
# What stands beside one box without touching what stands beside the next.
_LINES_BESIDE = 4


def _beside_lines(said: list[str], room: float) -> list[str]:
    """The control points of a step, as many on a line as fit; the last line tells of the rest."""
    lines: list[str] = []
    for each in said:
        longer = f"{lines[-1]}; {each}" if lines else each
        if lines and width_of(printable(longer), REGULAR, _BESIDE_SIZE) <= room:
            lines[-1] = longer
        else:
            lines.append(_fitted(each, REGULAR, _BESIDE_SIZE, room))
    if len(lines) > _LINES_BESIDE:
        lines = [*lines[: _LINES_BESIDE - 1], "more stand in the table of control points"]
    return lines


def _arrow(drawing: Drawing, bottom: float) -> None:
    middle, tip = BOX_WIDTH / 2, bottom - GAP
    drawing.add(Line(middle, bottom, middle, tip + 4, strokeColor=SOFT, strokeWidth=0.8))
    head = [middle - 2.4, tip + 4.5, middle + 2.4, tip + 4.5, middle, tip]
    drawing.add(Polygon(head, fillColor=SOFT, strokeColor=SOFT))


def _fitted(said: str, font: str, size: float, room: float) -> str:
    """The words, cut where they would run out of their box."""
    if width_of(printable(said), font, size) <= room:
        return said
    while said and width_of(printable(said) + "…", font, size) > room:
        said = said[:-1]
    return said + "…"


# The tables ------------------------------------------------------------------------------


def _hazards(packet: PlanPacket) -> Flowable:
    columns = [
        Column("Step", 18),
        Column("What can go wrong", 25),
        Column("Significant, why or why not", 27),
        Column("How it is kept from happening", 27),
        Column("Controlled as", 15),
    ]
    rows = [
        Row(
            (
                row.name, f"{row.hazard_kind}: {row.hazard}",
                f"{row.significant}: {row.justification}", row.measure,
                f"{row.number} {row.control}".strip(),
            ),
            is_bold=row.number.startswith("CCP"),
        )
        for row in packet.rows
    ]  # fmt: skip
    return table(columns, rows, "No hazard is written yet.")


def _controls(packet: PlanPacket) -> Flowable:
    columns = [
        Column("Point", 17),
        Column("Limit", 20),
        Column("Looked at, how, how often, by whom", 25),
        Column("When it is not met", 24),
        Column("Verified", 19),
        Column("Records", 15),
    ]
    rows = [
        Row(
            (
                f"{row.number}\n{row.name}", row.limit_words, row.monitoring, row.correction,
                row.verification, row.records,
            )
        )
        for row in packet.controls
    ]  # fmt: skip
    return table(columns, rows, "No step is a control point.")


def _limits(packet: PlanPacket) -> Flowable:
    limits = dict.fromkeys(row.limit for row in packet.rows if row.limit)
    columns = [
        Column("Limit", 28),
        Column("Value", 13),
        Column("Source", 30),
        Column("How surely it was read", 18),
        Column("Rule set", 24),
    ]
    rows = [
        Row((each.title, each.comparison or "–", each.citation, each.reading, each.ruleset))
        for each in limits
        if each
    ]
    return table(columns, rows, "No step refers to a limit.")


# The forms -------------------------------------------------------------------------------


def _form(row: PlanRow) -> list[Flowable]:
    """A sheet to keep by hand where there is no screen: the actual value, never OK or a tick
    (21 CFR 117.305)."""
    columns = [
        Column("Date and time", 18),
        Column("Lot", 18),
        Column("Value, with its unit", 22),
        Column("Instrument", 16),
        Column("By", 14),
        Column("What was done if not met", 32),
    ]
    blank = [Row(("\n\n", "", "", "", "", "")) for _ in range(_LINES_OF_A_FORM)]
    return [
        PageBreak(),
        *heading(f"Form for {row.number}: {row.step}"),
        paragraph(f"Limit: {row.limit_words}", BOLD_BODY),
        paragraph(f"Looked at: {row.monitoring}", BODY),
        paragraph(f"When it is not met: {row.correction}", BODY),
        paragraph("Write the value as read, not OK. Copy it into the records the same day.", SMALL),
        Spacer(1, 4),
        table(columns, blank, ""),
        Spacer(1, 4),
        signatures(("Reviewed by",)),
    ]
