"""What Review says where trials are judged by other limits than they were recorded under."""

from __future__ import annotations

from ui.model.review.review import ReviewModel
from ui.words.words import Words


def protocol_banner(model: ReviewModel, words: Words) -> str:
    """Return the sentence; empty where every trial is judged by the protocol it was recorded under."""
    if model.opened is None or model.recorded is None or not model.otherwise:
        return ""
    now, then = _named(model)
    if model.chosen:
        return words(
            "review.banner.chosen" if model.can_go_back else "review.banner.chosen_missing", now=now, then=then
        )
    if model.recorded.hash == model.protocol.hash:
        return words("review.banner.mixed", count=model.otherwise, now=now)
    return words("review.banner.missing", now=now, then=then)


def back_label(model: ReviewModel, words: Words) -> str:
    """Return the words of the button that goes back to the protocol of the file; empty where there is no way back."""
    if not (model.chosen and model.can_go_back):
        return ""
    return words("review.banner.back", then=_named(model)[1])


def _named(model: ReviewModel) -> tuple[str, str]:
    """Return what the protocols of now and then are called; with their hashes where one name has two sets of limits."""
    recorded, now = model.recorded, model.protocol
    then = "" if recorded is None else recorded.name
    if recorded is None or then != now.name or recorded.hash == now.hash:
        return now.name, then
    return f"{now.name} ({now.hash})", f"{then} ({recorded.hash})"
