"""A number once issued is never issued again, never lost, and always has a page."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
from pathlib import Path

import pytest
import yard
from stdnum.iso7064 import mod_37_36

ENV = os.environ | {
    "GIT_CONFIG_GLOBAL": os.devnull,
    "GIT_CONFIG_SYSTEM": os.devnull,
    "GIT_AUTHOR_NAME": "yard",
    "GIT_AUTHOR_EMAIL": "yard@reedmouth.example",
    "GIT_COMMITTER_NAME": "yard",
    "GIT_COMMITTER_EMAIL": "yard@reedmouth.example",
}


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A yard with two pots."""
    return yard.yard(tmp_path / "yard", 2)


def issued(folder: Path) -> Path:
    """The list of numbers."""
    return folder / "content" / "tags-issued.csv"


def page(folder: Path, tag: str) -> str:
    """The words of a tag's page, without its pictures and its head."""
    text = (folder / "site" / "T" / tag / "index.html").read_text(encoding="utf-8")
    text = re.sub(r"(?s)<(style|script|svg|head)\b.*?</\1>", " ", text)
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", text))


def grow(folder: Path, things: int) -> None:
    """The batch has more things than the record said."""
    batch = folder / "content" / "items" / "POT-001.yaml"
    text = batch.read_text(encoding="utf-8")
    text = re.sub(r"count: \d+ ", f"count: {things} ", text)
    batch.write_text(re.sub(r"mass: \d+ g,", f"mass: {220 * things + 5} g,", text), encoding="utf-8")


def happened(folder: Path, *events: str) -> None:
    """Write events, a line each."""
    file = folder / "content" / "events" / "2026.yaml"
    file.parent.mkdir(exist_ok=True)
    file.write_text("".join(f"- {{{event}}}\n" for event in events), encoding="utf-8")


def tag(folder: Path, *args: str) -> str:
    """Issue numbers; what was said."""
    return yard.done("tag", *args, *yard.ON, "--folder", folder)


def refused(folder: Path, *args: str) -> str:
    """What is said when a command is refused; the records are as they were."""
    before = yard.bytes_of(folder)
    result = yard.run(*args, "--folder", folder)
    assert result.exit_code == 1, result.output
    assert yard.bytes_of(folder) == before
    return result.output


# --- issuing --------------------------------------------------------------------------------------------


def test_every_number_on_the_list_passes_another_check(folder: Path) -> None:
    """python-stdnum's MOD 37,36 (ISO/IEC 7064) takes prefix, serial and check character of each."""
    grow(folder, 40)
    tag(folder, "POT-001")
    tags = yard.tags_of(folder)
    assert len(set(tags)) == 40
    assert all(mod_37_36.is_valid(number.replace("-", "")) for number in tags)
    assert not set("".join(number[3:] for number in tags)) & set("01ILO")


def test_a_thing_sold_before_it_had_a_tag_gets_one_by_its_piece(folder: Path) -> None:
    """The third of four is numbered alone; the first free one comes when all are asked for."""
    grow(folder, 4)
    assert tag(folder, "POT-001", "--piece", "4").endswith("\n1 issued for POT-001\n")
    tag(folder, "POT-001")
    assert [entry.piece for entry in yard.shop_of(folder).issued] == [1, 2, 4, 3]


def test_a_piece_has_one_number_at_a_time(folder: Path) -> None:
    """A second number needs the first one's end."""
    first = yard.tags_of(folder)[0]
    assert refused(folder, "tag", "pot-001", "--piece", "1", "--piece", "3") == (
        "tag: error no-such-piece: met piece 3 of POT-001, which has 2\n    hint: see `count:` in its record\n"
        f"tag: error piece-has-number: piece 1 of POT-001 has the number {first}\n"
        f"    hint: if that tag is lost or spoilt: passport tag --replaces {first}\n2 errors\n"
    )


