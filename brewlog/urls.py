"""Root addresses, grouped by noun.

A list is at `<noun>-list` with its downloads at `<noun>-download`; a thing of a register
is at `<noun>-detail`; a lot of any kind is at its code; a verb is at its slug.
"""

from __future__ import annotations

from importlib.util import find_spec

from django.contrib.auth import views as auth_views
from django.urls import include, path

from brewlog.views import (
    calculations,
    courses,
    entries,
    families,
    home,
    importing,
    lot_history,
    lots,
    passwords,
    people,
    records,
    saved_pages,
    search,
    stock,
    traces,
    who,
)
from brewlog.views.batch_to_batch import batch_to_batch, batch_to_batch_download
from brewlog.views.before_reading import before_reading
from brewlog.views.bottling_day.page import bottling_day
from brewlog.views.details import detail_page
from brewlog.views.first_manager import first_manager_page, may_begin
from brewlog.views.lists import listing_download, listing_page
from brewlog.views.nouns import LISTINGS
from brewlog.views.plant import plant
from brewlog.views.registers import DETAILS
from brewlog.views.round import reading_round
from brewlog.views.today.page import today_kind

account_urls = [
    path(
        "log-in/",
        auth_views.LoginView.as_view(extra_context={"may_begin": may_begin}),
        name="login",
    ),
    path("first-manager/", first_manager_page, name="first-manager"),
    path("who/", who.who, name="who"),
    path("log-out/", auth_views.LogoutView.as_view(), name="logout"),
    path("password/", passwords.own_password, name="own-password"),
]
entry_urls = [
    path("record/", entries.entry_index, name="entry-index"),
    path("round/", reading_round, name="round"),
    path("record/reading/before/", before_reading, name="before-reading"),
    path("record/<slug:slug>/", entries.entry, name="entry"),
]
calculation_urls = [
    path("calculations/", calculations.calculations, name="calculations"),
    path("calculations/<slug:slug>/", calculations.calculation, name="calculation"),
]
import_urls = [
    path("import/", importing.import_upload, name="import"),
    path("import/template.xlsx", importing.import_template, name="import-template"),
    path("import/<str:token>/", importing.import_preview, name="import-preview"),
]
# A lot code may hold a stroke; the addresses with a last word come first.
lot_urls = [
    path("lots/<path:code>/trace/", traces.lot_trace, name="lot-trace"),
    path("lots/<path:code>/recall/", traces.lot_recall, name="lot-recall"),
    path("lots/<path:code>/course/", courses.lot_course, name="lot-course"),
    path("lots/<path:code>/stock/", stock.lot_stock, name="lot-stock"),
    path("lots/<path:code>/stock.<str:ending>", stock.lot_stock, name="lot-stock-download"),
    path("lots/<path:code>/history/", lot_history.lot_history, name="lot-history"),
    path(
        "lots/<path:code>/history.<str:ending>",
        lot_history.lot_history_download,
        name="lot-history-download",
    ),
    path("lots/<path:code>/", lots.lot_detail, name="lot-detail"),
]
record_urls = [
    path("records/", home.records, name="records"),
    path("views/", saved_pages.views_page, name="saved-views"),
    path("views/<slug:noun>/save/", saved_pages.save_view, name="saved-view-save"),
    path("records/<slug:model>/<int:pk>/", records.record_detail, name="record-detail"),
    path("records/<slug:model>/<int:pk>/history/", records.record_history, name="record-history"),
    path("records/<slug:model>/<int:pk>/void/", records.record_void, name="record-void"),
    path("records/<slug:model>/<int:pk>/correct/", records.record_correct, name="record-correct"),
    path(
        "records/<slug:model>/<int:pk>/files/<slug:field>/",
        records.record_file,
        name="record-file",
    ),
]
list_urls = []
for listing in LISTINGS:
    list_urls += [
        path(f"{listing.path}/", listing_page, {"listing": listing}, name=f"{listing.noun}-list"),
        path(
            f"{listing.path}/download.<str:ending>",
            listing_download,
            {"listing": listing},
            name=f"{listing.noun}-download",
        ),
    ]
register_paths = {listing.noun: listing.path for listing in LISTINGS}
register_urls = [
    path("culture-lines/<int:pk>/family/", families.family, name="family"),
    path("ingredients/<int:pk>/stock/", stock.ingredient_stock, name="ingredient-stock"),
    path("flavours/<int:pk>/stock/", stock.flavour_stock, name="flavour-stock"),
    path(
        "ingredients/<int:pk>/stock.<str:ending>",
        stock.ingredient_stock,
        name="ingredient-stock-download",
    ),
    path(
        "flavours/<int:pk>/stock.<str:ending>", stock.flavour_stock, name="flavour-stock-download"
    ),
    path("people/<int:pk>/", people.person_detail, name="person-detail"),
    *(
        path(
            f"{register_paths[detail.noun]}/<int:pk>/",
            detail_page,
            {"detail": detail},
            name=f"{detail.noun}-detail",
        )
        for detail in DETAILS
    ),
]

urlpatterns = [
    path("", home.home, name="home"),
    path("plant/", plant, name="plant"),
    path("find/", search.find, name="find"),
    path("today/<slug:slug>/", today_kind, name="today-kind"),
    path("bottling-day/", bottling_day, name="bottling-day"),
    path("batch-to-batch/", batch_to_batch, name="batch-to-batch"),
    path(
        "batch-to-batch/download.<str:ending>",
        batch_to_batch_download,
        name="batch-to-batch-download",
    ),
    *account_urls,
    *entry_urls,
    *import_urls,
    *calculation_urls,
    *record_urls,
    *list_urls,
    *register_urls,
]
if find_spec("compliance.urls") is not None:
    urlpatterns.append(path("", include("compliance.urls")))
urlpatterns += lot_urls
