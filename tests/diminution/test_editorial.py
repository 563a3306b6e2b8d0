"""What the editor altered is told as his in every version."""

from __future__ import annotations

from builder.setting.setting import set_verset
from builder.source import parse

SOURCE = """---
title: Two parts
verset: {metre: C, signature: none}
---

```given
cantus C1 | D5/2 A4/4. B4/8 | C5/4 B4/4 A4/2
altus  C3 | A4/2 D4/4. E4/8 | F4/4{6} E4/4{7 #6} D4/2
bassus F4 | D3/1 | A2/2{4} F(#)3/2{6} | G3/1 | D3/1
```
"""


def test_an_editorial_accidental_of_the_line_stays_the_editors_at_every_level() -> None:
    setting = set_verset(parse(SOURCE))
    told = 0
    for version, score in setting.scores.items():
        for note in score.part("bassus" if version != "given" else score.parts[-1].voice).notes:
            if str(note.pitch) == "F#3" and note.onset < 24 and note.end > 22:
                assert note.editorial, (version, note)
                told += 1
            else:
                assert not note.editorial, (version, note)
    assert told >= len(setting.scores)
