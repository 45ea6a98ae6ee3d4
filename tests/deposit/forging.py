"""Files in the true form of a deposit, so that only what they say can be wrong: what a forger would write."""

import datetime as dt
import hashlib
import io
import zipfile

from passport.deposit import bag
from passport.deposit.container import Sealing

ABOUT = bag.About(workshop="Reedmouth Yard", prefix="RY", day=dt.date(2026, 10, 17))
BASE = "RY-deposit-2026-10-17/"


def members(good: bytes) -> dict[str, bytes]:
    """Each file below the one folder, in order."""
    with zipfile.ZipFile(io.BytesIO(good)) as archive:
        return {name.removeprefix(BASE): archive.read(name) for name in archive.namelist()}


def sealed(files: dict[str, bytes] | list[tuple[str, bytes]], base: str = BASE, day: dt.date = ABOUT.day) -> bytes:
    """Any files in the true form of the container, so that only what they say can be wrong."""
    out = io.BytesIO()
    sealing = Sealing(out, day)
    for name, content in files.items() if isinstance(files, dict) else files:
        sealing.add(base + name, content)
    sealing.close()
    return out.getvalue()


def listed(files: dict[str, bytes], about: bag.About = ABOUT) -> dict[str, bytes]:
    """The files with facts and lists of checksums that fit them: what a forger would write."""
    made = {name: data for name, data in files.items() if name not in ("bag-info.txt", "manifest-sha256.txt")}
    made.pop("tagmanifest-sha256.txt", None)
    hashes = {name: hashlib.sha256(data).hexdigest() for name, data in made.items()}
    payload = {name: digest for name, digest in hashes.items() if name.startswith("data/")}
    made["bag-info.txt"] = bag.info(about, [len(made[name]) for name in payload]).encode()
    made["manifest-sha256.txt"] = bag.manifest(payload.items()).encode()
    tags = {name: hashlib.sha256(data).hexdigest() for name, data in made.items() if name not in payload}
    made["tagmanifest-sha256.txt"] = bag.manifest(tags.items()).encode()
    return made
