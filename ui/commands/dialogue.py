"""Questions on standard error, answers from standard input."""

from __future__ import annotations

import sys

from acquire.errors import LinkError, LinkFailure


class Dialogue:
    """Asks the user, or takes the answer that goes without saying.

    Parameters
    ----------
    silent : bool
        Ask nothing: a script runs the program.
    """

    def __init__(self, *, silent: bool) -> None:
        self.silent = silent

    def tell(self, sentence: str) -> None:
        """Say something, whoever listens."""
        print(sentence, file=sys.stderr, flush=True)

    def ask(self, question: str, *, otherwise: str = "") -> str:
        """Return the answer in one line, without blanks around it; `otherwise` when nothing is asked.

        Raises
        ------
        LinkError
            If the input ends before the answer.
        """
        if self.silent:
            return otherwise
        return self.wait_for_enter(question)

    def wait_for_enter(self, sentence: str) -> str:
        """Return what is typed before the next Enter: needed where only the user knows when something is done.

        Raises
        ------
        LinkError
            If the input ends before it.
        """
        print(sentence, end=" ", file=sys.stderr, flush=True)
        answer = sys.stdin.readline()
        if not answer:
            raise LinkError(
                "the input ended before the answer: run it in a terminal, or add --yes",
                port="",
                reason=LinkFailure.FAILED,
            )
        return answer.strip()

    def number(self, question: str) -> float | None:
        """Return a number above 0; None for an empty answer, or when nothing is asked."""
        while answer := self.ask(question):
            try:
                value = float(answer.replace(",", "."))
            except ValueError:
                value = 0.0
            if 0.0 < value < float("inf"):
                return value
            self.tell(f"{answer!r} is not a number above 0; type one, or only Enter.")
        return None

    def agrees(self, question: str) -> bool:
        """Tell whether the answer is yes; it is when nothing is asked."""
        return self.ask(f"{question} [y/N]", otherwise="y").lower() in {"y", "yes"}
