"""Music and player on a page, before any script runs."""

import json
import re
from xml.etree import ElementTree

from builder.language.texts import page_texts as words
from builder.pages import assets, player

PLAY = {"v": 1, "voices": ["cantus"], "end": 20.0, "versions": {"given": [], "plain": []}, "bars": [[1, 0.0]]}
EN = words("en")


def made(**changes: object) -> str:
    settings = {
        "play_data": PLAY,
        "versions": ["given", "plain"],
        "audio_links": {"plain": ["verset-root:a/first-plain.mp3", "verset-root:a/first-plain.flac"]},
        "start": 0.0,
        "end": 20.0,
        "words": EN,
    }
    return player.player(**{**settings, **changes})  # type: ignore[arg-type]


def test_a_reader_without_script_has_recordings_with_the_browsers_own_controls() -> None:
    tree = ElementTree.fromstring(
        made().replace(" controls ", ' controls="" ').replace(" open>", ' open="">')
    )
    audio = tree.findall(".//audio")
    assert [each.get("aria-label") for each in audio] == ["Recording, plain"]
    assert [source.get("type") for source in audio[0]] == ["audio/mpeg", "audio/flac"]
    assert audio[0][0].get("src") == "verset-root:a/first-plain.mp3"


def test_the_recording_of_a_step_plays_the_stretch_of_the_step_only() -> None:
    """Media Fragments URI 1.0 (W3C): temporal dimension `t=start,end` in seconds."""
    assert "first-plain.mp3#t=4.62,9.23" in made(start=4.615, end=9.231)
    assert "#t=" not in made()


def test_play_data_cannot_close_the_element_it_stands_in() -> None:
    html = made(play_data={**PLAY, "voices": ["</script><b>"]})
    inside = re.search(r'class="verset-play">(.*?)</script>', html)
    assert inside and json.loads(inside[1])["play"]["voices"] == ["</script><b>"]


def test_the_script_gets_its_words_in_the_language_of_the_page() -> None:
    html = made(words=words("it"))
    assert 'lang="it"' in html
    assert 'src="verset-root:assets/verset/words-it.js"' in html
    script = {asset.uri: asset.content.decode() for asset in assets.all_assets()}["assets/verset/words-it.js"]
    said = json.loads(script.removeprefix("window.versetWords=").removesuffix(";\n"))
    it = words("it")
    assert said["go"] == "Via" and all(said[key] == text for key, text in it.section("reader").items())
    assert said["versionNames"] == it.section("versions") and said["voiceNames"] == it.section("voices")
    assert all(said[name] == it.section(name) for name in ("names", "try", "midi", "take"))


def test_music_is_given_in_every_width_with_its_name() -> None:
    html = player.music("", {"wide": ["<svg/>"], "narrow": ["<svg/>", "<svg/>"]}, "given", "Bars 1 & 2", EN)
    tree = ElementTree.fromstring(html)
    assert tree.get("data-version") == "given"
    assert [len(holder) for holder in tree.findall("div")] == [1, 2]
    assert tree.findtext("figcaption") == "Bars 1 & 2"


def test_the_script_is_one_classic_piece_below_seventy_six_kilobytes() -> None:
    script = assets.script()
    assert len(script.encode()) < 76_000
    assert not re.search(r"^\s*(import|export)\s", script, re.MULTILINE)
    assert "fetch(" not in script


def test_style_and_script_name_no_outside_host() -> None:
    for text in (assets.script(), assets.style()):
        assert set(re.findall(r"https?://[^\"'\s)]+", text)) <= {"http://www.w3.org/2000/svg"}
