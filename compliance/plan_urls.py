"""Addresses of the hazard plan, the logs, complaints, room temperatures and calibrations due."""

from __future__ import annotations

from django.urls import path

from brewlog.views.lists import listing_download, listing_page
from compliance.views import instruments, loggers, logs, plan_front, plans

plan_urls = [
    path("plan/", plan_front.plan_front, name="plan-front"),
    path("plans/<int:pk>/", plans.plan, name="plan-detail"),
    path("plans/versions/<int:pk>/", plans.version, name="plan-version"),
    path("plans/versions/<int:pk>/plan.pdf", plans.plan_pdf, name="plan-pdf"),
    path("plans/versions/<int:pk>/texts/", plans.texts_change, name="plan-texts-change"),
    path("plans/steps/<int:pk>/", plans.step_change, name="plan-step-change"),
    path("complaints/<int:pk>/", logs.complaint, name="complaint-detail"),
    path("logger/", loggers.logger_upload, name="logger-upload"),
    path("logger/<str:token>/", loggers.logger_preview, name="logger-preview"),
    path(
        "locations/<int:pk>/temperature/",
        loggers.location_temperature,
        name="location-temperature",
    ),
    path("calibrations/<int:pk>/look-back/", instruments.look_back, name="look-back"),
]
for listing in plan_front.LISTINGS:
    plan_urls += [
        path(f"{listing.path}/", listing_page, {"listing": listing}, name=f"{listing.noun}-list"),
        path(
            f"{listing.path}/download.<str:ending>",
            listing_download,
            {"listing": listing},
            name=f"{listing.noun}-download",
        ),
    ]
