"""Addresses of the papers. A lot code may hold a stroke, so it is a path."""

from __future__ import annotations

from django.urls import path

from compliance.views import documents

urlpatterns = [
    path("lots/<path:code>/sheet.pdf", documents.lot_sheet_pdf, name="lot-sheet-pdf"),
    path("lots/<path:code>/trace.pdf", documents.lot_trace_pdf, name="lot-trace-pdf"),
    path("lots/<path:code>/labels.pdf", documents.lot_labels_pdf, name="lot-labels-pdf"),
]
