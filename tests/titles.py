"""Titles that teachers give, in any script: what every output is tried with."""

TITLES = (
    "Verset n° 3", "First — and last", "“Ave”", "« Salve »", "Dieu & roi", "One + one",
    "Tone = mode", "No. #1", "a_b", "½ verse", "In B♭", "And so…", "Œuvre", "Święty ł",
    "Δόξα ἐν ὑψίστοις", "Слава в вышних", "מזמור לדוד", "℣ Deus in adjutorium", "℟ Domine",
    "✠ In nomine", "讃美歌", "찬송가", "المزمور", "भजन", "เพลง", "Ǿ ẹ́ ȝ", "F♯ and C♮",
    "5 < 6 > 4", "'single' \"double\"", "back\\slash", "100 % ~ ^ | ` @ $ {x} [y]", "😀",
    "clef 𝄞", "a\u200fb",
)  # fmt: skip