def test_a_withdrawn_number_is_not_used_again(folder: Path) -> None:
    """The piece may have another one; nothing issues it unasked."""
    first, second = yard.tags_of(folder)
    happened(folder, f"date: 2026-02-01, tag: {first}, event: withdrawn, because: misprinted")
    assert tag(folder, "POT-001") == "every piece of POT-001 has its number\n"
    tag(folder, "POT-001", "--piece", "1")
    assert yard.tags_of(folder)[:2] == [first, second]
    assert len(set(yard.tags_of(folder))) == 3


def test_more_than_there_are_is_said(folder: Path) -> None:
    """The record's count is what can be numbered."""
    grow(folder, 3)
    said = tag(folder, "POT-001", "--count", "5")
    assert said.endswith("1 issued for POT-001, not 5: its record counts 3 pieces\n")


def test_a_lost_tag_is_replaced_in_one_go(folder: Path) -> None:
    """Number and event together; the old page leads to the new number, and a label is printed for the new one only."""
    old, other = yard.tags_of(folder)
    said = tag(folder, "--replaces", old.lower().replace("-", " "))
    new = yard.tags_of(folder)[-1]
    assert said == f"{new}\n{old} is replaced by {new}: piece 1 of POT-001\n"
    assert (folder / "content" / "events" / f"replaced-{old}.yaml").read_text(encoding="utf-8") == (
        f'- {{date: 2026-02-01, tag: "{old}", event: replaced, by: "{new}"}}\n'
    )
    yard.done("publish", "--folder", folder)
    assert f"Its tag was replaced by {new}" in page(folder, old)
    yard.done("labels", "--kind", "tag", "--folder", folder)
    assert [name for name, _ in yard.printed_of(folder)] == [other, new]
    assert f"{old} was replaced by {new}: its number keeps its page" in refused(folder, "labels", old)
    assert f"error tag-ended: {old} was replaced by {new}\n" in refused(folder, "tag", "--replaces", old)


def test_a_thing_in_use_stays_in_use_under_its_new_number(folder: Path) -> None:
    """A new tag does not bring it back to the workshop."""
    from passport.verdicts.life import Stage, lives  # noqa: PLC0415

    old, other = yard.tags_of(folder)
    happened(folder, f"date: 2026-01-31, tag: {old}, event: handed-over, place: allotments")
    tag(folder, "--replaces", old)
    stages = {name: life.stage for name, life in lives(yard.shop_of(folder)).items()}
    new = yard.tags_of(folder)[-1]
    assert stages == {old: Stage.REPLACED, other: Stage.AT_WORKSHOP, new: Stage.IN_USE}


def test_a_mistyped_number_is_not_replaced(folder: Path) -> None:
    """The nearest issued ones are named."""
    first = yard.tags_of(folder)[0]
    wrong = first[:-1] + ("A" if first[-1] != "A" else "B")
    said = refused(folder, "tag", "--replaces", wrong)
    assert f'tag: error tag-number-check: the check character of "{wrong}" does not fit' in said
    assert f"hint: the nearest issued: {first}" in said


@pytest.mark.parametrize(
    ("args", "what"),
    [
        ([], "name the batch ITEM, or --replaces TAG, one of the two"),
        (["POT-001", "--replaces", "MY-22222Z"], "name the batch ITEM, or --replaces TAG, one of the two"),
        (["POT-001", "--count", "1", "--piece", "1"], "--count and --piece exclude each other"),
        (["--replaces", "MY-22222Z", "--count", "1"], "--replaces is for one thing"),
    ],
)
def test_orders_that_contradict_themselves_are_wrong_usage(folder: Path, args: list[str], what: str) -> None:
    """Exit code 2, and nothing is issued."""
    result = yard.run("tag", *args, "--folder", folder)
    assert result.exit_code == 2
    assert what in result.output


# --- the list -------------------------------------------------------------------------------------------


def edited(lines: list[str]) -> list[str]:
    """Somebody gave a number to another batch."""
    return [lines[0], lines[1].replace("POT-001,1", "POT-001,9"), *lines[2:]]


