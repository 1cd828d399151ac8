"""`Remarks`: what a reader met and could not carry over, each said once."""

from __future__ import annotations

from collections import Counter


class Caveats:
    """Collects sentences; one met many times is said once, with how often."""

    def __init__(self) -> None:
        self._times: Counter[str] = Counter()
        self._counted: set[str] = set()

    def say(self, sentence: str) -> None:
        """Keep a sentence (with its full stop)."""
        self._times[sentence] += 1

    def count(self, words: str, times: int = 1) -> None:
        """Keep words without a full stop; how often they were met is put behind them."""
        self._times[words] += times
        self._counted.add(words)

    def sentences(self) -> tuple[str, ...]:
        """Return the sentences in the order first met."""
        return tuple(
            f"{words} ({times})." if words in self._counted else words
            for words, times in self._times.items()
            if times
        )

    def reasons(self) -> str:
        """Return the same without counts, in one phrase for the middle of a sentence."""
        phrases = (words.rstrip(".") for words, times in self._times.items() if times)
        return ", ".join(phrase[:1].lower() + phrase[1:] for phrase in phrases)
