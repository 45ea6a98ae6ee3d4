"""Every name of the new site, as a disk sees it that ignores case and Unicode form."""

from __future__ import annotations

from passport import disk
from passport.problems import Problem
from passport.publish.found import LIST_NAME


class Names:
    """Every name of the new site, as a disk sees it that ignores case and Unicode form."""

    def __init__(self) -> None:
        self._spelled: dict[str, str] = {}
        self._folders: set[str] = set()
        self.problems: list[Problem] = []
        self.take(LIST_NAME)

    def take(self, path: str) -> None:
        """Note a path, or the problem with it."""
        if fault := disk.path_fault(path):
            self.problems.append(_bad_path(path, fault))
        elif other := self._clash(path):
            met = "it is planned twice" if other == path else f'some disks take it for "{other}"'
            self.problems.append(_bad_path(path, met))

    def _clash(self, path: str) -> str:
        *folders, _ = steps(path)
        clashes = [self._clash_of_folder(folder) for folder in folders if folder not in self._folders]
        other = self._spelled.setdefault(disk.folded(path), "")
        if not other:
            self._spelled[disk.folded(path)] = path
        return next((clash for clash in [*clashes, other] if clash), "")

    def _clash_of_folder(self, folder: str) -> str:
        other = self._spelled.setdefault(disk.folded(folder), folder + "/")
        self._folders.add(folder)
        return "" if other == folder + "/" else other


def steps(path: str) -> list[str]:
    """Each folder on the way, then the path itself: "T", "T/A", "T/A/index.html"."""
    ends = [place for place, sign in enumerate(path) if sign == "/"]
    return [*(path[:end] for end in ends), path]


def _bad_path(path: str, fault: str) -> Problem:
    return Problem(
        code="site-bad-path",
        message=f'"{path}" cannot be the path of a file of the site: {fault}',
        hint="rename the record it comes from",
        about=path,
    )
