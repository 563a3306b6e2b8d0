"""A short verset that the examples in this package's documentation are made with."""

EXAMPLE = """\
---
title: Two voices
verset:
  metre: C
  signature: none
---

```given
cantus C1 | D5/2 A4/4. B4/8 | C5/4 B4/4 A4/2
altus  C3 | A4/2 D4/4. E4/8 | F4/4{6} E4/4{7 #6} D4/2
```
"""
"""Theme in the cantus, answer in the altus, a close on D."""
