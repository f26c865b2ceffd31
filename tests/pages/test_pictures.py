"""The pictures of the pages in the docs are of the pages as they are. OVERWOOD_PICTURES=1 makes them anew."""

from __future__ import annotations

import io
import os

import numpy as np
import pytest
from PIL import Image

from conftest import ROOT

pytestmark = pytest.mark.slow
PICTURES = ROOT / "docs" / "pictures"
WIDE, TALL = 1280, 900


def checked(name, content):
    """The stored picture is this one, or nearly: browsers differ in a few pixels of their letters."""
    target = PICTURES / f"{name}.png"
    if os.environ.get("OVERWOOD_PICTURES") == "1":
        image = Image.open(io.BytesIO(content)).convert("P", palette=Image.Palette.ADAPTIVE, colors=128)
        image.save(target, optimize=True)
    stored, now = (np.asarray(Image.open(source).convert("L"), dtype=float) for source in (target, io.BytesIO(content)))
    assert stored.shape == now.shape, f"{name}: make the pictures anew with OVERWOOD_PICTURES=1"
    assert np.abs(stored - now).mean() < 6, f"{name}: make the pictures anew with OVERWOOD_PICTURES=1"


@pytest.mark.parametrize(
    ("name", "path"), [("page-property", "/"), ("page-stand", "/stand/S2/"), ("page-futures", "/futures/S3/"), ("page-fire", "/fire/S7/")]
)
def test_a_page_looks_as_its_picture(browser_page, name, path):
    page = browser_page.go(path)
    page.wait_for_load_state("networkidle")
    checked(name, page.screenshot())


def test_the_marking_table_looks_as_its_picture(browser_page):
    page = browser_page.go("/light/S2/")
    page.wait_for_selector("#marking[data-ready]")
    page.locator("#basal-area").fill("55")
    page.wait_for_function(
        "() => document.getElementById('sum-ba').textContent.startsWith('54') || document.getElementById('sum-ba').textContent.startsWith('55')"
    )
    page.set_viewport_size({"width": WIDE, "height": 1250})
    checked("page-marking", page.screenshot())


def test_the_map_looks_as_its_picture(browser_page):
    page = browser_page.go("/")
    page.get_by_role("button", name="Open the map").click()
    page.wait_for_selector("#mapping[data-ready]")
    page.get_by_role("button", name="Split a stand").click()
    page.wait_for_timeout(500)
    checked("page-map", page.screenshot())


def test_the_phone_looks_as_its_picture(phone_page):
    page = phone_page.go("/stand/S2/")
    page.wait_for_load_state("networkidle")
    checked("page-phone", page.screenshot())
