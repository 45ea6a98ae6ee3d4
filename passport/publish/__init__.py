"""Planned files → the site on the disk: whole, incremental, never smaller by accident.

This is the only writer of `site/`.

The new site grows in a folder beside the old one. A file that is unchanged is the old file itself
(a hard link: same inode, same time); nothing is judged by time, only by content. When all is written
and synced, the two folders change places in one step, so that a kill at any moment leaves the old site
or the new one. Where a system cannot exchange folders, a journal names what is left to do, and the next
run finishes it.

`files.sha256` lists what was published, in the form that `sha256sum -c` reads. It is also the mark by
which the next run knows the folder as its own: what it does not name is somebody else's, and is never
deleted.
"""

from passport.publish.found import LIST_NAME, NAMED_AT_MOST, Found
from passport.publish.planned import HeldFile, Outcome, Planned, PlannedFile, Progress
from passport.publish.run import publish
from passport.publish.shrink import LASTING

__all__ = [
    "LASTING",
    "LIST_NAME",
    "NAMED_AT_MOST",
    "Found",
    "HeldFile",
    "Outcome",
    "Planned",
    "PlannedFile",
    "Progress",
    "publish",
]
