"""Spreadsheets as grids of text: CSV files, workbooks, folders and archives of them.

What spreadsheet programs do to a cell is undone here: byte order marks, other
encodings, semicolons and tabs, real date cells, `1024.0`, units kept in the number
format, formulas saved without their results. What the text means is the forms' matter.
"""

from __future__ import annotations

import csv
import io
import zipfile
from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path, PurePosixPath

from brewlog.importing.problems import Problem
from brewlog.importing.workbooks import BadCell, WorkbookError, workbook_grids

_TEXT = {".csv", ".tsv"}
_WORKBOOKS = {".xlsx", ".xlsm"}
_OTHER_SHEETS = {".xls", ".ods", ".numbers", ".xlsb"}
# An archive that unpacks to more than this is no brewery's spreadsheets.
_LARGEST_UNPACKED = 200 * 1024 * 1024
_DELIMITERS = ",;\t"


@dataclass(frozen=True)
class Grid:
    """One sheet as read: `rows` are (number in the spreadsheet, cells), empty rows left out.

    `bad` holds the cells that show nothing readable; their text in `rows` is empty.
    """

    name: str
    rows: list[tuple[int, list[str]]]
    hidden: bool = False
    bad: list[BadCell] = field(default_factory=list)


@dataclass
class Source:
    """Everything that was read, and what could not be."""

    name: str
    grids: list[Grid] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)


def read_path(path: Path) -> Source:
    """Read a workbook, a CSV file, an archive, or a folder of them.

    Raises `FileNotFoundError`. What cannot be read is a problem of the `Source`.
    """
    if not path.exists():
        raise FileNotFoundError(f"There is no file or folder {path}.")
    if path.is_dir():
        files = sorted(each for each in path.iterdir() if each.is_file())
        return read_files(path.name, ((each.name, each.read_bytes()) for each in files))
    return read_files(path.name, [(path.name, path.read_bytes())])


def read_files(name: str, files: Iterable[tuple[str, bytes]]) -> Source:
    """Read files by name and content, as uploaded or as found in a folder."""
    source = Source(name)
    for file_name, content in files:
        _read_file(source, file_name, content)
    if not source.grids and not source.problems:
        source.problems.append(_whole_file(name, "There is no spreadsheet in it."))
    return source


def _whole_file(name: str, reason: str) -> Problem:
    return Problem(sheet=name, row=0, column="", value="", reason=reason)


def _read_file(source: Source, name: str, content: bytes) -> None:
    path = PurePosixPath(name.replace("\\", "/"))
    # What the spreadsheet program or the file manager left lying about.
    if path.name.startswith((".", "~$")) or "__MACOSX" in path.parts:
        return
    kind = path.suffix.lower()
    if kind in _TEXT:
        _read_text(source, path, content)
    elif kind in _WORKBOOKS:
        _read_workbook(source, path.name, content)
    elif kind == ".zip":
        _read_archive(source, path.name, content)
    elif kind in _OTHER_SHEETS:
        reason = f"A {kind} file cannot be read. Save it as .xlsx or .csv."
        source.problems.append(_whole_file(path.name, reason))


def _read_text(source: Source, path: PurePosixPath, content: bytes) -> None:
    try:
        grid = Grid(path.stem, csv_rows(decode(content)))
    except csv.Error as error:
        source.problems.append(_whole_file(path.name, f"This CSV file cannot be read: {error}."))
    else:
        source.grids.append(grid)


def _read_workbook(source: Source, name: str, content: bytes) -> None:
    try:
        _refuse_bomb(content)
        for title, rows, hidden, bad in workbook_grids(content):
            source.grids.append(Grid(title, rows, hidden, bad))
    except (WorkbookError, zipfile.BadZipFile) as error:
        source.problems.append(_whole_file(name, f"This workbook cannot be read: {error}."))


def _read_archive(source: Source, name: str, content: bytes) -> None:
    try:
        _refuse_bomb(content)
        with zipfile.ZipFile(io.BytesIO(content)) as archive:
            for entry in archive.infolist():
                if not entry.is_dir() and not entry.filename.lower().endswith(".zip"):
                    _read_file(source, entry.filename, archive.read(entry))
    except (WorkbookError, zipfile.BadZipFile, RuntimeError) as error:
        # RuntimeError is how an archive asks for its password.
        source.problems.append(_whole_file(name, f"This archive cannot be read: {error}."))


def _refuse_bomb(content: bytes) -> None:
    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        unpacked = sum(entry.file_size for entry in archive.infolist())
    if unpacked > _LARGEST_UNPACKED:
        raise WorkbookError("it unpacks to more than 200 MB")


def decode(content: bytes) -> str:
    """The text of a file: UTF-8 or UTF-16 by their marks, UTF-8, or else Windows' own."""
    if content.startswith((b"\xff\xfe", b"\xfe\xff")):
        return content.decode("utf-16", errors="replace")
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError:
        return content.decode("cp1252", errors="replace")


def csv_rows(text: str) -> list[tuple[int, list[str]]]:
    """The rows that hold anything, numbered as a spreadsheet program shows them.

    Raises `csv.Error` for a quotation mark that is not closed: the cell it opens would take
    all the rows after it along.
    """
    lines = text.replace("\0", "")
    delimiter = _delimiter(lines)
    skip = 1 if lines[:4].lower() == "sep=" else 0
    found: list[tuple[int, list[str]]] = []
    number = 0
    try:
        rows = csv.reader(io.StringIO(lines, newline=""), delimiter=delimiter, strict=True)
        for number, row in enumerate(rows, start=1):
            tidy = [plain_cell(cell) for cell in row]
            if number > skip and any(tidy):
                found.append((number, tidy))
    except csv.Error as error:
        raise csv.Error(
            f"row {number + 1}: {error}. A quotation mark at the start of a cell is closed at its "
            "end, and one within it is written twice"
        ) from None
    return found


def _delimiter(text: str) -> str:
    """The mark that divides the first line, outside quotes. A file may name it: `sep=;`."""
    if text[:4].lower() == "sep=" and text[4:5]:
        return text[4]
    counts = dict.fromkeys(_DELIMITERS, 0)
    quoted = False
    for character in text.lstrip("\r\n"):
        if character == '"':
            quoted = not quoted
        elif quoted:
            continue
        elif character in counts:
            counts[character] += 1
        elif character in "\r\n" and any(counts.values()):
            break
    return max(_DELIMITERS, key=lambda mark: counts[mark])


def plain_cell(text: str) -> str:
    """The cell without what a spreadsheet program puts around it: spaces, `="007"`, `'007`."""
    tidy = text.replace("\u00a0", " ").replace("\u200b", "").strip()
    if tidy.startswith('="') and tidy.endswith('"') and len(tidy) > 2:
        tidy = tidy[2:-1].strip()
    if len(tidy) > 1 and tidy[0] == "'" and tidy[1].isdigit():
        tidy = tidy[1:]
    return tidy
