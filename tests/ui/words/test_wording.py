"""One thing, one word: wordings that the trade does not use, in every sentence of window, report, terminal and help."""

import argparse
import re
import tomllib
from collections.abc import Iterator
from pathlib import Path

import pytest

from ui.commands.arguments import build_parser
from ui.words.cautions import CAUTIONS
from ui.words.words import _table

ACTIONS = Path(__file__).parents[3] / "analysis/data/actions/thirteen.toml"

ENGLISH = {
    r"\bradio\b|in reach\b": "Bluetooth sensor, in range",
    r"does not count|do not count|\bnone counts|trials? that counts?\b": "accepted, rejected",
    r"all the same": "warning",
    r"\bleft out\b|\bleave out\b": "set aside (a trial), skipped (an item)",
    r"stands for a set|\bthis reading\b|reading of one person": "score",
    r"hold steady": "stabilisation",
    r"\bits level\b|\bthe level\b": "plateau",
    r"\bbuild-up\b": "ramp",
    r"\bshak(e|es|ing|y)\b|trembl": "tremor",
    r"wind-up": "countermovement",
    r"\bstanding\b": "reference value",
    r"change, whose|^detectable change$": "minimal detectable change (MDC)",
    r"\bcourse\b": "trend",
    r"for want of": "out of memory",
    r"sensor is gone": "sensor disconnected",
    r"speed of life|fast as life": "20 x real time",
    r"\bare kept\b|\bis kept\b|\bwas kept\b": "saved",
    r"no effort": "no rise in force found",
    r"\bclipped\b": "beyond the measuring range",
    r"\bframes?\b": "data packets",
    r"\bget set\b": "get ready",
    r"^held$": "method",
    r"^battery \{": "battery charge",
    r"examiner's (own )?limit": "most force you can hold",
}

GERMAN = {
    r"\bFunk|funk(sensor|verbindung)": "Bluetooth-Sensor",
    r"\bzähl(t|en)\b|abgelehnt": "gültig, ungültig",
    r"beiseite|[Aa]uslassen|ausgelassen": "zurückgestellt, übersprungen",
    r"\bHalt\b": "Methode, Fixierung",
    r"\bBatterie": "Testbatterie, Akku",
    r"\bNull\b": "Nullpunkt",
    r"\bAusholen\b": "Gegenbewegung",
    r"(?i)zitt[er]r": "Tremor",
    r"Haltetest": "Make-Test",
    r"^Stand$|Vergleichswert": "Referenzwert",
    r"Anstrengung": "Kraftanstieg",
    r"Anschlag\b": "Messbereich überschritten",
    r"\bRahmen\b": "beschädigte Datenpakete",
    r"\bACHTUNG\b|\bAchtung\b": "BEREIT MACHEN",
    r"\bLimit\b|Haltegrenze": "größte haltbare Kraft",
    r"Sensor ist weg": "Sensor getrennt",
    r"aus Mangel an": "Arbeitsspeicher reicht nicht",
    r"^&?Untersuchende$": "Untersucher/in, wo es eine Person ist",
    r"\bPrüfen\b": "Audit, wo es um Untersuchende geht",
    r"\d\.\d": "Dezimalkomma",
}

SAME_WORD_OTHER_THING = {
    ("de", "audit.table"),  # the table of all examiners
    ("de", "check.title"),  # the check of a sensor
}


def sentences(language: str) -> Iterator[tuple[str, str]]:
    """Yield every sentence of a language with its key."""
    yield from _table(language).items()


def of_help(parser: argparse.ArgumentParser) -> Iterator[str]:
    """Yield every text of a parser and of those below it."""
    yield parser.description or ""
    for action in parser._actions:
        yield action.help or ""
        if isinstance(action, argparse._SubParsersAction):
            yield from (choice.help or "" for choice in action._choices_actions)
            for below in action.choices.values():
                yield from of_help(below)


def of_actions() -> Iterator[str]:
    """Yield the English sentences of the actions."""
    for action in tomllib.loads(ACTIONS.read_text(encoding="utf-8"))["action"]:
        yield from (text for text in action.values() if isinstance(text, str))


def found(language, banned):
    return [
        f"{key}: {text!r}: not /{pattern}/ but {instead}"
        for key, text in sentences(language)
        for pattern, instead in banned.items()
        if re.search(pattern, text) and (language, key) not in SAME_WORD_OTHER_THING
    ]


def test_english_sentences_use_the_words_of_the_trade():
    assert found("en", {rf"(?i){pattern}": instead for pattern, instead in ENGLISH.items()}) == []


def test_german_sentences_use_the_words_of_the_trade():
    assert found("de", GERMAN) == []


@pytest.mark.parametrize("pattern", ENGLISH)
def test_help_cautions_and_actions_use_the_words_of_the_trade(pattern):
    texts = [*of_help(build_parser()), *CAUTIONS, *of_actions()]
    assert len(texts) > 100
    assert [text for text in texts if re.search(pattern, text, re.IGNORECASE)] == []


@pytest.mark.parametrize("text", ["a radio sensor", "held", "GET SET", "it trembled", "5 times the speed of life"])
def test_a_banned_wording_would_be_found(text):
    assert [pattern for pattern in ENGLISH if re.search(pattern, text, re.IGNORECASE)]
