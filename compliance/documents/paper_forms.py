"""Blank papers for when the network is down: written with a pen, keyed in afterwards.

Every part has a code. Typed into the box on any page, or scanned, it opens the very entry the
part is keyed into, a round the round; the words on the paper are those on that entry.
"""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass
from itertools import chain

from django.db.models import Q
from reportlab.lib.units import mm
from reportlab.platypus import Flowable, KeepTogether, PageBreak, Spacer, Table

from brewlog.entries import BY_SLUG
from brewlog.models import User, Vessel
from compliance.documents.barcodes import qr
from compliance.documents.flowables import SymbolBlock
from compliance.documents.page import (
    ACCENT,
    BODY,
    COLUMN,
    HAIR,
    LABEL,
    SMALL,
    Head,
    heading,
    paragraph,
    render,
    title_block,
)
from compliance.documents.printing import desk

VESSELS_ON_A_ROUND = 12
_ROW, _FIELD = 8 * mm, 10.4 * mm
# The column of an A4 page, narrower than a Letter one.
_NARROWEST = 180 * mm
# What the person reads first: how to come from the paper to the record.
HOW = (
    "Write it down as it happens, with the day, the clock and the units. Afterwards type the code "
    "of each part into the box at the head of any page, key the part in, and say that it was "
    "written late. Keep the paper."
)
BLANK = "blank form"


@dataclass(frozen=True)
class Part:
    """A part of a paper that is keyed into one entry.

    `once` are the entry's fields written once, `each` those of its rows. With `lines`, the
    rows are that group of rows of the entry. With `by_vessel`, a row for each vessel: it is
    keyed in as a round, whose fields are the entry's.
    """

    code: str
    slug: str
    once: tuple[str, ...] = ()
    each: tuple[str, ...] = ()
    lines: str = ""
    rows: int = 3
    by_vessel: bool = False

    @property
    def title(self) -> str:
        """What it is called where it is keyed in."""
        return "A round" if self.by_vessel else BY_SLUG[self.slug].title


@dataclass(frozen=True)
class Paper:
    """A blank paper: its name in addresses, its title, a caution, and its parts."""

    key: str
    title: str
    caution: str
    parts: tuple[Part, ...]


PAPERS = (
    Paper(
        "batch",
        "Batch sheet",
        "Hot tea scalds. Cool before the starter goes in. Gas from ferments gathers low: air "
        "the room.",
        (
            Part(
                "P-BREW",
                "brew",
                ("when", "recipe", "kettle", "water_source", "quantity", "code", "done_by"),
                ("source", "quantity"),
                "lines",
            ),
            Part(
                "P-STEP",
                "step",
                (),
                ("when", "kind", "temperature", "minutes", "instrument", "done_by"),
            ),
            Part("P-BATCH", "batch", ("when", "vessel", "recipe", "planned", "code", "done_by")),
            Part(
                "P-FILL",
                "fill",
                ("when", "batch", "done_by"),
                ("source", "quantity"),
                "lines",
                2,
            ),
            Part(
                "P-ADD",
                "pitch",
                ("when", "batch", "temperature", "quantity", "done_by"),
                ("source", "quantity"),
                "lines",
                2,
            ),
            Part(
                "P-READ",
                "reading",
                (),
                ("when", "measurand", "value", "sample_temperature", "instrument", "done_by"),
                rows=6,
            ),
            Part(
                "P-LOOK",
                "condition",
                (),
                ("when", "mould", "kahm_yeast", "smell", "look", "verdict", "done_by"),
            ),
            Part(
                "P-BOTTLE",
                "bottle-one",
                ("when", "batch", "drawn", "flavour", "format", "count", "best_before", "code",
                 "done_by"),
            ),
        ),
    ),
    Paper(
        "readings",
        "Reading round",
        "Degas the sample before pH, acidity or density. A reading that looks wrong is taken "
        "again at once, and both are written down.",
        (
            Part(
                "P-ROUND",
                "reading",
                ("when", "measurand", "instrument", "sample_temperature", "done_by"),
                ("lot", "value"),
                rows=VESSELS_ON_A_ROUND,
                by_vessel=True,
            ),
        ),
    ),
    Paper(
        "receiving",
        "Receiving form",
        "Look at it before it is put away: sound, closed, dry, cold where it came cold. What is "
        "in doubt is kept apart.",
        (
            Part(
                "P-RECEIVE",
                "receive",
                ("when", "transporter", "document_type", "document_number", "supplier", "done_by"),
                ("ingredient", "quantity", "supplier_code", "best_before", "arrival_temperature",
                 "condition", "accepted"),
                rows=14,
            ),
        ),
    ),
    Paper(
        "cleaning",
        "Cleaning log",
        "Caustic and acid burn: gloves and goggles, and never mix them. Never mix chlorine with "
        "acid: the gas poisons.",
        (
            Part(
                "P-CLEAN",
                "log-cleaning",
                (),
                ("when", "vessel", "agent", "what", "value_text", "is_good", "done_by"),
                rows=18,
            ),
        ),
    ),
)  # fmt: skip
BY_KEY = {paper.key: paper for paper in PAPERS}
CODES = {part.code: part for paper in PAPERS for part in paper.parts}