def shortened(lines: list[str]) -> list[str]:
    """A line in the middle is gone."""
    return [lines[0], *lines[2:]]


def doubled(lines: list[str]) -> list[str]:
    """A line stands twice."""
    return [*lines, lines[-1]]


@pytest.mark.parametrize("harm", [edited, shortened, doubled])
@pytest.mark.parametrize(
    "command", [["tag", "POT-001"], ["labels"], ["check"], ["publish"], ["tag", "--replaces", "MY-22222Z"]]
)
def test_a_harmed_list_is_named_and_refused(folder: Path, harm: object, command: list[str]) -> None:
    """By every command that reads it: the line is named, and nothing is written over it."""
    grow(folder, 3)
    lines = issued(folder).read_text(encoding="utf-8").splitlines(keepends=True)
    issued(folder).write_text("".join(harm(lines)), encoding="utf-8")  # type: ignore[operator]
    said = refused(folder, *command)
    line = 4 if harm is doubled else 2
    code = "tag-list-doubled" if harm is doubled else "tag-list-seal"
    assert f"content/tags-issued.csv:{line}:" in said
    assert f" error {code}: " in said
    assert not (folder / "site").exists()
    assert not (folder / "labels-out").exists()


def test_a_list_cut_short_issues_no_number_again(folder: Path) -> None:
    """Neither where the site shows the number nor where its label was printed."""
    last = yard.tags_of(folder)[-1]
    yard.done("publish", "--folder", folder)
    lines = issued(folder).read_text(encoding="utf-8").splitlines(keepends=True)
    issued(folder).write_text("".join(lines[:-1]), encoding="utf-8")
    assert f"error tag-list-short: met a page of {last} in site/" in refused(folder, "tag", "POT-001")
    assert f'error site-page-lost: the page "T/{last}/index.html" is published' in refused(folder, "publish")
    issued(folder).write_text("".join(lines), encoding="utf-8")
    yard.done("labels", last, "--kind", "tag", "--folder", folder)
    issued(folder).write_text("".join(lines[:-1]), encoding="utf-8")
    shutil.rmtree(folder / "site")
    for command in (["tag", "POT-001"], ["check"], ["publish"]):
        said = refused(folder, *command)
        assert f"error printed-not-issued: a label of {last} was printed, and tags-issued.csv does not have" in said


def test_a_number_whose_batch_is_gone_fails_check_and_publish(folder: Path) -> None:
    """An issued number without a record would have no page."""
    tags = yard.tags_of(folder)
    yard.done("publish", "--folder", folder)
    (folder / "content" / "items" / "POT-001.yaml").unlink()
    for command in ("check", "publish"):
        said = refused(folder, command)
        for number in tags:
            assert f'error orphan-tag: met the item "POT-001" of the issued tag {number}, which has no record' in said
    assert all(page(folder, number) for number in tags)


# --- two copies -----------------------------------------------------------------------------------------


def git(folder: Path, *args: str) -> int:
    """Run git in a folder; its exit code."""
    done = subprocess.run(["git", *args], cwd=folder, env=ENV, capture_output=True, check=False)
    return done.returncode


