"""Where labels and papers join the records: called by `joining.join`."""

from __future__ import annotations

from brewlog.management import measuring
from brewlog.models import Vessel
from brewlog.views import corrections, details, links, nouns, search, work
from compliance import models
from compliance.management.measuring_labels import label_questions
from compliance.views import documents, labels, papers

_WORK = work.WorkGroup(
    "Labels", ("print-labels", "labels-elsewhere", "count-labels", "label-sheet")
)


def join_papers() -> None:
    """Add labels to the lists that the records ask."""
    work.FURTHER_WORK.append(_WORK)
    measuring.FURTHER_QUESTIONS.append(label_questions)
    search.STRAIGHT.append(papers.to_paper_entry)
    nouns.FURTHER_LISTINGS.extend(labels.LISTINGS)
    details.FURTHER_LINKS[models.LabelRun] = [labels.run_pdf_link]
    details.FURTHER_LINKS[Vessel] = [documents.vessel_card_link]
    links.FURTHER_PAGES.update(
        {models.LabelRun: labels.labels_url, models.LabelCount: labels.labels_url}
    )
    corrections.CORRECTABLE.update(
        {
            models.LabelSheet: ("name", "note", "in_use"),
            models.LabelRun: ("when", "note"),
            models.LabelCount: ("when", "put_on", "spoiled", "destroyed", "note"),
        }
    )
