"""The order of the rows: by time, each after what it names, whatever the sheets' order."""

from __future__ import annotations

import heapq
from collections import defaultdict
from collections.abc import Iterable, Iterator
from itertools import count

from brewlog.importing.rows import Row


class Plan:
    """Hands out rows one by one, each once all that it waits for is settled.

    Among the rows that are free the earliest comes first; at one moment the order of the
    sheets, then that of the rows, decides.
    """

    def __init__(self, rows: Iterable[Row]) -> None:
        self.rows = list(rows)
        givers: dict[tuple[str, str], list[Row]] = defaultdict(list)
        for row in self.rows:
            for token in row.gives:
                givers[token].append(row)
        self._blockers = {
            row: {
                giver: field
                for token, field in row.needs.items()
                for giver in givers.get(token, ())
                if giver is not row
            }
            for row in self.rows
        }
        self._leaning: dict[Row, list[Row]] = defaultdict(list)
        for row, blockers in self._blockers.items():
            for blocker in blockers:
                self._leaning[blocker].append(row)
        self._open = {row: len(blockers) for row, blockers in self._blockers.items()}

    def leans_on(self, row: Row) -> Iterable[Row]:
        """The rows it waited for."""
        return self._blockers[row]

    def ordered(self) -> Iterator[tuple[Row, list[tuple[Row, str]]]]:
        """Each row, with the circle it stands in: rows and the fields that name the next.

        The circle is empty but for a row that can never be free: it waits for itself by
        way of others.
        """
        ties = count()
        rank = {row: place for place, row in enumerate(self.rows)}
        heap = [(row.at, rank[row], next(ties), row) for row in self.rows if not self._open[row]]
        heapq.heapify(heap)
        settled: set[Row] = set()
        while len(settled) < len(self.rows):
            circle: list[tuple[Row, str]] = []
            if heap:
                row = heapq.heappop(heap)[-1]
            else:
                circle = self._circle(settled)
                row = circle[0][0]
            if row in settled:
                continue
            settled.add(row)
            yield row, circle
            for leaning in self._leaning[row]:
                self._open[leaning] -= 1
                if not self._open[leaning] and leaning not in settled:
                    heapq.heappush(heap, (leaning.at, rank[leaning], next(ties), leaning))

    def _circle(self, settled: set[Row]) -> list[tuple[Row, str]]:
        row = next(row for row in self.rows if row not in settled)
        walked: dict[Row, str] = {}
        while row not in walked:
            blocker, field = next(
                (each, name) for each, name in self._blockers[row].items() if each not in settled
            )
            walked[row] = field
            row = blocker
        steps = list(walked.items())
        return steps[steps.index((row, walked[row])) :]
