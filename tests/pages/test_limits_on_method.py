"""The method page says which limits are used, why, and whose they are."""

from __future__ import annotations

import shutil
from pathlib import Path

from passport.pages.places import method_view
from passport.pages.scribe import Scribe
from passport.pages.theme import load_theme
from passport.reading.folder import read_shop
from passport.verdicts.book import work_out

DEMO = Path(__file__).resolve().parents[2] / "content"
THEME, _ = load_theme(["en", "fr"])
OWN = """single_stream_from: 97 %
single_stream_because: our boards split below that
routes:
  - route: bar
    resin: PP
    flow_to: 40 g/10 min at 230 °C/2.16 kg
    most_weathered: 70 %
    because: trial of May
"""


def parts(folder: Path, lang: str, more: str = "") -> dict[str, str]:
    """The parts of the example's method page by anchor, with more fields in its workshop record."""
    shutil.copytree(DEMO, folder / "content")
    with (folder / "content" / "workshop.yaml").open("a", encoding="utf-8") as workshop:
        workshop.write(more)
    shop, problems = read_shop(folder / "content")
    assert shop is not None, problems
    view = method_view(Scribe(book=work_out(shop), words=THEME.words[lang], first="en"))
    return {part.anchor: part.prose.html for part in view.parts}


def test_defaults_come_with_their_reason(tmp_path: Path) -> None:
    """Each default limit says that it is common practice without a source, and why it is so."""
    found = parts(tmp_path, "fr")
    assert "La limite ici : au moins 95" in found["single-stream"]
    assert "pratique courante, sans source" in found["single-stream"]
    assert found["routes"].count("Limite habituelle (pratique courante, sans source)") == 4
    assert "PVC" not in found["routes"]


def test_own_limits_come_with_theirs(tmp_path: Path) -> None:
    """What the workshop sets stands in place of the default, with its own reason, for that resin alone."""
    found = parts(tmp_path, "en", OWN)
    assert "at least 97" in found["single-stream"]
    assert "Why: our boards split below that." in found["single-stream"]
    assert "PP 0 to 40 g/10 min (230 °C/2.16 kg); at most 70" in found["routes"]
    assert "The workshop's own limit: trial of May." in found["routes"]
    assert "PE 0.2 to 15 g/10 min" in found["routes"]
