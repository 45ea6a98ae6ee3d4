"""Pictures that were made fit to publish by an earlier run, as long as the site still holds them."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from passport import disk
from passport.pages.pictures import Ready, ready_picture
from passport.pages.plan import PHOTOS
from passport.problems import Problem


class KeptPictures:
    """Makes pictures ready, or takes them from the site where their source has not changed."""

    def __init__(self, known: Mapping[str, Any], site: Path) -> None:
        self._known = known
        self._site = site
        self.met: dict[str, list[Any]] = {}
        """Name → hash of the source, name on the site, width, height, hash of what is published."""

    def ready(self, name: str, data: bytes) -> Ready | Problem:
        """As `ready_picture`."""
        source = hashlib.sha256(data).hexdigest()
        made = self._published(name, source) or ready_picture(name, data)
        if isinstance(made, Ready):
            digest = hashlib.sha256(made.content).hexdigest()
            self.met[name] = [source, made.name, made.width_px, made.height_px, digest]
        return made

    def _published(self, name: str, source: str) -> Ready | None:
        kept = self._known.get(name)
        if kept is None or kept[0] != source:
            return None
        _, called, width, height, digest = kept
        path = self._site / PHOTOS / called
        if disk.kind_of(path) != "file":
            return None
        content = path.read_bytes()
        if hashlib.sha256(content).hexdigest() != digest:
            return None
        return Ready(name=called, content=content, width_px=width, height_px=height)
