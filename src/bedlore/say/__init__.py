"""What is said to people: in their language, with their units, now or again later.

English sentences in the code are the message ids of the catalogues in ``bedlore/locale``.
:func:`say` makes a :class:`Said`: a text that remembers how it was made, so that a morning worked
out at night is read by each in the own language and units. See docs/languages.md.
"""

from bedlore.say.amounts import (
    figures,
    kelvin,
    limit_temp,
    litres,
    mass,
    setting,
    temp,
    temps,
    thickness,
    whole,
)
from bedlore.say.language import LANGUAGES, Listener, Units, listener, speaking
from bedlore.say.said import (
    Said,
    Words,
    again,
    capital,
    clause,
    common_name,
    from_text,
    joined,
    listed,
    message,
    on_day,
    plain,
    say,
    say_many,
    sentences,
    to_text,
)

__all__ = [
    "LANGUAGES",
    "Listener",
    "Said",
    "Units",
    "Words",
    "again",
    "capital",
    "clause",
    "common_name",
    "figures",
    "from_text",
    "joined",
    "kelvin",
    "limit_temp",
    "listed",
    "listener",
    "litres",
    "mass",
    "message",
    "on_day",
    "plain",
    "say",
    "say_many",
    "sentences",
    "setting",
    "speaking",
    "temp",
    "temps",
    "thickness",
    "to_text",
    "whole",
]  # fmt: skip