# Collecting ----------------------------------------------------------------------------------


@dataclass(frozen=True)
class BlankPart:
    """A part as it is printed: its code, the entry's title, and the words to write beside."""

    code: str
    title: str
    url: str
    once: tuple[str, ...]
    each: tuple[str, ...]
    rows: tuple[str, ...]  # what stands in the first cell of each row


@dataclass(frozen=True)
class BlankPaper:
    """A blank paper with the facts it is printed with."""

    head: Head
    title: str
    caution: str
    parts: tuple[BlankPart, ...]

    def to_json(self) -> str:
        """The same facts as JSON, two spaces deep."""
        return json.dumps(asdict(self), ensure_ascii=False, indent=2) + "\n"


def collect_papers(
    papers: Sequence[Paper],
    *,
    url_of: Callable[[str], str],
    printed_by: User | str,
    printed_at: dt.datetime,
) -> list[BlankPaper]:
    """The papers as they are printed today. `url_of` is where a part's code leads."""
    with desk(printed_by, printed_at) as at_desk:
        rounds = _rounds()
        return [
            BlankPaper(
                head=at_desk.head(paper.title, "Blank form", BLANK),
                title=paper.title,
                caution=paper.caution,
                parts=tuple(_blank(part, vessels, url_of) for part in paper.parts),
            )
            for paper in papers
            for vessels in (rounds if any(part.by_vessel for part in paper.parts) else [()])
        ]


def _rounds() -> list[tuple[str, ...]]:
    """The vessels that ever held a batch or a starter, twelve to a sheet; one sheet at least."""
    used = Q(batches__isnull=False) | Q(cultures__isnull=False)
    rows = Vessel.objects.live().filter(used, in_use=True).distinct().order_by("name")
    names = list(rows.values_list("name", flat=True))
    starts = range(0, max(1, len(names)), VESSELS_ON_A_ROUND)
    return [tuple(names[start : start + VESSELS_ON_A_ROUND]) for start in starts]


def _blank(part: Part, vessels: Sequence[str], url_of: Callable[[str], str]) -> BlankPart:
    entry = BY_SLUG[part.slug]
    fields = entry.form.base_fields
    rows_of = fields
    if part.lines:
        rows_of = next(each.form.base_fields for each in entry.lines if each.name == part.lines)
    heads = [str(rows_of[name].label) for name in part.each]
    cells = list(vessels) if part.by_vessel else []
    return BlankPart(
        code=part.code,
        title=part.title,
        url=url_of(part.code),
        once=tuple(str(fields[name].label) for name in part.once),
        each=("Vessel", *heads) if part.by_vessel else tuple(heads),
        rows=(*cells, *[""] * (part.rows - len(cells))) if heads else (),
    )


# Drawing -------------------------------------------------------------------------------------


def blank_papers(papers: Sequence[BlankPaper], paper_size: str = "a4") -> bytes:
    """The PDF of the papers one after the other, each from a fresh page."""
    story: list[Flowable] = []
    for number, paper in enumerate(papers):
        story += [PageBreak()] if number else []
        story += _paper(paper)
    head = papers[0].head
    if len(papers) > 1:
        head = Head(**{**asdict(head), "title": "Paper set"})
    return render(head, story, paper_size)