def test_two_copies_that_both_issue_meet_as_a_conflict(folder: Path) -> None:
    """A real merge stops; every command names it and what to do; resolved as told, both batches have own numbers."""
    if not shutil.which("git"):
        pytest.skip("needs git")
    assert git(folder, "init", "-q", "-b", "main") == 0
    grow(folder, 4)
    git(folder, "add", "content")
    git(folder, "commit", "-q", "-m", "four pots")
    git(folder, "checkout", "-q", "-b", "other")
    tag(folder, "POT-001", "--piece", "4")
    git(folder, "commit", "-q", "-a", "-m", "there")
    git(folder, "checkout", "-q", "main")
    tag(folder, "POT-001", "--piece", "3")
    ours = issued(folder).read_text(encoding="utf-8")
    git(folder, "commit", "-q", "-a", "-m", "here")
    assert git(folder, "merge", "-q", "other") == 1
    twice = last_of(ours)
    for command in (["tag", "POT-001"], ["check"], ["labels"], ["publish"]):
        said = refused(folder, *command)
        assert f"error tag-list-conflict: a merge conflict stands here: both sides have {twice}\n" in said
        assert "keep the lines of the side whose tags are already stuck on things" in said
        assert "then issue new numbers for the things that lost theirs" in said
    text = issued(folder).read_text(encoding="utf-8")
    kept = re.sub(r"(?s)<<<<<<<[^\n]*\n(.*?)=======\n.*?>>>>>>>[^\n]*\n", r"\1", text)
    issued(folder).write_text(kept, encoding="utf-8")
    tag(folder, "POT-001", "--piece", "4")
    assert issued(folder).read_text(encoding="utf-8").startswith(ours)
    assert len(set(yard.tags_of(folder))) == 4
    told = " ".join(yard.done("tag", "--help").split())
    assert "the number not yet stuck on is given up" in told


def last_of(listed: str) -> str:
    """The number on the last line."""
    return listed.rstrip("\n").rpartition("\n")[2].partition(",")[0]


def test_a_list_merged_without_looking_is_refused(folder: Path) -> None:
    """Both sides kept one under the other: the seal of the second does not follow from the first."""
    grow(folder, 4)
    start = issued(folder).read_text(encoding="utf-8")
    tag(folder, "POT-001", "--piece", "4")
    theirs = issued(folder).read_text(encoding="utf-8").removeprefix(start)
    issued(folder).write_text(start, encoding="utf-8")
    tag(folder, "POT-001", "--piece", "3")
    with issued(folder).open("a", encoding="utf-8") as listed:
        listed.write(theirs)
    said = refused(folder, "tag", "POT-001")
    assert "content/tags-issued.csv:5:" in said
    assert "error tag-list-seal: " in said
    assert "error tag-twice: " in said


# --- pages ----------------------------------------------------------------------------------------------


def test_what_is_gone_keeps_a_page_that_says_so(tmp_path: Path) -> None:
    """Every way to end has its page, without a label picture; what is lost may turn up and keeps its passport."""
    folder = yard.yard(tmp_path / "yard", 8)
    use, lost, destroyed, apart, given, withdrawn, replaced, back = yard.tags_of(folder)
    new = tag(folder, "--replaces", replaced).splitlines()[0]
    happened(
        folder,
        *(f"date: 2026-02-02, tag: {number}, event: handed-over, place: allotments" for number in (use, lost, back)),
        f"date: 2026-02-03, tag: {lost}, event: lost",
        f"date: 2026-02-03, tag: {destroyed}, event: destroyed, because: went under a digger",
        f"date: 2026-02-03, tag: {apart}, event: taken-apart",
        f"date: 2026-02-03, tag: {given}, event: given-on, stream: the council bring bank",
        f"date: 2026-02-03, tag: {withdrawn}, event: withdrawn",
    )
    (folder / "content" / "lots" / "RT-001.yaml").write_text(
        f"date: 2026-02-04\nreceived: {{tags: [{{tag: {back}}}]}}\nmass: 220 g\nscale: bench\n", encoding="utf-8"
    )
    yard.done("publish", "--folder", folder)
    ends = {
        destroyed: "The thing with this tag is no more. went under a digger",
        apart: "The thing with this tag was taken apart",
        given: "Its material went to another stream than ours: the council bring bank.",
        withdrawn: "This number was issued but is on no thing.",
        replaced: f"Its tag was replaced by {new}",
        back: "The thing with this tag was handed back and is material again. Its material went into: RT-001",
    }
    for number, words in ends.items():
        assert words in page(folder, number)
        assert "always answers" in page(folder, number)
        assert not (folder / "site" / "T" / number / "label.png").exists()
    assert "This thing was reported lost" in page(folder, lost)
    for number in (use, lost, new):
        assert "What now" in page(folder, number)
        assert (folder / "site" / "T" / number / "label.png").exists()
