"""The application that the server runs, made in its own process."""

from __future__ import annotations

import gc
import os
import threading
import time
from pathlib import Path
from typing import Any

from overwood.faces.served.serving import MOST_UPLOAD_BYTES, THREADS, told_of, web_settings

_LOOK_AT_PARENT_S = 0.5


def _end_with(parent: int) -> None:
    """End this server process when the one that started it is gone, so that a killed desk leaves nothing behind."""
    while os.getppid() == parent:
        time.sleep(_LOOK_AT_PARENT_S)
    os._exit(1)


def application() -> Any:
    """The application, from what ``serve`` left in the environment."""
    from overwood.desk import regions, session

    if folder := os.environ.get(regions.VARIABLE):
        regions.use(Path(folder))
    settings = told_of(os.environ)
    session.open_book(settings.path("book"), create=True, web=web_settings(settings))
    from overwood.faces.pages import asking, tray

    asking.begin(settings)
    tray.begin()
    threading.Thread(target=_end_with, args=(os.getppid(),), daemon=True).start()
    from a2wsgi import WSGIMiddleware
    from django.core.wsgi import get_wsgi_application

    from overwood.faces.pages.front import Front

    # What was imported stays: each look through it for garbage would hold a page up for a quarter of a second.
    gc.freeze()
    return Front(WSGIMiddleware(get_wsgi_application(), workers=THREADS), MOST_UPLOAD_BYTES)
