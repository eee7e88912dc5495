"""Answers to a drill: the right ones, as a file holds them."""

from hourmark.drill import Answers, Round, rounds
from hourmark.drill.numbers import number_of


def right(one: Round) -> Answers:
    """Everything right, with a note that says so."""
    number = number_of(one.scene) or ""
    note = f"Told the {one.scene.who}. {number}".strip()
    return Answers(one.scene.kind, one.first, number, str(one.scene.who), note)


def all_right() -> dict[str, Answers]:
    return {one.scene.call.id: right(one) for one in rounds(1)}


def as_file(answers: dict[str, Answers]) -> str:
    """The answers as TOML."""
    return "\n".join(
        f'[{call}]\nkind = "{said.kind}"\nask = "{said.ask}"\nnumber = "{said.number}"\nwho = "{said.who}"\nnote = "{said.note}"\n'
        for call, said in answers.items()
    )