def _paper(paper: BlankPaper) -> list[Flowable]:
    """One part's code stands beside the title, those of several each beside its own."""
    alone = len(paper.parts) == 1
    aside = _symbol(paper.parts[0]) if alone else None
    top = title_block(paper.title, [paper.caution], BLANK, aside)
    parts = chain.from_iterable(_part(part, alone) for part in paper.parts)
    return [*top, Spacer(1, 3), paragraph(HOW, SMALL), *parts]


def _symbol(part: BlankPart) -> Flowable:
    return SymbolBlock(qr(part.url), 0.4)


def _part(part: BlankPart, alone: bool) -> list[Flowable]:
    found = heading(f"{part.code} · {part.title}", 40 * mm)
    if not alone:
        found = [_beside(found[-1], _symbol(part))]
    if part.once:
        found.append(_once(part.once))
    if part.each:
        found += [Spacer(1, 5), _each(part)]
    return found if alone else [KeepTogether(found)]


def _beside(left: Flowable, right: Flowable) -> Flowable:
    """A heading with its code at the right margin."""
    width, _ = right.wrap(0, 0)
    block = Table([[left, right]], colWidths=["*", width])
    block.setStyle(
        [
            ("VALIGN", (0, 0), (-1, -1), "BOTTOM"),
            ("LEFTPADDING", (0, 0), (-1, -1), 0),
            ("RIGHTPADDING", (0, 0), (-1, -1), 0),
            ("TOPPADDING", (0, 0), (-1, -1), 3),
            ("BOTTOMPADDING", (0, 0), (-1, -1), 0),
        ]
    )
    return block


def _once(labels: Sequence[str]) -> Flowable:
    """Names over room to write in, three across."""
    cells: list[Flowable | str] = [paragraph(label, LABEL) for label in labels]
    cells += [""] * (-len(cells) % 3)
    threes = zip(cells[::3], cells[1::3], cells[2::3], strict=True)
    rows = [[one, "", two, "", three] for one, two, three in threes]
    block = Table(rows, colWidths=["31%", "3.5%", "31%", "3.5%", "31%"], rowHeights=_FIELD)
    lines = [
        ("LINEBELOW", (column, row), (column, row), 0.4, ACCENT)
        for row, written in enumerate(rows)
        for column in (0, 2, 4)
        if written[column] != ""
    ]
    block.setStyle(
        [
            ("VALIGN", (0, 0), (-1, -1), "TOP"),
            ("LEFTPADDING", (0, 0), (-1, -1), 0),
            ("RIGHTPADDING", (0, 0), (-1, -1), 0),
            ("TOPPADDING", (0, 0), (-1, -1), 2),
            *lines,
        ]
    )
    return block


def _each(part: BlankPart) -> Flowable:
    """Rows to write in, ruled both ways."""
    heads = [paragraph(label, COLUMN) for label in part.each]
    names = [paragraph(first, BODY) for first in part.rows]
    body = [[name, *[""] * (len(heads) - 1)] for name in names]
    share = 100 / (len(heads) + 0.5)
    widths = [f"{1.5 * share}%", *[f"{share}%"] * (len(heads) - 1)]
    room = _NARROWEST * 1.5 * share / 100 - 8
    heights = [max(_ROW, name.wrap(room, 0)[1] + 5) for name in names]
    block = Table([heads, *body], widths, [None, *heights], repeatRows=1)
    block.setStyle(
        [
            ("VALIGN", (0, 0), (-1, -1), "BOTTOM"),
            ("LEFTPADDING", (0, 0), (-1, -1), 2),
            ("BOTTOMPADDING", (0, 0), (-1, -1), 2),
            ("LINEBELOW", (0, 0), (-1, 0), 0.8, ACCENT),
            ("INNERGRID", (0, 1), (-1, -1), 0.3, HAIR),
            ("BOX", (0, 1), (-1, -1), 0.3, HAIR),
        ]
    )
    return block
