"""Take the README's pictures anew: `python .ci/pictures.py`, with Chromium at hand.

Loads the invented brewery into a folder of its own, serves it, opens the pages as they stand
today on a desk or on phones side by side, and writes them to `fixtures/pictures`. With
`--data FOLDER` it takes a demo that is loaded there already.
"""

from __future__ import annotations

import argparse
import io
import os
import subprocess
import sys
import tempfile
import time
import urllib.request
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from urllib.error import URLError

from PIL import Image
from playwright.sync_api import Browser, Page, sync_playwright

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT))

from tests.left_out import chromium  # noqa: E402  after the path

FOLDER = ROOT / "fixtures" / "pictures"
ADDRESS = "127.0.0.1:8107"
DESK, PHONE = (1280, 800), (390, 844)
# What GitHub shows them by, and small enough to look at over a telephone.
MOST_BYTES = 150_000
GAP, PAPER = 24, "#d9d6cc"


@dataclass(frozen=True)
class Shot:
    """One picture: its name, how wide the screen is, who looks, and at which pages."""

    name: str
    size: tuple[int, int]
    who: str
    paths: Sequence[str]


def shots() -> list[Shot]:
    """The pages that show what it is for, by what the invented brewery has today."""
    from django.db.models import Count

    from brewlog.ledger import with_on_hand
    from brewlog.models import Batch, Hold
    from brewlog.views.links import lot_url

    working = with_on_hand(Batch.objects.live()).filter(on_hand__gt=0, holds__isnull=True)
    batch = working.annotate(taken=Count("readings")).order_by("-taken", "-pk")[0]
    mould = Hold.objects.live().filter(cause=Hold.Cause.MOULD).order_by("-id")[0]
    at_work = lot_url(batch.code)
    return [
        Shot("start", DESK, "iria", ["/"]),
        Shot("phones", PHONE, "nell", ["/", at_work, f"/record/reading/?lot={batch.code}"]),
        Shot("batch", DESK, "iria", [lot_url(batch.code, "lot-course")]),
        Shot("bottlings", DESK, "odete", ["/bottlings/?stock=yes"]),
        Shot("who-has-it", DESK, "odete", [lot_url(mould.lot.code, "lot-recall")]),
        Shot("limits", DESK, "odete", ["/findings/"]),
    ]


@contextmanager
def served(data: Path) -> Iterator[str]:
    """The brewery of that folder at an address of its own."""
    server = subprocess.Popen(
        [sys.executable, "manage.py", "serve", "--address", ADDRESS], cwd=ROOT
    )
    try:
        address = f"http://{ADDRESS}"
        for _ in range(120):
            try:
                urllib.request.urlopen(f"{address}/log-in/").close()
            except URLError:
                time.sleep(0.5)
            else:
                break
        yield address
    finally:
        server.terminate()
        server.wait()


def logged_in(browser: Browser, address: str, shot: Shot, password: str) -> Page:
    width, height = shot.size
    context = browser.new_context(viewport={"width": width, "height": height})
    page = context.new_page()
    page.goto(f"{address}/log-in/")
    page.fill("[name=username]", shot.who)
    page.fill("[name=password]", password)
    with page.expect_navigation():
        page.click("main button[type=submit]")
    return page


def taken(browser: Browser, address: str, shot: Shot, password: str) -> Image.Image:
    """The pages of a shot, beside one another where there are several."""
    page = logged_in(browser, address, shot, password)
    views = []
    for path in shot.paths:
        page.goto(address + path)
        views.append(Image.open(io.BytesIO(page.screenshot())).convert("RGB"))
    page.context.close()
    if len(views) == 1:
        return views[0]
    width, height = shot.size
    whole = Image.new("RGB", (len(views) * (width + GAP) + GAP, height + 2 * GAP), PAPER)
    for place, view in enumerate(views):
        whole.paste(view, (GAP + place * (width + GAP), GAP))
    return whole


def kept(picture: Image.Image, name: str) -> None:
    """Write it as WebP, as finely as fits."""
    for quality in range(90, 20, -10):
        out = io.BytesIO()
        picture.save(out, "WEBP", quality=quality, method=6)
        if out.tell() <= MOST_BYTES:
            break
    FOLDER.mkdir(exist_ok=True)
    (FOLDER / f"{name}.webp").write_bytes(out.getvalue())
    print(f"{name}.webp: {picture.width} x {picture.height}, {out.tell() // 1000} kB")


def main(data: Path) -> None:
    os.environ["BREWLOG_DATA"] = str(data)
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "brewlog.settings")
    if not (data / "brewlog.sqlite3").exists():
        demo = [sys.executable, "manage.py", "demo", "--no-serve", "--directory", str(data)]
        subprocess.run(demo, cwd=ROOT, check=True, stdout=subprocess.DEVNULL)
    import django

    django.setup()
    from compliance.management.commands.demo import PASSWORD

    listed = shots()
    with served(data) as address, sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=chromium(), args=["--no-sandbox"])
        for shot in listed:
            kept(taken(browser, address, shot, PASSWORD), shot.name)
        browser.close()


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--data", type=Path, help="folder of a loaded demo")
    given = parser.parse_args().data
    if given:
        main(given.resolve())
    else:
        with tempfile.TemporaryDirectory() as scratch:
            main(Path(scratch))
