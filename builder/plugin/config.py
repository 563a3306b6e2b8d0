"""What a teacher may write under `verset` in `mkdocs.yml`."""

from mkdocs.config import config_options as opt
from mkdocs.config.base import Config


class VersetConfig(Config):
    """Options of the plugin."""

    language = opt.Choice(("en", "it", "de"), default="en")
    """Language of the interface texts; a page can differ with `language:` in its front matter."""

    tuning = opt.Type(str, default="quarter-comma")
    """Tuning of versets that name none."""

    tunings = opt.Type(dict, default={})
    """The course's own tunings by name, each twelve cents from C in a line of text."""

    pitch = opt.Type((int, float), default=440)
    """Frequency of A4 in hertz of versets that name none."""

    registration = opt.Type(str, default="")
    """Registration of versets that name none; empty: advised from tone and character."""

    level = opt.Choice((1, 2, 3), default=2)
    """Density of diminution of versets that name none."""

    audio = opt.Type(bool, default=True)
    """Whether to render audio files (the sound made in the page does not need them)."""

    pdf = opt.Type(bool, default=True)
    """Whether to typeset the printed edition."""

    cache = opt.Type(str, default=".cache/verset")
    """Folder of finished work, beside `mkdocs.yml`; safe to delete."""

    processes = opt.Type(int, default=0)
    """Versets built side by side; 0: as many as the machine has processors."""
