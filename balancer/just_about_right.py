"""The just-about-right scale: seven words for what a cook wants of an axis, and how they are heard.

References
----------
1. ASTM MNL63. Just-About-Right (JAR) Scales: Design, Usage, Benefits, and Risks. Rothman L,
   Parker MJ, editors. ASTM International, 2009.
"""

from __future__ import annotations

import math
from enum import StrEnum

from balancer.constants import NUDGE_STEPS
from balancer.tasting import understood


class Word(StrEnum):
    """What a cook wants of an axis, as on a just-about-right scale of seven points."""

    MUCH_LESS = "much less"
    LESS = "less"
    TOUCH_LESS = "a touch less"
    RIGHT = "right"
    TOUCH_MORE = "a touch more"
    MORE = "more"
    MUCH_MORE = "much more"

    @property
    def rank(self) -> int:
        """Place on the scale, -3 (much less) to 3 (much more).

        Examples
        --------
        >>> Word.TOUCH_MORE.rank, Word("much less").rank
        (1, -3)
        """
        return _RANKS[self]


_RANKS = {word: rank for rank, word in enumerate(Word, start=-3)}


def heard(text: str) -> tuple[dict[str, Word], bool]:
    """Read a tasting sentence as words per axis.

    Parameters
    ----------
    text : str
        As for :func:`balancer.tasting.understood`.

    Returns
    -------
    words : dict of str to Word
        Axis to word.
    rest_right : bool
        Whether the cook said that all other axes are right.

    Raises
    ------
    BadInput
        If the sentence cannot be read.

    Examples
    --------
    >>> heard("too sharp, a touch sweeter, the rest is right")
    ({'sour': <Word.LESS: 'less'>, 'sweet': <Word.TOUCH_MORE: 'a touch more'>}, True)
    """
    sentence = understood(text)
    sizes = sorted(NUDGE_STEPS.values())
    words = {}
    for axis, step in sentence.steps.items():
        rank = 0 if step == 0 else int(math.copysign(1 + sizes.index(abs(step)), step))
        words[axis] = list(Word)[rank + 3]
    return words, sentence.rest_right
