"""Addresses of limits, review, release and papers. A lot code may hold a stroke: it is a path."""

from __future__ import annotations

from django.urls import path

from brewlog.views.lists import listing_download, listing_page
from compliance.plan_urls import plan_urls
from compliance.views import (
    deviations,
    documents,
    findings,
    handing_over,
    holds,
    holidays,
    labels,
    papers,
    recall_papers,
    recalls,
    releases,
    reviews,
    rules,
)

LISTED = {"listing": deviations.DEVIATIONS}
RECALLS = {"listing": recalls.RECALLS}
HOLIDAYS = {"listing": holidays.HOLIDAYS}

urlpatterns = [
    *plan_urls,
    path("findings/", findings.findings, name="findings"),
    path("findings/download.<str:ending>", findings.findings_download, name="findings-download"),
    path("findings/<int:lot>/<int:limit>/", findings.finding, name="finding-detail"),
    path("rules/", rules.rules, name="rules"),
    path("rules/compare/", rules.rules_compare, name="rules-compare"),
    path("rules/<slug:key>/<str:edition>/", rules.ruleset, name="ruleset-detail"),
    path("holds/<int:pk>/", holds.hold, name="hold-detail"),
    path("deviations/", listing_page, LISTED, name="deviation-list"),
    path("deviations/download.<str:ending>", listing_download, LISTED, name="deviation-download"),
    path("deviations/<int:pk>/", deviations.deviation, name="deviation-detail"),
    path("holidays/", listing_page, HOLIDAYS, name="holiday-list"),
    path("holidays/download.<str:ending>", listing_download, HOLIDAYS, name="holiday-download"),
    path("recalls/", listing_page, RECALLS, name="recall-list"),
    path("recalls/download.<str:ending>", listing_download, RECALLS, name="recall-download"),
    path("recalls/<int:pk>/", recalls.recall_detail, name="recall-detail"),
    path("reviews/", reviews.reviews, name="reviews"),
    path("reviews/download.<str:ending>", reviews.reviews_download, name="reviews-download"),
    path("signatures/<int:pk>/", releases.signature, name="signature"),
    path("hand-over/", handing_over.hand_over_index, name="hand-over-index"),
    path("hand-over/archive/", handing_over.archive, name="archive"),
    path("hand-over/archive.zip", handing_over.archive_download, name="archive-download"),
    path("hand-over/binder/", handing_over.binder_page, name="binder"),
    path("hand-over/binder.pdf", handing_over.binder_pdf, name="binder-pdf"),
    path("hand-over/<slug:slug>/", handing_over.hand_over, name="hand-over"),
    path(
        "hand-over/<slug:slug>/download.<str:ending>",
        handing_over.hand_over_download,
        name="hand-over-download",
    ),
    *(
        address
        for listing in labels.LISTINGS
        for address in (
            path(
                f"{listing.path}/", listing_page, {"listing": listing}, name=f"{listing.noun}-list"
            ),
            path(
                f"{listing.path}/download.<str:ending>",
                listing_download,
                {"listing": listing},
                name=f"{listing.noun}-download",
            ),
        )
    ),
    path("lots/<path:code>/release/", releases.lot_release, name="lot-release"),
    path("lots/<path:code>/sheet.pdf", documents.lot_sheet_pdf, name="lot-sheet-pdf"),
    path("lots/<path:code>/trace.pdf", documents.lot_trace_pdf, name="lot-trace-pdf"),
    path("lots/<path:code>/labels.pdf", labels.lot_label_proof, name="lot-labels-pdf"),
    path("lots/<path:code>/labels/", labels.lot_labels, name="lot-labels"),
    path("lots/<path:code>/card.pdf", documents.lot_card_pdf, name="lot-card-pdf"),
    path("vessels/<int:pk>/card.pdf", documents.vessel_card_pdf, name="vessel-card-pdf"),
    path("papers/", papers.papers, name="papers"),
    path("papers/<slug:key>.pdf", papers.paper_pdf, name="paper-pdf"),
    path("label-runs/<int:pk>/labels.pdf", labels.label_run_pdf, name="label-run-pdf"),
    path("label-runs/<int:pk>/labels.<str:ending>", labels.label_run_file, name="label-run-file"),
    path(
        "lots/<path:code>/recall.<str:ending>",
        recall_papers.lot_recall_file,
        name="lot-recall-file",
    ),
]
