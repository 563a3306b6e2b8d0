"""A course made in shares on several machines is the same, byte for byte, as one made at once."""

from __future__ import annotations

import shutil

import pytest

from builder.cli import main


def test_shares_put_together_give_the_bytes_of_one_build(course, contents, capsys) -> None:
    text = (course.root / "content/versets/duo.md").read_text("utf-8")
    course.write("versets/other.md", text.replace("A duo", "Another"))
    course.write("versets/third.md", text.replace("A duo", "A third"))
    machines = [course.root.with_name(f"machine{n}") for n in (1, 2)]
    for n, machine in enumerate(machines, 1):
        shutil.copytree(course.root, machine)
        assert main(["warm", str(machine), "--shard", f"{n}/2"]) == 0
    assert capsys.readouterr().out.splitlines() == ["2 of 2 versets are ready", "1 of 1 versets are ready"]
    last = course.root.with_name("last")
    shutil.copytree(course.root, last)
    main(["warm", str(last), "--shard", "4/4"])
    for machine in machines:
        shutil.copytree(machine / ".cache/verset-store/entries", last / ".cache/verset-store/entries",
                        dirs_exist_ok=True)  # fmt: skip
    before = {p.name for p in (last / ".cache/verset-store/entries").iterdir()}
    course.build(strict=True)
    assembled = type(course).__new__(type(course))
    assembled.root, assembled.site = last, last / "site"
    assembled.build(strict=True)
    assert contents(assembled.site) == contents(course.site)
    after = {p.name for p in (last / ".cache/verset-store/entries").iterdir()}
    assert len(before) == 3 and len(after - before) == 1  # only what all pages share was made


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
