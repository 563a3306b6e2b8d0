"""A course made in shares on several machines is the same, byte for byte, as one made at once."""

from __future__ import annotations

import re
import shlex
import shutil
from pathlib import Path

import pytest
import yaml

from builder.cli import main

SERVICES = Path(__file__).resolve().parents[2] / "content" / "editions.md"


def machine(course, name: str):
    """The course on a machine of its own, where nothing is kept yet."""
    found = type(course).__new__(type(course))
    found.root = course.root.with_name(name)
    found.site = found.root / "site"
    shutil.copytree(course.root, found.root)
    return found


def entries(course) -> set[str]:
    return {path.name for path in (course.root / ".cache/verset-store/entries").iterdir()}


def test_four_shares_put_together_give_the_bytes_of_one_build(course, contents, capsys) -> None:
    text = (course.root / "content/versets/duo.md").read_text("utf-8")
    for n in range(8):
        course.write(f"versets/other{n}.md", text.replace("A duo", f"Another, {n}"))
    machines = [machine(course, f"machine{n}") for n in range(1, 5)]
    last = machine(course, "last")
    for n, each in enumerate(machines, 1):
        assert main(["warm", str(each.root), "--shard", f"{n}/4"]) == 0
        # As services hand folders on: over one another, into one that nothing has made.
        shutil.copytree(each.root / ".cache", last.root / ".cache", dirs_exist_ok=True)
    told = capsys.readouterr().out.splitlines()
    assert told == ["3 of 3 versets are ready", *["2 of 2 versets are ready"] * 3]
    before = entries(last)
    assert len(before) == 18  # of each verset its lesson, and its levels by its music
    course.build(strict=True)
    last.build(strict=True)
    assert contents(last.site) == contents(course.site)
    assert len(entries(last) - before) == 1  # only what all pages share was made


def test_a_share_without_versets_is_no_fault(course, capsys) -> None:
    assert main(["warm", str(course.root), "--shard", "4/4"]) == 0
    assert capsys.readouterr().out == "0 of 0 versets are ready\n"


def test_the_jobs_of_the_page_for_the_editor_make_every_share_and_hand_on_the_store() -> None:
    page = SERVICES.read_text("utf-8")
    jobs, numbered = [
        yaml.safe_load(block) for block in re.findall(r"```yaml\n(.*?)```", page, re.S) if "--shard" in block
    ]
    share, site = jobs["jobs"]["share"], jobs["jobs"]["site"]
    asked = [step["run"] for step in share["steps"] if "--shard" in step.get("run", "")]
    shares = [str(n) for n in share["strategy"]["matrix"]["share"]]
    made = [asked[0].replace("${{ matrix.share }}", n) for n in shares]
    count = numbered["share"]["parallel"]
    line = numbered["share"]["script"][-1]
    made += [
        line.replace("$CI_NODE_INDEX", f"{n}").replace("$CI_NODE_TOTAL", f"{count}") for n in (1, 2, 3, 4)
    ]
    assert [shlex.split(each)[1:] for each in made] == [
        ["warm", "mkdocs.yml", "--shard", f"{n}/4"] for n in (1, 2, 3, 4)
    ] * 2
    handed = [step.get("with", {}).get("path") for each in (share, site) for step in each["steps"]]
    assert handed.count(".cache/verset-store") == 2
    assert numbered["share"]["artifacts"]["paths"] == [".cache/verset-store"]
    assert site["needs"] == "share" and numbered["pages"]["needs"] == ["share"]


def test_what_fails_in_a_share_is_told(course, capsys) -> None:
    path = course.root / "content/versets/duo.md"
    path.write_text(path.read_text("utf-8").replace("A4/4.", "H4/4."), "utf-8")
    assert main(["warm", str(course.root)]) == 1
    told = capsys.readouterr()
    assert "H4" in told.err and "0 of 1 versets are ready" in told.out


@pytest.mark.parametrize("shard", ["0/4", "5/4", "x", "1"])
def test_a_share_that_is_none_is_refused(shard: str, capsys) -> None:
    with pytest.raises(SystemExit):
        main(["warm", "--shard", shard])
    assert "the second of four" in capsys.readouterr().err
