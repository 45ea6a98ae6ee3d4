"""The new site grows beside the old one; what is unchanged is the old file itself."""

from __future__ import annotations

import contextlib
import hashlib
import os
import shutil
from pathlib import Path

from passport import disk
from passport.publish.found import LIST_NAME, Found
from passport.publish.names import steps
from passport.publish.place import beside
from passport.publish.planned import HeldFile, Planned

_LIST_HEAD = f'# The files of this site. In this folder, "sha256sum -c {LIST_NAME}" checks them.\n'
_FILE_MODE = 0o644
_FOLDER_MODE = 0o755


class Build:
    """The new site beside the old one. It comes onto the disk only once something differs."""

    def __init__(self, site: Path, found: Found, *, whole: bool) -> None:
        self.site = site
        self.found = found
        self.next = beside(site, "next")
        self.hashes: dict[str, str] = {}
        self.written: list[str] = []
        self._kept: list[str] = []
        self._started = False
        self._whole = whole
        self._folders: set[str] = set()

    @property
    def kept(self) -> int:
        """How many files stay as they are, without the list."""
        return len(self._kept)

    @property
    def removed(self) -> tuple[str, ...]:
        """What the old site has and the new one has not."""
        return tuple(sorted(self.found.files - self.hashes.keys() - {LIST_NAME}))

    def take(self, file: Planned) -> None:
        """Keep the old file if it holds the same bytes, else write the new one."""
        if isinstance(file, HeldFile):
            self.hashes[file.path] = file.sha256
            self._keep(file.path)
            return
        digest = file.digest()
        self.hashes[file.path] = digest
        if self.found.holds(file.path, digest):
            self._keep(file.path)
        else:
            self._write(file.path, file.made())

    def take_list(self) -> None:
        """The list of files, which does not list itself."""
        text = _LIST_HEAD + "".join(f"{self.hashes[path]}  {path}\n" for path in sorted(self.hashes))
        content = text.encode()
        if self._started or not self.found.holds(LIST_NAME, hashlib.sha256(content).hexdigest()):
            self._write(LIST_NAME, content)

    def clear(self) -> None:
        """Take away what is left beside the site, unless a journal still needs it."""
        if self._started and not beside(self.site, "journal").exists():
            with contextlib.suppress(OSError):  # the next run clears it
                disk.remove_tree(beside(self.site, "journal.part"))
                disk.remove_tree(self.next)

    def _keep(self, path: str) -> None:
        self._kept.append(path)
        if self._started:
            self._link(path)

    def _write(self, path: str, content: bytes) -> None:
        if not self._started:
            self._start()
        self._folder_of(path)
        disk.write_new(f"{self.next}/{path}", content, mode=_FILE_MODE, sync=not disk.syncs_at_once())
        self.written.append(path)

    def _start(self) -> None:
        self._started = True
        make_folder(str(self.next))
        for path in self._kept:
            self._link(path)

    def _link(self, path: str) -> None:
        if not self._whole:
            return  # the journal leaves unchanged files where they are
        self._folder_of(path)
        try:
            os.link(f"{self.site}/{path}", f"{self.next}/{path}", follow_symlinks=False)
        except OSError:  # a disk without hard links, or somebody else's file
            shutil.copy2(f"{self.site}/{path}", f"{self.next}/{path}", follow_symlinks=False)

    def _folder_of(self, path: str) -> None:
        for folder in steps(path)[:-1]:
            if folder not in self._folders:
                make_folder(f"{self.next}/{folder}")
                self._folders.add(folder)


def make_folder(path: str) -> None:
    """A folder that anybody may look into."""
    os.mkdir(path, _FOLDER_MODE)  # noqa: PTH102 - ten thousand of these: no Path for each
    os.chmod(path, _FOLDER_MODE)  # noqa: PTH101 - whatever the umask is
