"""Which languages a page may be in: English, in which the words are written, and those whose translation the clinic signed."""

from hourmark.order import Rules

ENGLISH = "en"


def signed_for_use(language: str, rules: Rules | None) -> bool:
    """Whether a page in this language stands alone, without the English beside it."""
    return language == ENGLISH or (rules is not None and language in rules.languages)
