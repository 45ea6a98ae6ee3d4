"""The work behind `publish`, where there is something to do."""

from __future__ import annotations

from passport.kept.pictures import KeptPictures
from passport.office import desk
from passport.office.stages import pictures_of, themed, worded, worked_out
from passport.office.unchanged import Run, hash_of
from passport.problems import errors_in
from passport.publish import LIST_NAME, Outcome, publish
from passport.publish.making import Plan, Source
from passport.reading.trees import Trees


def publish_anew(run: Run, *, may_shrink: bool) -> tuple[Outcome, int]:
    """Read, work out, make and swap: what was done, and the number of doubts. Ends the command where it cannot."""
    before = run.inputs()
    source, doubts = _source(run)
    pages = run.boxes.load("pages")
    plan = Plan(source, pages.get("prints", {}), pages.get("list", ""), run.cores)
    with desk.refusals():
        outcome = publish(
            plan,
            run.site,
            must_answer=[f"T/{tag}/index.html" for tag in source.book.lives],
            may_shrink=may_shrink,
            sources=[run.top / "content", run.top / "private", run.top / "theme"],
            progress=desk.counter("files"),
            say=desk.say,
        )
    _keep(run, plan, before, doubts)
    return outcome, doubts


def _source(run: Run) -> tuple[Source, int]:
    """What the site is made from, and how many doubts there are; with errors the command ends."""
    trees = Trees(run.boxes.load("records"))
    book, found = worked_out(run.top, run.at, trees)
    if trees.changed:
        run.boxes.save("records", trees.met)
    theme, of_theme = themed(run.top, book.shop)
    kept = KeptPictures(run.boxes.load("pictures"), run.site)
    pictures, of_pictures = pictures_of(run.top, book.shop, kept.ready)
    problems = (*found, *of_theme, *worded(book, theme), *of_pictures)
    if errors_in(problems):
        desk.stop(problems)
    run.boxes.save("pictures", kept.met)
    return Source(book, theme, pictures), desk.doubts_in(problems)


def _keep(run: Run, plan: Plan, before: str, doubts: int) -> None:
    """For the next run: the prints of the pages of this very list, and what it was made from if that stood still."""
    listed = hash_of(run.site / LIST_NAME)
    run.boxes.save("pages", {"list": listed, "prints": plan.fresh})
    if run.inputs() == before:
        run.boxes.save("publication", {"inputs": before, "list": listed, "doubts": doubts})
